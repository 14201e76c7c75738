"""The virtual board: MicroPython's Unix port on a pseudo-terminal, running the firmware's files.

The host sees the serial line, as of any board, and the registers: a shared file that stands for the
electrical side (pins, sensor values, watchdog). The firmware knows nothing of the registers; it
uses `machine`, as on a chip.
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
from typing import ClassVar

import twinloop
from twinloop.control.state import COLLECTOR, SENSORS
from twinloop.drivers.ds18b20 import crc8
from twinloop.store import Store, probe_rows

from ..boards import closed_at_rest
from ..firmware_files import board_data, boot_text, firmware_folder
from ..readings import EVENING_MC
from .files import slots

FILES = Path(__file__).parent / "files"
CHIP_FILES = ("slots.py", "registers.py", "contacts.py", "machine.py", "virtual_chips.py", "onewire.py")
# What is in the home of a board that stays: what it remembers, and what is there while it runs.
FLASH = "flash"
HARDWARE = "hardware"
REGISTERS = "registers"
# How often the supervisor looks at the process and its watchdog.
LOOK_S = 0.002
# Room for the sources, compiled on the board, with the display.
HEAP = "640k"
# As on a chip: run either file if it exists, main.py only after a good boot.py, then the prompt.
START = """
def run_file(name):
    try:
        text = open(name).read()
    except OSError:
        return
    exec(text, globals())
run_file("boot.py")
run_file("main.py")
"""


class NoInterpreterError(RuntimeError):
    """No MicroPython for the virtual board; the text says what to do."""


def find_interpreter(option: str | None = None) -> str:
    """The MicroPython executable: the option's, our own, or on the path. Or NoInterpreterError."""
    candidates = [option] if option is not None else [str(Path(sys.executable).parent / "micropython"), "micropython"]
    for candidate in candidates:
        found = shutil.which(candidate)
        if found and (not option or is_micropython(found)):
            return found
    if option is not None:
        raise NoInterpreterError(f"--micropython {option}: not MicroPython's Unix port; give the path of its executable")
    raise NoInterpreterError(
        "port virtual needs MicroPython's Unix port, which has no wheel for this platform: put a `micropython` executable on "
        "the path or name one with --micropython"
    )


def is_micropython(path: str) -> bool:
    """Whether this executable runs a MicroPython program."""
    call = [path, "-c", "import sys; print(sys.implementation[0])"]
    try:
        done = subprocess.run(call, stdin=subprocess.DEVNULL, capture_output=True, timeout=10, check=False)
    except (OSError, subprocess.SubprocessError):
        return False
    return done.stdout.strip() == b"micropython"


def rom_code(number: int) -> bytes:
    """The ROM code of the virtual DS18B20 with this number, the same as in virtual_chips.py."""
    rom = bytes([0x28, number + 1, 0x54, 0x57, 0x4C, 0x4F, 0x00])
    return rom + bytes([crc8(rom, 7)])


def identified() -> bytearray:
    """The probe table of a virtual board whose sensors are identified: chip n is sensor n."""
    probes = probe_rows()
    for sensor in range(SENSORS):
        if sensor != COLLECTOR:
            probes.assign(sensor, rom_code(sensor))
    return probes


def die_with_parent() -> None:
    """Let this child process end with the host, however that ends (Linux; elsewhere a no-op)."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(1, signal.SIGKILL)


class VirtualBoard:
    """A board without hardware, on a mild evening; `port` is what a client opens. Call close().

    bare: empty flash, as on a new board; held: the clock moves only by tell_time(). With a `home`
    the flash stays there, as it is, when the board is closed. A kind of board may change fields of
    its data.
    """

    changes: ClassVar[dict] = {}
    clock = ""

    def __init__(self, interpreter: str | None = None, bare: bool = False, held: bool = False, home: Path | None = None):
        self.interpreter = find_interpreter(interpreter)
        self.home = home
        self.folder = Path(tempfile.mkdtemp(prefix="twinloop-board-")) if home is None else home / FLASH
        self.hardware = self.folder if home is None else home / HARDWARE
        self.held = held
        self.data = {**board_data("virtual"), **self.changes}
        self.lay_out_chip()
        if not bare:
            self.lay_out()
        self.registers_file = open(self.hardware / REGISTERS, "w+b")  # noqa: SIM115 - lives as long as the board
        self.registers_file.write(bytes(4 * slots.SLOTS))
        self.registers_file.flush()
        self.registers = mmap.mmap(self.registers_file.fileno(), 4 * slots.SLOTS)
        self.float_pins()
        for sensor in range(SENSORS):
            self.poke(slots.SLOT_ROM_AT + sensor, sensor)
        self.set_sensors(EVENING_MC)
        self.process: subprocess.Popen | None = None
        self.ended = threading.Event()
        self.boots = 0
        self.restarted_by = "the power came"
        self.open_terminal()
        self.start(slots.PWRON_RESET)
        self.supervisor = threading.Thread(target=self.supervise, daemon=True)
        self.supervisor.start()

    def __enter__(self) -> VirtualBoard:
        return self

    def __exit__(self, *exc) -> None:
        self.close()

    def lay_out_chip(self) -> None:
        """Lay out the chip and the hardware around it, without any firmware."""
        self.hardware.mkdir(exist_ok=True)
        for name in CHIP_FILES:
            shutil.copy(FILES / name, self.hardware / name)
        clock = "held_time.py" if self.held else self.clock
        if clock:
            shutil.copy(FILES / clock, self.hardware / "time.py")
        coils = [pin for pin, _ in self.data["RELAYS"]]
        soldered = {
            "SENSORS": SENSORS,
            "COLLECTOR": COLLECTOR,
            "CONTACT_AT": list(zip(coils, self.data["READ_BACK"], closed_at_rest(self.data), strict=True)),
            "REGISTERS": str((self.hardware / REGISTERS).absolute()),
        }
        (self.hardware / "soldered.py").write_text("".join(f"{name} = {value!r}\n" for name, value in soldered.items()))
        (self.folder / self.data["FOLDER"]).mkdir(parents=True, exist_ok=True)

    def lay_out(self) -> None:
        """Fill the flash: boot.py, main.py, board file, package, and identified sensors."""
        source = firmware_folder()
        (self.folder / "boot.py").write_text(boot_text("virtual"))
        shutil.copy(source / "main.py", self.folder / "main.py")
        changes = "".join(f"{name} = {value!r}\n" for name, value in self.changes.items())
        (self.folder / "board.py").write_text((source / "boards" / "virtual.py").read_text() + changes)
        skip = shutil.ignore_patterns("__pycache__", "*.pyc")
        shutil.copytree(Path(twinloop.__file__).parent, self.folder / "twinloop", ignore=skip)
        Store(f"{self.folder}/flash/").save_probes(identified())

    def open_terminal(self) -> None:
        """Open a raw pseudo-terminal: MicroPython has the inner end, clients open the outer one."""
        import tty

        # The host keeps the outer end open too: a leaving client must look like a pulled cable.
        self.inner, self.outer = os.openpty()
        tty.setraw(self.outer)
        self.port = os.ttyname(self.outer)

    def start(self, cause: int) -> None:
        """Power on: the register holds the cause of the start, then boot.py and main.py run."""
        self.poke(slots.SLOT_CAUSE_OF_START, cause)
        self.poke(slots.SLOT_RESET, 0)
        self.poke(slots.SLOT_WATCHDOG_MS, 0)
        self.poke(slots.SLOT_TIMER_MS, 0)
        self.poke(slots.SLOT_CLOCK_HELD, int(self.held))
        self.boots += 1
        self.poke(slots.SLOT_BOOTS, self.boots)
        self.process = subprocess.Popen(
            [self.interpreter, "-i", "-X", f"heapsize={HEAP}", "-c", START],
            cwd=self.folder,
            env={**os.environ, "MICROPYPATH": f":{self.hardware.absolute()}:.frozen"},
            stdin=self.inner,
            stdout=self.inner,
            stderr=subprocess.DEVNULL,
            preexec_fn=die_with_parent,
            start_new_session=True,
        )

    def stop_process(self) -> None:
        """Cut the power: the process is gone and every pin floats."""
        self.process.kill()
        self.process.wait()
        self.float_pins()

    def supervise(self) -> None:
        """Restart the chip on request, on a timeout, and when its program has ended."""
        fed = -1
        fed_at = started_at = time.monotonic()
        while not self.ended.wait(LOOK_S):
            if self.peek(slots.SLOT_FED) != fed:
                fed = self.peek(slots.SLOT_FED)
                fed_at = time.monotonic()
            timeout_ms = self.peek(slots.SLOT_WATCHDOG_MS)
            bitten = timeout_ms > 0 and (time.monotonic() - fed_at) * 1000 > timeout_ms
            timer_ms = self.peek(slots.SLOT_TIMER_MS)
            over = timer_ms > 0 and (time.monotonic() - started_at) * 1000 > timer_ms
            ended = self.process.poll()
            if self.peek(slots.SLOT_RESET) or bitten or over or ended is not None:
                self.restarted_by = (
                    "its watchdog bit" if bitten else "it was reset" if ended is None else f"its process ended ({ended})"
                )
                self.stop_process()
                self.start(slots.WDT_RESET)
                fed_at = started_at = time.monotonic()

    def power_cut(self) -> None:
        """Cut the power and restore it: the start counts as power-on, not as a watchdog reset."""
        self.power_off()
        self.power_on()

    def power_off(self) -> None:
        """Cut the power, whatever the program was doing."""
        self.ended.set()
        self.supervisor.join()
        self.stop_process()

    def power_on(self) -> None:
        """Restore the power."""
        self.ended.clear()
        self.start(slots.PWRON_RESET)
        self.supervisor = threading.Thread(target=self.supervise, daemon=True)
        self.supervisor.start()

    def close(self) -> None:
        """End the process and remove terminal and files; the flash stays if it has a home."""
        self.power_off()
        os.close(self.inner)
        os.close(self.outer)
        self.registers.close()
        self.registers_file.close()
        shutil.rmtree(self.hardware, ignore_errors=True)

    def peek(self, slot: int) -> int:
        return struct.unpack_from("<i", self.registers, 4 * slot)[0]

    def poke(self, slot: int, value: int) -> None:
        struct.pack_into("<i", self.registers, 4 * slot, value)

    def float_pins(self) -> None:
        """Make every pin an input, as on a chip without a program."""
        for pin in range(slots.PINS):
            self.poke(slots.SLOT_PIN + pin, slots.PIN_FLOATING)

    def set_sensors(self, values_mc) -> None:
        """Set the temperatures at the sensors' places, in millidegrees."""
        struct.pack_into(f"<{SENSORS}i", self.registers, 4 * slots.SLOT_VALUE_MC, *values_mc)

    def set_fault(self, sensor: int, fault: int) -> None:
        """Break a sensor's element, chip or cable: one of FAULT_; FAULT_NONE repairs it."""
        self.poke(slots.SLOT_FAULT + sensor, fault)

    def set_jumper(self, closed: bool) -> None:
        """Close or open the bench jumper, a pin to ground."""
        pin = self.data["BENCH_JUMPER"]
        self.poke(slots.SLOT_PIN_STUCK + pin, slots.LINE_LOW if closed else slots.LINE_FREE)

    def tell_time(self, now_ms: int) -> None:
        """Set a held clock and wake the board with an empty line."""
        self.poke(slots.SLOT_CLOCK_MS, now_ms)
        os.write(self.outer, b"\n")

    def relays(self) -> tuple[int, ...]:
        """The relays, one per output: 1 when energised. A floating pin energises nothing."""
        return tuple(int(self.peek(slots.SLOT_PIN + pin) == level) for pin, level in self.data["RELAYS"])

    def powered(self) -> int:
        """How many relays have power; not counting an alarm that rests closed."""
        rest = closed_at_rest(self.data)
        return sum(on and not closed for on, closed in zip(self.relays(), rest, strict=True))

    def mishap(self, kind: int) -> None:
        """Make the sensor chip raise or hang from its next reading on; MISHAP_NONE ends it."""
        self.poke(slots.SLOT_MISHAP, kind)
