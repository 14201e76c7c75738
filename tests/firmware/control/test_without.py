"""Without a protection its relay-truth test fails, in the phase that is about it."""

import contextlib

import pytest
from twinloop_hil.sequences import relay_script

from . import syntax_edits
from .protections import guard, library, rows

BROKEN = {sequence["name"]: edit for sequence, edit in guard.BROKEN}


class FailedError(Exception):
    """An expectation failed."""


class Impatient(relay_script.Run):
    """A run that ends at its first failure."""

    def fail(self, key, wanted, found):
        super().fail(key, wanted, found)
        raise FailedError


def first_failure(name, edit):
    """The first failure of the sequence on an edited core, None without one."""
    edits = (BROKEN[name], edit) if name in BROKEN else (edit,)
    run = Impatient(syntax_edits.without(*edits), library.BY_NAME[name])
    with contextlib.suppress(FailedError):
        run.run()
    return run.failures[0] if run.failures else None


@pytest.mark.parametrize("protection", library.PROTECTIONS, ids=lambda protection: f"{protection.sequence}: {protection.name}")
def test_the_sequence_fails_without_it(protection):
    failure = first_failure(protection.sequence, protection.edit)
    assert failure is not None, f"the sequence passes without it: {protection.edit.where} {protection.edit.what}"
    assert failure[0] == protection.phase, f"the sequence fails in another phase: {protection.edit.where} {protection.edit.what}"


def test_every_protection_has_a_name_of_its_own():
    names = [(protection.sequence, protection.name) for protection in library.PROTECTIONS]
    assert len(set(names)) == len(names)


def test_every_row_of_the_table_is_missed(shipped):
    assert len(library.ROWS) == len(shipped.rules.ROWS)
    assert {rows.LAST, *rows.MISSED} == set(library.ROWS)
    with pytest.raises(IndexError):
        first_failure("start_and_stop_difference", syntax_edits.no_row(rows.LAST))


@pytest.mark.parametrize(
    ("make", "arguments"),
    [
        (syntax_edits.no_row, ("NO_SUCH_REASON",)),
        (syntax_edits.returns, ("no_such_function",)),
        (syntax_edits.returns, ("wake",)),
        (syntax_edits.gone, ("latches.wake", "no_such_statement")),
        (syntax_edits.gone, ("latches.wake", "1")),
        (syntax_edits.never, ("run_on_over", "DUTY")),
        (syntax_edits.ignores, ("valve_end_needed", "STIFF")),
        (syntax_edits.swapped, ("latches.wake", "1", "0")),
        (syntax_edits.moved, ("RESETS_LIMIT", 0)),
    ],
)
def test_an_edit_of_no_place_or_of_several_is_refused(make, arguments):
    with pytest.raises(AssertionError, match="changed"):
        syntax_edits.without(make(*arguments))


@pytest.mark.parametrize("start", ["no such phase", "between"])
def test_a_phase_that_is_not_one_is_refused(start):
    with pytest.raises(AssertionError, match="exactly one phase"):
        library.phase_of("start_and_stop_difference", start)


def test_new_source_may_name_what_the_module_does_not_import():
    copy = syntax_edits.without(syntax_edits.swapped("latch_over", "hottest >= limit", "hottest >= COLDEST_MC + TIMER_TOP_MS"))
    assert copy.tank.COLDEST_MC == copy.coldloop.COLDEST_MC


def test_an_edit_leaves_the_shipped_core_alone(shipped):
    copy = syntax_edits.without(syntax_edits.moved("RESETS_LIMIT", 1))
    assert (copy.state.RESETS_LIMIT, shipped.state.RESETS_LIMIT) == (4, 3)
    assert copy.station.rules is copy.rules
