"""docs/hazards.md names only sequences that exist and prove a protection."""

import re
from pathlib import Path

from .protections import library

ROOT = Path(__file__).parent.parent.parent.parent
PAGE = (ROOT / "docs" / "hazards.md").read_text()
# Names in code style that are not sequences.
OTHERS = {"twinloop"}


def shown_by():
    """Names in code style in the "Shown by" items and in the last column of single failures."""
    places = re.findall(r"^- Shown by: (.*(?:\n  .*)*)", PAGE, re.MULTILINE)
    rows = [line.strip("|").split("|") for line in PAGE.splitlines() if line.startswith("|")]
    places += [cells[3] for cells in rows if len(cells) == 4]
    assert len(places) > 25
    return {name for place in places for name in re.findall(r"`([a-z_]+)`", place)} - OTHERS


def test_every_named_sequence_exists():
    assert sorted(shown_by() - set(library.BY_NAME)) == []
    assert len(shown_by()) > 20


def test_every_named_sequence_proves_a_protection():
    """test_without.py shows that it fails without the protection."""
    proven = {protection.sequence for protection in library.PROTECTIONS}
    assert sorted(shown_by() - proven) == []
