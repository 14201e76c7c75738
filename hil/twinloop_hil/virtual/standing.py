"""`twinloop virtual`: a board that stays, with its flash in a folder and a plant behind its chips.

The plant follows the relays, and the chips follow the plant. Both follow the station's clock, which
may go faster than ours.
"""

from __future__ import annotations

import contextlib
import math
import os
import signal
import sys
import termios
import time
from collections.abc import Callable
from pathlib import Path

from twinloop.control.state import OUTPUT_NAMES, SENSOR_NAMES, SENSORS

from .board import NoInterpreterError, VirtualBoard, find_interpreter
from .files import slots
from .hand import check_speed
from .home import PORT, claimed

LOOK_S = 0.02
SHOW_S = 1.0
# A hand makes a bare sensor this much warmer, and a sensor follows it in seconds.
HAND_MK = 10000.0
FOLLOW_S = 5.0
# As long as nothing can be said about the time that passed: a laptop that slept.
GAP_TOP_S = 5.0


class Standing(VirtualBoard):
    """A virtual board with a home, a plant, a power switch and hands at its sensors."""

    clock = "scaled_time.py"

    def __init__(self, home: Path, plant, interpreter: str | None = None, speed: int = 1):
        self.plant = plant
        self.speed = speed
        self.warmth_mk = [0.0] * SENSORS
        self.hands_s = [0.0] * SENSORS
        self.powered = True
        super().__init__(interpreter, bare=True, home=home)
        self.link = home / PORT
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(self.port)

    def start(self, cause: int) -> None:
        """Power on; the clock has its speed before the first line runs."""
        if not self.peek(slots.SLOT_SPEED):
            self.poke(slots.SLOT_SPEED, self.speed)
        super().start(cause)

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
        self.set_sensors([mc + round(warmth) for mc, warmth in zip(values_mc, self.warmth_mk, strict=True)])

    def switch(self, on: bool) -> None:
        """Cut or restore the power; bytes that were sent to a dark board are lost."""
        if on and not self.powered:
            termios.tcflush(self.outer, termios.TCIOFLUSH)
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


def greeting(board: Standing, folder: str, was_bare: bool) -> str:
    """What to do with the board, in a few lines."""
    port = board.link
    state = f"bare: twinloop board flash virtual --port {port}" if was_bare else "with the firmware that it had"
    where = "" if folder == "virtual-board" else f" {folder}"
    return (
        f"port {port}: a virtual board, {state}\n"
        f"It runs until Ctrl-C; its flash stays in {folder}. In another terminal:\n"
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
    with claimed(options.folder) as home, ended_by_signals():
        try:
            plant = make_plant(options.scenario)
            was_bare = not (home / "flash" / "main.py").exists()
            with Standing(home, plant, interpreter, options.speed) as board:
                print(greeting(board, options.folder, was_bare), flush=True)
                stand(board)
        except KeyboardInterrupt:
            print(f"\nthe board is off; its flash stays in {os.path.normpath(options.folder)}")
    return 0
