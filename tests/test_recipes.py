"""Follow the recipes of DEVELOPERS.md to the letter in a copy, and run their proofs there."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

ROOT = Path(__file__).parent.parent
ROOMS = ("firmware", "host_sim", "hil", "tests", "docs")
GUIDE = (ROOT / "DEVELOPERS.md").read_text().split("## How to add")[1].split("### Other things")[0]
PLACE = re.compile(r'# (\S+\.py), (new file|after|before|in place of)(?: "(.*)")?$')
# Recipe by its proof in tests/recipes.
PROOFS = re.findall(r"`(proof_\w+)\.py`", GUIDE)


class Step:
    """One step of a recipe: a file, where in it, and the lines."""

    def __init__(self, path, how, anchor):
        self.path, self.how, self.anchor = path, how, anchor
        self.lines = []

    def follow(self, root):
        """Change the file in this tree. AssertionError when the anchor is not there once."""
        path = root / self.path
        if self.how == "new file":
            assert not path.exists(), self.path
            path.write_text("\n".join(self.lines) + "\n")
            return
        lines = path.read_text().split("\n")
        found = [number for number, line in enumerate(lines) if line.strip().startswith(self.anchor.strip())]
        assert len(found) == 1, f"{self.path}: {len(found)} lines begin with {self.anchor!r}"
        begin = found[0]
        end = begin + 1 if self.anchor.endswith(("(", "{")) else end_of_statement(lines, begin)
        where = {"after": slice(end, end), "before": slice(begin, begin), "in place of": slice(begin, end)}[self.how]
        # A function keeps its distance from what follows.
        apart = ["", ""] if self.how == "before" and self.lines[-1].startswith(" ") else []
        lines[where] = [*self.lines, *apart]
        path.write_text("\n".join(lines))


def end_of_statement(lines, begin):
    """The line behind a statement: where its brackets are closed."""
    depth = 0
    for number in range(begin, len(lines)):
        depth += sum(lines[number].count(bracket) for bracket in "([{") - sum(lines[number].count(bracket) for bracket in ")]}")
        if depth <= 0:
            return number + 1
    raise AssertionError(f"line {begin + 1} never ends")


def steps():
    """Every step of every recipe, in order."""
    found = []
    for block in re.findall(r"```python\n(.*?)```", GUIDE, re.S):
        for line in block.rstrip("\n").split("\n"):
            place = PLACE.match(line)
            if place:
                found.append(Step(*place.groups()))
            else:
                found[-1].lines.append(line)
    return found


@pytest.fixture(scope="module")
def proven(tmp_path_factory):
    """Failures by proof, in a copy in which all recipes were followed."""
    copy = tmp_path_factory.mktemp("recipes")
    for room in ROOMS:
        shutil.copytree(ROOT / room, copy / room, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md", "Makefile"):
        shutil.copy(ROOT / name, copy)
    for step in steps():
        step.follow(copy)
    path = os.pathsep.join(str(copy / room) for room in ("firmware", "host_sim", "hil"))
    call = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "no:randomly", "--junitxml=proofs.xml"]
    run = subprocess.run(
        [*call, *(f"tests/recipes/{proof}.py" for proof in PROOFS)],
        cwd=copy,
        env={**os.environ, "PYTHONPATH": path},
        capture_output=True,
        text=True,
        timeout=600,
    )
    found = {}
    for case in ElementTree.parse(copy / "proofs.xml").iter("testcase"):
        proof = case.get("classname").split(".")[-1]
        found.setdefault(proof, [])
        found[proof] += [
            f"{case.get('name')}: {part.get('message')}" for part in case if part.tag in ("failure", "error", "skipped")
        ]
    assert found, run.stdout + run.stderr
    return found


@pytest.mark.parametrize("proof", PROOFS)
def test_the_recipe_holds(proven, proof):
    """Everything that its proof looks at."""
    assert proven[proof] == []


def test_every_recipe_has_a_proof():
    """Seven recipes, each with blocks and a proof of its own."""
    recipes = re.split(r"^### ", GUIDE, flags=re.M)[1:]
    assert [recipe.split("\n")[0] for recipe in recipes] == [
        "A sensor",
        "An output",
        "A setting",
        "A rule",
        "A checker",
        "A bench check",
        "A board",
    ]
    for recipe in recipes:
        assert "```python" in recipe
        assert len(re.findall(r"`proof_\w+\.py`", recipe)) == 1
    assert {path.stem for path in (ROOT / "tests" / "recipes").glob("proof_*.py")} == set(PROOFS)


def test_a_step_without_its_place_is_refused(tmp_path):
    """A recipe that does not fit the tree any more fails, and changes nothing."""
    (tmp_path / "a.py").write_text("ONE = 1\nTWO = 2\n")
    for anchor in ("THREE = ", ""):
        with pytest.raises(AssertionError, match=r"lines begin with"):
            Step("a.py", "after", anchor).follow(tmp_path)
    assert (tmp_path / "a.py").read_text() == "ONE = 1\nTWO = 2\n"
