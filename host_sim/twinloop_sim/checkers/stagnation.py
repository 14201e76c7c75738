"""The collector does not stand in the sun at its limit."""

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s

from .. import trace
from .findings import first_where

NAME = "stagnation"
TEXT = "the collector was at or above collector_limit: glycol ages, steam may form"


def hours(outcome) -> float:
    """Hours with the true collector at or above its limit."""
    limit = outcome.scenario.settings[cfg.COLLECTOR_LIMIT] / 1000.0
    hot = outcome.rows[:, trace.TRUE_SENSORS + s.COLLECTOR] >= limit
    return float(hot.sum()) * outcome.scenario.step_s / 3600.0


def check(outcome):
    """On the true temperature at the collector's outlet."""
    limit = outcome.scenario.settings[cfg.COLLECTOR_LIMIT] / 1000.0
    collector = outcome.rows[:, trace.TRUE_SENSORS + s.COLLECTOR]
    return first_where(outcome, collector >= limit, collector, limit, "C", np.max)
