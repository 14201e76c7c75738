"""The fan of the air heater."""

from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s

from . import memory as mem
from .facts import on, trusted
from .stops import hard_fault

# Of the fan's reasons those from here on let it run.
RUNS_FROM = why.AIR_WARM


def unknown(state):
    """Whether a temperature of the air side has no value."""
    return not trusted(state, s.AIR_COLLECTOR) or not trusted(state, s.ROOM)


def too_hot(m, state, settings):
    """Whether the fan rests and would draw air that harms it."""
    if settings[cfg.FAN_PLACE] != cfg.DRAWS or m[mem.WAS + s.AIR_FAN] == 1:
        return False
    return state[s.AIR_COLLECTOR_MC] > settings[cfg.FAN_LIMIT]


def fan_unknown(m, state, settings, inputs):
    """The fan runs only with an air heater whose two sensors are trusted, by hand as well."""
    return on(state, s.AIR_FAN) and (settings[cfg.AIR_HEATER] == 0 or unknown(state))


def fan_harms_room(m, state, settings, inputs):
    """The fan heats no room at its maximum, nor blows cold air by itself; a turn has mild air."""
    if not on(state, s.AIR_FAN):
        return False
    gain = state[s.AIR_COLLECTOR_MC] - state[s.ROOM_MC]
    if state[s.AIR_REASON] == why.FAN_TURN:
        return m[mem.WAS + s.AIR_FAN] == 0 and (gain <= 0 or gain > settings[cfg.AIR_STOP_DIFFERENCE])
    if state[s.ROOM_MC] >= settings[cfg.ROOM_MAXIMUM]:
        return True
    return gain <= 0 and state[s.AIR_REASON] != why.FAN_HELD


def fan_starts(m, state, settings, inputs):
    """By itself the fan starts above the stop difference only, and never in air too hot for it."""
    if not on(state, s.AIR_FAN) or m[mem.WAS + s.AIR_FAN] == 1:
        return False
    if too_hot(m, state, settings):
        return True
    gain = state[s.AIR_COLLECTOR_MC] - state[s.ROOM_MC]
    own = state[s.AIR_REASON] != why.FAN_TURN and state[s.AIR_REASON] != why.FAN_HELD
    return own and gain <= settings[cfg.AIR_STOP_DIFFERENCE]


def fan_obeys(m, state, settings, inputs):
    """A hard fault and maintenance stop the fan, else hands hold it within its limits."""
    if state[s.GUARD_HOLD_MS] == 0 and on(state, s.AIR_FAN) != (state[s.AIR_REASON] >= RUNS_FROM):
        return True
    if hard_fault(m, state, inputs) or inputs[s.IN_UPKEEP] == s.UPKEEP_MAINTENANCE:
        return on(state, s.AIR_FAN)
    if settings[cfg.AIR_HEATER] == 0 or inputs[s.IN_HAND_MASK] >> s.AIR_FAN & 1 == 0:
        return False
    if inputs[s.IN_HAND_VALUE] >> s.AIR_FAN & 1 == 0:
        return on(state, s.AIR_FAN)
    barred = unknown(state) or state[s.ROOM_WARM] == 1 or too_hot(m, state, settings)
    return not on(state, s.AIR_FAN) and not barred


TRUTHS = (fan_unknown, fan_harms_room, fan_starts, fan_obeys)
