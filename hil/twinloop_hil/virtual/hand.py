"""A second terminal's hand at a virtual board that stays: what somebody beside a real one could do.

It reaches into the board's registers, as a hand reaches for sensors and switches.
"""

from __future__ import annotations

import mmap
import struct
import time

from twinloop.control.state import SENSOR_NAMES

from ..firmware_files import board_data
from .files import slots
from .home import registers_of

WARM_TOP_S = 600
SPEED_TOP = 60
TAKEN_S = 5.0
POWER = {"off": slots.POWER_ASKED_OFF, "on": slots.POWER_ASKED_ON}
LINES = {"closed": slots.LINE_LOW, "open": slots.LINE_FREE, "held": slots.LINE_LOW, "free": slots.LINE_FREE}


def poke(registers, slot: int, value: int) -> None:
    struct.pack_into("<i", registers, 4 * slot, value)


def ask(registers, folder: str, slot: int, value: int) -> None:
    """Put a request and wait until the board's process has taken it away. ValueError."""
    poke(registers, slot, value)
    deadline = time.monotonic() + TAKEN_S
    while struct.unpack_from("<i", registers, 4 * slot)[0]:
        if time.monotonic() > deadline:
            raise ValueError(f"folder {folder}: its virtual board does not react; look at the terminal where it runs")
        time.sleep(0.005)


def warm(registers, options) -> str:
    """Hold a sensor in the hand for some seconds."""
    ask(registers, options.folder, slots.SLOT_WARM + SENSOR_NAMES.index(options.sensor), 1000 * options.seconds)
    return f"{options.sensor} is in a warm hand for {options.seconds} s"


def power(registers, options) -> str:
    """Cut or restore the power."""
    ask(registers, options.folder, slots.SLOT_POWER, POWER[options.state])
    return "power is on" if options.state == "on" else "power is off: every relay is released"


def pull_down(registers, pin: int, state: str) -> None:
    """Connect a pin to ground, or let it go."""
    poke(registers, slots.SLOT_PIN_STUCK + pin, LINES[state])


def jumper(registers, options) -> str:
    """Close or open the bench jumper."""
    pull_down(registers, board_data("virtual")["BENCH_JUMPER"], options.state)
    return f"the bench jumper is {options.state}"


def button(registers, options) -> str:
    """Hold the display's button down, or let it go."""
    pull_down(registers, board_data("virtual")["DISPLAY"]["button"], options.state)
    return "the button is held down" if options.state == "held" else "the button is free"


def sensors(registers, options) -> str:
    """Put every bus sensor into its pocket, or onto the table."""
    poke(registers, slots.SLOT_LOOSE, int(options.state == "loose"))
    return "every sensor is in its pocket" if options.state == "fitted" else "the bus sensors lie on the table"


def speed(registers, options) -> str:
    """Let the station's time go faster, plant and controller alike."""
    poke(registers, slots.SLOT_SPEED, options.times)
    return f"the station's time goes {options.times} times as fast as ours" if options.times > 1 else "real time"


WORDS = {"warm": warm, "power": power, "jumper": jumper, "button": button, "sensors": sensors, "speed": speed}


def check_speed(name: str, times: int) -> None:
    """ValueError, one line, unless a virtual board's time can go so fast."""
    if not 1 <= times <= SPEED_TOP:
        raise ValueError(f"{name} {times}: allowed 1 (real time) to {SPEED_TOP}")


def main(options) -> int:
    """Carry out one word; returns the exit status. ValueError: wrong input, or no board runs."""
    if options.action == "warm":
        if options.sensor not in SENSOR_NAMES:
            raise ValueError(f"sensor {options.sensor}: not known; allowed {', '.join(SENSOR_NAMES)}")
        if not 1 <= options.seconds <= WARM_TOP_S:
            raise ValueError(f"--seconds {options.seconds}: allowed 1 to {WARM_TOP_S}")
    if options.action == "speed":
        check_speed("speed", options.times)
    with registers_of(options.folder) as file, mmap.mmap(file.fileno(), 4 * slots.SLOTS) as registers:
        print(WORDS[options.action](registers, options))
    return 0
