"""What a builder tells the station about its fitting keeps the limits of the plant."""

import numpy as np
import pytest
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
