"""Fixtures of the firmware's tests."""

import pytest
from twinloop_hil.client import Client
from twinloop_hil.inprocess import InProcessBoard


@pytest.fixture
def board(tmp_path):
    """The firmware in this process."""
    return InProcessBoard(f"{tmp_path}/")


@pytest.fixture
def client(board):
    """A client of that board."""
    return Client(board)
