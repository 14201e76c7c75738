"""The virtual board's clock, installed when the host holds it: it moves only when told."""

from registers import SLOT_CLOCK_HELD, peek_two
from utime import *  # noqa: F403 - everything else is the interpreter's own
from utime import ticks_ms as running_ms

WRAP = (1 << 30) - 1


def ticks_ms():
    """Milliseconds; while the host holds the clock they wrap as on a 32-bit board."""
    held, now = peek_two(SLOT_CLOCK_HELD)
    return now & WRAP if held else running_ms()


def ticks_diff(later, earlier):
    """Wrap-safe difference of two readings of that clock."""
    return (later - earlier + (1 << 29) & WRAP) - (1 << 29)
