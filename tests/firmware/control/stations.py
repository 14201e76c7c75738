"""Stations for tests of single functions: their arrays, and access to them by name."""

import functools
from array import array
from types import SimpleNamespace

import pytest

UNKNOWN_MC = -300000
# Numbers in conditions.py that are not conditions.
NO_CONDITIONS = ("BITS", "CONDITION_WORDS")
# A sensor's status, and whether its value counts.
TRUST = [("GOOD", True), ("HELD", True), ("LOST", False), ("ABSENT", False)]
# What a latch is after one look, from 0 and from 1.
CLEARS, STAYS, SETS = (0, 0), (0, 1), (1, 1)


def each(names, *rows):
    """Run the test once for each row, as pytest's parametrize does."""
    return pytest.mark.parametrize(names, rows)


def fresh_arrays(core):
    """The arrays of a station that has just woken with default settings; a step is a second."""
    sizes = (core.state.STATE, core.settings.SETTINGS, core.state.INPUTS)
    state, settings, inputs = (array("i", [0] * size) for size in sizes)
    core.settings.load_defaults(settings)
    inputs[core.state.IN_DT_MS] = 1000
    core.station.wake(state, settings, inputs)
    arrays = SimpleNamespace(state=state, settings=settings, inputs=inputs, all=(state, settings, inputs))
    arrays.change = functools.partial(change, core, arrays)
    arrays.after = functools.partial(after, core, arrays)
    return arrays


def calm_arrays(core):
    """A station that has nothing to do; a step is five seconds.

    Every sensor reads 20 C and is good, the loop is known, the valve is at the radiator.
    """
    arrays = fresh_arrays(core)
    s, state = core.state, arrays.state
    for sensor in range(s.SENSORS):
        state[s.VALUE_MC + sensor], state[s.STATUS + sensor], state[s.AGE_MS + sensor] = 20000, s.GOOD, 0
        state[s.CANDIDATE_MC + sensor], state[s.CANDIDATE_COUNT + sensor] = 20000, 3
    for name in ("TANK_REFERENCE_MC", "TANK_HOTTEST_MC", "TANK_COLDEST_MC", "LOOP_LOWEST_MC", "LOOP_SEEN_MC"):
        state[getattr(s, name)] = 20000
    for name in ("TANK_OVER", "TANK_FULL", "STAGNATION", "CHARGE_HOT", "RADIATOR_STOOD", "VALVE_MS", "VALVE_HOME_MS"):
        state[getattr(s, name)] = 0
    state[s.LOOP_KNOWN], arrays.inputs[s.IN_DT_MS] = 1, 5000
    return arrays


def change(core, arrays, **values):
    """Set entries of the arrays by name.

    A text value names a number of state, settings or reasons.
    """
    for name, value in values.items():
        if name == "CONDITIONS":
            set_conditions(core, arrays, value.split())
            continue
        if isinstance(value, str):
            value = next(getattr(names, value) for names in (core.state, core.settings, core.reasons) if hasattr(names, value))
        if name.startswith("IN_"):
            arrays.inputs[getattr(core.state, name)] = value
        elif hasattr(core.state, name):
            arrays.state[getattr(core.state, name)] = value
        else:
            arrays.settings[getattr(core.settings, name)] = value
    return arrays


def set_conditions(core, arrays, names):
    """Set exactly these conditions."""
    c, s = core.conditions, core.state
    words = c.CONDITION_ROWS.words([getattr(c, name) for name in names], c.BITS)
    for word in range(c.CONDITION_WORDS):
        arrays.state[s.CONDITIONS + word] = words[word]


def conditions(core, arrays):
    """The names of all conditions that are set."""
    c = core.conditions
    names = [name for name, value in vars(c).items() if name.isupper() and type(value) is int and name not in NO_CONDITIONS]
    return {name for name in names if core.rules.holds(arrays.state, getattr(c, name))}


def values(core, arrays, *names):
    """These entries of the state."""
    return tuple(arrays.state[getattr(core.state, name)] for name in names)


def after(core, arrays, call, *names):
    """These entries of the state after a call, as they are when there is only one."""
    call(*arrays.all)
    found = values(core, arrays, *names)
    return found if len(names) > 1 else found[0]


def code(core, name):
    """The number of a reason, 0 for ""."""
    return getattr(core.reasons, name) if name else 0


def latched(core, arrays, look, name, **facts):
    """The latch after one look, from 0 and from 1: (0, 0) clears, (1, 1) sets, (0, 1) stays."""
    after = []
    for before in (0, 1):
        arrays.change(**{name: before}, **facts)
        look(*arrays.all)
        after.append(arrays.state[getattr(core.state, name)])
    return tuple(after)
