"""Scenario files, quantities with units, and one line for what is wrong."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from twinloop.control import settings as cfg
from twinloop_sim import scenarios
from twinloop_sim.sheets import quantities
from twinloop_sim.thermal import parameters as p

from ..shared import refused


@pytest.mark.parametrize("name", scenarios.shipped())
def test_shipped_scenarios_load(name):
    assert scenarios.load(name).days == scenarios.describe(name)[0]


@pytest.mark.parametrize(
    ("unit", "text", "value"),
    [
        ("mC", "75C", 75000),
        # source: definition of the Fahrenheit scale, (167 - 32) * 5 / 9 = 75
        ("mC", "167F", 75000),
        ("mC", "-12.5 C", -12500),
        ("mK", "8K", 8000),
        # source: 9 F of difference are 5 K
        ("mK", "9F", 5000),
        ("ms", "2min", 120000),
        ("ms", "90 s", 90000),
        ("ml", "12L", 12000),
        ("ml/min", "4.5L/min", 4500),
        # source: 1 psi = 6.894757 kPa, 1 US gallon = 3.785412 L
        ("kPa", "36.26psi", 250),
        ("ml", "1gal", 3785),
        ("kPa", "2.5bar", 250),
        ("m", "16ft", 5),
        ("%", "40%", 40),
        ("%", "40", 40),
    ],
)
def test_units(unit, text, value):
    assert quantities.parse_setting("name", unit, text) == value


@pytest.mark.parametrize("code", range(cfg.SETTINGS))
def test_every_default_survives_showing(code):
    name, unit, low, high, default, _ = cfg.TABLE[code]
    for value in (low, high, default):
        text = quantities.show_setting(name, unit, value)
        assert quantities.parse_setting(name, unit, text) == value


@given(st.text(max_size=20))
def test_any_text_is_a_value_or_one_line(text):
    try:
        assert isinstance(quantities.parse_setting("tank_limit", "mC", text), int)
    except ValueError as fault:
        assert str(fault).startswith("tank_limit = ")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("start_difference=2K", "start_difference = 2 K: allowed 4 K to 20 K"),
        ("stop_difference=7K", "stop_difference = 7 K, start_difference = 8 K"),
        ("tank_limit=75", "needs a unit, allowed C, F"),
        ("tank_limit=8bar", "unit bar does not fit"),
        ("tank_limit=hot", "not a number"),
        ("tank_limit=1e9C", "tank_limit = 1e+09 C: allowed"),
        ("tank_limit=99999999999999C", "tank_limit = "),
        ("dump_topology=sideways", "allowed bypass, series, none"),
        ("collector_limit=140C", "boiling"),
        ("collector_area_m2=-3", "collector_area_m2 = -3"),
        ("collector_area_m2=nan", "not a number"),
        ("collector_area_m2=6L", "unit L does not fit"),
        ("nonsense=3", "nonsense: neither a setting nor a plant value"),
        ("start_difference", "needs name=value"),
    ],
)
def test_wrong_changes_name_the_thing(change, words):
    with refused(words):
        scenarios.load("washhouse-week", [change])


def test_a_fact_of_the_plant_changes_both_sides():
    """--set of `dump_topology` changes firmware and plant; the plant's own name only the plant."""
    both = scenarios.load("washhouse-week", ["dump_topology=none", "dump_travel=60s", "collector_flow=6L/min"])
    assert both.settings[cfg.DUMP_TOPOLOGY] == cfg.NONE
    assert both.plant[p.DUMP_TOPOLOGY] == p.DUMP_NONE
    assert both.plant[p.DUMP_TRAVEL_S] == 60.0
    assert both.plant[p.COLLECTOR_FLOW_L_PER_MIN] == 6.0
    plant_only = scenarios.load("washhouse-week", ["plant.dump_topology=2", "dump_travel_s=60"])
    assert plant_only.settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS
    assert plant_only.plant[p.DUMP_TOPOLOGY] == p.DUMP_NONE
    assert plant_only.settings[cfg.DUMP_TRAVEL] == 120000


def test_default_settings_fit_the_default_plant():
    scenario = scenarios.load("washhouse-week")
    index_of = {row.name: index for row, index in p.ROWS}
    for name, twin in scenarios.TWINS.items():
        code = [row[0] for row in cfg.TABLE].index(name)
        per = scenarios._PER_PLANT_UNIT[cfg.TABLE[code][1]]
        assert scenario.settings[code] / per == scenario.plant[index_of[twin]], name


FILE = 'what = "x"\nstart = "05-01"\ndays = 1\n'


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("what = ", "scenario file"),
        ("what = 3\n", "what must be a text"),
        (FILE.replace("days = 1", 'days = "two"'), "days = two"),
        (FILE.replace("05-01", "02-30"), "start = 02-30: no such day in a year of 365 days"),
        (FILE.replace("05-01", "someday"), "start = someday"),
        (FILE + "step_s = 7\n", "step_s = 7: must divide an hour"),
        (FILE + '[demand]\nprofile = "Q"\n', "demand.profile = Q: allowed M, L"),
        (FILE + "[demand]\ndaily_kwh = -1\n", "demand.daily_kwh = -1"),
        (FILE + '[settings]\ntank_limit = "99C"\n', "tank_limit = 99 C"),
    ],
)
def test_wrong_files_name_the_thing(text, words, tmp_path):
    from twinloop_sim.engine import run as engine

    path = tmp_path / "mine.toml"
    path.write_text(text)
    with pytest.raises(ValueError, match=words) as caught:
        engine.Setup(scenarios.load(str(path)))
    assert "\n" not in str(caught.value)
