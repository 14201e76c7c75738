"""The lowest ranks: the turns of pumps and valve, and nothing to do."""

from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s

from . import memory as mem
from .facts import tank_known, trusted
from .glycol import loop_cold

REASONS = (
    (why.TURN_POSTPONED_COLD, s.IDLE),
    (why.TURN_POSTPONED_HOT, s.IDLE),
    (why.TURN, s.EXERCISE),
    (why.COLLECTOR_COOL, s.IDLE),
    (why.NO_DIFFERENCE, s.IDLE),
)


def exercise_allowed(m, state, settings, inputs):
    """No exercise while the loop is cold, the tank full, or collector or tank unknown."""
    if state[s.DUTY] != s.EXERCISE:
        return False
    if not trusted(state, s.COLLECTOR) or not tank_known(state):
        return True
    return m[mem.FULL] == 1 or loop_cold(m, settings)


def turn_taken(m, state, settings, inputs):
    """A pump or valve unmoved for exercise_after gets its turn, or a reason says why not."""
    if state[s.REASON] != why.NO_DIFFERENCE and state[s.REASON] != why.COLLECTOR_COOL:
        return False
    for mover in range(s.MOVERS):
        has_turn = mover != s.VALVE_MOVER or settings[cfg.DUMP_TOPOLOGY] != cfg.NONE
        has_turn = has_turn and mover != s.FAN_MOVER
        if has_turn and m[mem.UNMOVED_MS + mover] >= settings[cfg.EXERCISE_AFTER] * 1000 + s.STEP_TOP_MS:
            return True
    return False


TRUTHS = (exercise_allowed, turn_taken)
