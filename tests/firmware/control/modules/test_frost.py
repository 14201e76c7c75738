"""Frost: every threshold that keeps frosty glycol from drinking water, from both sides."""

import pytest

from ..matrix.facts import DUTIES
from ..stations import CLEARS, SETS, STAYS, each, latched

FROST_MC = 4000


# Percent propylene glycol by mass, freezing point in C.
# source: CoolProp 8.0.0, INCOMP::MPG; 0 % is water. Straight lines lie up to 0.7 K below the curve.
@each("percent", *range(56))
def test_pumps_stay_three_kelvin_above_the_freezing_point(calm, shipped, s, percent):
    from CoolProp.CoolProp import PropsSI

    freezing_c = 0.0 if percent == 0 else PropsSI("T_freeze", "T", 280.0, "P", 2e5, f"INCOMP::MPG-{percent}%") - 273.15
    calm.settings[shipped.settings.GLYCOL_MASS_PERCENT] = percent
    on_a_node = percent % 10 == 0
    error_c = 0.02 if on_a_node else 0.75
    for sensor in (s.COLLECTOR_MC, s.OUTDOOR_MC):
        for over_c, stiff in ((3.0 - error_c - 0.01, True), (3.0 + error_c + 0.01, False)):
            calm.state[sensor] = int((freezing_c + over_c) * 1000)
            assert shipped.frost.glycol_stiff(*calm.all) == stiff, (percent, over_c)
        calm.state[sensor] = 20000


def test_water_is_stiff_below_three_degrees(calm, shipped, s):
    """To the millidegree; lost readings do not count."""
    calm.settings[shipped.settings.GLYCOL_MASS_PERCENT] = 0
    for sensor, status in ((s.COLLECTOR_MC, s.COLLECTOR_STATUS), (s.OUTDOOR_MC, s.OUTDOOR_STATUS)):
        for value, stiff in ((2999, True), (3000, False)):
            calm.state[sensor] = value
            for trust, counts in ((s.GOOD, True), (s.HELD, True), (s.LOST, False), (s.ABSENT, False)):
                calm.state[status] = trust
                assert shipped.frost.glycol_stiff(*calm.all) == (stiff and counts), (value, trust)
        calm.state[sensor], calm.state[status] = 20000, s.GOOD


def test_half_way_between_two_nodes_is_half_way_between_their_freezing_points(calm, shipped, s):
    """55 % lies on the line to a node beyond the range.

    source: frost.py; CoolProp 8.0.0, -40.1 C
    """
    calm.settings[shipped.settings.GLYCOL_MASS_PERCENT] = 55
    for value, stiff in ((-37146, True), (-37145, False)):
        calm.state[s.COLLECTOR_MC] = value
        assert shipped.frost.glycol_stiff(*calm.all) == stiff


@each("topology", "BYPASS", "SERIES", "NONE")
@each("lowest_mc", FROST_MC - 1, FROST_MC)
@each("outdoor_mc", -300000, FROST_MC - 1, FROST_MC)
def test_when_a_dump_may_bring_frost_into_the_exchanger(calm, shipped, s, topology, lowest_mc, outdoor_mc):
    """Only with a radiator in series: by the loop, or by air, which is colder than any unread."""
    assert s.UNKNOWN_MC == -300000
    calm.change(DUMP_TOPOLOGY=topology, LOOP_LOWEST_MC=lowest_mc, OUTDOOR_MC=outdoor_mc)
    frosty = lowest_mc < FROST_MC or outdoor_mc < FROST_MC
    assert shipped.frost.dump_frosty(*calm.all) == (topology == "SERIES" and frosty)


@each(
    "lowest_mc, tank_mc, too_cold",
    # source: frost.py, 4 C for glycol of 0 C, and 3 K more for every kelvin below
    (4000, 0, False),
    (3999, 0, False),
    (0, 3999, True),
    (0, 4000, False),
    (-1000, 6999, True),
    (-1000, 7000, False),
    (-12000, 39999, True),
    (-12000, 40000, False),
    (-50000, 115000, True),
)
def test_how_warm_a_tank_may_meet_how_cold_glycol(lowest_mc, tank_mc, too_cold, calm, shipped, s):
    calm.change(DUMP_TOPOLOGY="NONE", LOOP_LOWEST_MC=lowest_mc, TANK_LOW_MC=tank_mc, TANK_LOW_STATUS="HELD", TANK_HIGH_MC=0)
    calm.change(COLLECTOR_MC=38000)
    assert shipped.frost.tank_too_cold(*calm.all) == too_cold
    calm.change(EXCHANGER_STATUS="LOST")
    assert shipped.frost.tank_too_cold(*calm.all) == (lowest_mc < 4000), "nobody sees the water move"
    calm.change(EXCHANGER_STATUS="HELD", TANK_LOW_STATUS="LOST", TANK_LOW_MC="UNKNOWN_MC", TANK_HIGH_MC=115000)
    assert shipped.frost.tank_too_cold(*calm.all) == (lowest_mc < 4000), "an unknown bottom is colder than any"
    calm.change(TANK_LOW_STATUS="GOOD", TANK_LOW_MC=tank_mc, DUMP_TOPOLOGY="BYPASS")
    assert not shipped.frost.tank_too_cold(*calm.all), "a way round makes the loop warm"


@each(
    "facts, too_cold",
    # 10 C is needed
    ({"TANK_LOW_MC": 9999, "TANK_HIGH_MC": 10000}, True),
    ({"TANK_LOW_MC": 9999, "TANK_HIGH_MC": 10001}, False),
    ({"TANK_LOW_MC": 9999, "TANK_HIGH_MC": 40000, "TANK_HIGH_STATUS": "LOST"}, True),
    ({"TANK_LOW_MC": 10000, "TANK_HIGH_MC": 5000}, False),
    # 2 K less while it charges
    ({"TANK_LOW_MC": 7999, "TANK_HIGH_MC": 0, "DUTY": "CHARGING"}, True),
    ({"TANK_LOW_MC": 8000, "TANK_HIGH_MC": 0, "DUTY": "CHARGING"}, False),
)
def test_the_tank_pump_may_mix_a_warm_top_into_the_bottom(facts, too_cold, calm, shipped):
    """So the mean of both sensors counts, if it is the warmer one."""
    calm.change(DUMP_TOPOLOGY="NONE", LOOP_LOWEST_MC=-2000, COLLECTOR_MC=38000, **facts)
    assert shipped.frost.tank_too_cold(*calm.all) == too_cold


@each(
    "facts, too_weak",
    # 30 C at the station, and start_difference above it
    ({"COLLECTOR_MC": 37999}, True),
    ({"COLLECTOR_MC": 38000}, False),
    ({"COLLECTOR_MC": 37999, "DUTY": "CHARGING"}, False),
    ({"COLLECTOR_MC": 37999, "LOOP_LOWEST_MC": 2000}, False),
)
def test_a_sun_too_weak_to_warm_a_frosty_loop_is_refused(facts, too_weak, calm, shipped):
    calm.change(**{"DUMP_TOPOLOGY": "NONE", "LOOP_LOWEST_MC": 1999, "TANK_LOW_MC": 40000, **facts})
    assert shipped.frost.tank_too_cold(*calm.all) == too_weak


@pytest.fixture
def pulsing(calm, s):
    """Water has moved for a minute and is warm enough for glycol of -2 C; a pulse is due."""
    calm.change(DUTY="CHARGING", CONDITIONS="COLD_LOOP", DUMP_TOPOLOGY="NONE", LOOP_LOWEST_MC=-2000, TANK_PUMP_ON=1)
    calm.change(EXCHANGER_MC=11500, PLATES_FROM_MC=10000, COLLECTOR_PUMP_MS=60000)
    calm.state[s.OUTPUT_MS + s.TANK_PUMP] = 60000
    return calm


@each(
    "facts, may",
    ({}, True),
    ({"COLLECTOR_PUMP_MS": 59999}, False),
    ({"TANK_PUMP_ON": 0}, False),
    # The plates have not followed the tank pump.
    ({"PLATES_FROM_MC": 10001}, False),
    ({"PLATES_FROM_MC": 13000}, True),
    ({"PLATES_FROM_MC": 12999}, False),
    # They are too cold for this glycol.
    ({"EXCHANGER_MC": 10000, "PLATES_FROM_MC": 18000}, True),
    ({"EXCHANGER_MC": 9999, "PLATES_FROM_MC": 18000}, False),
    # A step longer than a pulse makes no pulse.
    ({"IN_DT_MS": 5001}, False),
    # A pulse ends after five seconds, or ten between plates that are warm enough for two.
    ({"COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 4999}, True),
    ({"COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 5000}, False),
    ({"COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 5000, "EXCHANGER_MC": 19999}, False),
    ({"COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 9999, "EXCHANGER_MC": 20000}, True),
    ({"COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 10000, "EXCHANGER_MC": 60000}, False),
    # Glycol of 2 C needs no end.
    ({"COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 10000, "LOOP_LOWEST_MC": 1999}, False),
    ({"COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 5000, "LOOP_LOWEST_MC": 2000}, True),
    # None of this holds for a warm loop, or one with a way round.
    ({"CONDITIONS": "", "COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 5000}, True),
    ({"CONDITIONS": "COLD_LOOP ROUND", "COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 5000}, True),
)
def test_when_frosty_glycol_moves_for_a_pulse(facts, may, pulsing, shipped):
    pulsing.change(**facts)
    assert shipped.frost.water_waited(*pulsing.all) == may


@each(
    "facts, lasts", ({}, True), ({"COLLECTOR_PUMP_ON": 0}, False), ({"PLATES_FROM_MC": 10001}, False), ({"CONDITIONS": ""}, False)
)
def test_the_proof_that_water_moves_lasts_until_the_plates_rest(facts, lasts, pulsing, shipped, s):
    """Later water may be as warm as the plates were before it moved."""
    pulsing.change(**{"COLLECTOR_PUMP_ON": 1, **facts})
    shipped.frost.watch_plates(*pulsing.all)
    pulsing.change(EXCHANGER_MC=10000)
    assert shipped.frost.water_proven(*pulsing.all) == lasts
    pulsing.change(COLLECTOR_PUMP_ON=0, TANK_PUMP_ON=0)
    pulsing.state[s.OUTPUT_MS + s.TANK_PUMP] = 1800000
    shipped.frost.watch_plates(*pulsing.all)
    assert not shipped.frost.water_proven(*pulsing.all)


@each(
    "facts, from_mc",
    ({}, 20000),
    ({"PLATES_FROM_MC": 15000}, 15000),
    ({"PLATES_FROM_MC": 15000, "TANK_PUMP_MS": 1799999}, 15000),
    ({"PLATES_FROM_MC": 15000, "TANK_PUMP_MS": 1800000}, 20000),
    ({"PLATES_FROM_MC": 15000, "TANK_PUMP_MS": 1800000, "TANK_PUMP_ON": 1}, 15000),
    ({"EXCHANGER_STATUS": "HELD"}, 20000),
    ({"EXCHANGER_STATUS": "LOST"}, 0),
)
@each("topology", "BYPASS", "SERIES", "NONE")
def test_resting_plates_are_remembered(topology, facts, from_mc, calm, shipped, s):
    """From half an hour after the tank pump on; after a reset at once."""
    facts = {"DUMP_TOPOLOGY": topology, **facts}
    calm.state[s.OUTPUT_MS + s.TANK_PUMP] = facts.pop("TANK_PUMP_MS", 0)
    calm.change(**facts)
    assert calm.after(shipped.frost.latch_frost, "PLATES_FROM_MC") == from_mc


@each(
    "duty, duty_ms, through",
    ("FROST_GUARD", 600000, True),
    ("FROST_GUARD", 599999, False),
    ("CHARGING", 0, True),
    ("DUMPING", 0, True),
    *(
        (duty, 600000, False)
        for duty in ("IDLE", "STAGNATION_HOLD", "NIGHT_COOLING", "HAND", "MAINTENANCE", "EXERCISE", "FAULT_STOP")
    ),
)
@each("exchanger_mc, tank_mc", (4000, 5000), (4000, 4500), (3999, 4500), (4999, 6000))
def test_the_guard_has_its_ten_minutes_before_the_sun(exchanger_mc, tank_mc, duty, duty_ms, through, calm, shipped):
    """Plates of 4 C or more, within a kelvin of the tank; a frost that began elsewhere is new."""
    calm.change(DUTY=duty, DUTY_MS=duty_ms, EXCHANGER_MC=exchanger_mc, TANK_REFERENCE_MC=tank_mc)
    warm = exchanger_mc >= 4000 and exchanger_mc >= tank_mc - 1000
    assert shipped.frost.warmed_through(*calm.all, 4000) == (through and warm)


@each(
    "duty, have, first",
    ("CHARGING", "COLD_LOOP", 1),
    ("CHARGING", "COLD_LOOP FULL RADIATOR", 1),
    ("CHARGING", "COLD_LOOP ROUND", 0),
    ("CHARGING", "", 0),
    ("CHARGING", "ROUND", 0),
    ("HAND", "COLD_LOOP", 0),
)
@each("tank_on, tank_ms, waited", (1, 59999, False), (1, 60000, True), (0, 600000, False))
def test_water_moves_a_minute_before_frosty_glycol(duty, have, first, tank_on, tank_ms, waited, calm, shipped, s):
    """source: the design page, without a bypass the tank pump first; the time is frost.py's"""
    calm.change(DUTY=duty, CONDITIONS=have, TANK_PUMP_ON=tank_on, COLLECTOR_PUMP_MS=60000, PLATES_FROM_MC=10000)
    calm.state[s.OUTPUT_MS + s.TANK_PUMP] = tank_ms
    assert shipped.frost.water_first(*calm.all) == first
    assert shipped.frost.water_waited(*calm.all) == (waited or not first)


@each(
    "facts, becomes",
    ({"EXCHANGER_MC": 3999}, SETS),
    ({"EXCHANGER_MC": 3999, "EXCHANGER_STATUS": "HELD"}, SETS),
    ({"EXCHANGER_MC": 4000}, STAYS),
    ({"EXCHANGER_MC": 5999}, STAYS),
    ({"EXCHANGER_MC": 5999, "EXCHANGER_STATUS": "HELD"}, STAYS),
    ({"EXCHANGER_MC": 6000}, CLEARS),
    # A lost sensor neither sets nor holds.
    ({"EXCHANGER_MC": 3999, "EXCHANGER_STATUS": "LOST"}, CLEARS),
    ({"EXCHANGER_MC": 3999, "EXCHANGER_STATUS": "ABSENT"}, CLEARS),
    # The tank pump runs ten minutes even then.
    ({"EXCHANGER_MC": 6000, "DUTY": "FROST_GUARD", "DUTY_MS": 599999}, STAYS),
    ({"EXCHANGER_MC": 3999, "EXCHANGER_STATUS": "LOST", "DUTY": "FROST_GUARD", "DUTY_MS": 599999}, STAYS),
    ({"EXCHANGER_MC": 6000, "DUTY": "FROST_GUARD", "DUTY_MS": 600000}, CLEARS),
    ({"EXCHANGER_MC": 5999, "DUTY": "FROST_GUARD", "DUTY_MS": 600000}, STAYS),
    ({"EXCHANGER_MC": 6000, "DUTY": "CHARGING", "DUTY_MS": 0}, CLEARS),
)
def test_the_exchanger_is_near_frost(facts, becomes, calm, shipped):
    """Below exchanger_frost of 4 C; over 2 K above it after ten minutes of the pump (frost.py)."""
    assert latched(shipped, calm, shipped.frost.latch_frost, "FROST", **facts) == becomes


@each("duty", *DUTIES)
@each("plates_mc, becomes", (3999, SETS), (4000, STAYS), (5999, STAYS))
def test_plates_near_frost_are_near_it_in_every_duty(duty, plates_mc, becomes, calm, shipped):
    calm.change(DUTY=duty.upper(), EXCHANGER_MC=plates_mc)
    assert latched(shipped, calm, shipped.frost.latch_frost, "FROST") == becomes


@each(
    "facts, stands",
    ({}, True),
    ({"COLLECTOR_PUMP_ON": 1}, False),
    ({"TANK_PUMP_ON": 0}, False),
    ({"CONDITIONS": "COLD_LOOP ROUND"}, False),
    ({"CONDITIONS": ""}, False),
    ({"DUTY": "HAND"}, False),
    ({"EXCHANGER_STATUS": "LOST"}, False),
    # It moved the plates, or they were as warm as the tank before.
    ({"EXCHANGER_MC": 18499}, True),
    ({"EXCHANGER_MC": 18500}, False),
    ({"EXCHANGER_MC": 15500}, False),
    ({"TANK_REFERENCE_MC": 19999}, False),
    ({"TANK_REFERENCE_MC": 14000}, True),
    ({"TANK_REFERENCE_MC": 14001}, False),
    # A pulse since then moved them as well.
    ({"COLLECTOR_PUMP_MS": 299999}, False),
    ({"COLLECTOR_PUMP_MS": 300001}, True),
)
@each("before_ms", 0, 1194999, 1195000)
def test_a_tank_pump_that_moves_no_water(before_ms, facts, stands, calm, shipped, s):
    """source: docs/sensors.md, after twenty minutes"""
    calm.change(DUTY="CHARGING", CONDITIONS="COLD_LOOP", TANK_PUMP_ON=1, COLLECTOR_PUMP_MS=300000)
    calm.change(PLATES_FROM_MC=17000, EXCHANGER_MC=17000, TANK_REFERENCE_MC=20000, STANDS_MS=before_ms)
    facts = dict(facts)
    calm.state[s.OUTPUT_MS + s.TANK_PUMP] = facts.pop("TANK_PUMP_MS", 300000)
    calm.change(**facts)
    assert calm.after(shipped.frost.latch_frost, "STANDS_MS") == (before_ms + 5000 if stands else 0)
    shipped.alarms.speak(*calm.all)
    alarmed = calm.state[s.ALARMS] & shipped.alarms.ALARM_FOULED != 0
    assert alarmed == (stands and before_ms == 1195000)
