"""Every intermediate value of the core fits into the small integers of a 32-bit MicroPython."""

import random

import pytest
from twinloop_hil.sequences import relay_script

from . import random_walk, syntax_edits, wrapped_arithmetic
from .protections import library


@pytest.fixture(scope="module")
def wrapped():
    copy, count = wrapped_arithmetic.wrapped_core()
    # Far more operations than one file has: the rewriting reached all of them. regression lock, not truth
    assert count > 100
    return copy


def test_in_every_sequence_and_with_the_same_trace(wrapped, run_here):
    for sequence in library.SEQUENCES:
        assert relay_script.Run(wrapped, sequence).run().trace == run_here(sequence["name"]).trace


def test_on_random_stations_with_extreme_inputs(wrapped):
    """20,000 steps; times and raw values up to the ends of what an input can hold, settings at the ends of their ranges."""
    times_ms = (-(1 << 30), 0, 1, 333, 5000, 60000, (1 << 30) - 1)
    steps = sum(1 for _ in random_walk.walk(wrapped, random.Random(3), 100, 200, times_ms))
    assert steps == 20000


def largest_heat_j(core):
    """The largest product of the core: 10 l/min for a minute at 100 K or more, in water."""
    s, cfg = core.state, core.settings
    state, settings, inputs = [0] * s.STATE, [0] * cfg.SETTINGS, [0] * s.INPUTS
    cfg.load_defaults(settings)
    settings[cfg.GLYCOL_MASS_PERCENT] = 0
    settings[cfg.COLLECTOR_FLOW] = cfg.TABLE[cfg.COLLECTOR_FLOW][3]
    inputs[s.IN_DT_MS] = s.STEP_TOP_MS
    state[s.METER_ML] = 59999
    state[s.LOOP_SUPPLY_MC], state[s.LOOP_RETURN_MC] = 160000, -50000
    return core.meter.heat_j(state, settings, inputs)


def test_the_heat_of_the_largest_step(wrapped):
    # source: 10 l times 100 K times 4115 J/(l K), the table's own value for water
    assert largest_heat_j(wrapped) == pytest.approx(10 * 100 * 4115, rel=0.01)


@pytest.mark.parametrize(
    "edit",
    [
        syntax_edits.swapped("heat_j", "100000", "200000"),
        syntax_edits.planted("decide", "inputs[0] * inputs[0]"),
        syntax_edits.planted("decide", "abs(-inputs[0] << 30)"),
        syntax_edits.planted("decide", "state[0] -= 1 << 30"),
    ],
    ids=lambda edit: edit.what,
)
def test_a_value_that_is_too_large_is_seen(edit):
    copy, _ = wrapped_arithmetic.wrapped_core(edit)
    with pytest.raises(wrapped_arithmetic.LeavesSmallIntegersError):
        largest_heat_j(copy)
        for _ in random_walk.walk(copy, random.Random(3), 1, 200, (60000,)):
            pass
