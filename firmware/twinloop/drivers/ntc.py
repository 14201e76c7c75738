"""NTC thermistors on the chip's own converter, by the Beta equation in integers.

The divider is a fixed resistor to the supply and the thermistor to ground. It is measured against
the same supply, whose voltage need not be known. A reading near either end is a fault.

1/T = 1/T25 + ln(R/R25)/Beta, with the logarithm from a table of 32 steps and everything in 1/32768.
source: Beta equation, common in thermistor data sheets; table computed.
"""

from ..control import state as s

# ln(1 + k/32) and ln(2), in 1/32768.
LN_TABLE = (
    0,
    1008,
    1987,
    2936,
    3860,
    4757,
    5631,
    6482,
    7312,
    8121,
    8911,
    9682,
    10435,
    11171,
    11892,
    12596,
    13286,
    13962,
    14624,
    15273,
    15909,
    16533,
    17146,
    17747,
    18337,
    18917,
    19487,
    20048,
    20598,
    21140,
    21673,
    22197,
    22713,
)
LN_2 = 22713
T25_CK = 29815
ZERO_MK = 273150
SAMPLES = 16
# Below and above these per cent of full scale the divider counts as shorted or open.
RAIL_LOW = 3
RAIL_HIGH = 97


def ln_q15(number):
    """Natural logarithm of an integer from 1 to 2**23, in 1/32768, within 1/4000."""
    twos = 14
    while number >= 32768:
        number >>= 1
        twos += 1
    while number < 16384:
        number <<= 1
        twos -= 1
    # number is now 16384 to 32767 and stands for 1 to 2.
    part = number - 16384
    row = part >> 9
    rest = part & 511
    return LN_TABLE[row] + ((LN_TABLE[row + 1] - LN_TABLE[row]) * rest >> 9) + twos * LN_2


class Ntc:
    """One thermistor. `sample` returns a converter reading, `full` is the reading at the supply.

    Resistances are in ohm, `beta` in K. `mc` is the value of the last read() that returned
    CAUSE_NONE.
    """

    def __init__(self, sample, full, series_ohm, r25_ohm, beta):
        self.sample = sample
        self.full = full
        self.beta = beta
        # beta / T25 + ln(series / R25): the value of a divider at its middle.
        self.middle = beta * 32768 // T25_CK * 100 + beta * 32768 % T25_CK * 100 // T25_CK + ln_q15(series_ohm) - ln_q15(r25_ohm)
        self.mc = 0

    def mean(self):
        """Mean of some samples: a single reading of these converters is noise."""
        total = 0
        for _ in range(SAMPLES):
            total += self.sample()
        return total // SAMPLES

    def read(self):
        """A cause, and mc when that is CAUSE_NONE."""
        code = self.mean()
        if code * 100 < self.full * RAIL_LOW:
            return s.CAUSE_SHORT
        if code * 100 > self.full * RAIL_HIGH:
            return s.CAUSE_OPEN
        self.mc = self.divider_mc(code)
        return s.CAUSE_NONE

    def divider_mc(self, code):
        """Millidegrees at a divider reading: T = beta / (beta / T25 + ln(R / R25)).

        The division takes two steps, so that its numbers stay small.
        """
        below = self.middle + ln_q15(code) - ln_q15(self.full - code)
        above = self.beta << 15
        kelvin = above // below
        return kelvin * 1000 + (above - kelvin * below) * 1000 // below - ZERO_MK
