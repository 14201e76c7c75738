"""Sensors beyond a limit that fail or lie now and then: the guard behind broken rules, the rules.

The truth comes at least once within the sensor's age. In between there are bad readings, impossible
ones, and lies, of which no three in a row agree.
"""

import random

import pytest
from twinloop_hil.sequences import relay_script
from twinloop_hil.sequences.common import LONG_CHARGING

from . import syntax_edits
from .protections.guard import DUMPING
from .syntax_edits import gone, never, returns

BAD, IMPOSSIBLE, COLD = (0, 4), (250000, 0), (20000, 0)
# Sensor, the truth beyond its limit, other readings, its age in s, and the rule that does not see
# it. 95 C in tank_low would end charging by the difference.
PLACES = {
    "tank_high": (LONG_CHARGING, 95000, {}, 60, gone("latch_full", "TANK_FULL = 1")),
    "tank_low": (LONG_CHARGING, 77000, {"collector": 88000, "loop_supply": 86000}, 60, gone("latch_full", "TANK_FULL = 1")),
    "collector": (DUMPING, 125000, {}, 15, never("latch_steam", "COLLECTOR_LIMIT")),
}
SPAN_S = 300
# At default settings the guard acts within two minutes.
ACTS_WITHIN_S = 120


def each_nth(count, what):
    """A mixture with something else in each nth second."""
    return lambda age_s: [what if second % count == 0 else None for second in range(1, SPAN_S + 1)]


def rarely_true(what):
    """A mixture with the truth only once in each age."""
    return lambda age_s: [None if second % age_s == 0 else what for second in range(1, SPAN_S + 1)]


def drawn(seed):
    """A random mixture: the truth at least once in each age, and no three lies that agree."""

    def draw(age_s):
        chance = random.Random(seed)
        share, mixture, since_s, lies = chance.choice((0.1, 0.5, 0.9, 0.98)), [], 0, 0
        for _ in range(SPAN_S):
            kinds = [BAD, IMPOSSIBLE] if lies == 2 else [BAD, IMPOSSIBLE, (chance.randrange(0, 50000), 0)]
            what = chance.choice(kinds) if chance.random() < share and since_s < age_s - 1 else None
            lies = lies + 1 if what not in (None, BAD, IMPOSSIBLE) else 0
            since_s = since_s + 1 if what else 0
            mixture.append(what)
        return mixture

    return draw


MIXTURES = {
    **{f"{name} each {count}": each_nth(count, what) for name, what in (("bad", BAD), ("20 C", COLD)) for count in (2, 3, 60, 75)},
    "true once in its age": rarely_true(BAD),
    "impossible but once in its age": rarely_true(IMPOSSIBLE),
    **{f"drawn with seed {seed}": drawn(seed) for seed in range(12)},
}


class Mixed(relay_script.Run):
    """A station in full swing, with one sensor that mixes its truth with something else."""

    def __init__(self, control, name, truth_mc, begin, others):
        script = [*begin, ["step_ms", 1000], ["set", others], ["ramp", name, truth_mc, 1000, {}]]
        super().__init__(control, {"name": name, "settings": {"loop_volume": 1000}, "script": script})
        self.sensor_place = self.sensor(name)
        self.truth_mc = truth_mc
        self.run()

    def take(self, what):
        """A second with this reading and cause, None for the truth; whether glycol still moves."""
        names = self.control.state
        raw_mc, cause = what or (self.truth_mc, names.CAUSE_NONE)
        self.inputs[names.IN_RAW_MC + self.sensor_place] = raw_mc
        self.inputs[names.IN_RAW_CAUSE + self.sensor_place] = cause
        self.step()
        return self.state[names.COLLECTOR_PUMP_ON] == 1


@pytest.mark.parametrize("mixture", MIXTURES)
@pytest.mark.parametrize("name", PLACES)
def test_the_guard_hears_the_truth_in_any_mixture(name, mixture):
    begin, truth_mc, others, age_s, broken = PLACES[name]
    # An impossible reading that lasts is steam, by another rule.
    run = Mixed(syntax_edits.without(broken, returns("hot_elsewhere", False)), name, truth_mc, begin, others)
    seconds = [run.take(what) for what in MIXTURES[mixture](age_s)[:ACTS_WITHIN_S]]
    assert not seconds[-1]
    assert run.guard_actions == 1


@pytest.mark.parametrize("mixture", MIXTURES)
@pytest.mark.parametrize("name", PLACES)
def test_the_rules_hear_it_before_the_guard_has_to(name, mixture, shipped):
    begin, truth_mc, others, age_s, _ = PLACES[name]
    run = Mixed(shipped, name, truth_mc, begin, others)
    for what in MIXTURES[mixture](age_s):
        assert not run.take(what)
    assert run.guard_actions == 0


@pytest.mark.parametrize("name", PLACES)
def test_one_lie_an_age_makes_nobody_act(name, shipped):
    """Not even behind broken rules: the truth is well within the limit."""
    begin, _, others, age_s, broken = PLACES[name]
    true_mc = {"tank_high": 40000, "tank_low": 40000, "collector": 100000}[name]
    for control in (shipped, syntax_edits.without(broken)):
        run = Mixed(control, name, true_mc, begin, others)
        for second in range(SPAN_S):
            lie_mc = 110000 if name != "collector" else 200000
            what = (lie_mc, 0) if second % age_s == 0 else BAD if second % 3 else None
            assert run.take(what), second
        assert run.guard_actions == 0
