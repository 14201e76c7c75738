"""A step takes nothing from the heap by micropython.mem_total(), frames and exceptions included."""

import pytest
from twinloop.control import state as control
from twinloop_hil.sequences import common

from . import core, syntax_edits
from .protections import guard, library

# All sensors lost at once; the sequences lose them one by one.
ALL_LOST = common.sequence(
    "all_sensors_lost",
    [*common.LONG_CHARGING, *([["break", name, "CAUSE_OPEN"] for name in common.MILD]), ["keep", 300000, {}]],
)


def test_no_step_of_any_sequence_takes_from_the_heap(micropython, tmp_path):
    found = core.run_micropython(tmp_path, [*library.SEQUENCES, ALL_LOST], "heap")
    for place in (*control.DUTY_NAMES, "lost sensor"):
        steps, taken = found[place]
        # A turn takes three steps; other duties last for minutes.
        assert steps > (10 if place == "exercise" else 100), f"{place} was hardly tried"
        assert taken == 0, f"{taken} bytes in {steps} steps of {place}"


def test_not_even_when_the_guard_acts(micropython, tmp_path):
    for sequence, edit in guard.BROKEN:
        package = core.write_changed(tmp_path, syntax_edits.changes(edit))
        found = core.run_micropython(tmp_path, [sequence], "heap", tmp_path, package)
        assert sum(taken for _, taken in found.values()) == 0


@pytest.mark.parametrize(
    ("what", "statement"),
    [
        ("a list", "kept = [state, inputs]"),
        # More than eleven words of arguments and locals: the frame itself goes to the heap.
        ("a large frame", "a = b = c = d = e = f = g = h = i = j = k = state"),
        ("an exception that is caught", "try:\n    state[100000]\nexcept IndexError:\n    pass"),
    ],
)
def test_what_takes_from_the_heap_is_seen(what, statement, micropython, tmp_path):
    package = core.write_changed(tmp_path, syntax_edits.changes(syntax_edits.planted("decide", statement)))
    sequence = library.BY_NAME["start_and_stop_difference"]
    found = core.run_micropython(tmp_path, [sequence], "heap", tmp_path, package)
    steps, taken = found["charging"]
    assert taken >= 16 * steps, what
