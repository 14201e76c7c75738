"""Pumping does not carry heat out of the tank, but to cool it or to keep plates from freezing."""

import numpy as np
from twinloop.control import state as s

from ... import trace
from ..findings import first_where
from .days import each_step, sums

NAME = "carried_out"
TEXT = "pumped water carried heat out of the tank, day and night"
# Starts and ends of charging, and water moved ahead of frosty glycol, take some heat back: this
# much in a day, or this share of what the day brought.
LEAST_KWH = 1.0
SHARE = 0.2
MEANT = (s.NIGHT_COOLING, s.FROST_GUARD, s.HAND)


def check(outcome):
    """On the true heat from glycol to water, in every step with the tank pump commanded on."""
    rows = outcome.rows
    step_kwh = np.diff(rows[:, trace.HEAT + trace.HEATS.index("to_tank")], append=rows[-1, trace.HEAT + 1])
    pumped = (rows[:, trace.COMMANDS + s.TANK_PUMP] != 0) & ~np.isin(rows[:, trace.DUTY], MEANT)
    out_kwh = sums(outcome, np.where(pumped, np.maximum(-step_kwh, 0.0), 0.0) * outcome.allowance.judged(NAME, len(rows)))
    in_kwh = sums(outcome, np.maximum(step_kwh, 0.0))
    wrong = pumped & each_step(outcome, out_kwh > np.maximum(LEAST_KWH, SHARE * in_kwh))
    return first_where(outcome, wrong, each_step(outcome, out_kwh), LEAST_KWH, "kWh", np.max)
