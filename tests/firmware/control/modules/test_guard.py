"""The guard on broken rules, on both interpreters, and each of its functions."""

import pytest
from twinloop_hil.sequences import relay_script

from .. import core, syntax_edits
from ..protections import guard
from ..stations import each

each_broken = pytest.mark.parametrize(("sequence", "edit"), guard.BROKEN, ids=[sequence["name"] for sequence, _ in guard.BROKEN])


@each_broken
def test_it_acts_when_the_rules_do_not(sequence, edit):
    run = relay_script.Run(syntax_edits.without(edit), sequence).run()
    assert run.failures == []
    assert run.guard_actions > 0


@each_broken
def test_it_acts_alike_on_micropython(sequence, edit, tmp_path, micropython):
    changes = syntax_edits.changes(edit)
    here = relay_script.Run(core.load_changed(changes), sequence).run()
    package = core.write_changed(tmp_path, changes)
    there = core.run_micropython(tmp_path, [sequence], "trace", tmp_path, package)[sequence["name"]]
    assert there["failures"] == []
    assert there["trace"] == here.trace


@each_broken
def test_it_has_nothing_to_do_when_the_rules_are_whole(sequence, edit, shipped):
    run = relay_script.Run(shipped, sequence).run()
    assert run.guard_actions == 0
    assert run.failures[0][3:] == [1, 0], "the rules act before the guard has to"


def test_its_memory_is_bounded(arrays, shipped, s):
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


@each(
    "facts, counts",
    ({}, False),
    ({"collector": (119999, 0)}, False),
    ({"collector": (120000, 0)}, True),
    ({"collector": (20000, 1)}, True),
)
def test_how_long_the_collector_was_bad(facts, counts, calm, shipped):
    """By the raw reading: at collector_limit, or refused by the driver."""
    show(shipped, calm, facts)
    calm.change(GUARD_COLLECTOR_MS=1000)
    assert calm.after(shipped.guard.measure_collector, "GUARD_COLLECTOR_MS") == (6000 if counts else 0)


def show(core, arrays, raws):
    """Set raw readings and causes by name; all others read 40 C, good, as one step before."""
    s = core.state
    for number, name in enumerate(s.SENSOR_NAMES):
        arrays.inputs[s.IN_RAW_MC + number], arrays.inputs[s.IN_RAW_CAUSE + number] = raws.get(name, (40000, 0))
    for place, name in ((s.GUARD_LOW_MC, "tank_low"), (s.GUARD_HIGH_MC, "tank_high")):
        arrays.state[place] = raws.get(f"last {name}", raws.get(name, (40000, 0))[0])


@each("name", "tank_low", "tank_high")
@each(
    "raw_mc, last_mc, cause, is_over, kept_mc",
    # One kelvin above tank_limit: the rules act at it.
    (76000, 76000, 0, False, 76000),
    (76001, 76001, 0, True, 76001),
    # Water in a tank does not jump by more than 5 K from step to step.
    (80000, 75000, 0, True, 80000),
    (80000, 74999, 0, False, 80000),
    (80000, 85000, 0, True, 80000),
    (80000, 85001, 0, False, 80000),
    # No pocket reads above 115 C; what is not read is not remembered.
    (115000, 115000, 0, True, 115000),
    (115001, 115001, 0, False, 0),
    (80000, 80000, 1, False, 0),
)
def test_a_raw_tank_sensor_is_over_the_limit(name, raw_mc, last_mc, cause, is_over, kept_mc, calm, shipped, s):
    sensor = s.SENSOR_NAMES.index(name)
    show(shipped, calm, {name: (raw_mc, cause), f"last {name}": last_mc})
    assert shipped.guard.over(*calm.all, sensor) == is_over
    assert calm.state[s.GUARD_LOW_MC if name == "tank_low" else s.GUARD_HIGH_MC] == kept_mc
    show(shipped, calm, {name: (raw_mc, cause), f"last {name}": last_mc})
    calm.change(GUARD_TANK_MS=1000)
    assert calm.after(shipped.guard.measure_tank, "GUARD_TANK_MS") == (6000 if is_over else 0), "the other sensor is good"


@each("raw_mc, cause, is_seen", (-5000, 0, True), (-5001, 0, False), (115000, 0, True), (115001, 0, False))
def test_a_raw_tank_sensor_is_seen(raw_mc, cause, is_seen, calm, shipped, s):
    for sensor in (s.TANK_LOW, s.TANK_HIGH):
        show(shipped, calm, {s.SENSOR_NAMES[sensor]: (raw_mc, cause)})
        assert shipped.guard.seen(*calm.all, sensor) == is_seen
        calm.inputs[s.IN_RAW_CAUSE + sensor] = 1
        assert not shipped.guard.seen(*calm.all, sensor)


@each("low, high, bad", (0, 0, False), (1, 0, False), (0, 1, False), (1, 1, True))
def test_without_any_tank_sensor_the_tank_is_bad(low, high, bad, calm, shipped):
    show(shipped, calm, {"tank_low": (40000, low), "tank_high": (40000, high)})
    calm.change(GUARD_TANK_MS=1000)
    assert calm.after(shipped.guard.measure_tank, "GUARD_TANK_MS") == (6000 if bad else 0)


@each(
    "raws, cools",
    ({"loop_supply": (39999, 0)}, True),
    ({"loop_supply": (40000, 0)}, False),
    ({"loop_supply": (39999, 1)}, False),
    ({"loop_supply": (45000, 0), "tank_low": (50000, 0)}, False),
    ({"loop_supply": (45000, 0), "tank_high": (50000, 0)}, False),
    ({"loop_supply": (45000, 0), "tank_low": (50000, 0), "tank_high": (50000, 0)}, True),
    ({"loop_supply": (39999, 0), "tank_low": (40000, 1)}, False),
    ({"loop_supply": (39999, 0), "tank_high": (40000, 1)}, False),
)
def test_glycol_colder_than_the_whole_tank_only_takes_heat(raws, cools, calm, shipped):
    """source: the design page, glycol trusted colder than the coldest trusted tank sensor"""
    show(shipped, calm, raws)
    assert shipped.guard.chills(*calm.all) == cools


@each(
    "facts, acts",
    ({}, 0),
    # collector_age of 15 s, tank_age of 60 s, each plus the margin of 15 s.
    ({"GUARD_COLLECTOR_MS": 30000}, 0),
    ({"GUARD_COLLECTOR_MS": 30001}, 1),
    ({"GUARD_COLLECTOR_MS": 30001, "TANK_PUMP_ON": 0}, 1),
    ({"GUARD_COLLECTOR_MS": 30001, "COLLECTOR_PUMP_ON": 0}, 0),
    ({"GUARD_TANK_MS": 75000}, 0),
    ({"GUARD_TANK_MS": 75001}, 1),
    ({"GUARD_TANK_MS": 75001, "TANK_PUMP_ON": 0}, 0),
    ({"GUARD_TANK_MS": 75001, "COLLECTOR_PUMP_ON": 0}, 0),
    ({"COLLECTOR_AGE": 60000, "GUARD_COLLECTOR_MS": 75000}, 0),
    ({"TANK_AGE": 10000, "GUARD_TANK_MS": 25001}, 1),
)
def test_which_commands_must_not_be(facts, acts, calm, shipped):
    show(shipped, calm, {})
    calm.change(COLLECTOR_PUMP_ON=1, TANK_PUMP_ON=1)
    calm.change(**facts)
    assert shipped.guard.must_act(*calm.all) == acts
    show(shipped, calm, {"loop_supply": (39999, 0)})
    chilled = acts and not facts.get("GUARD_TANK_MS")
    assert shipped.guard.must_act(*calm.all) == (1 if chilled else 0), "glycol that only takes heat may go on"


def test_releasing_leaves_the_alarm_and_what_is_off(calm, shipped, s):
    """A timer restarts only where an output was switched."""
    calm.change(COLLECTOR_PUMP_ON=1, TANK_PUMP_ON=0, DUMP_VALVE_POWER_ON=1, ALARM_ON=1)
    for output in range(s.OUTPUTS):
        calm.state[s.OUTPUT_MS + output] = 7000
    shipped.guard.release_all(*calm.all)
    assert list(calm.state[s.COMMAND : s.COMMAND + s.OUTPUTS]) == [0, 0, 0, 1]
    assert list(calm.state[s.OUTPUT_MS : s.OUTPUT_MS + s.OUTPUTS]) == [0, 7000, 0, 7000]


@each("before_ms, after_ms, still_on", (0, 0, 1), (5000, 0, 1), (5001, 1, 0), (600000, 595000, 0))
def test_the_pause_after_an_action_runs_out(before_ms, after_ms, still_on, calm, shipped):
    """Outputs stay off to its last millisecond."""
    show(shipped, calm, {})
    calm.change(GUARD_HOLD_MS=before_ms, COLLECTOR_PUMP_ON=1)
    assert calm.after(shipped.guard.gate, "GUARD_HOLD_MS", "COLLECTOR_PUMP_ON", "GUARD_ACTIONS") == (after_ms, still_on, 0)


def test_each_action_is_counted_and_begins_the_pause_anew(calm, shipped):
    for action in (1, 2):
        show(shipped, calm, {"collector": (20000, 1)})
        calm.change(GUARD_COLLECTOR_MS=30000, COLLECTOR_PUMP_ON=1, GUARD_HOLD_MS=9000)
        assert calm.after(shipped.guard.gate, "GUARD_ACTIONS", "GUARD_HOLD_MS", "COLLECTOR_PUMP_ON") == (action, 600000, 0)
