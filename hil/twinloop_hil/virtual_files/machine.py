"""The chip of the virtual board: pins, watchdog and reset as slots in a file that the host shares.

This file takes the place of MicroPython's own machine module. The slot numbers stand once more in twinloop_hil/virtual.py, which
maps the same file; a test compares the two.
"""

import struct
import time

SLOT_PIN = 0
SLOT_VALUE_MC = 32
SLOT_CAUSE = 48
SLOT_MISHAP = 64
SLOT_WATCHDOG_MS = 65
SLOT_FED = 66
SLOT_RESET = 67
SLOT_CAUSE_OF_START = 68
SLOT_BOOTS = 69
SLOTS = 96

PIN_FLOATING = -1
PWRON_RESET = 1
WDT_RESET = 3

registers = open("registers", "r+b")


def peek(slot):
    """One signed 32-bit slot."""
    registers.seek(4 * slot)
    return struct.unpack("<i", registers.read(4))[0]


def poke(slot, value):
    """Write one slot at once."""
    registers.seek(4 * slot)
    registers.write(struct.pack("<i", value))


def peek_all(slot, into):
    """Fill a bytearray from a slot on."""
    registers.seek(4 * slot)
    registers.readinto(into)


class Pin:
    """A pin: its level is visible to the host."""

    IN = 0
    OUT = 1
    PULL_UP = 2

    def __init__(self, number, mode=IN, pull=None, value=None):
        self.slot = SLOT_PIN + number
        if mode == Pin.OUT and value is not None:
            self.value(value)

    def value(self, level=None):
        """Read the level, or set it; a floating input reads its pull-up."""
        if level is None:
            seen = peek(self.slot)
            return 1 if seen == PIN_FLOATING else seen
        poke(self.slot, level)
        return None


class WDT:
    """The watchdog: the host bites when it is not fed."""

    def __init__(self, timeout):
        self.fed = 0
        poke(SLOT_FED, 0)
        poke(SLOT_WATCHDOG_MS, timeout)

    def feed(self):
        """Another timeout from now on."""
        self.fed = self.fed + 1 & 0xFFFFFF
        poke(SLOT_FED, self.fed)


def reset():
    """Ask the host to pull the plug, and wait for it."""
    poke(SLOT_RESET, 1)
    while True:
        time.sleep_ms(1000)


def reset_cause():
    """Why the chip started; a restart by software counts as the watchdog's, as on an RP2040."""
    return peek(SLOT_CAUSE_OF_START)
