"""Models of the chips at the virtual board's pins, register by register, including their faults.

The host sets temperatures and faults through registers.py. Each chip converts in its own time,
loses its registers with its power, and latches what its data sheet says. The drivers that talk to
it are the board's own.
source: data sheets of DS18B20, MAX31865 and SSD1306.
"""

import math
import time

import board
import registers as r
from soldered import COLLECTOR, SENSORS

CONVERSION_MS = (94, 188, 375, 750)
# Threshold and configuration bytes in the EEPROM of a new chip.
EEPROM = (0x4B, 0x46, 0x7F)
POWER_ON_RAW = 0x0550


def crc8(data):
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0x8C if crc & 1 else 0)
    return crc


def rom_code(number):
    """The ROM code of the virtual chip with this number."""
    rom = bytes([0x28, number + 1, 0x54, 0x57, 0x4C, 0x4F, 0x00])
    return rom + bytes([crc8(rom)])


def take_fault(slot, fault):
    """True once after the host has set this fault, which clears it."""
    if r.seen(slot) != fault:
        return False
    r.poke(slot, r.FAULT_NONE)
    r.look()
    return True


class Ds18b20:
    """The chip at a sensor's place; the host decides which chip that is."""

    def __init__(self, place):
        self.place = place
        self.slot = r.SLOT_FAULT + place
        self.power_on()

    def rom(self):
        """The ROM code of the chip that is here now."""
        return rom_code(r.seen(r.SLOT_ROM_AT + self.place))

    def power_on(self):
        """Set the registers to their power-on values."""
        self.raw = POWER_ON_RAW
        self.recall()
        self.done_at = None

    def recall(self):
        """Copy the EEPROM to the scratchpad."""
        self.high, self.low, self.config = EEPROM

    def brown_out(self):
        """Lose power if the host has set such a fault: once, or at every access."""
        if r.seen(self.slot) == r.FAULT_FLICKER or take_fault(self.slot, r.FAULT_POWER):
            self.power_on()

    def here(self):
        """Whether the chip answers."""
        self.brown_out()
        return r.seen(self.slot) != r.FAULT_GONE

    def convert(self):
        # What the conversion before has found is kept, whether or not anybody has read it.
        self.busy()
        if r.seen(self.slot) != r.FAULT_DEAF:
            self.done_at = time.ticks_ms() + CONVERSION_MS[self.config >> 5 & 3]

    def busy(self):
        """Whether a conversion is running."""
        if self.done_at is None:
            return False
        if time.ticks_diff(self.done_at, time.ticks_ms()) > 0:
            return True
        # The result is the temperature at the first access after the conversion.
        self.done_at = None
        celsius_16 = math.floor(r.seen(r.SLOT_VALUE_MC + self.place) * 16 / 1000 + 0.5)
        keep = 0xFFFF << 3 - (self.config >> 5 & 3)
        self.raw = max(-880, min(2000, celsius_16)) & keep & 0xFFFF
        return False

    def scratchpad(self):
        """The nine bytes as the master receives them."""
        self.busy()
        # COUNT REMAIN: what is left of a sixteenth of a degree; 12 at power-on.
        left = 0x0C if self.raw == POWER_ON_RAW else 0x10 - (self.raw & 15)
        pad = bytearray([self.raw & 255, self.raw >> 8, self.high, self.low, self.config, 0xFF, left, 0x10])
        if r.seen(self.slot) == r.FAULT_STRANGE:
            pad[4] = 0x00
        pad.append(crc8(pad))
        if r.seen(self.slot) == r.FAULT_CRC or take_fault(self.slot, r.FAULT_CRC_ONCE):
            pad[1] ^= 0x10
        return pad


class Wire:
    """The bus: every chip hears every bit, and any chip can pull the line low."""

    def __init__(self, chips):
        self.chips = chips
        self.forget()

    def forget(self):
        """Make every chip wait for a ROM command, as after a reset pulse."""
        self.left = [chip for chip in self.chips if chip.here()]
        self.hear = self.rom_command
        self.sent = b""
        self.answers = []
        self.search_place = -1
        self.bits = []

    def line(self):
        """LINE_FREE, or the level at which the line is stuck."""
        return r.seen(r.SLOT_WIRE)

    def reset(self):
        """True when the line is low after the pulse."""
        r.look()
        mishap()
        self.forget()
        if self.line() == r.LINE_FREE:
            return len(self.left) > 0
        return self.line() == r.LINE_LOW

    def write_byte(self, byte):
        if self.line() == r.LINE_FREE:
            self.hear(byte)

    def rom_command(self, byte):
        """Take a ROM command: SEARCH, MATCH or SKIP."""
        if byte == 0xCC:
            self.hear = self.function
        elif byte == 0x55:
            self.hear = self.match
        elif byte == 0xF0:
            self.search_place = 0
        else:
            self.hear = self.nothing

    def match(self, byte):
        """Take a byte of a ROM code; after eight, only the matching chip stays selected."""
        self.sent += bytes([byte])
        if len(self.sent) == 8:
            self.left = [chip for chip in self.left if chip.rom() == self.sent]
            self.sent = b""
            self.hear = self.function

    def function(self, byte):
        """Take a function command for the selected chips."""
        self.hear = self.nothing
        if byte == 0x44:
            for chip in self.left:
                chip.convert()
        elif byte == 0xBE:
            self.answers = [chip.scratchpad() for chip in self.left]
        elif byte == 0x4E:
            self.hear = self.write_scratchpad
        elif byte == 0xB8:
            for chip in self.left:
                chip.recall()

    def write_scratchpad(self, byte):
        """Take both threshold bytes, then the configuration, whose fixed bits stay."""
        self.sent += bytes([byte])
        if len(self.sent) == 3:
            for chip in self.left:
                chip.high, chip.low = self.sent[0], self.sent[1]
                chip.config = self.sent[2] & 0x60 | 0x1F
            self.hear = self.nothing

    def nothing(self, byte):
        """Ignore the byte."""

    def read_byte(self):
        """Eight read slots: all ones unless a chip pulls low."""
        if self.line() != r.LINE_FREE:
            return 0 if self.line() == r.LINE_LOW else 255
        byte = 255
        for pad in self.answers:
            if pad:
                byte &= pad[0]
        self.answers = [pad[1:] for pad in self.answers]
        return byte

    def read_bit(self):
        """One read slot: of a search, or 0 while a chip converts."""
        if self.line() != r.LINE_FREE:
            return 0 if self.line() == r.LINE_LOW else 1
        if self.search_place >= 0:
            return self.search_bit()
        return 0 if any(chip.busy() for chip in self.left) else 1

    def search_bit(self):
        """The wired AND of the selected chips' bits, then of their complements."""
        place = self.search_place
        seen = [chip.rom()[place >> 3] >> (place & 7) & 1 for chip in self.left]
        self.bits.append(seen)
        if len(self.bits) % 2:
            return 0 if 0 in seen else 1
        return 0 if 1 in seen else 1

    def write_bit(self, bit):
        """Take the master's choice: chips with the other bit leave the search."""
        if self.line() != r.LINE_FREE or self.search_place < 0:
            return
        place = self.search_place
        self.left = [chip for chip in self.left if chip.rom()[place >> 3] >> (place & 7) & 1 == bit]
        self.search_place = place + 1 if place < 63 else -1


class Max31865:
    """The chip's eight registers, single conversions and latched faults."""

    def __init__(self, data):
        self.reference_ohm = data["reference_ohm"]
        self.nominal_ohm = data["nominal_ohm"]
        self.slot = r.SLOT_FAULT + COLLECTOR
        self.power_on()

    def power_on(self):
        """Set the registers to their power-on values: limits wide open, nothing converted."""
        self.registers = bytearray([0, 0, 0, 0xFF, 0xFF, 0, 0, 0])
        self.done_at = None

    def ratio(self):
        """Resistance of the element, including its fault, as a fraction of the reference."""
        fault = r.seen(self.slot)
        if fault == r.FAULT_OPEN or take_fault(self.slot, r.FAULT_GLITCH):
            return 1.0
        if fault == r.FAULT_SHORT:
            return 0.0
        celsius = r.seen(r.SLOT_VALUE_MC + COLLECTOR) / 1000
        relative = 1 + 3.9083e-3 * celsius - 5.775e-7 * celsius**2
        if celsius < 0:
            relative -= 4.183e-12 * (celsius - 100) * celsius**3
        return relative * self.nominal_ohm / self.reference_ohm

    def limit(self, register):
        """A fault threshold as a conversion code."""
        return (self.registers[register] << 8 | self.registers[register + 1]) >> 1

    def finish(self):
        """Store the result of a conversion or a fault cycle once its time is over."""
        if self.done_at is None or time.ticks_diff(self.done_at, time.ticks_ms()) > 0 or r.seen(self.slot) == r.FAULT_BUSY:
            return
        self.done_at = None
        if self.registers[0] & 0x20:
            code = max(0, min(32767, math.floor(self.ratio() * 32768 + 0.5)))
            if code >= self.limit(3):
                self.registers[7] |= 0x80
            if code <= self.limit(5):
                self.registers[7] |= 0x40
            if r.seen(self.slot) == r.FAULT_VOLTAGE:
                self.registers[7] |= 0x04
            latched = 1 if self.registers[7] else 0
            self.registers[1], self.registers[2] = code >> 7, code << 1 & 255 | latched
        elif r.seen(self.slot) == r.FAULT_OPEN:
            self.registers[7] |= 0x20
        elif r.seen(self.slot) == r.FAULT_SHORT:
            self.registers[7] |= 0x08
        self.registers[0] &= ~0x2C

    def write_config(self, value):
        """Write the configuration register, whose bits start, cycle and clear."""
        if value & 0x02 and not value & 0x2C:
            self.registers[7] = 0
            self.registers[2] &= 0xFE
        self.registers[0] = value & ~0x02 & 0xFF
        if value & 0x80 and value & 0x2C:
            self.done_at = time.ticks_ms() + (63 if value & 0x20 else 1)

    def transfer(self, out, into):
        """One transfer while selected: an address, then consecutive registers."""
        r.look()
        mishap()
        if take_fault(self.slot, r.FAULT_POWER) or r.seen(self.slot) == r.FAULT_FLICKER:
            self.power_on()
        self.finish()
        address = out[0] & 0x7F
        for place in range(1, len(out)):
            register = address + place - 1 & 7
            if out[0] & 0x80:
                if register == 0:
                    self.write_config(out[place])
                elif 3 <= register <= 6:
                    self.registers[register] = out[place]
            elif into is not None:
                into[place] = self.line(self.registers[register])

    def line(self, byte):
        """The byte as the master reads it."""
        stuck = r.seen(r.SLOT_DATA_LINE)
        if r.seen(self.slot) == r.FAULT_GONE or stuck == r.LINE_HIGH:
            return 255
        return 0 if stuck == r.LINE_LOW else byte


class Divider:
    """An NTC to ground with a resistor to the supply, at a twelve-bit converter."""

    def __init__(self, row):
        self.sensor, self.series_ohm, self.r25_ohm, self.beta = row[0], row[2], row[3], row[4]

    def read_12(self):
        r.look()
        mishap()
        fault = r.seen(r.SLOT_FAULT + self.sensor)
        if fault in (r.FAULT_OPEN, r.FAULT_GONE):
            return 4095
        if fault == r.FAULT_SHORT:
            return 0
        kelvin = r.seen(r.SLOT_VALUE_MC + self.sensor) / 1000 + 273.15
        ohm = self.r25_ohm * math.exp(self.beta * (1 / kelvin - 1 / 298.15))
        return math.floor(4095 * ohm / (ohm + self.series_ohm) + 0.5)


class Ssd1306:
    """A display: memory of 128 columns by 8 pages, and horizontal addressing."""

    def __init__(self, address):
        self.address = address
        self.memory = bytearray(1024)
        self.commands = bytearray()
        self.column = self.page = 0
        self.writes = 0

    def write(self, data):
        """One write: a control byte, then commands or memory."""
        if data[0] == 0x00:
            self.commands.extend(data[1:])
            if data[1] == 0x21:
                self.column, self.page = data[2], data[5]
        else:
            self.writes += 1
            for byte in data[1:]:
                self.memory[128 * self.page + self.column] = byte
                self.column = self.column + 1 & 127
                self.page = self.page + (self.column == 0) & 7

    def shows(self):
        """Whether the program has switched it on."""
        return bytes(self.commands).find(b"\xaf") >= 0


def mishap():
    """Raise or hang if the host has asked for it."""
    kind = r.peek(r.SLOT_MISHAP)
    if kind == r.MISHAP_RAISE:
        raise RuntimeError("sensor chip raised, put in by the host")
    while kind == r.MISHAP_HANG:
        time.sleep_ms(100)


r.look()
wire = Wire([Ds18b20(place) for place in range(SENSORS) if place != COLLECTOR])
rtd = Max31865(board.RTD) if board.RTD else None
dividers = {row[1]: Divider(row) for row in board.NTC}
oled = Ssd1306(0x3C if board.DISPLAY else -1)
