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
# The longest proof of the plant, that of poor charging, takes two hours of glycol this much warmer
# than the tank.
PROOF_S = 7200
PROOF_K = 8.0
TO_TANK = trace.HEAT + trace.HEATS.index("to_tank")


def days_in(mask, length: int):
    """Yield each whole day of a mask's unbroken stretches, as a slice."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(int)))
    for begin, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        for at in range(begin, end - length + 1, length):
            yield slice(at, at + length)


def told_by(outcome, day: slice) -> int:
    """The step by which a fault of this day has to be named: its end, or the end of a proof.

    A station that has charged has shown something, but the longest proof of its plant takes hours
    of charging. So a day with less of it has the next one to complete it.
    """
    rows = outcome.rows[day.start : 2 * day.stop - day.start]
    charged = rows[:, trace.COMMANDS : trace.COMMANDS + s.TANK_PUMP + 1].min(axis=1) > 0
    lead = rows[:, trace.TRUE_SENSORS + s.COLLECTOR] - rows[:, trace.TRUE_SENSORS + s.TANK_LOW]
    shown_s = (charged & (lead >= PROOF_K)).cumsum() * outcome.scenario.step_s
    by = day.start + int(np.searchsorted(shown_s, PROOF_S)) + 1
    return max(by, day.stop) if charged[: day.stop - day.start].any() else day.stop


def named(outcome, day: slice) -> bool:
    """Whether alarm or reason spoke on this day, or in time on the next."""
    rows = outcome.rows[day.start : told_by(outcome, day)]
    return bool((rows[:, trace.COMMANDS + s.ALARM] != 0).any() or np.isin(rows[:, trace.REASON], NAMING).any())


def full(outcome, day: slice) -> np.ndarray:
    """Mask of the steps in which the station calls a tank full that a sound one may call full too.

    The latches of a full tank keep their state within their resets: on which days it takes heat is
    chance.
    """
    rows, settings = outcome.rows[day], outcome.scenario.settings
    low = cfg.tank_full_low_mc(settings) - settings[cfg.TANK_FULL_RESET]
    hottest = cfg.tank_limit_mc(settings) - settings[cfg.TANK_LIMIT_RESET]
    held = rows[:, trace.TRUE_SENSORS + s.TANK_LOW] >= low / 1000.0
    held |= rows[:, trace.TRUE_OTHERS + trace.TRUTHS.index("tank_node")] >= hottest / 1000.0
    return held & np.isin(rows[:, trace.REASON], (why.TANK_FULL_REFUSED, why.TANK_FULL_DUMP))


def lost_kwh(outcome, day: slice) -> tuple[float, float]:
    """The heat that a day lost, and what a sound day brings.

    Nothing is lost that came the day before or comes within the next, nor what a full tank refuses.
    """
    sound, rows = (lived[:, TO_TANK] for lived in (outcome.beside.blameless(), outcome.rows))
    could = np.diff(sound[day], prepend=sound[day.start])
    less = np.where(full(outcome, day), 0.0, could - np.diff(rows[day], prepend=rows[day.start]))
    late = outcome.beside.behind(TO_TANK)[day.stop - 1 :][: DAY_S // outcome.scenario.step_s].min()
    return min(less.sum(), late), could.sum()


def cost(outcome, day: slice) -> float:
    """What the fault cost on this day, as a multiple of what nobody may keep quiet about."""
    lost, could = lost_kwh(outcome, day)
    limit = outcome.scenario.settings[cfg.COLLECTOR_LIMIT] / 1000.0
    lives = (lived[day, trace.TRUE_SENSORS + s.COLLECTOR] for lived in (outcome.rows, outcome.beside.blameless()))
    hot = [(collector >= limit).sum() * outcome.scenario.step_s for collector in lives]
    return max(lost / max(LEAST_KWH, SHARE * could), (hot[0] - hot[1]) / HOT_S)


def check(outcome):
    """On whole days of a fault, against a station to which only people and supply do harm."""
    steps = len(outcome.rows)
    costs = np.zeros(steps)
    for day in days_in(outcome.allowance.judged(NAME, steps), DAY_S // outcome.scenario.step_s):
        if not named(outcome, day):
            costs[day] = cost(outcome, day)
    return first_where(outcome, costs > 1.0, costs, 1.0, "times the cost that has to be named", np.max)
