"""Each alarm: what sets it, and the contact that follows."""

from ..stations import each, values


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
