"""A board's prompt, through mpremote's library: how to get there from a running station, and the few things that are done there.

mpremote talks to the raw prompt; what it prints itself is kept off our own output. A soft reset is never used: it leaves pins at
their level with nobody controlling.
"""

from __future__ import annotations

import contextlib
import io
import time

from mpremote.transport import TransportError, TransportExecError
from mpremote.transport_serial import SerialTransport as PromptTransport

from .client import Client, LinkError, RefusedError, SerialTransport

PROMPT_S = 900
# A board that restarts is away for a moment, and its window after a failed start comes round every few seconds.
REACH_S = 20.0
TRY_S = 1.5
PAUSE_S = 0.2
READ_S = 0.05


class PromptError(RuntimeError):
    """The prompt cannot be reached, or what was done there failed; one line."""


def leave_service(port: str) -> dict | None:
    """Ask a running station for its prompt; what it said of itself, None when no station of ours answers."""
    try:
        with Client(SerialTransport(port), tries=1) as client:
            client.call("prompt", PROMPT_S)
            return client.facts
    except LinkError as fault:
        if "cannot be opened" in str(fault):
            raise PromptError(str(fault)) from None
        return None
    except RefusedError:
        # A station so old that it has no such call: its window, or an empty board, is left to try.
        return None


class Prompt:
    """A board at its raw prompt. Use as a context manager; leaving it lets go of the port and does nothing to the board."""

    def __init__(self, port: str):
        self.port = port
        self.transport = self.reach()

    def __enter__(self) -> Prompt:
        return self

    def __exit__(self, *exc) -> None:
        self.transport.close()

    def reach(self) -> PromptTransport:
        """Open the port and enter the raw prompt, again and again while the board may be restarting. Raises PromptError."""
        deadline = time.monotonic() + REACH_S
        last = "no answer"
        while time.monotonic() < deadline:
            transport = None
            try:
                with contextlib.redirect_stdout(io.StringIO()):
                    transport = PromptTransport(self.port, timeout=READ_S)
                    transport.enter_raw_repl(soft_reset=False, timeout_overall=TRY_S)
                return transport
            except (TransportError, OSError) as fault:
                last = str(fault) or type(fault).__name__
                if transport is not None:
                    with contextlib.suppress(OSError):
                        transport.close()
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
        except (TransportError, OSError) as fault:
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

    def restart(self) -> None:
        """Start the chip again; nothing is heard of it."""
        with contextlib.suppress(TransportError, OSError), contextlib.redirect_stdout(io.StringIO()):
            self.transport.exec_raw_no_follow("import machine\nmachine.reset()")
