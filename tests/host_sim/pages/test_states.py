"""docs/states.md is what the table of the rules says."""

from pathlib import Path

from twinloop.control import rules
from twinloop.control import state as s
from twinloop_sim.pages import states

ROOT = Path(__file__).parents[3]


def test_page_is_the_table():
    """`python -m twinloop_sim.pages.states` would not change it."""
    assert (ROOT / "docs" / "states.md").read_text() == states.page()


def test_page_names_every_condition_and_duty():
    """Nothing of the table is left out."""
    text = states.page()
    used = 0
    for mask, _, _ in rules.ROWS:
        used |= mask
    for bit, name in enumerate(rules.CONDITION_NAMES):
        assert (name in text) == bool(used >> bit & 1), name
    for name in s.DUTY_NAMES:
        assert f"`{name}`" in text


def test_a_moved_row_changes_the_page(monkeypatch):
    """Negative: the page follows the order of the rows."""
    before = states.page()
    monkeypatch.setattr(rules, "ROWS", (*rules.ROWS[1:-1], rules.ROWS[0], rules.ROWS[-1]))
    assert states.page() != before
