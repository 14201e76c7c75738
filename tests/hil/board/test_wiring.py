"""The wiring table and its drawing: every pin of the data is there, with its pull, its contact and the cautions."""

import json
import re
import types
import xml.etree.ElementTree as ElementTree

import pytest
from twinloop_hil.board import drawing as wiring_drawing
from twinloop_hil.board import wiring
from twinloop_hil.boards import pins_used
from twinloop_hil.firmware_files import board_data, board_names

SVG = "{http://www.w3.org/2000/svg}"


def drawn(name, folder, **changes):
    """The drawing of a board, parsed."""
    path = folder / f"{name}.svg"
    assert wiring.main(types.SimpleNamespace(board=name, out=str(path), json=changes.get("json", False))) == 0
    return ElementTree.parse(path).getroot()


@pytest.mark.parametrize("name", board_names())
def test_every_pin_is_in_table_and_drawing(name, tmp_path, capsys):
    """Each pin of the board's data stands in the table and at a wire of the drawing."""
    root = drawn(name, tmp_path)
    out = capsys.readouterr().out
    texts = [element.text for element in root.iter(f"{SVG}text")]
    for _, pin, _ in pins_used(board_data(name)):
        assert re.search(rf"^ +{pin}  ", out, re.MULTILINE), pin
        assert str(pin) in texts, pin


@pytest.mark.parametrize("name", board_names())
def test_no_text_leaves_its_place(name, tmp_path):
    """No line of the drawing runs over the edge of what it stands in (0.56 of the size a letter, wider than the fonts at hand)."""
    root = drawn(name, tmp_path)
    ends = {wiring_drawing.BLOCK_LEFT: wiring_drawing.BLOCK_RIGHT, wiring_drawing.LOAD_LEFT: wiring_drawing.LOAD_RIGHT}
    for element in root.iter(f"{SVG}text"):
        left = float(element.get("x"))
        if element.get("text-anchor") == "start":
            limit = next((right for start, right in ends.items() if start <= left <= start + 40), wiring_drawing.WIDTH)
            assert left + 0.56 * int(element.get("font-size")) * len(element.text) <= limit + 1, element.text


def test_what_has_to_be_fitted(capsys, tmp_path):
    """Pulls after the chip: 10 kOhm, 8.2 kOhm on an RP2350, up instead of down for a low level, a pull where the pin has none."""
    chip = wiring.CHIPS["rp2040"]
    assert wiring.pull_text(chip, 1) == "10 kOhm from the pin to ground"
    assert "to 3V3" in wiring.pull_text(chip, 0)
    assert [row.fit for row in wiring.connections(board_data("pico_2"))[:4]] == ["8.2 kOhm from the pin to ground"] * 4
    button = [row for row in wiring.connections(board_data("esp32")) if row.to.startswith("button")]
    assert button[0].fit == "10 kOhm to 3V3"
    low = {**board_data("pico"), "RELAYS": ((10, 0), (11, 1), (12, 1), (13, 1))}
    assert "may click" in wiring.cautions(low)[-1] and "may click" not in wiring.cautions(board_data("pico"))[-1]


@pytest.mark.parametrize(
    "words",
    [
        "Low voltage",
        "licensed",
        "normally open",
        "inrush",
        "contactor",
        "Surge arrester",
        "cut-out",
        "Relief valves",
        "Take mains off",
    ],
)
def test_cautions_are_there(words, capsys, tmp_path):
    """What can electrocute, scald or burst is said beside the table."""
    drawn("pico", tmp_path)
    assert words in capsys.readouterr().out


def test_contacts_match_the_outputs():
    """One contact an output, in their order; without power every one of them is open."""
    assert [name for name, _, _ in wiring.CONTACTS] == list(wiring.OUTPUT_NAMES)
    assert all(kind.startswith("normally open") for _, kind, _ in wiring.CONTACTS)


def test_json_is_one_document(tmp_path, capsys):
    """Connections, contacts, cautions and the drawing's path."""
    drawn("pico", tmp_path, json=True)
    facts = json.loads(capsys.readouterr().out)
    assert facts["board"] == "pico"
    assert len(facts["connections"]) > 12
    assert facts["files"]["drawing"].endswith("pico.svg")
