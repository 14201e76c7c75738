"""Board data: ours is good; data that cannot work or would move a relay is refused."""

import pytest
from twinloop.control import state as s
from twinloop_hil.boards import closed_at_rest, pins_used, problems
from twinloop_hil.firmware_files import board_data, board_names, boot_text

REAL = ("esp32", "esp32_s3", "pico", "pico_2", "pico_w")


def test_these_boards_are_there():
    assert board_names() == [*REAL, "virtual"]


@pytest.mark.parametrize("name", [*REAL, "virtual"])
def test_our_boards_are_good(name):
    data = board_data(name)
    assert problems(data) == []
    assert data["NAME"] == name


@pytest.mark.parametrize("name", REAL)
def test_pins_in_the_docstring_are_those_of_the_data(name):
    """The Connect: lines name every relay, sensor and jumper pin, alone or in a range."""
    data = board_data(name)
    words = data["__doc__"].replace("GP", "").replace(",", " ").replace(".", " ").replace(";", " ").split()
    named = {int(word) for word in words if word.isdigit()}
    spans = [
        (int(words[k - 1]), int(words[k + 1]))
        for k, word in enumerate(words)
        if word == "to" and words[k - 1].isdigit() and words[k + 1].isdigit()
    ]
    for low, high in spans:
        named |= set(range(low, high + 1))
    board_light = data["STATUS_LED"][0] if "on the board" in data["__doc__"].replace("\n", " ") else None
    for what, pin, _ in pins_used(data):
        assert pin in named or pin == board_light, what


@pytest.mark.parametrize("name", REAL)
def test_boot_drives_the_relays_of_the_data(name):
    driven = []

    class Pin:
        OUT = 1

        def __init__(self, number, mode, value):
            driven.append((number, value))

    text = boot_text(name)
    assert [line for line in text.splitlines() if "import" in line and not line.startswith('"""')] == ["from machine import Pin"]
    exec(text.replace("from machine import Pin", ""), {"Pin": Pin})
    assert driven == [(pin, 1 - level) for pin, level in board_data(name)["RELAYS"]]


def changed(name, **fields):
    """A board's data with some fields replaced."""
    return {**board_data(name), **fields}


def test_the_alarm_may_rest_on_alarm_and_may_be_left_out():
    data = board_data("pico")
    without = {name: field for name, field in data.items() if name != "ALARM_RESTS"}
    dead = changed("pico", ALARM_RESTS="alarm")
    assert problems(without) == problems(dead) == []
    at_rest = [closed_at_rest(kind) for kind in (without, data, dead)]
    assert at_rest == [(0,) * s.OUTPUTS, (0,) * s.OUTPUTS, tuple(int(output == s.ALARM) for output in range(s.OUTPUTS))]


def with_relay(name, pin):
    """A board's data with the collector pump at another pin."""
    rows = board_data(name)["RELAYS"]
    return changed(name, RELAYS=((pin, 1), *rows[1:]))


# One pin per output; 22 belongs to the 1-Wire bus.
READ_BACK = (22, 20, 21, 26, 27, 28, 2, 3)[: s.OUTPUTS]
REFUSED = {
    **{f"strapping {pin}": (with_relay("esp32", pin), "strapping") for pin in (0, 2, 5, 12, 15)},
    "strapping of the S3": (with_relay("esp32_s3", 46), "strapping"),
    "pulses at boot": (with_relay("esp32", 14), "boot ROM"),
    "high at power-on": (with_relay("esp32_s3", 18), "high level at power-on"),
    "flash": (with_relay("esp32", 8), "flash"),
    "console": (with_relay("esp32", 1), "console"),
    "input only": (with_relay("esp32", 36), "input only"),
    "radio": (with_relay("pico_w", 25), "radio"),
    "USB": (with_relay("esp32_s3", 19), "USB"),
    "first serial port": (with_relay("pico", 0), "serial port"),
    "no such pin": (with_relay("pico", 40), "no such pin"),
    "doubled": (changed("pico", ONE_WIRE=10), "1-Wire at pin 10: already used by relay collector_pump"),
    "second converter": (changed("esp32", NTC=((5, 13, 10000, 10000, 3950),)), "Wi-Fi"),
    "no converter": (changed("pico", NTC=((5, 20, 10000, 10000, 3950),)), "no converter"),
    "no pull": (changed("esp32", BENCH_JUMPER=36), "no internal pull"),
    "watchdog too long for the chip": (changed("pico", WATCHDOG_MS=9000), "3000 to 8388"),
    "watchdog too short": (changed("esp32", WATCHDOG_MS=1500), "WATCHDOG_MS = 1500"),
    "lease shorter than two steps": (changed("pico", LEASE_MS=1500), "LEASE_MS = 1500"),
    "period shorter than a conversion": (changed("pico", PERIOD_MS=500), "PERIOD_MS = 500"),
    "a relay missing": (
        changed("pico", RELAYS=board_data("pico")["RELAYS"][: s.AIR_FAN - 1]),
        f"{s.AIR_FAN - 1} rows; allowed {s.AIR_FAN} or {s.OUTPUTS}",
    ),
    "level": (changed("pico", RELAYS=((10, 2), *board_data("pico")["RELAYS"][1:])), "level 0 or 1"),
    "reference resistor of the other kind": (
        changed("pico", RTD={**board_data("pico")["RTD"], "reference_ohm": 400}),
        "reference_ohm = 400",
    ),
    "five wires": (changed("pico", RTD={**board_data("pico")["RTD"], "wires": 5}), "wires = 5"),
    "no collector": (changed("pico", RTD=None), "Pt1000"),
    "collector on a thermistor": (changed("pico", NTC=((0, 26, 10000, 10000, 3950),)), "Pt1000"),
    "a read-back missing": (
        changed("pico", READ_BACK=READ_BACK[1:]),
        f"READ_BACK: {READ_BACK[1:]}: allowed None or a pin per relay",
    ),
    "an alarm that rests on neither": (changed("pico", ALARM_RESTS="on"), "ALARM_RESTS = 'on': allowed 'silent', 'alarm'"),
    "read-back at a taken pin": (changed("pico", READ_BACK=READ_BACK), "1-Wire at pin 22: already used by read-back"),
    "read-back without a pull": (changed("esp32", READ_BACK=(34, 35, 36, 39)), "no internal pull"),
    "flow of text": (changed("pico", FLOW=(7, "450")), "FLOW: (7, '450')"),
    "flow without a pull": (changed("esp32", FLOW=(36, 450)), "no internal pull"),
    "flow at a taken pin": (changed("pico", FLOW=(22, 450)), "flow input at pin 22: already used by 1-Wire"),
    "beta": (changed("pico", NTC=((5, 26, 10000, 10000, 395),)), "beta 2800"),
    "chip": (changed("pico", CHIP="rp1"), "CHIP = rp1"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused_with_a_reason(name):
    data, words = REFUSED[name]
    found = problems(data)
    assert found and any(words in line for line in found), found


def test_the_relay_of_the_fan_may_be_left_out():
    """The fan is the last of the outputs; its read-back wire goes with it."""
    relays = board_data("pico")["RELAYS"][: s.AIR_FAN]
    assert problems(changed("pico", RELAYS=relays, READ_BACK=None)) == []
    assert problems(changed("pico", RELAYS=relays, READ_BACK=(20, 21, 26, 27))) == []
    assert problems(changed("pico", RELAYS=relays, READ_BACK=(20, 21, 26, 27, 28))) != []
    # The ESP32 has no pin to spare.
    assert len(board_data("esp32")["RELAYS"]) == s.AIR_FAN


def test_missing_field_is_named():
    data = board_data("pico")
    del data["RTD"]
    assert problems(data) == ["pico: RTD: missing"]


def test_a_file_of_your_own_is_checked(tmp_path):
    """A board given by path is checked too; a file that does not run gets one line."""
    path = tmp_path / "mine.py"
    path.write_text("NAME = 1 / 0\n")
    with pytest.raises(ValueError, match="ZeroDivisionError"):
        board_data(str(path))
    with pytest.raises(ValueError, match="no such file"):
        board_data(str(tmp_path / "other.py"))
    with pytest.raises(ValueError, match="board nano: not known; allowed esp32, "):
        board_data("nano")
