"""Counterexamples of the whole walk, shrunk: each broke its truth before it was mended."""

from array import array

import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control import station
from twinloop_sim.explore import truths

# Every input of a step in mild weather, in the order of state.py.
MILD = [5000, 0, 20000, 40000, 42000, 20000, 20000, 15000, 40000, 20000, 15000, 15000, *[0] * 10, 4500, *[0] * 6]
LONG = {"IN_DT_MS": 60000}
# Heat passes tank_high, which stands still and is lost; then it moves, and is over the limit.
FROZEN = {"collector": 43000, "tank_low": 30000, "tank_high": 32000, "loop_supply": 42000, "exchanger": 39000}
FROZEN_STRAPPED = {"collector": 44650, "tank_low": 31650, "tank_high": 33650, "loop_supply": 43650, "exchanger": 40650}
# Name: settings, then how many steps with which readings. What is not named is mild.
FOUND = {
    "the guard believes a thawed tank_high two steps before the rules do": (
        {"TANK_LIMIT": 40000, "TANK_FULL_LOW": 40000, "AWAY_LIMIT": 40000},
        ((28, LONG | FROZEN), (1, LONG | {"collector": 95000, "loop_supply": 42000}), (1, LONG | {"loop_supply": 42000})),
    ),
    "the same in charging, with the sensors strapped on": (
        {"STRATIFICATION_MARGIN": 5000, "LOOP_VOLUME": 1000, "TANK_MARGIN": 20000},
        ((22, LONG | FROZEN_STRAPPED), (2, LONG | {"collector": 44650, "tank_high": 61000, "loop_supply": 43650})),
    ),
    "frosty plates beside a collector that only minimum_run keeps charging": (
        {"EXCHANGER_FROST": 10000, "DUMP_TOPOLOGY": cfg.NONE},
        ((3, {}), (2, LONG | {"collector": 73000, "exchanger": 71000}), (1, {}), (1, LONG | {"exchanger": 9999})),
    ),
    "a thawed tank_high in long steps, then in short ones": (
        {"DUMP_COLLECTOR_START": 75000, "DUMP_COLLECTOR_STOP": 70000, "LOOP_VOLUME": 1000, "TANK_MARGIN": 20000},
        (
            (20, LONG | FROZEN_STRAPPED),
            (2, LONG | {"tank_high": 33650}),
            (1, LONG | {"tank_high": 60650, "loop_supply": 74000}),
            (4, {"collector": 75000, "tank_high": 60650, "loop_supply": 74000}),
        ),
    ),
    "a top that jumps over its limit, with a long tank_age": (
        {"MINIMUM_REST": 600000, "TANK_AGE": 300000},
        ((4, LONG), (9, LONG | {"collector": 95000, "tank_high": 91000, "loop_supply": 94000})),
    ),
    "a thawed tank_high with a short tank_age, in one long step and short ones": (
        {
            "START_DIFFERENCE": 17000,
            "TANK_LIMIT": 40000,
            "TANK_FULL_LOW": 40000,
            "LOOP_VOLUME": 1000,
            "TANK_AGE": 5000,
            "AWAY_LIMIT": 30000,
        },
        (
            (20, LONG | {"collector": 73000, "tank_low": 10000, "tank_high": 12000, "loop_supply": 55999}),
            (2, LONG | {"tank_high": 12000}),
            (1, LONG | {"collector": 94800, "tank_low": 10000}),
            (6, {}),
        ),
    ),
    "purging after glycol from a collector that has become cold": (
        {"DUMP_TOPOLOGY": cfg.NONE},
        (
            (3, {"exchanger": 71000}),
            (2, LONG | {"collector": 73000}),
            (1, {}),
            (2, LONG | {"collector": 73000, "loop_supply": 72000}),
            (1, {"IN_UPKEEP": 2}),
            (1, LONG | {"collector": 3999, "IN_UPKEEP": 2}),
        ),
    ),
}


def place(name: str) -> int:
    """The index of an input, or of a sensor's raw reading."""
    return getattr(s, name) if name.isupper() else s.IN_RAW_MC + s.SENSOR_NAMES.index(name)


@pytest.mark.parametrize("name", FOUND)
def test_what_the_walk_found_stays_mended(name):
    changes, steps = FOUND[name]
    state, memory = array("i", [0] * s.STATE), array("i", [0] * truths.MEMORY)
    settings, inputs = array("i", [0] * cfg.SETTINGS), array("i", MILD)
    cfg.load_defaults(settings)
    for setting, value in changes.items():
        settings[getattr(cfg, setting)] = value
    station.wake(state, settings, inputs)
    truths.begin(memory, state, settings, inputs)
    for count, readings in steps:
        for _ in range(count):
            inputs[:] = array("i", MILD)
            for reading, value in readings.items():
                inputs[place(reading)] = value
            station.step(state, settings, inputs)
            assert truths.names_of(truths.broken(memory, state, settings, inputs)) == []
