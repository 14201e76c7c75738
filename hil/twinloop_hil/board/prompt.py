"""A board's raw prompt, through mpremote's library, and the way to it from a running station.

mpremote's own prints are kept off our output. A soft reset is never used: it leaves the pins at
their levels, without control.
"""

from __future__ import annotations

import ast
import contextlib
import io
import struct
import time

from mpremote.transport import TransportError, TransportExecError
from mpremote.transport_serial import SerialTransport as PromptTransport
from twinloop.link import calls

from ..client import Client, LinkError, RefusedError, SerialTransport

PROMPT_S = 900
# A restarting board is away; after a failed start its prompt opens only every few seconds.
REACH_S = 20.0
TRY_S = 1.5
# Opening the port restarts some boards, which then need a moment to answer.
HELLO_TRIES = 3
PAUSE_S = 0.2
READ_S = 0.05
# Flash writes and busy hosts delay replies, and mpremote takes an empty read for a broken link.
ANSWER_S = 5.0


class PromptError(RuntimeError):
    """The prompt cannot be reached, or a program failed there; one line."""


def leave_service(port: str):
    """The open port of a station that was asked for its prompt: reopening restarts some boards.

    A board that does not answer may be empty. Raises PromptError when the port cannot be opened,
    RefusedError when the board is in service and nobody is at it.
    """
    try:
        transport = SerialTransport(port)
    except LinkError as fault:
        raise PromptError(str(fault)) from None
    try:
        Client(transport, tries=HELLO_TRIES, any_protocol=True).call("prompt", PROMPT_S)
    except LinkError:
        pass
    except RefusedError as fault:
        # Old firmware may lack the call; the prompt after a restart is still worth a try.
        if fault.code != calls.NO_METHOD:
            transport.close()
            raise
    return transport.serial


def wait_quiet(opened) -> None:
    """Discard input until the line is quiet, TRY_S at most. OSError when the port is gone."""
    begin = last = time.monotonic()
    while time.monotonic() - last < PAUSE_S and time.monotonic() - begin < TRY_S:
        if opened.read(64):
            last = time.monotonic()


class Adopted(PromptTransport):
    """mpremote's transport over a port that is already open."""

    def __init__(self, opened, port: str):
        self.in_raw_repl = False
        self.use_raw_paste = True
        self.device_name = port
        self.mounted = False
        self.serial = opened
        self.is_pty = self._is_pty_device(port)


class Prompt:
    """A board at its raw prompt; a context manager that closes the port and leaves the board."""

    def __init__(self, port: str, opened=None):
        self.port = port
        self.transport = self.reach(opened)

    def __enter__(self) -> Prompt:
        return self

    def __exit__(self, *exc) -> None:
        if self.transport is not None:
            self.transport.close()

    def reach(self, opened) -> PromptTransport:
        """Enter the raw prompt; retries while the board may be restarting. Raises PromptError."""
        deadline = time.monotonic() + REACH_S
        last = ""
        while time.monotonic() < deadline:
            transport = None
            try:
                with contextlib.redirect_stdout(io.StringIO()):
                    transport = Adopted(opened, self.port) if opened is not None else PromptTransport(self.port, timeout=READ_S)
                    transport.serial.timeout = READ_S
                    transport.enter_raw_repl(soft_reset=False, timeout_overall=TRY_S)
                    if last:
                        # A slow board also answers the earlier tries, with banners: discard those.
                        wait_quiet(transport.serial)
                        transport.enter_raw_repl(soft_reset=False, timeout_overall=TRY_S)
                transport.serial.timeout = ANSWER_S
                return transport
            except (TransportError, OSError) as fault:
                last = str(fault) or type(fault).__name__
                if isinstance(fault, OSError) and transport is not None:
                    with contextlib.suppress(OSError):
                        transport.close()
                # Keep a port that was only silent; reopen one that vanished.
                opened = None if isinstance(fault, OSError) or transport is None else transport.serial
                time.sleep(PAUSE_S)
        raise PromptError(f"port {self.port}: no MicroPython prompt within {REACH_S:g} s ({last}); is MicroPython installed?")

    def run(self, program: str) -> bytes:
        """The output of a program. Raises PromptError with the last line of its traceback."""
        try:
            with contextlib.redirect_stdout(io.StringIO()):
                return self.transport.exec(program)
        except TransportExecError as fault:
            lines = fault.error_output.strip().splitlines() or ["failed"]
            raise PromptError(f"port {self.port}: {lines[-1]}") from None
        except (TransportError, OSError, struct.error) as fault:
            raise PromptError(f"port {self.port}: the board does not answer any more ({fault})") from None

    def value(self, expression: str):
        return ast.literal_eval(self.run(f"print(repr({expression}))").decode())

    def read(self, path: str) -> str:
        """The text of a small file; empty when there is none."""
        program = f"try:\n print(repr(open({path!r}).read()))\nexcept OSError:\n print(repr(''))"
        return ast.literal_eval(self.run(program).decode())

    def write(self, path: str, body: bytes) -> None:
        """Write a file in pieces of 256 bytes."""
        self.run(f"f = open({path!r}, 'wb')\nw = f.write")
        for place in range(0, len(body), 256):
            self.run(f"w({body[place : place + 256]!r})")
        self.run("f.close()")

    def sha256(self, path: str) -> str:
        """The SHA-256 of a file on the board as hex digits; empty when there is none."""
        program = (
            "import hashlib, binascii\n"
            f"try:\n h = hashlib.sha256()\n f = open({path!r}, 'rb')\n"
            " while True:\n  b = f.read(256)\n  if not b:\n   break\n  h.update(b)\n f.close()\n"
            " print(binascii.hexlify(h.digest()).decode())\nexcept OSError:\n print('')"
        )
        return self.run(program).decode().strip()

    def restart(self):
        """Restart the chip, which ends this prompt. Returns the port, still open."""
        with contextlib.suppress(TransportError, OSError, struct.error), contextlib.redirect_stdout(io.StringIO()):
            self.transport.exec_raw_no_follow("import machine\nmachine.reset()")
        opened, self.transport = self.transport.serial, None
        return opened
