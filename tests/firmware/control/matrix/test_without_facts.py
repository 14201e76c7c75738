"""A fact that hangs on more than its table says is named."""

import pytest

from .. import syntax_edits
from ..syntax_edits import swapped
from . import changes, matrix, steps

# Wrong in one place only. Each passes all other tests of the core.
NEGATIVES = [
    ("latch_full", "low >= full", "state[DUTY] != STAGNATION_HOLD", "the tank full below", "TANK_FULL"),
    ("latch_over", "hottest >= limit", "trusted(state, OUTDOOR)", "the top of the tank at its limit", "TANK_OVER"),
    ("watch_tap", "state[TAP_MC] >= SCALD_MC", "inputs[IN_HAND_MASK] == 0", "scalding water", "SCALD_MS"),
    ("watch_still", "raw != state[STILL_MC + sensor]", "state[DUTY] != FROST_GUARD", "", "STILL_MC"),
    # A fact that may hang on charging, but on no other duty.
    ("waits_for_heat", "state[DUTY] != CHARGING", "state[DUTY] != HAND", "the tank full below", "NOT_JOINED_MS"),
    ("believable", "jump_mk <= reach_mk(state, settings, inputs, sensor)", "settings[AWAY] == 0", "", "GUARD_"),
]


@pytest.mark.parametrize(("function", "term", "guard", "hazard", "fact"), NEGATIVES, ids=lambda one: one)
def test_a_fact_that_hangs_on_more_is_named(function, term, guard, hazard, fact):
    core = syntax_edits.without(swapped(function, term, f"{term} and {guard}"))
    stations, facts_of = matrix.Matrix(core), changes.Facts(core)
    found = steps.in_steps(stations, facts_of, [matrix.HAZARDS[hazard]]).found if hazard else steps.in_flickers(stations, facts_of)
    assert any(line.startswith(fact) for line in found), found[:5]
