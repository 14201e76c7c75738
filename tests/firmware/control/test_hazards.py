"""docs/hazards.md names sequences that exist, and each of them proves a protection."""

import re
from pathlib import Path

from .protections import library

ROOT = Path(__file__).parent.parent.parent.parent
PAGE = (ROOT / "docs" / "hazards.md").read_text()
# Names in code style that are no sequences: a test, and the command.
OTHERS = {"relay_lease", "twinloop"}


def shown_by():
    """Names in code style in the "shown by" column of every table row."""
    names = set()
    for line in PAGE.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")] if line.startswith("|") else []
        if len(cells) in (4, 7):
            names |= set(re.findall(r"`([a-z_]+)`", cells[4 if len(cells) == 7 else 3]))
    return names - OTHERS


def test_every_named_sequence_exists():
    assert sorted(shown_by() - set(library.BY_NAME)) == []
    assert len(shown_by()) > 20


def test_every_named_sequence_proves_a_protection():
    """It fails when the protection is taken away: see test_without.py."""
    proven = {protection.sequence for protection in library.PROTECTIONS}
    assert sorted(shown_by() - proven) == []
