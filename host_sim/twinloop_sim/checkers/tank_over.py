"""No heat goes into a tank that reads at its limit."""

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s

from .. import trace
from .findings import first_where, runs_longer

NAME = "tank_over"
TEXT = "glycol was pumped beside a trusted tank sensor over its limit while warmer glycol arrived"
# The firmware waits as long as it may hold a reading, and a step for what the readings show.
STEPS_MORE = 2


def check(outcome):
    """On the tank readings that the firmware had, and the true glycol at the station.

    With both pumps on the limit counts at once. With the collector pump alone a reading above
    it counts after tank_age: a valve, a check valve or a relay may carry the heat into the tank.
    """
    settings = outcome.scenario.settings
    rows = outcome.rows
    limit = cfg.tank_limit_mc(settings) / 1000.0
    glycol, water = (rows[:, trace.COMMANDS + output] != 0 for output in (s.COLLECTOR_PUMP, s.TANK_PUMP))
    told = rows[:, [trace.BELIEVED + s.TANK_LOW, trace.BELIEVED + s.TANK_HIGH]]
    hottest = np.nan_to_num(told, nan=-300.0).max(axis=1)
    coldest = np.nan_to_num(told, nan=300.0).min(axis=1)
    warms = rows[:, trace.TRUE_SENSORS + s.LOOP_SUPPLY] > coldest
    alone = glycol & (hottest > limit) & warms
    steps = settings[cfg.TANK_AGE] // 1000 // outcome.scenario.step_s + STEPS_MORE
    wrong = (glycol & water & (hottest >= limit) & warms) | runs_longer(alone, steps)
    wrong &= outcome.allowance.judged(NAME, len(rows))
    return first_where(outcome, wrong, hottest, limit, "C", np.max)
