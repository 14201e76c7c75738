"""The dump valve: driven home after a reset, and where each duty wants it."""

from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s

from . import memory as mem
from .facts import on

REASONS = ((why.VALVE_HOMING, s.IDLE),)


def valve_home_first(m, state, settings, inputs):
    """After a reset the collector pump waits until a fitted dump valve has reached an end."""
    return on(state, s.COLLECTOR_PUMP) and settings[cfg.DUMP_TOPOLOGY] != cfg.NONE and m[mem.PLACED] == 0


def valve_goes_home(m, state, settings, inputs):
    """After a reset the dump valve is driven home before the station's own duties move it."""
    return on(state, s.DUMP_VALVE_POWER) and m[mem.PLACED] == 0 and state[s.DUTY] != s.HAND


def valve_between_ends(m, state, settings, inputs):
    """With a closed crossover the collector pump is off while the valve is between its ends."""
    if settings[cfg.DUMP_TOPOLOGY] == cfg.NONE or settings[cfg.DUMP_CROSSOVER] == cfg.OPEN or not on(state, s.COLLECTOR_PUMP):
        return False
    if on(state, s.DUMP_VALVE_POWER):
        return m[mem.VALVE_LEAST_MS] < settings[cfg.DUMP_TRAVEL]
    return m[mem.VALVE_MOST_MS] > 0


def valve_of_duty(m, state, settings, inputs):
    """The dump valve has power exactly while the duty sends glycol to the exchanger."""
    duty = state[s.DUTY]
    powered = on(state, s.DUMP_VALVE_POWER)
    if settings[cfg.DUMP_TOPOLOGY] == cfg.NONE:
        return powered
    if duty == s.CHARGING:
        # After seven starts in a few hours it may rest first.
        return not powered and m[mem.STARTED_MS] < mem.FREE_MS
    if duty == s.NIGHT_COOLING:
        return powered != (settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS)
    return powered and duty != s.EXERCISE and duty != s.HAND


TRUTHS = (valve_home_first, valve_goes_home, valve_between_ends, valve_of_duty)
