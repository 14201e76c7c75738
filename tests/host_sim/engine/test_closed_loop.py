"""The thermal model behind the board's chips gives the duties of the plain simulation."""

import numpy as np
import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_hil.client import Client, SerialTransport
from twinloop_hil.virtual.board import NoInterpreterError, VirtualBoard
from twinloop_sim import closed_loop, trace
from twinloop_sim.engine import run as engine


@pytest.fixture(scope="module")
def rows():
    """The plain run, before there is a board: its watchdog does not wait for a compiler."""
    return closed_loop.plain(long_steps())


@pytest.fixture
def held():
    try:
        with VirtualBoard(held=True) as board:
            yield board
    except NoInterpreterError as missing:
        pytest.skip(str(missing))


def commands(rows):
    return rows[:, trace.COMMANDS : trace.COMMANDS + s.OUTPUTS]


def long_steps():
    """Two days at 30 s per step; a collector reading may be two steps old."""
    scenario = closed_loop.two_days(step_s=30)
    scenario.settings[cfg.COLLECTOR_AGE] = 60000
    return scenario


def test_two_days_through_the_chips(rows, held):
    """Real drivers, register-level chips and pins give the same relays in each of 5,760 steps.

    Both pumps had work. `python -m twinloop_sim.closed_loop` does the same at 5 s per step.
    """
    scenario = long_steps()
    relays = closed_loop.through_chips(scenario, held)
    assert len(relays) == 5760
    differ = np.flatnonzero((commands(rows) != relays).any(axis=1))
    assert differ.size == 0, f"{differ.size} steps differ, the first is {differ[0]}"
    water = [output for output in s.MOVING if output != s.AIR_FAN]
    assert (relays.sum(axis=0)[water] > 250).all()
    assert (np.diff(relays, axis=0) != 0).any(axis=1).sum() > 20
    # The same days with the simulation's own chip rounding: the same hours within a twentieth.
    own = engine.run(scenario, compiled=False).rows
    hours = [(table[:, trace.DUTY] == s.CHARGING).sum() for table in (rows, own)]
    assert abs(hours[0] - hours[1]) < 0.05 * hours[1]


def test_a_sensor_that_is_off_would_be_seen(held):
    """Negative: with one sensor half a kelvin high, some relay moves at another step."""
    scenario = long_steps()
    scenario.days = 1
    with Client(SerialTransport(held.port)) as client:
        client.call("calibrate", s.TANK_LOW, 500)
    relays = closed_loop.through_chips(scenario, held)
    assert (commands(closed_loop.plain(scenario)) != relays).any()


def test_chips_round_as_the_tables_say():
    """To the nearest sixteenth, or code of the MAX31865: the error is at most half a step."""
    for value in range(-20000, 100000, 37):
        assert abs(closed_loop.ds18b20_mc(value) - value) <= 32
        assert abs(closed_loop.pt1000_mc(value) - value) <= 16 + 5
