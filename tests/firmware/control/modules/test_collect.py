"""Conditions: those of a calm station, and what each fact adds at its threshold."""

import pytest

from .. import stations
from ..stations import each

# An idle station with the default plant's way round the exchanger.
CALM = {"RADIATOR", "ROUND"}
# A change, the conditions that it adds, those that it removes.
# source: docs/states.md for the words, the design page for the figures
SERIES_FROST = {"DUMP_TOPOLOGY": "SERIES", "OUTDOOR_MC": 3999, "TANK_FULL": 1, "CHARGE_WANTED": 1}
SINGLE = [
    ({}, "", ""),
    ({"IN_RESETS": 2}, "", ""),
    ({"IN_RESETS": 3}, "RESETS", ""),
    ({"IN_RESETS": 4}, "RESETS", ""),
    ({"GUARD_HOLD_MS": 1}, "GUARD_HELD", ""),
    ({"IN_UPKEEP": "UPKEEP_MAINTENANCE"}, "MAINTAINED", ""),
    ({"IN_UPKEEP": "UPKEEP_PURGE"}, "PURGE_ON", ""),
    *[({"IN_HAND_MASK": 1 << output}, "HAND_ON", "") for output in range(4)],
    ({"FROST": 1}, "FROSTY", ""),
    ({"COLLECTOR_STATUS": "HELD"}, "", ""),
    ({"COLLECTOR_STATUS": "LOST"}, "COLLECTOR_LOST", ""),
    ({"COLLECTOR_STATUS": "ABSENT"}, "COLLECTOR_LOST", ""),
    ({"VALVE_HOME_MS": 1}, "VALVE_UNKNOWN", ""),
    ({"STAGNATION": 1}, "HOT_STEAM", ""),
    # 40 per cent freezes at -20.56 C; below 3 K above that no pump may push it.
    ({"OUTDOOR_MC": -17560}, "", ""),
    ({"OUTDOOR_MC": -17561}, "STIFF", ""),
    # An unknown temperature is below absolute zero, and so below any collector.
    ({"TANK_REFERENCE_MC": "UNKNOWN_MC"}, "TANK_LOST TAKEN", ""),
    ({"COLLECTOR_MC": 60000, "TANK_REFERENCE_MC": 52001}, "", ""),
    ({"COLLECTOR_MC": 60000, "TANK_REFERENCE_MC": 52000}, "TAKEN", ""),
    ({"COLLECTOR_MC": 20000, "TANK_REFERENCE_MC": 5000}, "TAKEN", ""),
    ({"COLLECTOR_MC": 19999, "TANK_REFERENCE_MC": 5000}, "COOL", ""),
    ({"NO_FLOW": "GLYCOL_NOT_ARRIVING"}, "NOT_ARRIVING PAUSED", ""),
    ({"NO_FLOW": "FLOW_MISSING"}, "FLOWLESS PAUSED", ""),
    ({"NO_FLOW": "HEAT_ASTRAY"}, "ASTRAY PAUSED", ""),
    ({"NO_FLOW": "SENSORS_SWAPPED"}, "SWAPPED PAUSED", ""),
    ({"NO_FLOW": "HEAT_TOO_WEAK"}, "PAUSED", ""),
    ({"DUMP_BARRED": "RADIATOR_DEAD"}, "DEAD", "RADIATOR ROUND"),
    ({"DUMP_BARRED": "DUMP_HEATS_TANK"}, "HEATING", "RADIATOR ROUND"),
    ({"DUMP_TOPOLOGY": "SERIES"}, "", "ROUND"),
    ({"DUMP_TOPOLOGY": "SERIES", "DUMP_BARRED": "RADIATOR_DEAD"}, "DEAD", "RADIATOR ROUND"),
    ({"DUMP_TOPOLOGY": "NONE"}, "", "RADIATOR ROUND"),
    ({"LOOP_LOWEST_MC": 4000}, "", ""),
    ({"LOOP_LOWEST_MC": 3999}, "COLD_LOOP", ""),
    ({"DUMP_TOPOLOGY": "SERIES", "OUTDOOR_MC": 3999}, "COLD_DUMP", "RADIATOR ROUND"),
    # While frost bars the dump, a full tank 3 K below its limit takes heat up to the limit.
    ({**SERIES_FROST, "TANK_HOTTEST_MC": 72000}, "COLD_DUMP FULL WANTED", "RADIATOR ROUND"),
    ({**SERIES_FROST, "TANK_HOTTEST_MC": 71999}, "COLD_DUMP WANTED", "RADIATOR ROUND"),
    ({**SERIES_FROST, "TANK_HOTTEST_MC": 74499, "DUTY": "CHARGING"}, "COLD_DUMP WANTED", "RADIATOR ROUND"),
    ({**SERIES_FROST, "TANK_HOTTEST_MC": 74500, "DUTY": "CHARGING"}, "COLD_DUMP FULL WANTED", "RADIATOR ROUND"),
    ({**SERIES_FROST, "DUMP_TOPOLOGY": "BYPASS", "TANK_HOTTEST_MC": 40000}, "FULL WANTED", ""),
    ({**SERIES_FROST, "CHARGE_WANTED": 0, "TANK_HOTTEST_MC": 40000}, "COLD_DUMP FULL", "RADIATOR ROUND"),
    ({"DUMP_TOPOLOGY": "NONE", "LOOP_LOWEST_MC": -6000, "TANK_LOW_MC": 21999}, "COLD_LOOP TANK_COOL", "RADIATOR ROUND"),
    (
        {"DUMP_TOPOLOGY": "NONE", "LOOP_LOWEST_MC": -6000, "TANK_LOW_MC": 22000, "COLLECTOR_MC": 38000},
        "COLD_LOOP TAKEN",
        "RADIATOR ROUND",
    ),
    ({"TANK_FULL": 1}, "FULL", ""),
    ({"CHARGE_HOT": 1}, "HOT_GLYCOL", ""),
    ({"CHARGE_WANTED": 1}, "WANTED", ""),
    ({"DUMP_WANTED": 1}, "DUMP", ""),
    ({"COOLING_WANTED": 1}, "COOLING", ""),
    ({"COLLECTOR_MC": 20000}, "", ""),
    ({"COLLECTOR_MC": 19999}, "COOL", ""),
    ({"EXERCISING": "COLLECTOR_PUMP"}, "TURN_DUE", ""),
    ({"EXERCISING": "TANK_PUMP"}, "TURN_DUE", ""),
    ({"EXERCISING": "DUMP_VALVE_POWER"}, "TURN_DUE", ""),
]


def found(core, arrays):
    """The conditions of a station on which all of them were set before."""
    for condition in range(len(core.conditions.CONDITION_NAMES)):
        core.rules.mark(arrays.state, condition)
    core.collect.collect(*arrays.all)
    return stations.conditions(core, arrays)


@pytest.mark.parametrize(("facts", "more", "less"), SINGLE, ids=lambda value: str(value) or "-")
def test_each_fact_is_one_condition(facts, more, less, calm, shipped):
    calm.change(**facts)
    assert found(shipped, calm) == (CALM | set(more.split())) - set(less.split())


@each("mover", *range(3))
@each("unmoved_s, due", (259199, False), (259200, True))
def test_each_mover_s_turn_is_due_after_three_days(mover, unmoved_s, due, calm, shipped):
    """source: exercise_after of the design page, 72 h"""
    calm.state[shipped.state.UNMOVED_S + mover] = unmoved_s
    assert shipped.collect.turn_due(*calm.all) == due
    assert ("TURN_DUE" in found(shipped, calm)) == due


def test_the_settings_of_the_thresholds_are_followed(calm, shipped):
    calm.change(COLLECTOR_MINIMUM=25000, EXCHANGER_FROST=9000, LOOP_LOWEST_MC=8999, EXERCISE_AFTER=3600, UNMOVED_S=3600)
    assert found(shipped, calm) == CALM | {"COOL", "COLD_LOOP", "TURN_DUE"}


def test_facts_add_up(calm, shipped):
    """One of every group at once: no group removes another's conditions."""
    calm.change(
        IN_RESETS=3, IN_HAND_MASK=1, FROST=1, STAGNATION=1, NO_FLOW="HEAT_TOO_WEAK", LOOP_LOWEST_MC=0, TANK_FULL=1, DUMP_WANTED=1
    )
    added = {"RESETS", "HAND_ON", "FROSTY", "HOT_STEAM", "PAUSED", "COLD_LOOP", "FULL", "DUMP"}
    assert found(shipped, calm) == CALM | added
