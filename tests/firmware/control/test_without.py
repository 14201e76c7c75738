"""Each protection taken away makes its relay-truth test fail, in the phase that is about it."""

import ast
import contextlib

import pytest
from twinloop_hil.sequences import relay_script

from . import core, syntax_edits
from .negatives import guard, library

BROKEN = {sequence["name"]: (sequence, edit) for sequence, edit in guard.BROKEN}
NEGATIVES = [*library.NEGATIVES, *guard.NEGATIVES]


class FailedError(Exception):
    """An expectation did not hold."""


class Impatient(relay_script.Run):
    """A run that ends with its first failure."""

    def fail(self, key, wanted, found):
        super().fail(key, wanted, found)
        raise FailedError


def first_failure(name, *edits):
    """The first expectation of the sequence that fails on an edited core, None when none does."""
    sequence = library.BY_NAME.get(name)
    if sequence is None:
        sequence, broken = BROKEN[name]
        edits = (broken, *edits)
    run = Impatient(syntax_edits.without(*edits), sequence)
    with contextlib.suppress(FailedError):
        run.run()
    return run.failures[0] if run.failures else None


@pytest.mark.parametrize(("name", "edit", "phase"), NEGATIVES, ids=[f"{name}: {edit.what}" for name, edit, _ in NEGATIVES])
def test_the_sequence_fails_without_it(name, edit, phase):
    failure = first_failure(name, edit)
    assert failure is not None, "the sequence does not miss what was taken away"
    assert failure[0] == phase


@pytest.mark.parametrize("reason", library.ROW_WITNESSES)
def test_every_row_of_the_table_is_missed(reason):
    edit = syntax_edits.no_row(reason)
    name = library.ROW_WITNESSES[reason]
    if reason == "NO_DIFFERENCE":
        with pytest.raises(IndexError):
            first_failure(name, edit)
    else:
        assert first_failure(name, edit) is not None


def test_every_row_has_a_witness(shipped):
    names = syntax_edits.row_names(ast.parse((core.CONTROL / "rules.py").read_text()))
    assert len(names) == len(shipped.rules.ROWS)
    assert set(names) == set(library.ROW_WITNESSES)


@pytest.mark.parametrize(
    ("make", "arguments"),
    [
        (syntax_edits.no_row, ("NO_SUCH_REASON",)),
        (syntax_edits.body_gone, ("no_such_function",)),
        (syntax_edits.body_gone, ("wake",)),
        (syntax_edits.statement_gone, ("latches.wake", "no_such_statement")),
        (syntax_edits.swapped, ("latches.wake", "1", "0")),
        (syntax_edits.denied, ("path_open", "COLD_DUMP", "STIFF")),
        (syntax_edits.decided, ("run_on_over", "DUTY", False)),
        (syntax_edits.constant, ("RESETS_LIMIT", "3")),
    ],
)
def test_an_edit_of_nothing_or_of_several_places_is_refused(make, arguments):
    with pytest.raises(AssertionError, match="changed"):
        syntax_edits.without(make(*arguments))


def test_an_edit_leaves_the_shipped_core_alone(shipped):
    copy = syntax_edits.without(syntax_edits.constant("RESETS_LIMIT", "4"))
    assert (copy.conditions.RESETS_LIMIT, shipped.conditions.RESETS_LIMIT) == (4, 3)
    assert copy.station.rules is copy.rules
