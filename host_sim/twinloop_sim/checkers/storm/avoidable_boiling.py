"""The collector does not stand at its limit while a sound pump and radiator could keep it below."""

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s

from ... import trace
from ..findings import first_where
from .days import day_numbers, each_step, sums

NAME = "avoidable_boiling"
TEXT = "the collector was at its limit although the reference rule kept it well below on the same plant"
# Longer than any move, rest and proof of a fault: half an hour of a day.
PATIENCE_S = 1800
# The reference has to be this far below the limit all day: on a plant at its own limit neither is
# to blame.
CLEAR_K = 10.0


def check(outcome):
    """On the true collector, on days on which the reference rule stays clear of the limit."""
    if outcome.scenario.settings[cfg.DUMP_TOPOLOGY] == cfg.NONE:
        return None
    rows, step_s = outcome.rows, outcome.scenario.step_s
    limit = outcome.scenario.settings[cfg.COLLECTOR_LIMIT] / 1000.0
    collector = rows[:, trace.TRUE_SENSORS + s.COLLECTOR]
    hot = collector >= limit + outcome.allowance.low_k(s.COLLECTOR, len(rows))
    hot &= outcome.allowance.judged(NAME, len(rows))
    long = sums(outcome, hot) * step_s > PATIENCE_S
    if not long.any():
        return None
    other = outcome.beside.reference()[:, trace.TRUE_SENSORS + s.COLLECTOR]
    peak = np.full(len(long), -np.inf)
    np.maximum.at(peak, day_numbers(outcome), other)
    wrong = hot & each_step(outcome, long & (peak < limit - CLEAR_K))
    hours = each_step(outcome, sums(outcome, wrong)) * step_s / 3600.0
    return first_where(outcome, wrong, hours, PATIENCE_S / 3600.0, "h", np.max)
