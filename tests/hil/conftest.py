"""Boards and clients for these tests."""

import pytest
from twinloop_hil.client import Client, SerialTransport
from twinloop_hil.virtual.board import VirtualBoard


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
