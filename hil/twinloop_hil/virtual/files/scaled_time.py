"""The clock of a virtual board that stays, installed as `time`: it may go faster than ours."""

from registers import SLOT_SPEED, peek
from utime import *  # noqa: F403 - everything else is the interpreter's own
from utime import ticks_ms as running_ms

speed = 1
since = told = running_ms()


def ticks_ms():
    """Milliseconds of the station's clock, which goes on without a jump when its speed changes."""
    global since, speed, told
    now = running_ms()
    wanted = peek(SLOT_SPEED)
    if wanted != speed:
        told += (now - since) * speed
        since, speed = now, wanted
    return told + (now - since) * speed
