"""The bombardment's listeners: a tap on the link, and a watcher of the virtual board."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import serial

from ...client import LinkError
from ...virtual.files.slots import SLOT_BOOTS, SLOT_FED
from ..delays import starved_s

ANSWER_TIMEOUT_S = 1.0
LOOK_S = 0.002
QUIET_S = 0.2
PIECE = 512


class Tap:
    """A client's transport that keeps a copy of everything sent and received."""

    def __init__(self, transport, rate: float = 0.0):
        self.transport = transport
        self.name = transport.name
        # Bytes per second that the board reads, 0 if not known; and those sent since it answered.
        self.rate = rate
        self.unheard = 0
        self.seen = bytearray()
        self.sent: list[bytes] = []

    def write(self, data: bytes) -> None:
        """Send and remember a request."""
        self.sent.append(data)
        self.write_only(data)

    def write_only(self, data: bytes) -> None:
        """Send what is no request of this session."""
        self.unheard += len(data)
        # The port's time limit is for each piece: a slow reader needs longer for all of it.
        for place in range(0, len(data), PIECE):
            self.transport.write(data[place : place + PIECE])

    def reading_s(self) -> float:
        """How long the board may take to read what is under way: twice what the rate says."""
        return 2.0 * self.unheard / self.rate if self.rate else 0.0

    def patience_s(self) -> float:
        """How long to wait for an answer to what is under way."""
        return ANSWER_TIMEOUT_S + self.reading_s()

    def requests(self) -> list[bytes]:
        """The requests sent in this session, without hello: an old hello still opens a session."""
        return [line for line in self.sent if b'"hello"' not in line]

    def read(self) -> bytes:
        """The bytes that have arrived, after a short wait."""
        data = self.transport.read()
        if data:
            self.unheard = 0
        self.seen += data
        return data

    def at_port(self, act: Callable):
        """The result of an action on the port itself. Raises LinkError, like the transport."""
        try:
            return act()
        except (serial.SerialException, OSError) as fault:
            raise LinkError(f"port {self.name}: {fault}") from None

    def read_waiting(self) -> None:
        if self.at_port(lambda: self.transport.serial.in_waiting):
            self.read()

    def read_slowly(self, seconds: float) -> None:
        """Read single bytes with pauses."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self.seen += self.at_port(lambda: self.transport.serial.read(1))
            time.sleep(0.005)

    def drain(self) -> None:
        """Read everything until the line is quiet."""
        last = time.monotonic()
        while time.monotonic() - last < QUIET_S:
            if self.read():
                last = time.monotonic()

    def take(self, count: int) -> list[bytes]:
        """The lines seen once there are `count` of them or the time is over."""
        deadline = time.monotonic() + self.patience_s()
        while self.seen.count(10) < count and time.monotonic() < deadline:
            self.read()
        return bytes(self.seen).split(b"\n")[:-1]

    def close(self) -> None:
        self.transport.close()


class Watcher(threading.Thread):
    """Watches the virtual board's registers: moving relays, and the time between steps."""

    def __init__(self, board):
        super().__init__(daemon=True)
        self.board = board
        self.over = threading.Event()
        self.relays = board.relays()
        self.boots_first = board.peek(SLOT_BOOTS)
        self.moves = 0
        self.steps = 0
        self.longest_s = 0.0
        # How long the board had no processor in the longest time between two steps.
        self.starved_s = 0.0
        self.start_over()

    def start_over(self) -> None:
        """Measure from the next step on: a restart has no period to keep."""
        self.boots, self.fed = self.board.peek(SLOT_BOOTS), self.board.peek(SLOT_FED)
        self.fed_at: float | None = None
        self.starved_before_s = starved_s(self.board.process.pid)

    def run(self) -> None:
        """Look until end()."""
        while not self.over.wait(LOOK_S):
            self.look()

    def look(self) -> None:
        now = time.monotonic()
        relays = self.board.relays()
        # After a restart pins float and there may be an alarm: then only the restart counts.
        self.moves += relays != self.relays and self.board.peek(SLOT_BOOTS) == self.boots_first
        self.relays = relays
        if self.board.peek(SLOT_BOOTS) != self.boots:
            self.start_over()
            return
        fed = self.board.peek(SLOT_FED)
        longest = self.fed_at is not None and now - self.fed_at > self.longest_s
        if longest or fed != self.fed:
            starved = starved_s(self.board.process.pid)
        if longest:
            self.longest_s, self.starved_s = now - self.fed_at, starved - self.starved_before_s
        if fed != self.fed:
            self.fed, self.fed_at, self.starved_before_s = fed, now, starved
            self.steps += 1

    def end(self) -> None:
        self.over.set()
        self.join()
