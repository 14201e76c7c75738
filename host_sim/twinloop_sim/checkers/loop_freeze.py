"""The glycol does not freeze in pipes and collector."""

import numpy as np

from .. import trace
from ..thermal import parameters as p
from .findings import first_where

NAME = "loop_freeze"
TEXT = "glycol in the loop reached its freezing point: pipes and collector may burst"


def check(outcome):
    """On the coldest glycol anywhere, against the freezing point of the true mixture."""
    limit = float(outcome.scenario.plant[p.GLYCOL_FREEZING_C])
    coldest = outcome.rows[:, trace.COLUMNS.index("true_loop_coldest")]
    return first_where(outcome, coldest <= limit, coldest, round(limit, 2), "C", np.min)
