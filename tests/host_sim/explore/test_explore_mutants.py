"""Deleting any row of the table, or flipping a comparison, gives a counterexample.

All defects are compiled once, into a copy of the control files. One value after the last setting
chooses a defect: below FLIPS a row of the table is skipped, from FLIPS on a comparison is flipped,
from GOES on a rule of the air heater's fan is gone.
The shipped files have no such switch; edits of the syntax tree add it here.
"""

import ast
import functools
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import twinloop
from twinloop.control import rules
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_sim.explore import campaign as explore
from twinloop_sim.explore import core as explore_core
from twinloop_sim.explore import walk as w
from twinloop_sim.explore.corners import Corner, builds, plain
from twinloop_sim.explore.letters import ROOMS, heater

FIRMWARE = Path(twinloop.__file__).parent
FLIPPED = ("latches.py", "tank.py", "frost.py", "rules.py")
NOBODY = 9999
EARLY_DUMP = "early dump"
# A walk whose arrays are full has ended early, in the same states as the whole one: most defects
# show in the first hundred.
PARTS = (100, 400, 1500)
FLIPS = 1000
GOES = 5000
OPPOSITE = {ast.GtE: ast.Gt, ast.Gt: ast.GtE, ast.LtE: ast.Lt, ast.Lt: ast.LtE, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq}
ROWS = len(rules.ROWS)
# Comparisons that hold a limit: function and text as they stand in the file.
LIMITS = (
    "latch_over: hottest >= limit",
    "latch_steam: state[s.COLLECTOR_MC] >= settings[cfg.COLLECTOR_LIMIT]",
    "latch_hot: hot >= settings[cfg.CHARGE_LIMIT]",
    "latch_full: low >= full",
    "latch_difference: state[s.COLLECTOR_MC] >= settings[cfg.COLLECTOR_MINIMUM]",
    "first_row: state[s.CONDITIONS] & NEEDS[at] != NEEDS[at]",
)
# Rules of the fan, and the truth that is broken without each.
FAN_RULES = {
    "own_reason: state[s.ROOM_WARM] == 1": "fan_harms_room",
    "own_reason: state[s.AIR_WANTED] == 0": "fan_starts",
    "rest_reason: too_hot(state, settings, inputs)": "fan_starts",
    "runs_on: state[s.AIR_FAN_ON] == 0 or state[s.AIR_COLLECTOR_MC] <= state[s.ROOM_MC]": "fan_harms_room",
    "reason: stopped(state, settings, inputs)": "fan_obeys",
    "reason: in_hand(state, settings, inputs) and inputs[s.IN_HAND_VALUE] >> s.AIR_FAN & 1 == 0": "fan_obeys",
    "reason: not known(state)": "fan_unknown",
    "hand_reason: state[s.ROOM_WARM] == 1": "fan_harms_room",
}


class Flipper(ast.NodeTransformer):
    """Numbers the comparisons of a file; flips one for good, or lets the extra setting choose."""

    def __init__(self, first: int, only: int | None = None):
        self.next = first
        self.only = only
        self.function = ""
        self.names: dict[int, str] = {}

    def visit_FunctionDef(self, node):  # noqa: N802 - the name is the tree walker's
        """Remember the function of a comparison; without `settings` it cannot be told to flip."""
        self.function = node.name
        return self.generic_visit(node) if "settings" in [arg.arg for arg in node.args.args] else node

    def visit_Compare(self, node):  # noqa: N802
        self.generic_visit(node)
        number, self.next = self.next, self.next + 1
        flipped = ast.Compare(node.left, [OPPOSITE[type(node.ops[0])]()], node.comparators)
        self.names[number] = f"{self.function}: {ast.unparse(node)}"
        if self.only is not None:
            return flipped if number == self.only else node
        chosen = ast.parse(f"settings[{cfg.SETTINGS}] == {number}", mode="eval").body
        return ast.IfExp(chosen, flipped, node)


class Remover(ast.NodeTransformer):
    """Numbers each `if` that only returns; the extra setting chooses one that is gone."""

    def __init__(self):
        self.function = ""
        self.names: dict[str, int] = {}

    def visit_FunctionDef(self, node):  # noqa: N802
        """Remember the function of a rule."""
        self.function = node.name
        return self.generic_visit(node)

    def visit_If(self, node):  # noqa: N802
        if isinstance(node.body[0], ast.Return):
            number = GOES + len(self.names)
            self.names[f"{self.function}: {ast.unparse(node.test)}"] = number
            there = ast.parse(f"settings[{cfg.SETTINGS}] != {number}", mode="eval").body
            node.test = ast.BoolOp(ast.And(), [there, node.test])
        return node


def remove_all(folder: Path) -> dict[str, int]:
    """Let the extra setting take a rule of the fan away; returns number by name."""
    remover = Remover()
    tree = remover.visit(ast.parse((folder / "air.py").read_text()))
    (folder / "air.py").write_text(ast.unparse(ast.fix_missing_locations(tree)) + "\n")
    return remover.names


def flip_all(folder: Path, only: int | None = None) -> dict[int, str]:
    """Flip one comparison, or let the extra setting choose; returns name by number."""
    names: dict[int, str] = {}
    number = FLIPS
    for name in FLIPPED:
        flipper = Flipper(number, only)
        tree = flipper.visit(ast.parse((folder / name).read_text()))
        (folder / name).write_text(ast.unparse(ast.fix_missing_locations(tree)) + "\n")
        number = flipper.next
        names.update(flipper.names)
    return names


def control_copy(folder: Path) -> Path:
    shutil.copytree(FIRMWARE, folder / "twinloop", ignore=shutil.ignore_patterns("__pycache__"))
    return folder / "twinloop" / "control"


def switchable(folder: Path) -> tuple[Path, dict[int, str]]:
    """A copy with every defect, chosen by the extra setting; and the names of the flips."""
    control = control_copy(folder)
    names = flip_all(control)
    text = (control / "rules.py").read_text()
    loop = "    while "
    assert text.count(loop) == 1
    begin = text.index(loop) + len(loop)
    end = text.index(":\n", begin)
    skips = f"({text[begin:end]}) or at == settings[{cfg.SETTINGS}] * c.CONDITION_WORDS"
    (control / "rules.py").write_text(text[:begin] + skips + text[end:])
    return control, names


def defective(corner: Corner, defect: int) -> Corner:
    return Corner(corner.name, np.append(corner.settings, defect).astype(np.int32), corner.wide)


class Bench:
    """The switchable core, the walks that look for a defect, and what each sees without one."""

    def __init__(self, folder):
        self.control, self.names = switchable(folder)
        self.rules = remove_all(self.control)
        self.core = explore_core.load_core(self.control)
        self.frontiers = [*(explore.Frontier(states) for states in PARTS), explore.Frontier()]
        # Narrow alphabets suffice and are quick.
        corners = [Corner(corner.name, corner.settings) for corner in builds()[:6]]
        # A dump that begins below the charge limit, within a wide start difference.
        early = plain(start_difference=20000, dump_collector_start=58000, dump_collector_stop=40000)
        corners.append(Corner(EARLY_DUMP, early))
        self.walks = [(corner, room) for corner in corners for room in ROOMS]
        fitted = [Corner(corner.name, corner.settings) for corner in builds() if corner.settings[cfg.AIR_HEATER]]
        self.heated = [(corner, heater) for corner in fitted]
        self.walks += self.heated
        self.good = functools.cache(self.without_a_defect)

    def walk(self, frontier, corner: Corner, room, defect: int) -> explore.Found:
        """What one alphabet finds in one corner with one defect; stories are not yet shrunk."""
        found = explore.Found()
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(explore, "violation", lambda *told: told)
            explore.walk_room(self.core, frontier, defective(corner, defect), room, found)
        return found

    def without_a_defect(self, frontier, number: int) -> np.ndarray:
        found = self.walk(frontier, *self.walks[number], NOBODY)
        assert found.violations == []
        return found.seen

    def breaks(self, rule: str, truth: str) -> bool:
        """Whether the fan without a rule breaks a truth."""
        for frontier in self.frontiers:
            for corner, room in self.heated:
                walked = self.walk(frontier, corner, room, self.rules[rule])
                if truth in {explore.violation(*told)["truth"] for told in walked.violations}:
                    return True
        return False

    def first_violation(self, defect: int, row: int | None = None) -> dict | None:
        """The first violation by this defect; given a row, only walks that fire it count."""
        for frontier in self.frontiers:
            for number, (corner, room) in enumerate(self.walks):
                if row is not None and not self.good(frontier, number)[w.ROWS_SEEN + row]:
                    continue
                violations = self.walk(frontier, corner, room, defect).violations
                if violations:
                    return explore.violation(*violations[0])
        return None


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    return Bench(tmp_path_factory.mktemp("switchable"))


@pytest.mark.parametrize("row", range(ROWS - 1), ids=lambda row: f"{s.DUTY_NAMES[rules.ROWS[row][1]]}-{row}")
def test_deleted_row_breaks_a_truth(bench, row):
    violation = bench.first_violation(row, row)
    assert violation is not None
    assert violation["steps"] <= 600


def test_deleted_last_row_is_found_before_anything_runs(tmp_path):
    control = control_copy(tmp_path)
    text = (control / "rules.py").read_text()
    last = "    ((), s.IDLE, why.NO_DIFFERENCE),\n"
    assert text.count(last) == 1
    (control / "rules.py").write_text(text.replace(last, ""))
    facts = explore.explore(1, 1, 1.0, control, tell=lambda text: None)
    assert [violation["truth"] for violation in facts["violations"]] == [explore.END_NAME]
    assert not facts["complete"]
    assert run_file(facts["violations"][0]["pytest"], tmp_path, tmp_path) == 1
    assert run_file(facts["violations"][0]["pytest"], tmp_path, FIRMWARE.parent) == 0


@pytest.mark.parametrize("rule", FAN_RULES, ids=lambda rule: rule.split(" ")[1])
def test_a_fan_without_a_rule_breaks_its_truth(bench, rule):
    assert bench.breaks(rule, FAN_RULES[rule])


def run_file(text, folder, firmware):
    """Run a counterexample under pytest on a firmware folder; returns the exit status."""
    folder = folder / "run"
    folder.mkdir(exist_ok=True)
    (folder / "test_counterexample.py").write_text(text)
    path = os.pathsep.join([str(firmware), *(entry for entry in sys.path if entry)])
    call = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--rootdir", str(folder), "test_counterexample.py"]
    # Plain pytest: loading the plugins would take as long as the rest.
    environment = {**os.environ, "PYTHONPATH": path, "PYTHONDONTWRITEBYTECODE": "1", "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
    run = subprocess.run(call, cwd=folder, env=environment, capture_output=True, text=True, timeout=120)
    assert run.returncode in (0, 1), run.stdout + run.stderr
    return run.returncode


@pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.split(":")[0])
def test_flipped_comparison_gives_a_counterexample(bench, tmp_path, limit):
    numbers = [number for number, name in bench.names.items() if name == limit]
    assert len(numbers) == 1, bench.names
    violation = bench.first_violation(numbers[0])
    assert violation is not None
    flip_all(control_copy(tmp_path), numbers[0])
    assert run_file(violation["pytest"], tmp_path, tmp_path) == 1
    assert run_file(violation["pytest"], tmp_path, FIRMWARE.parent) == 0


def test_shrunk_stories_are_short(bench):
    numbers = [number for number, name in bench.names.items() if name.startswith("latch_steam: state[s.COLLECTOR_MC] >=")]
    story = {}
    exec(bench.first_violation(numbers[0])["pytest"], story)
    assert set(story["SETTINGS"]) <= {cfg.DUMP_TOPOLOGY}
    assert len(story["STEPS"]) <= 4
    changed = {index for _, changes in story["STEPS"] for index in changes}
    assert changed <= {s.IN_DT_MS, s.IN_RAW_MC + s.COLLECTOR, s.IN_RAW_MC + s.LOOP_SUPPLY, s.IN_HAND_MASK, s.IN_HAND_VALUE}


def test_the_interpreted_walk_is_the_compiled_one():
    """Both reach the same states in the same order and see the same."""
    corner = Corner("as shipped", builds()[0].settings)
    alphabet = ROOMS[0](corner.settings, False)
    ends = []
    for core in (explore_core.load_core(), explore_core.interpreted()):
        frontier = explore.Frontier(40)
        seen = np.zeros(w.SEEN, dtype=np.int64)
        with np.errstate(over="ignore"):
            filled = frontier.begin(core, corner.settings)
            count = core.walk(corner.settings, alphabet.arrays(), frontier.reached, seen, filled)
        ends.append((count, frontier.reached, seen))
    assert ends[0][0] == ends[1][0]
    assert np.array_equal(ends[0][2], ends[1][2])
    assert all(np.array_equal(one, other) for one, other in zip(ends[0][1], ends[1][1], strict=True))


def test_without_a_defect_nothing_is_broken(bench):
    """The switch changes nothing: the first states of every walk match the shipped core's.

    test_explore.py shows that the shipped core breaks nothing in whole walks of these corners,
    except the last. This test comes last in the file: by then another worker has cached the shipped
    core.
    """
    shipped = explore_core.load_core()
    for number, (corner, room) in enumerate(bench.walks):
        seen, found = bench.good(bench.frontiers[1], number), explore.Found()
        explore.walk_room(shipped, bench.frontiers[1], corner, room, found)
        assert np.array_equal(seen, found.seen)
        if corner.name == EARLY_DUMP:
            bench.good(bench.frontiers[-1], number)
