"""MicroPython's machine module for the virtual board; virtual_chips.py has the chips."""

import time

import registers as r
from contacts import coils, contacts
from registers import PWRON_RESET, WDT_RESET

CAUSES = (PWRON_RESET, WDT_RESET)


class Pin:
    """A pin: the host sees its level and can hold it at a rail."""

    IN = 0
    OUT = 1
    OPEN_DRAIN = 2
    PULL_UP = 1

    def __init__(self, number, mode=IN, pull=None, value=None):
        self.number = number
        self.slot = r.SLOT_PIN + number
        if mode == Pin.OUT and value is not None:
            self.value(value)

    def value(self, level=None):
        """Read or set the level. A floating input reads its pull-up, a stuck pin its rail."""
        stuck = r.peek(r.SLOT_PIN_STUCK + self.number)
        if level is None:
            if stuck != r.LINE_FREE:
                return 1 if stuck == r.LINE_HIGH else 0
            if self.number in contacts:
                return contacts[self.number].value()
            seen = r.peek(self.slot)
            return 1 if seen == r.PIN_FLOATING else seen
        level = level if stuck == r.LINE_FREE else stuck - 1
        r.poke(self.slot, level)
        if self.number in coils:
            coils[self.number].coil(level)
        return None

    def __call__(self, level=None):
        return self.value(level)


class SPI:
    """A bus with one chip, which gets every transfer as a whole."""

    def __init__(self, number, **mode):
        import virtual_chips

        if mode["phase"] != 1:
            raise ValueError("the chip on this bus wants mode 1 or 3")
        self.chip = virtual_chips.rtd

    def write(self, out):
        self.chip.transfer(out, None)

    def write_readinto(self, out, into):
        self.chip.transfer(out, into)


class I2C:
    """A bus with the display, or nothing, on it."""

    def __init__(self, number, scl, sda, freq):
        import virtual_chips

        self.chip = virtual_chips.oled

    def writeto(self, address, data):
        """Write to an address; OSError when no chip acknowledges."""
        if address != self.chip.address:
            raise OSError(19)
        self.chip.write(data)


class ADC:
    """A twelve-bit converter pin that reads as sixteen bits, like an RP2040's."""

    def __init__(self, pin):
        import virtual_chips

        self.divider = virtual_chips.dividers[pin.number]

    def read_u16(self):
        """The code, widened to sixteen bits."""
        code = self.divider.read_12()
        return code << 4 | code >> 8


class Timer:
    """A one-shot timer whose only effect is a restart of the chip, by the host."""

    ONE_SHOT = 0

    def __init__(self, number):
        self.number = number

    def init(self, mode, period, callback):
        """Restart the chip in `period` milliseconds, whatever the callback is."""
        r.poke(r.SLOT_TIMER_MS, period)


class WDT:
    """The watchdog: the host restarts the chip when it is not fed in time."""

    def __init__(self, timeout):
        self.fed = 0
        r.poke(r.SLOT_FED, 0)
        r.poke(r.SLOT_WATCHDOG_MS, timeout)

    def feed(self):
        self.fed = self.fed + 1 & 0xFFFFFF
        r.poke(r.SLOT_FED, self.fed)


def reset():
    """Ask the host for a restart and wait for it."""
    r.poke(r.SLOT_RESET, 1)
    while True:
        time.sleep_ms(1000)


def reset_cause():
    """Why the chip started. A restart by software counts as a watchdog reset, as on an RP2040."""
    return r.peek(r.SLOT_CAUSE_OF_START)
