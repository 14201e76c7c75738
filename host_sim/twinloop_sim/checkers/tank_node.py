"""No layer of the tank gets hotter than its limit plus what the sensor's lag allows."""

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s

from .. import trace
from .findings import first_where

NAME = "tank_node"
TEXT = "a layer of the tank was more than 2 K above tank_limit"
ALLOWED_K = 2.0
# Heat that the exchanger still holds when the limit drops below the tank's temperature or a false
# reading ends: a litre or two into the top layer.
INHERITED_K = 1.0


def ceiling_c(allowed_c, node_c, judged):
    """The highest temperature that the hottest layer may have in each step, in C.

    That is the limit. A layer that got above it while unjudged, or inherited the heat, may only
    cool.
    """
    if not (node_c > allowed_c).any():
        return allowed_c
    ceiling = np.array(allowed_c, dtype=float)
    held = node_c[0]
    for k, (allowed, node, counts) in enumerate(zip(allowed_c.tolist(), node_c.tolist(), judged.tolist(), strict=True)):
        held = max(allowed, min(held, node) if counts else node)
        ceiling[k] = held
    return ceiling


def check(outcome):
    """On the hottest layer, against the limit plus what the hottest tank sensor hides."""
    steps = len(outcome.rows)
    limit = outcome.scenario.settings[cfg.TANK_LIMIT] / 1000.0 + ALLOWED_K
    node = outcome.rows[:, trace.COLUMNS.index("true_tank_node")]
    allowed = limit + outcome.allowance.low_k(s.TANK_HIGH, steps)
    ceiling = ceiling_c(allowed, node, outcome.allowance.judged(NAME, steps))
    wrong = node > ceiling + np.where(ceiling > allowed, INHERITED_K, 0.0)
    return first_where(outcome, wrong, node, limit, "C", np.max)
