"""Source as it goes on a board: constants inlined, texts for the host left out."""

import ast

import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_hil.board import image, slim


def test_texts_for_the_host_are_left_out():
    """Texts for the host are not in the image; texts for the display are."""
    built = {file.path: file.body for file in image.build("virtual").files}
    assert b"common practice" not in built["twinloop/control/settings.mpy"]
    assert b"the collector is not warmer" in built["twinloop/control/reason_texts.mpy"]
    assert b"garbled answer" not in built["twinloop/control/reason_texts.mpy"]


def test_a_renamed_text_is_noticed():
    """A renamed text is an error instead of being shipped."""
    with pytest.raises(slim.SlimError, match="TOPOLOGY_NAMES, which boards do not get, does not exist any more"):
        slim.slim("ROWS = ()\n", "twinloop.control.settings")


def test_constants_are_inlined():
    """By name, by module, computed, negative, in defaults and f-strings; empty imports are gone."""
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


def test_other_names_stay():
    """A name assigned twice, a float, a tuple and a lower-case name stay."""
    source = "COUNT = 0\nRATE = 0.5\nNAMES = ('a',)\nlevel = 3\ndef up():\n    global COUNT\n    COUNT = COUNT + level\n"
    slimmed = slim.slim(source, "twinloop.drivers.relays")
    assert all(line in slimmed for line in ("COUNT = 0", "RATE = 0.5", "NAMES = ('a',)", "level = 3", "COUNT = COUNT + level"))


def test_a_name_with_two_meanings_is_refused():
    """An argument must not have the name of an imported constant."""
    with pytest.raises(slim.SlimError, match="SENSORS: imported as a constant, but assigned"):
        slim.slim("from .control.state import SENSORS\ndef f(SENSORS):\n    return SENSORS\n", "twinloop.example")


def test_inlined_values_are_the_imported_ones():
    """For every name of state and settings, the value found in the source is the imported one."""
    for module, loaded in (("twinloop.control.state", s), ("twinloop.control.settings", cfg)):
        assigned = slim.stored_names(ast.parse(slim.module_path(module).read_text()))
        there = {name: vars(loaded)[name] for name in assigned if name.isupper() and type(vars(loaded).get(name)) is int}
        assert len(there) > 40
        assert slim.numbers_of(module) == there
