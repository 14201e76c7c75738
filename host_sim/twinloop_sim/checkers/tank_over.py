"""No heat goes into a tank that reads at its limit."""

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s

from .. import trace
from .findings import first_where

NAME = "tank_over"
TEXT = "both pumps were commanded on with a trusted tank sensor at the limit in force and warmer glycol arriving"


def check(outcome):
    """On the tank readings that the firmware had, and the true glycol at the station."""
    rows = outcome.rows
    limit = cfg.tank_limit_mc(outcome.scenario.settings) / 1000.0
    both = (rows[:, trace.COMMANDS + s.COLLECTOR_PUMP] != 0) & (rows[:, trace.COMMANDS + s.TANK_PUMP] != 0)
    told = rows[:, [trace.BELIEVED + s.TANK_LOW, trace.BELIEVED + s.TANK_HIGH]]
    hottest = np.nan_to_num(told, nan=-300.0).max(axis=1)
    coldest = np.nan_to_num(told, nan=300.0).min(axis=1)
    warms = rows[:, trace.TRUE_SENSORS + s.LOOP_SUPPLY] > coldest
    wrong = both & (hottest >= limit) & warms & outcome.allowance.judged(NAME, len(rows))
    return first_where(outcome, wrong, hottest, limit, "C", np.max)
