"""Every reason belongs to its duty and states a fact."""

import numpy as np
from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s

from . import charging, dumping, faults, frost, idle, limits, night_cooling, stops, valve
from .facts import ALARM_DUMP, gain, reason_of_low_rank, tank_known, trusted

# The topics that judge rows, in order of rank.
ROW_TOPICS = (stops, faults, valve, frost, limits, charging, dumping, night_cooling, idle)

DUTY_OF_REASON = np.full(64, -1, dtype=np.int32)
for _topic in ROW_TOPICS:
    for _reason, _duty in _topic.REASONS:
        DUTY_OF_REASON[_reason] = _duty


def reason_of_duty(m, state, settings, inputs):
    """Every duty has a reason that belongs to it."""
    return DUTY_OF_REASON[state[s.REASON]] != state[s.DUTY]


def reason_is_so(m, state, settings, inputs):
    """A reason that states a fact states a true one."""
    reason = state[s.REASON]
    if reason == why.COLLECTOR_UNKNOWN:
        return trusted(state, s.COLLECTOR)
    if reason == why.TANK_UNKNOWN or reason == why.TANK_UNKNOWN_DUMP:
        return tank_known(state)
    if reason == why.CHARGE_LIMIT_REFUSED:
        return settings[cfg.DUMP_TOPOLOGY] != cfg.NONE and state[s.ALARMS] & ALARM_DUMP == 0
    if reason == why.PAUSE_DUMP:
        return state[s.NO_FLOW] == 0
    if reason == why.RADIATOR_DEAD or reason == why.DUMP_HEATS_TANK:
        return state[s.ALARMS] & ALARM_DUMP == 0
    if reason_of_low_rank(state) or reason == why.DIFFERENCE or reason == why.HEAT_TAKEN:
        return comparison_wrong(state, settings)
    return False


def comparison_wrong(state, settings):
    """Whether a reason compares collector and tank without both readings, or against them."""
    if not trusted(state, s.COLLECTOR) or not tank_known(state):
        return True
    if state[s.REASON] == why.COLLECTOR_COOL:
        return state[s.COLLECTOR_MC] >= settings[cfg.COLLECTOR_MINIMUM]
    if state[s.REASON] == why.NO_DIFFERENCE:
        return gain(state) >= settings[cfg.START_DIFFERENCE]
    if state[s.REASON] == why.HEAT_TAKEN:
        return gain(state) < settings[cfg.START_DIFFERENCE]
    return False


TRUTHS = (reason_of_duty, reason_is_so)
