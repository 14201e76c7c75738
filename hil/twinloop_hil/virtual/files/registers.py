"""The electrical side of the virtual board: slots in a file that the host shares.

Their numbers are in slots.py, which the host imports as well. What a fault does stands with the chip that has it, in
virtual_chips.py.
"""

import struct

from slots import *  # noqa: F403 - who reads a register wants its number from the same place
from slots import SLOTS

registers = open("registers", "r+b")


def peek(slot):
    """One signed 32-bit slot."""
    registers.seek(4 * slot)
    return struct.unpack("<i", registers.read(4))[0]


image = bytearray(4 * SLOTS)


def look():
    """Take a picture of all slots, for what reads many of them at one moment."""
    registers.seek(0)
    registers.readinto(image)


def seen(slot):
    """One slot of the last picture."""
    return struct.unpack_from("<i", image, 4 * slot)[0]


def peek_two(slot):
    """Two neighbours at one moment."""
    registers.seek(4 * slot)
    return struct.unpack("<ii", registers.read(8))


def poke(slot, value):
    """Write one slot at once."""
    registers.seek(4 * slot)
    registers.write(struct.pack("<i", value))
