"""docs/hazards.md names tests that exist, and each of its sequences has a negative."""

import re
from pathlib import Path

from .negatives import guard, library

ROOT = Path(__file__).parent.parent.parent.parent
PAGE = (ROOT / "docs" / "hazards.md").read_text()
# What the page names in code style beside sequences: a test by its own name, and the command.
OTHERS = {"relay_lease", "twinloop"}


def shown_by():
    """Names in code style in every "Shown by" item, and in the last column of the table of single failures."""
    places = re.findall(r"^- Shown by: (.*(?:\n  .*)*)", PAGE, re.MULTILINE)
    rows = [line.strip("|").split("|") for line in PAGE.splitlines() if line.startswith("|")]
    places += [cells[3] for cells in rows if len(cells) == 4]
    assert len(places) > 25
    return {name for place in places for name in re.findall(r"`([a-z_]+)`", place)} - OTHERS


def test_every_named_sequence_exists():
    """No name of a test that was renamed or never written."""
    broken = {sequence["name"] for sequence, _ in guard.BROKEN}
    assert sorted(shown_by() - set(library.BY_NAME) - broken) == []
    assert len(shown_by()) > 20


def test_every_named_sequence_has_a_negative():
    """Its protection taken away, it fails: test_without.py runs these."""
    negatives = {name for name, _, _ in library.NEGATIVES} | set(library.ROW_WITNESSES.values())
    guards = {name for name in shown_by() if name.startswith("guard_")}
    assert sorted(shown_by() - negatives - guards) == []
