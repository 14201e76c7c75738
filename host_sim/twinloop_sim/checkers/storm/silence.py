"""A fault that costs a day's heat, or safety, is named: by the alarm, or by the reason shown."""

import numpy as np
from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s

from ... import trace
from ..findings import first_where
from .days import DAY_S

NAME = "silence"
TEXT = "a fault cost heat or safety for a day, and neither alarm nor reason named it"
# Reasons that name a fault.
NAMING = (
    why.COLLECTOR_UNKNOWN,
    why.TANK_UNKNOWN,
    why.TANK_UNKNOWN_DUMP,
    why.GLYCOL_NOT_ARRIVING,
    why.GUARD_ACTED,
    why.RESET_STORM,
    why.VALVE_HOMING,
    why.RADIATOR_DEAD,
    why.DUMP_HEATS_TANK,
    why.HEAT_ASTRAY,
    why.SENSORS_SWAPPED,
    why.FLOW_MISSING,
)
# The cost that nobody may keep quiet about: this much heat and this share of a sound day's, or the
# collector at its limit this much longer.
LEAST_KWH = 2.0
SHARE = 0.25
HOT_S = 3600
TO_TANK = trace.HEAT + trace.HEATS.index("to_tank")


def days_in(mask, length: int):
    """Yield each whole day of a mask's unbroken stretches, as a slice."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(int)))
    for begin, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        for at in range(begin, end - length + 1, length):
            yield slice(at, at + length)


def named(outcome, day: slice) -> bool:
    """Whether alarm or reason spoke on this day."""
    rows = outcome.rows[day]
    return bool((rows[:, trace.COMMANDS + s.ALARM] != 0).any() or np.isin(rows[:, trace.REASON], NAMING).any())


def cost(outcome, day: slice) -> float:
    """What the fault cost on this day, as a multiple of what nobody may keep quiet about.

    A tank that takes less because the days before brought more has lost nothing.
    """
    rows, sound = outcome.rows[day], outcome.beside.sound()[day]
    could = sound[-1, TO_TANK] - sound[0, TO_TANK]
    behind = sound[-1, TO_TANK] - rows[-1, TO_TANK]
    lost_kwh = min(could - (rows[-1, TO_TANK] - rows[0, TO_TANK]), behind)
    limit = outcome.scenario.settings[cfg.COLLECTOR_LIMIT] / 1000.0
    hot = [(lived[:, trace.TRUE_SENSORS + s.COLLECTOR] >= limit).sum() * outcome.scenario.step_s for lived in (rows, sound)]
    return max(lost_kwh / max(LEAST_KWH, SHARE * could), (hot[0] - hot[1]) / HOT_S)


def check(outcome):
    """On whole days of a fault, against the same days of a sound station."""
    steps = len(outcome.rows)
    costs = np.zeros(steps)
    for day in days_in(outcome.allowance.judged(NAME, steps), DAY_S // outcome.scenario.step_s):
        if not named(outcome, day):
            costs[day] = cost(outcome, day)
    return first_where(outcome, costs > 1.0, costs, 1.0, "times the cost that has to be named", np.max)
