"""The virtual board's electrical side: a file of 32-bit slots (slots.py), shared with the host."""

import struct

from slots import *  # noqa: F403 - one import for a register and its number
from slots import SLOTS
from soldered import REGISTERS

registers = open(REGISTERS, "r+b")


def peek(slot):
    registers.seek(4 * slot)
    return struct.unpack("<i", registers.read(4))[0]


image = bytearray(4 * SLOTS)


def look():
    """Copy all slots, for code that reads many of them."""
    registers.seek(0)
    registers.readinto(image)


def seen(slot):
    """The value of one slot in the last copy."""
    return struct.unpack_from("<i", image, 4 * slot)[0]


def peek_two(slot):
    """The values of two adjacent slots, read together."""
    registers.seek(4 * slot)
    return struct.unpack("<ii", registers.read(8))


def poke(slot, value):
    registers.seek(4 * slot)
    registers.write(struct.pack("<i", value))
