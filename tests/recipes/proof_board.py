"""Recipe "A board": accepted, wired, and its pins in boot.py."""

import ast

from twinloop.control import state as s
from twinloop_hil.board import wiring
from twinloop_hil.boards import problems
from twinloop_hil.firmware_files import board_data, board_names, boot_text, firmware_folder


def test_accepted():
    """By its name alone. The fan and the output of another recipe want pins as well."""
    assert "wash_house" in board_names()
    text = (firmware_folder() / "boards" / "wash_house.py").read_text()
    data: dict = {}
    exec(text, data)
    data["RELAYS"] += ((10, 1), (11, 1))[: s.OUTPUTS - len(data["RELAYS"])]
    assert problems(data) == []
    data["BENCH_JUMPER"] = 6
    assert any("6" in line for line in problems(data))


def test_wired_and_booted(monkeypatch, tmp_path):
    """Table and boot.py, from a copy of the file with a pin for every output."""
    path = tmp_path / "mine.py"
    text = (firmware_folder() / "boards" / "wash_house.py").read_text()
    path.write_text(text.replace("(9, 1))", "(9, 1), (10, 1), (11, 1))") if s.OUTPUTS == 6 else text)
    data = board_data(str(path))
    rows = wiring.connections(data)
    assert any("GP6" in str(row) or row.pin == "6" for row in rows)
    (line,) = [line for line in boot_text(str(path)).split("\n") if line.startswith("RELAYS = ")]
    assert ast.literal_eval(line.removeprefix("RELAYS = "))[0] == (6, 1)
