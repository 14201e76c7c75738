"""Forty days on a clock that wraps after 12.4: started anywhere, the loop does the same."""

import hashlib
import math
from types import MethodType

import pytest
from twinloop.control import state as s
from twinloop_hil.client import Client
from twinloop_hil.inprocess import WRAP_MS, InProcessBoard

DAYS = 40
DAY_MS = 86400000
BEFORE_WRAP_MS = 30000
# Turns are a second apart around each wrap of either clock, otherwise a minute, as is the step.
FINE_MS = 600000
FINE_TURN_MS = 1000
COARSE_TURN_MS = 60000
LEASE_MS = 180000


def weather(port, elapsed_ms):
    """The readings of a sunny day, with a hot tank every third evening."""
    sun = max(0.0, math.sin(2 * math.pi * (elapsed_ms % DAY_MS) / DAY_MS))
    day = elapsed_ms // DAY_MS
    tank = 35 + (day % 3) * 15
    collector = 10 + (50 + 12 * (day % 7)) * sun
    supply = collector - 3 if sun > 0.1 else 20.0
    readings = (collector, tank, tank + 5, supply, tank + 2, 8 + 10 * sun, 40, max(supply - 2, 15), 10 + 50 * sun, 15)
    for sensor in range(s.SENSORS):
        port.values_mc[sensor] = int(1000 * readings[sensor]) + elapsed_ms // 1000 % 2
    port.causes[s.TANK_HIGH] = s.CAUSE_CRC if day % 5 == 4 else 0


def fine(elapsed_ms):
    """Whether one of the two clocks is about to wrap."""
    return (elapsed_ms + FINE_MS // 2) % WRAP_MS < FINE_MS


def live(folder, start_ms, days=DAYS, unsafe_diff=None):
    """What a board did: hash over states and relays, uptime, true time, feeds, duties."""
    folder.mkdir()
    board = InProcessBoard(f"{folder}/", start_ms=start_ms)
    board.port.relays.lease_ms = LEASE_MS
    if unsafe_diff is not None:
        board.port.ticks_diff = MethodType(unsafe_diff, board.port)
    digest, duties = hashlib.sha256(), set()
    elapsed_ms = 0
    held = False
    while elapsed_ms < days * DAY_MS:
        near_wrap = fine(elapsed_ms)
        turn_ms = FINE_TURN_MS if near_wrap else COARSE_TURN_MS
        if near_wrap and not held:
            # A hand across the wrap: its end is a time on the wrapping clock.
            Client(board).call("hand", s.TANK_PUMP, 1, 400)
        held = near_wrap
        elapsed_ms += turn_ms
        weather(board.port, elapsed_ms)
        board.pass_time(turn_ms, turn_ms=turn_ms)
        digest.update(board.loop.state)
        digest.update(bytes(board.relays()))
        duties.add(board.loop.state[s.DUTY])
    return digest.hexdigest(), board.loop.uptime_s, elapsed_ms // 1000, board.port.fed, duties


def test_forty_days_are_the_same(tmp_path):
    """Four wraps against three: same states, relays, uptime and watchdog feeds."""
    zero = live(tmp_path / "zero", 0)
    late = live(tmp_path / "late", WRAP_MS - BEFORE_WRAP_MS)
    assert zero == late
    _, uptime_s, elapsed_s, fed, duties = zero
    assert uptime_s == elapsed_s >= DAYS * DAY_MS // 1000
    assert fed >= DAYS * DAY_MS // COARSE_TURN_MS
    assert duties >= {s.IDLE, s.CHARGING, s.DUMPING, s.HAND}


def plain_difference(port, later, earlier):
    """The subtraction of a careless port."""
    return later - earlier


def test_a_clock_that_is_only_subtracted_is_seen(tmp_path):
    """The negative: one wrap is enough."""
    zero = live(tmp_path / "zero", 0, 1, plain_difference)
    late = live(tmp_path / "late", WRAP_MS - BEFORE_WRAP_MS, 1, plain_difference)
    assert zero != late


@pytest.mark.parametrize("days", [1, 7, 9, 12])
def test_a_masked_relay_moves_after_any_uptime(days, tmp_path):
    """After days without a move a masked relay may move at once, whatever the clock shows."""
    board = InProcessBoard(f"{tmp_path}/")
    board.port.period_ms = COARSE_TURN_MS
    board.pass_time(days * DAY_MS, turn_ms=COARSE_TURN_MS)
    client = Client(board)
    raw = [60000, 40000, 45000, 55000, 40000, 15000, 40000, 50000, 20000, 15000]
    client.inject(raw, mask=15)
    for _ in range(40):
        board.port.now_ms += 2500
        commands = client.advance(60000, raw)[0]
        if commands[s.COLLECTOR_PUMP] == 1:
            break
    assert board.relays()[s.COLLECTOR_PUMP] == commands[s.COLLECTOR_PUMP] == 1
