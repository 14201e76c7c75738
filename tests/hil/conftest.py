"""Boards for the tests of the bench."""

import pytest
from twinloop_hil.client import Client, SerialTransport
from twinloop_hil.virtual.board import NoInterpreterError, VirtualBoard, find_interpreter


@pytest.fixture(scope="session")
def interpreter():
    """MicroPython, or a skip that says what is missing."""
    try:
        return find_interpreter()
    except NoInterpreterError as missing:
        pytest.skip(str(missing))


@pytest.fixture
def board(interpreter):
    """A virtual board of its own."""
    with VirtualBoard(interpreter) as board:
        yield board


@pytest.fixture
def client(board):
    """A client on it."""
    with Client(SerialTransport(board.port)) as client:
        yield client
