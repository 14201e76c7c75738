"""The 1-Wire master of the virtual board, behind the names of MicroPython's own onewire module; the bus is in virtual_chips.py."""

import virtual_chips

SEARCH_ROM = 0xF0
# A shorted bus looks like a fork at every bit: somewhere it has to end.
SEARCHES_TOP = 255


class OneWire:
    """Bytes and bits on the bus."""

    def __init__(self, pin):
        self.bus = virtual_chips.wire

    def reset(self):
        """True when the line is low after the reset pulse: presence, or a short."""
        return self.bus.reset()

    def readbit(self):
        """One read slot."""
        return self.bus.read_bit()

    def readbyte(self):
        """Eight read slots."""
        return self.bus.read_byte()

    def readinto(self, buffer):
        """As many bytes as fit."""
        for place in range(len(buffer)):
            buffer[place] = self.bus.read_byte()

    def writebit(self, bit):
        """One write slot."""
        self.bus.write_bit(bit)

    def writebyte(self, byte):
        """Eight write slots."""
        self.bus.write_byte(byte)

    def scan(self):
        """Every ROM code, by the search that the chips' data sheet describes: at each bit the bus shows which values are left."""
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
        """One walk through 64 bits: as the walk before up to a fork, a one there, zeros at later forks.

        Returns the bits, None when nobody answers, and the last fork at which a zero was taken, -1 when there is none left.
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
