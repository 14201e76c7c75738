"""Hard faults and people: resets, the guard, maintenance, hands, purging."""

from twinloop.control import reasons as why
from twinloop.control import state as s

from . import memory as mem
from .facts import MOVING, on

REASONS = (
    (why.RESET_STORM, s.FAULT_STOP),
    (why.GUARD_ACTED, s.FAULT_STOP),
    (why.UNDER_MAINTENANCE, s.MAINTENANCE),
    (why.HAND_HELD, s.HAND),
    (why.PURGING, s.HAND),
)


def hard_fault(m, state, inputs):
    """Whether resets or the guard stop everything; the guard lets go at the end of a step."""
    return inputs[s.IN_RESETS] >= 3 or state[s.GUARD_HOLD_MS] > 0 or m[mem.GUARD_HELD] == 1


def hands_on_water(inputs):
    """Whether hands hold an output of the water side."""
    return inputs[s.IN_HAND_MASK] & ~(1 << s.AIR_FAN) != 0


def somebody_in_charge(m, state, inputs):
    """Whether resets, the guard, upkeep or hands outrank the station's own duties."""
    if hard_fault(m, state, inputs):
        return True
    return inputs[s.IN_UPKEEP] != s.UPKEEP_NONE or hands_on_water(inputs)


def water_moves(state):
    """Whether a pump or the valve is commanded on."""
    return on(state, s.COLLECTOR_PUMP) or on(state, s.TANK_PUMP) or on(state, s.DUMP_VALVE_POWER)


def anything_moves(state):
    """Whether a mover is commanded on."""
    moves = False
    for output in MOVING:
        moves |= on(state, output)
    return moves


def safe_stop(m, state, settings, inputs):
    """In fault_stop and maintenance pumps and dump valve are in their safe state."""
    return (state[s.DUTY] == s.FAULT_STOP or state[s.DUTY] == s.MAINTENANCE) and water_moves(state)


def guard_idle(m, state, settings, inputs):
    """The guard never has to act."""
    return state[s.GUARD_ACTIONS] != m[mem.GUARD_BEFORE]


def resets_stop(m, state, settings, inputs):
    """Three resets within an hour end in fault_stop with that reason."""
    return inputs[s.IN_RESETS] >= 3 and (state[s.DUTY] != s.FAULT_STOP or state[s.REASON] != why.RESET_STORM)


def guard_stops(m, state, settings, inputs):
    """After the guard acts everything stands still for ten minutes."""
    if state[s.GUARD_HOLD_MS] > 0 and anything_moves(state):
        return True
    return m[mem.GUARD_HELD] == 1 and inputs[s.IN_RESETS] < 3 and state[s.REASON] != why.GUARD_ACTED


def person_obeyed(m, state, settings, inputs):
    """Maintenance, hands and purging, in this order, outrank the station's own duties."""
    if hard_fault(m, state, inputs):
        return False
    if inputs[s.IN_UPKEEP] == s.UPKEEP_MAINTENANCE:
        return state[s.REASON] != why.UNDER_MAINTENANCE
    if hands_on_water(inputs):
        return state[s.REASON] != why.HAND_HELD
    return inputs[s.IN_UPKEEP] == s.UPKEEP_PURGE and state[s.REASON] != why.PURGING


TRUTHS = (safe_stop, guard_idle, resets_stop, guard_stops, person_obeyed)
