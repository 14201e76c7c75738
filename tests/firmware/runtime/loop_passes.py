"""Weighs turns of the firmware's loop on MicroPython, with a port that uses no heap.

Arguments: firmware folder, a file that is not read, a file to write (stays empty), "total", "lock"
(see replay.py). Prints one JSON document: turns, steps of the station, relays at the end, and what
the turns took from the heap, in silence, and with a flash that refuses and bytes that never end a
line.
"""

import gc
import json
import sys
import time

import micropython

sys.path.insert(0, sys.argv[1])

from twinloop.control import settings as cfg  # noqa: E402
from twinloop.control import state as s  # noqa: E402
from twinloop.drivers.relays import RelayBank  # noqa: E402
from twinloop.loop import Loop  # noqa: E402
from twinloop.store import probe_rows  # noqa: E402

TURNS = 1000
TURN_MS = 250
# Long enough for the event log's first write, which is not part of a silent pass, and for the fan's
# rest.
WARM_UP = 500
SUNNY_MC = (60000, 30000, 35000, 55000, 40000, 20000, 30000, 52000, 40000, 15000)
# A stray byte: kept up to the length of a line, never answered.
STRAY = 46


class QuietPin:
    """A pin that keeps its level."""

    def __init__(self):
        self.level = 0

    def value(self, level=None):
        if level is None:
            return self.level
        self.level = level
        return None


class QuietPort:
    """The port that loop.py needs, in plain memory."""

    name = "quiet"
    interpreter = "micropython"
    period_ms = 1000
    folder = sys.argv[1]
    start_cause = 1

    def __init__(self):
        self.now = 0
        self.byte = -1
        self.fed = 0
        self.ticks_diff = time.ticks_diff
        pins = [QuietPin() for _ in range(s.OUTPUTS)]
        self.relay_count = len(pins)
        self.relays = RelayBank(pins, [1] * s.OUTPUTS, [0] * s.OUTPUTS, self.ticks_ms, time.ticks_diff, 3000)
        self.drive = self.relays.drive
        self.renew = self.relays.renew
        self.tend = self.relays.tend
        self.safe = self.relays.safe
        self.astray = self.relays.astray
        self.driven = self.relays.on
        self.rest = self.relays.rest
        self.rested = self.relays.rested

    def ticks_ms(self):
        return self.now

    def read_sensors(self, inputs):
        for sensor in range(s.SENSORS):
            inputs[s.IN_RAW_MC + sensor] = SUNNY_MC[sensor]
            inputs[s.IN_RAW_CAUSE + sensor] = s.CAUSE_NONE
        inputs[s.IN_FLOW_CAUSE] = s.CAUSE_SILENT

    def fit(self, sensor, rom, offset_mk):
        pass

    def show(self, state, bench):
        pass

    def feed(self):
        self.fed += 1

    def read_byte(self):
        byte = self.byte
        self.byte = -1
        return byte

    def write(self, line):
        return True

    def idle(self):
        pass

    def woke_by_watchdog(self):
        return False

    def on_bench(self):
        return True


class QuietStore:
    """A store that is empty and keeps nothing."""

    sequence = 0
    failing = 0
    defaulted = ()

    def load_settings(self, values):
        cfg.load_defaults(values)
        values[cfg.DUMP_TRAVEL] = 1000
        values[cfg.AIR_HEATER] = 1
        values[cfg.SUMMER_ABOVE] = 40000
        return 0

    def in_service(self):
        return False

    def load_probes(self):
        return probe_rows()

    def load_meter(self, state):
        pass

    def finish_restore(self):
        pass

    def confirm(self, values):
        pass

    def append_log(self, body):
        return True

    def take_planned(self):
        return False

    def resets(self):
        return b"\0\0"

    def save_resets(self, count, moved):
        pass


def pass_turns(loop, port, count, byte):
    """Turn the loop, 250 ms each; `byte` arrives before every turn unless it is -1."""
    for _ in range(count):
        port.now = time.ticks_add(port.now, TURN_MS)
        port.byte = byte
        loop.turn()


def bytes_taken(loop, port, byte):
    """Bytes that the turns took from the heap."""
    mem_total = micropython.mem_total
    first = mem_total()
    second = mem_total()
    pass_turns(loop, port, TURNS, byte)
    return mem_total() - second - (second - first)


def refused(loop, port, byte):
    """1 when a turn needed memory from the locked heap."""
    failed = 0
    gc.collect()
    micropython.heap_lock()
    try:
        pass_turns(loop, port, TURNS, byte)
    except MemoryError:
        failed = 1
    finally:
        micropython.heap_unlock()
    return failed


WAYS = {"total": bytes_taken, "lock": refused}


def main(way):
    """Weigh both kinds of turns and print the result."""
    port = QuietPort()
    loop = Loop(port, QuietStore())
    pass_turns(loop, port, WARM_UP, STRAY)
    loop.length = 0
    fed = port.fed
    silent = WAYS[way](loop, port, -1)
    # The flash refuses from here on: an alarm, and no write is due in these passes.
    loop.store.failing = 1
    stray = WAYS[way](loop, port, STRAY)
    on = [pin.level for pin in port.relays.pins]
    print(json.dumps({"turns": 2 * TURNS, "steps": port.fed - fed, "silent": silent, "stray": stray, "relays": on}))


open(sys.argv[3], "w").close()
main(sys.argv[4])
