"""During a reset, and after repeated ones, every relay that moves something is safe."""

import numpy as np
from twinloop.control import state as s

from .. import trace
from .findings import first_where

NAME = "reset_safe"
TEXT = "a relay was commanded on in a reset, without power, or after three resets within an hour"
STORM = 3


def check(outcome):
    """On the commands of the movers while the board is down or must keep still."""
    still = outcome.allowance.down(len(outcome.rows))
    if outcome.allowance.resets is not None:
        still |= outcome.allowance.resets >= STORM
    on = outcome.rows[:, [trace.COMMANDS + output for output in s.MOVING]].max(axis=1)
    return first_where(outcome, still & (on > 0), on, 0, "relays on", np.max)
