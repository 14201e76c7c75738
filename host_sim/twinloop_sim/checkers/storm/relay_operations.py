"""No relay wears out before the station does."""

import numpy as np
from twinloop.control import state as s

from ... import trace
from ..findings import first_where
from .days import DAY_S, each_step, sums

NAME = "relay_operations"
TEXT = "a relay was switched on more often in a day than its life allows"
# source: electrical endurance of a common 10 A printed-circuit relay, 100,000 operations at its
# rated load and three times that at a fifth of it (data sheets' curves, common practice). A pump of
# 40 W draws a fiftieth.
LIFE = 300_000
YEARS = 20
A_DAY = LIFE / (YEARS * 365.0)
# A fault may take a relay beyond its daily share only where a sound station needs nearly as many
# on some day of the episode: what a fault leaves in the tank shifts a busy day to the next. Nothing
# may take it beyond two shares: quiet days need a fifth, so two days in five may be bad.
MORE = 1.2
BAD_DAY = 2.0


def switched_on(rows, output):
    """Mask of the steps that command an output on."""
    on = rows[:, trace.COMMANDS + output] != 0
    return on & ~np.concatenate(([on[0]], on[:-1]))


def busiest(rows, output):
    """How often an output is commanded on, on the busiest calendar day of these rows."""
    return np.bincount(rows[:, 0].astype(int) // DAY_S, weights=switched_on(rows, output)).max()


def check(outcome):
    """On the commands of each mover, by calendar day; people and supply left out."""
    worst = None
    for output in s.MOVING:
        by_day = sums(outcome, switched_on(outcome.rows, output) & outcome.allowance.judged(NAME, len(outcome.rows)))
        if by_day.max() <= A_DAY:
            continue
        limit = min(max(A_DAY, MORE * busiest(outcome.beside.sound_life(), output)), BAD_DAY * A_DAY)
        most = each_step(outcome, by_day)
        found = first_where(outcome, most > limit, most, round(limit, 1), "operations a day", np.max)
        if found is not None and (worst is None or found["measured"] > worst["measured"]):
            worst = found
    return worst
