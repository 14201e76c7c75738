"""The relay bank: each relay has a lease, and one that is not renewed in time falls to its safe state.

The lease runs on the port's own clock, never on injected time. Safe is without power for every output of the station; what is
without power is decided at the relay by its contacts. What each pin really reads is compared with what it was told: a pin that
does not follow is shorted or has lost its chip's configuration.
"""

# So many looks in a row a pin may differ: the first may fall between writing and rising.
DIFFERS_TOP = 3


class RelayBank:
    """Relays in the order of the outputs.

    `pins` are objects with `value(level)`, `active` the level that energises each; `ticks_ms` and `ticks_diff` are the port's
    clock; `lease_ms` is how long a command holds.
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
        """The commands hold for another lease."""
        self.renewed = self.ticks_ms()

    def safe(self):
        """Every relay to its safe state."""
        for output in range(len(self.pins)):
            self.drive(output, 0)

    def tend(self):
        """Let everything go once the lease is over."""
        if self.ticks_diff(self.ticks_ms(), self.renewed) <= self.lease_ms:
            return
        self.renewed = self.ticks_ms()
        for output in range(len(self.pins)):
            if self.on[output]:
                self.expired += 1
                self.safe()
                return

    def astray(self):
        """The relay whose pin has not read what it was told for some looks in a row, -1 while all follow."""
        for output in range(len(self.pins)):
            if not self.follows(output):
                self.differs += 1
                return output if self.differs >= DIFFERS_TOP else -1
        self.differs = 0
        return -1

    def follows(self, output):
        """Whether a pin reads what it was told."""
        told = self.active[output] if self.on[output] else 1 - self.active[output]
        return self.pins[output].value() == told
