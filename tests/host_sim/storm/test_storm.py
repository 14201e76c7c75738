"""A small storm: it replays exactly, feels every fault, keeps the budget, finds a defect."""

import json
import subprocess
import sys
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from twinloop import loop
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_hil.inprocess import InProcessBoard
from twinloop_sim import trace
from twinloop_sim.engine import compiled
from twinloop_sim.storm import block as storm_block
from twinloop_sim.storm import budget, faults, lives, places
from twinloop_sim.storm import campaign as storm
from twinloop_sim.storm import draw as storm_draw
from twinloop_sim.storm import run as storm_run
from twinloop_sim.storm.draw import Case
from twinloop_sim.storm.faults import DAY, Fault
from twinloop_sim.thermal import state as th
from twinloop_sim.thermal.air import state as air

from ..shared import lived, never_charging

# From ten in the morning to four in the afternoon of the first day, in the sun.
FROM_S, TO_S = 36000.0, 57600.0
# A winter day of a station with an air heater.
HEATED = {"plant": {"air_heater_built": 1.0}, "settings": {"air_heater": 1}, "start": (1, 12)}
# Faults that a sunny May day with an empty tank does not show.
STAGE = {
    "radiator_covered": {"settings": {"tank_limit": 40000, "tank_full_low": 30000, "away_limit": 40000}, "tank": (38.0, 39.5)},
    "mixing_valve_off": {"tank": (60.0, 70.0)},
    "flow_lost": {"settings": {"flow_sensor": cfg.FLOW_METER}},
    "flow_stuck": {"settings": {"flow_sensor": cfg.FLOW_METER}},
}
STAGE["valve_leaks"] = STAGE["radiator_covered"]
STAGE |= dict.fromkeys(faults.AIR_ROWS, HEATED)
# Both show where the fan rests: it blows its damper open.
STAGE["damper_open"] = STAGE["fan_relay_welded"] = {**HEATED, "settings": {}}


@pytest.fixture(scope="module")
def run_block():
    return storm.block_of()


def one_fault(row, case=None):
    """A day with one fault of this row at its largest, through the sunny hours."""
    case = case or Case(seed=7, days=1, recovery_s=0, **STAGE.get(row.name, {}))
    settings = (("start_difference", 12000),) if row.name == "settings_changed" else ()
    place = 1.0 if row.name == "valve_stuck" else row.size[1]
    target = "collector" if row.targets == faults.EVERY_SENSOR else row.targets[0]
    return replace(case, faults=(Fault(row.name, target, place, FROM_S, TO_S, settings),))


@pytest.mark.parametrize("row", faults.ROWS, ids=lambda row: row.name)
def test_each_fault_is_felt(row, run_block):
    assert storm_run.run_case(one_fault(row), run_block).felt == [True]


def test_a_fault_ends(run_block):
    """The sensor is lost during the fault and trusted again two minutes after it."""
    case = one_fault(faults.BY_NAME["sensor_open"])
    episode = lived(run_block, case)
    where, believed = faults.steps_of(case.faults[0], case.step_s), episode.rows[:, trace.BELIEVED + s.COLLECTOR]
    assert np.isnan(believed[where.stop - 1])
    assert not np.isnan(believed[where.stop + 24])


def test_a_fault_that_cannot_act_is_not_felt(run_block):
    """Negative of the above: at night, a collector relay that does not close."""
    case = one_fault(faults.BY_NAME["collector_relay_off"])
    night = (replace(case.faults[0], begin_s=3600.0, end_s=7200.0),)
    assert storm_run.run_case(replace(case, faults=night), run_block).felt == [False]


def test_without_faults_it_is_the_plain_block(run_block):
    case = Case(seed=1, days=1, recovery_s=0)
    storms, plain = storm_run.open_episode(case), storm_run.open_episode(case)
    storm_run.run_span(run_block, storms, slice(0, len(storms.rows)))
    rig = lives.rig_of(plain.plant, plain.values, plain.state, plain.settings)
    compiled.compiled_block()(rig, plain.drive, case.step_s * 1000, plain.rows)
    assert np.array_equal(storms.rows, plain.rows, equal_nan=True)
    assert np.array_equal(storms.state, plain.state)


def test_the_same_seed_gives_the_same_trace(run_block):
    first, again, other = (storm_run.run_case(storm_draw.draw_episode(seed, 0, 3, 2), run_block).digest for seed in (5, 5, 6))
    assert first == again != other


def test_power_and_resets_do_what_they_say(run_block):
    """Without power all is off and unknown, the meter stays; three resets stop the station."""
    cut = one_fault(faults.BY_NAME["power_cut"])
    episode = lived(run_block, cut)
    dark = episode.rows[faults.steps_of(cut.faults[0], cut.step_s)]
    assert dark[:, [trace.COMMANDS + output for output in s.MOVING]].max() == 0
    assert np.isnan(dark[:, trace.BELIEVED : trace.BELIEVED + s.SENSORS]).all()
    assert dark[:, trace.TRUE_SENSORS + s.COLLECTOR].max() > 60.0
    assert episode.state[s.STARTS + s.COLLECTOR_PUMP] > 0
    resets = lived(run_block, one_fault(faults.BY_NAME["reset_storm"]))
    assert s.FAULT_STOP in resets.rows[:, trace.DUTY]


def starts_of_a_loop(folder, wants, unpowered, bitten):
    """Live with loop.py through cuts and bites: in each step what moves, and the count told."""
    moves, told = np.zeros(len(wants), dtype=bool), np.zeros(len(wants), dtype=int)
    board = InProcessBoard(folder)
    for k in range(len(wants)):
        if unpowered[k] or bitten[k]:
            board = InProcessBoard(folder, watchdog_reset=not unpowered[k])
            told[k] = board.loop.resets
            continue
        board.port.period_ms = 10000
        board.port.values_mc[s.COLLECTOR] = int(wants[k])
        board.pass_time(10000, turn_ms=10000)
        told[k], moves[k] = board.loop.inputs[s.IN_RESETS], board.loop.state[s.COLLECTOR_PUMP_ON]
    return moves, told


def test_the_board_counts_its_starts_as_loop_py_does(tmp_path, monkeypatch):
    """Days of cuts by chance: the two differ for one step at most where a time is over."""

    def step(state, settings, inputs):
        state[s.COLLECTOR_PUMP_ON] = int(inputs[s.IN_RAW_MC + s.COLLECTOR] and inputs[s.IN_RESETS] < s.RESETS_LIMIT)

    monkeypatch.setattr(loop.station, "step", step)
    monkeypatch.setattr(loop, "firmware_hash", lambda folder: "")
    random = np.random.default_rng(4)
    # A pump starts within minutes, and the power holds for a quarter of an hour or for hours.
    steps = 60000
    often = np.where(np.arange(steps) % 6000 < 3000, 0.01, 0.001)
    wants, unpowered, bitten = (random.random(steps) < share for share in (0.05, often, 0.0005))
    moves, told = starts_of_a_loop(f"{tmp_path}/", wants, unpowered, bitten)
    found = storm_block.resets_in_force(unpowered, bitten, moves, 10000)
    assert set(told) >= {0, 1, 2, 3, 4, 5}
    assert np.sum(found != told) <= np.sum(np.diff(told) != 0)


def test_budget_holds_in_every_draw():
    seen = set()
    for seed in range(40):
        base = storm_draw.draw_station(seed, 0, 0)
        assert storm_draw.told_right(base)
        for episode in range(0, 60, 20):
            case = storm_draw.draw_episode(seed, 0, episode, 6, None, base)
            seen |= {fault.row.group for fault in case.faults}
            assert budget.beyond(case.faults, case) == ""
            assert all(0 <= fault.begin_s < fault.end_s <= case.safety_s() for fault in case.faults)
    assert seen == set(faults.CLASSES)


def test_a_reading_that_sticks_shows_no_noise(run_block):
    """Whichever of the two began first."""
    stuck, noise = (Fault(name, "loop_supply", 1.0, 3600.0, DAY) for name in ("sensor_stuck", "sensor_noise"))
    for pair in ((stuck, noise), (noise, stuck), (noise,)):
        rows = lived(run_block, Case(seed=7, days=1, recovery_s=0, faults=pair)).rows
        readings = rows[800:4000, trace.BELIEVED + s.LOOP_SUPPLY]
        assert (len(np.unique(readings)) == 1) == (stuck in pair)


def test_budget_excludes_what_it_says():
    """Two lying tank sensors are excluded; the same pair on other sensors is not."""
    case = Case(seed=1)
    low, high, tap = (Fault("sensor_stuck", name, 1.0, 0.0, 10.0) for name in ("tank_low", "tank_high", "tap"))
    assert "cut-out" in budget.beyond((low, high), case)
    assert budget.beyond((low, tap), case) == ""


def test_a_storm_is_narrowed_and_widened():
    """One topology, one fault; and the world that all of it is drawn from."""
    series = [storm_draw.draw_station(seed, 0, 0, storm_draw.Wish(topology="series")) for seed in range(8)]
    assert {case.topology() for case in series} == {"series"}
    assert all(storm_draw.told_right(case) for case in series)
    only = storm_draw.draw_episode(3, 0, 0, 6, storm_draw.Wish("tank_emptied", "none"))
    assert [fault.name for fault in only.faults] == ["tank_emptied"]
    assert only.topology() == "none"
    stations = [storm_draw.draw_station(seed, 0, 0) for seed in range(60)]
    assert {case.weather for case in stations} == set(places.PLACES)
    assert {case.topology() for case in stations} == set(cfg.TOPOLOGY_NAMES)
    assert len({case.plant.get("collector_eta0") for case in stations}) == 3
    episodes = [storm_draw.draw_episode(seed, 0, 0, 6) for seed in range(60)]
    assert {case.step_s for case in episodes} == {1, 5}
    assert {case.cloud_seed is None for case in episodes} == {True, False}


@pytest.mark.parametrize("name", places.PLACES)
def test_every_place_has_its_year(name):
    """Warmer in its summer; the sun stands in the north south of the equator."""
    weather = places.weather_of(name)
    year = weather.ambient_c.reshape(365, 24)
    january, july = year[:31].mean(), year[181:212].mean()
    assert len(weather.ambient_c) == 8760
    south = weather.latitude_deg < 0
    assert (january > july) == south
    assert places.PLACES[name].equator_deg() == (0.0 if south else 180.0)


def test_a_short_storm_is_calm(run_block):
    for seed in range(8):
        result = storm_run.run_case(storm_draw.draw_episode(seed, 0, 7 * seed, 3), run_block)
        assert (result.violations, result.guard_actions) == ([], 0), f"seed {seed}"


def test_two_sets_of_control_files_in_one_process(run_block, tmp_path):
    """The linker keeps them apart, even from the cache: the good one charges, the bad one never."""
    folder = never_charging(tmp_path)
    case = Case(seed=1, days=1, recovery_s=0)
    for _ in range(2):
        for block, charges in ((run_block, True), (storm.block_of(folder), False)):
            episode = lived(block, case)
            assert (s.CHARGING in episode.rows[:, trace.DUTY]) == charges


def test_a_planted_defect_is_found_and_printed(run_block, tmp_path):
    """A few episodes find it, shrinking keeps it, and the printed file fails on it alone."""
    folder = never_charging(tmp_path)
    bad_block = storm.block_of(folder)
    for seed in range(1000, 1030):
        case = storm_draw.draw_episode(seed, 0, 0, 6)
        found = storm_run.run_case(case, bad_block).violations
        if found:
            break
    assert found, "none of thirty episodes found it"
    small, finding = storm.shrink(case, found[0], bad_block, runs=30)
    assert len(small.faults) <= len(case.faults)
    assert small.days <= case.days
    scope = {}
    exec(compile(storm.pytest_file(small, finding), "printed", "exec"), scope)
    assert scope["CASE"] == small
    test = scope[f"test_{finding['name']}"]
    test()
    scope["storm"] = SimpleNamespace(replay=lambda case: storm.replay(case, folder))
    with pytest.raises(AssertionError):
        test()


def test_recovery_can_fail(run_block):
    """A station that shows a fault, wastes the sun or lost a sensor has not recovered."""
    case = Case(seed=1, days=2, faults=(Fault("air_lock", "collector_flow_l_per_min", 0.0, FROM_S, TO_S),))
    episode = lived(run_block, case)
    begin = len(episode.rows) // 2
    fresh = episode.rows[begin:].copy()
    assert storm_run.judge_recovery(episode, fresh, begin) == []
    good = episode.rows.copy()
    episode.rows[-10:, trace.REASON] = storm_run.FAULT_REASONS[3]
    assert "fault reason" in storm_run.judge_recovery(episode, fresh, begin)[0]["text"]
    episode.rows[:] = good
    episode.rows[begin:, trace.DUTY] = s.IDLE
    assert "far less" in storm_run.judge_recovery(episode, fresh, begin)[0]["text"]
    episode.rows[:] = good
    episode.rows[-1, trace.BELIEVED + s.TANK_LOW] = np.nan
    assert "tank_low" in storm_run.judge_recovery(episode, fresh, begin)[0]["text"]


@pytest.mark.parametrize(("collector_c", "judged"), [(94.9, False), (95.0, True)])
def test_only_a_hot_collector_has_to_be_dumped(collector_c, judged, run_block):
    """A fresh station dumped all day, because it took a tank between its thresholds for full."""
    case = Case(seed=1, days=2, faults=(Fault("air_lock", "collector_flow_l_per_min", 0.0, FROM_S, TO_S),))
    episode = storm_run.open_episode(case)
    begin = len(episode.rows) // 2
    episode.rows[:, trace.BELIEVED + s.COLLECTOR] = collector_c
    fresh = episode.rows[begin:].copy()
    fresh[:, trace.DUTY], fresh[:, trace.COMMANDS + s.COLLECTOR_PUMP] = s.DUMPING, 1.0
    assert bool(storm_run.judge_recovery(episode, fresh, begin)) == judged


def test_replay_as_json(run_block):
    """One document with the keys of the design and the same hash as in this process."""
    call = [sys.executable, "-m", "twinloop_sim.cli", "storm", "--replay", "5.0.3", "--days", "2", "--json"]
    facts = json.loads(subprocess.run(call, capture_output=True, text=True, timeout=300).stdout)
    keys = "years seed commit faults_injected faults_felt guard_actions violations wall_s trace_sha256"
    assert set(keys.split()) <= set(facts)
    campaign = storm.Campaign()
    campaign.add("5.0.3", storm_run.run_case(storm_draw.draw_episode(5, 0, 3, 2), run_block))
    assert facts["trace_sha256"] == campaign.digest.hexdigest()


def test_a_cold_spell_reaches_the_air_heater():
    """Both sides stand in the same air."""
    case = Case(seed=7, days=1, recovery_s=0, plant={"air_heater_built": 1.0}, ambient_shift_k=-8.0)
    episode = storm_run.open_episode(case)
    mild = storm_run.open_episode(replace(case, ambient_shift_k=0.0))
    heater = th.AIR_DRIVE_FIRST + air.DRIVE_AMBIENT_C
    assert np.array_equal(episode.drive[:, heater], episode.drive[:, th.DRIVE_AMBIENT_C])
    assert np.allclose(episode.drive[:, heater], mild.drive[:, heater] - 8.0)
