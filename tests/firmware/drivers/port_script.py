"""Weighs passes of the real port and loop on MicroPython's Unix port, with fake chips.

Argument: firmware folder. Prints bytes taken from the heap by some passes, how many of them made a
step, and what was read.
"""

import json
import sys
import time

sys.path.insert(0, sys.argv[1])

import micropython  # noqa: E402
from twinloop.control import settings as cfg  # noqa: E402
from twinloop.control import state as s  # noqa: E402

PASSES_MS = 1200


class Pin:
    """A pin that keeps its level."""

    IN = OUT = PULL_UP = IRQ_FALLING = 1

    def __init__(self, number, mode=None, pull=None, value=1):
        self.level = value

    def value(self, level=None):
        if level is None:
            return self.level
        self.level = level
        return None

    def __call__(self, level):
        self.level = level


class Spi:
    """A chip that reads all zeros."""

    def __init__(self, *arguments, **named):
        pass

    def write(self, out):
        pass

    def write_readinto(self, out, into):
        for place in range(len(into)):
            into[place] = 0


class I2c:
    """A display that accepts everything."""

    def __init__(self, *arguments, **named):
        pass

    def writeto(self, address, data):
        pass


class Wdt:
    """A watchdog."""

    def __init__(self, timeout):
        self.fed = 0

    def feed(self):
        self.fed += 1


class Machine:
    """The module `machine`."""

    Pin = Pin
    SPI = Spi
    I2C = I2c
    WDT = Wdt
    PWRON_RESET = 1

    @staticmethod
    def reset_cause():
        return 1


class OneWire:
    """A bus without chips."""

    def __init__(self, pin):
        pass

    def reset(self):
        return False


class OneWireModule:
    """The module `onewire`."""

    OneWire = OneWire


sys.modules["machine"] = Machine
sys.modules["onewire"] = OneWireModule

from twinloop.loop import Loop  # noqa: E402
from twinloop.port import Port  # noqa: E402
from twinloop.store import probe_rows  # noqa: E402


class Board:
    """A board with everything fitted and quick steps."""

    NAME = "quiet"
    PERIOD_MS = 40
    LEASE_MS = 3000
    WATCHDOG_MS = 4000
    RELAYS = ((1, 1), (2, 1), (3, 0), (4, 1))
    READ_BACK = None
    BENCH_JUMPER = 5
    STATUS_LED = (6, 1)
    ONE_WIRE = 7
    RTD = {"bus": 0, "clock": 8, "to_chip": 9, "from_chip": 10, "select": 11}
    NTC = ()
    FLOW = (15, 0)
    DISPLAY = {"bus": 0, "clock": 12, "data": 13, "button": 14}


Board.RTD.update({"reference_ohm": 4000, "nominal_ohm": 1000, "wires": 2, "mains_hz": 50})


class Store:
    """A store that keeps nothing."""

    sequence = 0
    failing = 0
    defaulted = ()

    def load_settings(self, values):
        cfg.load_defaults(values)
        return 0

    def load_probes(self):
        return probe_rows()

    def in_service(self):
        return True

    def resets(self):
        return b"\0\0"

    def save_resets(self, count, moved):
        pass

    def load_meter(self, state):
        pass

    def take_planned(self):
        return False

    def finish_restore(self):
        pass

    def confirm(self, values):
        pass

    def append_log(self, body):
        return True


def passes(loop):
    begin = time.ticks_ms()
    while time.ticks_diff(time.ticks_ms(), begin) < PASSES_MS:
        loop.turn()


port = Port(Board)
loop = Loop(port, Store())
passes(loop)
fed = port.watchdog.fed
total = micropython.mem_total
first = total()
second = total()
passes(loop)
taken = total() - second - (second - first)
print(json.dumps({"taken": taken, "steps": port.watchdog.fed - fed, "causes": list(loop.state[s.CAUSE : s.CAUSE + 2])}))
