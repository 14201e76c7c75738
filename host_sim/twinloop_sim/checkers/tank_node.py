"""No layer of the tank gets hotter than its limit and what a sensor's lag allows."""

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s

from .. import trace
from .findings import first_where

NAME = "tank_node"
TEXT = "a layer of the tank was more than 2 K above the tank limit in force"
ALLOWED_K = 2.0
# What the exchanger still holds when the limit drops under the tank, or a lie ends: a litre or two into the top layer.
INHERITED_K = 1.0


def ceiling_c(allowed_c, node_c, judged):
    """What the hottest layer may be, in C: the limit, or what it got above it unjudged or inherited, which may only fall."""
    if not (node_c > allowed_c).any():
        return allowed_c
    ceiling = np.array(allowed_c, dtype=float)
    held = node_c[0]
    for k, (allowed, node, counts) in enumerate(zip(allowed_c.tolist(), node_c.tolist(), judged.tolist(), strict=True)):
        held = max(allowed, min(held, node) if counts else node)
        ceiling[k] = held
    return ceiling


def check(outcome):
    """On the hottest node, against the limit in force and what the hottest tank sensor hides."""
    steps = len(outcome.rows)
    limit = cfg.tank_limit_mc(outcome.scenario.settings) / 1000.0 + ALLOWED_K
    node = outcome.rows[:, trace.COLUMNS.index("true_tank_node")]
    allowed = limit + outcome.allowance.low_k(s.TANK_HIGH, steps)
    ceiling = ceiling_c(allowed, node, outcome.allowance.judged(NAME, steps))
    wrong = node > ceiling + np.where(ceiling > allowed, INHERITED_K, 0.0)
    return first_where(outcome, wrong, node, limit, "C", np.max)
