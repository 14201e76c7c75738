"""What a step takes from the heap is seen, frames and exceptions included."""

import pytest

from . import core, syntax_edits
from .protections import library


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
    _, found = core.run_micropython(tmp_path, [sequence], tmp_path, package)
    steps, taken = found["charging"]
    assert taken >= 16 * steps, what
