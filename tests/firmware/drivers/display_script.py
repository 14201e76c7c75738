"""Drives the display against its model on MicroPython and prints what the glass shows.

Letters are read back with the interpreter's own font. Runs in a folder laid out as a virtual
board.
"""

import json

import framebuf
import virtual_chips
from twinloop.control import reasons
from twinloop.control import state as s
from twinloop.port import make_display

LETTERS = " abcdefghijklmnopqrstuvwxyzC0123456789.:-_"


class Button:
    """A button, released until it is set."""

    level = 1

    def value(self):
        return self.level


def patterns():
    """Letters by their eight columns of dots."""
    known = {}
    for letter in LETTERS:
        buffer = bytearray(8)
        framebuf.FrameBuffer(buffer, 8, 8, framebuf.MONO_VLSB).text(letter, 0, 0)
        known[bytes(buffer)] = letter
    return known


def glass():
    """The lines of sixteen letters on the glass."""
    known = patterns()
    frame = framebuf.FrameBuffer(virtual_chips.oled.memory, 128, 64, framebuf.MONO_VLSB)
    lines = []
    for y in range(57):
        line = ""
        for column in range(16):
            cell = bytearray(8)
            for x in range(8):
                for row in range(8):
                    cell[x] |= frame.pixel(8 * column + x, y + row) << row
            line += known.get(bytes(cell), "?")
        if "?" not in line and line.strip():
            lines.append(line.strip())
    return lines


display = make_display({"bus": 0, "clock": 5, "data": 4, "button": 7})
button = display.button = Button()
state = [0] * s.STATE
state[s.DUTY] = s.NIGHT_COOLING
state[s.REASON] = reasons.NO_DIFFERENCE
state[s.TANK_LOW_MC] = 41049
state[s.TANK_HIGH_MC] = 61950
state[s.COLLECTOR_MC] = -7849
state[s.STATUS + s.LOOP_SUPPLY] = s.LOST
pages = []
for _ in range(7):
    display.tend()
    display.show(state)
    pages.append(glass())
    writes = virtual_chips.oled.writes
    display.show(state)
    quiet = virtual_chips.oled.writes == writes
    button.level = 0
    display.tend()
    display.tend()
    button.level = 1
for _ in range(61):
    display.show(state)
print(json.dumps({"on": virtual_chips.oled.shows(), "pages": pages, "quiet": quiet, "after_a_minute": glass()}))
