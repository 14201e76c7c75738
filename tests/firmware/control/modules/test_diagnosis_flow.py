"""No flow, no arrival, heat astray, sensors exchanged: every limit from both sides."""

import pytest

from ..stations import TRUST, code, each


@pytest.fixture
def night(calm):
    """First start in the evening, collector and tank_low exchanged: they read tank and air."""
    return calm.change(COLLECTOR_MC=30000, FAR_FROM_MC=30000, TANK_LOW_MC=5000, OUTDOOR_MC=5000, TANK_HIGH_MC=40000)


@pytest.fixture
def charging(calm):
    """Charging without the tank pump; arriving glycol is as warm as the collector."""
    return calm.change(
        DUTY="CHARGING", COMMAND=1, COLLECTOR_PUMP_MS=200000, COLLECTOR_MC=50000, LOOP_SUPPLY_MC=50000, EXCHANGER_MC=50000
    )


@each(
    "name, value, swapped",
    # Warmed or cooled by more than 1.5 K since glycol did not arrive: no tank does that.
    ("FAR_FROM_MC", 28500, True),
    ("FAR_FROM_MC", 28499, False),
    ("FAR_FROM_MC", 31500, True),
    ("FAR_FROM_MC", 31501, False),
    # tank_low reads the air within 8 K.
    ("TANK_LOW_MC", -3000, True),
    ("TANK_LOW_MC", -3001, False),
    ("TANK_LOW_MC", 13000, True),
    ("TANK_LOW_MC", 13001, False),
    # The collector reads a tank's low end: at most 5 K above tank_high, at most 25 K below.
    ("TANK_HIGH_MC", 25000, True),
    ("TANK_HIGH_MC", 24999, False),
    ("TANK_HIGH_MC", 55000, True),
    ("TANK_HIGH_MC", 55001, False),
)
def test_how_an_exchange_of_collector_and_tank_looks(name, value, swapped, night, shipped):
    night.change(**{name: value})
    assert shipped.diagnosis.looks_swapped(*night.all) == swapped


@each("name", "TANK_LOW_STATUS", "TANK_HIGH_STATUS", "OUTDOOR_STATUS")
@each("trust, swapped", *TRUST)
def test_an_exchange_needs_all_that_tell_of_it(name, trust, swapped, night, shipped):
    night.change(**{name: trust})
    assert shipped.diagnosis.looks_swapped(*night.all) == swapped


@each(
    "name, value, is_astray",
    # Glycol is hot from exchanger_lead of 3 K, plates are cold below exchanger_lag of 1 K.
    ("LOOP_SUPPLY_MC", 23000, True),
    ("LOOP_SUPPLY_MC", 22999, False),
    ("EXCHANGER_MC", 20999, True),
    ("EXCHANGER_MC", 21000, False),
    ("LOOP_SUPPLY_STATUS", "HELD", True),
    ("LOOP_SUPPLY_STATUS", "LOST", False),
    ("LOOP_SUPPLY_STATUS", "ABSENT", False),
    ("EXCHANGER_STATUS", "HELD", True),
    ("EXCHANGER_STATUS", "LOST", False),
    ("EXCHANGER_STATUS", "ABSENT", False),
)
def test_heat_is_astray_when_hot_glycol_leaves_the_plates_cold(name, value, is_astray, charging, shipped):
    charging.change(EXCHANGER_MC=20000, **{name: value}) if name != "EXCHANGER_MC" else charging.change(EXCHANGER_MC=value)
    assert shipped.diagnosis.astray(*charging.all) == is_astray


@each(
    "facts, waits",
    ({}, True),
    ({"DUTY": "DUMPING"}, False),
    ({"COLLECTOR_PUMP_ON": 0}, False),
    ({"TANK_PUMP_ON": 1}, False),
    # A trusted supply tells at once; without it tank_pump_delay of 60 s has to pass.
    ({"COLLECTOR_PUMP_MS": 0}, True),
    ({"COLLECTOR_PUMP_MS": 0, "LOOP_SUPPLY_STATUS": "HELD"}, True),
    ({"COLLECTOR_PUMP_MS": 59999, "LOOP_SUPPLY_STATUS": "LOST"}, False),
    ({"COLLECTOR_PUMP_MS": 60000, "LOOP_SUPPLY_STATUS": "LOST"}, True),
    ({"COLLECTOR_PUMP_MS": 59999, "LOOP_SUPPLY_STATUS": "ABSENT"}, False),
    # Plates that were too hot hold the tank pump back: its lateness is no fault.
    ({"PLATES_HOT_MS": 7200000}, False),
    ({"PLATES_HOT_MS": 7140000}, True),
    ({"PLATES_HOT_MS": 7140000, "EXCHANGER_MC": 90000}, False),
    ({"PLATES_HOT_MS": 1, "EXCHANGER_STATUS": "LOST"}, False),
    ({"EXCHANGER_STATUS": "LOST", "PLATES_HOT_MS": 0}, True),
)
def test_when_the_tank_pump_is_waited_for(facts, waits, charging, shipped):
    charging.change(**facts)
    assert shipped.diagnosis.waits_for_heat(*charging.all) == waits
    charging.change(NOT_JOINED_MS=100, ARRIVED_MC=50000)
    assert charging.after(shipped.diagnosis.watch_joining, "NOT_JOINED_MS", "NO_FLOW") == (5100 if waits else 0, 0)


@each(
    "facts, reason",
    # Two minutes of evidence, or it may be noise.
    ({"EXCHANGER_MC": 20000, "ASTRAY_MS": 115000}, "HEAT_ASTRAY"),
    ({"EXCHANGER_MC": 20000, "ASTRAY_MS": 109999}, "HEAT_TOO_WEAK"),
    ({"FAR_MS": 120000}, "GLYCOL_NOT_ARRIVING"),
    ({"FAR_MS": 119999}, "HEAT_TOO_WEAK"),
    ({}, "HEAT_TOO_WEAK"),
    ({"LOOP_SUPPLY_STATUS": "HELD"}, "HEAT_TOO_WEAK"),
    # Without it the plates tell, once they are within 8 K of the collector.
    ({"LOOP_SUPPLY_STATUS": "LOST"}, "HEAT_TOO_WEAK"),
    ({"LOOP_SUPPLY_STATUS": "LOST", "EXCHANGER_MC": 42001}, "HEAT_TOO_WEAK"),
    ({"LOOP_SUPPLY_STATUS": "ABSENT", "EXCHANGER_MC": 42000}, "GLYCOL_NOT_ARRIVING"),
    ({"LOOP_SUPPLY_STATUS": "ABSENT", "EXCHANGER_STATUS": "LOST", "EXCHANGER_MC": "UNKNOWN_MC"}, "GLYCOL_NOT_ARRIVING"),
)
def test_a_tank_pump_that_has_not_joined_in_five_minutes_ends_charging(facts, reason, charging, shipped):
    """source: the design page, not joined in 5 min is a fault; docs/sensors.md for its name"""
    charging.change(RETRY_MS=77, NOT_JOINED_MS=294999, ARRIVED_MC=48001, **facts)
    assert charging.after(shipped.diagnosis.watch_joining, "NOT_JOINED_MS", "NO_FLOW", "RETRY_MS") == (299999, 0, 77)
    charging.change(NOT_JOINED_MS=295000)
    assert charging.after(shipped.diagnosis.watch_joining, "NOT_JOINED_MS", "NO_FLOW", "RETRY_MS") == (0, code(shipped, reason), 0)


@each(
    "facts, apart_mk",
    ({"LOOP_RETURN_MC": 53000}, 4000),
    ({"LOOP_RETURN_MC": 52999}, 0),
    ({"LOOP_RETURN_MC": 53000, "APART_MK": 7999}, 11999),
    ({"LOOP_RETURN_MC": 53000, "APART_MK": 8000}, 8000),
    ({"LOOP_RETURN_MC": 53000, "APART_MK": -6000}, -2000),
    ({"LOOP_RETURN_MC": 53000, "LOOP_SUPPLY_STATUS": "HELD"}, 4000),
    ({"LOOP_RETURN_MC": 53000, "LOOP_SUPPLY_STATUS": "LOST", "LOOP_SUPPLY_MC": "UNKNOWN_MC"}, 0),
    ({"LOOP_RETURN_MC": "UNKNOWN_MC", "LOOP_RETURN_STATUS": "LOST"}, 0),
    # A fault that has a name of its own.
    ({"LOOP_RETURN_MC": 53000, "FAR_MS": 120000}, 0),
    ({"LOOP_RETURN_MC": 53000, "EXCHANGER_MC": 20000, "ASTRAY_MS": 115000}, 0),
)
def test_glycol_leaves_no_hotter_than_it_came(facts, apart_mk, charging, shipped):
    """source: beside standing water glycol loses heat, if anything"""
    charging.change(**{"NOT_JOINED_MS": 295000, "ARRIVED_MC": 48001, "APART_MK": 0, **facts})
    assert charging.after(shipped.diagnosis.watch_joining, "APART_MK") == apart_mk


@each(
    "facts, arrived_mc, waited_ms",
    # 2 K warmer: it arrives, and both times start again.
    ({"ARRIVED_MC": 48000}, 48000, 0),
    ({"ARRIVED_MC": 48001}, 48001, 205000),
    # From the first step on, and from the first reading.
    ({"ARRIVED_MC": 48000, "NOT_JOINED_MS": 0}, 50000, 5000),
    ({"ARRIVED_MC": "UNKNOWN_MC"}, 50000, 205000),
)
@each("topology", "BYPASS", "SERIES", "NONE")
def test_glycol_that_gets_warmer_is_waited_for(topology, facts, arrived_mc, waited_ms, charging, shipped):
    charging.change(DUMP_TOPOLOGY=topology, **{"NOT_JOINED_MS": 200000, "FAR_MS": 7000, **facts})
    after = (arrived_mc, waited_ms, 7000 if waited_ms else 0)
    assert charging.after(shipped.diagnosis.watch_joining, "ARRIVED_MC", "NOT_JOINED_MS", "FAR_MS") == after


@each(
    "facts, apart_mk",
    # A sixtieth of the way in five seconds: two thirds in five minutes.
    ({"COLLECTOR_MC": 62000}, 200),
    ({"COLLECTOR_MC": 62000, "APART_MK": 6000}, 6100),
    ({"COLLECTOR_MC": 38000}, -200),
    ({"COLLECTOR_MC": 62000, "STEADY_MS": 0}, 0),
    ({"COLLECTOR_MC": 62000, "LOOP_SUPPLY_STATUS": "HELD", "COLLECTOR_STATUS": "HELD"}, 200),
    ({"COLLECTOR_MC": 62000, "LOOP_SUPPLY_STATUS": "LOST"}, 0),
    ({"COLLECTOR_MC": 62000, "COLLECTOR_STATUS": "LOST"}, 0),
)
def test_how_far_collector_and_supply_are_apart_is_averaged(facts, apart_mk, charging, shipped):
    charging.change(**{"STEADY_MS": 5000, **facts})
    assert charging.after(shipped.diagnosis.watch_apart, "APART_MK") == apart_mk


@each(
    "apart_mk, tank_pump, supply_mc, is_far",
    (10000, 1, 32000, True),
    (10000, 1, 32001, False),
    (-10000, 1, 42000, True),
    (-10000, 1, 42001, False),
    # Before it has arrived nothing is usual.
    (10000, 0, 42000, True),
)
def test_once_it_arrived_the_usual_difference_does_not_count(apart_mk, tank_pump, supply_mc, is_far, charging, shipped):
    charging.change(APART_MK=apart_mk, TANK_PUMP_ON=tank_pump, LOOP_SUPPLY_MC=supply_mc)
    assert shipped.diagnosis.far(*charging.all) == is_far


@each("standing", {"DUTY": "IDLE", "COLLECTOR_PUMP_ON": 1}, {"DUTY": "CHARGING", "COLLECTOR_PUMP_ON": 0})
def test_only_charging_that_pumps_glycol_waits_for_it(standing, charging, shipped):
    charging.change(COLLECTOR_MC=60000, LOOP_SUPPLY_MC=20000, **standing)
    assert not shipped.diagnosis.far(*charging.all)


@each(
    "start_mk, supply_mc, is_far",
    (8000, 42000, True),
    (8000, 42001, False),
    (4000, 42000, True),
    (4000, 42001, False),
    (12000, 38000, True),
    (12000, 38001, False),
)
def test_glycol_does_not_arrive_eight_kelvin_under_the_collector(start_mk, supply_mc, is_far, charging, shipped):
    """source: docs/sensors.md; or start_difference where that is more"""
    charging.change(START_DIFFERENCE=start_mk, LOOP_SUPPLY_MC=supply_mc)
    assert shipped.diagnosis.far(*charging.all) == is_far


@each("name", "COLLECTOR_STATUS", "LOOP_SUPPLY_STATUS")
@each("trust, is_far", *TRUST)
def test_whether_it_arrives_needs_both_readings(name, trust, is_far, charging, shipped):
    charging.change(LOOP_SUPPLY_MC=20000, **{name: trust})
    assert shipped.diagnosis.far(*charging.all) == is_far


@each(
    "volume_ml, flow_ml_per_min, limit_ms",
    (1000, 4500, 180000),
    (1500, 500, 180000),
    # One round is volume over flow: 2.001 L at 0.5 L/min is 240.1 s in steps of 0.1 s.
    (2001, 500, 240100),
    (2400, 500, 288000),
    (2501, 500, 300000),
    (100000, 500, 300000),
)
def test_a_slow_loop_is_given_the_time_of_one_round(volume_ml, flow_ml_per_min, limit_ms, calm, shipped):
    calm.change(LOOP_VOLUME=volume_ml, COLLECTOR_FLOW=flow_ml_per_min)
    assert shipped.diagnosis.far_limit_ms(*calm.all) == limit_ms


def test_the_collector_is_remembered_from_the_first_step_on_which_glycol_is_far(charging, shipped):
    charging.change(LOOP_SUPPLY_MC=20000, FAR_FROM_MC=1)
    assert charging.after(shipped.diagnosis.watch_far, "FAR_MS", "FAR_FROM_MC") == (5000, 50000)
    charging.change(COLLECTOR_MC=51500)
    assert charging.after(shipped.diagnosis.watch_far, "FAR_MS", "FAR_FROM_MC") == (10000, 50000)
    charging.change(LOOP_SUPPLY_MC=51000)
    assert charging.after(shipped.diagnosis.watch_far, "FAR_MS", "FAR_FROM_MC", "NO_FLOW") == (0, 51500, 0)


@each("collector_mc", 51501, 48499)
def test_a_collector_that_has_moved_is_forgotten(collector_mc, charging, shipped):
    charging.change(LOOP_SUPPLY_MC=20000, FAR_FROM_MC=50000, FAR_MS=5000, COLLECTOR_MC=collector_mc)
    assert charging.after(shipped.diagnosis.watch_far, "FAR_FROM_MC") == shipped.state.UNKNOWN_MC


@each("apart_mk, known", (7999, True), (-7999, True), (8000, False), (-8000, False))
def test_a_collector_that_disagreed_is_not_remembered(apart_mk, known, charging, shipped):
    charging.change(LOOP_SUPPLY_MC=20000, FAR_FROM_MC=1, APART_MK=apart_mk)
    after = 50000 if known else shipped.state.UNKNOWN_MC
    assert charging.after(shipped.diagnosis.watch_far, "FAR_FROM_MC") == after


def test_glycol_that_does_not_arrive_for_three_minutes_ends_charging(charging, shipped):
    """source: docs/sensors.md"""
    charging.change(LOOP_SUPPLY_MC=20000, FAR_FROM_MC=40000, RETRY_MS=77, FAR_MS=174999)
    assert charging.after(shipped.diagnosis.watch_far, "FAR_MS", "NO_FLOW", "RETRY_MS") == (179999, 0, 77)
    charging.change(FAR_MS=175000)
    assert charging.after(shipped.diagnosis.watch_far, "FAR_MS", "NO_FLOW", "RETRY_MS") == (
        0,
        shipped.reasons.GLYCOL_NOT_ARRIVING,
        0,
    )


def test_after_three_minutes_an_exchange_is_told(night, shipped):
    """source: docs/sensors.md. What the tank read in the collector's place is no offset."""
    night.change(FAR_MS=175000, APART_MK=7000, DUTY="CHARGING", COLLECTOR_PUMP_ON=1, LOOP_SUPPLY_MC=10000)
    after = (0, shipped.reasons.SENSORS_SWAPPED, 0)
    assert night.after(shipped.diagnosis.watch_far, "FAR_MS", "NO_FLOW", "APART_MK") == after


@each(
    "kind, flow, fifth, tenth",
    ("FLOW_METER", 901, True, True),
    ("FLOW_METER", 900, False, True),
    ("FLOW_METER", 451, False, True),
    ("FLOW_METER", 450, False, False),
    ("FLOW_SWITCH", 1, True, True),
    ("FLOW_SWITCH", 0, False, False),
)
def test_a_flow_input_shows_flow(kind, flow, fifth, tenth, calm, shipped):
    """A fifth of the 4500 ml/min with the pump on, a tenth with it off; a switch shows any."""
    calm.change(FLOW_SENSOR=kind, IN_FLOW_ML_PER_MIN=flow)
    assert shipped.diagnosis.flow_seen(*calm.all, 5) == fifth
    assert shipped.diagnosis.flow_seen(*calm.all, 10) == tenth
    calm.change(COLLECTOR_PUMP_ON=1, FLOWLESS_MS=1000, UNBIDDEN_FLOW=7)
    assert calm.after(shipped.diagnosis.watch_flow, "FLOWLESS_MS", "UNBIDDEN_FLOW") == (0 if fifth else 6000, 7)
    calm.change(COLLECTOR_PUMP_ON=0, FLOWLESS_MS=1000, COLLECTOR_PUMP_MS=59999)
    assert calm.after(shipped.diagnosis.watch_flow, "FLOWLESS_MS", "UNBIDDEN_FLOW") == (1000, 7), "flow may continue for a minute"
    calm.change(COLLECTOR_PUMP_MS=60000)
    assert calm.after(shipped.diagnosis.watch_flow, "UNBIDDEN_FLOW", "NO_FLOW") == (tenth, 0)


def test_half_a_minute_without_flow_is_proof(charging, shipped):
    """source: docs/sensors.md, with a flow input 30 s"""
    charging.change(FLOW_SENSOR="FLOW_METER", RETRY_MS=77, FLOWLESS_MS=24999)
    assert charging.after(shipped.diagnosis.watch_flow, "FLOWLESS_MS", "NO_FLOW", "RETRY_MS") == (29999, 0, 77)
    charging.change(FLOWLESS_MS=25000)
    assert charging.after(shipped.diagnosis.watch_flow, "FLOWLESS_MS", "NO_FLOW", "RETRY_MS") == (
        0,
        shipped.reasons.FLOW_MISSING,
        0,
    )


@each("facts", {"FLOW_SENSOR": "NO_FLOW_SENSOR"}, {"FLOW_SENSOR": "FLOW_METER", "IN_FLOW_CAUSE": "CAUSE_SILENT"})
@each("on", 0, 1)
def test_without_a_trusted_flow_input_nothing_is_proven(facts, on, charging, shipped):
    charging.change(FLOWLESS_MS=29000, COLLECTOR_PUMP_ON=on, UNBIDDEN_FLOW=7, IN_FLOW_ML_PER_MIN=4500 * (1 - on), **facts)
    assert charging.after(shipped.diagnosis.watch_flow, "FLOWLESS_MS", "NO_FLOW", "UNBIDDEN_FLOW") == (0, 0, 7)
