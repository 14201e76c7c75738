"""Source as it goes on a board: numbers in the place of their names, host's texts at home, everything else as it was."""

import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_hil.board import image, slim


def test_host_texts_stay_at_home():
    """The compiled texts are gone from the image; those that a display shows are there."""
    built = {file.path: file.body for file in image.build("virtual").files}
    assert b"common practice" not in built["twinloop/control/settings.mpy"]
    assert b"the collector is not warmer" in built["twinloop/control/reason_texts.mpy"]
    assert b"garbled answer" not in built["twinloop/control/reason_texts.mpy"]


def test_a_renamed_text_is_noticed():
    """Instead of being shipped."""
    with pytest.raises(slim.SlimError, match="TABLE, which is left out .* is not there any more"):
        slim.slim("ROWS = ()\n", "twinloop.control.settings")


def test_numbers_are_written_in_place():
    """By name, by module, computed, negative, in a default and in an f-string; imports of nothing are gone."""
    source = (
        "from ..control.state import TANK_LOW_MC, UNKNOWN_MC, SENSOR_NAMES\n"
        "from ..control import settings as cfg\n"
        "TOP = cfg.SETTINGS + 1\n"
        "def look(state, limit=TOP):\n"
        "    return state[TANK_LOW_MC] == UNKNOWN_MC or f'{TOP}' or cfg.TABLE[cfg.TANK_LIMIT] or SENSOR_NAMES\n"
    )
    assert slim.slim(source, "twinloop.drivers.example") == (
        "from ..control.state import SENSOR_NAMES\n"
        "from ..control import settings as cfg\n\n"
        f"def look(state, limit={cfg.SETTINGS + 1}):\n"
        f"    return state[{s.TANK_LOW_MC}] == -300000 or f'{{{cfg.SETTINGS + 1}}}' or cfg.TABLE[{cfg.TANK_LIMIT}] or SENSOR_NAMES"
    )


def test_what_is_not_a_number_for_ever_stays():
    """A name given a value twice, one that is not a whole number, one in small letters."""
    source = "COUNT = 0\nRATE = 0.5\nNAMES = ('a',)\nlevel = 3\ndef up():\n    global COUNT\n    COUNT = COUNT + level\n"
    slimmed = slim.slim(source, "twinloop.drivers.relays")
    assert all(line in slimmed for line in ("COUNT = 0", "RATE = 0.5", "NAMES = ('a',)", "level = 3", "COUNT = COUNT + level"))


def test_a_name_with_two_meanings_is_refused():
    """An argument that is called like an imported number."""
    with pytest.raises(slim.SlimError, match="SENSORS: imported, and something else"):
        slim.slim("from .control.state import SENSORS\ndef f(SENSORS):\n    return SENSORS\n", "twinloop.example")


def test_numbers_are_those_of_the_modules():
    """What was worked out without importing is what importing gives, for every name of state and settings."""
    for module, loaded in (("twinloop.control.state", s), ("twinloop.control.settings", cfg)):
        there = {name: value for name, value in vars(loaded).items() if name.isupper() and type(value) is int}
        assert len(there) > 40
        assert slim.numbers_of(module) == there
