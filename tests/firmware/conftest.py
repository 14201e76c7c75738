"""Fixtures of the firmware's tests."""

import pytest
from twinloop_hil.client import Client
from twinloop_hil.inprocess import InProcessBoard
from twinloop_hil.virtual.board import NoInterpreterError, find_interpreter


@pytest.fixture(scope="session")
def interpreter():
    """The path of MicroPython; skips without one."""
    try:
        return find_interpreter()
    except NoInterpreterError as missing:
        pytest.skip(str(missing))


@pytest.fixture
def board(tmp_path):
    """The firmware in this process."""
    return InProcessBoard(f"{tmp_path}/")


@pytest.fixture
def client(board):
    """A client of that board."""
    return Client(board)
