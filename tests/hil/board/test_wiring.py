"""The wiring table and its drawing: every pin, its pull, its contact, the cautions."""

import json
import re
import types
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest
from twinloop.control import state as s
from twinloop_hil import wires
from twinloop_hil.board import drawing, wiring
from twinloop_hil.boards import pins_used
from twinloop_hil.chips import CHIPS
from twinloop_hil.firmware_files import board_data, board_names, board_path
from twinloop_sim import cli

SVG = "{http://www.w3.org/2000/svg}"


def drawn(name, folder, **changes):
    """The drawing of a board, parsed."""
    path = folder / f"{Path(name).stem}.svg"
    assert wiring.main(types.SimpleNamespace(board=name, out=str(path), json=changes.get("json", False))) == 0
    return ElementTree.parse(path).getroot()


@pytest.mark.parametrize("name", board_names())
def test_every_pin_is_in_table_and_drawing(name, tmp_path, capsys):
    root = drawn(name, tmp_path)
    out = capsys.readouterr().out
    texts = [element.text for element in root.iter(f"{SVG}text")]
    for _, pin, _ in pins_used(board_data(name)):
        assert re.search(rf"^ +{pin}  ", out, re.MULTILINE), pin
        assert str(pin) in texts, pin


def own_copy(folder):
    """A copy of the Pico's file whose alarm contact is closed without power."""
    path = folder / "mine.py"
    text = board_path("pico").read_text()
    assert 'ALARM_RESTS = "silent"' in text
    path.write_text(text.replace('ALARM_RESTS = "silent"', 'ALARM_RESTS = "alarm"'))
    return str(path)


@pytest.mark.parametrize("name", [*board_names(), "a copy with the other alarm"])
def test_no_text_leaves_its_place(name, tmp_path):
    """A letter counts 0.56 of the font size, which is wider than in the fonts at hand."""
    root = drawn(name if name in board_names() else own_copy(tmp_path), tmp_path)
    ends = {drawing.BLOCK_LEFT: drawing.BLOCK_RIGHT, drawing.LOAD_LEFT: drawing.LOAD_RIGHT}
    for element in root.iter(f"{SVG}text"):
        left = float(element.get("x"))
        if element.get("text-anchor") == "start":
            limit = next((right for start, right in ends.items() if start <= left <= start + 40), drawing.WIDTH)
            assert left + 0.56 * int(element.get("font-size")) * len(element.text) <= limit + 1, element.text


def test_a_copy_does_not_replace_the_drawing_of_its_model(tmp_path, monkeypatch):
    path = own_copy(tmp_path)
    monkeypatch.chdir(tmp_path)
    assert cli.main(["wiring", "pico"]) == 0 and cli.main(["wiring", path]) == 0
    assert sorted(file.name for file in tmp_path.glob("*.svg")) == ["wiring-mine.svg", "wiring-pico.svg"]


def test_what_has_to_be_fitted(capsys, tmp_path):
    """Pulls suit chip and level: 10 kOhm, 8.2 kOhm on an RP2350, up for a low level."""
    chip = CHIPS["rp2040"]
    assert wires.pull_text(chip, 1) == "10 kOhm from the pin to ground"
    assert "to 3V3" in wires.pull_text(chip, 0)
    relays = wires.connections(board_data("pico_2"))[: s.OUTPUTS]
    assert {row.fit for row in relays} == {"8.2 kOhm from the pin to ground"}
    button = [row for row in wires.connections(board_data("esp32")) if row.to.startswith("button")]
    assert button[0].fit == "10 kOhm to 3V3"
    first, *others = board_data("pico")["RELAYS"]
    low = {**board_data("pico"), "RELAYS": ((first[0], 0), *others)}
    assert "may click" in wires.cautions(low)[-1] and "may click" not in wires.cautions(board_data("pico"))[-1]


CAUTIONS = "Low voltage|licensed|normally open|inrush|contactor|Surge arrester|cut-out|Relief valves|Take mains off"


@pytest.mark.parametrize("words", CAUTIONS.split("|"))
def test_cautions_are_there(words, capsys, tmp_path):
    drawn("pico", tmp_path)
    assert words in capsys.readouterr().out


def test_contacts_match_the_outputs():
    contacts = wires.contacts(board_data("pico"))
    assert [name for name, _, _ in contacts] == list(s.OUTPUT_NAMES)
    assert all(kind.startswith("normally open") for _, kind, _ in contacts)


def test_a_board_without_the_fan_draws_four_relays(tmp_path, capsys):
    """The ESP32 has no pin to spare for it."""
    for name, count in (("esp32", s.AIR_FAN), ("pico", s.OUTPUTS)):
        data = board_data(name)
        assert [contact[0] for contact in wires.contacts(data)] == list(s.OUTPUT_NAMES[:count])
        shape = drawing.draw(name, wires.connections(data), wires.contacts(data), {}, [])
        assert ("air_fan" in shape) == (count == s.OUTPUTS)


def test_an_alarm_that_a_dead_controller_gives_is_drawn_and_worded(tmp_path):
    """Its contact is closed without power; every other stays as it is."""
    silent, dead = ({**board_data("pico"), "ALARM_RESTS": kind} for kind in ("silent", "alarm"))
    without = {name: field for name, field in silent.items() if name != "ALARM_RESTS"}
    assert wires.contacts(without) == wires.contacts(silent)
    movers = wires.contacts(dead)
    alarm = movers.pop(s.ALARM)
    assert movers == [contact for output, contact in enumerate(wires.contacts(silent)) if output != s.ALARM]
    assert alarm[1] == "normally closed, potential-free"
    assert "closes on alarm and if the controller dies" in alarm[2]
    assert "a dead controller is silent" in wires.contacts(silent)[3][2]
    shapes = [drawing.draw("pico", wires.connections(data), wires.contacts(data), {}, []) for data in (silent, dead)]
    assert shapes[0].count("<path") + 1 == shapes[1].count("<path"), "a closed contact has one line more"
    assert "normally closed" in shapes[1] and "normally closed" not in shapes[0]


def test_json_is_one_document(tmp_path, capsys):
    drawn("pico", tmp_path, json=True)
    facts = json.loads(capsys.readouterr().out)
    assert facts["board"] == "pico"
    assert len(facts["connections"]) > 12
    assert facts["files"]["drawing"].endswith("pico.svg")
