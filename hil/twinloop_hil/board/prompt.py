"""A board's prompt, through mpremote's library: how to get there from a running station, and the few things that are done there.

mpremote talks to the raw prompt; what it prints itself is kept off our own output. A soft reset is never used: it leaves pins at
their level with nobody controlling.
"""

from __future__ import annotations

import contextlib
import io
import struct
import time

from mpremote.transport import TransportError, TransportExecError
from mpremote.transport_serial import SerialTransport as PromptTransport

from ..client import Client, LinkError, RefusedError, SerialTransport

PROMPT_S = 900
# A board that restarts is away for a moment, and its window after a failed start comes round every few seconds.
REACH_S = 20.0
TRY_S = 1.5
# A board that was restarted by opening its port needs a moment before it answers.
HELLO_TRIES = 3
PAUSE_S = 0.2
READ_S = 0.05
# At the prompt mpremote takes a read that ends without a byte for a broken one. A board that writes to its flash, or a host under
# load, lets one wait for longer than a moment.
ANSWER_S = 5.0


class PromptError(RuntimeError):
    """The prompt cannot be reached, or what was done there failed; one line."""


def leave_service(port: str):
    """Ask a running station for its prompt. Returns the open pyserial port: to open some boards' ports again would restart them.

    Raises PromptError when the port cannot be opened. That no station answers is no fault: the board may be empty.
    """
    try:
        transport = SerialTransport(port)
    except LinkError as fault:
        raise PromptError(str(fault)) from None
    # A station so old that it has no such call, or none at all: its window, or an empty board, is left to try.
    with contextlib.suppress(LinkError, RefusedError):
        Client(transport, tries=HELLO_TRIES).call("prompt", PROMPT_S)
    return transport.serial


def wait_quiet(opened) -> None:
    """Throw away what arrives, until nothing has for a moment, or it never ends. Raises OSError when the port is gone."""
    begin = last = time.monotonic()
    while time.monotonic() - last < PAUSE_S and time.monotonic() - begin < TRY_S:
        if opened.read(64):
            last = time.monotonic()


class Adopted(PromptTransport):
    """mpremote's transport over a port that is open already."""

    def __init__(self, opened, port: str):
        self.in_raw_repl = False
        self.use_raw_paste = True
        self.device_name = port
        self.mounted = False
        self.serial = opened
        self.is_pty = self._is_pty_device(port)


class Prompt:
    """A board at its raw prompt. Use as a context manager; leaving it lets go of the port and does nothing to the board."""

    def __init__(self, port: str, opened=None):
        self.port = port
        self.transport = self.reach(opened)

    def __enter__(self) -> Prompt:
        return self

    def __exit__(self, *exc) -> None:
        if self.transport is not None:
            self.transport.close()

    def reach(self, opened) -> PromptTransport:
        """Enter the raw prompt, again and again while the board may be restarting; the port is opened again when it went away.

        Raises PromptError.
        """
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
                        # A board that was slow answers the tries before as well, each with a banner: they are let pass.
                        wait_quiet(transport.serial)
                        transport.enter_raw_repl(soft_reset=False, timeout_overall=TRY_S)
                transport.serial.timeout = ANSWER_S
                return transport
            except (TransportError, OSError) as fault:
                last = str(fault) or type(fault).__name__
                if isinstance(fault, OSError) and transport is not None:
                    with contextlib.suppress(OSError):
                        transport.close()
                # A port that only stayed silent is kept; one that went away is opened anew.
                opened = None if isinstance(fault, OSError) or transport is None else transport.serial
                time.sleep(PAUSE_S)
        raise PromptError(f"port {self.port}: no MicroPython prompt within {REACH_S:g} s ({last}); is MicroPython on the board?")

    def run(self, program: str) -> bytes:
        """Run some lines; returns what they printed. Raises PromptError with the board's last line."""
        try:
            with contextlib.redirect_stdout(io.StringIO()):
                return self.transport.exec(program)
        except TransportExecError as fault:
            lines = fault.error_output.strip().splitlines() or ["failed"]
            raise PromptError(f"port {self.port}: {lines[-1]}") from None
        except (TransportError, OSError, struct.error) as fault:
            raise PromptError(f"port {self.port}: the board fell silent ({fault})") from None

    def value(self, expression: str):
        """What an expression is."""
        import ast

        return ast.literal_eval(self.run(f"print(repr({expression}))").decode())

    def read(self, path: str) -> str:
        """A small text file, empty when there is none."""
        program = f"try:\n print(repr(open({path!r}).read()))\nexcept OSError:\n print(repr(''))"
        import ast

        return ast.literal_eval(self.run(program).decode())

    def write(self, path: str, body: bytes) -> None:
        """Write a file in pieces and compare what is there then. Raises PromptError when it differs."""
        self.run(f"f = open({path!r}, 'wb')\nw = f.write")
        for place in range(0, len(body), 256):
            self.run(f"w({body[place : place + 256]!r})")
        self.run("f.close()")

    def sha256(self, path: str) -> str:
        """SHA-256 of a file on the board as hex digits, empty when there is none."""
        program = (
            "import hashlib, binascii\n"
            f"try:\n h = hashlib.sha256()\n f = open({path!r}, 'rb')\n"
            " while True:\n  b = f.read(256)\n  if not b:\n   break\n  h.update(b)\n f.close()\n"
            " print(binascii.hexlify(h.digest()).decode())\nexcept OSError:\n print('')"
        )
        return self.run(program).decode().strip()

    def restart(self):
        """Start the chip again; nothing is heard of it. Returns the port, still open; this prompt is over."""
        with contextlib.suppress(TransportError, OSError, struct.error), contextlib.redirect_stdout(io.StringIO()):
            self.transport.exec_raw_no_follow("import machine\nmachine.reset()")
        opened, self.transport = self.transport.serial, None
        return opened
