"""Each alarm: what sets it, and the contact that follows; what is watched for an alarm alone."""

import pytest

from ..stations import each, values


@pytest.fixture
def resting(calm):
    """The pump has been off for two hours; arriving glycol is as warm as the collector."""
    return calm.change(STANDING_MS=7200000, FLOW_SENSOR="NO_FLOW_SENSOR")


@each(
    "facts, alarm",
    ({}, ""),
    # Two minutes: a chip that recovers in time is no alarm.
    ({"LOST_MS": 119999}, ""),
    ({"LOST_MS": 120000}, "SENSOR"),
    # source: docs/sensors.md, tank_low hotter than tank_high by 5 K
    ({"TANK_LOW_MC": 25000}, "TANK_CROSSED"),
    ({"TANK_LOW_MC": 24999}, ""),
    ({"BEYOND_MS": 119999}, ""),
    ({"BEYOND_MS": 120000}, "BEYOND"),
    *[({"NO_FLOW": reason}, "NO_FLOW") for reason in ("GLYCOL_NOT_ARRIVING", "FLOW_MISSING", "HEAT_ASTRAY", "SENSORS_SWAPPED")],
    # Collector and loop_supply 8 K apart while charging, either way. source: docs/sensors.md
    ({"APART_MK": 8000}, "APART"),
    ({"APART_MK": 7999}, ""),
    ({"APART_MK": -8000}, "APART"),
    ({"APART_MK": -7999}, ""),
    ({"APART_MK": 8000, "NO_FLOW": "HEAT_ASTRAY"}, "NO_FLOW"),
    ({"APART_MK": 8000, "NO_FLOW": "HEAT_TOO_WEAK"}, "APART"),
    # The air 13 K above a dark collector, or far below it for 22 hours.
    ({"AIR_OVER_MK": 10000}, "APART"),
    ({"AIR_OVER_MK": 9999}, ""),
    ({"AIR_UNDER_S": 79200}, "APART"),
    ({"AIR_UNDER_S": 79199}, ""),
    ({"CONDITIONS": "STIFF WANTED"}, "STIFF"),
    ({"CONDITIONS": "STIFF"}, ""),
    ({"CONDITIONS": "WANTED"}, ""),
    # A cloud is no fault.
    ({"NO_FLOW": "HEAT_TOO_WEAK"}, ""),
    ({"DUMP_BARRED": "RADIATOR_DEAD"}, "DUMP"),
    ({"DUMP_BARRED": "DUMP_HEATS_TANK"}, "DUMP"),
    ({"UNBIDDEN_FLOW": 1}, "UNBIDDEN_FLOW"),
    ({"FOUL_S": 7199}, ""),
    ({"FOUL_S": 7200}, "FOULED"),
    ({"STANDS_MS": 1199999}, ""),
    ({"STANDS_MS": 1200000}, "FOULED"),
    ({"SCALD_MS": 59999}, ""),
    ({"SCALD_MS": 60000}, "SCALD"),
    ({"FROST": 1}, "FROST"),
    ({"STAGNATION": 1}, "STEAM"),
    ({"STAGNATION": 1, "COLLECTOR_STATUS": "HELD"}, "STEAM"),
    ({"STAGNATION": 1, "COLLECTOR_STATUS": "LOST"}, ""),
    ({"GUARD_HOLD_MS": 1}, "GUARD"),
    ({"IN_RESETS": 2}, ""),
    ({"IN_RESETS": 3}, "RESETS"),
    ({"IN_SETTINGS_LOST": 1}, "SETTINGS"),
    ({"IN_MEMORY_BAD": 1}, "MEMORY"),
)
@each("on", 0, 1)
def test_each_alarm_and_the_contact(facts, alarm, on, calm, shipped):
    """The contact follows the alarms; its timer restarts only when it moves."""
    calm.change(ALARMS=(1 << shipped.alarms.ALARM_BITS) - 1, **facts)
    moved = shipped.state.OUTPUT_MS + shipped.state.ALARM
    calm.state[moved], calm.state[shipped.state.ALARM_ON] = 7777, on
    shipped.alarms.speak(*calm.all)
    bit = getattr(shipped.alarms, f"ALARM_{alarm}") if alarm else 0
    assert values(shipped, calm, "ALARMS", "ALARM_ON") == (bit, 1 if alarm else 0)
    assert calm.state[moved] == (7777 if on == (1 if alarm else 0) else 0)


def test_alarms_add_up(calm, shipped):
    calm.change(LOST_MS=120000, SCALD_MS=60000, FROST=1, IN_SETTINGS_LOST=1, IN_MEMORY_BAD=1)
    shipped.alarms.speak(*calm.all)
    names = ("SENSOR", "SCALD", "FROST", "SETTINGS", "MEMORY")
    assert calm.state[shipped.state.ALARMS] == sum(getattr(shipped.alarms, f"ALARM_{name}") for name in names)


@each(
    "facts, follows",
    ({}, True),
    ({"STANDING_MS": 7199999}, False),
    ({"LOOP_SUPPLY_MC": 23000}, True),
    ({"LOOP_SUPPLY_MC": 23001}, False),
    ({"LOOP_SUPPLY_MC": 17000}, True),
    ({"LOOP_SUPPLY_MC": 16999}, False),
    ({"LOOP_SUPPLY_STATUS": "HELD", "COLLECTOR_STATUS": "HELD"}, True),
    ({"LOOP_SUPPLY_STATUS": "LOST"}, False),
    ({"LOOP_SUPPLY_STATUS": "ABSENT"}, False),
    ({"COLLECTOR_STATUS": "LOST"}, False),
)
def test_glycol_that_follows_the_collector_at_rest(facts, follows, resting, shipped):
    """Two hours after the last run (docs/sensors.md), within 3 K."""
    resting.change(TRACK_MS=1000, **facts)
    assert shipped.alarms.tracks(*resting.all) == follows
    assert resting.after(shipped.alarms.watch_unbidden, "TRACK_MS", "UNBIDDEN_FLOW") == (6000 if follows else 0, 0)


@each(
    "before_ms, low_mc, high_mc, moves",
    (3595000, 8000, 20000, 1),
    (3595000, 20000, 32000, 1),
    (3595000, 8001, 20000, 0),
    (3595000, 20000, 31999, 0),
    (3594999, 8000, 20000, 0),
)
def test_an_hour_that_moves_by_twelve_kelvin_is_flow_that_nobody_asked_for(before_ms, low_mc, high_mc, moves, resting, shipped):
    """source: docs/sensors.md"""
    resting.change(TRACK_MS=before_ms, TRACK_LOW_MC=low_mc, TRACK_HIGH_MC=high_mc)
    assert resting.after(shipped.alarms.watch_unbidden, "UNBIDDEN_FLOW", "TRACK_MS") == (moves, before_ms + 5000)


def test_the_range_of_the_collector_begins_with_the_hour_and_grows(resting, shipped):
    resting.change(TRACK_MS=0, TRACK_LOW_MC=-9, TRACK_HIGH_MC=99999)
    assert resting.after(shipped.alarms.watch_unbidden, "TRACK_LOW_MC", "TRACK_HIGH_MC", "TRACK_MS") == (20000, 20000, 5000)
    for collector_mc, low_mc, high_mc in ((19000, 19000, 20000), (21000, 19000, 21000), (20000, 19000, 21000)):
        resting.change(COLLECTOR_MC=collector_mc)
        assert resting.after(shipped.alarms.watch_unbidden, "TRACK_LOW_MC", "TRACK_HIGH_MC") == (low_mc, high_mc)


@each(
    "facts, says",
    ({"LOOP_SUPPLY_MC": 35000}, 0),
    ({"LOOP_SUPPLY_MC": 34999}, 1),
    ({"LOOP_SUPPLY_MC": 5000}, 0),
    ({"LOOP_SUPPLY_MC": 5001}, 1),
    ({"LOOP_SUPPLY_MC": 5000, "LOOP_SUPPLY_STATUS": "HELD", "COLLECTOR_STATUS": "HELD"}, 0),
    ({"LOOP_SUPPLY_MC": 5000, "LOOP_SUPPLY_STATUS": "LOST"}, 1),
    ({"LOOP_SUPPLY_MC": 5000, "COLLECTOR_STATUS": "LOST"}, 1),
    ({"LOOP_SUPPLY_MC": 5000, "STANDING_MS": 7199999}, 1),
    ({"LOOP_SUPPLY_MC": 5000, "FLOW_SENSOR": "FLOW_SWITCH"}, 1),
    ({}, 1),
)
def test_unbidden_flow_is_over_when_the_two_are_fifteen_kelvin_apart(facts, says, resting, shipped):
    """At rest only, and only without a flow input."""
    resting.change(UNBIDDEN_FLOW=1, **facts)
    assert resting.after(shipped.alarms.watch_unbidden, "UNBIDDEN_FLOW") == says


@each(
    "tap_mc, trust, scalds",
    (51999, "GOOD", False),
    (52000, "GOOD", True),
    (52000, "HELD", True),
    (52000, "LOST", False),
    (52000, "ABSENT", False),
)
def test_a_tap_at_fifty_two_degrees_scalds(tap_mc, trust, scalds, calm, shipped):
    """source: docs/sensors.md"""
    calm.change(TAP_MC=tap_mc, TAP_STATUS=trust, SCALD_MS=1000)
    assert calm.after(shipped.alarms.watch_tap, "SCALD_MS") == (6000 if scalds else 0)


@each(
    "facts, seconds",
    ({}, 79205),
    ({"COLLECTOR_MC": 13999}, 0),
    ({"OUTDOOR_STATUS": "HELD"}, 79205),
    ({"OUTDOOR_STATUS": "LOST"}, 0),
    ({"COLLECTOR_MC": "UNKNOWN_MC"}, 0),
    # Night cooling keeps it warm.
    ({"DUTY": "NIGHT_COOLING"}, 0),
)
def test_a_collector_that_no_night_cools(facts, seconds, calm, shipped):
    calm.change(**{"OUTDOOR_MC": 10000, "COLLECTOR_MC": 14000, "METER_SECONDS": 10, "AIR_UNDER_S": 79195, **facts})
    assert calm.after(shipped.alarms.notice, "AIR_UNDER_S") == min(seconds, 79200)


@each(
    "plates_mc, supply_mc, rest_s, facts, moves",
    (35000, 20000, 28800, {}, True),
    (34999, 20000, 43199, {}, False),
    # In twelve hours plates are as cold as the glycol beside them.
    (34999, 20000, 43200, {}, True),
    (26000, 20000, 43200, {}, True),
    (25999, 20000, 43200, {}, False),
    (26000, 20000, 43200, {"LOOP_SUPPLY_STATUS": "LOST", "LOOP_RETURN_MC": 20001}, False),
    (26000, 26000, 43200, {"LOOP_SUPPLY_STATUS": "LOST", "LOOP_RETURN_MC": 20000}, True),
    (26000, 20000, 43200, {"LOOP_SUPPLY_STATUS": "LOST", "LOOP_RETURN_MC": "UNKNOWN_MC"}, False),
    (20000, 26000, 43200, {}, True),
    (20000, 26000, 43199, {}, False),
    (20000, 25999, 43200, {}, False),
    (35000, 20000, 43200, {"EXCHANGER_STATUS": "LOST"}, False),
    (35000, 33000, 43200, {}, True),
    (26999, 20000, 43200, {"TANK_COLDEST_MC": 30000}, False),
    (27000, 20000, 43200, {"TANK_COLDEST_MC": 30000}, True),
)
def test_plates_that_stay_warm_at_rest(plates_mc, supply_mc, rest_s, facts, moves, calm, shipped, s):
    calm.change(EXCHANGER_MC=plates_mc, LOOP_SUPPLY_MC=supply_mc, **{"TANK_COLDEST_MC": 20000, **facts})
    for mover in (s.COLLECTOR_PUMP, s.TANK_PUMP):
        calm.state[s.UNMOVED_S + mover] = rest_s
    assert shipped.alarms.water_moves(*calm.all) == moves
    calm.state[s.UNMOVED_S + s.TANK_PUMP] = 28799
    assert not shipped.alarms.water_moves(*calm.all)


@each(
    "facts, lost",
    ({}, False),
    *[({f"{name}_STATUS": "LOST"}, True) for name in ("COLLECTOR", "TANK_LOW", "TANK_HIGH", "LOOP_SUPPLY", "LOOP_RETURN")],
    *[({f"{name}_STATUS": "LOST"}, True) for name in ("OUTDOOR", "TAP", "EXCHANGER")],
    *[({f"{name}_STATUS": trust}, False) for name in ("COLLECTOR", "TAP") for trust in ("HELD", "ABSENT")],
    ({"FLOW_SENSOR": "FLOW_METER", "IN_FLOW_CAUSE": "CAUSE_SILENT"}, True),
    ({"FLOW_SENSOR": "FLOW_SWITCH", "IN_FLOW_CAUSE": "CAUSE_OPEN"}, True),
    ({"FLOW_SENSOR": "FLOW_METER"}, False),
    ({"FLOW_SENSOR": "NO_FLOW_SENSOR", "IN_FLOW_CAUSE": "CAUSE_SILENT"}, False),
)
def test_what_is_fitted_and_lost(facts, lost, calm, shipped):
    calm.change(LOST_MS=1000, **facts)
    assert shipped.readings.sensor_lost(*calm.all) == lost
    assert calm.after(shipped.alarms.notice, "LOST_MS") == (6000 if lost else 0)


@each("facts, name", ({"STANDING_MS": 7200000}, "TRACK_MS"), ({"TAP_MC": 60000}, "SCALD_MS"))
def test_every_step_notices_everything(facts, name, calm, shipped):
    calm.change(**facts)
    assert calm.after(shipped.alarms.notice, name) == 5000
