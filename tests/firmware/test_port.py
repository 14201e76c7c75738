"""The console side of the real board's port, on a console that takes what the test says."""

import importlib
import select
import sys
import types

import pytest


class Console:
    """A chip's output: a buffer with some room; what does not fit is lost, and a full one says so when it is polled."""

    def __init__(self, room):
        self.room = room
        self.taken = b""

    def ipoll(self, timeout_ms):
        """As select.poll's on a board."""
        return [(None, select.POLLOUT)] if self.room else []

    def write(self, data):
        """How many bytes were taken."""
        part = data[: self.room]
        self.taken += part
        self.room -= len(part)
        return len(part)


@pytest.fixture
def port(monkeypatch):
    """A port whose chip is not there, only its console."""
    for name in ("machine", "micropython"):
        monkeypatch.setitem(sys.modules, name, types.ModuleType(name))
    monkeypatch.delitem(sys.modules, "twinloop.port", raising=False)
    kind = importlib.import_module("twinloop.port").Port
    port = kind.__new__(kind)
    port.out = port.outward = Console(0)
    yield port
    sys.modules.pop("twinloop.port", None)


def test_a_full_console_takes_nothing(port):
    """Dropped as a whole, and nothing stands before the next line."""
    assert port.write(b"one\n") is False
    port.out.room = 100
    assert port.write(b"two\n") is True
    assert port.out.taken == b"two\n"


def test_a_line_that_was_cut_does_not_spoil_the_next(port):
    """The half line is ended first; the one after that is as usual."""
    port.out.room = 2
    assert port.write(b"one\n") is False
    port.out.room = 100
    assert port.write(b"two\n") is True
    assert port.write(b"three\n") is True
    assert port.out.taken.split(b"\n") == [b"on", b"two", b"three", b""]
