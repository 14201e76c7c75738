"""Which conditional mutants are felt: in random lives, the guard is true and the place differs.

Many guards contradict their place: no dump without a radiator, no reading of a sensor without it.
Such a mutant is the core itself, and no test can kill it. So the core is run once with every place
noting under which guards it would have acted otherwise. The lives have random settings, readings
around the thresholds, lost sensors, hands and resets. Nothing is judged here.

Prints JSON: {"module.function": [[mask of guards for each way] for each site]}.
"""

import ast
import json
import random
import sys
from array import array
from pathlib import Path

import conditional

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "firmware" / "control"))
import core  # noqa: E402

LIVES = 40
STEPS = 500
SEED = 20261128
# Readings in C around the thresholds of the default settings, by sensor.
READINGS = {
    "collector": (-25, -2, 3, 8, 15, 25, 32, 34, 40, 45, 60, 70, 80, 85, 91, 94, 97, 106, 119, 125),
    "tank_low": (-2, 5, 15, 25, 30, 45, 53, 57, 61, 66, 68, 74, 76, 80, 118),
    "tank_high": (10, 25, 30, 40, 53, 58, 61, 66, 69, 72, 74, 76, 80, 118),
    "loop_supply": (-2, 3, 5, 10, 20, 30, 31, 32, 34, 40, 56, 60, 76, 91, 94),
    "loop_return": (-2, 3, 5, 10, 20, 30, 40, 60, 75, 90),
    "outdoor": (-25, -10, 0, 3, 5, 10, 20, 30),
    "tap": (10, 40, 51, 53, 60),
    "exchanger": (-1, 2, 3, 5, 7, 20, 30, 31, 40, 56, 70),
    "air_collector": (-10, 0, 15, 20, 22, 25, 30, 45, 60, 80, 95),
    "room": (5, 10, 15, 18, 20, 22, 24, 26, 30),
}
# Whole weathers: a plausible state of the plant, in which the station does something.
WEATHERS = (
    (25, 30, 40, 25, 25, 20, 20, 20),
    (60, 30, 40, 56, 38, 20, 40, 50),
    (60, 30, 40, 31, 30, 20, 40, 30),
    (37, 30, 40, 31, 30, 20, 40, 30),
    (97, 68, 74, 94, 75, 25, 45, 60),
    (97, 68, 74, 94, 93, 25, 45, 60),
    (97, 30, 40, 92, 60, 20, 40, 50),
    (125, 30, 40, 30, 30, 20, 40, 30),
    (45, 30, 40, 12, 12, -2, 20, 12),
    (70, 50, 60, 60, 48, -2, 20, 55),
    (-5, 30, 40, 10, 10, -5, 20, 10),
    (0, 30, 40, 10, 10, 5, 20, 2),
    (8, 58, 61, 10, 10, 9, 20, 20),
    (8, 70, 76, 10, 10, 9, 20, 20),
    (15, 3, 20, 3, 3, 3, 20, 10),
)


class Notes:
    """What every place would have done otherwise, as masks of guards."""

    def __init__(self):
        self.now = 0
        self.masks = []
        self.names = {"_felt": self}

    def site(self, ways):
        """A new site; returns its number."""
        self.masks.append([0] * ways)
        return len(self.masks) - 1

    def term(self, site, value):
        self.masks[site][0 if value else 1] |= self.now
        return value

    def value(self, site, value, other):
        if value != other:
            self.masks[site][0] |= self.now
        return value

    def done(self, site, changes):
        if changes:
            self.masks[site][0] |= self.now


class NoteGuards(ast.NodeTransformer):
    """Puts a look at the guards before each statement of the step."""

    def visit_Expr(self, node):  # noqa: N802
        return [ast.parse("_felt.now = _felt.guards(state, settings, inputs)").body[0], node]


def noting(site, number):
    """The node that takes a site's place: it does the same, and notes."""
    source = ast.unparse(site.node)
    if site.kind == "term":
        return conditional.parsed(f"_felt.term({number}, {source})")
    if site.kind == "value":
        return conditional.parsed(f"_felt.value({number}, {source}, {conditional.contrary(site.node).value})")
    changes = "True"
    if isinstance(site.node, ast.Assign):
        changes = f"{ast.unparse(site.node.targets[0])} != ({ast.unparse(site.node.value)})"
    return ast.If(conditional.parsed("True"), ast.parse(f"_felt.done({number}, {changes})\n{source}").body, [])


def instrumented(notes, path, places):
    """A module's source with every site noting."""
    tree = ast.parse(path.read_text())
    for _, function in conditional.deciding(tree):
        # Terms come first, so that a value or a statement takes along the terms inside it.
        for site in conditional.sites(function):
            number = notes.site(2 if site.kind == "term" else 1)
            places.setdefault(f"{path.stem}.{function.name}", []).append(notes.masks[number])
            conditional.put(site.holder, site.key, noting(site, number))
        if path.stem == "station" and function.name in ("step", "wake"):
            NoteGuards().visit(function)
    return ast.unparse(ast.fix_missing_locations(tree))


def guards_of(control):
    """A function that says which guards are true, as a mask."""
    sources = [source.replace("s.", "_s.").replace("cfg.", "_cfg.") for _, source in conditional.GUARDS]
    bits = " | ".join(f"(({source}) << {bit})" for bit, source in enumerate(sources))
    names = {"_s": control.state, "_cfg": control.settings}
    exec(f"def guards(state, settings, inputs):\n    return {bits}", names)
    return names["guards"]


class Life:
    """One random life of a station."""

    def __init__(self, control, chance):
        self.control, self.chance = control, chance
        self.s = control.state
        self.state = array("i", [0] * self.s.STATE)
        self.settings = array("i", [0] * control.settings.SETTINGS)
        self.inputs = array("i", [0] * self.s.INPUTS)
        control.settings.load_defaults(self.settings)
        self.choose_settings()
        self.arrays = (self.state, self.settings, self.inputs)
        self.flows = True
        control.station.wake(*self.arrays)

    def choose_settings(self):
        cfg, chance = self.control.settings, self.chance
        self.settings[cfg.DUMP_TOPOLOGY] = chance.randrange(3)
        self.settings[cfg.AWAY] = chance.randrange(2)
        self.settings[cfg.DUMP_CROSSOVER] = chance.randrange(2)
        self.settings[cfg.FLOW_SENSOR] = chance.randrange(3)
        self.settings[cfg.LOOP_VOLUME] = chance.choice((1000, 10000))
        self.settings[cfg.EXERCISE_AFTER] = chance.choice((3600, 259200))

    def turn(self):
        """Something changes."""
        chance, s = self.chance, self.s
        what = chance.randrange(12)
        if what < 4:
            for sensor, value in enumerate(chance.choice(WEATHERS)):
                self.inputs[s.IN_RAW_MC + sensor] = value * 1000
        elif what < 7:
            sensor = chance.randrange(s.SENSORS)
            self.inputs[s.IN_RAW_MC + sensor] = chance.choice(READINGS[s.SENSOR_NAMES[sensor]]) * 1000
        elif what == 7:
            sensor = chance.randrange(s.SENSORS)
            self.inputs[s.IN_RAW_CAUSE + sensor] = chance.choice((s.CAUSE_NONE, s.CAUSE_OPEN, s.CAUSE_NOT_READY))
        elif what == 8:
            for sensor in range(s.SENSORS):
                self.inputs[s.IN_RAW_CAUSE + sensor] = s.CAUSE_NONE
        elif what == 9:
            self.inputs[s.IN_HAND_MASK] = chance.choice((0, 0, 1, 2, 3, 7))
            self.inputs[s.IN_HAND_VALUE] = chance.randrange(8)
        elif what == 10:
            self.inputs[s.IN_UPKEEP] = chance.choice((0, 0, 1, 2))
            self.inputs[s.IN_RESETS] = chance.choice((0, 0, 0, 3))
        else:
            self.rarely()

    def rarely(self):
        what = self.chance.randrange(4)
        if what == 0:
            self.control.station.wake(*self.arrays)
        elif what == 1:
            self.flows = not self.flows
        elif what == 2:
            self.state[self.s.GUARD_HOLD_MS] = self.chance.choice((0, 30000))
        else:
            self.inputs[self.s.IN_FLOW_CAUSE] = self.chance.choice((0, 0, self.s.CAUSE_OPEN))

    def live(self, steps):
        until = 0
        dt_ms = 5000
        for step in range(steps):
            if step >= until:
                self.turn()
                until = step + self.chance.choice((1, 3, 5, 20, 40))
                dt_ms = self.chance.choice((5000, 5000, 10000, 60000))
            pumps = self.state[self.s.COLLECTOR_PUMP_ON] == 1
            self.inputs[self.s.IN_FLOW_ML_PER_MIN] = 4000 if pumps == self.flows else 0
            self.inputs[self.s.IN_DT_MS] = dt_ms
            self.control.station.step(*self.arrays)


def feel(control_path, lives=LIVES, steps=STEPS):
    """The masks of every place, from random lives of the core in this folder."""
    notes, places = Notes(), {}
    paths = [Path(control_path) / f"{module}.py" for module in conditional.MODULES]
    changes = {path.stem: instrumented(notes, path, places) for path in sorted(paths)}
    control = core.load_changed(changes, notes.names)
    notes.guards = guards_of(control)
    for life in range(lives):
        Life(control, random.Random(SEED * 1000 + life)).live(steps)
    return places


if __name__ == "__main__":
    print(json.dumps(feel(sys.argv[1])))
