"""A flash that cannot be read: nothing opens by itself, nothing passes for a fresh board."""

import builtins
import os
import sys
from array import array
from types import SimpleNamespace

import pytest
from twinloop import store
from twinloop.control import alarms
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.store import COPIES, FRESH, PROMPT, SERVICE, UNUSABLE, Store
from twinloop_hil.client import Client
from twinloop_hil.inprocess import InProcessBoard

from ..runtime.interpreters import FIRMWARE

EIO = 5


@pytest.fixture
def unreadable(monkeypatch):
    """Names that cannot be read: add to this set."""
    names = set()

    def opened(path, mode="r"):
        if mode[0] == "r" and os.path.basename(path) in names:
            raise OSError(EIO)
        return builtins.open(path, mode)

    monkeypatch.setattr(store, "open", opened, raising=False)
    return names


def test_settings_that_cannot_be_read_are_lost(tmp_path, unreadable):
    """The alarm stays when other files are written; a fresh board has none."""
    folder = f"{tmp_path}/"
    assert InProcessBoard(folder).loop.settings_source == FRESH
    Client(InProcessBoard(folder)).change_settings({cfg.START_DIFFERENCE: 9000})
    unreadable.update(COPIES)
    assert Store(folder).load_settings(array("i", [0] * cfg.SETTINGS)) == UNUSABLE
    board = InProcessBoard(folder)
    board.pass_time(120000, turn_ms=1000)
    assert board.loop.store.failing == 0
    assert board.loop.state[s.ALARMS] & alarms.ALARM_SETTINGS
    assert board.relays()[s.ALARM] == 1


@pytest.mark.parametrize("harm", ["unreadable", "garbage", "error"])
def test_a_board_in_service_stays_in_service(tmp_path, monkeypatch, unreadable, harm):
    """The flag cannot be read, or holds something else, or its folder cannot be looked at."""
    folder = f"{tmp_path}/"
    Client(InProcessBoard(folder)).call("commission")
    unreadable.update({SERVICE} if harm == "unreadable" else ())
    if harm == "garbage":
        (tmp_path / SERVICE).write_bytes(b"\xff")

    def stat(path):
        raise OSError(EIO)

    if harm == "error":
        monkeypatch.setattr(store, "os", SimpleNamespace(stat=stat, listdir=os.listdir, rename=os.rename, remove=os.remove))
    assert Client(InProcessBoard(folder)).facts["state"] == "service"


def test_a_module_that_cannot_be_read_does_not_stop_the_station(tmp_path, unreadable):
    """One that nothing has imported: the hash is missing, and the station steps."""
    unreadable.add("display.py")
    board = InProcessBoard(f"{tmp_path}/")
    board.pass_time(2000)
    assert board.port.fed == 2
    assert Client(board).facts["firmware"] == ""


def test_a_request_for_the_prompt_outlives_no_start_of_the_station(tmp_path, monkeypatch):
    """One that main.py could not grant on a refusing flash must not be granted days later."""
    monkeypatch.chdir(tmp_path)
    assert Store("").ask_prompt(900)
    InProcessBoard("")
    assert not (tmp_path / PROMPT).exists()


@pytest.fixture
def starter(tmp_path, monkeypatch):
    """The functions of main.py on a board in service; its last lines would start the station."""
    pin = SimpleNamespace(value=lambda: 1)
    chip = SimpleNamespace(IN=0, PULL_UP=1)
    monkeypatch.setitem(sys.modules, "machine", SimpleNamespace(Pin=type("Pin", (), {**vars(chip), "__new__": lambda *_: pin})))
    monkeypatch.setitem(sys.modules, "micropython", SimpleNamespace())
    monkeypatch.setitem(sys.modules, "board", SimpleNamespace(BENCH_JUMPER=0, FOLDER=f"{tmp_path}/"))
    names = {"jumper": pin}
    exec((FIRMWARE / "main.py").read_text().split("\nstay = False")[0], names)
    (tmp_path / SERVICE).write_bytes(b"1")
    return names


def test_a_flag_that_cannot_be_read_bars_the_prompt(tmp_path, starter):
    """Garbage in it as well; only a board without the flag, or with the jumper, is open."""
    assert starter["barred"]()
    (tmp_path / SERVICE).write_bytes(b"\xff\xfe")
    assert starter["barred"]()
    starter["jumper"].value = lambda: 0
    assert not starter["barred"]()
    starter["jumper"].value = lambda: 1
    (tmp_path / SERVICE).unlink()
    assert not starter["barred"]()


@pytest.mark.parametrize("fault", [OSError(EIO), MemoryError()])
def test_a_look_at_the_flag_that_fails_bars_the_prompt(starter, fault):
    """An error of the flash, or a heap that is full after the crash."""

    def stat(path):
        raise fault

    starter["os"] = SimpleNamespace(stat=stat)
    starter["open"] = stat
    assert starter["barred"]()
