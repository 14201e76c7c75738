"""Drinking water in the exchanger does not freeze."""

import numpy as np

from .. import trace
from .findings import begun_in, first_where

NAME = "exchanger_ice"
TEXT = "a plate of the exchanger reached 0 C: the water on it freezes first"
LIMIT_C = 0.0


def check(outcome):
    """On the coldest plate, which is colder than the water, pumping or not: ice splits plates."""
    plate = outcome.rows[:, trace.COLUMNS.index("true_exchanger_plate")]
    wrong = plate <= LIMIT_C
    wrong &= ~begun_in(wrong, ~outcome.allowance.judged(NAME, len(plate)))
    return first_where(outcome, wrong, plate, LIMIT_C, "C", np.min)
