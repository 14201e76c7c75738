"""Shrinks the story of a broken truth and writes it as a pytest file."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s

from . import truths

# How a walk may begin: after a reset; the same with every mover due for its turn in a minute, which
# would take days; the same with the guard holding for ten minutes, which no walk reaches.
ROOTS = ("woke up", "stood for exercise_after", "the guard acted")
ALMOST_S = 60
GUARD_HOLD_MS = 600000
# Inputs that do not matter: mild weather, everything trusted, no hands.
MILD = [0] * s.INPUTS
MILD[s.IN_DT_MS], MILD[s.IN_FLOW_ML_PER_MIN] = 5000, 4500
MILD[s.IN_RAW_MC : s.IN_RAW_MC + s.SENSORS] = [20000] * s.SENSORS
for _sensor, _mc in ((s.TANK_LOW, 40000), (s.TANK_HIGH, 42000), (s.OUTDOOR, 15000), (s.TAP, 40000)):
    MILD[s.IN_RAW_MC + _sensor] = _mc
ROUNDS = 6


@dataclass(frozen=True)
class Story:
    """Settings, a beginning, and rows of inputs, each held for a number of steps."""

    settings: np.ndarray
    root: int
    rows: np.ndarray
    counts: np.ndarray

    def steps(self) -> int:
        return int(self.counts.sum())


def begin_root(core, root: int, settings: np.ndarray, state: np.ndarray, m: np.ndarray) -> None:
    """Put a station and the memory of the truths into one of the beginnings."""
    inputs = np.zeros(s.INPUTS, dtype=np.int32)
    core.wake(state, settings, inputs)
    if root == 1:
        state[s.UNMOVED_S : s.UNMOVED_S + s.MOVERS] = settings[cfg.EXERCISE_AFTER] - ALMOST_S
    if root == 2:
        state[s.GUARD_HOLD_MS] = GUARD_HOLD_MS
    core.begin(m, state, settings, inputs)


def tell(core, story: Story) -> tuple[int, int]:
    """The truths that a story breaks first, as bits, and in which step; 0 and -1 for none."""
    state = np.zeros(s.STATE, dtype=np.int32)
    m = np.zeros(truths.MEMORY, dtype=np.int32)
    begin_root(core, story.root, story.settings, state, m)
    return core.replay(story.settings, state, m, story.rows, story.counts)


def joined_rows(rows: np.ndarray, counts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    kept_rows, kept_counts = [], []
    for row, count in zip(rows, counts, strict=True):
        if count == 0:
            continue
        if kept_rows and np.array_equal(kept_rows[-1], row):
            kept_counts[-1] += int(count)
        else:
            kept_rows.append(row)
            kept_counts.append(int(count))
    return np.array(kept_rows, dtype=np.int32).reshape(-1, s.INPUTS), np.array(kept_counts, dtype=np.int32)


def cut(story: Story, last: int) -> Story:
    """Drop everything after the step that broke the truth."""
    ends = np.cumsum(story.counts)
    keep = int(np.searchsorted(ends, last + 1))
    counts = story.counts[: keep + 1].copy()
    counts[keep] -= ends[keep] - (last + 1)
    rows, counts = joined_rows(story.rows[: keep + 1], counts)
    return replace(story, rows=rows, counts=counts)


class Shrinker:
    """Holds the smallest story so far that breaks one truth."""

    def __init__(self, core, story: Story, truth: int):
        self.core = core
        self.truth = truth
        self.story = story
        self.take(story)

    def take(self, trial: Story) -> bool:
        """Keep a trial if it still breaks the truth."""
        if len(trial.counts) == 0:
            return False
        bits, last = tell(self.core, trial)
        if not bits >> self.truth & 1:
            return False
        self.story = cut(trial, last)
        return True

    def drop_rows(self) -> None:
        """Drop rows that do not matter, from long runs down to single ones."""
        span = len(self.story.counts)
        while span >= 1:
            at = 0
            while at < len(self.story.counts):
                keep = np.r_[0:at, at + span : len(self.story.counts)]
                if not self.take(replace(self.story, rows=self.story.rows[keep], counts=self.story.counts[keep])):
                    at += span
            span //= 2

    def shorten_rows(self) -> None:
        """Shorten each row by half, then by less."""
        for at in range(len(self.story.counts)):
            part = self.story.counts[at] // 2 if at < len(self.story.counts) else 0
            while part >= 1 and at < len(self.story.counts):
                counts = self.story.counts.copy()
                counts[at] -= part
                if counts[at] < 1 or not self.take(replace(self.story, counts=counts)):
                    part //= 2

    def calm_column(self, index: int) -> None:
        """Set one input to mild weather in all rows at once."""
        rows = self.story.rows.copy()
        rows[:, index] = MILD[index]
        if not np.array_equal(rows, self.story.rows):
            self.take(replace(self.story, rows=rows))

    def calm_cell(self, at: int, index: int) -> None:
        """Set one input of one row to mild weather, or to its value in the row before."""
        before = [self.story.rows[at - 1, index]] if at > 0 else []
        for value in (MILD[index], *before):
            if at >= len(self.story.counts) or self.story.rows[at, index] == MILD[index]:
                return
            rows = self.story.rows.copy()
            rows[at, index] = value
            if not np.array_equal(rows, self.story.rows) and self.take(replace(self.story, rows=rows)):
                return

    def calm_inputs(self) -> None:
        """Set the inputs that do not matter to mild weather."""
        for index in range(s.INPUTS):
            self.calm_column(index)
        for index in range(s.INPUTS):
            for at in range(len(self.story.counts)):
                if at < len(self.story.counts):
                    self.calm_cell(at, index)

    def calm_settings(self) -> None:
        """Reset settings to their defaults one by one, as far as accepted."""
        for code, row in enumerate(cfg.TABLE):
            if self.story.settings[code] != row[4]:
                settings = self.story.settings.copy()
                settings[code] = row[4]
                if cfg.broken_rule(settings) == cfg.RULE_OK:
                    self.take(replace(self.story, settings=settings))

    def shrunk(self) -> Story:
        """The smallest story these steps find."""
        for _ in range(ROUNDS):
            before = (self.story.steps(), self.story.rows.tobytes(), self.story.settings.tobytes())
            if self.story.root != 0:
                self.take(replace(self.story, root=0))
            self.drop_rows()
            self.shorten_rows()
            self.calm_inputs()
            self.calm_settings()
            if before == (self.story.steps(), self.story.rows.tobytes(), self.story.settings.tobytes()):
                break
        return self.story


# -- the pytest file ------------------------------------------------------------------------------


def input_name(index: int) -> str:
    """The name of an input in state.py, as source."""
    if s.IN_RAW_MC <= index < s.IN_RAW_MC + s.SENSORS:
        return f"s.IN_RAW_MC + s.{s.SENSOR_NAMES[index - s.IN_RAW_MC].upper()}"
    if s.IN_RAW_CAUSE <= index < s.IN_RAW_CAUSE + s.SENSORS:
        return f"s.IN_RAW_CAUSE + s.{s.SENSOR_NAMES[index - s.IN_RAW_CAUSE].upper()}"
    names = ("IN_DT_MS", "IN_RESETS", "IN_FLOW_ML_PER_MIN", "IN_FLOW_CAUSE", "IN_HAND_MASK", "IN_HAND_VALUE", "IN_UPKEEP")
    for name in (*names, "IN_SETTINGS_LOST", "IN_MEMORY_BAD"):
        if getattr(s, name) == index:
            return f"s.{name}"
    raise ValueError(f"input {index} has no name")


def row_text(row: np.ndarray, count: int) -> str:
    """One row as source: its steps and what differs from mild weather."""
    changes = [f"{input_name(index)}: {int(row[index])}" for index in range(s.INPUTS) if row[index] != MILD[index]]
    line = f"    ({count}, {{{', '.join(changes)}}}),"
    if len(line) <= 132:
        return line
    return "\n".join([f"    ({count}, {{", *(f"        {change}," for change in changes), "    }),"])


BEGINNINGS = (
    "",
    f"    for mover in range(s.MOVERS):\n        state[s.UNMOVED_S + mover] = settings[cfg.EXERCISE_AFTER] - {ALMOST_S}\n",
    f"    state[s.GUARD_HOLD_MS] = {GUARD_HOLD_MS}\n",
)


def pytest_file(story: Story, truth: int) -> str:
    """The story as a pytest file; it fails while the interpreted core breaks the truth."""
    function = truths.TRUTHS[truth]
    changed = [
        f"    cfg.{row[0].upper()}: {int(story.settings[code])},"
        for code, row in enumerate(cfg.TABLE)
        if story.settings[code] != row[4]
    ]
    settings = "\n".join(["SETTINGS = {", *changed, "}"]) if changed else "SETTINGS = {}"
    rows = "\n".join(row_text(row, int(count)) for row, count in zip(story.rows, story.counts, strict=True))
    return f'''"""A counterexample found and shrunk by `twinloop explore`: {function.__name__}."""

from array import array

from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control import station
from twinloop_sim.explore import truths

# Settings that are not at their defaults.
{settings}
# Every input of a step in mild weather, in the order of state.py.
MILD = {MILD}
# How many steps, and which inputs differ from MILD in them.
STEPS = (
{rows}
)


def test_{function.__name__}():
    """{function.__doc__}"""
    state, memory = array("i", [0] * s.STATE), array("i", [0] * truths.MEMORY)
    settings, inputs = array("i", [0] * cfg.SETTINGS), array("i", MILD)
    cfg.load_defaults(settings)
    for code, value in SETTINGS.items():
        settings[code] = value
    station.wake(state, settings, inputs)
{BEGINNINGS[story.root]}    truths.begin(memory, state, settings, inputs)
    for count, changes in STEPS:
        for _ in range(count):
            inputs[:] = array("i", MILD)
            for index, value in changes.items():
                inputs[index] = value
            station.step(state, settings, inputs)
            assert truths.names_of(truths.broken(memory, state, settings, inputs)) == []
'''
