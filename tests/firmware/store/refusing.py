"""A flash that refuses to be written, for the store in this process."""

import builtins
import os
from types import SimpleNamespace

from twinloop import store
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_hil.client import Client
from twinloop_hil.inprocess import InProcessBoard

# How a write can fail: at its begin, in its middle, at its end, or without a word.
KINDS = ("open", "half", "close", "silent")


SUNNY_MC = [60000, 30000, 35000, 55000, 40000, 20000, 30000, 48000, 20000, 15000]
HOUR_MS = 3600000
MINUTE_MS = 60000


def charging(folder):
    """A board on a sunny day that charges after half a minute."""
    board = InProcessBoard(folder)
    Client(board).change_settings({cfg.DUMP_TRAVEL: 1000, cfg.MINIMUM_REST: 0})
    board.port.values_mc = list(SUNNY_MC)
    return board


def pass_time(board, ms):
    """Let time pass in steps of 1 s; readings move a little every minute, as in a live plant."""
    for _ in range(ms // MINUTE_MS):
        for sensor in (s.COLLECTOR, s.TANK_HIGH):
            board.port.values_mc[sensor] = 2 * SUNNY_MC[sensor] + 500 - board.port.values_mc[sensor]
        board.pass_time(MINUTE_MS, turn_ms=1000)


class Worn:
    """A file that takes less than it is given."""

    def __init__(self, file, kind):
        self.file, self.kind = file, kind

    def __enter__(self):
        return self

    def __exit__(self, *exc):
        self.file.close()
        if self.kind == "close":
            raise OSError(5)

    def write(self, body):
        part = body if self.kind == "close" else body[: len(body) // 2]
        self.file.write(part + (b"\x00" if self.kind == "silent" else b""))
        if self.kind == "half":
            raise OSError(28)


class Flash:
    """Put in the place of `open` and `os` of store.py; while `kind` is set, writes fail.

    Files can still be removed, as on a full flash, unless nothing opens for writing.
    """

    def __init__(self, monkeypatch):
        self.kind = ""
        self.tries = 0
        monkeypatch.setattr(store, "open", self.open, raising=False)
        names = SimpleNamespace(stat=os.stat, listdir=os.listdir, rename=self.rename, remove=self.remove)
        monkeypatch.setattr(store, "os", names)

    def open(self, path, mode="r"):
        if mode[0] not in "wa":
            return builtins.open(path, mode)
        self.tries += 1
        if self.kind == "open":
            raise OSError(30)
        file = builtins.open(path, mode)  # noqa: SIM115 - whoever asked for it closes it
        return Worn(file, self.kind) if self.kind else file

    def rename(self, old, new):
        if self.kind:
            raise OSError(30)
        os.rename(old, new)

    def remove(self, path):
        if self.kind == "open" and os.path.exists(path):
            raise OSError(30)
        os.remove(path)
