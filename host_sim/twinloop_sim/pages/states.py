"""docs/states.md, generated from the table of rules.

`python -m twinloop_sim.pages.states` rewrites it in place.
"""

from __future__ import annotations

from pathlib import Path
from textwrap import fill

from twinloop.control import rules
from twinloop.control import state as s
from twinloop.control.conditions import CONDITION_NAMES
from twinloop.reason_texts import REASON_TEXTS

PAGE = Path("docs/states.md")
# What moves in each duty, in the order of sequence.py; the truths of explore/ hold the core to it.
MOVES = {
    s.IDLE: "nothing, except the tank pump running on after charging",
    s.CHARGING: "dump valve to the exchanger, then the collector pump, then the tank pump",
    s.DUMPING: "collector pump, glycol through the radiator",
    s.STAGNATION_HOLD: "nothing, except the tank pump running on after charging",
    s.FROST_GUARD: "tank pump",
    s.NIGHT_COOLING: "collector pump, then the tank pump against colder glycol",
    s.EXERCISE: "one pump or the valve, one after the other",
    s.FAULT_STOP: "nothing",
    s.MAINTENANCE: "nothing",
    s.HAND: "whatever is held by hand, within the limits",
}
HEAD = """# States: what the station does, and why

Generated from `firmware/twinloop/control/rules.py` by
`.venv/bin/python -m twinloop_sim.pages.states`; a test compares.

In every step the first row whose conditions all hold decides the duty and its reason. The last row
has no condition, so one always fits. Some conditions have a memory: latches with two thresholds.
The files beside the rules say which readings set them.

The duty of the step before plays no part, so every duty can follow every other. `twinloop explore`
walks each of these edges, fires each row, and checks every step on the way against the truths in
`host_sim/twinloop_sim/explore`.
"""


def names_of(conditions: tuple[int, ...]) -> list[str]:
    return [CONDITION_NAMES[condition] for condition in conditions]


def row(rank: int, conditions: tuple[int, ...], duty: int, reason: int) -> str:
    """One row as an item of a list: duty and conditions, then the reason."""
    when = " and ".join(names_of(conditions)) or "nothing else fits"
    number = f"{rank}. "
    margin = " " * len(number)
    lines = fill(f"`{s.DUTY_NAMES[duty]}`: {when};", 100, initial_indent=number, subsequent_indent=margin)
    return lines + "\n" + fill(f"*{REASON_TEXTS[reason]}*", 100, initial_indent=margin, subsequent_indent=margin)


def table() -> list[str]:
    lines = ["## The rows, by rank", "", "Duty, conditions that all have to hold, and the reason given.", ""]
    return lines + [row(rank, *fields) for rank, fields in enumerate(rules.ROWS, 1)]


def duties() -> list[str]:
    """What moves in each duty, and which ranks lead to it."""
    lines = ["## The duties", "", "| duty | ranks | what moves |", "|---|---|---|"]
    for duty, name in enumerate(s.DUTY_NAMES):
        ranks = [str(rank) for rank, row in enumerate(rules.ROWS, 1) if row[1] == duty]
        lines.append(f"| `{name}` | {', '.join(ranks)} | {MOVES[duty]} |")
    return lines


def page() -> str:
    return "\n".join([HEAD, *duties(), "", *table(), ""])


if __name__ == "__main__":
    PAGE.write_text(page())
