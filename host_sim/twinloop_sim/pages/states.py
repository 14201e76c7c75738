"""docs/states.md from the table of the rules: `python -m twinloop_sim.pages.states` rewrites it in place."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

from twinloop.control import rules
from twinloop.control import state as s
from twinloop.control.conditions import CONDITION_NAMES
from twinloop.control.reason_texts import REASON_TEXTS

PAGE = Path("docs/states.md")
# What moves in each duty, for a reader; the order of it is sequence.py's, and explore/truths holds it to this.
MOVES = {
    s.IDLE: "nothing, but for a run-on of the tank pump after charging",
    s.CHARGING: "dump valve to the exchanger, then the collector pump, then the tank pump",
    s.DUMPING: "collector pump, glycol through the radiator",
    s.STAGNATION_HOLD: "nothing, but for a run-on of the tank pump after charging",
    s.FROST_GUARD: "tank pump",
    s.NIGHT_COOLING: "collector pump, then the tank pump against colder glycol",
    s.EXERCISE: "one pump or the valve, one after the other",
    s.FAULT_STOP: "nothing",
    s.MAINTENANCE: "nothing",
    s.HAND: "what hands ask for, as far as the limits allow",
}
HEAD = """# States: what the station does, and why

Generated from `firmware/twinloop/control/rules.py` by `.venv/bin/python -m twinloop_sim.pages.states`; a test compares.

In every step the first row of the table whose conditions all hold decides the duty and its reason; the last row has none, so
there always is one. A condition is a bit with a memory of its own where it needs one (a latch with two thresholds); which readings
set it stands in `latches.py`, `coldloop.py`, `diagnosis.py` and `conditions.py`. The duty of the step before plays no part, so
every duty can follow every other: `twinloop explore` walks each of these edges, fires each row, and holds what `explore/truths`
says must be true against every step on the way.
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
    """The table as a ladder that is climbed down until something fits; neighbours of one duty share a rung."""
    rungs = [(duty, list(rows)) for duty, rows in groupby(enumerate(rules.ROWS, 1), key=lambda ranked: ranked[1][1])]
    lines = [
        "## The ladder",
        "",
        "From the top: the first rung that holds decides.",
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
