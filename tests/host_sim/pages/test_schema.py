"""The shipped schema agrees with the checks."""

import json
import tomllib

import pytest
from jsonschema import Draft202012Validator
from twinloop_sim import scenarios
from twinloop_sim.pages import schema

from ..shared import refused

VALIDATOR = Draft202012Validator(schema.schema())
OWN = """
what = "Our place"
weather = "miami"
collector = "evacuated-tube"
cloud_seed = 3

[[demand.draw]]
at = "06:30"
kwh = 1.2
l_per_min = 7

[[demand.draw]]
at = "19:00"
kwh = 2
l_per_min = 8.5

[demand.variation]
seed = 4

[settings]
tank_limit = "70C"
dump_topology = "none"

[plant]
collector_area_m2 = 4.5
tank_volume_l = "300 L"
"""


def test_the_shipped_file_is_the_codes():
    assert schema.FILE.read_text() == schema.text()
    Draft202012Validator.check_schema(json.loads(schema.text()))


@pytest.mark.parametrize("name", scenarios.shipped())
def test_shipped_scenarios_fit(name):
    VALIDATOR.validate(scenarios.read_table(name))


def test_a_plant_file_fits_and_runs_without_saying_when(tmp_path):
    VALIDATOR.validate(tomllib.loads(OWN))
    path = tmp_path / "my-plant.toml"
    path.write_text(OWN)
    scenario = scenarios.load(str(path))
    assert (scenario.name, scenario.days, scenario.start) == ("my-plant", 7, (5, 12))
    assert [draw.minute for draw in scenario.profile] == [390, 1140]
    assert scenario.draw_scale == pytest.approx(1.0)
    assert scenario.variation.seed == 4
    table = scenarios.load(str(path), keys={"weather": "sand-point", "trace_step_s": 60})
    assert (table.weather, table.trace_step_s) == ("sand-point", 60)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("days = 0", "days = 0"),
        ("days = 400", "days = 400: allowed whole numbers from 1 to 366"),
        ('collector = "flat"', "collector = flat: allowed flat-plate"),
        ("colour = 1", "colour is not known"),
        ("cloud_seed = -1", "cloud_seed = -1"),
        ("trace_step_s = 2.5", "trace_step_s = 2.5"),
        ("[demand]\nprofile = 3", "demand.profile = 3"),
        ('[demand]\nprofile = "M"\n[[demand.draw]]\nat = "07:00"\nkwh = 1\nl_per_min = 5', "allowed only one of them"),
        ("[demand]\ndraw = []", "allowed tables"),
        ('[[demand.draw]]\nat = "25:00"\nkwh = 1\nl_per_min = 5', "demand.draw[0].at = 25:00: allowed a clock time"),
        ('[[demand.draw]]\nat = "07:00"\nkwh = 1', "demand.draw[0].l_per_min is missing"),
        ('[[demand.draw]]\nat = "07:00"\nkwh = 0\nl_per_min = 5', "demand.draw[0].kwh = 0: allowed 0.001 to 50"),
        ("[demand]\nabsent_days = [[1, 2, 3]]", "demand.absent_days = [1, 2, 3]: allowed a day or a pair"),
        ("[demand]\nabsent_days = 3", "demand.absent_days = 3: allowed a list"),
        ("[demand.variation]\nspread = 3", "demand.variation.spread is not known"),
        ("[demand.variation]\nheat_percent = 300", "demand.variation.heat_percent = 300"),
        ("[clear_sky]\nlatitude_deg = 40", "clear_sky.longitude_deg is missing"),
        ("[clear_sky]\nlatitude_deg = 80", "clear_sky.longitude_deg is missing"),
        ("[tank]\nlow_c = 400", "tank.low_c = 400"),
        ("[plant]\ncollector_area_m2 = -2", "collector_area_m2 = -2"),
        ("[plant]\ntank_nodes = 2.5", "tank_nodes = 2.5"),
        ("[plant]\ncollector_flow_l_per_min = 0", "collector_flow_l_per_min = 0"),
        ('[settings]\ndump_topology = "round"', "dump_topology = round"),
    ],
)
def test_what_the_schema_refuses_the_checks_refuse_in_one_line(text, words, tmp_path):
    assert not VALIDATOR.is_valid(tomllib.loads(text))
    path = tmp_path / "mine.toml"
    path.write_text(text + "\n")
    with refused(words):
        scenarios.load(str(path))


PLACE = "latitude_deg = 40\nlongitude_deg = -105\naltitude_m = 1600\nutc_offset_h = -7\ncoldest_c = {}\nwarmest_c = 20\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('weather = "miami"\n[clear_sky]\n' + PLACE.format(5), "weather and clear_sky: allowed only one of them"),
        ("[clear_sky]\n" + PLACE.format(25), "clear_sky.coldest_c = 25: allowed at most warmest_c = 20"),
        ("trace_step_s = 7", "trace_step_s = 7: allowed multiples of step_s = 5"),
        ("[tank]\nlow_c = 60\nhigh_c = 30", "tank_low_c = 60"),
        ("[demand]\nabsent_days = [[4, 2]]", "absent_days = [4, 2]: allowed pairs with the first day not after the last"),
        ("[demand]\nabsent_days = [7]", "absent_days = 7: allowed whole numbers from 0 to 6"),
        ("[plant]\ntank_upper_port_m = 3", "tank_upper_port_m = 3"),
        ('weather = "moon"', "weather moon: not known, allowed greensboro, sand-point, miami or the path of a file"),
        ('weather = "moon.epw"', "weather file moon.epw: no such file"),
    ],
)
def test_what_only_the_checks_know_is_one_line_too(text, words, tmp_path):
    from twinloop_sim.engine import run as engine

    path = tmp_path / "mine.toml"
    path.write_text(text + "\n")
    with refused(words):
        engine.Setup(scenarios.load(str(path)))


def test_absences_may_be_days_and_spans(tmp_path):
    path = tmp_path / "away.toml"
    path.write_text("days = 30\n[demand]\nabsent_days = [2, [10, 13]]\n")
    VALIDATOR.validate(scenarios.read_table(str(path)))
    assert scenarios.load(str(path)).absent_days == (2, 10, 11, 12, 13)


def test_cloudless_days_of_ones_own_place_run(tmp_path):
    from twinloop_sim import document
    from twinloop_sim.engine import run as engine

    path = tmp_path / "clear.toml"
    path.write_text('start = "02-28"\ndays = 2\n[clear_sky]\n' + PLACE.format(5))
    facts = document.document(engine.run(scenarios.load(str(path))))
    # source: clear March days at 40 N on a steep plane hold 6 to 8.5 kWh/m2 (D&B table of clear
    # skies, MEM)
    assert 12.0 < facts["months"][0]["irradiation_kwh_per_m2"] < 17.0
    assert facts["closure_percent"] < 0.1
    assert facts["heat_kwh"]["collected"] > 30.0
