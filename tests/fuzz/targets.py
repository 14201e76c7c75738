"""A station under fuzzed lines, in this process, and what must hold in each of its steps."""

from __future__ import annotations

import random
import time
from array import array

from twinloop.control import state as s
from twinloop.link import calls
from twinloop.store import Store
from twinloop_hil.client import Client, SerialTransport
from twinloop_hil.inprocess import InProcessBoard, ResetRequestedError
from twinloop_hil.virtual.board import VirtualBoard
from twinloop_sim.explore import truths

KNOWN_ERRORS = {
    calls.BAD_REQUEST,
    calls.NO_METHOD,
    calls.BAD_PARAMS,
    calls.OLD_ID,
    calls.REUSED_ID,
    calls.NO_SESSION,
    calls.REFUSED,
}


class BrokenError(AssertionError):
    """Something that must hold did not; the text says what and when."""


class Weather:
    """Raw readings that wander over what a station sees, with a bad one now and then."""

    RANGES_MC = {"collector": (-15000, 135000), "outdoor": (-20000, 40000), "tap": (10000, 60000)}

    def __init__(self, seed: int):
        self.rng = random.Random(seed)
        self.mc = [20000] * s.SENSORS
        self.goal = list(self.mc)
        self.bad_s = [0] * s.SENSORS

    def step(self, port) -> None:
        """A second passes: put the new readings into the port."""
        for sensor, name in enumerate(s.SENSOR_NAMES):
            low, high = self.RANGES_MC.get(name, (-5000, 95000))
            if self.rng.random() < 0.005:
                self.goal[sensor] = self.rng.randint(low, high)
            way = self.goal[sensor] - self.mc[sensor]
            self.mc[sensor] += max(-400, min(400, way)) + self.rng.randint(-60, 60)
            if self.bad_s[sensor] == 0 and self.rng.random() < 0.001:
                self.bad_s[sensor] = self.rng.choice((1, 2, 20, 120))
            self.bad_s[sensor] = max(0, self.bad_s[sensor] - 1)
            port.values_mc[sensor] = self.mc[sensor]
            port.causes[sensor] = s.CAUSE_SILENT if self.bad_s[sensor] else 0


class Station:
    """The firmware in this process, on the bench or in service; judges each step it takes."""

    def __init__(self, folder: str, seed: int, service: bool):
        self.folder = folder
        self.service = service
        self.weather = Weather(seed)
        self.restarts = 0
        self.steps = 0
        self.moves = 0
        if service:
            Store(folder).commission()
        self.start()

    def start(self) -> None:
        """Switch the board on."""
        self.board = InProcessBoard(self.folder, start_ms=(1 << 30) - 60000, jumper=not self.service)
        self.loop = self.board.loop
        self.memory = array("i", [0] * truths.MEMORY)
        self.fresh = True
        self.was = self.board.relays()
        self.step, self.loop.step = self.loop.step, self.judged_step
        self.wake, self.loop.wake = self.loop.wake, self.noticed_wake

    def noticed_wake(self) -> None:
        """Start cold, and let the judge start over as well."""
        self.wake()
        self.fresh = True

    def judged_step(self, dt_ms: int) -> None:
        """A step of the core, and then every truth of the walk about it."""
        loop = self.loop
        if self.fresh:
            truths.begin(self.memory, loop.state, loop.settings, loop.inputs)
            self.fresh = False
        self.step(dt_ms)
        self.steps += 1
        bits = truths.broken(self.memory, loop.state, loop.settings, loop.inputs)
        if bits:
            raise BrokenError(f"step {self.steps}: broke {', '.join(truths.names_of(bits))}")

    def send(self, data: bytes) -> list[bytes]:
        """Send bytes; the lines that come back."""
        self.board.port.incoming += data
        lines = b""
        for _ in range(4):
            lines += self.turn()
        return lines.split(b"\n")[:-1]

    def turn(self) -> bytes:
        """One pass of the loop; what it sent."""
        try:
            taken = self.board.read()
        except ResetRequestedError:
            if self.service:
                raise BrokenError(f"step {self.steps}: a line restarted a board in service") from None
            taken = bytes(self.board.port.outgoing)
            self.restarts += 1
            self.start()
        self.judge_relays()
        return taken

    def judge_relays(self) -> None:
        """In service every relay follows the commands of the last step, and nobody injects."""
        relays = self.board.relays()
        self.moves += relays != self.was
        self.was = relays
        if not self.service:
            return
        desk = self.loop.desk
        if self.loop.bench or desk.injecting or desk.clicking:
            raise BrokenError(f"step {self.steps}: in service somebody injects or holds a relay")
        told = tuple(int(self.loop.state[s.COMMAND + output] != 0) for output in range(s.OUTPUTS))
        if any(on and not command for on, command in zip(relays, told, strict=True)):
            raise BrokenError(f"step {self.steps}: relays {relays} on commands {told}")

    def pass_time(self, ms: int) -> None:
        """Let time pass in turns of at most a second."""
        while ms > 0:
            part = min(ms, 1000)
            ms -= part
            self.board.port.now_ms += part
            if part == 1000:
                self.weather.step(self.board.port)
            self.turn()


class Wire:
    """MicroPython on the virtual board, on a mild evening: no pump has a reason to run."""

    ANSWER_S = 0.5

    def __init__(self, service: bool):
        self.service = service
        self.steps = self.moves = 0
        self.board = VirtualBoard()
        self.transport = SerialTransport(self.board.port)
        if service:
            Client(self.transport).call("commission")
        self.boots = self.board.boots
        self.was = self.board.relays()

    def __enter__(self) -> Wire:
        return self

    def __exit__(self, *exc) -> None:
        self.transport.close()
        self.board.close()

    @property
    def restarts(self) -> int:
        """How often the board has restarted since it was commissioned."""
        return self.board.boots - self.boots

    def send(self, data: bytes) -> list[bytes]:
        """Send bytes; the lines that come back, at least one for a line with a good CRC."""
        self.transport.write(data)
        found = b""
        end = time.monotonic() + self.ANSWER_S
        while b"\n" not in found and time.monotonic() < end:
            found += self.transport.read()
        self.judge_relays()
        return [line.rstrip(b"\r") for line in found.split(b"\n")[:-1]]

    def judge_relays(self) -> None:
        """In service nothing moves on such an evening, and no line restarts the board."""
        relays = self.board.relays()
        self.moves += relays != self.was
        self.was = relays
        if self.service and (any(relays[output] for output in s.MOVING) or self.restarts):
            raise BrokenError(f"in service relays are {relays}, after {self.restarts} restarts")

    def pass_time(self, ms: int) -> None:
        """Let a thousandth of the time pass: the board lives in real time."""
        time.sleep(ms / 1000000)
