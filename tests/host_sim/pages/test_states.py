"""docs/states.md is generated from the table of rules."""

from pathlib import Path

from twinloop.control import rules
from twinloop.control import state as s
from twinloop.control.conditions import CONDITION_NAMES
from twinloop_sim.pages import states

ROOT = Path(__file__).parents[3]


def test_page_is_the_table():
    assert (ROOT / "docs" / "states.md").read_text() == states.page()


def test_page_names_every_condition_and_duty():
    text = " ".join(states.page().split())
    used = {condition for conditions, _, _ in rules.ROWS for condition in conditions}
    for condition, name in enumerate(CONDITION_NAMES):
        assert (name in text) == (condition in used), name
    for name in s.DUTY_NAMES:
        assert f"`{name}`" in text


def test_a_moved_row_changes_the_page(monkeypatch):
    """Negative: the page follows the order of the rows."""
    before = states.page()
    monkeypatch.setattr(rules, "ROWS", (*rules.ROWS[1:-1], rules.ROWS[0], rules.ROWS[-1]))
    assert states.page() != before
