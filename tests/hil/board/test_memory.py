"""What a board remembers: over updates and back, on a flash that refuses, over power cuts."""

import shutil
import time
from pathlib import Path

import pytest
import twinloop
from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.store import MISSING, OUT_OF_RANGE
from twinloop_hil.board import actions
from twinloop_hil.client import Client, LinkError, SerialTransport
from twinloop_hil.virtual.board import VirtualBoard, identified
from twinloop_hil.virtual.files.slots import SLOT_RESET

from ..virtual.test_virtual_board import wait_for

PACKAGE = Path(twinloop.__file__).parent
# A later version: two more settings, a narrower one, one more sensor and one more duty.
LATER = {
    "control/settings.py": [
        ("TABLE = tuple(", 'STIRRER_REST = ROWS.add("stirrer_rest", "s", 0, 3600, 600, RUNNING, "")\nTABLE = tuple('),
        ("TABLE = tuple(", 'BUFFER_FITTED = ROWS.add("buffer_fitted", "choice", 0, 1, 0, COLD, "")\nTABLE = tuple('),
        ('"tank_flow", "ml/min", 500, 10000', '"tank_flow", "ml/min", 500, 8000'),
    ],
    "control/state.py": [
        ("SENSOR_NAMES = ", 'BUFFER = SENSOR_ROWS.add("buffer", -5000, 115000, 1, 16, cfg.BUFFER_FITTED)\nSENSOR_NAMES = '),
        ("DUTY_NAMES = ", 'LATER = DUTY_ROWS.add("later")\nDUTY_NAMES = '),
    ],
}
STIRRER_REST, BUFFER_FITTED = cfg.SETTINGS, cfg.SETTINGS + 1
BUFFER = s.SENSORS
ROM = "28bb010203040522"


def update(board, edits):
    """Put a version of the firmware on the board: this one with edits. Power goes off and on."""
    shutil.rmtree(board.folder / "twinloop")
    shutil.copytree(PACKAGE, board.folder / "twinloop", ignore=shutil.ignore_patterns("__pycache__"))
    for name, changes in edits.items():
        path = board.folder / "twinloop" / name
        for old, new in changes:
            assert path.read_text().count(old) == 1, (name, old)
            path.write_text(path.read_text().replace(old, new))
    board.power_cut()


def stepped(client):
    """Wait for the first step, which confirms the firmware."""
    wait_for(lambda: client.status()["reason"], 5, "the first step")


def named(client):
    """The settings that the log's last start names, by code."""
    events = actions.read_log(client)
    last = max(place for place, event in enumerate(events) if event[0] == 1)
    return [tuple(event[1:3]) for event in events[last:] if event[0] == 10]


def probe_rows(client, sensors):
    return client.call("probes", 0) + client.call("probes", 1) + (client.call("probes", 2) if sensors > 8 else [])


def test_two_versions_forward_back_and_forward(board, client):
    """Settings, roles, offsets and meter stay; what is new is named once, and comes back."""
    client.change_settings({cfg.START_DIFFERENCE: 9000, cfg.TANK_FLOW: 9000, cfg.DUMP_TOPOLOGY: cfg.SERIES})
    client.call("calibrate", s.TANK_LOW, 300)
    rows = client.probes()
    stepped(client)
    sequence = client.status()["sequence"]
    client.close()

    update(board, LATER)
    with Client(SerialTransport(board.port)) as client:
        stepped(client)
        values = client.settings()[0]
        assert (values[cfg.START_DIFFERENCE], values[cfg.DUMP_TOPOLOGY]) == (9000, cfg.SERIES)
        assert (values[cfg.TANK_FLOW], values[STIRRER_REST], values[BUFFER_FITTED]) == (4000, 600, 0)
        assert set(named(client)) == {(cfg.TANK_FLOW, OUT_OF_RANGE), (STIRRER_REST, MISSING), (BUFFER_FITTED, MISSING)}
        # A value that only another version allows stays stored until somebody commits.
        assert client.status()["sequence"] == sequence
        assert client.call("self_check")["settings_lost"] == 1
        assert probe_rows(client, 9) == [*rows, ["", 0, 0]]
        client.call("identify", BUFFER, ROM)
        client.call("calibrate", BUFFER, -200)
        client.change_settings({STIRRER_REST: 900, BUFFER_FITTED: 1, cfg.START_DIFFERENCE: 9500})
        assert client.call("self_check")["settings_lost"] == 0

    update(board, {})
    with Client(SerialTransport(board.port)) as client:
        stepped(client)
        values = client.settings()[0]
        assert (len(values), values[cfg.START_DIFFERENCE], values[cfg.DUMP_TOPOLOGY]) == (cfg.SETTINGS, 9500, cfg.SERIES)
        assert named(client) == []
        assert client.probes() == rows
        client.call("calibrate", s.TANK_LOW, 500)
        client.change_settings({cfg.STOP_DIFFERENCE: 2500})

    for _ in range(2):
        update(board, LATER)
        with Client(SerialTransport(board.port)) as client:
            stepped(client)
            values = client.settings()[0]
            assert (values[STIRRER_REST], values[BUFFER_FITTED]) == (900, 1)
            assert (values[cfg.START_DIFFERENCE], values[cfg.STOP_DIFFERENCE]) == (9500, 2500)
            assert named(client) == []
            found = probe_rows(client, 9)
            assert found[BUFFER] == [ROM, -200, 0]
            assert found[s.TANK_LOW] == [identified().rom(s.TANK_LOW).hex(), 500, 300]
            assert len(client.call("meter")["duty_s"]) == s.DUTIES + 1


# In the place of the chip's own module: with a file of this name the flash refuses every change.
REFUSING_OS = """
import builtins
import uos
from uos import *

kept = builtins.open

def refuse(*names):
    try:
        uos.stat("refuses")
    except OSError:
        return
    raise OSError(30)

def remove(path):
    uos.stat(path)
    refuse()
    uos.remove(path)

def rename(old, new):
    refuse()
    uos.rename(old, new)

def open(path, mode="r"):
    if mode[0] in "wa":
        refuse()
    return kept(path, mode)

builtins.open = open
"""


class Refusing(VirtualBoard):
    """A board whose flash refuses every change while there is a file `refuses`."""

    def lay_out(self):
        super().lay_out()
        (self.folder / "os.py").write_text(REFUSING_OS)

    def refuse(self, refuses):
        if refuses:
            (self.folder / "refuses").touch()
        else:
            (self.folder / "refuses").unlink()
        self.power_cut()


@pytest.fixture
def refusing(interpreter):
    with Refusing(interpreter) as board:
        yield board


def test_a_flash_that_refuses_everything_does_not_stop_the_start(refusing):
    """Trial, request and count cannot be written: the station runs."""
    for name, text in (("trial", "2"), ("prompt", "600"), ("planned", "")):
        (refusing.folder / name).write_text(text)
    refusing.refuse(True)
    with Client(SerialTransport(refusing.port)) as client:
        stepped(client)
        boots = refusing.boots
        assert client.call("self_check")["flash_failures"] > 0
        assert client.status()["alarms"] >> 12 & 1
    time.sleep(2.0)
    assert refusing.boots == boots
    assert (refusing.folder / "trial").read_text() == "2"
    assert (refusing.folder / "prompt").read_text() == "600"
    refusing.refuse(False)
    with pytest.raises(LinkError):
        Client(SerialTransport(refusing.port), tries=1)
    assert (refusing.folder / "planned").exists() and not (refusing.folder / "prompt").exists()
    refusing.power_cut()
    with Client(SerialTransport(refusing.port)) as client:
        assert client.status()["alarms"] >> 12 & 1 == 0
        assert not (refusing.folder / "planned").exists()


def test_a_watchdog_restart_on_such_a_flash_goes_on(refusing):
    """The count cannot be written: before, the chip restarted for ever."""
    (refusing.folder / "flash" / "resets").write_bytes(b"\x01")
    refusing.refuse(True)
    refusing.poke(SLOT_RESET, 1)
    wait_for(lambda: refusing.boots == 3, 5, "the restart")
    with Client(SerialTransport(refusing.port)) as client:
        stepped(client)
        assert client.status()["resets"] == 2
    assert refusing.boots == 3


@pytest.mark.parametrize("name", ["trial", "prompt", "active"])
def test_garbage_in_a_small_file_does_not_stop_the_start(board, name):
    """Bytes that are no text raise another error than a missing file."""
    (board.folder / name).write_bytes(b"\xff\xfe\x80")
    board.power_cut()
    with Client(SerialTransport(board.port)) as client:
        stepped(client)
    assert board.boots == 2


def test_the_meter_outlives_a_power_cut(board, client):
    """Saved at the planned restart that a prompt is."""
    wait_for(lambda: sum(client.call("meter")["duty_s"]) >= 2, 10, "two seconds of duty")
    client.call("prompt", 600)
    client.close()
    wait_for(lambda: board.boots == 2 and not (board.folder / "prompt").exists(), 5, "the prompt")
    board.power_cut()
    with Client(SerialTransport(board.port)) as again:
        assert sum(again.call("meter")["duty_s"]) >= 2
        assert again.status()["resets"] == 0


def test_a_rollback_is_planned(board, client):
    """New firmware fails in its first step, three times; the old one starts with two counted."""
    old = client.facts["firmware"]
    client.close()
    shutil.copytree(board.folder / "twinloop", board.folder / "a" / "twinloop")
    path = board.folder / "a" / "twinloop" / "loop.py"
    assert path.read_text().count("    def step_now(") == 1
    path.write_text(path.read_text().replace("    def step_now(", "    def step_then("))
    for name, text in (("active", "a\n.\n"), ("trial", "3"), ("planned", "")):
        (board.folder / name).write_text(text)
    boots = board.boots
    # As after flashing, the chip restarts by itself.
    board.poke(SLOT_RESET, 1)
    wait_for(lambda: board.boots == boots + 5, 30, "three tries, the rollback, and the old firmware")
    with Client(SerialTransport(board.port)) as client:
        stepped(client)
        assert client.facts["firmware"] == old
        assert "step_now" in client.status()["fault"]
        assert client.status()["resets"] == 2
        assert client.status()["reason"] != why.RESET_STORM
    assert (board.folder / "active").read_text() == ".\n" and not (board.folder / "trial").exists()
    assert board.boots == boots + 5
