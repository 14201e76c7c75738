"""The collector pump does not push against steam, whatever the collector's sensor says."""

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s

from .. import trace
from ..thermal import parameters as p
from .findings import first_where, runs_longer

NAME = "collector_pump_steam"
TEXT = "the collector pump stayed commanded on while the collector was really at or above collector_limit"
# One step of the chip and half a kelvin of noise, which every sensor of this kind has.
NEAR_K = 1.0
# Three time constants of a pocket follow 95 % of a rise; a jump is believed after three steps.
LAGS = 3.0
STEPS = 3


def check(outcome):
    """On the true temperature at the outlet: pumping longer than age and lag explain."""
    settings, plant = outcome.scenario.settings, outcome.scenario.plant
    limit = settings[cfg.COLLECTOR_LIMIT] / 1000.0
    collector = outcome.rows[:, trace.TRUE_SENSORS + s.COLLECTOR]
    pumping = outcome.rows[:, trace.COMMANDS + s.COLLECTOR_PUMP] != 0
    lag_s = max(plant[p.SENSOR_LAGS[s.COLLECTOR]], outcome.allowance.lag_s.get(s.COLLECTOR, 0.0))
    allowed_s = settings[cfg.COLLECTOR_AGE] / 1000.0 + LAGS * lag_s + STEPS * outcome.scenario.step_s
    hot = collector >= limit + NEAR_K + outcome.allowance.low_k(s.COLLECTOR, len(collector))
    wrong = runs_longer(hot & pumping, int(allowed_s / outcome.scenario.step_s))
    return first_where(outcome, wrong & outcome.allowance.judged(NAME, len(wrong)), collector, limit, "C", np.max)
