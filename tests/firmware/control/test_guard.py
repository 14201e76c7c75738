"""The guard on rules that were broken on purpose, on both interpreters."""

import pytest

from . import core, relay_script, syntax_edits
from .sequences import guard

each_broken = pytest.mark.parametrize(("sequence", "edit"), guard.BROKEN, ids=[sequence["name"] for sequence, _ in guard.BROKEN])


@each_broken
def test_it_acts_when_the_rules_do_not(sequence, edit, tmp_path):
    run = relay_script.Run(syntax_edits.without(tmp_path, edit), sequence).run()
    assert run.failures == []
    assert run.guard_actions > 0


@each_broken
def test_it_acts_alike_on_micropython(sequence, edit, tmp_path, micropython):
    changes = syntax_edits.changes(edit)
    here = relay_script.Run(core.load_changed(tmp_path, changes), sequence).run()
    package = core.write_changed(tmp_path, changes)
    there = core.run_micropython(tmp_path, [sequence], "trace", tmp_path, package)[sequence["name"]]
    assert there["failures"] == []
    assert there["trace"] == here.trace


@each_broken
def test_it_has_nothing_to_do_when_the_rules_are_whole(sequence, edit, shipped):
    run = relay_script.Run(shipped, sequence).run()
    assert run.guard_actions == 0
    assert run.failures[0][3:] == [1, 0], "the rules stop an output before the guard would have to"


def commanded(core, arrays, outputs):
    """A station whose rules command these outputs, with good and harmless raw readings; a step is a second."""
    s = core.state
    for output in range(s.OUTPUTS):
        arrays.state[s.COMMAND + output] = 1 if s.OUTPUT_NAMES[output] in outputs else 0
    for sensor in range(s.SENSORS):
        arrays.inputs[s.IN_RAW_MC + sensor] = 40000
    return arrays


def gate(core, arrays, seconds):
    """How many of the commanded outputs are still on after the guard saw these seconds."""
    s = core.state
    for _ in range(seconds):
        core.guard.gate(*arrays.all)
    return sum(arrays.state[s.COMMAND : s.COMMAND + s.OUTPUTS])


def test_alone_it_stops_a_pump_on_a_bad_collector(arrays, shipped):
    s = shipped.state
    commanded(shipped, arrays, ("collector_pump",)).inputs[s.IN_RAW_CAUSE + s.COLLECTOR] = s.CAUSE_OPEN
    # source: collector_age of 15 s and the guard's margin of 15 s
    assert gate(shipped, arrays, 30) == 1
    assert gate(shipped, arrays, 1) == 0
    assert (arrays.state[s.GUARD_ACTIONS], arrays.state[s.GUARD_HOLD_MS]) == (1, 600000)


def test_alone_it_stops_heat_into_a_hot_tank(arrays, shipped):
    s = shipped.state
    outputs = ("collector_pump", "tank_pump", "dump_valve_power")
    # A first value tells of a jump and not of heat, and the rules act at the limit itself.
    commanded(shipped, arrays, outputs).inputs[s.IN_RAW_MC + s.TANK_HIGH] = 76000
    assert gate(shipped, arrays, 600) == 3
    arrays.inputs[s.IN_RAW_MC + s.TANK_HIGH] = 76001
    # source: tank_age of 60 s and the guard's margin of 15 s
    assert gate(shipped, arrays, 75) == 3
    assert gate(shipped, arrays, 1) == 0


@pytest.mark.parametrize("outputs", [("tank_pump",), ("dump_valve_power",), ()])
def test_alone_it_leaves_a_standing_collector_pump_in_peace(outputs, arrays, shipped):
    s = shipped.state
    commanded(shipped, arrays, outputs).inputs[s.IN_RAW_CAUSE + s.COLLECTOR] = s.CAUSE_OPEN
    arrays.inputs[s.IN_RAW_MC + s.TANK_HIGH] = 90000
    assert gate(shipped, arrays, 600) == len(outputs)
    assert arrays.state[s.GUARD_ACTIONS] == 0


def test_its_memory_is_bounded(arrays, shipped):
    s = shipped.state
    arrays.inputs[s.IN_RAW_CAUSE + s.COLLECTOR] = s.CAUSE_OPEN
    arrays.inputs[s.IN_RAW_CAUSE + s.TANK_LOW] = s.CAUSE_OPEN
    arrays.inputs[s.IN_RAW_CAUSE + s.TANK_HIGH] = s.CAUSE_OPEN
    arrays.inputs[s.IN_DT_MS] = s.STEP_TOP_MS
    for _ in range(100):
        shipped.guard.gate(*arrays.all)
    assert arrays.state[s.GUARD_COLLECTOR_MS] == arrays.state[s.GUARD_TANK_MS] == shipped.guard.TOP_MS


def test_it_shares_no_code_with_the_rules():
    source = (core.CONTROL / "guard.py").read_text()
    assert "rules" not in [line.split()[1].lstrip(".") for line in source.splitlines() if line.startswith("from ")]
    assert "import rules" not in source
