"""Every intermediate value of the core is a small integer of a 32-bit MicroPython, whatever the inputs and settings."""

from array import array

import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control import station

from . import checked, interpreters, walk

CONTROL = interpreters.FIRMWARE / "twinloop" / "control"
BLOCKS = 420
FEW_BLOCKS = 20


def test_over_steps_with_extreme_inputs(tmp_path):
    """210,000 steps: raw values to the ends of what the link lets in, broken clocks, settings at the ends of their ranges."""
    copy, wrapped = checked.checked_station(CONTROL, tmp_path, "checked_control")
    # Far more than one file has: the rewriting reached all of them. regression lock, not truth
    assert wrapped > 150
    recorded = walk.record(copy, BLOCKS, walk.SEED, extreme=True)
    assert len(recorded.digests) == BLOCKS * walk.STEPS_A_BLOCK * walk.DIGEST
    assert min(recorded.duties) >= 100


def test_the_checks_change_nothing(tmp_path):
    """The copy that was tried does what the shipped files do."""
    copy, _ = checked.checked_station(CONTROL, tmp_path, "checked_like_shipped")
    assert walk.record(copy, FEW_BLOCKS, walk.SEED, extreme=True) == walk.record(station, FEW_BLOCKS, walk.SEED, extreme=True)


def test_an_exchanger_that_seems_better_than_perfect(tmp_path):
    """loop_return lies at the cold end of its range while charging is steady, then tank_low does: both are values in range."""
    copy, _ = checked.checked_station(CONTROL, tmp_path, "checked_exchanger")
    state, settings, inputs = (array("i", [0] * size) for size in (s.STATE, cfg.SETTINGS, s.INPUTS))
    cfg.load_defaults(settings)
    settings[cfg.DUMP_TRAVEL], settings[cfg.LOOP_VOLUME], settings[cfg.TANK_FULL_LOW] = 1000, 1000, 75000
    copy.clear_meter(state, settings, inputs)
    copy.wake(state, settings, inputs)
    for steps, readings_c in ((120, (64, 50, 55, 60, 40, 15, 30, 58)), (300, (64, 50, 55, 60, -50, 15, 30, 58))):
        for sensor in range(s.SENSORS):
            inputs[s.IN_RAW_MC + sensor] = 1000 * readings_c[sensor]
        for _ in range(steps):
            inputs[s.IN_DT_MS] = 5000
            copy.step(state, settings, inputs)
    assert state[s.DUTY] == s.CHARGING and state[s.EFFECT_PERMILLE] > 0
    inputs[s.IN_RAW_MC + s.COLLECTOR], inputs[s.IN_RAW_MC + s.TANK_LOW], inputs[s.IN_RAW_MC + s.LOOP_SUPPLY] = 89000, -20000, 88000
    for _ in range(20):
        inputs[s.IN_DT_MS] = 5000
        copy.step(state, settings, inputs)


@pytest.mark.parametrize(
    ("module", "function", "statement"),
    [
        ("control/rules.py", "decide", "inputs[0] * inputs[0]"),
        ("control/meter.py", "heat_j", "state[0] * 1000 * 1000"),
        ("control/guard.py", "gate", "abs(-inputs[0] << 20)"),
        ("control/station.py", "step", "state[0] -= 1 << 30"),
    ],
)
def test_a_value_that_is_too_large_is_seen(module, function, statement, tmp_path):
    """The negative: planted in one function, and found."""
    changed = interpreters.planted(tmp_path, module, function, statement)
    copy, _ = checked.checked_station(changed / "twinloop" / "control", tmp_path, "checked_with_a_product")
    with pytest.raises(checked.LeavesSmallIntegersError, match=module.split("/")[1].removesuffix(".py")):
        walk.record(copy, FEW_BLOCKS, walk.SEED, extreme=True)
