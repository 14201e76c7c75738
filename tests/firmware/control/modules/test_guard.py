"""The guard on broken rules, on both interpreters, and each of its functions."""

import pytest
from twinloop_hil.sequences import relay_script

from .. import core, syntax_edits
from ..protections import guard
from ..stations import each, values

each_broken = pytest.mark.parametrize(("sequence", "edit"), guard.BROKEN, ids=[sequence["name"] for sequence, _ in guard.BROKEN])


@each_broken
def test_it_acts_when_the_rules_do_not(sequence, edit):
    run = relay_script.Run(syntax_edits.without(edit), sequence).run()
    assert run.failures == []
    assert run.guard_actions > 0


@each_broken
def test_it_acts_alike_on_micropython(sequence, edit, tmp_path, micropython):
    """And takes nothing from the heap."""
    changes = syntax_edits.changes(edit)
    here = relay_script.Run(core.load_changed(changes), sequence).run()
    package = core.write_changed(tmp_path, changes)
    runs, weights = core.run_micropython(tmp_path, [sequence], tmp_path, package)
    there = runs[sequence["name"]]
    assert there["failures"] == []
    assert there["trace"] == [line[-1] for line in here.trace]
    assert sum(taken for _, taken in weights.values()) == 0


@each_broken
def test_it_has_nothing_to_do_when_the_rules_are_whole(sequence, edit, shipped):
    run = relay_script.Run(shipped, sequence).run()
    assert run.guard_actions == 0
    assert run.failures[0][3:] == [1, 0], "the rules act before the guard has to"


def test_its_memory_is_bounded(arrays, shipped, s):
    for sensor in range(s.GUARDED):
        arrays.inputs[s.IN_RAW_CAUSE + sensor] = s.CAUSE_OPEN
    arrays.inputs[s.IN_DT_MS] = s.STEP_TOP_MS
    for _ in range(100):
        shipped.guard.gate(*arrays.all)
    timers = [*range(s.GUARD_AGE_MS, s.GUARD_AGE_MS + s.GUARDED)]
    assert {arrays.state[index] for index in timers} == {shipped.guard.TOP_MS}


def test_it_shares_no_code_with_the_rules():
    source = (core.CONTROL / "guard.py").read_text()
    assert "rules" not in [line.split()[1].lstrip(".") for line in source.splitlines() if line.startswith("from ")]
    assert "import rules" not in source


def show(core, arrays, raws):
    """Set what the guard believes, by name: (millidegrees, age), for all others 40 C, just read."""
    s = core.state
    for sensor, name in enumerate(s.SENSOR_NAMES[: s.GUARDED]):
        arrays.state[s.GUARD_MC + sensor], arrays.state[s.GUARD_AGE_MS + sensor] = raws.get(name, (40000, 0))
        arrays.state[s.GUARD_TRIES + sensor] = 0
        arrays.inputs[s.IN_RAW_MC + sensor], arrays.inputs[s.IN_RAW_CAUSE + sensor] = 40000, 1


class Ear:
    """What the guard believes of one sensor while readings come in, five seconds apart."""

    def __init__(self, core, arrays, name, believed_mc=None):
        self.core = core
        self.arrays = arrays
        self.sensor = core.state.SENSOR_NAMES.index(name)
        show(core, arrays, {name: (believed_mc, 0)} if believed_mc is not None else {name: (0, core.guard.TOP_MS)})

    def hear(self, *readings):
        """Age of the belief in s after each reading; a reading is millidegrees, None a bad one."""
        s, ages = self.core.state, []
        for raw_mc in readings:
            if raw_mc is not None:
                self.arrays.inputs[s.IN_RAW_MC + self.sensor] = raw_mc
            self.arrays.inputs[s.IN_RAW_CAUSE + self.sensor] = s.CAUSE_NONE if raw_mc is not None else s.CAUSE_CRC
            self.core.guard.listen(*self.arrays.all, self.sensor)
            ages.append(min(self.arrays.state[s.GUARD_AGE_MS + self.sensor] // 1000, 999))
        return ages

    @property
    def believed_mc(self):
        return self.arrays.state[self.core.state.GUARD_MC + self.sensor]


# Five kelvin and five seconds at the fastest credible rate: 10 K/s, 1 K/s, 5 K/s.
@each("name, reach_mk", ("collector", 55000), ("tank_low", 10000), ("tank_high", 10000), ("loop_supply", 30000))
def test_a_reading_near_the_last_one_is_believed(name, reach_mk, calm, shipped):
    for off, near in ((reach_mk, True), (-reach_mk, True), (reach_mk + 1, False), (-reach_mk - 1, False)):
        ear = Ear(shipped, calm, name, 50000)
        assert ear.hear(50000 + off) == [0 if near else 5], off
        assert ear.believed_mc == (50000 + off if near else 50000)
    for apart, agrees in ((reach_mk, True), (reach_mk + 1, False)):
        ear = Ear(shipped, calm, name)
        assert ear.hear(0, apart, 0)[-1] == (0 if agrees else 999), apart


@each("name", "collector", "tank_low", "tank_high", "loop_supply")
def test_a_jump_is_believed_when_two_more_agree(name, calm, shipped):
    ear = Ear(shipped, calm, name, 0)
    assert ear.hear(95000, 95000, 95000) == [5, 10, 0]
    assert ear.believed_mc == 95000
    assert ear.hear(0, 95000, 0, 95000, 0, 0, 95000) == [5, 0, 5, 0, 5, 10, 0], "a lie now and then changes nothing"


@each("mc", 95000, 3000)
def test_three_that_agreed_are_no_proof_after_a_bad_reading(mc, calm, shipped):
    ear = Ear(shipped, calm, "tank_high", mc)
    ear.hear(mc, mc, mc, *[None] * 13)
    assert ear.hear(mc, mc, mc) == [70, 75, 0]


def test_a_bad_reading_breaks_a_row_but_a_chip_that_still_measures_does_not(calm, shipped, s):
    ear = Ear(shipped, calm, "tank_high", 20000)
    assert ear.hear(95000, 95000, None, 95000, 95000, 95000) == [5, 10, 15, 20, 25, 0]
    ear = Ear(shipped, calm, "tank_high", 20000)
    assert ear.hear(95000, 95000) == [5, 10]
    calm.inputs[s.IN_RAW_CAUSE + s.TANK_HIGH] = s.CAUSE_NOT_READY
    shipped.guard.listen(*calm.all, s.TANK_HIGH)
    assert ear.hear(95000) == [0]


def test_what_was_believed_too_long_ago_has_no_neighbours(calm, shipped):
    ear = Ear(shipped, calm, "tank_high", 95000)
    assert ear.hear(*[None] * 11, 95000) == [*range(5, 60, 5), 0]
    # tank_age of 60 s: the reading after it comes when the last one is 60 s old.
    assert ear.hear(*[None] * 12, 95000)[-1] == 0
    assert ear.hear(*[None] * 13, 95000, 95000, 95000)[-3:] == [70, 75, 0]


# What the places can reach, as in the table of sensors.
@each(
    "name, lowest_mc, highest_mc",
    ("collector", -50000, 240000),
    ("tank_low", 0, 115000),
    ("tank_high", 0, 115000),
    ("loop_supply", -50000, 160000),
)
def test_an_impossible_reading_is_none(name, lowest_mc, highest_mc, calm, shipped, s):
    for raw_mc, possible in ((lowest_mc, True), (lowest_mc - 1, False), (highest_mc, True), (highest_mc + 1, False)):
        assert (Ear(shipped, calm, name, raw_mc).hear(raw_mc) == [0]) == possible
    row = s.SENSOR_NAMES.index(name)
    assert (lowest_mc, highest_mc) == (shipped.readings.LOWEST_MC[row], shipped.readings.HIGHEST_MC[row])


@each(
    "collector, counts",
    ((119999, 0), False),
    ((120000, 0), True),
    # collector_age of 15 s.
    ((120000, 15000), True),
    ((120000, 15001), False),
)
def test_how_long_the_collector_was_at_its_limit(collector, counts, calm, shipped):
    """What was believed counts until it is too old."""
    show(shipped, calm, {"collector": collector})
    calm.change(GUARD_COLLECTOR_MS=1000)
    assert calm.after(shipped.guard.measure_collector, "GUARD_COLLECTOR_MS") == (6000 if counts else 0)


@each("name", "tank_low", "tank_high")
@each(
    "believed, margin_mk, counts",
    # tank_limit of 75 C.
    ((75000, 0), 0, False),
    ((75001, 0), 0, True),
    # tank_age of 60 s.
    ((75001, 60000), 0, True),
    ((75001, 60001), 0, False),
    # Strapped on, the sensors read less.
    ((64000, 0), 11000, False),
    ((64001, 0), 11000, True),
)
def test_how_long_the_tank_was_over_its_limit(name, believed, margin_mk, counts, calm, shipped):
    show(shipped, calm, {name: believed})
    calm.state[shipped.state.GUARD_AGE_MS + shipped.state.LOOP_SUPPLY] = 60001
    calm.change(GUARD_TANK_MS=1000, GUARD_TANK_STEPS=4, TANK_MARGIN=margin_mk)
    assert calm.after(shipped.guard.measure_tank, "GUARD_TANK_MS") == (6000 if counts else 0)


@each("dt_ms", 1000, 5000, 60000)
@each("steps", 1, 2, 3, 4, 5)
def test_the_first_three_steps_over_the_limit_count_five_seconds_at_most(steps, dt_ms, calm, shipped):
    """source: guard.py, three steps of five seconds are its margin"""
    show(shipped, calm, {"tank_high": (75001, 0)})
    calm.state[shipped.state.GUARD_AGE_MS + shipped.state.LOOP_SUPPLY] = 60001
    calm.change(IN_DT_MS=dt_ms)
    for _ in range(steps):
        shipped.guard.measure_tank(*calm.all)
    counted_ms = min(steps, 3) * min(dt_ms, 5000) + max(steps - 3, 0) * dt_ms
    assert values(shipped, calm, "GUARD_TANK_STEPS", "GUARD_TANK_MS") == (min(steps, 4), counted_ms)
    show(shipped, calm, {"tank_high": (75000, 0)})
    assert calm.after(shipped.guard.measure_tank, "GUARD_TANK_STEPS", "GUARD_TANK_MS") == (0, 0)


@each(
    "believed, cools",
    ({"loop_supply": (39999, 0)}, True),
    ({"loop_supply": (40000, 0)}, False),
    ({"loop_supply": (39999, 60000)}, True),
    ({"loop_supply": (39999, 60001)}, False),
    ({"loop_supply": (45000, 0), "tank_low": (50000, 0)}, False),
    ({"loop_supply": (45000, 0), "tank_high": (50000, 0)}, False),
    ({"loop_supply": (45000, 0), "tank_low": (50000, 0), "tank_high": (50000, 0)}, True),
    ({"loop_supply": (39999, 0), "tank_low": (40000, 60001)}, False),
    ({"loop_supply": (39999, 0), "tank_high": (40000, 60001)}, False),
)
def test_glycol_colder_than_the_whole_tank_only_takes_heat(believed, cools, calm, shipped):
    """source: the design page, glycol trusted colder than the coldest trusted tank sensor"""
    show(shipped, calm, believed)
    calm.change(GUARD_TANK_MS=1000, GUARD_TANK_STEPS=4, TANK_LIMIT=38000)
    assert calm.after(shipped.guard.measure_tank, "GUARD_TANK_MS") == (0 if cools else 6000)


@each(
    "facts, acts",
    ({}, 0),
    # collector_age of 15 s, tank_age of 60 s, each plus the margin of 15 s.
    ({"GUARD_COLLECTOR_MS": 30000}, 0),
    ({"GUARD_COLLECTOR_MS": 30001}, 1),
    ({"GUARD_COLLECTOR_MS": 30001, "TANK_PUMP_ON": 0}, 1),
    ({"GUARD_COLLECTOR_MS": 30001, "COLLECTOR_PUMP_ON": 0}, 0),
    ({"collector": 30000}, 0),
    ({"collector": 30001}, 1),
    ({"GUARD_TANK_MS": 75000}, 0),
    ({"GUARD_TANK_MS": 75001}, 1),
    ({"GUARD_TANK_MS": 75001, "TANK_PUMP_ON": 0}, 1),
    ({"GUARD_TANK_MS": 75001, "COLLECTOR_PUMP_ON": 0}, 0),
    ({"tank_low": 75001}, 0),
    ({"tank_high": 75001}, 0),
    ({"tank_low": 75000, "tank_high": 75001}, 0),
    ({"tank_low": 75001, "tank_high": 75001}, 1),
    ({"tank_low": 75001, "tank_high": 75001, "TANK_PUMP_ON": 0}, 0),
    ({"COLLECTOR_AGE": 60000, "GUARD_COLLECTOR_MS": 75000}, 0),
    ({"TANK_AGE": 10000, "GUARD_TANK_MS": 25001}, 1),
)
def test_which_commands_must_not_be(facts, acts, calm, shipped, s):
    show(shipped, calm, {name: (40000, age_ms) for name, age_ms in facts.items() if name.islower()})
    calm.change(COLLECTOR_PUMP_ON=1, TANK_PUMP_ON=1)
    calm.change(**{name: value for name, value in facts.items() if name.isupper()})
    assert shipped.guard.must_act(*calm.all) == acts


def test_releasing_leaves_the_alarm_and_what_is_off(calm, shipped, s):
    """A timer restarts only where an output was switched."""
    calm.change(COLLECTOR_PUMP_ON=1, TANK_PUMP_ON=0, DUMP_VALVE_POWER_ON=1, ALARM_ON=1, AIR_FAN_ON=1)
    for output in range(s.OUTPUTS):
        calm.state[s.OUTPUT_MS + output] = 7000
    shipped.guard.release_all(*calm.all)
    assert list(calm.state[s.COMMAND : s.COMMAND + s.OUTPUTS]) == [0, 0, 0, 1, 0]
    assert list(calm.state[s.OUTPUT_MS : s.OUTPUT_MS + s.OUTPUTS]) == [0, 7000, 0, 7000, 0]


@each("before_ms, after_ms, still_on", (0, 0, 1), (5000, 0, 1), (5001, 1, 0), (600000, 595000, 0))
def test_the_pause_after_an_action_runs_out(before_ms, after_ms, still_on, calm, shipped):
    """Outputs stay off to its last millisecond."""
    show(shipped, calm, {})
    calm.change(GUARD_HOLD_MS=before_ms, COLLECTOR_PUMP_ON=1)
    assert calm.after(shipped.guard.gate, "GUARD_HOLD_MS", "COLLECTOR_PUMP_ON", "GUARD_ACTIONS") == (after_ms, still_on, 0)


def test_each_action_is_counted_and_begins_the_pause_anew(calm, shipped):
    for action in (1, 2):
        show(shipped, calm, {"collector": (20000, 30000)})
        calm.change(COLLECTOR_PUMP_ON=1, GUARD_HOLD_MS=9000)
        assert calm.after(shipped.guard.gate, "GUARD_ACTIONS", "GUARD_HOLD_MS", "COLLECTOR_PUMP_ON") == (action, 600000, 0)
