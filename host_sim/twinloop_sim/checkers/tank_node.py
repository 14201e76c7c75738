"""No layer of the tank gets hotter than its limit and what a sensor's lag allows."""

import numpy as np
from twinloop.control import settings as cfg

from .. import trace

NAME = "tank_node"
TEXT = "a layer of the tank was more than 2 K above tank_limit"
ALLOWED_K = 2.0


def check(outcome):
    """On the hottest node."""
    from . import first_where

    limit = outcome.scenario.settings[cfg.TANK_LIMIT] / 1000.0 + ALLOWED_K
    node = outcome.rows[:, trace.COLUMNS.index("true_tank_node")]
    # A tank that starts too hot is not the firmware's doing: it may only fall from there.
    allowed = np.maximum(limit, node[0])
    return first_where(outcome, node > allowed, node, limit, "C", np.max)
