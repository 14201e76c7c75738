"""The relay bank: unless the lease is renewed in time, every relay falls to its safe state.

The lease runs on the port's own clock, never on injected time. Safe is without power for every
output of the station; what an output does without power is decided at the relay, by its contacts.

Each pin is read back and compared with its command. A pin that does not follow is shorted, or its
chip has lost its configuration.
"""

# How long to watch a contact after its relay was switched: small relays are at rest within 25 ms
# (common practice).
WATCH_US = 60000
# This many looks in a row may differ: the first may fall between writing and rising.
DIFFERS_TOP = 3


class RelayBank:
    """Relays in the order of the outputs, under one lease.

    `pins` are objects with `value(level)`, `active` the level that energises each; `ticks_ms` and
    `ticks_diff` are the port's clock; `lease_ms` is how long the commands hold.
    """

    def __init__(self, pins, active, ticks_ms, ticks_diff, lease_ms):
        self.pins = pins
        self.active = active
        self.ticks_ms = ticks_ms
        self.ticks_diff = ticks_diff
        self.lease_ms = lease_ms
        self.renewed = ticks_ms()
        self.on = bytearray(len(pins))
        self.expired = 0
        self.differs = 0
        self.safe()

    def drive(self, output, on):
        """Energise one relay or let it go."""
        self.on[output] = on
        self.pins[output].value(self.active[output] if on else 1 - self.active[output])

    def renew(self):
        """Let the commands hold for another lease."""
        self.renewed = self.ticks_ms()

    def safe(self):
        """Put every relay in its safe state."""
        for output in range(len(self.pins)):
            self.drive(output, 0)

    def tend(self):
        """Let every relay go once the lease is over."""
        if self.ticks_diff(self.ticks_ms(), self.renewed) <= self.lease_ms:
            return
        self.renewed = self.ticks_ms()
        for output in range(len(self.pins)):
            if self.on[output]:
                self.expired += 1
                self.safe()
                return

    def astray(self):
        """The relay whose pin does not follow, -1 for none.

        Some relay has to be astray for several looks in a row.
        """
        for output in range(len(self.pins)):
            if not self.follows(output):
                self.differs += 1
                return output if self.differs >= DIFFERS_TOP else -1
        self.differs = 0
        return -1

    def follows(self, output):
        """Whether a pin reads what was commanded."""
        told = self.active[output] if self.on[output] else 1 - self.active[output]
        return self.pins[output].value() == told


class ReadBack:
    """Wires from the relays' contacts back to inputs, for the bench.

    A closed contact pulls its input to ground. `pins` are objects with `value()` in the order of
    the outputs; `ticks_us` and `ticks_diff` are the port's clock. `watch` leaves `first_us` and
    `last_us`, when the contact first moved and when it came to rest (-1 if it did not move), and
    `edges`, how often it moved.
    """

    def __init__(self, pins, ticks_us, ticks_diff):
        self.pins = pins
        self.ticks_us = ticks_us
        self.ticks_diff = ticks_diff
        self.first_us = -1
        self.last_us = -1
        self.edges = 0

    def closed(self):
        """The closed contacts, one bit per output."""
        bits = 0
        for output in range(len(self.pins)):
            if self.pins[output].value() == 0:
                bits |= 1 << output
        return bits

    def watch(self, output, was):
        """Watch one contact, `was` its level before its relay was switched; blocks for WATCH_US."""
        begin = self.ticks_us()
        self.first_us = self.last_us = -1
        self.edges = 0
        pin = self.pins[output]
        passed = 0
        while passed < WATCH_US:
            seen = pin.value()
            passed = self.ticks_diff(self.ticks_us(), begin)
            if seen != was:
                was = seen
                self.edges += 1
                self.last_us = passed
                if self.first_us < 0:
                    self.first_us = passed
