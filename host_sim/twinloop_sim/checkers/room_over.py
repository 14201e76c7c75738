"""The fan does not heat a room that is warm enough."""

import numpy as np
from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s

from .. import trace
from .findings import first_where

NAME = "room_over"
TEXT = "the fan of the air heater blew into a room above room_maximum"
# A light room outruns the sensor on its wall by this much (ours).
MARGIN_K = 0.5


def check(outcome):
    """On the true air of the room, while the fan runs, but for its short turns in mild air."""
    settings, rows = outcome.scenario.settings, outcome.rows
    if settings[cfg.AIR_HEATER] == 0:
        return None
    room = rows[:, trace.TRUE_SENSORS + s.ROOM]
    limit = settings[cfg.ROOM_MAXIMUM] / 1000.0 + MARGIN_K
    wrong = (rows[:, trace.AIR_REASON] >= why.AIR_WARM) & (rows[:, trace.AIR_REASON] != why.FAN_TURN)
    wrong &= room > limit + outcome.allowance.low_k(s.ROOM, len(rows))
    wrong &= outcome.allowance.judged(NAME, len(rows))
    return first_where(outcome, wrong, room, limit, "C", np.max)
