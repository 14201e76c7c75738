"""The judges that compare and count over days: made to speak by runs, and silent where excused."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control.frost import FREEZING_MC
from twinloop_sim import checkers, trace
from twinloop_sim.checkers.allowance import Allowance
from twinloop_sim.storm import budget, draw, lives, reference
from twinloop_sim.storm import campaign as storm
from twinloop_sim.storm import run as storm_run
from twinloop_sim.storm.draw import Case
from twinloop_sim.storm.excuses import allowance_of
from twinloop_sim.storm.faults import DAY, Fault
from twinloop_sim.thermal import parameters as p

from ..shared import lived

# Warm days on which a sound station has nothing to do but work.
SUNNY = Case(seed=7, start=(6, 22), days=2, recovery_s=0)
FULL = {"tank_limit": 40000, "tank_full_low": 30000, "away_limit": 40000}
# A hundred minutes of a day, each in its quarter of an hour.
TOUCHES = tuple(Fault("hands", "board", 9.0, 600.0 * k, 600.0 * k + 60.0) for k in range(1, 100))
RUNS = {
    # Two days under maintenance: nothing is collected, and nothing says that this is wrong.
    "idle_sun": replace(SUNNY, faults=(Fault("maintained", "board", 1.0, 0.0, 2 * DAY),)),
    # The collector's sensor fell off on a cold clear day.
    "silence": replace(
        SUNNY, start=(1, 27), daily_kwh=3.0, tank=(45.0, 55.0), faults=(Fault("pocket_out", "collector", 0.0, 0.0, 2 * DAY),)
    ),
    # No collector sensor beside a full tank: nobody may pump, and the glycol boils.
    "avoidable_boiling": replace(
        SUNNY, settings=FULL, tank=(38.0, 39.5), faults=(Fault("sensor_open", "collector", 1.0, 0.0, 2 * DAY),)
    ),
    "relay_operations": replace(SUNNY, faults=TOUCHES),
}

FAULTY = [("collector_pump_dead", "collector_pump", True), ("sensor_offset", "tank_low", True), ("purged", "board", False)]


@pytest.fixture(scope="module")
def run_block():
    return storm.block_of()


def names(found):
    return [finding["name"] for finding in found]


@pytest.mark.parametrize("name", RUNS)
def test_a_judge_speaks_where_nothing_is_excused(name, run_block, monkeypatch):
    """The budget excuses each of these runs; without it the judge speaks."""
    judge = next(checker for checker in checkers.STORM if name == checker.NAME)
    episode = lived(run_block, RUNS[name])
    assert storm_run.judge(episode, run_block, (judge,)) == []
    monkeypatch.setattr(storm_run, "allowance_of", lambda episode: Allowance())
    assert names(storm_run.judge(episode, run_block, (judge,))) == [name]
    sound = lived(run_block, replace(RUNS[name], faults=()))
    assert storm_run.judge(sound, run_block, (judge,)) == []


def test_nobody_has_to_name_what_people_did(run_block, monkeypatch):
    """Maintenance costs two days of heat, beside a fault that costs nothing."""
    judge = checkers.storm.silence
    tap = Fault("sensor_offset", "tap", 1.0, 0.0, 2 * DAY)
    episode = lived(run_block, replace(RUNS["idle_sun"], faults=(*RUNS["idle_sun"].faults, tap)))
    monkeypatch.setattr(storm_run, "allowance_of", lambda episode: Allowance())
    assert storm_run.judge(episode, run_block, (judge,)) == []
    monkeypatch.setattr(lives.Beside, "blameless", lives.Beside.sound)
    assert names(storm_run.judge(episode, run_block, (judge,))) == ["silence"]


def test_the_design_lets_a_collector_boil(run_block):
    """After a start beside a collector above collector_reset, and beside a tank above its limit."""
    case = replace(SUNNY, settings=FULL, tank=(38.0, 39.5))
    assert excused(run_block, replace(case, tank=(42.0, 44.0))) > 3.0
    noon = (Fault("watchdog_reset", "board", 1.0, 12.0 * 3600, 12.0 * 3600 + 5.0),)
    assert excused(run_block, replace(case, faults=noon)) == 0.0
    hot = replace(case, settings={**FULL, "collector_reset": 70000}, faults=noon)
    assert excused(run_block, hot) == pytest.approx(12.0, abs=0.1)


@pytest.mark.parametrize(("error_k", "silent"), [(15.0, True), (-15.0, False)])
def test_beside_a_tank_that_reads_above_its_limit_no_glycol_moves(error_k, silent, run_block, monkeypatch):
    """So the collector boils, and by the reference rule on the same readings as well."""
    judge = checkers.storm.avoidable_boiling
    high = Fault("sensor_far_off", "tank_high", error_k, 9.0 * 3600, 17.0 * 3600)
    settings = {**FULL, "collector_limit": 110000, "collector_reset": 95000}
    case = replace(SUNNY, settings=settings, tank=(32.0, 36.0), daily_kwh=0.2, faults=(high,))
    assert excused(run_block, case) == pytest.approx(15.0 if silent else 0.0, abs=0.1)
    episode = lived(run_block, case)
    boils = [
        rows[:, trace.TRUE_SENSORS + s.COLLECTOR].max() >= 110.0
        for rows in (episode.rows, lives.Beside(episode, run_block).readings)
    ]
    assert boils == [silent, silent]
    assert storm_run.judge(episode, run_block, (judge,)) == []
    monkeypatch.setattr(budget, "READS_HIGH", set())
    assert names(storm_run.judge(episode, run_block, (judge,))) == ["avoidable_boiling"] * silent


def test_a_tank_near_frost_warms_no_plates(run_block):
    """So the frost guard has its way. Without the plates' sensor there is none."""
    cold = {"cold_main_mean_c": 4.0, "cold_main_swing_k": 0.0, "room_c": 5.0}
    case = replace(SUNNY, start=(1, 22), days=1, plant=cold, tank=(5.0, 5.5))
    assert excused(run_block, case) == pytest.approx(24.0)
    assert excused(run_block, replace(case, settings={"exchanger_fitted": 0})) == 0.0
    assert excused(run_block, replace(case, tank=(8.0, 30.0))) == 0.0


@pytest.mark.parametrize(("tank_c", "found"), [(-5.0, []), (0.1, ["exchanger_ice"])])
def test_a_tank_that_a_welded_pump_has_frozen_warms_no_plates(tank_c, found, run_block):
    """The sun thaws the plates, and by night they are as cold as the tank again."""
    welded = Fault("collector_relay_welded", "collector_pump", 1.0, 0.0, 0.5 * DAY)
    episode = lived(run_block, replace(SUNNY, plant={"dump_topology": 1.0}, settings={"dump_topology": 1}, faults=(welded,)))
    rows, night = episode.rows, slice(int(1.8 * DAY) // episode.case.step_s, None)
    rows[:, trace.COLUMNS.index("true_exchanger_plate")] = 1.0
    rows[night, trace.COLUMNS.index("true_exchanger_plate")] = -1.0
    rows[:, [trace.TRUE_SENSORS + s.TANK_LOW, trace.TRUE_SENSORS + s.TANK_HIGH]] = tank_c
    assert names(storm_run.judge(episode, run_block, (checkers.exchanger_ice,))) == found


def test_only_frost_or_a_start_makes_lost_air_an_excuse(run_block):
    open_air = Fault("sensor_open", "outdoor", 1.0, 6.0 * 3600, 2 * DAY)
    case = replace(SUNNY, weather="miami", plant={"dump_topology": 1.0}, settings={"dump_topology": 1}, faults=(open_air,))
    assert excused(run_block, case) == 0.0
    reset = Fault("watchdog_reset", "board", 1.0, 9.0 * 3600, 9.0 * 3600 + 5.0)
    assert excused(run_block, replace(case, faults=(open_air, reset))) == pytest.approx(39.0, abs=0.1)
    assert excused(run_block, replace(case, ambient_shift_k=-15.0)) == pytest.approx(42.0, abs=0.1)


def test_after_a_start_in_the_cold_a_station_in_series_may_refuse(run_block):
    """It assumes a frosty loop."""
    case = replace(SUNNY, plant={"dump_topology": 1.0}, settings={"dump_topology": 1}, ambient_shift_k=-15.0)
    dawn = Fault("watchdog_reset", "board", 1.0, 5.0 * 3600, 5.0 * 3600 + 5.0)
    assert excused(run_block, replace(case, faults=(dawn,))) == pytest.approx(19.0, abs=0.1)
    assert excused(run_block, replace(case, ambient_shift_k=0.0, faults=(dawn,))) == 0.0


def excused(run_block, case):
    """The hours that the judge of boiling leaves out."""
    mask = allowance_of(lived(run_block, case)).excused[checkers.storm.avoidable_boiling.NAME]
    return mask.sum() * case.step_s / 3600.0


def test_heat_carried_out_on_purpose_is_no_finding(run_block, monkeypatch):
    """Night cooling takes heat out of the tank; unless that is meant, the judge speaks."""
    judge = checkers.storm.carried_out
    empty = Fault("long_absence", "draw", 1.0, 0.0, 2 * DAY)
    settings = {"away": 1, "away_limit": 40000, "dump_topology": 2}
    case = replace(SUNNY, plant={"dump_topology": 2.0}, settings=settings, tank=(62.0, 70.0), faults=(empty,))
    episode = lived(run_block, case)
    assert s.NIGHT_COOLING in episode.rows[:, trace.DUTY]
    assert storm_run.judge(episode, run_block, (judge,)) == []
    monkeypatch.setattr(judge, "MEANT", ())
    monkeypatch.setattr(storm_run, "allowance_of", lambda episode: Allowance())
    assert names(storm_run.judge(episode, run_block, (judge,))) == ["carried_out"]


def test_a_tank_begins_below_its_limit_and_the_reference_rule_keeps_it():
    """The limit counts what sensors strapped on read less, for the station and for the rule."""
    cases = [draw.draw_episode(3, 0, episode, 6, draw.Wish(topology="series")) for episode in range(40)]
    assert any(case.setting(cfg.TANK_MARGIN) > 0 for case in cases)
    assert all(case.tank[1] * 1000.0 <= cfg.tank_limit_mc(case.settings_array()) for case in cases)


def test_the_reference_rule_minds_the_margin_of_sensors_strapped_on(run_block):
    case = replace(SUNNY, days=1, settings={"tank_margin": 20000, "tank_full_low": 75000}, tank=(40.0, 50.0))
    reference = lives.Beside(lived(run_block, case), run_block).reference
    assert 53.0 < reference[:, trace.TRUE_OTHERS].max() < 57.0


def test_the_reference_rule_goes_by_the_glycol_of_the_settings_as_well():
    """Whichever freezes sooner: no sensor tells how much there is."""
    settings = draw.Case(seed=0).settings_array()
    for plant, told in ((42, 40), (40, 42)):
        values = p.plant_values({"glycol_mass_percent": float(plant)})
        settings[cfg.GLYCOL_MASS_PERCENT] = told
        for over_mk, stiff in ((2900, True), (3100, False)):
            inputs = np.zeros(s.INPUTS, dtype=np.int64)
            inputs[s.IN_RAW_MC + s.OUTDOOR] = FREEZING_MC[4] + over_mk
            assert reference.stiff(values, settings, inputs) == stiff, (plant, told, over_mk)


def test_the_reference_rule_knows_the_truth(run_block):
    """Behind a lying sensor it still charges; on the readings it believes the lie."""
    case = replace(SUNNY, days=1, faults=(Fault("sensor_far_off", "collector", -15.0, 0.0, DAY),))
    beside = lives.Beside(lived(run_block, replace(case, settings={"start_difference": 20000})), run_block)
    heat = trace.HEAT + trace.HEATS.index("to_tank")
    limit = cfg.TABLE[cfg.TANK_LIMIT][4] / 1000.0
    assert beside.reference[:, trace.TRUE_OTHERS].max() < limit + 2.0
    assert beside.reference[-1, heat] > beside.sound[-1, heat] > beside.readings[-1, heat] > 0.0


def test_a_sensor_that_comes_and_goes_wears_no_relay(run_block):
    """Before starts in vain lengthened the rest, it switched the pump 300 times a day."""
    garbled = Fault("sensor_crc", "collector", 0.42, 0.0, 2 * DAY)
    episode = lived(run_block, replace(SUNNY, start=(1, 22), tank=(20.0, 30.0), faults=(garbled,)))
    assert storm_run.judge(episode, run_block, (checkers.storm.relay_operations,)) == []


def test_pulses_of_frosty_glycol_wear_no_relay(run_block):
    """They were 120 a day where loop_supply cannot tell that the sun's glycol has arrived."""
    plant = {"dump_topology": 2.0}
    blind = {"dump_topology": 2, "loop_supply_fitted": 0}
    frosty = Case(seed=7, weather="sand_point", start=(9, 17), days=2, recovery_s=0, daily_kwh=6.0, tank=(40.0, 60.0))
    episode = lived(run_block, replace(frosty, plant=plant, settings=blind, ambient_shift_k=-6.0))
    pulses = np.diff(episode.rows[:, trace.COMMANDS + s.COLLECTOR_PUMP]) > 0
    assert pulses.sum() > 40
    assert storm_run.judge(episode, run_block, (checkers.storm.relay_operations,)) == []


def test_a_tank_above_its_limit_lets_the_collector_boil(run_block):
    """The reference rule moves no glycol beside it either."""
    strapped = {"tank_limit": 75000, "tank_full_low": 67000, "tank_margin": 16000, "stratification_margin": 12000}
    hot = replace(SUNNY, settings=strapped, tank=(62.0, 72.0), daily_kwh=0.2)
    episode = lived(run_block, hot)
    collector = episode.rows[:, trace.TRUE_SENSORS + s.COLLECTOR]
    assert collector.max() > 120.0
    assert storm_run.judge(episode, run_block, (checkers.storm.avoidable_boiling,)) == []


@pytest.mark.parametrize(("name", "target", "judged"), [("mixing_valve_off", "mixing_valve_error_k", False), *FAULTY])
def test_less_use_is_no_loss_of_the_station(name, target, judged, run_block):
    """A mixing valve set too cold leaves a full tank full: the station has nothing to name."""
    episode = lived(run_block, replace(SUNNY, days=1), Fault(name, target, -8.0, 0.0, DAY))
    excused = storm_run.allowance_of(episode).excused[checkers.storm.silence.NAME]
    assert (~excused).any() == judged


@pytest.mark.parametrize(("before_kwh", "cost"), [(8.0, 0.5), (5.0, 2.0), (4.0, 2.5), (3.0, 2.5)])
def test_a_day_after_a_better_one_has_lost_less(before_kwh, cost):
    """The station brought 1 kWh on this day, the sound one 6 kWh, after 4 kWh on the day before."""
    judge = checkers.storm.silence
    lived_rows, sound_rows = np.zeros((4, trace.WIDTH)), np.zeros((4, trace.WIDTH))
    lived_rows[:, judge.TO_TANK] = (0.0, before_kwh, before_kwh, before_kwh + 1.0)
    sound_rows[:, judge.TO_TANK] = (0.0, 4.0, 4.0, 10.0)
    scenario = SimpleNamespace(settings=SUNNY.settings_array(), step_s=5)
    outcome = SimpleNamespace(rows=lived_rows, beside=beside_of(lived_rows, sound_rows), scenario=scenario)
    assert judge.cost(outcome, slice(2, 4)) == pytest.approx(cost)


def beside_of(rows, blameless):
    """The lives beside these rows."""
    return SimpleNamespace(blameless=lambda: blameless, behind=lambda column: (blameless - rows)[:, column])


def hourly(*by_day_kwh, reason=0, tank_low_c=0.0, node_c=0.0):
    """Rows of days that bring so much heat between 10 and 14 h."""
    rows = np.zeros((24 * len(by_day_kwh), trace.WIDTH))
    rows[:, 0] = np.arange(len(rows)) * 3600.0
    brought = np.zeros((len(by_day_kwh), 24))
    brought[:, 10:14] = np.array(by_day_kwh)[:, None] / 4.0
    rows[:, checkers.storm.silence.TO_TANK] = brought.ravel().cumsum()
    rows[:, trace.REASON] = reason
    rows[:, trace.TRUE_SENSORS + s.TANK_LOW] = tank_low_c
    rows[:, trace.TRUE_OTHERS + trace.TRUTHS.index("tank_node")] = node_c
    return rows


def beside_sound(rows, *sound_kwh):
    """What the judge of silence finds in these rows beside a sound life."""
    scenario = SimpleNamespace(settings=SUNNY.settings_array(), step_s=3600)
    beside = beside_of(rows, hourly(*sound_kwh))
    outcome = SimpleNamespace(rows=rows, beside=beside, scenario=scenario, allowance=Allowance())
    found = checkers.storm.silence.check(outcome)
    return found and found["measured"]


@pytest.mark.parametrize(
    ("lived_kwh", "found"),
    [
        ((0, 8, 4), None),
        ((0, 6, 4), None),
        ((0, 5.9, 4), 1.05),
        ((0, 5, 4), 1.5),
        ((0, 4, 4), 2.0),
        ((4, 0, 8), None),
        ((4, 4, 0), 2.0),
    ],
)
def test_heat_that_the_next_day_brings_is_late_and_not_lost(lived_kwh, found):
    """A good day leaves little room in the tank for the next, with a fault or without."""
    assert beside_sound(hourly(*lived_kwh), 4, 4, 4) == found


@pytest.mark.parametrize("reason", [why.TANK_FULL_REFUSED, why.TANK_FULL_DUMP])
@pytest.mark.parametrize(
    ("place", "place_c", "found"),
    [("tank_low_c", 60.1, None), ("tank_low_c", 59.9, 2.0), ("node_c", 70.1, None), ("node_c", 69.9, 2.0)],
)
def test_a_full_tank_keeps_its_latch_within_its_resets(reason, place, place_c, found):
    """Full from 67 C at the bottom down to 60 C, or from 75 C anywhere down to 70 C."""
    rows = hourly(0, 0, 0, reason=reason, **{place: place_c})
    assert beside_sound(rows, 4, 4, 4) == found


def test_a_full_tank_excuses_the_hours_in_which_it_is_called_full():
    """What other hours lost is lost."""
    rows = hourly(0, 0, 0, reason=why.TANK_FULL_REFUSED, tank_low_c=65.0)
    rows[np.arange(72) % 24 < 13, trace.REASON] = why.NO_DIFFERENCE
    assert beside_sound(rows, 4, 4, 4) == 1.5


@pytest.mark.parametrize(
    ("charged_min", "weak_min", "later_min", "in_time"),
    [(0, 0, 0, False), (20, 0, 0, True), (20, 0, 99, True), (20, 0, 101, False), (120, 0, 0, False), (0, 120, 99, True)],
)
def test_a_proof_may_end_on_the_next_day(charged_min, weak_min, later_min, in_time):
    """It takes two hours of charging by glycol 8 K warmer than the tank; some is on that day."""
    judge, rows = checkers.storm.silence, np.zeros((2880, trace.WIDTH))
    pumps, collector = slice(trace.COMMANDS, trace.COMMANDS + s.TANK_PUMP + 1), trace.TRUE_SENSORS + s.COLLECTOR
    rows[:, collector] = 8.0
    rows[600 : 600 + charged_min, pumps] = 1.0
    rows[900 : 900 + weak_min, pumps], rows[900 : 900 + weak_min, collector] = 1.0, 7.9
    rows[2000 : 2000 + later_min, pumps] = 1.0
    rows[2100, trace.COMMANDS + s.ALARM] = 1.0
    outcome = SimpleNamespace(rows=rows, scenario=SimpleNamespace(step_s=60))
    assert judge.named(outcome, slice(0, 1440)) == in_time


def test_a_full_tank_does_not_excuse_what_boils():
    rows = hourly(0, reason=why.TANK_FULL_REFUSED, tank_low_c=65.0)
    rows[10:12, trace.TRUE_SENSORS + s.COLLECTOR] = 125.0
    assert beside_sound(rows, 4) == 2.0


def test_the_next_day_may_belong_to_another_part(run_block):
    """What the recovery brings counts, though the judge of the first day does not see its rows."""
    episode = lived(run_block, SUNNY)
    whole = lives.Beside(episode, run_block)
    heat = checkers.storm.silence.TO_TANK
    episode.rows = episode.rows.copy()
    episode.rows[:-1, heat] -= 3.0
    behind = lives.Part(whole, slice(100, 200)).behind(heat)
    assert len(behind) == len(episode.rows) - 100
    assert behind.max() == pytest.approx(3.0) and behind[-1] == 0.0
