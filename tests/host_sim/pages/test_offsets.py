"""Refusals do not boil, and sensors may read wrong: parts of the table of docs/sensors.md."""

from dataclasses import replace
from pathlib import Path

import pytest
from twinloop_sim.pages import offsets
from twinloop_sim.storm import campaign
from twinloop_sim.storm.draw import Case
from twinloop_sim.storm.faults import Fault

from ..shared import lived

PAGE = Path(__file__).parents[3] / offsets.PAGE
NOON_S = 12 * 3600.0
JULY = offsets.case_of("July")
# A cloudless day and a tank with room, and four days with a full tank and nobody at home.
CLEAR = replace(JULY, start=(7, 7), days=1, tank=(20.0, 35.0))
FULL = Case(seed=7, start=(7, 6), days=4, recovery_s=0, step_s=1, daily_kwh=0.0, tank=(64.0, 70.0))


@pytest.fixture(scope="module")
def run_block():
    return campaign.block_of()


@pytest.fixture(scope="module")
def july(run_block):
    return offsets.live(run_block, JULY)


@pytest.mark.parametrize("hour", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("flow_sensor", [0, 2], ids=("none", "meter"))
def test_an_air_lock_of_five_minutes_costs_little_heat_and_does_not_boil(hour, flow_sensor, run_block):
    """At most 15 per cent of the day's heat."""
    case = replace(CLEAR, settings={"flow_sensor": flow_sensor})
    begin_s = NOON_S + hour * 3600.0
    lock = Fault("air_lock", "collector_flow_l_per_min", 0.0, begin_s, begin_s + 300.0)
    sound, locked = offsets.live(run_block, case), offsets.live(run_block, case, lock)
    assert lived(run_block, case, lock).faults.felt[0] > 0
    assert locked.boiling_h == 0.0
    assert locked.heat_kwh >= 0.85 * sound.heat_kwh
    assert sound.heat_kwh > 15.0


@pytest.mark.parametrize(
    "fault",
    [
        *(offsets.offset("collector", kelvin) for kelvin in (8, 12)),
        *(offsets.strapped(part) for part in offsets.STRAPPED),
        *(offsets.offset(sensor, kelvin) for sensor, kelvin in (("loop_supply", -15), ("loop_return", 15), ("exchanger", -15))),
        Fault("sensor_stuck", "exchanger", 1.0, 0.0, 6 * 86400.0),
        Fault("flow_stuck", "flow", 1.0, 0.0, 6 * 86400.0),
    ],
    ids=lambda fault: f"{fault.name} {fault.target} {fault.size:g}",
)
def test_a_refusal_does_not_boil(fault, run_block):
    """Six July days; a flow input stuck at 0 and an exchanger stuck cold refuse all charging."""
    case = replace(JULY, settings={"flow_sensor": 1}) if fault.target == "flow" else JULY
    assert offsets.live(run_block, case, fault).boiling_h == 0.0


@pytest.mark.parametrize("sensor", ["collector", "loop_supply", "loop_return", "tank_low", "tank_high", "outdoor"])
def test_an_offset_harms_slowly_and_is_told(sensor, run_block, july):
    """July: no cliff between neighbours, and an alarm where more than a tenth is lost.

    Nothing contradicts a tank_high that reads high: it fills the tank too early, and costs 12 per
    cent at +15 K.
    """
    last = None
    for kelvin in (-15, -10, -5, 0, 5, 10, 15):
        effect = offsets.live(run_block, JULY, offsets.offset(sensor, kelvin)) if kelvin else july
        share = effect.heat_kwh / july.heat_kwh
        assert effect.boiling_h == 0.0, kelvin
        assert effect.alarm_h > 0.0 or share >= (0.87 if sensor == "tank_high" else 0.9), kelvin
        assert last is None or abs(share - last) < 0.12, kelvin
        last = share


@pytest.mark.parametrize("noise_k", [0.5, 1.0])
def test_noise_of_a_tank_sensor_gives_no_dump_up(noise_k, run_block):
    """Steps of one second; a single reading 2 K above the first one is nothing."""
    noise = Fault("sensor_noise", "tank_high", noise_k, 0.0, 4 * 86400.0)
    sound, noisy = offsets.live(run_block, FULL), offsets.live(run_block, FULL, noise)
    assert noisy.boiling_h == 0.0
    assert abs(noisy.heat_kwh - sound.heat_kwh) < 1.0


def test_the_page_shows_what_is_measured(run_block):
    """One cell of the table, in all three months."""
    sound = {month: offsets.live(run_block, offsets.case_of(month)) for month in offsets.MONTHS}
    row = next(line for line in PAGE.read_text().splitlines() if line.startswith("| `collector` |"))
    cells = dict(zip(offsets.OFFSETS_K, (text.strip() for text in row.split("|")[2:-1]), strict=True))
    assert cells[12] == offsets.cell(run_block, sound, offsets.offset("collector", 12))
    assert cells[-15] == offsets.cell(run_block, sound, offsets.offset("collector", -15))
