"""No heat goes into a tank without a trusted tank sensor."""

import numpy as np
from twinloop.control import state as s

from .. import trace
from .findings import first_where

NAME = "tank_blind"
TEXT = "both pumps were commanded on while neither tank sensor was trusted"


def check(outcome):
    """On commands and trust: with the collector pump off the tank pump brings no new heat."""
    rows = outcome.rows
    both = (rows[:, trace.COMMANDS + s.COLLECTOR_PUMP] != 0) & (rows[:, trace.COMMANDS + s.TANK_PUMP] != 0)
    low, high = rows[:, trace.BELIEVED + s.TANK_LOW], rows[:, trace.BELIEVED + s.TANK_HIGH]
    wrong = both & np.isnan(low) & np.isnan(high)
    return first_where(outcome, wrong, rows[:, trace.TRUE_SENSORS + s.TANK_HIGH], 1, "trusted sensor", np.max)
