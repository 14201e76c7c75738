"""The console side of the real port, on a console that takes as much as the test says."""

import importlib
import select
import sys
import types

import pytest


class Console:
    """A chip's output buffer: what does not fit is lost; poll says when it is full."""

    def __init__(self, room):
        self.room = room
        self.taken = b""

    def ipoll(self, timeout_ms):
        """As a board's select.poll."""
        return [(None, select.POLLOUT)] if self.room else []

    def write(self, data):
        """Returns the number of bytes taken."""
        part = data[: self.room]
        self.taken += part
        self.room -= len(part)
        return len(part)


@pytest.fixture
def port(monkeypatch):
    """A port without a chip, only its console."""
    for name in ("machine", "micropython"):
        monkeypatch.setitem(sys.modules, name, types.ModuleType(name))
    monkeypatch.delitem(sys.modules, "twinloop.port", raising=False)
    kind = importlib.import_module("twinloop.port").Port
    port = kind.__new__(kind)
    port.out = port.outward = Console(0)
    yield port
    sys.modules.pop("twinloop.port", None)


def test_a_full_console_takes_nothing(port):
    assert port.write(b"one\n") is False
    port.out.room = 100
    assert port.write(b"two\n") is True
    assert port.out.taken == b"two\n"


def test_a_line_that_was_cut_does_not_spoil_the_next(port):
    """The half line is terminated first; the next one is clean."""
    port.out.room = 2
    assert port.write(b"one\n") is False
    port.out.room = 100
    assert port.write(b"two\n") is True
    assert port.write(b"three\n") is True
    assert port.out.taken.split(b"\n") == [b"on", b"two", b"three", b""]
