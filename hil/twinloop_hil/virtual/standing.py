"""`twinloop virtual`: a board that stays, with its flash in a folder and a plant behind its chips.

The plant follows the relays, and the chips follow the plant. Both follow the station's clock, which
may go faster than ours.
"""

from __future__ import annotations

import contextlib
import math
import os
import select
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path

from twinloop.control.state import COLLECTOR, OUTPUT_NAMES, SENSOR_NAMES, SENSORS

from .board import NoInterpreterError, VirtualBoard, find_interpreter
from .files import slots
from .hand import check_speed
from .home import PORT, claimed
from .parser import DEFAULT_FOLDER

LOOK_S = 0.02
SHOW_S = 1.0
# A hand makes a sensor this much warmer, no faster than is credible at a tank. What is left when
# identify has seen 2 K does not look like the next sensor.
HAND_MK = 3500.0
FOLLOW_S = 5.0
# Where the sensors of a new board lie, and how fast they follow once in their pockets.
TABLE_MC = 20000.0
POCKET_S = 30.0
# A laptop that slept for longer does not make up for it.
GAP_TOP_S = 5.0


class Standing(VirtualBoard):
    """A virtual board with a home, a plant, a power switch and hands at its sensors."""

    clock = "scaled_time.py"

    def __init__(self, home: Path, plant, interpreter: str | None = None, speed: int = 1):
        self.plant = plant
        self.speed = speed
        self.warmth_mk = [0.0] * SENSORS
        self.hands_s = [0.0] * SENSORS
        self.apart_mk = [0.0] * SENSORS
        self.powered = True
        super().__init__(interpreter, bare=True, home=home)
        self.link = home / PORT
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(self.port)

    def start(self, cause: int) -> None:
        """Power on; clock and sensors are right before the first line runs."""
        if not self.peek(slots.SLOT_SPEED):
            self.poke(slots.SLOT_SPEED, self.speed)
            self.poke(slots.SLOT_LOOSE, int(self.bare()))
            self.look(0.0)
        super().start(cause)

    def bare(self) -> bool:
        """Whether there is no firmware yet."""
        return not (self.folder / "main.py").exists()

    def close(self) -> None:
        """End the process; only lock and flash stay in the folder."""
        self.link.unlink(missing_ok=True)
        super().close()

    def look(self, passed_s: float) -> None:
        """Do what the second terminal asks for, and move the plant by the time that passed."""
        asked = self.peek(slots.SLOT_POWER)
        if asked:
            self.switch(asked == slots.POWER_ASKED_ON)
            self.poke(slots.SLOT_POWER, 0)
        self.warm(passed_s)
        values_mc = self.plant.move(passed_s * self.peek(slots.SLOT_SPEED), self.relays())
        self.lay_apart(values_mc, passed_s)
        self.set_sensors([round(sum(parts)) for parts in zip(values_mc, self.warmth_mk, self.apart_mk, strict=True)])

    def switch(self, on: bool) -> None:
        """Cut or restore the power; bytes that were sent to a dark board are lost."""
        if on and not self.powered:
            while select.select([self.inner], [], [], 0)[0]:
                os.read(self.inner, 4096)
            self.power_on()
        elif not on and self.powered:
            self.power_off()
        self.powered = on

    def warm(self, passed_s: float) -> None:
        """Let every sensor follow the hand that holds it, or cool down."""
        for sensor in range(SENSORS):
            asked_ms = self.peek(slots.SLOT_WARM + sensor)
            if asked_ms:
                self.hands_s[sensor] = asked_ms / 1000.0
                self.poke(slots.SLOT_WARM + sensor, 0)
            target = HAND_MK if self.hands_s[sensor] > 0.0 else 0.0
            self.warmth_mk[sensor] += (target - self.warmth_mk[sensor]) * (1.0 - math.exp(-passed_s / FOLLOW_S))
            self.hands_s[sensor] = max(0.0, self.hands_s[sensor] - passed_s)

    def lay_apart(self, values_mc: list[int], passed_s: float) -> None:
        """Keep loose bus sensors on the table; let fitted ones come to the plant's temperatures."""
        for sensor in range(SENSORS):
            if sensor == COLLECTOR:
                continue
            if self.peek(slots.SLOT_LOOSE):
                self.apart_mk[sensor] = TABLE_MC - values_mc[sensor]
            else:
                self.apart_mk[sensor] *= math.exp(-passed_s / POCKET_S)

    def line(self) -> str:
        """The plant and the relays in one line."""
        if self.powered:
            on = [name for name, level in zip(OUTPUT_NAMES, self.relays(), strict=True) if level]
            relays = f"on: {', '.join(on)}" if on else "every relay off"
        else:
            relays = "NO POWER"
        felt = [f"{name} {self.peek(slots.SLOT_VALUE_MC + k) / 1000:.1f}" for k, name in enumerate(SENSOR_NAMES[:4])]
        return f"{self.plant.time_text()}  {relays}  {', '.join(felt)} C"


def stand(board: Standing) -> None:
    """Let time pass until an interrupt; on a terminal, show what the plant does."""
    last = shown = time.monotonic()
    width = 0
    while True:
        time.sleep(LOOK_S)
        now = time.monotonic()
        board.look(min(now - last, GAP_TOP_S))
        last = now
        if sys.stdout.isatty() and now - shown >= SHOW_S:
            shown, line = now, board.line()
            print("\r" + line.ljust(width), end="", flush=True)
            width = len(line)


def interrupt(*_) -> None:
    raise KeyboardInterrupt


@contextlib.contextmanager
def ended_by_signals():
    """End by SIGTERM, or with the terminal, as by Ctrl-C."""
    before = {number: signal.signal(number, interrupt) for number in (signal.SIGTERM, signal.SIGHUP)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def greeting(board: Standing, folder: str) -> str:
    """What to do with the board, in a few lines."""
    has = "with MicroPython and nothing else" if board.bare() else "with the firmware that it had"
    where = "" if folder == DEFAULT_FOLDER else f" {folder}"
    return (
        f"port {board.link}: a virtual board, {has}\n"
        f"It runs until Ctrl-C; its flash stays in {folder}. In another terminal, for example:\n"
        f"    twinloop board flash virtual --port {board.link}\n"
        f"    twinloop virtual warm tank_low{where}\n"
        f"    twinloop virtual power off{where}"
    )


def main(options, make_plant: Callable) -> int:
    """Run the board until an interrupt; returns the exit status. ValueError, one line."""
    check_speed("--speed", options.speed)
    try:
        interpreter = find_interpreter(options.micropython)
    except NoInterpreterError as fault:
        raise ValueError(str(fault)) from None
    plant = make_plant(options.scenario)
    with claimed(options.folder) as home, ended_by_signals():
        try:
            with Standing(home, plant, interpreter, options.speed) as board:
                print(greeting(board, options.folder), flush=True)
                stand(board)
        except KeyboardInterrupt:
            print(f"\nthe board is off; its flash stays in {os.path.normpath(options.folder)}")
    return 0
