"""Boards and clients for these tests."""

import pytest
from twinloop_hil.client import Client, SerialTransport
from twinloop_hil.virtual.board import NoInterpreterError, VirtualBoard, find_interpreter


@pytest.fixture(scope="session")
def interpreter():
    """The path of MicroPython; without one the test is skipped with a reason."""
    try:
        return find_interpreter()
    except NoInterpreterError as missing:
        pytest.skip(str(missing))


@pytest.fixture
def board(interpreter):
    """A fresh virtual board."""
    with VirtualBoard(interpreter) as board:
        yield board


@pytest.fixture
def client(board):
    """A client of that board."""
    with Client(SerialTransport(board.port)) as client:
        yield client
