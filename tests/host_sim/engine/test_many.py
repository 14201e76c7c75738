"""Parallel runs give the same result here, in other processes, and on a cluster."""

import json
import os
import time

import numpy as np
import pytest
from twinloop_sim import cli, many, tune
from twinloop_sim.explore import campaign as explore
from twinloop_sim.explore.corners import Corner, builds
from twinloop_sim.storm import campaign as storm

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

    monkeypatch.setattr(tune, "pairs", lambda: [(6.0, 3.0), (8.0, 3.0), (10.0, 4.0)])
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


def grid_row(*figures, violations=0):
    names = ("start_difference_k", "stop_difference_k", "net_kwh", "starts_per_day")
    return {**dict(zip(names, figures, strict=True)), "violations": violations}


def test_advice_takes_fewest_starts_among_equals_and_nothing_unsafe():
    """Within 1 % of the best, fewer starts win; an unsafe pair is never advised."""
    now = grid_row(8.0, 3.0, 69.0, 12.0)
    grid = [now, grid_row(4.0, 2.0, 70.0, 20.0), grid_row(12.0, 3.0, 69.4, 7.0), grid_row(20.0, 2.0, 60.0, 3.0)]
    grid.append(grid_row(15.0, 2.0, 75.0, 1.0, violations=1))
    found = tune.advice(grid, now)
    assert (found["start_difference_k"], found["best_net_kwh"]) == (12.0, 70.0)
    assert (found["gain_kwh"], found["fewer_starts_per_day"]) == (0.4, 5.0)
    # Negative: without the 1 % it is the best.
    assert tune.advice(grid[1:2], now)["start_difference_k"] == 4.0


def test_tune_prints_every_key_and_draws(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(tune, "pairs", lambda: [(6.0, 3.0), (8.0, 3.0)])
    assert cli.main(["tune", "frosty-morning", "--json", "--out", str(tmp_path)]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert {"scenario", "grid", "advice", "files"} <= set(facts)
    assert {"start_difference_k", "stop_difference_k", "net_kwh", "starts_per_day"} <= set(facts["grid"][0])
    assert facts["advice"]["now_start_difference_k"] == 8.0
    assert (tmp_path / "frosty-morning-tune.png").read_bytes()[:4] == b"\x89PNG"
    assert cli.main(["tune", "frosty-morning", "--out", str(tmp_path)]) == 0
    assert "Advice: start_difference" in capsys.readouterr().out
