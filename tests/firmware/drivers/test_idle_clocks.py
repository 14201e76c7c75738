"""Whatever keeps a tick works again when nobody has looked at it for days.

A board's clock wraps after 12.4 days, and a difference of more than half of that is negative. Each
thing here is used, left alone for an age, and used again, over three wraps of the clock.
"""

import pytest
from twinloop.control import state as s
from twinloop.drivers.ds18b20 import Ds18b20Bus, crc8
from twinloop.drivers.flow import FlowInput
from twinloop.drivers.led import StatusLed
from twinloop.drivers.relays import RelayBank
from twinloop.drivers.sensors import SensorBank
from twinloop_hil.client import Client
from twinloop_hil.inprocess import FakePin, InProcessBoard

WRAP_MS = 1 << 30
DAY_MS = 86400000
# The last is longer than three wraps: 37.3 days.
IDLE_MS = [500, 60000, DAY_MS, 6 * DAY_MS, 6.3 * DAY_MS, 9 * DAY_MS, 12.4 * DAY_MS, 13 * DAY_MS, 20 * DAY_MS, 38 * DAY_MS]
STARTS_MS = (0, WRAP_MS // 2 - 1000, WRAP_MS - 1000)


class Clock:
    """A clock that wraps and is told when time passes."""

    def __init__(self, now_ms):
        self.now_ms = now_ms

    def ticks_ms(self):
        return self.now_ms % WRAP_MS

    @staticmethod
    def ticks_diff(later, earlier):
        return (later - earlier + WRAP_MS // 2) % WRAP_MS - WRAP_MS // 2


class Wire:
    """A bus with one chip at 25 C, already marked."""

    pad = bytearray(b"\x90\x01\xff\x46\x7f\xff\x0c\x10")
    pad.append(crc8(pad, 8))

    def reset(self):
        return True

    def writebyte(self, byte):
        pass

    def readbit(self):
        return 0

    def readinto(self, buffer):
        buffer[:] = self.pad


class Bus:
    """The sensors' reader with one chip on the 1-Wire bus."""

    def __init__(self, clock):
        self.clock = clock
        bus = Ds18b20Bus(Wire(), s.SENSORS, clock.ticks_ms, clock.ticks_diff)
        self.bank = SensorBank(bus, [None] * s.SENSORS)
        self.bank.fit(s.TANK_LOW, b"\x28" + bytes(7), 0)
        bus.marks[s.TANK_LOW], bus.trust[s.TANK_LOW] = 255, 1
        self.inputs = [0] * s.INPUTS

    def works(self):
        """Read within one conversion and a second."""
        self.bank.read(self.inputs)
        self.clock.now_ms += 1000
        self.bank.read(self.inputs)
        return (self.inputs[s.IN_RAW_CAUSE + s.TANK_LOW], self.inputs[s.IN_RAW_MC + s.TANK_LOW]) == (s.CAUSE_NONE, 25000)


class Meter:
    """A flow meter of 450 pulses a litre at 34 and 17 pulses a second in turn."""

    pulses = 17

    def __init__(self, clock):
        self.clock = clock
        self.flow = FlowInput(self, 450, 2, clock.ticks_ms, clock.ticks_diff)

    def irq(self, handler, trigger):
        self.handler = handler

    def works(self):
        """The flow of now, two windows later, and not the one of the last use."""
        self.pulses = 51 - self.pulses
        for _ in range(11):
            for _ in range(self.pulses):
                self.handler(self)
            self.clock.now_ms += 1000
            cause = self.flow.read()
        return (cause, self.flow.ml_per_min) == (s.CAUSE_NONE, 4533 if self.pulses == 34 else 2266)


class Light:
    """The status light of a well station: one flash in two seconds."""

    def __init__(self, clock):
        self.clock = clock
        self.pin = FakePin()
        self.light = StatusLed(self.pin, 1, clock.ticks_ms, clock.ticks_diff)
        self.light.show(False, False, False)

    def works(self):
        lit = 0
        for _ in range(21):
            self.clock.now_ms += 100
            self.light.tend()
            lit += self.pin.level
        return lit in (1, 2)


class Relays:
    """A relay that was left on: its lease is over, it lets go, and may move again."""

    def __init__(self, clock):
        self.clock = clock
        self.pin = FakePin()
        self.bank = RelayBank([self.pin], [1], [0], clock.ticks_ms, clock.ticks_diff, 3000)
        self.bank.drive(0, 1)

    def works(self):
        self.clock.now_ms += 3100
        self.bank.tend()
        let_go = self.pin.level == 0 and self.bank.follows(0)
        self.clock.now_ms += 2000
        rested = self.bank.rested()
        self.bank.drive(0, 1)
        self.bank.renew()
        self.bank.tend()
        return let_go and rested and self.pin.level == 1 and not self.bank.rested()


class Station:
    """The loop of a board: it steps once a second and counts its uptime."""

    def __init__(self, clock, folder):
        self.clock = clock
        self.board = InProcessBoard(f"{folder}/", start_ms=clock.now_ms)
        self.board.pass_time(3000)

    def works(self):
        self.board.port.now_ms = self.clock.now_ms
        self.board.loop.turn()
        fed, uptime_s = self.board.port.fed, self.board.loop.uptime_s
        self.board.pass_time(10000)
        self.clock.now_ms = self.board.port.now_ms
        return self.board.port.fed - fed == 10 and self.board.loop.uptime_s - uptime_s == 10


class Desk(Station):
    """What a host may hold, one after the other; each ends when its time is over."""

    def works(self):
        self.board.port.now_ms = self.clock.now_ms
        self.board.loop.turn()
        client = Client(self.board)
        ends = [self.ends(client, hold) for hold in (self.relay, self.injection, self.hand)]
        self.clock.now_ms = self.board.port.now_ms
        return all(ends)

    def ends(self, client, hold):
        """Hold for three seconds; whether that is held for two and over after four."""
        held = hold(client)
        self.board.pass_time(2000)
        early = held()
        self.board.pass_time(2000)
        return early and not held()

    def relay(self, client):
        client.relay(s.TANK_PUMP, 1, 3000)
        return lambda: self.board.loop.desk.clicking and self.board.relays()[s.TANK_PUMP] == 1

    def injection(self, client):
        """In real time the station steps by itself."""
        client.inject(self.board.port.values_mc, lease_ms=3000)
        return lambda: self.board.loop.desk.injecting and self.board.loop.desk.steps_itself()

    def hand(self, client):
        client.call("hand", s.TANK_PUMP, 1, 3)
        return lambda: self.board.loop.inputs[s.IN_HAND_MASK] != 0


KINDS = {"bus": Bus, "flow meter": Meter, "light": Light, "relays": Relays, "loop": Station, "desk": Desk}
ON_A_BOARD = ("loop", "desk")


@pytest.mark.parametrize("start_ms", STARTS_MS)
@pytest.mark.parametrize("kind", KINDS)
def test_it_works_after_any_age(kind, start_ms, tmp_path):
    clock = Clock(start_ms)
    used = KINDS[kind](clock, tmp_path) if kind in ON_A_BOARD else KINDS[kind](clock)
    assert used.works()
    for idle_ms in IDLE_MS:
        clock.now_ms += int(idle_ms)
        assert used.works(), f"after {idle_ms / DAY_MS} days"


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind not in ON_A_BOARD])
def test_it_works_around_each_wrap(kind):
    """Left alone until just before and just after each multiple of half the clock's range."""
    for half in range(1, 7):
        for beside_ms in (-2, -1, 0, 1, 2, 400, 900, 4900, 61000):
            clock = Clock(12345)
            used = KINDS[kind](clock)
            used.works()
            clock.now_ms += half * WRAP_MS // 2 + beside_ms
            assert used.works() or used.works(), (half, beside_ms)
