"""Runs port, store and loop on a chip made of plain objects, and writes down all that leaves them.

Arguments: firmware folder with a board's data; a file with a request per line, [method, params] as
JSON, or ["turns", count]; the file to write, in whose folder the flash lies. The chips give good
and faulty answers, always in the same order. "crc", "rows" and "sequence" in a request stand for
what the answers before it told. Prints how many lines of each kind were written.
"""

import binascii
import json
import os
import sys

JUMPER = 14
# A period and a bit: some turns take a step, some do not.
TURN_MS = 300
TURNS_A_REQUEST = 6
SESSION = 77
# About 80 C on the roof, and 30 C everywhere else in 1/16 K.
COLLECTOR_CODE = 10700
CHIP_RAW = 480
POWER_ON_RAW = 0x0550
# What a chip holds in its memory; the driver writes another mark over it.
EEPROM = 0x4B

FILES = ("settings.a", "settings.b", "probes.a", "probes.b", "meter.a", "meter.b", "log.a", "resets", "service")

requests = open(sys.argv[2])  # noqa: SIM115 - both are open as long as the program runs
record = open(sys.argv[3], "wb")  # noqa: SIM115
written = {}
waiting = []
answers = [b""]
pulses = []
clock = [0, 0]
chance = [1]


def note(kind, *what):
    """Write down one thing that leaves the firmware."""
    written[kind] = written.get(kind, 0) + 1
    record.write(f"{kind} {what}\n".encode())


def draw(top):
    """A number below `top`, from a fixed sequence."""
    chance[0] = chance[0] * 171 % 30269
    return chance[0] % top


class Pin:
    """An output keeps its level, an input draws one; the jumper is closed."""

    IN = OUT = PULL_UP = IRQ_FALLING = 1

    def __init__(self, number, *modes, value=None):
        self.at = number
        self.kept = 0 if number == JUMPER else value

    def value(self, to=None):
        if to is None:
            return draw(2) if self.kept is None else self.kept
        if to != self.kept:
            note("pin", self.at, to)
        self.kept = to
        return None

    __call__ = value

    def irq(self, handler, trigger):
        pulses.append(handler)


class Bus:
    """A MAX31865 that keeps its registers, and a display that takes everything."""

    def __init__(self, number, **pins):
        note("bus", number, sorted(pins))
        self.kept = bytearray(8)

    def write(self, data):
        note("spi", bytes(data))
        first = data[0] & 127
        self.kept[first : first + len(data) - 1] = data[1:]
        # Conversion, fault cycle and clearing end by themselves.
        self.kept[0] &= 0xD1

    def write_readinto(self, out, into):
        result = COLLECTOR_CODE + draw(40) << 1
        into[1:] = self.kept
        into[2] = result >> 8
        into[3] = result & 255
        into[8] = 0x40 if draw(40) == 0 else 0
        if draw(40) == 0:
            into[:] = bytes(9)

    def writeto(self, address, data):
        note("i2c", address, len(data), binascii.crc32(data))


class Converter:
    """An analogue input."""

    def __init__(self, pin):
        self.at = pin

    def read_u16(self):
        return 20000 + draw(9000)


class OneWire:
    """A bus whose chips answer well, badly, or not at all."""

    def __init__(self, pin):
        self.sent = bytearray()
        self.mark = EEPROM

    def reset(self):
        self.sent = bytearray()
        return draw(60) > 0

    def readbit(self):
        return draw(2)

    def writebyte(self, byte):
        note("wire", byte)
        self.sent.append(byte)
        if byte == 0xB8 and len(self.sent) == 10:
            self.mark = EEPROM
        elif len(self.sent) == 11 and self.sent[9] == 0x4E:
            self.mark = byte

    def readinto(self, pad):
        if draw(60) == 0:
            self.mark = EEPROM
        raw = POWER_ON_RAW if draw(60) == 0 else CHIP_RAW + draw(8)
        pad[:] = bytes((raw & 255, raw >> 8, self.mark, 0x46, 0x7F, 255, 0, 16, 0))
        pad[8] = crc8(pad, 8)
        kind = draw(60)
        if kind < 3:
            pad[:] = (bytes(9), b"\xff" * 9, bytes(range(9)))[kind]

    def scan(self):
        return [b"\x28\x01\x02\x03\x04\x05\x06" + bytes([crc8(b"\x28\x01\x02\x03\x04\x05\x06", 7)]), bytes(8)]


class Poll:
    """Says that there is room for a line, and whether a byte waits."""

    def register(self, stream, mask):
        self.at = mask

    def ipoll(self, wait_ms):
        return [(None, self.at)] if self.at == 2 or waiting else []


class Machine:
    """The chip's modules in one: machine, onewire, select and time."""

    PWRON_RESET = POLLIN = 1
    POLLOUT = 2

    def __init__(self):
        self.Pin = Pin
        self.SPI = self.I2C = Bus
        self.ADC = Converter
        self.OneWire = OneWire
        self.poll = Poll

    def WDT(self, timeout):  # noqa: N802
        note("watchdog", timeout)
        return self

    def feed(self):
        note("fed")

    def reset(self):
        note("restart")

    def reset_cause(self):
        return 1

    def ticks_ms(self):
        return clock[0]

    def ticks_us(self):
        clock[1] += 100
        return clock[1]

    def ticks_diff(self, later, earlier):
        return later - earlier

    def sleep_ms(self, pause_ms):
        pass


class Console:
    """The host's end of the wire."""

    byte = 0

    def readinto(self, into):
        if not waiting:
            return 0
        into[0] = waiting.pop(0)
        return 1

    def write(self, line):
        answers[0] = bytes(line)
        return len(line)


def told(line):
    """A line as text, without the free heap, which sources and image may differ in."""
    facts = json.loads(line[:-10])
    if type(facts.get("result")) is dict and "heap_free" in facts["result"]:
        facts["result"]["heap_free"] = 0
        return sorted(facts["result"].items())
    return line


chip = Machine()
for name in ("machine", "onewire", "select", "time"):
    sys.modules[name] = chip
sys.path.insert(0, sys.argv[1])
# The board's flash.
os.chdir(sys.argv[3].rsplit("/", 1)[0] or "/")

import board  # noqa: E402
from twinloop.control import state as s  # noqa: E402
from twinloop.drivers.ds18b20 import crc8  # noqa: E402
from twinloop.link import frames  # noqa: E402
from twinloop.loop import Loop  # noqa: E402
from twinloop.port import Port  # noqa: E402
from twinloop.store import Store  # noqa: E402

# Everything that a board may have.
board.NTC = ((s.OUTDOOR, 26, 10000, 10000, 3950), (s.TAP, 27, 10000, 10000, 3435))
board.FLOW = (9, 450)
board.READ_BACK = (2, 3, 7, 8)
rows = {"crc": "", "rows": "", "sequence": 0}


def with_values(params):
    """The params of a request, with what earlier answers told."""
    return [rows[value] if type(value) is str and value in rows else value for value in params]


def learn(method, line):
    """Remember what later requests need."""
    result = json.loads(line[:-10]).get("result")
    if type(result) is dict:
        rows["sequence"] = result.get("sequence", rows["sequence"])
        rows["rows" if method == "probes.stage" else "crc"] = result.get("crc", rows["crc"])


def pass_turns(loop, count):
    """Turn the loop, and write down the state after each turn."""
    for _ in range(count):
        clock[0] += TURN_MS
        for _ in range(draw(4)):
            pulses[0](None)
        loop.turn()
        note("state", binascii.crc32(bytes(loop.state)), bytes(loop.inputs[:20]))


def ask(loop, number, method, params):
    """Send one request over the console, and write down its answer."""
    request_id = number if method == "hello" else (SESSION << 20) + number
    message = {"jsonrpc": "2.0", "id": request_id, "method": method, "params": with_values(params)}
    waiting.extend(frames.seal(json.dumps(message).encode()))
    answers[0] = b""
    pass_turns(loop, 2)
    if answers[0]:
        learn(method, answers[0])
    note("answer", method, told(answers[0]) if answers[0] else b"")
    pass_turns(loop, TURNS_A_REQUEST)


def main():
    """Turn the loop through all requests."""
    port = Port(board)
    port.console = port.out = Console()
    port.random = lambda: SESSION
    # Sources have another name than the image made of them.
    port.folder = "/nowhere"
    store = Store("")
    loop = Loop(port, store)
    number = 0
    with requests:
        for line in requests:
            method, params = json.loads(line)
            if method == "turns":
                pass_turns(loop, params)
                continue
            number += 1
            ask(loop, number, method, params)
    for name in FILES:
        note("file", name, store.read(name))


main()
record.close()
print(json.dumps(written))
