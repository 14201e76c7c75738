"""Frost: every threshold that keeps frosty glycol from drinking water, from both sides."""

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
@each("outdoor_mc", FROST_MC - 1, FROST_MC)
@each("outdoor", "GOOD", "HELD", "LOST", "ABSENT")
def test_when_a_dump_may_bring_frost_into_the_exchanger(calm, shipped, topology, lowest_mc, outdoor_mc, outdoor):
    """Only with a radiator in series: by the loop, by the air, or by unknown air."""
    calm.change(DUMP_TOPOLOGY=topology, LOOP_LOWEST_MC=lowest_mc, OUTDOOR_MC=outdoor_mc, OUTDOOR_STATUS=outdoor)
    frosty = lowest_mc < FROST_MC or outdoor_mc < FROST_MC or outdoor in ("LOST", "ABSENT")
    assert shipped.frost.dump_frosty(*calm.all) == (topology == "SERIES" and frosty)


@each(
    "lowest_mc, tank_mc, too_cold",
    # source: frost.py, 10 C plus 5 K for every kelvin below exchanger_frost (4 C)
    (4000, 0, False),
    (3999, 10004, True),
    (3999, 10005, False),
    (-1000, 34999, True),
    (-1000, 35000, False),
    (-8000, 69999, True),
    (-8000, 70000, False),
    (-50000, 115000, True),
)
def test_how_warm_a_tank_may_meet_how_cold_glycol(lowest_mc, tank_mc, too_cold, arrays, shipped, s):
    arrays.change(DUMP_TOPOLOGY="NONE", LOOP_LOWEST_MC=lowest_mc, TANK_LOW_MC=tank_mc, TANK_LOW_STATUS="HELD")
    assert shipped.frost.tank_too_cold(*arrays.all) == too_cold
    arrays.state[s.TANK_LOW_STATUS] = s.LOST
    assert shipped.frost.tank_too_cold(*arrays.all) == (lowest_mc < 4000), "an unknown bottom is too cold for any frosty loop"
    arrays.change(TANK_LOW_STATUS="GOOD", DUMP_TOPOLOGY="BYPASS")
    assert not shipped.frost.tank_too_cold(*arrays.all), "a way round makes the loop warm"


@each("glycol_c", -8, -5, 0, 3)
def test_that_table_keeps_the_coldest_plate_above_freezing(glycol_c, arrays, shipped):
    """For the coldest tank that may meet this glycol, in the exchanger that frost.py assumes."""
    arrays.change(DUMP_TOPOLOGY="NONE", LOOP_LOWEST_MC=glycol_c * 1000, TANK_LOW_STATUS="GOOD")
    tank_c = next(c for c in range(120) if not tank_too_cold_at(shipped, arrays, c))
    # source: counterflow, effectiveness 0.72, equal capacity flows; plate halfway between its sides
    leaving_c = tank_c - 0.72 * (tank_c - glycol_c)
    assert (glycol_c + leaving_c) / 2 > 2.0


def tank_too_cold_at(core, arrays, tank_c):
    arrays.state[core.state.TANK_LOW_MC] = tank_c * 1000
    return core.frost.tank_too_cold(*arrays.all)


@each(
    "duty, have, first",
    ("CHARGING", "COLD_LOOP", 1),
    ("CHARGING", "COLD_LOOP FULL RADIATOR", 1),
    ("CHARGING", "COLD_LOOP ROUND", 0),
    ("CHARGING", "", 0),
    ("CHARGING", "ROUND", 0),
    ("HAND", "COLD_LOOP", 0),
)
@each("tank_on, tank_ms, waited", (1, 29999, False), (1, 30000, True), (0, 600000, False))
def test_water_moves_half_a_minute_before_frosty_glycol(duty, have, first, tank_on, tank_ms, waited, calm, shipped, s):
    """source: the design page, without a bypass the tank pump first; the time is frost.py's"""
    calm.change(DUTY=duty, CONDITIONS=have, TANK_PUMP_ON=tank_on)
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
