"""The host's end of the link: opens a port, says hello, makes calls.

A port is anything that pyserial's `serial_for_url` opens. Lines are split from a buffer here,
because pyserial's `readline` reads single bytes and halves the rate of exchanges.
"""

from __future__ import annotations

import json
import os
import random
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress

import serial
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.link import calls, frames
from twinloop.link.session import SHIFT

REPLY_TIMEOUT_S = 1.0
TRIES = 3
POLL_S = 0.05
# Poll this long before sleeping: local boards answer faster.
SPIN_S = 0.001
give_way = getattr(os, "sched_yield", lambda: time.sleep(0))
LOCK_TIMEOUT_S = 1.0
# A third of the longest lease, but longer than three tries of a call.
RENEW_S = 10.0


class LinkError(RuntimeError):
    """The port cannot be opened, or nothing answers there."""


class RefusedError(RuntimeError):
    """The board refused a call: `code` and `text` are its own."""

    def __init__(self, method: str, code: int, text: str):
        super().__init__(f"{method}: {text}")
        self.code = code
        self.text = text


class LeaseOverError(RefusedError):
    """The lease of an injection ended before its next call, because this computer was too slow."""


def why_not(url: str, fault: Exception) -> str:
    """A short reason why a port cannot be opened."""
    if "exclusively lock" in str(fault):
        return "in use by another program"
    if "://" in url and not any(word in str(fault) for word in ("refused", "timed out", "unreachable", "not known")):
        return "not a URL that pyserial understands"
    # pyserial replaces the system's message by its own, which repeats the port.
    number = getattr(fault, "errno", None)
    return os.strerror(number) if number else str(fault)


class SerialTransport:
    """Bytes over any URL that pyserial opens."""

    def __init__(self, url: str):
        try:
            self.serial = serial.serial_for_url(url, baudrate=115200, timeout=POLL_S, write_timeout=2.0)
            self.lock()
        except (serial.SerialException, ValueError, OSError, TypeError) as fault:
            raise LinkError(f"port {url}: cannot be opened ({why_not(url, fault)})") from None

    @classmethod
    def adopt(cls, opened) -> SerialTransport:
        """A transport over a pyserial port that is already open."""
        transport = cls.__new__(cls)
        transport.serial = opened
        # A port that vanished with a restart cannot be set up; the first call on it will fail.
        with suppress(OSError):
            opened.timeout = POLL_S
        return transport

    def lock(self) -> None:
        """Lock a serial device, where the system can: two hosts would take each other's answers."""
        if not isinstance(self.serial, serial.Serial):
            return
        self.serial.close()
        self.serial.exclusive = True
        deadline = time.monotonic() + LOCK_TIMEOUT_S
        while not self.serial.is_open:
            try:
                self.serial.open()
            except serial.SerialException as fault:
                # A process that is just starting may hold a copy of the lock for a moment.
                if "exclusively lock" not in str(fault) or time.monotonic() > deadline:
                    raise
                time.sleep(POLL_S)

    @property
    def name(self) -> str:
        return self.serial.port

    def write(self, data: bytes) -> None:
        """Send bytes. Raises LinkError when the other end is gone or does not take them."""
        try:
            self.serial.write(data)
        except (serial.SerialException, OSError) as fault:
            raise LinkError(f"port {self.serial.port}: {fault}") from None

    def read(self) -> bytes:
        """The bytes that have arrived, after a short wait for the first; empty when none came."""
        try:
            until = time.perf_counter() + SPIN_S
            while not (waiting := self.serial.in_waiting) and time.perf_counter() < until:
                give_way()
            return self.serial.read(max(1, waiting))
        except (serial.SerialException, OSError) as fault:
            raise LinkError(f"port {self.serial.port}: {fault}") from None

    def close(self) -> None:
        self.serial.close()


class Client:
    """A session with a board; `facts` is the board's answer to hello."""

    def __init__(self, transport, tries: int = TRIES, any_protocol: bool = False):
        self.transport = transport
        self.tries = tries
        self.buffer = bytearray()
        self.lines_ignored = 0
        self.begin()
        if not any_protocol and self.facts.get("protocol") != calls.PROTOCOL:
            raise LinkError(f"board speaks protocol {self.facts.get('protocol')}, this host speaks {calls.PROTOCOL}")
        self.step_number = 0
        self.injected: list = []
        self.renewed_s = 0.0

    def __enter__(self) -> Client:
        return self

    def __exit__(self, *exc) -> None:
        self.close()

    def close(self) -> None:
        """Close the port; whatever this host held on the board ends with its lease."""
        self.transport.close()

    def next_line(self, deadline: float) -> bytes | None:
        """The next whole line before the deadline (time.monotonic), or None."""
        while True:
            end = self.buffer.find(b"\n")
            if end >= 0:
                line = bytes(self.buffer[:end]).rstrip(b"\r")
                del self.buffer[: end + 1]
                return line
            # A process that was held up past the deadline has not looked yet.
            late = time.monotonic() > deadline
            arrived = self.transport.read()
            self.buffer += arrived
            if late and not arrived:
                return None

    def answer_to(self, request_id: int, deadline: float) -> dict | None:
        """The answer with this id; noise and other answers are counted and skipped."""
        while True:
            line = self.next_line(deadline)
            if line is None:
                return None
            payload = frames.unseal(line)
            message = json.loads(payload) if payload is not None else {}
            if message.get("id") == request_id:
                return message
            self.lines_ignored += 1

    def exchange(self, request_id: int, method: str, params: list, timeout_s: float = REPLY_TIMEOUT_S):
        """The result of a request; the same bytes are sent again when no answer comes.

        Raises RefusedError with the board's own words, LinkError when no try was answered.
        """
        line = calls.request(request_id, method, params)
        if len(line) > frames.REQUEST_TOP + 10:
            raise ValueError(f"{method}: request of {len(line)} bytes, at most {frames.REQUEST_TOP + 10} fit")
        for _ in range(self.tries):
            self.transport.write(line)
            message = self.answer_to(request_id, time.monotonic() + timeout_s)
            if message is not None:
                return self.result_of(method, message)
        raise self.silence(method, timeout_s)

    def silence(self, method: str, timeout_s: float) -> LinkError:
        """The error to raise when no try was answered."""
        return LinkError(f"port {self.transport.name}: no answer to {method} in {self.tries} tries of {timeout_s:g} s")

    def greet(self) -> dict:
        """Open a session; returns the board's facts.

        Each try has its own id, below those of any session. Answers meant for a previous host have
        another id, or 0 for errors; a late answer to an earlier try names a session that is over.
        """
        for _ in range(self.tries):
            request_id = random.randrange(1, 1 << SHIFT)
            self.transport.write(calls.request(request_id, "hello", []))
            message = self.answer_to(request_id, time.monotonic() + REPLY_TIMEOUT_S)
            if message is not None:
                return self.result_of("hello", message)
        raise self.silence("hello", REPLY_TIMEOUT_S)

    def begin(self) -> None:
        """Open a session; what an older one injected or clicked ends."""
        self.facts = self.greet()
        self.last_id = self.facts["session"] << SHIFT

    def result_of(self, method: str, message: dict):
        """The result in an answer. Raises RefusedError, or LinkError if the board has restarted."""
        if "result" in message:
            return message["result"]
        fault = message.get("error")
        if not isinstance(fault, dict) or "code" not in fault:
            raise LinkError(
                f"port {self.transport.name}: the answer does not come from a Twinloop board (not flashed yet, or the port echoes)"
            )
        if fault["code"] == calls.NO_SESSION:
            raise LinkError(f"port {self.transport.name}: the board has restarted, or another host has opened a session")
        raise RefusedError(method, fault["code"], fault["message"])

    def call(self, method: str, *params):
        """The result of a call. A session has a million ids; then a new one begins."""
        if (self.last_id + 1) % (1 << SHIFT) == 0:
            self.begin()
        self.last_id += 1
        return self.exchange(self.last_id, method, list(params))

    def status(self) -> dict:
        return self.call("status")

    def settings(self) -> tuple[list[int], int]:
        """All settings, in the order of their codes, and their sequence number."""
        values: list[int] = []
        part, parts, crc = 0, 1, None
        while part < parts:
            answer = self.call("settings.get", part)
            if crc not in (None, answer["crc"]):
                raise LinkError("settings.get: settings changed between two parts")
            crc, parts = answer["crc"], answer["parts"]
            values += answer["values"]
            part += 1
        return values, answer["sequence"]

    def probes(self) -> list[list]:
        """ROM code, offset and previous offset of every sensor, in the order of the sensors."""
        rows: list[list] = []
        part = 0
        while len(rows) < s.SENSORS:
            rows += self.call("probes", part)
            part += 1
        return rows

    def change_settings(self, changes: dict[int, int]) -> int:
        """Stage and commit settings by code; returns the sequence number. Raises RefusedError."""
        sequence, crc = self.stage_settings(changes)
        return self.call("settings.commit", sequence, crc)["sequence"]

    def stage_settings(self, changes: dict[int, int]) -> tuple[int, str | None]:
        """Stage settings by code; returns the base sequence and the CRC over all of them."""
        sequence = self.settings()[1]
        pairs = [number for pair in changes.items() for number in pair]
        staged = {"crc": None}
        # About eight pairs fit into a request.
        for place in range(0, len(pairs), 16):
            staged = self.call("settings.stage", sequence, *pairs[place : place + 16])
        return sequence, staged["crc"]

    def restore(self, changes: dict[int, int], rows: dict[int, list]) -> int:
        """Replace settings by code and sensors by number, all together; returns the sequence.

        A row is ROM code, offset and previous offset in mK, as `probes` gives it. Raises
        RefusedError: then nothing was changed.
        """
        sequence, settings_crc = self.stage_settings(changes)
        rows_crc = None
        for sensor, row in rows.items():
            rows_crc = self.call("probes.stage", sensor, *row)["crc"]
        return self.call("restore", sequence, settings_crc, rows_crc)["sequence"]

    def hold_settings(self, values) -> None:
        """Give the board these settings, in code order; writes only those that differ."""
        now = self.settings()[0]
        changes = {code: int(value) for code, value in enumerate(values) if int(value) != now[code]}
        if changes:
            self.change_settings(changes)

    def inject(self, values_mc, causes=(), lease_ms: int = 5000, mask: int = 0) -> None:
        """Inject these readings for as long as the lease lasts."""
        self.injected = [lease_ms, mask, *readings_listed(values_mc, causes)]
        self.call("inject", *self.injected)
        self.renewed_s = time.monotonic()
        self.step_number = 0

    @contextmanager
    def renewing(self, method: str, *params) -> Iterator[None]:
        """Repeat a call every few seconds while the caller works without this client.

        Raises LinkError or RefusedError at the end if the board did not take one.
        """
        over = threading.Event()
        faults = []

        def renew() -> None:
            while not over.wait(RENEW_S):
                try:
                    self.call(method, *params)
                except (LinkError, RefusedError) as fault:
                    faults.append(fault)
                    return
                self.renewed_s = time.monotonic()

        thread = threading.Thread(target=renew, daemon=True)
        thread.start()
        try:
            yield
        finally:
            over.set()
            thread.join()
        if faults:
            raise faults[0]

    def injecting(self):
        """Renew the lease of the injection while the caller works without this client."""
        return self.renewing("inject", *self.injected)

    def advance(self, dt_ms: int, values_mc, causes=(), flow=()) -> tuple[tuple[int, ...], int, int, int]:
        """One step; `flow`: () or (ml/min, cause). Returns commands, duty, reason, wait reason."""
        self.step_number += 1
        read = [list(flow)] if flow else []
        idle_s = time.monotonic() - self.renewed_s
        try:
            answer = self.call("advance", self.step_number, dt_ms, *readings_listed(values_mc, causes), *read)
        except RefusedError as fault:
            raise self.lease_over(fault, idle_s) from None
        self.renewed_s = time.monotonic()
        commands = tuple(answer[1] >> output & 1 for output in range(s.OUTPUTS))
        return commands, answer[2], answer[3], answer[4]

    def lease_over(self, fault: RefusedError, idle_s: float) -> RefusedError:
        """What to raise for a refused step: the reason is a lease that nobody renewed in time."""
        if not self.injected or 1000.0 * idle_s < self.injected[0]:
            return fault
        return LeaseOverError(
            "advance",
            fault.code,
            f"{fault.text} (the board held the readings for {self.injected[0] / 1000:g} s, and this computer made no call for "
            f"{idle_s:.1f} s: end other programs and repeat the check)",
        )

    def relay(self, output: int, on: int, lease_ms: int = 2000) -> dict:
        """Command one relay and release all others; returns what the read-back wire saw."""
        return self.call("relay", output, on, lease_ms)

    def release(self) -> None:
        """Return the board to its own sensors and its own decisions."""
        self.call("release")


def readings_listed(values_mc, causes) -> list[list[int]]:
    """Values, then sensor and cause of each without a value, for `inject` and `advance`."""
    bad = {sensor: cause for sensor, cause in enumerate(causes) if cause}
    values = [0 if sensor in bad else value for sensor, value in enumerate(values_mc)]
    return [values, [number for pair in bad.items() for number in pair]]


def named_settings(values: list[int]) -> dict[str, int]:
    """Settings by name; `values` are in the order of their codes."""
    return {row[0]: value for row, value in zip(cfg.TABLE, values, strict=True)}
