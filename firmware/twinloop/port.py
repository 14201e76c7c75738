"""The port of a real board: pins, clock, watchdog and console of the chip under MicroPython.

What differs between boards is data in the `board` module; boards/ has its fields.
"""

import os
import select
import sys
import time

import machine
import micropython

import twinloop

from .control import state as s
from .drivers.led import StatusLed
from .drivers.ntc import Ntc
from .drivers.relays import ReadBack, RelayBank
from .drivers.sensors import SensorBank

RTD_BAUD = 1000000
# ESP32: the converter's calibrated reading, in steps of 50 uV, is 66000 at its supply of 3.3 V.
SUPPLY_STEP_UV = 50
SUPPLY_STEPS = 66000


def make_rtd(rtd):
    """The MAX31865 from a board's RTD data."""
    from .drivers.max31865 import Max31865

    select_pin = machine.Pin(rtd["select"], machine.Pin.OUT, value=1)
    spi = machine.SPI(
        rtd["bus"],
        baudrate=RTD_BAUD,
        polarity=0,
        phase=1,
        sck=machine.Pin(rtd["clock"]),
        mosi=machine.Pin(rtd["to_chip"]),
        miso=machine.Pin(rtd["from_chip"]),
    )
    return Max31865(spi, select_pin, rtd["reference_ohm"], rtd["nominal_ohm"], rtd["wires"], rtd["mains_hz"])


def make_ntc(row):
    """An NTC from a row of a board's data: sensor, pin, series resistor, ohm at 25 C, beta."""
    if sys.platform == "esp32":
        converter = machine.ADC(machine.Pin(row[1]), atten=machine.ADC.ATTN_11DB)
        read_uv = converter.read_uv  # pyright: ignore[reportAttributeAccessIssue] - an ESP32 has it
        return Ntc(lambda: read_uv() // SUPPLY_STEP_UV, SUPPLY_STEPS, row[2], row[3], row[4])
    return Ntc(machine.ADC(machine.Pin(row[1])).read_u16, 65535, row[2], row[3], row[4])


def make_flow(flow):
    """The flow input from a board's data, or None if there is none."""
    if flow is None:
        return None
    from .drivers.flow import FlowInput

    pin = machine.Pin(flow[0], machine.Pin.IN, machine.Pin.PULL_UP)
    return FlowInput(pin, flow[1], machine.Pin.IRQ_FALLING, time.ticks_ms, time.ticks_diff)


def make_sensors(board):
    """Every sensor chip of a board."""
    chips: list = [None] * s.SENSORS
    if board.RTD:
        chips[s.COLLECTOR] = make_rtd(board.RTD)
    for row in board.NTC:
        chips[row[0]] = make_ntc(row)
    flow = make_flow(board.FLOW)
    if board.ONE_WIRE is None:
        return SensorBank(None, chips, flow)
    import onewire

    from .drivers.ds18b20 import Ds18b20Bus

    wire = onewire.OneWire(machine.Pin(board.ONE_WIRE))
    return SensorBank(Ds18b20Bus(wire, s.SENSORS, time.ticks_ms, time.ticks_diff), chips, flow)


def make_read_back(pins):
    """The inputs that see the relays' contacts, or None without such wires."""
    if pins is None:
        return None
    inputs = [machine.Pin(number, machine.Pin.IN, machine.Pin.PULL_UP) for number in pins]
    return ReadBack(inputs, time.ticks_us, time.ticks_diff)


def make_led(led):
    """The status light, or None if the board has none."""
    if led is None:
        return None
    pin = machine.Pin(led[0], machine.Pin.OUT, value=1 - led[1])
    return StatusLed(pin, led[1], time.ticks_ms, time.ticks_diff)


def make_display(display):
    """The display, or None if none is fitted or it does not answer."""
    if display is None:
        return None
    from .drivers.display import Display

    bus = machine.I2C(display["bus"], scl=machine.Pin(display["clock"]), sda=machine.Pin(display["data"]), freq=400000)
    shown = Display(bus, machine.Pin(display["button"], machine.Pin.IN, machine.Pin.PULL_UP))
    return shown if shown.works else None


class Port:
    """What loop.py asks of a port, on a real board."""

    # Whether the last line went out only in part.
    cut = False

    def __init__(self, board):
        self.name = board.NAME
        self.period_ms = board.PERIOD_MS
        self.interpreter = ".".join([str(part) for part in sys.implementation.version[:3]])
        self.folder = twinloop.__path__ if isinstance(twinloop.__path__, str) else twinloop.__path__[0]
        self.ticks_ms = time.ticks_ms
        self.ticks_diff = time.ticks_diff
        pins = [machine.Pin(number, machine.Pin.OUT, value=1 - active) for number, active in board.RELAYS]
        active = [level for number, level in board.RELAYS]
        rest = bytearray(s.OUTPUTS)
        rest[s.ALARM] = getattr(board, "ALARM_RESTS", "silent") == "alarm"
        self.relays = RelayBank(pins, active, rest, time.ticks_ms, time.ticks_diff, board.LEASE_MS)
        self.relay_count = len(pins)
        self.driven = self.relays.on
        self.rest = self.relays.rest
        self.rested = self.relays.rested
        self.drive = self.relays.drive
        self.renew = self.relays.renew
        self.safe = self.relays.safe
        self.astray = self.relays.astray
        self.read_back = make_read_back(board.READ_BACK)
        self.sensors = make_sensors(board)
        self.read_sensors = self.sensors.read
        self.fit = self.sensors.fit
        self.scan = self.sensors.scan
        self.led = make_led(board.STATUS_LED)
        self.display = make_display(board.DISPLAY)
        self.start_cause = machine.reset_cause()
        self.jumper = machine.Pin(board.BENCH_JUMPER, machine.Pin.IN, machine.Pin.PULL_UP)
        # The console is read unbuffered, byte by byte: text reads wait for whole characters, line
        # reads for whole lines.
        self.console = sys.stdin.buffer
        self.out = sys.stdout.buffer
        self.inward = select.poll()
        self.inward.register(sys.stdin, select.POLLIN)
        self.outward = select.poll()
        self.outward.register(sys.stdout, select.POLLOUT)
        self.byte = bytearray(1)
        # A terminal's interrupt key is noise here: no cable may stop the station.
        micropython.kbd_intr(-1)
        self.watchdog = machine.WDT(timeout=board.WATCHDOG_MS)

    def tend(self):
        """Look after leases, light and button; called in each pass."""
        self.relays.tend()
        if self.led is not None:
            self.led.tend()
        if self.display is not None:
            self.display.tend()

    def show(self, state, bench):
        """Show the state of the station on light and display."""
        if self.led is not None:
            self.led.show(bench, state[s.ALARMS] != 0, state[s.DUTY] == s.FAULT_STOP)
        if self.display is not None:
            self.display.show(state)

    def feed(self):
        """Feed the watchdog."""
        self.watchdog.feed()

    def read_byte(self):
        """The next byte, or -1 when there is none now."""
        for _, event in self.inward.ipoll(0):
            if event & select.POLLIN and self.console.readinto(self.byte):
                return self.byte[0]
        return -1

    def write(self, line):
        """Send a line if there is room, or drop it: a host that does not read must not block us.

        A chip takes part of a line when its buffer fills. The rest of that line is ended before the
        next one, which is then whole.
        """
        for _, event in self.outward.ipoll(0):
            if event & select.POLLOUT:
                if self.cut:
                    line = b"\n" + line
                self.cut = self.out.write(line) != len(line)
                return not self.cut
        return False

    def idle(self):
        """Wait for a byte, at most a moment.

        A console without a host says so at once, so then sleep.
        """
        for _, event in self.inward.ipoll(20):
            if not event & select.POLLIN:
                time.sleep_ms(20)

    def reset(self):
        """Restart the chip."""
        machine.reset()

    def woke_by_watchdog(self):
        """Whether the last start was not a power-on: a watchdog bite, or our own restart.

        An RP2040 calls both a watchdog reset; an ESP32 calls our own restart a hard one.
        """
        return self.start_cause != machine.PWRON_RESET

    def on_bench(self):
        """Whether the bench jumper is set, pin to ground."""
        return self.jumper.value() == 0

    def attended(self):
        """Whether somebody is at the board now: the jumper is closed, or the button held."""
        return self.on_bench() or (self.display is not None and self.display.button.value() == 0)

    def random(self):
        """32 random bits for a new session."""
        return int.from_bytes(os.urandom(4), "little")
