"""The clock of the virtual board when the host holds it: it moves when the host says so. Laid beside the firmware only then."""

from registers import SLOT_CLOCK_HELD, peek_two
from utime import *  # noqa: F403 - everything else as the interpreter has it
from utime import ticks_ms as running_ms

WRAP = (1 << 30) - 1


def ticks_ms():
    """Milliseconds, wrapped as on a 32-bit board while the host holds the clock."""
    held, now = peek_two(SLOT_CLOCK_HELD)
    return now & WRAP if held else running_ms()


def ticks_diff(later, earlier):
    """Wrap-safe difference on that clock."""
    return (later - earlier + (1 << 29) & WRAP) - (1 << 29)
