"""MicroPython's onewire module for the virtual board; the bus itself is in virtual_chips.py."""

import virtual_chips

SEARCH_ROM = 0xF0
# A shorted bus looks like a fork at every bit and would be searched for ever.
SEARCHES_TOP = 255


class OneWire:
    """The bus master."""

    def __init__(self, pin):
        self.bus = virtual_chips.wire

    def reset(self):
        """True if the line is low after the reset pulse: a chip is present, or a short."""
        return self.bus.reset()

    def readbit(self):
        return self.bus.read_bit()

    def readbyte(self):
        return self.bus.read_byte()

    def readinto(self, buffer):
        for place in range(len(buffer)):
            buffer[place] = self.bus.read_byte()

    def writebit(self, bit):
        self.bus.write_bit(bit)

    def writebyte(self, byte):
        self.bus.write_byte(byte)

    def scan(self):
        """Every ROM code on the bus, by the search algorithm of the chips' data sheet."""
        found = []
        bits = []
        fork = 64
        for _ in range(SEARCHES_TOP):
            bits, fork = self.search(bits, fork)
            if bits is None:
                break
            found.append(bytes([sum([bits[8 * byte + bit] << bit for bit in range(8)]) for byte in range(8)]))
            if fork < 0:
                break
        return found

    def search(self, before, fork):
        """One pass over 64 bits: as before up to `fork`, a one there, zeros at later forks.

        Returns the bits (None: no chip answers) and the last fork where a zero was taken, or -1.
        """
        if not self.reset():
            return None, -1
        self.writebyte(SEARCH_ROM)
        bits = []
        left = -1
        for place in range(64):
            one_missing = self.readbit()
            zero_missing = self.readbit()
            if one_missing and zero_missing:
                return None, -1
            bit = one_missing
            if not one_missing and not zero_missing:
                bit = before[place] if place < fork and before else int(place == fork)
                if bit == 0:
                    left = place
            self.writebit(bit)
            bits.append(bit)
        return bits, left
