"""A flow switch or pulse meter in the roof loop, at a pin with a pull-up and a contact to ground.

A switch says whether anything flows. A meter's pulses are counted as they come and turned into a
flow every few seconds. A dead meter looks like a pipe without flow: the core tells them apart by
temperatures.
"""

from ..control import state as s

WINDOW_MS = 5000
# A window that stayed open longer says nothing about the flow now.
WINDOW_TOP_MS = 60000
# More in one window is noise on the cable; below this, every product stays a small integer.
PULSES_TOP = 10000


class FlowInput:
    """`pin` has value(), and irq(handler, trigger) for a meter.

    `falling` is the chip's number for a falling edge. `pulses_per_litre` is 0 for a switch.
    `ticks_ms` and `ticks_diff` are the port's clock. After read(), `ml_per_min` is the flow, or 1
    and 0 for a switch.
    """

    def __init__(self, pin, pulses_per_litre, falling, ticks_ms, ticks_diff):
        self.pin = pin
        self.pulses_per_litre = pulses_per_litre
        self.ticks_ms = ticks_ms
        self.ticks_diff = ticks_diff
        self.pulses = 0
        self.since = ticks_ms()
        self.ml_per_min = 0
        self.cause = s.CAUSE_NOT_READY
        if pulses_per_litre:
            pin.irq(handler=self.count, trigger=falling)

    def count(self, _):
        """Count one pulse."""
        if self.pulses <= PULSES_TOP:
            self.pulses += 1

    def read(self):
        """A cause, and ml_per_min when that is CAUSE_NONE."""
        if self.pulses_per_litre == 0:
            self.ml_per_min = 1 if self.pin.value() == 0 else 0
            return s.CAUSE_NONE
        passed = self.ticks_diff(self.ticks_ms(), self.since)
        if not 0 <= passed < WINDOW_MS:
            self.cause = self.close_window(passed)
        return self.cause

    def close_window(self, passed):
        """Turn the window's pulses into a flow and begin the next window; returns a cause."""
        pulses = self.pulses
        self.pulses = 0
        self.since = self.ticks_ms()
        # While readings are injected nobody reads, for days even: then the clock may have wrapped.
        if not 0 <= passed <= WINDOW_TOP_MS:
            return s.CAUSE_NOT_READY
        if pulses > PULSES_TOP:
            return s.CAUSE_CHIP
        self.ml_per_min = pulses * 60000 // passed * 1000 // self.pulses_per_litre
        return s.CAUSE_NONE
