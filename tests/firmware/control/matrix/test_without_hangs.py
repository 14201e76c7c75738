"""A function that hangs on more than its table says is named when a test calls it."""

import copy

import pytest

from .. import stations, syntax_edits
from ..syntax_edits import swapped
from . import hangs

# What a test calls; what is wrong in one place only; the facts of the call; what is named.
NEGATIVES = [
    (
        "alarms.watch_tap",
        "watch_tap",
        "state[TAP_MC] >= SCALD_MC",
        "state[DUTY] != CHARGING",
        {"TAP_MC": 60000},
        "duty charging",
    ),
    (
        "tank.latch_over",
        "latch_over",
        "hottest >= limit",
        "settings[DUMP_TOPOLOGY] != SERIES",
        {"TANK_HOTTEST_MC": 90000},
        "topology series",
    ),
    ("tank.ran_enough", "ran_enough", "state[COLLECTOR_PUMP_ON] == 0", "settings[AWAY] == 0", {"COLLECTOR_PUMP_MS": 0}, "away"),
    (
        "coldloop.count_pumped",
        "note_warm",
        "trusted(state, LOOP_SUPPLY)",
        "inputs[IN_HAND_MASK] == 0",
        {"PUMPED_ML": 20000, "LOOP_SUPPLY_MC": 17000},
        "hands",
    ),
    ("frost.latch_frost", "frost_over", "state[DUTY] == FROST_GUARD", "trusted(state, TAP)", {"DUTY": "FROST_GUARD"}, "tap"),
]


@pytest.mark.parametrize(("called", "function", "term", "guard", "facts", "words"), NEGATIVES)
def test_it_is_named(called, function, term, guard, facts, words):
    core = hangs.watch(syntax_edits.without(swapped(function, term, f"{term} and {guard}")))
    module, _, name = called.partition(".")
    calm = stations.calm_arrays(core).change(**facts)
    with pytest.raises(hangs.HangsOnMoreError, match=f"{function} hangs on {words}"):
        getattr(getattr(core, module), name)(*calm.all)


def test_afterwards_every_function_is_its_own(shipped, calm):
    minded = hangs.watch(copy.copy(shipped))
    minded.latches.observe(*calm.all)
    assert minded.tank.crossed.__wrapped__ is shipped.tank.crossed
    assert not hasattr(shipped.tank.crossed, "__wrapped__")
