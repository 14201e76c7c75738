"""No relay wears out before the station does."""

import numpy as np
from twinloop.control import state as s

from ... import trace
from ..findings import first_where
from .days import DAY_S, each_step, sums

NAME = "relay_operations"
TEXT = "a relay was switched on more often than its life allows"
# source: electrical endurance of a common 10 A printed-circuit relay, 100,000 operations at its
# rated load and three times that at a fifth of it (data sheets' curves, common practice). A pump of
# 40 W draws a fiftieth.
LIFE = 300_000
YEARS = 20
A_DAY = LIFE / (YEARS * 365.0)
# Wear adds up: over five days a fault may take a relay's daily share each day, or a fifth more than
# a sound station needs. No day may take more than two shares.
DAYS = 5
MORE = 1.2
BAD_DAY = 2.0


def switched_on(rows, output):
    """Mask of the steps that command an output on."""
    on = rows[:, trace.COMMANDS + output] != 0
    return on & ~np.concatenate(([on[0]], on[:-1]))


def over_days(by_day):
    """What each day and the four before it took, a day."""
    return np.convolve(by_day, np.ones(DAYS))[: len(by_day)] / DAYS


def allowed(outcome, output):
    """What a relay may take a day, over five days."""
    sound = outcome.beside.sound_life()
    by_day = np.bincount(sound[:, 0].astype(int) // DAY_S, weights=switched_on(sound, output))
    return max(A_DAY, MORE * over_days(by_day).max())


def check(outcome):
    """On the commands of each mover, by calendar day; people and supply left out."""
    worst = None
    for output in s.MOVING:
        starts = switched_on(outcome.rows, output) & outcome.allowance.judged(NAME, len(outcome.rows))
        by_day = sums(outcome, starts)
        together = over_days(by_day)
        if max(together.max(), by_day.max() / BAD_DAY) <= A_DAY:
            continue
        for taken, limit in ((together, allowed(outcome, output)), (by_day, BAD_DAY * A_DAY)):
            each = each_step(outcome, taken)
            found = first_where(outcome, each > limit, each, round(limit, 1), "operations a day", np.max)
            if found is not None and (worst is None or found["measured"] > worst["measured"]):
                worst = found
    return worst
