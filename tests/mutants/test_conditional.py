"""Conditional mutants: what is mutated, what is felt, and that every explanation is of one."""

import ast
import json
import subprocess
import sys
from pathlib import Path

import pytest

from . import edits

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
CONTROL = ROOT / "firmware" / "twinloop" / "control"
TOY = '''
"""A module that decides."""

from . import state as s


def hot(state, settings, inputs):
    if state[s.TAP_MC] >= 52000 and not s.trusted(state, s.TAP):
        state[s.SCALD_MS] = 7
        return True
    return 0


def sum_of(one, other):
    return one + other
'''


@pytest.fixture(scope="module")
def conditional():
    """The module as run.py imports it: with its own folder on the path."""
    sys.path.insert(0, str(HERE))
    import conditional as module

    yield module
    sys.path.remove(str(HERE))


@pytest.fixture
def mutants(conditional, tmp_path):
    """The mutants of the toy, by name."""
    path = tmp_path / "toy.py"
    path.write_text(TOY)
    return {mutant.name: mutant for mutant in conditional.mutants_of(path)}


def test_every_place_goes_wrong_under_every_guard(conditional, mutants):
    """Two terms, false or true; an assignment left out; two returned values."""
    ways = {name.split(", ", 1)[1] for name in mutants}
    assert ways == {
        "state[TAP_MC] >= 52000 taken as false",
        "state[TAP_MC] >= 52000 taken as true",
        "trusted(state, TAP) taken as false",
        "trusted(state, TAP) taken as true",
        "True taken as false",
        "True taken as true",
        "state[SCALD_MS] = 7 left out",
        "return 0 becomes 1",
    }
    assert len(mutants) == len(ways) * len(conditional.GUARDS)


def test_a_mutant_is_whole_and_imports_what_its_guard_needs(mutants):
    source = mutants["toy.hot: in series, state[TAP_MC] >= 52000 taken as false"].source
    assert "from . import settings as cfg" in source
    assert "(state[s.TAP_MC] >= 52000 and (not settings[cfg.DUMP_TOPOLOGY] == cfg.SERIES)) and" in source
    assert ast.get_docstring(ast.parse(source)) == "A module that decides."
    for mutant in mutants.values():
        compile(mutant.source, mutant.name, "exec")


def test_only_what_is_felt_is_a_mutant(conditional, tmp_path):
    (tmp_path / "tank.py").write_text(TOY)
    felt = {"tank.hot": [[0, 0], [1 << 1, 0], [0, 0], [0], [0]]}
    (only,) = conditional.all_mutants(tmp_path, felt)
    assert only.name == "tank.hot: in series, trusted(state, TAP) taken as false"


def test_random_lives_feel_what_can_be_and_not_what_contradicts(conditional):
    """A lost sensor has no reading, so nothing of it can be wrong just then."""
    run = [sys.executable, "-c", f"import felt, json; print(json.dumps(felt.feel({str(CONTROL)!r}, lives=6)))"]
    done = subprocess.run(run, cwd=HERE, capture_output=True, text=True, check=True, timeout=300)
    felt = json.loads(done.stdout)
    names = {mutant.name for mutant in conditional.all_mutants(CONTROL, felt)}
    assert "tank.latch_over: in series, hottest >= limit taken as false" in names
    assert "alarms.watch_tap: without tap, state[TAP_MC] >= SCALD_MC taken as false" not in names
    assert 8000 < len(names) < 25000


@pytest.mark.parametrize(
    ("name", "pattern", "wanted"),
    [
        ("a.b: in series, x < 1 taken as true", "a.b: *, x < 1 taken as true", True),
        ("a.b: in series, x < 1 taken as true", "a.b: in series, x < 1 taken as true", True),
        ("a.b: in series, x < 1 taken as true", "a.b: away, x < 1 taken as true", False),
        ("a.b: in series, x < 1 taken as true", "a.c: *, x < 1 taken as true", False),
        ("a.b: in series, x < 1 taken as true", "a.b: *, x < 1 taken as false", False),
    ],
)
def test_a_pattern_stands_for_one_place_under_any_guard(conditional, name, pattern, wanted):
    assert conditional.matches(name, pattern) == wanted


def test_every_explanation_of_a_conditional_mutant_is_of_one(conditional):
    names = [mutant.name for mutant in conditional.every_mutant(CONTROL)]
    explained = edits.explained(ROOT / "docs" / "mutants.md", conditional=True)
    assert [known for known in explained if not any(conditional.matches(name, known) for name in names)] == []
