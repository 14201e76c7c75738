"""The virtual board that stays: its folder, its second terminal, and how it ends."""

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from twinloop.control import state as s
from twinloop_hil.board.flash import flash
from twinloop_hil.client import Client, LinkError, SerialTransport
from twinloop_hil.virtual import home
from twinloop_hil.virtual.files import slots
from twinloop_hil.virtual.standing import HAND_MK, TABLE_MC, Standing
from twinloop_sim import cli

from .test_virtual_board import wait_for

TWINLOOP = str(Path(sys.executable).parent / "twinloop")
PLANT_MC = [45000, 30000, 40000, 25000, 25000, 15000, 40000, 25000, 20000, 15000]


class StillPlant:
    """A plant in which nothing happens; it remembers the time that passed."""

    passed_s = 0.0

    def move(self, passed_s, relays):
        """The same temperatures as ever."""
        self.passed_s += passed_s
        return PLANT_MC

    def time_text(self):
        """Always the same time."""
        return "day 1, 08:00"


@pytest.fixture
def standing(interpreter, tmp_path):
    """A bare board in a folder, looked after by the test."""
    with home.claimed(str(tmp_path / "board")) as folder, Standing(folder, StillPlant(), interpreter) as board:
        yield board


def felt_mc(board):
    """What is behind the chips."""
    return [board.peek(slots.SLOT_VALUE_MC + sensor) for sensor in range(s.SENSORS)]


def test_sensors_of_a_bare_board_lie_on_the_table(standing):
    """All but the collector's; once fitted they follow the plant, at a credible rate."""
    standing.look(0.1)
    table = [PLANT_MC[0], *[TABLE_MC] * (s.SENSORS - 1)]
    assert felt_mc(standing) == table
    standing.poke(slots.SLOT_LOOSE, 0)
    before = felt_mc(standing)
    for _ in range(300):
        standing.look(1.0)
        now = felt_mc(standing)
        assert all(abs(b - a) <= 1000 for a, b in zip(before, now, strict=True))
        before = now
    assert now == pytest.approx(PLANT_MC, abs=50)


def test_a_hand_warms_one_sensor_for_its_time(standing):
    """By more than identify wants, and what is left then is less than it wants."""
    standing.poke(slots.SLOT_WARM + s.TAP, 60000)
    rises = []
    for _ in range(60):
        standing.look(1.0)
        rises.append(felt_mc(standing)[s.TAP] - TABLE_MC)
    assert max(rises) > 2000 and HAND_MK - 2000 < 2000
    for _ in range(60):
        standing.look(1.0)
    assert felt_mc(standing)[1:] == [TABLE_MC] * (s.SENSORS - 1)


def test_time_goes_faster_for_chip_and_plant_alike(standing):
    """The board's seconds and the plant's, both ten in one of ours."""
    flash(standing.port, "virtual")
    with Client(SerialTransport(standing.port)) as client:
        standing.poke(slots.SLOT_SPEED, 10)
        begin, up_s = time.monotonic(), client.status()["uptime_s"]
        standing.plant.passed_s = 0.0
        time.sleep(2.0)
        standing.look(time.monotonic() - begin)
        passed_s = client.status()["uptime_s"] - up_s
    assert passed_s == pytest.approx(standing.plant.passed_s, abs=3.0)
    assert passed_s >= 17


def test_without_power_it_is_silent_and_safe(standing):
    """What was sent meanwhile is lost; with power it starts as from a power-on."""
    flash(standing.port, "virtual")
    standing.poke(slots.SLOT_POWER, slots.POWER_ASKED_OFF)
    standing.look(0.1)
    assert standing.peek(slots.SLOT_POWER) == 0 and not any(standing.relays())
    with pytest.raises(LinkError, match="no answer"):
        Client(SerialTransport(standing.port), tries=1)
    standing.poke(slots.SLOT_POWER, slots.POWER_ASKED_ON)
    standing.look(0.1)
    with Client(SerialTransport(standing.port)) as client:
        assert client.status()["start_cause"] == slots.PWRON_RESET
        assert client.lines_ignored == 0


def test_one_board_in_a_folder(standing, capsys):
    """A second start is refused, and a folder that is something else as well."""
    folder = str(standing.home)
    with (
        pytest.raises(ValueError, match=f"^folder {folder}: its virtual board is running already, port {folder}/port$"),
        home.claimed(folder),
    ):
        pass
    other = standing.home.parent / "other"
    other.mkdir()
    (other / "letter.txt").touch()
    for name, text in ((other, "is not empty"), (other / "letter.txt", "cannot be used")):
        with pytest.raises(ValueError, match=f"^folder {name}: .*{text}"), home.claimed(str(name)):
            pass


def said(capsys, *words):
    """What a wrong call says: one line."""
    assert cli.main(["virtual", *words]) == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    return err


def test_wrong_words_are_one_line(capsys, tmp_path):
    folder = str(tmp_path / "none")
    assert f"start one with `twinloop virtual {folder}`" in said(capsys, "power", "off", folder)
    assert not Path(folder).exists()
    assert "sensor nose: not known; allowed collector" in said(capsys, "warm", "nose", folder)
    assert "--seconds 0: allowed 1 to 600" in said(capsys, "warm", "tap", folder, "--seconds", "0")
    assert "speed 61: allowed 1 (real time) to 60" in said(capsys, "speed", "61", folder)
    assert "--speed 0: allowed 1" in said(capsys, folder, "--speed", "0")
    assert "choose from" in said(capsys, "jumper", "shut", folder)
    assert "--micropython /none" in said(capsys, folder, "--micropython", "/none")
    assert "scenario file none.toml: not found" in said(capsys, folder, "--scenario", "none.toml")
    assert not Path(folder).exists()


def test_a_killed_board_leaves_nothing_running(interpreter, tmp_path):
    """Killed, its MicroPython ends too, and the next start takes the folder over."""
    board = subprocess.Popen([TWINLOOP, "virtual", "mine"], cwd=tmp_path, stdout=subprocess.PIPE, text=True)
    assert "port mine/port" in board.stdout.readline()
    children = Path(f"/proc/{board.pid}/task/{board.pid}/children").read_text().split()
    assert len(children) == 1
    board.kill()
    board.wait()
    wait_for(lambda: not running(children[0]), 5, "the end of MicroPython")
    again = subprocess.Popen([TWINLOOP, "virtual", "mine"], cwd=tmp_path, stdout=subprocess.PIPE, text=True)
    assert "port mine/port" in again.stdout.readline()
    child = Path(f"/proc/{again.pid}/task/{again.pid}/children").read_text().split()[0]
    again.send_signal(signal.SIGTERM)
    assert again.wait(20) == 0
    assert not running(child) and not (tmp_path / "mine" / "port").is_symlink()


def running(pid):
    """Whether a process is there and no zombie."""
    path = Path(f"/proc/{pid}/stat")
    return path.exists() and path.read_text().split()[2] != "Z"
