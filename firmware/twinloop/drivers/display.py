"""An optional small OLED: SSD1306 on I2C, 128 by 64 dots.

The first page shows the duty in words and the hottest tank temperature. Each press of the button
turns to the next page, the reason and then the sensors; after a minute the first page comes back.

A page is drawn from existing texts and single digits, so that it takes nothing from the heap, and
sent only when it has changed. A display that does not answer is left alone: it must never hold up
the station.
source: SSD1306 data sheet (command table, horizontal addressing).
"""

import framebuf

from ..control import state as s
from ..reason_texts import REASON_TEXTS

WIDTH = 128
HEIGHT = 64
ADDRESS = 0x3C
COMMANDS = 0x00
DATA = 0x40
# Clock, 64 rows, no offset, first line 0, charge pump on, horizontal addressing, both directions
# turned, pin layout, contrast, pre-charge, level, show memory, not inverted, on.
START = b"\x00\xae\xd5\x80\xa8\x3f\xd3\x00\x40\x8d\x14\x20\x00\xa1\xc8\xda\x12\x81\x7f\xd9\xf1\xdb\x40\xa4\xa6\xaf"
# All columns and all pages.
WINDOW = b"\x00\x21\x00\x7f\x22\x00\x07"
DIGITS = ("0", "1", "2", "3", "4", "5", "6", "7", "8", "9")
PAGE_DUTY = 0
PAGE_REASON = 1
PAGES = 2 + (s.SENSORS + 2) // 3
BACK_AFTER_STEPS = 60


class Display:
    """`bus` has writeto(address, buffer); `button` has value(), 0 while pressed."""

    def __init__(self, bus, button, address=ADDRESS):
        self.bus = bus
        self.button = button
        self.address = address
        self.buffer = bytearray(1 + WIDTH * HEIGHT // 8)
        self.buffer[0] = DATA
        self.frame = framebuf.FrameBuffer(memoryview(self.buffer)[1:], WIDTH, HEIGHT, framebuf.MONO_VLSB)
        self.seen = bytearray(WIDTH * HEIGHT // 8)
        self.page = PAGE_DUTY
        self.age_steps = 0
        self.pressed = False
        self.x = 0
        self.y = 0
        self.works = self.send(START)

    def send(self, data):
        """Write to the chip; False if it does not answer."""
        try:
            self.bus.writeto(self.address, data)
            return True
        except OSError:
            return False

    def tend(self):
        """Turn the page once per press of the button."""
        down = self.button.value() == 0
        if down and not self.pressed:
            self.page = self.page + 1 if self.page < PAGES - 1 else 0
            self.age_steps = 0
        self.pressed = down

    def show(self, state):
        """Draw the page, and send it to the chip if it has changed."""
        if not self.works:
            return
        self.age_steps += 1
        if self.age_steps > BACK_AFTER_STEPS:
            self.page = PAGE_DUTY
        self.frame.fill(0)
        if self.page == PAGE_DUTY:
            self.draw_duty(state)
        elif self.page == PAGE_REASON:
            self.draw_words(REASON_TEXTS[state[s.REASON]])
        else:
            self.draw_sensors(state, 3 * (self.page - 2))
        if self.changed():
            self.works = self.send(WINDOW) and self.send(self.buffer)

    def changed(self):
        """Whether the frame differs from what the chip shows; remembers the frame as shown."""
        differs = False
        for place in range(len(self.seen)):
            if self.seen[place] != self.buffer[place + 1]:
                self.seen[place] = self.buffer[place + 1]
                differs = True
        return differs

    def draw_duty(self, state):
        """The duty in words, and the hottest trusted tank temperature."""
        self.draw_name(s.DUTY_NAMES[state[s.DUTY]], 8)
        self.frame.text("hottest in tank", 0, 28)
        self.draw_mc(max(state[s.TANK_LOW_MC], state[s.TANK_HIGH_MC]), 44)

    def draw_sensors(self, state, first):
        """Three sensors with their values."""
        self.draw_sensor(state, first, 0)
        if first + 1 < s.SENSORS:
            self.draw_sensor(state, first + 1, 21)
        if first + 2 < s.SENSORS:
            self.draw_sensor(state, first + 2, 42)

    def draw_sensor(self, state, sensor, y):
        """A sensor's name and value; without trust there is no value."""
        self.draw_name(s.SENSOR_NAMES[sensor], y)
        self.draw_mc(state[s.VALUE_MC + sensor] if s.trusted(state, sensor) else s.UNKNOWN_MC, y + 9)

    def draw_name(self, name, y):
        """A name with spaces for its underscores."""
        self.frame.text(name, 0, y)
        for place in range(len(name)):
            if name[place] == "_":
                self.blank(8 * place, y)

    def blank(self, x, y):
        """Clear one letter.

        Small functions: a frame of more than eleven words would come from the heap.
        """
        self.frame.fill_rect(x, y, 8, 8, 0)

    def draw_words(self, text):
        """A sentence in lines of sixteen letters, broken between words."""
        self.x = self.y = 0
        for place in range(len(text)):
            self.draw_letter(text, place)

    def draw_letter(self, text, place):
        """One letter after the last one, or on a new line if its word does not fit."""
        if text[place] != " ":
            self.frame.text(text[place], self.x, self.y)
            self.x += 8
        elif self.x + 8 * word_length(text, place + 1) > WIDTH - 8:
            self.x = 0
            self.y += 8
        else:
            self.x += 8

    def draw_mc(self, value, y):
        """A temperature in C with one decimal, or three dashes."""
        if value == s.UNKNOWN_MC:
            self.frame.text("---", 8, y)
            return
        tenths = (abs(value) + 50) // 100
        if value < 0 and tenths > 0:
            self.frame.text("-", 16 if tenths < 100 else 8, y)
        self.draw_number(tenths // 10, 8, y)
        self.frame.text(".", 32, y)
        self.frame.text(DIGITS[tenths % 10], 40, y)
        self.frame.text("C", 56, y)

    def draw_number(self, number, x, y):
        """Up to three digits, flush right."""
        if number >= 100:
            self.frame.text(DIGITS[number // 100 % 10], x, y)
        if number >= 10:
            self.frame.text(DIGITS[number // 10 % 10], x + 8, y)
        self.frame.text(DIGITS[number % 10], x + 16, y)


def word_length(text, place):
    """Length of the word that begins here."""
    length = 0
    while place + length < len(text) and text[place + length] != " ":
        length += 1
    return length
