"""A Pt1000 or Pt100 on a MAX31865: one conversion per step, checked against the chip's registers.

All eight registers come in one burst. A result is believed if configuration and limits are still
the ones written (a brown-out resets them), the conversion has ended (its bit clears itself), and no
fault is latched. Now and then a fault cycle takes the place of a conversion.
source: MAX31865 data sheet (registers, commands); resistance to temperature by IEC 60751, inverted
beforehand.
"""

from ..control import state as s

WRITE = 0x80
BIAS = 0x80
ONE_SHOT = 0x20
THREE_WIRE = 0x10
FAULT_CYCLE = 0x04
BUSY = 0x2C
CLEAR = 0x02
FILTER_50_HZ = 0x01
KEPT = BIAS | 0x40 | THREE_WIRE | FILTER_50_HZ

FAULT_HIGH = 0x80
FAULT_BIAS_HIGH = 0x20
FAULT_VOLTAGE = 0x04
# Conversions from one fault cycle to the next.
CYCLE_EVERY = 60
# A chip whose conversion takes this many steps is broken; a live one needs one.
BUSY_TOP = 5

NOTHING_ASKED = 0
CONVERSION_ASKED = 1
CYCLE_ASKED = 2

# Ratio of resistance to that at 0 C, in 1/65536: the table begins at 0.75 with a step of 1/32.
RATIO_FIRST = 49152
RATIO_SHIFT = 11
TABLE_MC = (
    -63329,
    -55487,
    -47623,
    -39736,
    -31829,
    -23901,
    -15953,
    -7986,
    0,
    8005,
    16030,
    24073,
    32136,
    40218,
    48320,
    56441,
    64583,
    72744,
    80926,
    89128,
    97350,
    105593,
    113857,
    122141,
    130447,
    138774,
    147123,
    155493,
    163885,
    172298,
    180734,
    189192,
    197673,
    206176,
    214702,
    223251,
    231824,
    240419,
    249038,
    257681,
    266348,
    275039,
)
# The chip's own limits as the same ratio: 0.78 is -55.7 C, 1.97 is 258.1 C. Beyond them is a short
# or an open sensor.
RATIO_SHORT = 51118
RATIO_OPEN = 129106


def ratio_mc(ratio):
    """Millidegrees Celsius at a resistance ratio in 1/65536, within 5 mK of IEC 60751.

    Ratios from 49152 to 131071 are -63 to 266 C.
    """
    place = ratio - RATIO_FIRST
    row = place >> RATIO_SHIFT
    part = place & (1 << RATIO_SHIFT) - 1
    return TABLE_MC[row] + ((TABLE_MC[row + 1] - TABLE_MC[row]) * part >> RATIO_SHIFT)


class Max31865:
    """One chip. `spi` has write_readinto(out, into) and write(out), mode 1, at most 5 MHz.

    `select` is called with 0 and 1. `reference_ohm` is the chip's reference resistor, `nominal_ohm`
    the sensor's resistance at 0 C (four times as much is a common reference); `wires` is 2, 3 or 4;
    `mains_hz` 50 or 60. `mc` is the value of the last read() that returned CAUSE_NONE.
    """

    def __init__(self, spi, select, reference_ohm, nominal_ohm, wires, mains_hz):
        self.spi = spi
        self.select = select
        self.reference_ohm = reference_ohm
        self.nominal_ohm = nominal_ohm
        self.config = BIAS | (THREE_WIRE if wires == 3 else 0) | (FILTER_50_HZ if mains_hz == 50 else 0)
        self.high = self.limit(RATIO_OPEN)
        self.low = self.limit(RATIO_SHORT)
        self.out = bytearray(9)
        self.registers = bytearray(9)
        self.short = bytearray(2)
        self.limits = bytearray(5)
        self.asked = NOTHING_ASKED
        self.busy = 0
        self.conversions = 0
        self.mc = 0

    def limit(self, ratio):
        """A threshold register: the code of a ratio, shifted past the fault bit."""
        return (ratio >> 1) * self.nominal_ohm // self.reference_ohm << 1

    def write_config(self, extra):
        """Write the configuration register."""
        self.short[0] = WRITE
        self.short[1] = self.config | extra
        self.send(self.short)

    def send(self, data):
        """One write to the chip."""
        self.select(0)
        self.spi.write(data)
        self.select(1)

    def program(self):
        """Write limits and configuration, which power-on resets."""
        self.limits[0] = WRITE | 3
        self.limits[1] = self.high >> 8
        self.limits[2] = self.high & 255
        self.limits[3] = self.low >> 8
        self.limits[4] = self.low & 255
        self.send(self.limits)
        self.write_config(CLEAR)
        self.asked = NOTHING_ASKED
        self.busy = 0

    def fetch(self):
        """Read all registers: configuration 1, result 2 and 3, limits 4 to 7, faults 8."""
        self.select(0)
        self.spi.write_readinto(self.out, self.registers)
        self.select(1)

    def absent(self):
        """Whether the data line is dead: all zeros or all ones, which no live chip answers."""
        for place in range(2, 9):
            if self.registers[place] != self.registers[1]:
                return False
        return self.registers[1] in (0, 255)

    def programmed(self):
        """Whether configuration and limits are still the ones written."""
        seen = self.registers
        if seen[1] & KEPT != self.config or seen[4] << 8 | seen[5] != self.high:
            return False
        return seen[6] << 8 | seen[7] == self.low

    def fault_cause(self):
        """The latched fault as a cause; the latch is cleared, and a lasting fault comes back."""
        fault = self.registers[8]
        self.write_config(CLEAR)
        self.asked = NOTHING_ASKED
        if fault & FAULT_VOLTAGE or fault & 0xFC == 0:
            return s.CAUSE_CHIP
        return s.CAUSE_OPEN if fault & (FAULT_HIGH | FAULT_BIAS_HIGH) else s.CAUSE_SHORT

    def ask(self):
        """Start the next conversion, or the fault cycle when it is due."""
        self.conversions += 1
        if self.conversions >= CYCLE_EVERY:
            self.conversions = 0
            self.write_config(FAULT_CYCLE)
            self.asked = CYCLE_ASKED
        else:
            self.write_config(ONE_SHOT)
            self.asked = CONVERSION_ASKED

    def take(self):
        """Turn a conversion's result into mc; returns a cause."""
        code = (self.registers[2] << 8 | self.registers[3]) >> 1
        # 32767 times 2 times 4300 ohm stays below 2 to the power of 30.
        ratio = code * 2 * self.reference_ohm // self.nominal_ohm
        if ratio >= RATIO_OPEN:
            return s.CAUSE_OPEN
        if ratio <= RATIO_SHORT:
            return s.CAUSE_SHORT
        self.mc = ratio_mc(ratio)
        return s.CAUSE_NONE

    def read(self):
        """The last conversion as a cause, and mc when that is CAUSE_NONE; starts the next one."""
        self.fetch()
        if self.absent():
            self.program()
            return s.CAUSE_SILENT
        if not self.programmed():
            self.program()
            return s.CAUSE_POWER_ON
        if self.registers[1] & BUSY:
            self.busy += 1
            return s.CAUSE_NOT_READY if self.busy < BUSY_TOP else s.CAUSE_CHIP
        self.busy = 0
        if self.registers[8] & 0xFC or self.registers[3] & 1:
            return self.fault_cause()
        cause = self.take() if self.asked == CONVERSION_ASKED else s.CAUSE_NOT_READY
        self.ask()
        return cause
