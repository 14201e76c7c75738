"""The collector pump does not run while the collector may hold steam or its reading is lost."""

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s

from .. import trace
from .findings import first_where

NAME = "collector_pump_hot"
TEXT = "the collector pump ran with the collector at or above collector_limit, or unknown"


def check(outcome):
    """On what the firmware was told: pumping with a reading above the limit or unknown."""
    limit = outcome.scenario.settings[cfg.COLLECTOR_LIMIT] / 1000.0
    seen = outcome.rows[:, trace.BELIEVED + s.COLLECTOR]
    pumping = outcome.rows[:, trace.COMMANDS + s.COLLECTOR_PUMP] != 0
    wrong = pumping & ~(seen < limit)
    return first_where(outcome, wrong, np.nan_to_num(seen, nan=limit), limit, "C", np.max)
