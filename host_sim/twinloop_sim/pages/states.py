"""docs/states.md, generated from the table of rules.

`python -m twinloop_sim.pages.states` rewrites it in place.
"""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

from twinloop.control import rules
from twinloop.control import state as s
from twinloop.control.conditions import CONDITION_NAMES
from twinloop.control.reason_texts import REASON_TEXTS

PAGE = Path("docs/states.md")
# What moves in each duty, for readers. sequence.py has the order, and explore checks that both
# agree.
MOVES = {
    s.IDLE: "nothing, except a run-on of the tank pump after charging",
    s.CHARGING: "dump valve to the exchanger, then the collector pump, then the tank pump",
    s.DUMPING: "collector pump, glycol through the radiator",
    s.STAGNATION_HOLD: "nothing, except a run-on of the tank pump after charging",
    s.FROST_GUARD: "tank pump",
    s.NIGHT_COOLING: "collector pump, then the tank pump against colder glycol",
    s.EXERCISE: "one pump or the valve, one after the other",
    s.FAULT_STOP: "nothing",
    s.MAINTENANCE: "nothing",
    s.HAND: "whatever is set by hand, within the limits",
}
HEAD = """# States: what the station does, and why

Generated from `firmware/twinloop/control/rules.py` by
`.venv/bin/python -m twinloop_sim.pages.states`; a test compares.

In every step, the first row whose conditions all hold decides the duty and its reason. The last
row has no conditions, so there always is one. A condition is one bit. Some have a memory (a latch
with two thresholds). `latches.py`, `coldloop.py`, `diagnosis.py` and `conditions.py` say which
readings set it. The previous duty plays no part, so any duty can follow any other.
`twinloop explore` walks each of these edges, fires each row, and checks every step on the way
against `explore/truths`.
"""


def names_of(conditions: tuple[int, ...]) -> list[str]:
    """Names of conditions."""
    return [CONDITION_NAMES[condition] for condition in conditions]


def table() -> list[str]:
    """The rows in order of rank."""
    lines = ["## The table", "", "| rank | when all of this holds | duty | because |", "|---|---|---|---|"]
    for rank, (conditions, duty, reason) in enumerate(rules.ROWS, 1):
        when = " and ".join(names_of(conditions)) or "nothing else fits"
        lines.append(f"| {rank} | {when} | `{s.DUTY_NAMES[duty]}` | {REASON_TEXTS[reason]} |")
    return lines


def duties() -> list[str]:
    """What moves in each duty, and which ranks lead to it."""
    lines = ["## The duties", "", "| duty | ranks | what moves |", "|---|---|---|"]
    for duty, name in enumerate(s.DUTY_NAMES):
        ranks = [str(rank) for rank, row in enumerate(rules.ROWS, 1) if row[1] == duty]
        lines.append(f"| `{name}` | {', '.join(ranks)} | {MOVES[duty]} |")
    return lines


def ladder() -> list[str]:
    """The table as a ladder of questions; neighbouring rows of one duty share a rung."""
    rungs = [(duty, list(rows)) for duty, rows in groupby(enumerate(rules.ROWS, 1), key=lambda ranked: ranked[1][1])]
    lines = [
        "## The ladder",
        "",
        "From the top: the first rung whose conditions hold decides.",
        "",
        "```mermaid",
        "flowchart TB",
        "    start([every step]) --> r0",
    ]
    for number, (duty, rows) in enumerate(rungs):
        holds = "<br/>or ".join(" and ".join(names_of(conditions)) or "anything" for _, (conditions, _, _) in rows)
        last = number == len(rungs) - 1
        lines.append(f'    r{number}{{"{holds}"}} -->|yes| d{number}["{s.DUTY_NAMES[duty]}"]')
        if not last:
            lines.append(f"    r{number} -->|no| r{number + 1}")
    return [*lines, "```"]


def page() -> str:
    """The whole page."""
    return "\n".join([HEAD, *duties(), "", *table(), "", *ladder(), ""])


if __name__ == "__main__":
    PAGE.write_text(page())
