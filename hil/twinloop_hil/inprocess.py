"""The firmware in this very process: the same loop behind the same link, on a clock that only moves when it is told to.

For tests of the client and of checks, and to compare with a board step by step.
"""

from __future__ import annotations

from pathlib import Path

import twinloop
from twinloop.control import state as s
from twinloop.drivers.relays import RelayBank
from twinloop.loop import Loop
from twinloop.store import Store

WRAP_MS = 1 << 30


class ResetRequestedError(RuntimeError):
    """The firmware asked for a restart of its chip."""


class FakePin:
    """A pin that only remembers its level."""

    def __init__(self):
        self.level = 0

    def value(self, level: int | None = None) -> int | None:
        """Read or set the level."""
        if level is None:
            return self.level
        self.level = level
        return None


class InProcessPort:
    """A port on plain memory, as loop.py wants it; the clock wraps like a board's."""

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
        self.values_mc = [20000, 40000, 45000, 20000, 20000, 15000, 40000, 20000]
        self.causes = [0] * s.SENSORS
        self.fed = 0
        self.sessions = 0
        pins = [FakePin() for _ in range(s.OUTPUTS)]
        self.relays = RelayBank(pins, [1] * s.OUTPUTS, self.ticks_ms, self.ticks_diff, 3000)
        self.drive, self.renew = self.relays.drive, self.relays.renew
        self.tend, self.safe = self.relays.tend, self.relays.safe
        self.astray = self.relays.astray
        self.read_back = None
        self.start_cause = 3 if watchdog_reset else 1
        self.fitted = {}

    def ticks_ms(self) -> int:
        """The clock, wrapped as on a 32-bit board."""
        return self.now_ms % WRAP_MS

    def ticks_diff(self, later: int, earlier: int) -> int:
        """Wrap-safe difference, as MicroPython's."""
        return (later - earlier + WRAP_MS // 2) % WRAP_MS - WRAP_MS // 2

    def read_sensors(self, inputs) -> None:
        """Raw values and causes."""
        for sensor in range(s.SENSORS):
            inputs[s.IN_RAW_MC + sensor] = self.values_mc[sensor]
            inputs[s.IN_RAW_CAUSE + sensor] = self.causes[sensor]
        inputs[s.IN_FLOW_CAUSE] = s.CAUSE_SILENT

    def fit(self, sensor: int, rom: bytes, offset_mk: int) -> None:
        """There are no chips here to tell apart."""
        self.fitted[sensor] = (rom, offset_mk)

    def scan(self) -> list[tuple[bytes, int]]:
        """No chips."""
        return []

    def show(self, state, bench: bool) -> None:
        """Neither light nor display."""

    def feed(self) -> None:
        """Count a good pass."""
        self.fed += 1

    def read_byte(self) -> int:
        """The next byte or -1."""
        return self.incoming.pop(0) if self.incoming else -1

    def write(self, line: bytes) -> bool:
        """Take a line."""
        self.outgoing += line
        return True

    def idle(self) -> None:
        """Nothing to wait for."""

    def reset(self) -> None:
        """A restart cannot happen here; whoever drives the loop hears of it."""
        raise ResetRequestedError

    def woke_by_watchdog(self) -> bool:
        """As the test says."""
        return self.watchdog_reset

    def on_bench(self) -> bool:
        """As the test says."""
        return self.jumper

    def random(self) -> int:
        """Sessions in order."""
        self.sessions += 1
        return self.sessions


class InProcessBoard:
    """Loop, port and store in one; also the transport of a client. `folder` holds the store's files and ends with a slash."""

    name = "in-process"

    def __init__(self, folder: str, **port_options):
        self.port = InProcessPort(**port_options)
        self.loop = Loop(self.port, Store(folder))

    def relays(self) -> tuple[int, ...]:
        """What the relays do, one an output."""
        return tuple(pin.level for pin in self.port.relays.pins)

    def pass_time(self, ms: int, turn_ms: int = 100) -> None:
        """Let the firmware's clock run, with a turn of the loop every turn_ms."""
        for _ in range(ms // turn_ms):
            self.port.now_ms += turn_ms
            self.loop.turn()

    def write(self, data: bytes) -> None:
        """A client's bytes arrive at the console."""
        self.port.incoming += data

    def read(self) -> bytes:
        """A turn of the loop, and what it answered; no time passes for the firmware."""
        self.loop.turn()
        taken = bytes(self.port.outgoing)
        self.port.outgoing.clear()
        return taken

    def close(self) -> None:
        """Nothing to close."""
