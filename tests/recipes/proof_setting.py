"""Recipe "A setting": a default, a range, the link, flash, `--set` and docs."""

import pytest
from twinloop.control import settings as cfg
from twinloop.store import Store
from twinloop_hil.client import Client, RefusedError
from twinloop_hil.inprocess import InProcessBoard
from twinloop_sim import scenarios
from twinloop_sim.pages import names, schema
from twinloop_sim.sheets import quantities


def defaults():
    """All settings at their defaults."""
    values = [0] * cfg.SETTINGS
    cfg.load_defaults(values)
    return values


def test_default_and_range():
    values = defaults()
    assert values[cfg.STIRRER_REST] == 600
    assert cfg.broken_rule(values) == cfg.RULE_OK
    for wrong in (-1, 3601):
        values[cfg.STIRRER_REST] = wrong
        assert cfg.broken_rule(values) == cfg.RULE_RANGE + cfg.STIRRER_REST


def test_changed_through_the_link_and_kept(tmp_path):
    """Staged, committed in the running step, read back from flash; refused outside its range."""
    board = InProcessBoard(f"{tmp_path}/")
    client = Client(board)
    board.pass_time(5000)
    before = bytes(board.loop.state)
    client.change_settings({cfg.STIRRER_REST: 900})
    assert bytes(board.loop.state) == before
    assert client.settings()[0][cfg.STIRRER_REST] == 900
    kept = [0] * cfg.SETTINGS
    Store(f"{tmp_path}/").load_settings(kept)
    assert kept[cfg.STIRRER_REST] == 900
    with pytest.raises(RefusedError, match="settings break rule"):
        client.change_settings({cfg.STIRRER_REST: 4000})


def test_set_by_name_and_unit():
    scenario = scenarios.load("frosty-morning", ["stirrer_rest=15min"])
    assert scenario.settings[cfg.STIRRER_REST] == 900
    assert quantities.show_setting("stirrer_rest", "s", 900) in ("900 s", "15 min", "0.25 h")
    with pytest.raises(ValueError, match="stirrer_rest"):
        scenarios.load("frosty-morning", ["stirrer_rest=5000s"])


def test_in_docs_and_schema():
    """`make pages` writes both."""
    assert "`stirrer_rest`" in names.tables()
    assert "stirrer_rest" in str(schema.schema())
