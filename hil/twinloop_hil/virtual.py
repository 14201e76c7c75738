"""The virtual board: MicroPython's Unix port in a process of its own on a pseudo-terminal, running the firmware's own files.

The host sees two things: the serial line, as of any board, and the registers, a shared file that stands for the electrical side
(pins, sensor values, watchdog). The firmware knows nothing of the second: it goes through `machine` like on a chip.
"""

from __future__ import annotations

import ctypes
import mmap
import os
import shutil
import signal
import struct
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import twinloop
from twinloop.control.state import OUTPUTS, SENSORS

FILES = Path(__file__).parent / "virtual_files"
# The slots of machine.py, which cannot be imported here; a test compares.
SLOT_PIN = 0
SLOT_VALUE_MC = 32
SLOT_CAUSE = 48
SLOT_MISHAP = 64
SLOT_WATCHDOG_MS = 65
SLOT_FED = 66
SLOT_RESET = 67
SLOT_CAUSE_OF_START = 68
SLOT_BOOTS = 69
SLOTS = 96
PINS = 32
PIN_FLOATING = -1
PWRON_RESET = 1
WDT_RESET = 3
MISHAP_NONE = 0
MISHAP_RAISE = 1
MISHAP_HANG = 2

JUMPER_PIN = 15
RELAY_PINS = (2, 3, 4, 5)
# How often the supervisor looks at the process and its watchdog.
LOOK_S = 0.002
COLD_START_MC = (20000, 40000, 45000, 20000, 20000, 15000, 40000, 20000)


class NoInterpreterError(RuntimeError):
    """There is no MicroPython for the virtual board; the text says what to do."""


def find_interpreter(option: str | None = None) -> str:
    """Path of a MicroPython executable: the option, the one that was installed with Twinloop, or one on the path.

    Raises NoInterpreterError, in one line, when there is none.
    """
    candidates = [option] if option else [str(Path(sys.executable).parent / "micropython"), "micropython"]
    for candidate in candidates:
        found = shutil.which(candidate)
        if found:
            return found
    if option:
        raise NoInterpreterError(f"--micropython {option}: not an executable; give the path of MicroPython's Unix port")
    raise NoInterpreterError(
        "port virtual needs MicroPython's Unix port: no wheel of it for this platform; put a `micropython` executable on the "
        "path or name one with --micropython"
    )


def firmware_folder() -> Path:
    """The folder of boot.py, main.py and boards/: the checkout's, or the copy that an installed wheel carries."""
    checkout = Path(twinloop.__file__).parent.parent
    return checkout if (checkout / "boot.py").exists() else Path(__file__).parent / "board_files"


def die_with_parent() -> None:
    """In the child, before it becomes MicroPython: end when the host ends, however it ends (Linux; elsewhere a no-op)."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(1, signal.SIGKILL)


class VirtualBoard:
    """A board without hardware. `port` is what a client opens; close() ends it; a context manager does both.

    interpreter: path of MicroPython; sensors start at a mild evening's values.
    """

    def __init__(self, interpreter: str | None = None):
        self.interpreter = find_interpreter(interpreter)
        self.folder = Path(tempfile.mkdtemp(prefix="twinloop-board-"))
        self.lay_out()
        self.registers_file = open(self.folder / "registers", "w+b")  # noqa: SIM115 - lives as long as the board
        self.registers_file.write(bytes(4 * SLOTS))
        self.registers_file.flush()
        self.registers = mmap.mmap(self.registers_file.fileno(), 4 * SLOTS)
        self.float_pins()
        self.set_sensors(COLD_START_MC)
        self.process: subprocess.Popen | None = None
        self.ended = threading.Event()
        self.boots = 0
        self.open_terminal()
        self.start(PWRON_RESET)
        self.supervisor = threading.Thread(target=self.supervise, daemon=True)
        self.supervisor.start()

    def __enter__(self) -> VirtualBoard:
        return self

    def __exit__(self, *exc) -> None:
        self.close()

    def lay_out(self) -> None:
        """The board's flash: boot.py, main.py, the board file, the package, and this chip's machine module."""
        source = firmware_folder()
        for name in ("boot.py", "main.py"):
            shutil.copy(source / name, self.folder / name)
        shutil.copy(source / "boards" / "virtual.py", self.folder / "board.py")
        for name in ("machine.py", "virtual_chips.py"):
            shutil.copy(FILES / name, self.folder / name)
        skip = shutil.ignore_patterns("__pycache__", "*.pyc")
        shutil.copytree(Path(twinloop.__file__).parent, self.folder / "twinloop", ignore=skip)
        (self.folder / "flash").mkdir()

    def open_terminal(self) -> None:
        """A pseudo-terminal in raw mode: MicroPython holds the inner end, clients open the outer one by name.

        The host keeps the outer end open as well, so that a client that leaves is as silent as a cable pulled out.
        """
        import tty

        self.inner, self.outer = os.openpty()
        tty.setraw(self.outer)
        self.port = os.ttyname(self.outer)

    def start(self, cause: int) -> None:
        """Power on: pins float, the cause of the start is in its register, boot.py and main.py run."""
        self.poke(SLOT_CAUSE_OF_START, cause)
        self.poke(SLOT_RESET, 0)
        self.poke(SLOT_WATCHDOG_MS, 0)
        self.boots += 1
        self.poke(SLOT_BOOTS, self.boots)
        program = "exec(open('boot.py').read())\nexec(open('main.py').read())"
        self.process = subprocess.Popen(
            [self.interpreter, "-X", "heapsize=512k", "-c", program],
            cwd=self.folder,
            env={**os.environ, "MICROPYPATH": ":.frozen"},
            stdin=self.inner,
            stdout=self.inner,
            stderr=subprocess.DEVNULL,
            preexec_fn=die_with_parent,
            start_new_session=True,
        )

    def stop_process(self) -> None:
        """Take the power away: the process is gone and every pin floats."""
        self.process.kill()
        self.process.wait()
        self.float_pins()

    def supervise(self) -> None:
        """Do what a chip does by itself: restart on request, on a watchdog bite, and when the program has ended."""
        fed = -1
        fed_at = time.monotonic()
        while not self.ended.wait(LOOK_S):
            if self.peek(SLOT_FED) != fed:
                fed = self.peek(SLOT_FED)
                fed_at = time.monotonic()
            timeout_ms = self.peek(SLOT_WATCHDOG_MS)
            bitten = timeout_ms > 0 and (time.monotonic() - fed_at) * 1000 > timeout_ms
            if self.peek(SLOT_RESET) or bitten or self.process.poll() is not None:
                self.stop_process()
                self.start(WDT_RESET)
                fed_at = time.monotonic()

    def power_cut(self) -> None:
        """Take the power away and give it back; a start from power-on, not from the watchdog."""
        self.ended.set()
        self.supervisor.join()
        self.stop_process()
        self.ended.clear()
        self.start(PWRON_RESET)
        self.supervisor = threading.Thread(target=self.supervise, daemon=True)
        self.supervisor.start()

    def close(self) -> None:
        """End process, terminal and files."""
        self.ended.set()
        self.supervisor.join()
        self.stop_process()
        os.close(self.inner)
        os.close(self.outer)
        self.registers.close()
        self.registers_file.close()
        shutil.rmtree(self.folder, ignore_errors=True)

    def peek(self, slot: int) -> int:
        """One register."""
        return struct.unpack_from("<i", self.registers, 4 * slot)[0]

    def poke(self, slot: int, value: int) -> None:
        """Set one register."""
        struct.pack_into("<i", self.registers, 4 * slot, value)

    def float_pins(self) -> None:
        """Pins of a chip without program: inputs."""
        for pin in range(PINS):
            self.poke(SLOT_PIN + pin, PIN_FLOATING)

    def set_sensors(self, values_mc, causes=(0,) * SENSORS) -> None:
        """Raw values in millidegrees and causes, one a sensor, as the chips would give them."""
        for sensor in range(SENSORS):
            self.poke(SLOT_VALUE_MC + sensor, values_mc[sensor])
            self.poke(SLOT_CAUSE + sensor, causes[sensor])

    def relays(self) -> tuple[int, ...]:
        """What the relays do, one an output: 1 energised. A floating pin energises nothing (pull to its rest, fitted outside)."""
        return tuple(1 if self.peek(SLOT_PIN + RELAY_PINS[output]) == 1 else 0 for output in range(OUTPUTS))

    def mishap(self, kind: int) -> None:
        """Make the sensor chip raise or hang from its next reading on, or stop doing so."""
        self.poke(SLOT_MISHAP, kind)
