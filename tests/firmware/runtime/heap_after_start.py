"""Weighs the started firmware: real port, store and loop, on a chip made of plain objects.

Arguments: folder of the compiled firmware, a board's data file (not read: board.mpy lies in that
folder), a file to write (stays empty). Prints one JSON document, in bytes.
"""

import gc
import json
import sys

FOLDER = sys.argv[1]


class Anything:
    """A peripheral that accepts every call."""

    IN = OUT = IRQ_FALLING = PULL_UP = OPEN_DRAIN = PWRON_RESET = 1
    POLLIN = POLLOUT = 1
    # How often something was written to a display.
    shown = 0

    def __init__(self, *arguments, **named):
        pass

    def value(self, level=None):
        return 1 if level is None else None

    def __call__(self, level=None):
        return None

    def write(self, data):
        pass

    def writeto(self, address, data):
        Anything.shown += 1

    def write_readinto(self, out, into):
        pass

    def reset(self):
        return False

    def register(self, stream, mask):
        pass

    def feed(self):
        pass


class Module:
    """A module of a chip."""

    Pin = SPI = I2C = ADC = WDT = OneWire = Anything
    PWRON_RESET = POLLIN = POLLOUT = 1
    poll = Anything

    @staticmethod
    def reset_cause():
        return 1


for name in ("machine", "onewire", "select"):
    sys.modules[name] = Module
sys.path.insert(0, FOLDER)
gc.collect()
before = gc.mem_alloc()

import board  # noqa: E402
from twinloop.loop import Loop  # noqa: E402
from twinloop.port import Port  # noqa: E402
from twinloop.store import Store  # noqa: E402

loop = Loop(Port(board), Store("/tmp/"))
open(sys.argv[3], "w").close()
gc.collect()


def finish():
    """Weigh what is left; the 32-bit build collects garbage before it calls this."""
    gc.collect()
    print(json.dumps({"started": gc.mem_alloc() - before, "display": Anything.shown > 0}))


if sys.platform != "webassembly":
    finish()
