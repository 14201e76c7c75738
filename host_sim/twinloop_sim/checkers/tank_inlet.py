"""Water entering the tank stays below the hard limit of a domestic store."""

import numpy as np

from .. import trace
from .findings import first_where

NAME = "tank_inlet"
TEXT = "water entered the tank hotter than 95 C"
# source: common practice, hard limit of a domestic hot-water store
LIMIT_C = 95.0


def check(outcome):
    """On the water entering the upper port, NaN while nothing flows."""
    inlet = outcome.rows[:, trace.COLUMNS.index("true_tank_inlet")]
    wrong = (inlet > LIMIT_C) & outcome.allowance.judged(NAME, len(inlet))
    return first_where(outcome, wrong, inlet, LIMIT_C, "C", np.max)
