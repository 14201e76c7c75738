"""A valve that leaks while it moves: the loop is latched cold, or the pump waits."""

from twinloop_hil.sequences import common, relay_script


class Passage:
    """Records whether glycol passed the radiator and whether the loop was latched cold."""

    def __init__(self, core):
        self.core = core
        self.through_radiator = False
        self.latched = False

    def __call__(self, run):
        s, cfg = self.core.state, self.core.settings
        if run.phase != "again":
            return
        away = run.state[s.VALVE_MS] < run.settings[cfg.DUMP_TRAVEL]
        if run.state[s.DUTY] == s.CHARGING and run.state[s.COLLECTOR_PUMP_ON] and away:
            self.through_radiator = True
        if run.state[s.LOOP_LOWEST_MC] < run.settings[cfg.EXCHANGER_FROST]:
            self.latched = True


def restart_in_frost(shipped, crossover):
    """Charge for half an hour while the radiator freezes, stop for a cloud, charge again."""
    script = [
        *common.CHARGING,
        ["ramp", "outdoor", -10000, 1000, {}],
        ["keep", 1800000, common.BOTH_PUMPS],
        ["set", {"collector": 15000}],
        ["keep", 180000, {"collector_pump": 0}],
        ["phase", "again"],
        *common.START,
        ["keep", 10000, {}],
    ]
    passage = Passage(shipped)
    run = relay_script.Run(shipped, common.sequence("again", script, dump_crossover=crossover), passage).run()
    assert run.failures == []
    return passage


def test_an_open_crossover_lets_no_radiator_slug_pass_unseen(shipped):
    """source: the design page's cold slug: "in frost the radiator is a slug of its own: each move
    of the valve sets the latch"
    """
    passage = restart_in_frost(shipped, shipped.settings.OPEN)
    assert passage.latched or not passage.through_radiator


def test_a_closed_crossover_lets_nothing_pass(shipped):
    passage = restart_in_frost(shipped, shipped.settings.CLOSED)
    assert not passage.through_radiator
