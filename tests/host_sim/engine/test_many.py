"""Parallel runs give the same result here, in other processes, and on a cluster."""

import json
import os
import time

import numpy as np
import pytest
from twinloop.control import settings as cfg
from twinloop_sim import cli, many, scenarios, tune
from twinloop_sim.explore import campaign as explore
from twinloop_sim.explore.corners import Corner, builds
from twinloop_sim.storm import campaign as storm
from twinloop_sim.thermal import parameters as p
from twinloop_sim.thermal.flow.speeds import flow_shares

from ..shared import refused


def silent(*_):
    """No progress."""


def test_results_come_in_order_from_other_processes():
    # Inside the test, because other processes cannot import test modules by name.
    def item(value, weight):
        return value * weight, os.getpid()

    calls = [(value, 3) for value in range(8)]
    alone, shared = list(many.each(item, calls, 1)), list(many.each(item, calls, 2))
    assert [value for value, _ in alone] == [value for value, _ in shared] == [3 * value for value in range(8)]
    assert {process for _, process in alone} == {os.getpid()}
    assert os.getpid() not in {process for _, process in shared}


def test_a_storm_is_the_same_with_two_workers(monkeypatch):
    monkeypatch.setattr(storm.draw, "episodes_a_year", lambda days: 2)
    facts = []
    for workers in (1, 2):
        campaign = storm.run(1, 3, 2, None, silent, workers=workers)
        facts.append(storm.document(campaign, 1, 3, 2, 0.0))
    assert facts[0] == facts[1]
    assert facts[0]["episodes"] == 2
    assert sum(facts[0]["faults_injected"].values()) > 0


def test_an_exploration_is_the_same_with_two_workers():
    places = [Corner(corner.name, corner.settings) for corner in (builds()[2], builds()[8])]
    alone, shared = (explore.search(places, rooms=explore.ROOMS[:1], tell=silent, workers=workers) for workers in (1, 2))
    assert (alone.states, alone.walks, alone.violations) == (shared.states, shared.walks, shared.violations)
    assert np.array_equal(alone.seen, shared.seen)


def test_of_a_truth_that_two_corners_break_the_first_tells():
    """Merging keeps what a walk through one corner after the other keeps."""
    found = explore.Found()
    for corner in ("first", "second"):
        part = explore.Found(corners=1, violations=[{"truth": "steam_memory", "corner": corner}])
        explore.add_corner(found, part)
    assert [violation["corner"] for violation in found.violations] == ["first"]
    assert found.corners == 2


def test_a_sweep_on_a_cluster_of_two_workers(monkeypatch):
    import joblib
    from distributed import Client, LocalCluster, get_worker

    def worker_name(number):
        time.sleep(0.05)
        return get_worker().name

    monkeypatch.setattr(tune, "pairs", lambda: [(6.0, 3.0), (8.0, 3.0)])
    monkeypatch.setattr(tune, "FLOW_SHARES", (1.0, 0.5))
    changes = ["collector_area_m2=5"]
    alone = tune.sweep("frosty-morning", changes, 1, silent)
    # Workers in threads of this process: the scheduler is the same, and a loaded machine cannot
    # lose one.
    here = LocalCluster(n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None)
    with here as cluster, Client(cluster), joblib.parallel_config(backend="dask"):
        shared = tune.sweep("frosty-morning", changes, 1, silent)
        workers = set(many.each(worker_name, [(number,) for number in range(8)]))
    assert shared == alone
    assert workers == {0, 1}


@pytest.mark.parametrize("workers", [0, 257, -1])
def test_wrong_number_of_workers(workers):
    with refused(f"--workers {workers}: allowed 1 to 256"):
        many.check_workers(workers)


def grid_row(*figures, violations=0, share=1.0, alarm_h=0.0):
    names = ("start_difference_k", "stop_difference_k", "net_kwh", "starts_per_day")
    mains_kwh = 3.0 * share
    more = {"flow_share": share, "collector_flow_l_per_min": 4.5 * share, "tank_flow_l_per_min": 4.0 * share}
    more |= {"pump_mains_kwh": mains_kwh, "to_tank_kwh": figures[2] + mains_kwh}
    more |= {"violations": violations, "alarm_h": alarm_h}
    return {**dict(zip(names, figures, strict=True)), **more}


def test_advice_takes_fewest_starts_among_equals_and_nothing_unsafe():
    """Within 1 % of the best, fewer starts win; an unsafe pair is never advised."""
    now = grid_row(8.0, 3.0, 69.0, 12.0)
    grid = [now, grid_row(4.0, 2.0, 70.0, 20.0), grid_row(12.0, 3.0, 69.4, 7.0), grid_row(20.0, 2.0, 60.0, 3.0)]
    grid.append(grid_row(15.0, 2.0, 75.0, 1.0, violations=1))
    found = tune.advice(grid, now)
    assert (found["start_difference_k"], found["best_net_kwh"]) == (12.0, 70.0)
    assert (found["gain_kwh"], found["fewer_starts_per_day"]) == (0.4, 5.0)
    grid.append(grid_row(15.0, 3.0, 75.0, 1.0, alarm_h=0.2))
    assert tune.advice(grid, now)["start_difference_k"] == 12.0
    # Negative: a moment of alarm is no difference.
    assert tune.advice([*grid[:-1], {**grid[-1], "alarm_h": 0.09}], now)["start_difference_k"] == 15.0
    # Negative: without the 1 % it is the best.
    assert tune.advice(grid[1:2], now)["start_difference_k"] == 4.0


def test_tune_prints_every_key_and_draws(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(tune, "pairs", lambda: [(6.0, 3.0), (8.0, 3.0)])
    monkeypatch.setattr(tune, "FLOW_SHARES", (1.0, 0.5))
    assert cli.main(["tune", "frosty-morning", "--json", "--out", str(tmp_path)]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert {"scenario", "grid", "flows", "advice", "files"} <= set(facts)
    assert [row["flow_share"] for row in facts["flows"]] == [1.0, 0.5]
    assert {"start_difference_k", "stop_difference_k", "net_kwh", "starts_per_day"} <= set(facts["grid"][0])
    assert facts["advice"]["now_start_difference_k"] == 8.0
    assert (tmp_path / "frosty-morning-tune.png").read_bytes()[:4] == b"\x89PNG"
    assert cli.main(["tune", "frosty-morning", "--out", str(tmp_path)]) == 0
    printed = capsys.readouterr()
    assert "Advice: start_difference" in printed.out and "usual 0.5 to 1, low flow 0.15 to 0.35" in printed.out
    assert "4 of 4 runs" in printed.err


def test_less_flow_is_advised_where_it_costs_no_heat_and_its_price_is_named():
    """The trade's range and the price stand beside each flow, with that flow's own best pair."""
    full, half = grid_row(8.0, 3.0, 67.0, 16.0), grid_row(6.0, 3.0, 69.0, 8.0, share=0.5)
    grid = [full, grid_row(20.0, 3.0, 60.0, 2.0), half, grid_row(8.0, 3.0, 66.0, 7.0, share=0.25)]
    found = tune.advice(grid, full)
    assert (found["flow_share"], found["less_mains_kwh"], found["fewer_starts_per_day"]) == (0.5, 1.5, 8.0)
    rows = {row["flow_share"]: row for row in tune.flows(grid, found, 6.0)}
    assert [rows[share]["trade"] for share in (1.0, 0.5, 0.25)] == ["usual", "", "low flow"]
    assert (rows[1.0]["more_heat_kwh"], rows[1.0]["more_mains_kwh"], rows[1.0]["more_starts_per_day"]) == (-0.5, 1.5, 8.0)
    assert (rows[0.5]["more_heat_kwh"], rows[0.5]["more_mains_kwh"]) == (0.0, 0.0)


def test_the_swept_flow_is_in_the_plant_and_in_the_settings():
    """The pump stays the same and runs slower; the firmware is told, as wrongly as before."""
    changes = ["collector_flow=5L/min", "plant.collector_flow_l_per_min=4", "tank_flow=3L/min", "loop_volume=14L"]
    before = scenarios.load("washhouse-week", changes)
    slow = scenarios.load("washhouse-week", [*changes, *tune.flow_changes(before, 0.5)])
    assert slow.plant[p.COLLECTOR_FLOW_L_PER_MIN] == 4.0 and slow.plant[p.TANK_FLOW_L_PER_MIN] == 3.0
    assert flow_shares(slow.plant) == pytest.approx((0.5, 0.5), abs=0.02)
    assert [slow.settings[code] for code in (cfg.COLLECTOR_FLOW, cfg.TANK_FLOW)] == [2500, 1500]
    # Negative: with the delay of before, the settings refuse this flow.
    with refused("tank_pump_delay has to be at least"):
        scenarios.load("washhouse-week", [*changes, "collector_flow=2.5L/min"])
    # A pump that runs slow already: the share is of its full speed, and what was told goes along.
    again = scenarios.load("washhouse-week", [*changes, *tune.flow_changes(slow, 1.0)])
    assert again.settings[cfg.COLLECTOR_FLOW] == pytest.approx(5000, rel=0.04)
    assert again.plant[p.COLLECTOR_PUMP_SPEED] == 1.0


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (["flow_physics=0"], "flow_physics = 0: allowed only 1"),
        (["collector_flow=0.5L/min", "tank_flow=10L/min", "tank_pump_delay=5min"], ""),
        (["collector_flow=1.5L/min", "tank_pump_delay=2min", "plant.tank_pump_speed=0.2"], ""),
    ],
)
def test_flows_that_cannot_be_told_are_left_out_or_refused_in_one_line(changes, words):
    """One line for a plant that tune cannot sweep; no flow outside the settings' range."""
    scenario = scenarios.load("washhouse-week", changes)
    if words:
        with refused(words):
            tune.shares(scenario)
        return
    found = tune.shares(scenario)
    assert found and found != list(tune.FLOW_SHARES)
    for share in found:
        scenarios.load("washhouse-week", [*changes, *tune.flow_changes(scenario, share)])
