"""The fan of the air heater."""

from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s

from . import memory as mem
from .facts import on, trusted
from .stops import hard_fault

# Of the fan's reasons those from here on let it run.
RUNS_FROM = why.AIR_WARM


def by_itself(state):
    """Whether the fan runs, and not by hand."""
    return on(state, s.AIR_FAN) and state[s.AIR_REASON] != why.FAN_HELD


def fan_unknown(m, state, settings, inputs):
    """The fan runs by itself only with an air heater whose two sensors are trusted."""
    if settings[cfg.AIR_HEATER] == 0:
        return on(state, s.AIR_FAN)
    return by_itself(state) and not (trusted(state, s.AIR_COLLECTOR) and trusted(state, s.ROOM))


def fan_harms_room(m, state, settings, inputs):
    """The fan heats no room at its maximum and blows no cold air, but for a turn begun by day."""
    if not by_itself(state):
        return False
    turn = state[s.AIR_REASON] == why.FAN_TURN
    if not turn and state[s.ROOM_MC] >= settings[cfg.ROOM_MAXIMUM]:
        return True
    if turn and m[mem.WAS + s.AIR_FAN] == 1:
        return False
    return trusted(state, s.AIR_COLLECTOR) and state[s.AIR_COLLECTOR_MC] <= state[s.ROOM_MC]


def fan_starts(m, state, settings, inputs):
    """By itself the fan starts above the stop difference only, and draws no air too hot for it."""
    if not by_itself(state) or m[mem.WAS + s.AIR_FAN] == 1:
        return False
    if settings[cfg.FAN_PLACE] == cfg.DRAWS and state[s.AIR_COLLECTOR_MC] > settings[cfg.FAN_LIMIT]:
        return True
    gain = state[s.AIR_COLLECTOR_MC] - state[s.ROOM_MC]
    return state[s.AIR_REASON] != why.FAN_TURN and gain <= settings[cfg.AIR_STOP_DIFFERENCE]


def fan_obeys(m, state, settings, inputs):
    """A hard fault and maintenance stop the fan, else hands hold it; it runs as its reason says."""
    if state[s.GUARD_HOLD_MS] == 0 and on(state, s.AIR_FAN) != (state[s.AIR_REASON] >= RUNS_FROM):
        return True
    if hard_fault(m, state, inputs) or inputs[s.IN_UPKEEP] == s.UPKEEP_MAINTENANCE:
        return on(state, s.AIR_FAN)
    held = settings[cfg.AIR_HEATER] == 1 and inputs[s.IN_HAND_MASK] >> s.AIR_FAN & 1 == 1
    return held and on(state, s.AIR_FAN) != (inputs[s.IN_HAND_VALUE] >> s.AIR_FAN & 1 == 1)


TRUTHS = (fan_unknown, fan_harms_room, fan_starts, fan_obeys)
