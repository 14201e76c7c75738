"""Dumping: a hot collector is relieved, or a reason says why not."""

from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s

from . import memory as mem
from .facts import ALARM_DUMP, collector_at, frost_bars_dump, reason_of_low_rank, tank_known

REASONS = (
    (why.RADIATOR_DEAD, s.IDLE),
    (why.DUMP_HEATS_TANK, s.IDLE),
    (why.COLLECTOR_HOT_DUMP, s.DUMPING),
)


def relief(m, state, settings, inputs):
    """A collector at dump_collector_start charges or dumps, unless a higher rank forbids it."""
    if settings[cfg.DUMP_TOPOLOGY] == cfg.NONE or state[s.ALARMS] & ALARM_DUMP != 0:
        return False
    if not collector_at(state, settings[cfg.DUMP_COLLECTOR_START]) or frost_bars_dump(state):
        return False
    reason = state[s.REASON]
    refused = reason == why.TANK_FULL_REFUSED or reason == why.TANK_UNKNOWN or reason == why.CHARGE_LIMIT_REFUSED
    refused |= reason == why.GLYCOL_NOT_ARRIVING or reason == why.FLOW_MISSING or reason == why.HEAT_ASTRAY
    refused |= reason == why.HEAT_TOO_WEAK or reason == why.SENSORS_SWAPPED
    return refused or reason_of_low_rank(state)


def relief_refusal_said(m, state, settings, inputs):
    """With a hot collector, a full tank and dumping given up, the reason says so."""
    if state[s.ALARMS] & ALARM_DUMP == 0 or m[mem.FULL] == 0 or not tank_known(state):
        return False
    if not collector_at(state, settings[cfg.DUMP_COLLECTOR_START]):
        return False
    return state[s.REASON] == why.TANK_FULL_REFUSED or reason_of_low_rank(state)


def frost_refusal_said(m, state, settings, inputs):
    """With a hot collector, a full tank and frost in a radiator in series, the reason says so."""
    refused = state[s.REASON] == why.TANK_FULL_REFUSED
    return refused and frost_bars_dump(state) and collector_at(state, settings[cfg.DUMP_COLLECTOR_START])


TRUTHS = (relief, relief_refusal_said, frost_refusal_said)
