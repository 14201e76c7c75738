"""Fixtures of the firmware's tests. They import it late: a mutant may break its import."""

import pytest


@pytest.fixture
def board(tmp_path):
    """The firmware in this process."""
    from twinloop_hil.inprocess import InProcessBoard

    return InProcessBoard(f"{tmp_path}/")


@pytest.fixture
def client(board):
    """A client of that board."""
    from twinloop_hil.client import Client

    return Client(board)
