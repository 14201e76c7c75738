"""A status light that can be read from across the room.

Even blinking: on the bench. A short flash every two seconds: in service and well. Three short
flashes: something needs attention. Fast flicker: stopped by a fault. Dark or steady: the program is
not running.
"""

SLOT_MS = 100
SLOTS = 20
# One bit per slot of 100 ms, the first slot in the lowest bit.
BENCH = 0b00000111110000011111
WELL = 0b00000000000000000001
LOOK = 0b00000000000000010101
STOPPED = 0b01010101010101010101


class StatusLed:
    """`pin` has value(level), `active` is the level that lights it.

    `ticks_ms` and `ticks_diff` are the port's clock.
    """

    def __init__(self, pin, active, ticks_ms, ticks_diff):
        self.pin = pin
        self.active = active
        self.ticks_ms = ticks_ms
        self.ticks_diff = ticks_diff
        self.pattern = BENCH
        self.slot = 0
        self.since = ticks_ms()

    def show(self, bench, alarm, stopped):
        """Choose the pattern; the gravest condition wins."""
        if stopped:
            self.pattern = STOPPED
        elif alarm:
            self.pattern = LOOK
        else:
            self.pattern = BENCH if bench else WELL

    def tend(self):
        """Switch the light when it is time; a late call only slows the rhythm."""
        if 0 <= self.ticks_diff(self.ticks_ms(), self.since) < SLOT_MS:
            return
        self.since = self.ticks_ms()
        self.slot = self.slot + 1 if self.slot < SLOTS - 1 else 0
        lit = self.pattern >> self.slot & 1
        self.pin.value(self.active if lit else 1 - self.active)
