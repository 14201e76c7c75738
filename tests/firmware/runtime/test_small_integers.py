"""Every intermediate value of the core is a small integer of a 32-bit MicroPython.

test_relay_truth.py shows it for the sequences, and that the checks change nothing.
"""

import pytest

from ..control import stations, syntax_edits
from . import small_integers, walk

BLOCKS = 420
FEW_BLOCKS = 20


@pytest.fixture(scope="module")
def checked():
    copy, wrapped = small_integers.checked_core()
    # Far more operations than one file has, so all were rewritten. regression lock, not truth
    assert wrapped > 150
    return copy


def test_over_steps_with_extreme_inputs(checked):
    """210,000 steps: extreme raw values, broken clocks, settings at the ends of their ranges."""
    recorded = walk.record(checked.station, BLOCKS, walk.SEED, extreme=True)
    assert len(recorded.digests) == BLOCKS * walk.STEPS_A_BLOCK * walk.DIGEST
    assert min(recorded.duties) >= 100


def test_an_exchanger_that_seems_better_than_perfect(checked):
    """During steady charging loop_return, then tank_low, reads the cold end of its range."""
    s = checked.state
    arrays = stations.fresh_arrays(checked)
    stations.change(checked, arrays, DUMP_TRAVEL=1000, LOOP_VOLUME=1000, TANK_FULL_LOW=75000)
    checked.station.wake(*arrays.all)
    for steps, readings_c in ((120, (64, 50, 55, 60, 52, 15, 30, 58, 20, 15)), (300, (64, 50, 55, 60, -50, 15, 30, 58, 20, 15))):
        for sensor in range(s.SENSORS):
            arrays.inputs[s.IN_RAW_MC + sensor] = 1000 * readings_c[sensor]
        pass_steps(checked, arrays, steps)
    assert arrays.state[s.DUTY] == s.CHARGING and arrays.state[s.EFFECT_PERMILLE] > 0
    for sensor, raw_mc in ((s.COLLECTOR, 89000), (s.TANK_LOW, -20000), (s.LOOP_SUPPLY, 88000)):
        arrays.inputs[s.IN_RAW_MC + sensor] = raw_mc
    pass_steps(checked, arrays, 20)


def pass_steps(core, arrays, steps):
    for _ in range(steps):
        arrays.inputs[core.state.IN_DT_MS] = 5000
        core.station.step(*arrays.all)


def largest_heat_j(core):
    """The core's largest product: water at 10 l/min for a minute, 100 K or more."""
    s, cfg = core.state, core.settings
    arrays = stations.fresh_arrays(core)
    flow = cfg.TABLE[cfg.COLLECTOR_FLOW][3]
    stations.change(core, arrays, GLYCOL_MASS_PERCENT=0, COLLECTOR_FLOW=flow, IN_DT_MS=s.STEP_TOP_MS)
    stations.change(core, arrays, METER_ML=59999, LOOP_SUPPLY_MC=160000, LOOP_RETURN_MC=-50000)
    return core.meter.heat_j(*arrays.all)


def test_the_heat_of_the_largest_step(checked):
    # source: 10 l times 100 K times 4115 J/(l K), the table's own value for water
    assert largest_heat_j(checked) == pytest.approx(10 * 100 * 4115, rel=0.01)


@pytest.mark.parametrize(
    "edit",
    [
        syntax_edits.swapped("heat_j", "100000", "200000"),
        syntax_edits.planted("heat_j", "state[0] * 1000 * 1000"),
        syntax_edits.planted("decide", "inputs[0] * inputs[0]"),
        syntax_edits.planted("gate", "abs(-inputs[0] << 20)"),
        syntax_edits.planted("station.step", "state[0] -= 1 << 30"),
    ],
    ids=lambda edit: edit.what,
)
def test_a_value_that_is_too_large_is_seen(edit):
    """The message names the module."""
    copy, _ = small_integers.checked_core(edit)
    with pytest.raises(small_integers.LeavesSmallIntegersError, match=edit.module):
        largest_heat_j(copy)
        walk.record(copy.station, FEW_BLOCKS, walk.SEED, extreme=True)
