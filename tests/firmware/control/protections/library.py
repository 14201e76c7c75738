"""All sequences, and the protections that they prove."""

import ast
from typing import NamedTuple

from twinloop_hil.sequences import library

from .. import core, syntax_edits
from . import (
    air,
    apart,
    arrival,
    away,
    charging,
    chatter,
    cold_slug,
    collector,
    frost,
    guard,
    hot_hands,
    lies,
    outputs,
    restart,
    rows,
    series,
    tank,
    upkeep,
)

TABLES = (
    *(charging, chatter, tank, collector, outputs, cold_slug, arrival, apart, restart, frost),
    *(away, upkeep, hot_hands, lies, series, air, guard),
)

SEQUENCES = [*library.SEQUENCES, *guard.SEQUENCES]
BY_NAME = {sequence["name"]: sequence for sequence in [*SEQUENCES, *(sequence for sequence, _ in guard.BROKEN)]}


class Protection(NamedTuple):
    """A protection and its proof: after `edit` the sequence first fails in this phase."""

    sequence: str
    phase: str
    name: str
    edit: syntax_edits.Edit


def phase_of(sequence, start):
    """The one phase that starts with these words; "" is the part before the first phase."""
    phases = {"", *(step[1] for step in BY_NAME[sequence]["script"] if step[0] == "phase")}
    found = [start] if start in phases else [phase for phase in phases if phase.startswith(start)]
    if len(found) != 1:
        raise AssertionError(f"{sequence}: {start!r} is not the start of exactly one phase")
    return found[0]


def read(table):
    """The protections of a table: a sequence, or a list of sequences, and then its rows."""
    sequences = []
    for entry in table:
        if isinstance(entry, tuple):
            start, name, edit = entry
            for sequence in sequences:
                yield Protection(sequence, phase_of(sequence, start), name, edit)
        else:
            sequences = [entry] if isinstance(entry, str) else entry


def read_rows():
    """The rows of the rules as protections, but for the last: without it nothing is decided."""
    for row, missed in rows.MISSED.items():
        for sequence, start in missed.items():
            yield Protection(sequence, phase_of(sequence, start), f"row {row}", syntax_edits.no_row(row))


PROTECTIONS = [*read_rows(), *(one for part in TABLES for one in read(part.TABLE))]
ROWS = syntax_edits.row_names(ast.parse((core.CONTROL / "rules.py").read_text()))
