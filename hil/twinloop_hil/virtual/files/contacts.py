"""The relays at the virtual board's pins, with their contacts wired back to inputs."""

import time

from registers import CONTACT_BURNT, CONTACT_CHATTERS, CONTACT_WELDED, SLOT_CONTACT, peek
from soldered import CONTACT_AT


# source: common practice of small relays: 7 ms to close, 1 ms of bouncing, 4 ms to open
class Contact:
    """A relay contact wired back to an input: follows the coil after a delay, and bounces."""

    def __init__(self, output, rest):
        self.output = output
        self.rest = self.on = rest
        self.moved_us = time.ticks_us() - 1000000

    def coil(self, level):
        on = level ^ self.rest
        if on != self.on:
            self.on = on
            self.moved_us = time.ticks_us()

    def value(self):
        """Level of the input: 0 for a closed contact."""
        fault = peek(SLOT_CONTACT + self.output)
        if fault == CONTACT_WELDED:
            return 0
        if fault == CONTACT_BURNT:
            return 1
        passed_us = time.ticks_diff(time.ticks_us(), self.moved_us)
        bouncing_us = 20000 if fault == CONTACT_CHATTERS else 1000
        if not self.on:
            return 1 if passed_us >= 4000 else 0
        if passed_us < 7000:
            return 1
        return 0 if passed_us >= 7000 + bouncing_us else (passed_us - 7000) // 250 & 1


contacts = {}
coils = {}
for output, (coil_pin, contact_pin, rest) in enumerate(CONTACT_AT):
    contacts[contact_pin] = coils[coil_pin] = Contact(output, rest)
