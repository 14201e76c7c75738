"""After a power cut or a watchdog reset, nothing moves before the station knows its state again."""

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s

from .. import trace
from .findings import first_where

NAME = "power_return"
TEXT = "a pump was commanded on after a reset before the dump valve was home or a needed reading was there"


def since_wake_s(outcome):
    """Seconds since the last step without power or with a reset; NaN before the first."""
    asleep = outcome.allowance.down(len(outcome.rows))
    at = np.where(asleep, np.arange(len(asleep)), -1)
    last = np.maximum.accumulate(at)
    return np.where(last >= 0, (np.arange(len(asleep)) - last) * float(outcome.scenario.step_s), np.nan)


def check(outcome):
    """Glycol starts after rest and valve, water after a reading of tank or exchanger."""
    rows, settings = outcome.rows, outcome.scenario.settings
    awake_s = since_wake_s(outcome)
    # A collector half way from its dump threshold to its limit does not wait for the rest.
    near_c = (settings[cfg.DUMP_COLLECTOR_START] + settings[cfg.COLLECTOR_LIMIT]) / 2000.0
    urgent = rows[:, trace.BELIEVED + s.COLLECTOR] >= near_c
    wait_s = np.where(urgent, 0.0, settings[cfg.MINIMUM_REST] / 1000.0)
    if settings[cfg.DUMP_TOPOLOGY] != cfg.NONE:
        wait_s = np.maximum(wait_s, settings[cfg.DUMP_TRAVEL] / 1000.0)
    pumps = rows[:, trace.COMMANDS + s.COLLECTOR_PUMP] != 0
    early = pumps & ~np.concatenate(([False], pumps[:-1]))
    early &= awake_s < wait_s - outcome.scenario.step_s
    water = rows[:, [trace.BELIEVED + s.TANK_LOW, trace.BELIEVED + s.TANK_HIGH, trace.BELIEVED + s.EXCHANGER]]
    blind = (rows[:, trace.COMMANDS + s.TANK_PUMP] != 0) & np.isnan(water).all(axis=1) & ~np.isnan(awake_s)
    return first_where(outcome, early | blind, awake_s, np.max(wait_s), "s", np.min)
