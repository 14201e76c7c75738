"""One light that says how the station is, readable from across the room and without a display.

Even blinking: on the bench. A short flash every two seconds: in service and well. Three short flashes: something wants to be
looked at. Fast flicker: stopped by a fault. Dark or steady: the program does not run.
"""

SLOT_MS = 100
SLOTS = 20
# One bit a slot of 100 ms, the first slot in the lowest bit.
BENCH = 0b00000111110000011111
WELL = 0b00000000000000000001
LOOK = 0b00000000000000010101
STOPPED = 0b01010101010101010101


class StatusLed:
    """`pin` has value(level), `active` is the level that lights it; `ticks_ms` and `ticks_diff` are the port's clock."""

    def __init__(self, pin, active, ticks_ms, ticks_diff):
        self.pin = pin
        self.active = active
        self.ticks_ms = ticks_ms
        self.ticks_diff = ticks_diff
        self.pattern = BENCH
        self.slot = 0
        self.since = ticks_ms()

    def show(self, bench, alarm, stopped):
        """Choose what to say; the gravest wins."""
        if stopped:
            self.pattern = STOPPED
        elif alarm:
            self.pattern = LOOK
        else:
            self.pattern = BENCH if bench else WELL

    def tend(self):
        """Light or darken the light when its time has come; a late call only makes the rhythm slower."""
        if self.ticks_diff(self.ticks_ms(), self.since) < SLOT_MS:
            return
        self.since = self.ticks_ms()
        self.slot = self.slot + 1 if self.slot < SLOTS - 1 else 0
        lit = self.pattern >> self.slot & 1
        self.pin.value(self.active if lit else 1 - self.active)
