"""The relay bank: unless the lease is renewed in time, every relay falls to its safe state.

The lease runs on the port's own clock, never on injected time. Safe is without power for every
output of the station; what an output does without power is decided at the relay, by its contacts.
An output whose contacts are closed at rest is on without power.

Each pin is read back and compared with its command. A pin that does not follow is shorted, or its
chip has lost its configuration.
"""

# A host that injects too fast must not wear out a relay: none is switched on this soon after any
# was switched.
PAUSE_MS = 2000
# How long to watch a contact after its relay was switched: small relays are at rest within 25 ms
# (common practice).
WATCH_US = 60000
# This many looks in a row may differ: the first may fall between writing and rising.
DIFFERS_TOP = 3


class RelayBank:
    """Relays in the order of the outputs, under one lease.

    `pins` are objects with `value(level)`, fewer than outputs where the last has no relay; `active`
    the level that energises each, `rest` the command that each follows without power; `ticks_ms`
    and `ticks_diff` are the port's clock; `lease_ms` is how long the commands hold. `on` is what
    each relay was last driven to; an output without a relay stays at rest.
    """

    def __init__(self, pins, active, rest, ticks_ms, ticks_diff, lease_ms):
        self.pins = pins
        self.active = active
        self.rest = rest
        self.ticks_ms = ticks_ms
        self.ticks_diff = ticks_diff
        self.lease_ms = lease_ms
        self.renewed = self.moved = ticks_ms()
        self.moving = False
        self.on = bytearray(rest)
        self.expired = 0
        self.differs = 0
        self.safe()

    def level(self, output):
        """The level of a pin that follows its command."""
        return self.active[output] if self.on[output] != self.rest[output] else 1 - self.active[output]

    def drive(self, output, on):
        """Switch one output on or off."""
        if output >= len(self.pins):
            return
        if on != self.on[output]:
            self.on[output] = on
            self.moved = self.ticks_ms()
            self.moving = True
        self.pins[output].value(self.level(output))

    def renew(self):
        """Let the commands hold for another lease."""
        self.renewed = self.ticks_ms()

    def safe(self):
        """Put every relay in its safe state."""
        for output in range(len(self.pins)):
            self.drive(output, self.rest[output])

    def past(self, ticks, limit_ms):
        """Whether a time is over; a negative difference is one not looked at for days."""
        return not 0 <= self.ticks_diff(self.ticks_ms(), ticks) < limit_ms

    def rested(self):
        """Whether no relay was switched in the last PAUSE_MS."""
        if self.moving and self.past(self.moved, PAUSE_MS):
            self.moving = False
        return not self.moving

    def tend(self):
        """Let every relay go once the lease is over."""
        self.rested()
        if not self.past(self.renewed, self.lease_ms + 1):
            return
        self.renewed = self.ticks_ms()
        for output in range(len(self.pins)):
            if self.on[output] != self.rest[output]:
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
        return self.pins[output].value() == self.level(output)


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
