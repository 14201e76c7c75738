"""Source as it goes on a board: constants inlined, texts for the host left out."""

import pytest
from twinloop import store
from twinloop.control import reasons as why
from twinloop.control import rules
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.reason_texts import REASON_TEXTS
from twinloop_hil.board import image, slim


def test_texts_for_the_host_are_left_out():
    built = {file.path: file.body for file in image.build("virtual").files}
    assert b"common practice" not in built["twinloop/control/settings.mpy"]
    assert b"start_difference" not in built["twinloop/control/settings.mpy"]
    assert b"the collector is not warmer" in built["twinloop/reason_texts.mpy"]
    assert b"garbled answer" not in built["twinloop/reason_texts.mpy"]


def test_a_renamed_text_is_noticed():
    with pytest.raises(slim.SlimError, match="ROWS, which boards do not get, does not exist any more"):
        slim.slim("LINES = ()\n", "twinloop.control.rules")


def test_a_display_gets_the_reasons_and_no_waits():
    """In their order, as a tuple; nothing on a board looks up the text of a wait."""
    world = {}
    exec(slim.slim((image.PACKAGE / "reason_texts.py").read_text(), "twinloop.reason_texts"), world)
    reasons = {code: text for code, text in REASON_TEXTS.items() if code < why.WAIT_VALVE}
    assert dict(enumerate(world["REASON_TEXTS"])) == reasons
    assert len(reasons) > 30 and why.WAIT_VALVE in REASON_TEXTS
    users = [path.name for path in image.PACKAGE.rglob("*.py") if "REASON_TEXTS[" in path.read_text()]
    assert users == ["display.py"]
    assert "REASON_TEXTS[state[s.REASON]]" in (image.PACKAGE / "drivers/display.py").read_text()
    assert max(reason for _, _, reason in rules.ROWS) < why.WAIT_VALVE


@pytest.mark.parametrize(
    ("source", "named"),
    [
        ("from .control import settings as cfg\nNAME = cfg.TABLE[0][0]\n", "TABLE"),
        ("from .control.settings import NO_YES\n", "NO_YES"),
    ],
)
def test_no_module_may_use_what_boards_do_not_get(source, named):
    with pytest.raises(slim.SlimError, match=f"twinloop.example: uses {named}, which boards do not get"):
        slim.slim(source, "twinloop.example")


def test_a_large_number_is_finished_but_keeps_its_name():
    """The schema is worked out by the host, from names that a board does not have."""
    text = (image.PACKAGE / "store.py").read_text()
    slimmed = slim.slim(text, "twinloop.store")
    assert f"SCHEMA_CRC = {store.schema_crc()}\n" in slimmed
    assert "def schema_crc" not in slimmed
    with pytest.raises(slim.SlimError, match="twinloop.store: uses schema_crc"):
        slim.slim(text.replace("SCHEMA_CRC = schema_crc()", "SCHEMA_CRC = os.getpid() + schema_crc()"), "twinloop.store")


def test_constants_are_inlined():
    """By name, by module, computed, negative, in defaults and f-strings; empty imports are gone."""
    source = (
        "from ..control.state import TANK_LOW_MC, UNKNOWN_MC, SENSOR_NAMES\n"
        "from ..control import settings as cfg\n"
        "TOP = cfg.SETTINGS + 1\n"
        "def look(state, limit=TOP):\n"
        "    return state[TANK_LOW_MC] == UNKNOWN_MC or f'{TOP}' or cfg.LOWEST[cfg.TANK_LIMIT] or SENSOR_NAMES\n"
    )
    assert slim.slim(source, "twinloop.drivers.example") == (
        "from ..control.state import SENSOR_NAMES\n"
        "from ..control import settings as cfg\n\n"
        f"def look(state, limit={cfg.SETTINGS + 1}):\n"
        f"    return state[{s.TANK_LOW_MC}] == -300000 or f'{{{cfg.SETTINGS + 1}}}' or cfg.LOWEST[{cfg.TANK_LIMIT}] or SENSOR_NAMES"
    )


def test_short_texts_are_inlined():
    """Those that MicroPython keeps within the code, of at most ten letters."""
    source = "PLAN = 'planned'\ndef path(folder):\n    return folder + PLAN"
    assert slim.slim(source, "twinloop.example") == "def path(folder):\n    return folder + 'planned'"


def test_other_names_stay():
    """A name assigned twice, a float, a tuple, a longer text and a lower-case name stay."""
    source = (
        "COUNT = 0\nRATE = 0.5\nNAMES = ('a',)\nTEXT = 'longer than ten'\nlevel = 3\n"
        "def up():\n    global COUNT\n    COUNT = COUNT + level\n"
    )
    slimmed = slim.slim(source, "twinloop.drivers.relays")
    assert all(
        line in slimmed
        for line in ("COUNT = 0", "RATE = 0.5", "NAMES = ('a',)", "TEXT = 'longer than ten'", "level = 3", "COUNT = COUNT + level")
    )


def test_a_name_with_two_meanings_is_refused():
    with pytest.raises(slim.SlimError, match="SENSORS: imported as a constant, but assigned"):
        slim.slim("from .control.state import SENSORS\ndef f(SENSORS):\n    return SENSORS\n", "twinloop.example")


def test_inlined_values_are_the_imported_ones():
    """For every name of state and settings, the value found in the source is the imported one."""
    for module, loaded in (("twinloop.control.state", s), ("twinloop.control.settings", cfg)):
        there = {name: value for name, value in vars(loaded).items() if name.isupper() and type(value) is int}
        own = slim.numbers_of(module)
        assert len(own) > 40
        # What is imported from a third module is a number of that one.
        assert own == {name: value for name, value in there.items() if name in own}
        assert there.keys() - own.keys() <= {"CONDITION_WORDS"}


def test_tables_are_finished():
    source = (
        "from .tables import Table\n"
        "PARTS = Table('name', 'size')\n"
        "BOLT = PARTS.add('bolt', 3)\n"
        "NUT = PARTS.add('nut', 4)\n"
        "SIZES = PARTS.column('size')\n"
        "COUNT = len(SIZES)\n"
        "def size(part):\n"
        "    return SIZES[part] if part < COUNT else NUT\n"
    )
    assert slim.slim(source, "twinloop.control.example") == (
        "SIZES = (3, 4)\n\ndef size(part):\n    return SIZES[part] if part < 2 else 1"
    )


def test_short_functions_are_written_in_place():
    """`trusted`, `holds` and `mark` cost no call; one with a call as its argument stays a call."""
    source = (
        "from . import conditions as c\n"
        "from . import rules\n"
        "from . import state as s\n"
        "def look(state, which):\n"
        "    rules.mark(state, c.FULL)\n"
        "    return s.trusted(state, s.TAP) or rules.holds(state, which()) \n"
    )
    place, full = s.CONDITIONS, 15
    assert slim.slim(source, "twinloop.control.example") == (
        "from . import rules\n\n"
        "def look(state, which):\n"
        f"    state[{place} + {full} // 30] |= 1 << {full} % 30\n"
        f"    return state[{s.STATUS} + {s.TAP}] <= {s.HELD} or rules.holds(state, which())"
    )


@pytest.mark.parametrize("value", [-1, 0, 1, 7])
def test_an_integer_is_asked_itself(value):
    """Comparisons with 0 go where only their truth counts; what is kept stays a truth value."""
    source = (
        "def look(x):\n"
        "    found = [x == 0, x != 0, not x != 0, 1 if x != 0 or x == 7 else 2, x != 0 and 3]\n"
        "    while x != 0 and not (x == 7 or x != 0 and x > 0):\n"
        "        x += 1\n"
        "    if (x != 0) == (x < 7) or x == 0.0:\n"
        "        found.append(x)\n"
        "    return found\n"
    )
    slimmed = slim.slim(source, "twinloop.example")
    assert "[not x, x != 0, not x, 1 if x or x == 7 else 2, x != 0 and 3]" in slimmed
    assert "while x and (not (x == 7 or (x and x > 0))):" in slimmed
    assert "if (x != 0) == (x < 7) or x == 0.0:" in slimmed
    results = []
    for text in (source, slimmed):
        world = {}
        exec(text, world)
        results.append(repr(world["look"](value)))
    assert results[0] == results[1]
