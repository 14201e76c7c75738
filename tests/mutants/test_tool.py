"""The tool itself, on a toy core with known gaps in its tests."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

RUN = Path(__file__).parent / "run.py"
CORE = '''
LIMIT_MC = 20000
UNTESTED = 7


def over(value):
    """Text that is no statement."""
    if value >= LIMIT_MC:
        return 1
    return 0


def count_down(left):
    while left > 0:
        left -= 1
    return left


def half(value):
    return value // 2
'''
TESTS = """
import pytest
from twinloop.control import toy


def test_over():
    assert [toy.over(value) for value in (19999, 20000, 20001)] == [0, 1, 1]


def test_count_down():
    assert toy.count_down(3) == 0


def test_half():
    assert toy.half(2) == 1


@pytest.fixture
def slow():
    return toy


def test_that_is_left_out(slow):
    assert slow.UNTESTED == 7
"""


@pytest.fixture
def toy(tmp_path):
    """A function that runs the tool on a firmware of one module."""
    control = tmp_path / "firmware" / "twinloop" / "control"
    control.mkdir(parents=True)
    (control.parent / "__init__.py").write_text("")
    (control / "__init__.py").write_text("")
    (control / "toy.py").write_text(CORE)
    (tmp_path / "test_toy.py").write_text(TESTS)

    def run(*options, without="nothing"):
        files = ["--firmware", str(tmp_path / "firmware"), "--results", str(tmp_path / "found.json")]
        fixed = [*files, "--timeout-s", "2", "--without", without]
        command = [sys.executable, str(RUN), *fixed, *options, "--", "--rootdir", str(tmp_path), str(tmp_path / "test_toy.py")]
        # No path of ours: only the copy with the mutant may provide the package.
        done = subprocess.run(command, capture_output=True, text=True, timeout=100, check=False, env={"PATH": os.environ["PATH"]})
        found = tmp_path / "found.json"
        return done, json.loads(found.read_text())["mutants"] if found.exists() else {}

    return run


def outcomes(found):
    """Outcomes by name."""
    return {name: result["outcome"] for name, result in found.items()}


def test_what_is_killed_what_survives_and_what_never_ends(toy):
    done, found = toy("--jobs", "2", without="slow")
    by_name = outcomes(found)
    assert by_name["toy.LIMIT_MC: 20000 -> 21000"] == "killed"
    assert by_name["toy.over: value >= LIMIT_MC -> value > LIMIT_MC"] == "killed"
    assert found["toy.over: value >= LIMIT_MC -> value > LIMIT_MC"]["killer"].endswith("test_over")
    assert by_name["toy.count_down: left -= 1 -> left += 1"] == "timeout"
    survived = {name for name, outcome in by_name.items() if outcome == "survived"}
    assert survived == {"toy.UNTESTED: 7 -> 8", "toy.UNTESTED: 7 -> 6"}
    assert "not explained: toy.UNTESTED: 7 -> 8" in done.stdout
    assert done.returncode == 1


def test_an_endless_test_ends_long_before_its_mutant_is_late(toy):
    """By its own processor time; `toy` would not wait for the whole mutant."""
    _, found = toy("--only", "toy.count_down", "--timeout-s", "300", without="slow")
    assert outcomes(found)["toy.count_down: left -= 1 -> left += 1"] == "timeout"


def test_the_test_that_was_left_out_would_have_killed(toy):
    done, found = toy("--only", "toy.UNTESTED")
    assert outcomes(found) == {"toy.UNTESTED: 7 -> 8": "killed", "toy.UNTESTED: 7 -> 6": "killed"}
    assert done.returncode == 0


def test_a_survivor_that_is_explained_is_accepted(toy, tmp_path):
    page = tmp_path / "page.md"
    page.write_text("- `toy.UNTESTED: 7 -> 8`: nobody asks.\n- `toy.UNTESTED: 7 -> 6`: nobody asks.\n")
    done, _ = toy("--only", "toy.UNTESTED", "--explained", str(page), without="slow")
    assert done.returncode == 0
    assert "2 survived" in done.stdout
    done, _ = toy("--only", "toy.UNTESTED", "--explained", str(page), "--skip-explained", without="slow")
    assert "0 mutants" in done.stdout


def test_it_goes_on_where_it_was(toy, tmp_path):
    """Results are kept, survivors are retried on request, a changed core starts over."""
    toy("--only", "toy.UNTESTED", without="slow")
    done, found = toy("--only", "toy.UNTESTED")
    assert set(outcomes(found).values()) == {"survived"}
    assert "without a mutant" not in done.stdout
    _, found = toy("--only", "toy.UNTESTED", "--survivors")
    assert set(outcomes(found).values()) == {"killed"}
    module = tmp_path / "firmware" / "twinloop" / "control" / "toy.py"
    module.write_text(module.read_text() + "\n\ndef twice(value):\n    return 2 * value\n")
    done, _ = toy("--only", "toy.UNTESTED")
    assert "without a mutant" in done.stdout


def test_tests_that_fail_anyway_prove_nothing(toy, tmp_path):
    path = tmp_path / "test_toy.py"
    path.write_text(path.read_text() + "\n\ndef test_wrong():\n    assert toy.half(2) == 2\n")
    done, found = toy()
    assert done.returncode == 2
    assert "fail without any mutant" in done.stderr
    assert found == {}


def test_tests_that_are_not_there_prove_nothing(toy, tmp_path):
    (tmp_path / "test_toy.py").write_text("")
    done, _ = toy()
    assert done.returncode == 2
    assert "could not run the tests" in done.stderr


def test_who_killed_has_to_pass_without_a_mutant(toy, tmp_path):
    """The quick way for a small sample finds the same; a test that fails anyway proves nothing."""
    done, found = toy("--check-killers", "--only", "toy.over")
    assert set(outcomes(found).values()) == {"killed"}
    assert done.returncode == 0, done.stderr
    assert "1 tests" in done.stdout
    path = tmp_path / "test_toy.py"
    path.write_text("import os\n" + path.read_text().replace("assert toy.half(2) == 1", "assert not os.environ['PYTHONPATH']"))
    done, _ = toy("--check-killers", "--only", "toy.half", "--again")
    assert done.returncode == 2
    assert "fail without any mutant" in done.stderr
