"""`twinloop board backup` and `restore`, called as a user would."""

import json
import tomllib

import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_hil.board import backup
from twinloop_hil.client import Client, SerialTransport
from twinloop_hil.virtual.board import VirtualBoard, rom_code
from twinloop_sim import cli
from twinloop_sim.sheets import quantities


@pytest.fixture(scope="module")
def board(interpreter):
    """A board that knows its sensors, with two settings changed and an offset."""
    with VirtualBoard(interpreter) as one:
        with Client(SerialTransport(one.port)) as client:
            client.change_settings({cfg.TANK_LIMIT: 71000, cfg.EXERCISE_AFTER: 1209599})
            client.call("calibrate", 1, -250)
        yield one


@pytest.fixture(scope="module")
def file(board, tmp_path_factory):
    """Its backup."""
    path = tmp_path_factory.mktemp("backup") / "my board.toml"
    assert cli.main(["board", "backup", str(path), "--port", board.port]) == 0
    return path


@pytest.fixture
def other(interpreter):
    """A replacement: no settings, and no sensor has a role."""
    with VirtualBoard(interpreter) as one:
        with Client(SerialTransport(one.port)) as client:
            for sensor in range(1, 8):
                client.call("identify", sensor, "")
        yield one


def stored(board):
    """Settings and sensors of a board."""
    with Client(SerialTransport(board.port)) as client:
        return client.settings()[0], client.probes()


def call(board, *arguments):
    return cli.main(["board", *arguments, "--port", board.port])


def test_a_backup_can_be_read_by_a_person(file):
    """Names, units and ROM codes as they are printed elsewhere."""
    document = tomllib.loads(file.read_text())
    assert document["settings"]["tank_limit"] == "71 C"
    assert document["settings"]["exercise_after"] == "1209599 s"
    assert document["sensors"]["tank_low"] == {"rom": rom_code(1).hex(), "offset_mk": -250, "offset_before_mk": 0}
    assert document["board"] == "virtual" and len(document["firmware"]) == 8


def test_every_value_is_written_exactly():
    """What a file says is what the board had, at any value in range."""
    for code, (name, unit, low, high, default, _) in enumerate(cfg.TABLE):
        for value in {low, high, default, min(low + 1, high), (low + high) // 2}:
            assert quantities.parse_setting(name, unit, backup.setting_text(code, value)) == value


def test_a_replacement_board_becomes_the_same(board, other, file, capsys):
    """Settings, roles and offsets all arrive."""
    assert stored(other) != stored(board)
    assert call(other, "restore", str(file)) == 0
    assert stored(other) == stored(board)
    assert f"{cfg.SETTINGS} settings and {s.SENSORS} sensors restored" in capsys.readouterr().out


def test_a_chip_that_is_not_there_is_asked_about(other, file, tmp_path, capsys, monkeypatch):
    """Without a yes nothing changes."""
    before = stored(other)
    edited = tmp_path / "edited.toml"
    edited.write_text(file.read_text().replace(rom_code(2).hex(), "28aa010203040011"))
    assert call(other, "restore", str(edited)) == 2
    assert "not on the bus: tank_high (28aa010203040011)" in capsys.readouterr().err
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("builtins.input", lambda question: "no")
    assert call(other, "restore", str(edited)) == 2
    assert stored(other) == before
    assert call(other, "restore", str(edited), "--yes", "--json") == 0
    assert json.loads(capsys.readouterr().out)["missing"] == ["tank_high"]
    assert stored(other)[1][2] == ["28aa010203040011", 0, 0]


BAD = {
    "no TOML": ("x", "[", "not a readable backup"),
    "another kind": ("twinloop board backup", "letter", "not a backup"),
    "another version": ("version = 1", "version = 2", "version = 2, allowed 1"),
    "a part too many": ("[settings]", "[sums]\n[settings]", "sums is not part of a backup"),
    "no settings": ("[settings]", "[sums]", "is not part of a backup"),
    "a setting of another firmware": ("tank_limit =", "tank_top =", "setting tank_top: this firmware has none"),
    "a number": ('tank_limit = "71 C"', "tank_limit = 71", "has to be text with a unit"),
    "a unit": ('tank_limit = "71 C"', 'tank_limit = "71 bar"', "unit bar does not fit"),
    "a range": ('tank_limit = "71 C"', 'tank_limit = "99 C"', "tank_limit = 99 C: allowed 40 C to 85 C"),
    "a rule": ('start_difference = "8 K"', 'start_difference = "4 K"', "start_difference = 4 K"),
    "a sensor of another firmware": ("[sensors.tap]", "[sensors.attic]", "sensor attic: this firmware has none"),
    "an offset": ("offset_mk = -250", "offset_mk = 5001", "offset_mk = 5001: allowed -5000 to 5000"),
    "a truth value": ("offset_mk = -250", "offset_mk = true", "offset_mk = True: allowed"),
    "a ROM code": (rom_code(1).hex(), "28zz", "has to be 16 hex digits"),
    "one chip twice": (rom_code(1).hex(), rom_code(2).hex(), f"chip {rom_code(2).hex()} is tank_low already"),
    "a row too short": ("offset_before_mk = 0", "", "takes exactly rom, offset_mk, offset_before_mk"),
}


@pytest.mark.parametrize("what", BAD)
def test_what_does_not_fit_is_refused_in_one_line(board, file, tmp_path, capsys, what):
    """Nothing changes on the board."""
    before = stored(board)
    old, new, words = BAD[what]
    path = tmp_path / "bad.toml"
    text = file.read_text()
    assert old in text or what == "no TOML"
    path.write_text(text.replace(old, new, 1) if what != "no TOML" else new)
    assert call(board, "restore", str(path)) == 2
    said = capsys.readouterr().err
    assert words in said and "Traceback" not in said and len(said.strip().splitlines()) == 1
    assert stored(board) == before


def test_files_are_named_before_the_board_is_asked(file, tmp_path, capsys):
    """An existing file is not overwritten, a missing one is not found, whatever the port."""
    for arguments, words in (
        (["backup", str(file)], "exists already"),
        (["backup", str(tmp_path / "no" / "x.toml")], "there is no folder"),
        (["restore", str(tmp_path / "x.toml")], "cannot be read (No such file"),
        (["restore", str(tmp_path)], "cannot be read (Is a directory"),
    ):
        assert cli.main(["board", *arguments, "--port", "/nowhere"]) == 2
        assert words in capsys.readouterr().err


def test_a_cut_leaves_no_half_of_a_backup(board, tmp_path, monkeypatch, capsys):
    """Under its name the file is whole or not there; what is left of it is not taken for one."""

    def cut(number):
        raise OSError(5, "the power failed")

    path = tmp_path / "cut.toml"
    monkeypatch.setattr("os.fsync", cut)
    assert call(board, "backup", str(path)) == 2
    assert "cannot be written (the power failed)" in capsys.readouterr().err
    assert not path.exists()
    monkeypatch.undo()
    assert call(board, "backup", str(path)) == 0
    assert [one.name for one in tmp_path.iterdir()] == ["cut.toml"]
