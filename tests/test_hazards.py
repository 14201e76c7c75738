"""docs/hazards.md names tests that exist, and each of its sequences has a negative."""

import re
from pathlib import Path

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "docs" / "hazards.md").read_text()
SEQUENCES = ROOT / "tests" / "firmware" / "control" / "sequences"


def shown_by() -> set[str]:
    """Names in code style in the last or "shown by" column of every table row."""
    names = set()
    for line in PAGE.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")] if line.startswith("|") else []
        if len(cells) == 7 or len(cells) == 4:
            names |= set(re.findall(r"`([a-z_]+)`", cells[4 if len(cells) == 7 else 3]))
    return names - {"twinloop", "relay_lease"}


def test_every_named_sequence_exists_and_has_a_negative():
    """The names stand in the library of sequences, and in its list of negatives or of witnesses for a deleted row."""
    text = "\n".join(path.read_text() for path in SEQUENCES.glob("*.py"))
    missing = [name for name in sorted(shown_by()) if text.count(f'"{name}"') < 2]
    assert missing == []
    assert len(shown_by()) > 20
