"""What a builder tells of the fitting keeps the limits; a poor supply wears no relay."""

import numpy as np
import pytest
from twinloop.control import reasons as why
from twinloop.control import state as s
from twinloop_sim import trace
from twinloop_sim.storm import campaign as storm
from twinloop_sim.storm.draw import Case
from twinloop_sim.storm.faults import Fault

from ..shared import lived

# Both tank sensors strapped on: each reads 0.8 of the water, and 0.2 of a room of 20 C.
PART = 0.8
DAYS = 4


@pytest.fixture(scope="module")
def run_block():
    return storm.block_of()


def hottest_c(run_block, margin_mk):
    """The hottest layer of the tank in days without a draw in July."""
    strapped = tuple(Fault("sensor_strapped", name, PART, 0.0, DAYS * 86400.0) for name in ("tank_low", "tank_high"))
    settings = {"tank_margin": margin_mk}
    case = Case(seed=7, days=DAYS, recovery_s=0, start=(7, 6), daily_kwh=0.0, tank=(50.0, 60.0), settings=settings, faults=strapped)
    return np.max(lived(run_block, case).rows[:, trace.COLUMNS.index("true_tank_node")])


def test_tank_margin_keeps_the_limit_behind_strapped_sensors(run_block):
    """11 K are what they read less at 75 C; without it the water gets hotter than the limit."""
    assert hottest_c(run_block, 0) > 80.0
    assert hottest_c(run_block, 11000) <= 77.0


def test_a_supply_that_sags_wears_no_relay(run_block):
    """Two sunny days on which each start of a pump or of the valve takes the power."""
    sag = Fault("supply_sags", "board", 1.0, 0.0, 2 * 86400.0)
    rows = lived(run_block, Case(seed=7, days=2, recovery_s=0, start=(7, 6), faults=(sag,))).rows
    starts = [int(np.sum(np.diff(rows[:, trace.COMMANDS + output]) > 0)) for output in s.MOVING]
    assert 3 <= sum(starts) <= 16
    assert np.mean(rows[:, trace.REASON] == why.RESET_STORM) > 0.5
