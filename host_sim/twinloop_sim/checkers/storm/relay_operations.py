"""No relay wears out before the station does."""

import numpy as np
from twinloop.control import state as s

from ... import trace
from ..findings import first_where
from .days import each_step, sums

NAME = "relay_operations"
TEXT = "a relay was switched on more often in a day than its life allows"
# source: electrical endurance of a common 10 A printed-circuit relay, 100,000 operations at its
# rated load and three times that at a fifth of it (data sheets' curves, common practice). A pump of
# 40 W draws a fiftieth.
LIFE = 300_000
YEARS = 20
A_DAY = LIFE / (YEARS * 365.0)
# A bad day may cost two. Quiet days need a fifth of their share, so two days in five may be bad.
BAD_DAY = 2.0


def check(outcome):
    """On the commands of each mover, by calendar day."""
    most = np.zeros(len(outcome.rows))
    for output in s.MOVING:
        on = outcome.rows[:, trace.COMMANDS + output] != 0
        starts = on & ~np.concatenate(([on[0]], on[:-1])) & outcome.allowance.judged(NAME, len(on))
        most = np.maximum(most, each_step(outcome, sums(outcome, starts)))
    return first_where(outcome, most > BAD_DAY * A_DAY, most, round(BAD_DAY * A_DAY, 1), "operations a day", np.max)
