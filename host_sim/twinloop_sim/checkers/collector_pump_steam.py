"""No pump pushes against steam, whatever the collector's sensor says."""

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s

from .. import trace
from ..thermal import parameters as p
from .findings import first_where, runs_longer

NAME = "collector_pump_steam"
TEXT = "the collector pump was told to run on while the true collector stood at or above collector_limit"
# A chip's step and half a kelvin of noise that no sensor of this kind is without.
NEAR_K = 1.0
# Three time constants of a pocket follow 95 % of a rise; three steps are what the readings need to believe a jump.
LAGS = 3.0
STEPS = 3


def check(outcome):
    """On the true temperature at the collector's outlet: commanded on there for longer than age and lag explain."""
    settings, plant = outcome.scenario.settings, outcome.scenario.plant
    limit = settings[cfg.COLLECTOR_LIMIT] / 1000.0
    collector = outcome.rows[:, trace.TRUE_SENSORS + s.COLLECTOR]
    pumping = outcome.rows[:, trace.COMMANDS + s.COLLECTOR_PUMP] == 1
    lag_s = max(plant[p.COLLECTOR_SENSOR_S], outcome.allowance.lag_s.get(s.COLLECTOR, 0.0))
    allowed_s = settings[cfg.COLLECTOR_AGE] / 1000.0 + LAGS * lag_s + STEPS * outcome.scenario.step_s
    hot = collector >= limit + NEAR_K + outcome.allowance.low_k(s.COLLECTOR, len(collector))
    wrong = runs_longer(hot & pumping, int(allowed_s / outcome.scenario.step_s))
    return first_where(outcome, wrong & outcome.allowance.judged(NAME, len(wrong)), collector, limit, "C", np.max)
