"""Plant that does not follow: every limit of diagnosis.py, to the millidegree and millisecond.

Expected figures are those of docs/sensors.md and of the design page. The others are explained
beside the constants of diagnosis.py ("common practice") and are held here from both sides.
"""

import math

import pytest

from ..matrix.facts import DUTIES
from ..matrix.table import SENSORS
from ..stations import TRUST, UNKNOWN_MC, code, each, values


@pytest.fixture
def dumping(calm):
    """A dump through a radiator that takes no heat, from these temperatures on."""
    calm.change(DUTY="DUMPING", COMMAND=1, REASON="TANK_FULL_DUMP", COLLECTOR_MC=95000, LOOP_SUPPLY_MC=90000, LOOP_RETURN_MC=90000)
    return calm.change(DUMP_FROM_MC=95000, DUMP_TANK_MC=20000, COLLECTOR_PUMP_MS=30000, EXCHANGER_MC=90000)


@pytest.fixture
def steady(calm):
    """Charging for 5 minutes less a step; supply 20 K over the tank, return 10 K below supply.

    The tank's top is hotter than both.
    """
    calm.change(DUTY="CHARGING", COLLECTOR_PUMP_ON=1, TANK_PUMP_ON=1, STEADY_MS=295000, METER_SECONDS=5, TANK_HIGH_MC=60000)
    return calm.change(TANK_REFERENCE_MC=30000, LOOP_SUPPLY_MC=50000, LOOP_RETURN_MC=40000)


@each(
    "fault, timer, forget, reason",
    ("NO_FLOW", "RETRY_MS", "forget_flow_fault", "FLOW_MISSING"),
    ("DUMP_BARRED", "DUMP_RETRY_MS", "forget_dump_fault", "RADIATOR_DEAD"),
)
@each("through", "itself", "watch")
def test_what_was_given_up_is_tried_again_after_half_an_hour(fault, timer, forget, reason, through, calm, shipped):
    """source: docs/sensors.md"""
    look = getattr(shipped.diagnosis, forget if through == "itself" else "watch")
    calm.change(**{fault: reason, timer: 1794999})
    look(*calm.all)
    assert values(shipped, calm, fault, timer) == (code(shipped, reason), 1799999)
    calm.change(**{timer: 1795000})
    look(*calm.all)
    assert values(shipped, calm, fault, timer) == (0, 1800000)
    look(*calm.all)
    assert values(shipped, calm, fault, timer) == (0, 1800000), "no timer runs when nothing is given up"


@each(
    "facts, works",
    # Two kelvin between supply and return. source: docs/sensors.md
    ({"LOOP_RETURN_MC": 88000}, True),
    ({"LOOP_RETURN_MC": 88001}, False),
    ({"LOOP_RETURN_MC": 88000, "LOOP_SUPPLY_STATUS": "HELD", "LOOP_RETURN_STATUS": "HELD"}, True),
    # Without one of them, a collector that fell by as much since the dump began.
    ({"LOOP_RETURN_MC": 50000, "LOOP_SUPPLY_STATUS": "LOST", "COLLECTOR_MC": 96000, "DUMP_FROM_MC": 98000}, True),
    ({"LOOP_RETURN_MC": 50000, "LOOP_SUPPLY_STATUS": "LOST", "COLLECTOR_MC": 96001, "DUMP_FROM_MC": 98000}, False),
    ({"LOOP_RETURN_MC": 50000, "LOOP_RETURN_STATUS": "LOST", "COLLECTOR_MC": 96000, "DUMP_FROM_MC": 98000}, True),
    ({"LOOP_RETURN_MC": 50000, "LOOP_RETURN_STATUS": "ABSENT", "COLLECTOR_MC": 96001, "DUMP_FROM_MC": 98000}, False),
    # With both, it is enough unless charging has shown that they agree.
    ({"COLLECTOR_MC": 96001, "DUMP_FROM_MC": 98000}, False),
    ({"COLLECTOR_MC": 96000, "DUMP_FROM_MC": 98000}, True),
    ({"COLLECTOR_MC": 96000, "DUMP_FROM_MC": 98000, "EFFECT_PERMILLE": 299}, True),
    ({"COLLECTOR_MC": 96000, "DUMP_FROM_MC": 98000, "EFFECT_PERMILLE": 300}, False),
    ({"COLLECTOR_MC": 96000, "DUMP_FROM_MC": 98000, "EFFECT_PERMILLE": 300, "APART_MK": 7999}, False),
    ({"COLLECTOR_MC": 96000, "DUMP_FROM_MC": 98000, "EFFECT_PERMILLE": 300, "APART_MK": 8000}, True),
    ({"COLLECTOR_MC": 96000, "DUMP_FROM_MC": 98000, "EFFECT_PERMILLE": 300, "APART_MK": -8000}, True),
    ({"LOOP_RETURN_MC": 88000, "EFFECT_PERMILLE": 300}, True),
    # Glycol cannot leave hotter than it came: then the collector decides.
    ({"COLLECTOR_MC": 96000, "DUMP_FROM_MC": 98000, "EFFECT_PERMILLE": 300, "LOOP_RETURN_MC": 91999}, False),
    ({"COLLECTOR_MC": 96000, "DUMP_FROM_MC": 98000, "EFFECT_PERMILLE": 300, "LOOP_RETURN_MC": 92000}, True),
    # A collector below dump_collector_start is cooled, whatever the sensors say.
    ({"COLLECTOR_MC": 94999, "EFFECT_PERMILLE": 300}, True),
    ({"COLLECTOR_MC": 95000, "EFFECT_PERMILLE": 300}, False),
)
def test_a_radiator_that_takes_heat(facts, works, dumping, shipped):
    dumping.change(**facts)
    assert shipped.diagnosis.dump_works(*dumping.all) == works
    dumping.change(DUMP_IDLE_MS=1000)
    assert dumping.after(shipped.diagnosis.watch_dump, "DUMP_IDLE_MS", "DUMP_BARRED") == (0 if works else 6000, 0)


@each(
    "facts, heats",
    ({"TANK_HIGH_MC": 22000}, True),
    ({"TANK_HIGH_MC": 21999}, False),
    ({"TANK_REFERENCE_MC": 22000}, True),
    ({"TANK_HIGH_MC": 22000, "TANK_PUMP_ON": 1}, False),
    ({"TANK_HIGH_MC": 22000, "DUMP_TOPOLOGY": "SERIES", "EXCHANGER_MC": 75000}, True),
    ({"TANK_HIGH_MC": 22000, "DUMP_TOPOLOGY": "SERIES", "EXCHANGER_STATUS": "LOST"}, True),
    ({"TANK_HIGH_MC": 22000, "DUMP_TANK_MC": "UNKNOWN_MC"}, False),
    # Plates colder than the tank pass it no heat, where they are read.
    ({"TANK_HIGH_MC": 22000, "EXCHANGER_MC": 21999}, False),
    ({"TANK_HIGH_MC": 22000, "EXCHANGER_MC": 21999, "EXCHANGER_STATUS": "HELD"}, False),
    ({"TANK_HIGH_MC": 22000, "EXCHANGER_MC": 21999, "EXCHANGER_STATUS": "LOST"}, True),
    ({"TANK_HIGH_MC": 22000, "EXCHANGER_MC": 21999, "EXCHANGER_STATUS": "ABSENT"}, True),
)
def test_a_tank_that_warms_by_two_kelvin_ends_the_dump(facts, heats, dumping, shipped):
    """source: the design page, the tank rising 2 K with its pump off and the collector pump on"""
    dumping.change(DUMP_RETRY_MS=77, DUMP_HEATS_MS=114999, **facts)
    assert shipped.diagnosis.dump_heats(*dumping.all) == heats
    after = (119999 if heats else 0, 0, 77)
    assert dumping.after(shipped.diagnosis.watch_dump, "DUMP_HEATS_MS", "DUMP_BARRED", "DUMP_RETRY_MS") == after
    dumping.change(DUMP_HEATS_MS=115000)
    shipped.diagnosis.watch_dump(*dumping.all)
    barred = (shipped.reasons.DUMP_HEATS_TANK, 0) if heats else (0, 77)
    assert values(shipped, dumping, "DUMP_BARRED", "DUMP_RETRY_MS") == barred


@each("topology", "BYPASS", "SERIES")
def test_plates_below_the_limit_may_heat_the_tank(topology, dumping, shipped, s):
    """The dump goes on, for it cannot heat the tank beyond its limit; the alarm tells of it."""
    dumping.change(TANK_HIGH_MC=22000, DUMP_TOPOLOGY=topology, EXCHANGER_MC=74999, DUMP_HEATS_MS=114999)
    assert dumping.after(shipped.diagnosis.watch_dump, "DUMP_HEATS_MS", "DUMP_BARRED") == (119999, 0)
    shipped.alarms.speak(*dumping.all)
    assert dumping.state[s.ALARMS] == 0
    assert dumping.after(shipped.diagnosis.watch_dump, "DUMP_HEATS_MS", "DUMP_BARRED") == (124999, 0)
    shipped.alarms.speak(*dumping.all)
    assert dumping.state[s.ALARMS] == shipped.alarms.ALARM_DUMP


@each("trust, compared", *TRUST)
def test_a_tank_without_its_top_is_not_compared(trust, compared, dumping, shipped):
    dumping.change(TANK_HIGH_STATUS=trust, TANK_HIGH_MC=22000 if compared else "UNKNOWN_MC", TANK_REFERENCE_MC=22000)
    after = (5000, 20000) if compared else (0, shipped.state.UNKNOWN_MC)
    assert dumping.after(shipped.diagnosis.watch_dump, "DUMP_HEATS_MS", "DUMP_TANK_MC") == after


@each(
    "facts, again",
    ({}, True),
    ({"COLLECTOR_MC": 107499}, False),
    ({"DUMP_FROM_MC": 107500}, False),
    ({"STAGNATION": 1}, False),
    # 10 K of room for a tank that seemed to warm, and no plates that show it.
    ({"TANK_HIGH_MC": 65000, "TANK_REFERENCE_MC": 65000}, True),
    ({"TANK_HIGH_MC": 65001}, False),
    ({"TANK_REFERENCE_MC": 65001}, False),
    ({"TANK_REFERENCE_MC": 65001, "DUMP_BARRED": "RADIATOR_DEAD"}, True),
    ({"EXCHANGER_STATUS": "ABSENT"}, True),
    ({"EXCHANGER_STATUS": "HELD"}, False),
    ({"EXCHANGER_STATUS": "GOOD"}, False),
    ({"EXCHANGER_STATUS": "GOOD", "DUMP_BARRED": "RADIATOR_DEAD"}, True),
)
def test_a_dump_given_up_early_is_tried_again_near_the_limit(facts, again, dumping, shipped):
    """source: docs/sensors.md, half way from dump_collector_start to collector_limit"""
    dumping.change(DUMP_BARRED="DUMP_HEATS_TANK", COLLECTOR_MC=107500, EXCHANGER_STATUS="LOST")
    dumping.change(**facts)
    barred = code(shipped, facts.get("DUMP_BARRED", "DUMP_HEATS_TANK"))
    assert dumping.after(shipped.diagnosis.forget_dump_fault, "DUMP_BARRED") == (0 if again else barred)


@each("facts", {"DUTY": "CHARGING"}, {"COLLECTOR_PUMP_ON": 0}, {"REASON": "COLD_SLUG_ROUND"})
def test_only_a_dump_that_flows_for_its_heat_is_judged(facts, dumping, shipped):
    dumping.change(DUMP_IDLE_MS=175000, DUMP_HEATS_MS=115000, TANK_HIGH_MC=90000, **facts)
    assert dumping.after(shipped.diagnosis.watch_dump, "DUMP_IDLE_MS", "DUMP_HEATS_MS", "DUMP_BARRED") == (0, 0, 0)
    unknown = shipped.state.UNKNOWN_MC
    assert values(shipped, dumping, "DUMP_FROM_MC", "DUMP_TANK_MC") == (unknown, unknown)


def test_a_dump_remembers_where_it_began(dumping, shipped):
    dumping.change(DUMP_FROM_MC="UNKNOWN_MC", DUMP_TANK_MC="UNKNOWN_MC", TANK_HIGH_MC=70000)
    assert dumping.after(shipped.diagnosis.watch_dump, "DUMP_FROM_MC", "DUMP_TANK_MC") == (95000, 70000)
    dumping.change(COLLECTOR_MC=96000, TANK_HIGH_MC=70500)
    assert dumping.after(shipped.diagnosis.watch_dump, "DUMP_FROM_MC", "DUMP_TANK_MC", "DUMP_BARRED") == (95000, 70000, 0)


@each("collector_mc, from_mc, given_up", (107499, 107499, True), (107500, 95000, False), (96000, 107500, False))
def test_near_the_limit_it_is_not_given_up(collector_mc, from_mc, given_up, dumping, shipped):
    """Half way from 95 C to 120 C."""
    dumping.change(COLLECTOR_MC=collector_mc, DUMP_FROM_MC=from_mc, DUMP_IDLE_MS=900000)
    assert dumping.after(shipped.diagnosis.watch_dump, "DUMP_BARRED") == (shipped.reasons.RADIATOR_DEAD if given_up else 0)


def test_a_dump_without_effect_for_three_minutes_is_given_up(dumping, shipped):
    """source: docs/sensors.md"""
    dumping.change(DUMP_RETRY_MS=77, DUMP_IDLE_MS=174999)
    assert dumping.after(shipped.diagnosis.watch_dump, "DUMP_BARRED", "DUMP_RETRY_MS") == (0, 77)
    dumping.change(DUMP_IDLE_MS=175000)
    assert dumping.after(shipped.diagnosis.watch_dump, "DUMP_BARRED", "DUMP_RETRY_MS") == (shipped.reasons.RADIATOR_DEAD, 0)


@each(
    "facts, permille",
    ({}, 500),
    ({"STEADY_MS": 299999}, 0),
    ({"LOOP_SUPPLY_STATUS": "HELD", "LOOP_RETURN_STATUS": "HELD"}, 500),
    # Without loop_supply the collector tells.
    ({"LOOP_SUPPLY_STATUS": "LOST", "COLLECTOR_MC": 46000}, 375),
    ({"LOOP_SUPPLY_STATUS": "ABSENT", "COLLECTOR_MC": 46000}, 375),
    ({"LOOP_RETURN_STATUS": "LOST", "EXCHANGER_MC": "UNKNOWN_MC"}, 0),
    # Without loop_return the plates tell; in series they sit at the other end.
    ({"LOOP_RETURN_STATUS": "LOST", "EXCHANGER_MC": 38000}, 600),
    ({"LOOP_RETURN_STATUS": "ABSENT", "EXCHANGER_MC": 38000}, 600),
    ({"LOOP_RETURN_STATUS": "LOST", "EXCHANGER_MC": 38000, "DUMP_TOPOLOGY": 2}, 600),
    ({"LOOP_RETURN_STATUS": "LOST", "EXCHANGER_MC": 49000, "DUMP_TOPOLOGY": 1}, 500),
    ({"LOOP_RETURN_STATUS": "LOST", "EXCHANGER_MC": 49960, "DUMP_TOPOLOGY": 1}, 260),
    ({"LOOP_RETURN_STATUS": "LOST", "EXCHANGER_MC": 38000, "DUMP_TOPOLOGY": 1}, 320),
    ({"LOOP_RETURN_STATUS": "LOST", "EXCHANGER_MC": 49000, "EXCHANGER_STATUS": "ABSENT", "DUMP_TOPOLOGY": 1}, 50),
    ({"TANK_REFERENCE_MC": "UNKNOWN_MC"}, 0),
    # From a lead of 8 K.
    ({"TANK_REFERENCE_MC": 42000, "LOOP_RETURN_MC": 46000}, 500),
    ({"TANK_REFERENCE_MC": 42001, "LOOP_RETURN_MC": 46000}, 0),
    # Or of exchanger_lead, if that is more.
    ({"EXCHANGER_LEAD": 10000, "TANK_REFERENCE_MC": 40000, "LOOP_RETURN_MC": 45000}, 500),
    ({"EXCHANGER_LEAD": 10000, "TANK_REFERENCE_MC": 40001, "LOOP_RETURN_MC": 45000}, 0),
    ({"LOOP_RETURN_MC": 44000}, 300),
    # An open tap cools the plates below the tank's bottom; effectiveness ends at 1.
    ({"LOOP_RETURN_MC": 30000}, 1000),
    ({"LOOP_RETURN_MC": 25000}, 1000),
    # Plates that pass no heat have the least effectiveness, not an unknown one.
    ({"LOOP_RETURN_MC": 49960}, 2),
    ({"LOOP_RETURN_MC": 49990}, 1),
    ({"LOOP_RETURN_MC": 50000}, 1),
    ({"LOOP_RETURN_MC": 50500}, 1),
    # In series the plates' warm end has at least half of the lead, unless the radiator took it.
    ({"DUMP_TOPOLOGY": "SERIES", "LOOP_RETURN_MC": 36000, "EXCHANGER_MC": 37500}, 300),
    ({"DUMP_TOPOLOGY": "SERIES", "LOOP_RETURN_MC": 36000, "EXCHANGER_MC": 48000}, 700),
    ({"DUMP_TOPOLOGY": "SERIES", "LOOP_RETURN_MC": 36000, "EXCHANGER_MC": 37500, "EXCHANGER_STATUS": "LOST"}, 700),
    ({"LOOP_RETURN_MC": 36000, "EXCHANGER_MC": 37500}, 700),
)
def test_the_exchanger_s_effectiveness(facts, permille, steady, shipped):
    """source: effectiveness on the glycol side, (supply - return) / (supply - tank)"""
    steady.change(STEADY_MS=300000)
    steady.change(**facts)
    assert shipped.diagnosis.effect_permille(*steady.all) == permille


@each(
    "facts, mk",
    ({"STEADY_MS": 300000}, 20000),
    ({"STEADY_MS": 299999}, 0),
    ({"STEADY_MS": 300000, "TANK_REFERENCE_MC": UNKNOWN_MC}, 0),
)
def test_the_lead_is_known_in_steady_charging_above_a_known_tank(facts, mk, steady, shipped):
    steady.change(**facts)
    assert shipped.diagnosis.lead_mk(*steady.all) == mk


@each("facts", {"DUTY": "HAND"}, {"COLLECTOR_PUMP_ON": 0}, {"TANK_PUMP_ON": 0})
def test_both_pumps_have_to_charge_for_five_minutes(facts, steady, shipped):
    """source: diagnosis.py, steady after five minutes"""
    steady.change(STEADY_MS=294999)
    assert steady.after(shipped.diagnosis.watch_exchanger, "STEADY_MS", "EFFECT_PERMILLE") == (299999, 0)
    steady.change(STEADY_MS=295000)
    assert steady.after(shipped.diagnosis.watch_exchanger, "STEADY_MS", "EFFECT_PERMILLE", "EFFECT_REST") == (300000, 500, 0), (
        "the first value is taken as the mean"
    )
    steady.change(**facts)
    assert steady.after(shipped.diagnosis.watch_exchanger, "STEADY_MS", "EFFECT_PERMILLE") == (0, 500)


@each(
    "mean, rest, return_mc, mean_after, rest_after",
    # A 256th of the way in five seconds, the remainder carried: 500 -> 1000 is 500 = 256 + 244.
    (500, 0, 30000, 501, 244 * 5000),
    (501, 244 * 5000, 30000, 503, 231 * 5000),
    (500, 0, 44000, 499, 56 * 5000),
    (500, 56 * 5000, 40000, 500, 56 * 5000),
)
def test_a_slow_mean(mean, rest, return_mc, mean_after, rest_after, steady, shipped):
    steady.change(TANK_REFERENCE_MC=38000, EFFECT_PERMILLE=mean, EFFECT_REST=rest, FOUL_S=9)
    # The same share of a lead of 12 K as of one of 20 K, and then of one that counts twice.
    steady.change(LOOP_RETURN_MC=50000 - (50000 - return_mc) * 12 // 20)
    assert steady.after(shipped.diagnosis.watch_exchanger, "EFFECT_PERMILLE", "EFFECT_REST") == (mean_after, rest_after)
    steady.change(TANK_REFERENCE_MC=30000, LOOP_RETURN_MC=return_mc, EFFECT_PERMILLE=mean, EFFECT_REST=rest, IN_DT_MS=2500)
    assert steady.after(shipped.diagnosis.watch_exchanger, "EFFECT_PERMILLE", "EFFECT_REST") == (mean_after, rest_after)


def test_the_mean_is_the_same_whatever_the_step(steady, shipped, s):
    """A board steps in one second, the simulation in five: they stay within 2 permille."""
    means = {}
    for dt_ms in (1000, 5000):
        steady.change(IN_DT_MS=dt_ms, EFFECT_PERMILLE=800, EFFECT_REST=0, STEADY_MS=300000)
        steady.change(TANK_REFERENCE_MC=38000, LOOP_RETURN_MC=46400)
        means[dt_ms] = []
        for passed_ms in range(dt_ms, 10800001, dt_ms):
            shipped.diagnosis.watch_exchanger(*steady.all)
            if passed_ms % 60000 == 0:
                means[dt_ms].append(steady.state[s.EFFECT_PERMILLE])
    assert len(means[1000]) == len(means[5000]) == 180
    assert max(abs(one - five) for one, five in zip(*means.values(), strict=True)) <= 2
    # 300 + 500 exp(-t / 1280 s), within 2 permille: source: first order.
    assert abs(means[1000][20] - (300 + 500 * math.exp(-1260 / 1280))) <= 2
    assert abs(means[1000][-1] - 300) <= 1


@each(
    "mean, foul_s, foul_after_s",
    (299, 100, 105),
    (300, 100, 100),
    (349, 100, 100),
    (350, 100, 0),
    (299, 7199, 7200),
    (299, 7200, 7200),
)
def test_plates_foul_under_three_tenths_and_are_clean_again_at_thirty_five_hundredths(mean, foul_s, foul_after_s, steady, shipped):
    """source: docs/sensors.md, under 0.30 for 2 hours of charging, in the meter's whole seconds"""
    steady.change(EFFECT_PERMILLE=mean, FOUL_S=foul_s, TANK_REFERENCE_MC=38000, LOOP_RETURN_MC=50000 - 12 * mean)
    assert steady.after(shipped.diagnosis.watch_exchanger, "EFFECT_PERMILLE", "FOUL_S") == (mean, foul_after_s)


@each("lead_mk, counted_s", (8000, 5), (15999, 5), (16000, 10), (40000, 25), (64000, 40), (100000, 40))
def test_the_further_the_glycol_is_above_the_tank_the_more_it_proves(lead_mk, counted_s, steady, shipped):
    steady.change(EFFECT_PERMILLE=100, EFFECT_REST=0, FOUL_S=0, TANK_REFERENCE_MC=50000 - lead_mk, LOOP_RETURN_MC=50000)
    assert steady.after(shipped.diagnosis.watch_exchanger, "FOUL_S") == counted_s


@each(
    "facts, foul_s",
    # Water should enter with 38.436 C: three quarters of what the glycol lost, by both flows.
    ({"TANK_HIGH_MC": 37436}, 15),
    ({"TANK_HIGH_MC": 37437}, 0),
    ({"TANK_HIGH_MC": 37436, "TANK_FLOW": 4100}, 0),
    ({"TANK_HIGH_MC": 37436, "COLLECTOR_FLOW": 4400}, 0),
    ({"TANK_HIGH_MC": 37436, "EFFECT_PERMILLE": 490}, 0),
    ({"TANK_HIGH_MC": 37436, "TANK_HIGH_STATUS": "LOST"}, 0),
    # By then the top has got warmer by half a kelvin, or it has not.
    ({"TANK_HIGH_MC": 30499, "TOP_FROM_MC": 30000, "FOUL_S": 100}, 115),
    ({"TANK_HIGH_MC": 30500, "TOP_FROM_MC": 30000, "FOUL_S": 100}, 0),
    ({"TANK_HIGH_MC": 30500, "TOP_FROM_MC": 31000, "FOUL_S": 100}, 115),
    ({"TANK_HIGH_MC": 50499, "TOP_FROM_MC": 50000, "FOUL_S": 100}, 100),
    ({"TANK_HIGH_MC": 50500, "TOP_FROM_MC": 50000, "FOUL_S": 100}, 0),
    ({"TANK_HIGH_MC": 50499, "TOP_FROM_MC": 50000, "FOUL_S": 100, "TANK_HIGH_STATUS": "LOST"}, 0),
)
def test_heat_that_does_not_warm_the_tank(facts, foul_s, steady, shipped):
    """Once and a half as bad as poor plates at twice the least lead."""
    steady.change(**facts)
    assert steady.after(shipped.diagnosis.watch_exchanger, "FOUL_S") == foul_s


IN_SERIES = {"DUMP_TOPOLOGY": "SERIES", "LOOP_RETURN_STATUS": "ABSENT"}


COLD, HARDLY, WARM, NEITHER = 5000, 833, 0, None


@each(
    "facts, tells",
    # The tank cools no glycol below its own 30 C, less the error of two sensors.
    ({"LOOP_RETURN_MC": 27998}, COLD),
    ({"LOOP_RETURN_MC": 27999}, HARDLY),
    ({"LOOP_RETURN_MC": 28000}, NEITHER),
    ({"LOOP_RETURN_MC": 29999}, NEITHER),
    ({"LOOP_RETURN_MC": 30000}, WARM),
    ({"LOOP_RETURN_MC": 27998, "LOOP_RETURN_STATUS": "LOST"}, NEITHER),
    ({"LOOP_RETURN_MC": 27999, "EXCHANGER_MC": 31000}, COLD),
    ({"LOOP_RETURN_MC": 28000, "EXCHANGER_MC": 31000}, WARM),
    # Slow water leaves its end colder than tank_low, and the plates with it: a sixth.
    ({"LOOP_RETURN_MC": 25000, "EXCHANGER_MC": 27000}, HARDLY),
    ({"LOOP_RETURN_MC": 24999, "EXCHANGER_MC": 27000}, COLD),
    # Without their sensor it takes 8 K.
    ({"LOOP_RETURN_MC": 22000, "EXCHANGER_STATUS": "LOST"}, HARDLY),
    ({"LOOP_RETURN_MC": 21999, "EXCHANGER_STATUS": "LOST"}, COLD),
    # Several short runs prove it together.
    ({"LOOP_RETURN_MC": 27998, "STEADY_MS": 294999}, NEITHER),
    ({"LOOP_RETURN_MC": 30000, "STEADY_MS": 294999}, NEITHER),
    ({"LOOP_RETURN_MC": 30000, "DUTY": "IDLE"}, NEITHER),
    ({"LOOP_RETURN_MC": 27998, "TANK_REFERENCE_MC": "UNKNOWN_MC"}, NEITHER),
    # Glycol that hardly brings heat proves nothing.
    ({"LOOP_RETURN_MC": 27998, "LOOP_SUPPLY_MC": 34000}, COLD),
    ({"LOOP_RETURN_MC": 27998, "LOOP_SUPPLY_MC": 33999}, NEITHER),
    ({"LOOP_RETURN_MC": 27998, "LOOP_SUPPLY_STATUS": "ABSENT", "COLLECTOR_MC": 34000}, COLD),
    ({"LOOP_RETURN_MC": 27998, "LOOP_SUPPLY_STATUS": "ABSENT", "COLLECTOR_MC": 33999}, NEITHER),
    # In series the plates are at least a quarter of the way from the tank to the glycol.
    ({**IN_SERIES, "EXCHANGER_MC": 34999}, COLD),
    ({**IN_SERIES, "EXCHANGER_MC": 35000}, WARM),
    ({**IN_SERIES, "EXCHANGER_MC": 34999, "EXCHANGER_STATUS": "LOST"}, WARM),
    ({**IN_SERIES, "EXCHANGER_MC": 34999, "DUMP_TOPOLOGY": "BYPASS"}, WARM),
    ({**IN_SERIES, "EXCHANGER_MC": 34999, "DUMP_TOPOLOGY": "NONE"}, WARM),
)
@each("before_ms", 0, 1790000, 1795000)
def test_glycol_that_the_radiator_has_cooled(before_ms, facts, tells, steady, shipped):
    """Half an hour of it is as bad as two hours of poor plates."""
    steady.change(EXCHANGER_MC=29999, LOOP_RETURN_MC=20000, COOLED_MS=before_ms, EFFECT_PERMILLE=320)
    steady.change(**facts)
    after_ms = {COLD: before_ms + 5000, HARDLY: before_ms + 833, WARM: 0, NEITHER: before_ms}[tells]
    fouled = 7200 if after_ms == 1800000 else 0
    assert steady.after(shipped.diagnosis.watch_exchanger, "COOLED_MS", "FOUL_S") == (after_ms, fouled)


@each("mean, drains", (349, 1), (350, 0))
def test_good_charging_alone_clears_a_radiator_that_took_the_tank_s_heat(mean, drains, steady, shipped):
    steady.change(EFFECT_PERMILLE=mean, FOUL_S=7200, DRAINS=1, TANK_REFERENCE_MC=38000, LOOP_RETURN_MC=50000 - 12 * mean)
    assert steady.after(shipped.diagnosis.watch_exchanger, "DRAINS") == drains


@each("loop_return", "GOOD", "LOST", "ABSENT")
@each("drains, astray_ms, given_up", (0, 115000, False), (0, 295000, True), (1, 110000, False), (1, 115000, True))
def test_only_a_radiator_that_took_the_tank_s_heat_is_known_after_two_minutes(
    drains, astray_ms, given_up, loop_return, steady, shipped
):
    """Poor charging alone, as by a weak pump, proves no drained tank: that takes five minutes."""
    steady.change(DUMP_TOPOLOGY="SERIES", EXCHANGER_MC=20000, TANK_REFERENCE_MC=30000, STEADY_MS=5000)
    steady.change(FOUL_S=7200, DRAINS=drains, ASTRAY_MS=astray_ms, LOOP_RETURN_STATUS=loop_return)
    facts = steady.after(shipped.diagnosis.watch_joining, "NO_FLOW", "FOUL_S", "DRAINS")
    assert facts == ((shipped.reasons.HEAT_ASTRAY, 7200, 1) if given_up else (0, 7200, drains))


@each("loop_return", "GOOD", "LOST", "ABSENT")
@each("astray_ms, given_up", (115000, False), (290000, False), (295000, True))
def test_while_the_tank_pump_waits_heat_goes_astray_for_five_minutes(astray_ms, given_up, loop_return, steady, shipped):
    """Whatever the radiator did before."""
    steady.change(TANK_PUMP_ON=0, EXCHANGER_MC=20000, TANK_REFERENCE_MC=30000, LOOP_SUPPLY_MC=50000)
    steady.change(FOUL_S=7200, DRAINS=1, ASTRAY_MS=astray_ms, LOOP_RETURN_STATUS=loop_return)
    assert steady.after(shipped.diagnosis.watch_joining, "NO_FLOW") == (shipped.reasons.HEAT_ASTRAY if given_up else 0)


def test_a_slug_is_no_sensor_that_disagrees(calm, shipped):
    """While the tank pump runs ahead of frosty glycol, nothing is learned about the sensors."""
    calm.change(DUTY="CHARGING", STEADY_MS=5000, COLLECTOR_MC=50000)
    calm.change(CONDITIONS="COLD_LOOP")
    assert calm.after(shipped.diagnosis.watch_apart, "APART_MK") == 0
    calm.change(CONDITIONS="COLD_LOOP ROUND")
    assert calm.after(shipped.diagnosis.watch_apart, "APART_MK") == 500


# For each watcher one fact that only it notices.
WATCHED = [
    ({"NO_FLOW": "FLOW_MISSING", "RETRY_MS": 5}, "RETRY_MS", 5005),
    ({"DUMP_BARRED": "RADIATOR_DEAD", "DUMP_RETRY_MS": 5}, "DUMP_RETRY_MS", 5005),
    ({"DUTY": "CHARGING", "COLLECTOR_PUMP_ON": 1}, "NOT_JOINED_MS", 5000),
    ({"DUTY": "CHARGING", "COLLECTOR_PUMP_ON": 1, "COLLECTOR_MC": 40000}, "FAR_MS", 5000),
    ({"DUTY": "CHARGING", "COLLECTOR_PUMP_ON": 1, "TANK_PUMP_ON": 1, "COLLECTOR_MC": 32000}, "APART_MK", 200),
    ({"COLLECTOR_PUMP_ON": 1, "FLOW_SENSOR": "FLOW_METER"}, "FLOWLESS_MS", 5000),
    ({"DUTY": "DUMPING", "COLLECTOR_PUMP_ON": 1, "DUMP_FROM_MC": "UNKNOWN_MC"}, "DUMP_FROM_MC", 20000),
    ({"DUTY": "CHARGING", "COLLECTOR_PUMP_ON": 1, "TANK_PUMP_ON": 1}, "STEADY_MS", 5000),
]


@each("facts, name, value", *WATCHED)
def test_every_step_looks_at_everything(facts, name, value, calm, shipped):
    calm.change(**facts)
    shipped.diagnosis.watch(*calm.all)
    assert values(shipped, calm, name) == (value,)


@each("retry, timer", ("NO_FLOW", "RETRY_MS"), ("DUMP_BARRED", "DUMP_RETRY_MS"))
@each("lost", *SENSORS)
@each("duty", *DUTIES)
def test_a_pause_goes_on_in_every_duty_whatever_is_lost(retry, timer, lost, duty, calm, shipped):
    calm.change(**{retry: "HEAT_ASTRAY", timer: 5, "DUTY": duty.upper()})
    calm.change(**{f"{lost.upper()}_STATUS": "LOST", f"{lost.upper()}_MC": "UNKNOWN_MC"})
    assert calm.after(shipped.diagnosis.watch, timer) == 5005


@each(
    "facts, leaving_mc",
    ({}, 24000),
    ({"LOOP_RETURN_MC": 23000}, 23000),
    ({"EXCHANGER_MC": 22000}, 22000),
    ({"TANK_HIGH_MC": 21000}, 21000),
    # What is lost tells nothing.
    ({"TANK_HIGH_MC": 21000, "TANK_HIGH_STATUS": "LOST"}, 24000),
    ({"EXCHANGER_MC": 22000, "EXCHANGER_STATUS": "ABSENT"}, 24000),
    ({"LOOP_RETURN_STATUS": "LOST"}, 25000),
    ({"LOOP_RETURN_STATUS": "LOST", "EXCHANGER_STATUS": "LOST", "EXCHANGER_MC": "UNKNOWN_MC"}, UNKNOWN_MC),
)
def test_the_coldest_that_leaves_the_exchanger(facts, leaving_mc, calm, shipped):
    """Glycol by loop_return or the plates, and no warmer than the tank's top."""
    calm.change(**{"LOOP_RETURN_MC": 24000, "EXCHANGER_MC": 25000, "TANK_HIGH_MC": 26000, **facts})
    assert shipped.tank.leaving_mc(*calm.all) == leaving_mc
