"""DS18B20 temperature chips on a 1-Wire bus, by known ROM codes, without waiting for conversions.

A step reads the result of the conversion before it and starts the next one.

A chip that lost its power in between answers 85.000 C with a good CRC, and so does one that never
converted; 85.000 C is also a possible reading here. The chip's own memory tells them apart: at
start the driver writes a mark and the configuration into the scratchpad, never into the EEPROM. The
mark is the complement of what the EEPROM holds, so a chip without power loses it. And 85.000 C is
believed only from a chip that has shown another value since, or that was seen converting.
source: DS18B20 data sheet (memory map, commands, conversion time); the rules of trust are ours.
"""

from ..control import state as s

MATCH_ROM = 0x55
SKIP_ROM = 0xCC
CONVERT = 0x44
READ = 0xBE
WRITE = 0x4E
RECALL = 0xB8
FAMILY = 0x28
# 12 bits, 1/16 K; the chip fixes the other bits of the register.
CONFIG = 0x7F
CONFIG_FIXED_MASK = 0x9F
CONFIG_FIXED = 0x1F
CONVERSION_MS = 750
POWER_ON_RAW = 0x0550
RAW_LOWEST = -55 * 16
RAW_HIGHEST = 125 * 16

UNMARKED = 0
MARKED = 1
PROVEN = 2

# CRC-8, four bits at a time, polynomial x8 + x5 + x4 + 1, reflected.
CRC_NIBBLE = b"\x00\x9d\x23\xbe\x46\xdb\x65\xf8\x8c\x11\xaf\x32\xca\x57\xe9\x74"


def crc8(data, length):
    """The chip's CRC over the first `length` bytes; 0 over data and its CRC."""
    crc = 0
    for place in range(length):
        crc ^= data[place]
        crc = crc >> 4 ^ CRC_NIBBLE[crc & 15]
        crc = crc >> 4 ^ CRC_NIBBLE[crc & 15]
    return crc


def raw_mc(raw):
    """Millidegrees of a temperature register, a signed number of 1/16 K, rounded down."""
    return raw * 125 >> 1


def same_everywhere(data, byte):
    """Whether every byte equals `byte`."""
    for place in range(len(data)):
        if data[place] != byte:
            return False
    return True


class Ds18b20Bus:
    """All chips of a bus, in places 0 to count - 1.

    `wire` has reset(), readbit(), readinto(buffer) and writebyte(byte) as MicroPython's
    onewire.OneWire. `ticks_ms` and `ticks_diff` are the port's clock. `mc` is the value of the last
    read() that returned CAUSE_NONE, in millidegrees.
    """

    def __init__(self, wire, count, ticks_ms, ticks_diff):
        self.wire = wire
        self.ticks_ms = ticks_ms
        self.ticks_diff = ticks_diff
        # One more place, to look at a chip that is not assigned yet.
        self.spare = count
        self.roms = [bytearray(8) for _ in range(count + 1)]
        self.trust = bytearray(count + 1)
        self.marks = bytearray(count + 1)
        self.pad = bytearray(9)
        self.mc = 0
        self.asked = False
        self.asked_at = 0

    def assign(self, place, rom):
        """Put a ROM code of eight bytes at a place; eight zeros for none."""
        for index in range(8):
            self.roms[place][index] = rom[index]
        self.trust[place] = UNMARKED

    def waiting(self):
        """Whether a conversion was started and still needs time."""
        # A negative difference is a conversion of long ago: nobody has read in days.
        return self.asked and 0 <= self.ticks_diff(self.ticks_ms(), self.asked_at) < CONVERSION_MS

    def start(self):
        """Start a conversion in every chip."""
        self.asked = False
        if self.wire.reset():
            self.wire.writebyte(SKIP_ROM)
            self.wire.writebyte(CONVERT)
            self.asked_at = self.ticks_ms()
            self.asked = True

    def address(self, place, command):
        """Send one command to one chip; False if nobody answers the reset."""
        if not self.wire.reset():
            return False
        self.wire.writebyte(MATCH_ROM)
        rom = self.roms[place]
        for index in range(8):
            self.wire.writebyte(rom[index])
        self.wire.writebyte(command)
        return True

    def fetch(self, place):
        """Read a scratchpad and judge the transmission; returns a cause."""
        if not self.address(place, READ):
            return s.CAUSE_SILENT
        self.wire.readinto(self.pad)
        # A bus shorted to ground looks like presence, zeros and a good CRC: believed, it would read
        # 0.0 C.
        if same_everywhere(self.pad, 0):
            return s.CAUSE_ALL_ZERO
        if same_everywhere(self.pad, 255):
            return s.CAUSE_SILENT
        if crc8(self.pad, 9) != 0:
            return s.CAUSE_CRC
        if self.pad[4] & CONFIG_FIXED_MASK != CONFIG_FIXED or self.pad[5] != 255:
            return s.CAUSE_CHIP
        return s.CAUSE_NONE

    def mark(self, place):
        """Write mark and configuration into a chip's scratchpad; returns a cause."""
        if not self.address(place, RECALL):
            return s.CAUSE_SILENT
        cause = self.fetch(place)
        if cause != s.CAUSE_NONE:
            return cause
        mark = self.pad[2] ^ 255
        if not self.address(place, WRITE):
            return s.CAUSE_SILENT
        self.wire.writebyte(mark)
        self.wire.writebyte(self.pad[3])
        self.wire.writebyte(CONFIG)
        self.marks[place] = mark
        self.trust[place] = MARKED
        return s.CAUSE_NONE

    def peek(self, rom):
        """The last conversion of any chip, to tell chips apart by warming one.

        Returns a cause, and leaves mc without proof.
        """
        self.assign(self.spare, rom)
        cause = self.fetch(self.spare)
        if cause == s.CAUSE_NONE:
            self.mc = raw_mc(self.raw())
        return cause

    def raw(self):
        """The temperature register of the scratchpad, with its sign."""
        raw = self.pad[1] << 8 | self.pad[0]
        return raw if raw < 0x8000 else raw - 0x10000

    def prove(self, place):
        """Start a conversion in this chip alone, and see whether it begins."""
        if self.address(place, CONVERT) and self.wire.readbit() == 0:
            self.trust[place] = PROVEN

    def judge(self, place):
        """Turn a good scratchpad into mc; returns a cause."""
        if self.pad[2] != self.marks[place] or self.pad[4] != CONFIG:
            self.mark(place)
            return s.CAUSE_POWER_ON
        raw = self.raw()
        if raw < RAW_LOWEST or raw > RAW_HIGHEST:
            return s.CAUSE_CHIP
        if raw == POWER_ON_RAW and self.trust[place] == MARKED:
            self.prove(place)
            return s.CAUSE_POWER_ON
        self.trust[place] = PROVEN
        self.mc = raw_mc(raw)
        return s.CAUSE_NONE

    def read(self, place):
        """The last conversion at a place: a cause, and mc when that is CAUSE_NONE.

        A broken transmission is repeated once.
        """
        if self.roms[place][0] == 0:
            return s.CAUSE_SILENT
        if self.trust[place] == UNMARKED:
            cause = self.mark(place)
            return s.CAUSE_NOT_READY if cause == s.CAUSE_NONE else cause
        if self.waiting():
            return s.CAUSE_NOT_READY
        if not self.asked:
            return s.CAUSE_SILENT
        cause = self.fetch(place)
        if cause == s.CAUSE_CRC:
            cause = self.fetch(place)
        return self.judge(place) if cause == s.CAUSE_NONE else cause
