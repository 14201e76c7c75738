"""Shared by the tests of the firmware."""

import pytest
from twinloop_hil.virtual.board import NoInterpreterError, find_interpreter


@pytest.fixture(scope="session")
def interpreter():
    """MicroPython, or a skip that says what is missing."""
    try:
        return find_interpreter()
    except NoInterpreterError as missing:
        pytest.skip(str(missing))
