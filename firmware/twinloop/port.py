"""The real board's port: pins, clock, watchdog, flash and console of the chip that MicroPython runs on.

What differs from board to board is data, in the `board` module that is put beside main.py.
"""

import select
import sys
import time

import machine

import twinloop

from .drivers.relays import RelayBank


class Port:
    """See loop.py for what a port has to offer."""

    def __init__(self, board):
        self.name = board.NAME
        self.period_ms = board.PERIOD_MS
        self.interpreter = ".".join([str(part) for part in sys.implementation[1][:3]])
        self.folder = twinloop.__path__ if isinstance(twinloop.__path__, str) else twinloop.__path__[0]
        self.ticks_ms = time.ticks_ms
        self.ticks_diff = time.ticks_diff
        pins = [machine.Pin(number, machine.Pin.OUT, value=1 - active) for number, active in board.RELAYS]
        active = [level for number, level in board.RELAYS]
        self.relays = RelayBank(pins, active, time.ticks_ms, time.ticks_diff, board.LEASE_MS)
        self.drive = self.relays.drive
        self.renew = self.relays.renew
        self.tend = self.relays.tend
        self.safe = self.relays.safe
        self.read_sensors = board.make_sensors()
        self.watched = machine.reset_cause() == machine.WDT_RESET
        self.jumper = machine.Pin(board.BENCH_JUMPER, machine.Pin.IN, machine.Pin.PULL_UP)
        # The console is read byte by byte and unbuffered: text reads wait for whole characters, line reads for whole lines.
        self.console = sys.stdin.buffer
        self.out = sys.stdout.buffer
        self.inward = select.poll()
        self.inward.register(sys.stdin, select.POLLIN)
        self.outward = select.poll()
        self.outward.register(sys.stdout, select.POLLOUT)
        self.byte = bytearray(1)
        # A terminal's interrupt key is noise here: no cable may stop the station.
        machine_quiet()
        self.watchdog = machine.WDT(timeout=board.WATCHDOG_MS)

    def feed(self):
        """The last step was good."""
        self.watchdog.feed()

    def read_byte(self):
        """The next byte, or -1 when there is none now."""
        for _, event in self.inward.ipoll(0):
            if event & select.POLLIN and self.console.readinto(self.byte):
                return self.byte[0]
        return -1

    def write(self, line):
        """Send a line if there is room for it, else drop it: a host that does not read may not hold up the station."""
        for _, event in self.outward.ipoll(0):
            if event & select.POLLOUT:
                return self.out.write(line) == len(line)
        return False

    def idle(self):
        """Wait for a byte, at most a moment; a console without a host says so at once, so then sleep."""
        for _, event in self.inward.ipoll(20):
            if not event & select.POLLIN:
                time.sleep_ms(20)

    def reset(self):
        """Restart the chip."""
        machine.reset()

    def woke_by_watchdog(self):
        """Whether the last start was not a power-on: a watchdog bite, or our own restart after a fault."""
        return self.watched

    def on_bench(self):
        """Whether the bench jumper is set, pin to ground."""
        return self.jumper.value() == 0

    def random(self):
        """A number for a new session; the time since power-on is random enough to tell two hosts apart."""
        return time.ticks_us() & 0x3FFFFFFF


def machine_quiet():
    """Take the interrupt key from the console where the interpreter has one."""
    import micropython

    micropython.kbd_intr(-1)
