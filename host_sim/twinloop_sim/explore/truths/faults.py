"""Lost sensors, and a plant that does not follow."""

from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s

from . import memory as mem
from .facts import ALARM_DUMP, ALARM_NO_FLOW, both_pumps, collector_at, limit_in_force, on, tank_known, trusted
from .stops import somebody_in_charge

REASONS = (
    (why.COLLECTOR_UNKNOWN, s.FAULT_STOP),
    (why.PAUSE_DUMP, s.DUMPING),
    (why.SENSORS_SWAPPED, s.FAULT_STOP),
    (why.FLOW_MISSING, s.FAULT_STOP),
    (why.HEAT_ASTRAY, s.FAULT_STOP),
    (why.GLYCOL_NOT_ARRIVING, s.FAULT_STOP),
    (why.TANK_UNKNOWN_DUMP, s.DUMPING),
    (why.TANK_UNKNOWN, s.IDLE),
)
# A pump whose own flow input proves it useless stops after half a minute, plus one minute's step.
FLOWLESS_TOP_MS = 90000


def collector_unknown(m, state, settings, inputs):
    """The collector pump is never commanded while the collector's reading is lost."""
    return on(state, s.COLLECTOR_PUMP) and not trusted(state, s.COLLECTOR)


def collector_lost_stops(m, state, settings, inputs):
    """A lost collector reading ends in fault_stop, unless frost, hands or upkeep outrank it."""
    if trusted(state, s.COLLECTOR) or somebody_in_charge(m, state, inputs) or state[s.DUTY] == s.FROST_GUARD:
        return False
    return state[s.DUTY] != s.FAULT_STOP or state[s.REASON] != why.COLLECTOR_UNKNOWN


def tank_unknown(m, state, settings, inputs):
    """Both pumps run together only while a tank sensor is trusted."""
    return both_pumps(state) and not tank_known(state)


def flow_proven(m, state, settings, inputs):
    """A pump without flow, by a trusted flow input, stops within 90 seconds unless it dumps."""
    excused = state[s.DUTY] == s.HAND or state[s.REASON] == why.PAUSE_DUMP
    return m[mem.FLOWLESS_MS] >= FLOWLESS_TOP_MS and on(state, s.COLLECTOR_PUMP) and not excused


def given_up_rests(m, state, settings, inputs):
    """What was given up rests; only a hot collector is dumped although its flow is doubted."""
    if state[s.DUTY] == s.HAND:
        return False
    if state[s.ALARMS] & ALARM_NO_FLOW != 0 and on(state, s.COLLECTOR_PUMP):
        cool = not collector_at(state, settings[cfg.DUMP_COLLECTOR_STOP] + 1)
        if state[s.DUTY] != s.DUMPING or (cool and m[mem.ON_MS] >= settings[cfg.MINIMUM_RUN]):
            return True
    # Beside plates below the tank's limit a dump that heats the tank goes on under the alarm.
    warms = state[s.DUMP_HEATS_MS] > 0 and trusted(state, s.EXCHANGER)
    if warms and state[s.EXCHANGER_MC] < limit_in_force(settings):
        return False
    return state[s.ALARMS] & ALARM_DUMP != 0 and state[s.DUTY] == s.DUMPING


def twice_an_hour(m, state, settings, inputs):
    """What was given up is retried at most twice an hour, a dump once more near the limit."""
    # Half way from the dump threshold to the limit: a refusal may not boil.
    short_ms = mem.GIVEN_UP_MS - s.STEP_TOP_MS
    if 0 < m[mem.NO_FLOW_MS] < short_ms and state[s.ALARMS] & ALARM_NO_FLOW == 0:
        return True
    near = state[s.COLLECTOR_MC] * 2 >= settings[cfg.DUMP_COLLECTOR_START] + settings[cfg.COLLECTOR_LIMIT] - 1
    return 0 < m[mem.BARRED_MS] < short_ms and state[s.ALARMS] & ALARM_DUMP == 0 and not near


TRUTHS = (collector_unknown, collector_lost_stops, tank_unknown, flow_proven, given_up_rests, twice_an_hour)
