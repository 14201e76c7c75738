"""The firmware in this process: the real loop and link, on a clock that moves only when told."""

from __future__ import annotations

import random
from pathlib import Path

import twinloop
from twinloop.control import state as s
from twinloop.drivers.relays import RelayBank
from twinloop.loop import Loop
from twinloop.store import Store

from .readings import EVENING_MC

WRAP_MS = 1 << 30


class ResetRequestedError(RuntimeError):
    """The firmware has asked for a restart of its chip."""


class FakePin:
    """A pin that remembers its level."""

    def __init__(self):
        self.level = 0

    def value(self, level: int | None = None) -> int | None:
        if level is None:
            return self.level
        self.level = level
        return None


class InProcessPort:
    """The port that loop.py needs, in plain memory; the clock wraps like a board's."""

    name = "in-process"
    interpreter = "cpython"
    period_ms = 1000
    folder = str(Path(twinloop.__file__).parent)

    def __init__(self, start_ms: int = 0, watchdog_reset: bool = False, jumper: bool = False):
        self.now_ms = start_ms
        self.watchdog_reset = watchdog_reset
        self.jumper = jumper
        self.incoming = bytearray()
        self.outgoing = bytearray()
        self.values_mc = list(EVENING_MC)
        self.causes = [0] * s.SENSORS
        self.fed = 0
        self.button = False
        self.dice = random.Random(1)
        pins = [FakePin() for _ in range(s.OUTPUTS)]
        self.relays = RelayBank(pins, [1] * s.OUTPUTS, [0] * s.OUTPUTS, self.ticks_ms, self.ticks_diff, 3000)
        self.drive, self.renew = self.relays.drive, self.relays.renew
        self.tend, self.safe = self.relays.tend, self.relays.safe
        self.astray, self.rested = self.relays.astray, self.relays.rested
        self.relay_count = len(pins)
        self.driven, self.rest = self.relays.on, self.relays.rest
        self.read_back = None
        self.start_cause = 3 if watchdog_reset else 1
        self.fitted = {}

    def ticks_ms(self) -> int:
        """The clock, wrapped as on a 32-bit board."""
        return self.now_ms % WRAP_MS

    def ticks_diff(self, later: int, earlier: int) -> int:
        """Wrap-safe difference, like MicroPython's."""
        return (later - earlier + WRAP_MS // 2) % WRAP_MS - WRAP_MS // 2

    def read_sensors(self, inputs) -> None:
        for sensor in range(s.SENSORS):
            inputs[s.IN_RAW_MC + sensor] = self.values_mc[sensor]
            inputs[s.IN_RAW_CAUSE + sensor] = self.causes[sensor]
        inputs[s.IN_FLOW_CAUSE] = s.CAUSE_SILENT

    def fit(self, sensor: int, rom: bytes, offset_mk: int) -> None:
        """Remember a sensor's chip and offset; there are no chips here."""
        self.fitted[sensor] = (rom, offset_mk)

    def scan(self) -> list[tuple[bytes, int]]:
        """The chips on the bus: none."""
        return []

    def show(self, state, bench: bool) -> None:
        """There is neither a light nor a display."""

    def feed(self) -> None:
        """Count the passes that would have fed the watchdog."""
        self.fed += 1

    def read_byte(self) -> int:
        """The next byte, or -1."""
        return self.incoming.pop(0) if self.incoming else -1

    def write(self, line: bytes) -> bool:
        self.outgoing += line
        return True

    def idle(self) -> None:
        """There is nothing to wait for."""

    def reset(self) -> None:
        """Raise ResetRequestedError, for whoever drives the loop."""
        raise ResetRequestedError

    def woke_by_watchdog(self) -> bool:
        """Whether the watchdog caused the start, as the test says."""
        return self.watchdog_reset

    def on_bench(self) -> bool:
        """Whether the bench jumper is closed, as the test says."""
        return self.jumper

    def attended(self) -> bool:
        """Whether somebody is at the board, as the test says."""
        return self.jumper or self.button

    def random(self) -> int:
        """Random bits, the same in every run."""
        return self.dice.getrandbits(32)


class InProcessBoard:
    """Loop, port and store in one, and a client's transport. `folder` ends with a slash."""

    name = "in-process"

    def __init__(self, folder: str, **port_options):
        self.port = InProcessPort(**port_options)
        self.loop = Loop(self.port, Store(folder))

    def relays(self) -> tuple[int, ...]:
        """The state of the relays, one per output: 1 when energised."""
        return tuple(pin.level for pin in self.port.relays.pins)

    def pass_time(self, ms: int, turn_ms: int = 100) -> None:
        """Let the firmware's clock run, with a turn of the loop every `turn_ms`."""
        for _ in range(ms // turn_ms):
            self.port.now_ms += turn_ms
            self.loop.turn()

    def write(self, data: bytes) -> None:
        self.port.incoming += data

    def read(self) -> bytes:
        """The answers after one more turn of the loop; no time passes for the firmware."""
        self.loop.turn()
        taken = bytes(self.port.outgoing)
        self.port.outgoing.clear()
        return taken

    def close(self) -> None:
        """There is nothing to close."""
