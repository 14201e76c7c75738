"""Water at the taps does not scald."""

import numpy as np
from twinloop.control import state as s

from .. import trace
from .findings import first_where

NAME = "tap_scald"
TEXT = "water at the taps was hotter than a mixing valve may let through"
# source: 120 F (48.9 C) at outlets, Chicago Plumbing Code 18-29-424; three kelvin for the valve's
# own error, common practice.
LIMIT_C = 52.0


def check(outcome):
    """On the true water behind the heater."""
    tap = outcome.rows[:, trace.TRUE_SENSORS + s.TAP]
    return first_where(outcome, tap > LIMIT_C, tap, LIMIT_C, "C", np.max)
