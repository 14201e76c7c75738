"""A healthy station collects heat while the collector is warm and the tank has room."""

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s

from .. import trace
from .findings import first_where, runs_longer

NAME = "missed_sun"
TEXT = "the collector was warm and the tank had room, but the collector pump was never commanded on"
# Longer than every rest, retry, valve travel and age of an accepted set: half an hour, ten minutes,
# and five.
PATIENCE_S = 2700
# Margin for errors of sensors and pockets, and for draws during the day.
CLEAR_K = 3.0
# Once air and collector have been this mild for four hours, no loop counts as frosty: the highest
# exchanger_frost, and what coldloop.py adds. Under a clear sky the collector is colder than the
# air.
MILD_C = 14.0
MILD_S = 14400


def mild(outside_c, steps: int):
    """Where it has been mild for this many steps."""
    cold = np.where(outside_c < MILD_C, np.arange(len(outside_c)), -steps)
    return np.arange(len(outside_c)) - np.maximum.accumulate(cold) >= steps


def room(outcome):
    """Where the true tank has room for heat under every latch."""
    settings, rows = outcome.scenario.settings, outcome.rows
    limit = (cfg.tank_limit_mc(settings) - settings[cfg.TANK_LIMIT_RESET]) / 1000.0 - CLEAR_K
    full = (cfg.tank_full_low_mc(settings) - settings[cfg.TANK_FULL_RESET]) / 1000.0 - CLEAR_K
    low = rows[:, trace.TRUE_SENSORS + s.TANK_LOW]
    return (rows[:, trace.COLUMNS.index("true_tank_node")] < limit) & (low < full)


def check(outcome):
    """On true temperatures: warm and cool enough to charge all the time, but never pumping."""
    return find(outcome, NAME, PATIENCE_S)


def find(outcome, name: str, patience_s: int):
    """The finding of a checker of this name and patience."""
    settings, rows, step_s = outcome.scenario.settings, outcome.rows, outcome.scenario.step_s
    collector = rows[:, trace.TRUE_SENSORS + s.COLLECTOR]
    gain = collector - rows[:, trace.TRUE_SENSORS + s.TANK_LOW]
    top = min(settings[cfg.CHARGE_LIMIT] - settings[cfg.CHARGE_LIMIT_RESET], settings[cfg.COLLECTOR_RESET]) / 1000.0
    warm = (gain >= settings[cfg.START_DIFFERENCE] / 1000.0 + CLEAR_K) & (collector < top - CLEAR_K)
    warm &= collector >= settings[cfg.COLLECTOR_MINIMUM] / 1000.0 + CLEAR_K
    idle = rows[:, trace.COMMANDS + s.COLLECTOR_PUMP] == 0
    outside = np.minimum(rows[:, trace.TRUE_SENSORS + s.OUTDOOR], collector)
    able = mild(outside, MILD_S // step_s) & outcome.allowance.judged(name, len(rows))
    wrong = runs_longer(warm & idle & room(outcome) & able, patience_s // step_s)
    return first_where(outcome, wrong, gain, settings[cfg.START_DIFFERENCE] / 1000.0, "K", np.max)
