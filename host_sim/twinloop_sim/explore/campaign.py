"""`twinloop explore`: walks the reachable states of the control logic in many corners of settings.

A walk begins with a station that just woke and tries every letter of an alphabet in every new
state. Concrete states with the same key (walk.key_of) count as one, and the walk continues from the
first of them only. A walk that ends has exhausted its alphabet up to that key; it proves nothing
beyond it. The folder truths holds what it judges after every step.
"""

from __future__ import annotations

import json
import sys
import time
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

import numpy as np
from twinloop.control import state as s

from ..many import each
from . import cover, truths
from . import walk as w
from .core import load_core
from .corners import COUNT, Corner, corners
from .letters import ROOMS
from .shrink import ROOTS, Shrinker, Story, begin_root, joined_rows, pytest_file

# More states than any walk of the shipped alphabets reaches; one that fills them is incomplete.
STATES_TOP = 200000
# The table of keys has this many places for each state.
TABLE_SHARE = 4
END_NAME = "table_has_an_end"
END_SENTENCE = "The last row of the table has no conditions, so that a row always fits."
END_FILE = f'''"""The rules' table has no row that always fits: {END_NAME}."""

from twinloop.control import rules


def test_{END_NAME}():
    """{END_SENTENCE}"""
    assert rules.ROWS[-1][0] == ()
'''


class Frontier:
    """Room for the states of a walk; every walk uses the same."""

    def __init__(self, size: int = STATES_TOP):
        self.reached = w.Reached(
            states=np.zeros((size, s.STATE), dtype=np.int32),
            memories=np.zeros((size, truths.MEMORY), dtype=np.int32),
            helds=np.zeros((size, s.INPUTS), dtype=np.int32),
            parents=np.zeros(size, dtype=np.int32),
            letters=np.zeros(size, dtype=np.int32),
            table=np.zeros(size * TABLE_SHARE, dtype=np.uint64),
        )

    def begin(self, core, settings: np.ndarray) -> int:
        """Start with the roots; returns their number."""
        self.reached.table[:] = 0
        for root in range(len(ROOTS)):
            self.reached.states[root] = 0
            self.reached.memories[root] = 0
            self.reached.helds[root] = 0
            begin_root(core, root, settings, self.reached.states[root], self.reached.memories[root])
        return len(ROOTS)


@dataclass
class Found:
    """The result of an exploration."""

    seen: np.ndarray = field(default_factory=lambda: np.zeros(w.SEEN, dtype=np.int64))
    states: int = 0
    exhausted: bool = True
    corners: int = 0
    walks: int = 0
    unfinished: list[dict] = field(default_factory=list)
    violations: list[dict] = field(default_factory=list)


def path_story(frontier: Frontier, corner: Corner, alphabet, where) -> Story:
    """The inputs from the beginning of the walk to a broken truth, step by step."""
    letters, reached = alphabet.arrays(), frontier.reached
    parent, letter, _ = (int(value) for value in where)
    path = [letter]
    while parent >= len(ROOTS):
        path.append(int(reached.letters[parent]))
        parent = int(reached.parents[parent])
    held = np.zeros(s.INPUTS, dtype=np.int32)
    rows = []
    for letter in reversed(path):
        held = np.where(letters.masks[letter] > 0, letters.values[letter], held).astype(np.int32)
        for count in range(letters.steps[letter]):
            row = held.copy()
            if count & 1:
                row[s.IN_RAW_MC : s.IN_RAW_MC + s.SENSORS] += letters.dither_mk[letter]
            rows.append(row)
    return Story(corner.settings, parent, *joined_rows(np.array(rows), np.ones(len(rows), dtype=np.int32)))


def violation(core, truth: int, story: Story, corner: Corner, room: str) -> dict:
    """A broken truth with its story shrunk, as in the document."""
    story = Shrinker(core, story, truth).shrunk()
    function = truths.TRUTHS[truth]
    return {
        "truth": function.__name__,
        "text": function.__doc__,
        "corner": corner.name,
        "alphabet": room,
        "beginning": ROOTS[story.root],
        "settings": cover.changed_settings(story.settings),
        "steps": story.steps(),
        "pytest": pytest_file(story, truth),
    }


def walk_room(core, frontier: Frontier, corner: Corner, room, found: Found) -> None:
    """Walk one alphabet in one corner; tell the story of each truth it is the first to break."""
    alphabet = room(corner.settings, corner.wide)
    seen = np.zeros(w.SEEN, dtype=np.int64)
    filled = frontier.begin(core, corner.settings)
    states, expanded = core.walk(corner.settings, alphabet.arrays(), frontier.reached, seen, filled)
    for truth in range(len(truths.TRUTHS)):
        broken = int(seen[w.TRUTHS_BROKEN + truth])
        if broken and not found.seen[w.TRUTHS_BROKEN + truth]:
            where = seen[w.BROKEN_BY + 3 * truth : w.BROKEN_BY + 3 * truth + 3]
            story = path_story(frontier, corner, alphabet, where)
            found.violations.append(violation(core, truth, story, corner, alphabet.name))
    seen[w.BROKEN_BY : w.STEPS] = 0
    found.seen += seen
    found.states += states
    found.exhausted &= expanded == states
    found.walks += 1
    if expanded < states:
        found.unfinished.append({"corner": corner.name, "alphabet": alphabet.name, "states": states, "expanded": expanded})


def say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


@lru_cache(maxsize=1)
def own_frontier() -> Frontier:
    return Frontier()


def walk_corner(corner: Corner, folder: Path | None, until_s: float, rooms) -> Found:
    """Walk every room of a corner, until a `time.time()`; one cut short is not exhausted."""
    found = Found()
    core = load_core(folder)
    for room in rooms:
        if time.time() > until_s:
            found.exhausted = False
            return found
        walk_room(core, own_frontier(), corner, room, found)
    found.corners = 1
    return found


def add_corner(found: Found, part: Found) -> None:
    """Add a corner; the first corner to break a truth tells its story."""
    known = {violation["truth"] for violation in found.violations}
    found.violations += [violation for violation in part.violations if violation["truth"] not in known]
    found.seen += part.seen
    found.states += part.states
    found.exhausted &= part.exhausted
    found.corners += part.corners
    found.walks += part.walks
    found.unfinished += part.unfinished


def search(
    places: list[Corner], folder: Path | None = None, until_s: float = np.inf, rooms=ROOMS, tell=say, workers: int = 1
) -> Found:
    """Walk every room of every corner, until a `time.time()`; a search cut short is not exhausted.

    The result is the same for any number of `workers`.
    """
    found = Found()
    if load_core(folder).rules.ROWS[-1][0] != ():
        # Without that row the core would look past the end of its table, so run nothing.
        found.exhausted = False
        found.violations.append({"truth": END_NAME, "text": END_SENTENCE, "steps": 0, "settings": {}, "pytest": END_FILE})
        return found
    parts = each(walk_corner, ((corner, folder, until_s, rooms) for corner in places), workers)
    for number, (corner, part) in enumerate(zip(places, parts, strict=True), 1):
        late = found.exhausted and part.corners == 0
        add_corner(found, part)
        if late:
            tell(f"  out of time before corner {number} of {len(places)}: {corner.name}")
        elif part.corners:
            broken = len(found.violations)
            tell(f"  {number} of {len(places)}: {corner.name}: {part.states} states; truths broken so far: {broken}")
    return found


def document(found: Found, rows, wall_s: float) -> dict:
    """The JSON document."""
    seen, names = found.seen, cover.reason_names()
    missing = cover.not_covered(seen, rows)
    strange = cover.out_of_table(seen, rows)
    return {
        "states": found.states,
        "transitions": int(seen[w.TRANSITIONS]),
        "steps": int(seen[w.STEPS]),
        "complete": bool(found.exhausted and not missing and not strange and not found.violations),
        "exhausted": bool(found.exhausted),
        "not_covered": missing,
        "edges_out_of_table": strange,
        "rows_fired": [row for row in range(len(rows)) if seen[w.ROWS_SEEN + row]],
        "rows": len(rows),
        "reasons_seen": [name for code, name in names.items() if seen[cover.place_of(code)]],
        "edges_walked": [cover.edge_name(*edge) for edge in cover.walked_edges(seen)],
        "settings_corners": found.corners,
        "walks": found.walks,
        "unfinished": found.unfinished,
        "violations": found.violations,
        "wall_s": round(wall_s, 1),
        "transitions_per_s": round(int(seen[w.TRANSITIONS]) / max(wall_s, 0.001)),
    }


def explore(count: int, seed: int, minutes: float, folder: Path | None = None, rooms=ROOMS, tell=say, workers: int = 1) -> dict:
    """Run `twinloop explore` on some corners for at most some minutes; returns the document."""
    begin = time.monotonic()
    tell(f"{count} corners of the settings; the first run after a change of the firmware compiles for half a minute")
    found = search(corners(count, seed), folder, time.time() + 60.0 * minutes, rooms, tell, workers)
    return document(found, load_core(folder).rules.ROWS, time.monotonic() - begin)


def lines_of(facts: dict) -> list[str]:
    """The document as text."""
    lines = [
        f"{facts['states']} states, {facts['transitions']} transitions, {facts['steps']} steps "
        f"in {facts['settings_corners']} corners of the settings, {facts['wall_s']:g} s",
        f"rows fired {len(facts['rows_fired'])} of {facts['rows']}, reasons seen {len(facts['reasons_seen'])}, "
        f"edges walked {len(facts['edges_walked'])}",
    ]
    lines += [f"not covered: {name}" for name in facts["not_covered"]]
    lines += [f"edge outside of the table: {name}" for name in facts["edges_out_of_table"]]
    lines += [f"not exhausted: {walk['alphabet']} of {walk['corner']}" for walk in facts["unfinished"]]
    if not facts["exhausted"] and not facts["unfinished"]:
        lines.append("not exhausted: not every corner was walked")
    for found in facts["violations"]:
        lines += ["", f"BROKEN {found['truth']}: {found['text']}", "", found["pytest"]]
    if facts["violations"]:
        return [*lines, f"Verdict: {len(facts['violations'])} truths broken; pytest reproduces each with the file above"]
    return [*lines, "Verdict: complete, nothing broken" if facts["complete"] else "Verdict: nothing broken, but not complete"]


def failed(facts: dict, count: int) -> bool:
    """Whether the check failed: a truth broken, not exhausted, or all corners walked with gaps."""
    return bool(facts["violations"] or not facts["exhausted"] or (count >= COUNT and not facts["complete"]))


def main(options) -> int:
    """Run the call and print the result; returns the exit status."""
    count = options.corners or COUNT
    facts = explore(count, options.seed, options.minutes, workers=options.workers)
    print(json.dumps(facts, indent=2) if options.json else "\n".join(lines_of(facts)))
    return 1 if failed(facts, count) else 0
