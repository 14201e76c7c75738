"""Weighs every driver's hot path on MicroPython's Unix port; chips are plain memory."""

import json
import sys
import time

import micropython

sys.path.insert(0, sys.argv[1])

from twinloop.control import state as s  # noqa: E402
from twinloop.drivers import ds18b20, led, max31865, ntc, relays, sensors  # noqa: E402
from twinloop.drivers.display import PAGES, Display  # noqa: E402

ROUNDS = 200


class Clock:
    """A clock that advances a second per look, so that every conversion is over."""

    def __init__(self):
        self.now = 0

    def ticks_ms(self):
        self.now = self.now + 1000 & 0x3FFFFFF
        return self.now


class Wire:
    """Answers every read with the same good scratchpad and the mark written before."""

    def __init__(self):
        self.pad = bytearray(b"\x91\x01\x4b\x46\x7f\xff\x0f\x10\x25")
        self.written = 0

    def reset(self):
        self.written = 0
        return True

    def writebyte(self, byte):
        # MATCH ROM and a code, then the write command with mark, low byte and configuration.
        self.written += 1
        if self.written == 10 and byte == ds18b20.RECALL:
            self.hold(0x4B)
        if self.written == 11:
            self.hold(byte)

    def hold(self, mark):
        self.pad[2] = mark
        self.pad[8] = ds18b20.crc8(self.pad, 8)

    def readbit(self):
        return 0

    def readinto(self, buffer):
        for place in range(9):
            buffer[place] = self.pad[place]


class Spi:
    """A MAX31865 with a finished conversion."""

    def __init__(self):
        self.registers = bytearray(9)

    def write(self, out):
        for place in range(1, len(out)):
            self.registers[(out[0] & 7) + place] = out[place]
        self.registers[1] &= 0xD1
        self.registers[2], self.registers[3] = 0x4E, 0xE0

    def write_readinto(self, out, into):
        for place in range(9):
            into[place] = self.registers[place]


class Pin:
    """A pin that keeps its level."""

    def __init__(self):
        self.level = 0

    def value(self, level=None):
        if level is None:
            return self.level
        self.level = level
        return None

    def __call__(self, level):
        self.level = level


class Bus:
    """A display that accepts everything."""

    def __init__(self):
        self.bytes = 0

    def writeto(self, address, data):
        self.bytes += len(data)


def weigh(work, argument):
    """Bytes that the rounds took from the heap, after as many rounds of warm-up."""
    for _ in range(ROUNDS):
        work(argument)
    total = micropython.mem_total
    first = total()
    second = total()
    for _ in range(ROUNDS):
        work(argument)
    return total() - second - (second - first)


clock = Clock()
bank = sensors.SensorBank(
    ds18b20.Ds18b20Bus(Wire(), s.SENSORS, clock.ticks_ms, time.ticks_diff),
    [max31865.Max31865(Spi(), Pin(), 4000, 1000, 2, 50)]
    + [None] * 5
    + [ntc.Ntc(lambda: 30000, 65535, 10000, 10000, 3950)]
    + [None] * 3,
)
for sensor in range(s.SENSORS):
    bank.fit(sensor, b"\x28" + bytes(7), 250)
inputs = [0] * s.INPUTS
relay_bank = relays.RelayBank([Pin(), Pin()], [1, 0], [0, 1], clock.ticks_ms, time.ticks_diff, 3000)
light = led.StatusLed(Pin(), 1, clock.ticks_ms, time.ticks_diff)
button = Pin()
screen = Display(Bus(), button)
state = [0] * s.STATE
reason = [0]


def relay_round(_):
    relay_bank.drive(1, 1)
    relay_bank.renew()
    relay_bank.tend()
    relay_bank.astray()


def light_round(_):
    light.show(False, True, False)
    light.tend()


def screen_round(_):
    button.level = 1 - button.level
    state[s.VALUE_MC + 2] = (state[s.VALUE_MC + 2] + 12345) % 110000 - 10000
    state[s.DUTY] = (state[s.DUTY] + 1) % s.DUTIES
    reason[0] = (reason[0] + 1) % 30
    state[s.REASON] = reason[0]
    screen.tend()
    screen.show(state)


# MicroPython interns every letter of every reason once.
from twinloop.reason_texts import REASON_TEXTS  # noqa: E402

for code in REASON_TEXTS:
    screen.draw_words(REASON_TEXTS[code])
for page in range(PAGES):
    screen.page = page
    screen.show(state)
found = {
    "sensors": weigh(bank.read, inputs),
    "relays": weigh(relay_round, None),
    "light": weigh(light_round, None),
    "display": weigh(screen_round, None),
    "causes": inputs[s.IN_RAW_CAUSE : s.IN_RAW_CAUSE + s.SENSORS],
    "values": inputs[s.IN_RAW_MC : s.IN_RAW_MC + s.SENSORS],
    "drawn": screen.bus.bytes,
}
print(json.dumps(found))
