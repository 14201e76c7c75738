"""Run times and memory for `make bench`: start-up, year, report, storm and explore."""

from __future__ import annotations

import importlib.util
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
from twinloop.control import state as s

from .. import files, scenarios, trace
from ..document import document
from ..engine import run as engine
from ..engine.compiled import compiled_block
from ..report.figure import shown_rows
from ..thermal import parameters as p
from ..thermal.storage import initial_plant
from .figure import REPEATS, Figure, median

SOLVER = Path(__file__).resolve().parents[3] / "tests" / "host_sim" / "thermal" / "test_solver.py"
# Repeats of short runs that are compared with each other.
ROUNDS = 5
# Days and first day. All runs centre on the same equinox, so each sees the season of a mean day.
LENGTHS = ((30, (3, 6)), (90, (2, 4)), (365, (1, 1)))
# The command as typed, and its peak memory.
SIMULATE = """
import contextlib, io, json, sys
from twinloop_sim import cli
from twinloop_sim.measure.figure import most_held_mib
with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
    status = cli.main(["simulate", *sys.argv[1:]])
print(json.dumps({"status": status, "mib": most_held_mib()}))
"""
# Compile and cache the blocks of year_and_floor_s.
COMPILE = """
from twinloop_sim.measure import runs
runs.year_and_floor_s(days=1)
print("{}")
"""
# A run with its trace on disk: processor seconds, and peak memory.
SOME_DAYS = """
import json, sys, time
from dataclasses import replace
from twinloop_sim import scenarios, trace
from twinloop_sim.engine import run as engine
from twinloop_sim.measure.figure import most_held_mib
whole = scenarios.load("year")
engine.run(replace(whole, days=31))
month, day = sys.argv[2].split("-")
begin = time.thread_time()
with trace.Writer(sys.argv[3]) as writer:
    engine.run(replace(whole, days=int(sys.argv[1]), start=(int(month), int(day))), write_rows=writer.write_rows)
print(json.dumps({"s": time.thread_time() - begin, "mib": most_held_mib()}))
"""


def in_process(program: str, *arguments: str, cache: str | None = None) -> dict:
    """The document that a program prints in a process of its own.

    `process_s` is added: the seconds that the process took.
    """
    environment = {**os.environ, "TWINLOOP_CACHE": cache} if cache else None
    begin = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", program, *arguments], capture_output=True, text=True, check=True, env=environment)
    return {"process_s": time.perf_counter() - begin, **json.loads(done.stdout)}


def simulate(name: str, cache: str | None = None) -> dict:
    """`twinloop simulate NAME`, with report, picture and trace."""
    with tempfile.TemporaryDirectory() as folder:
        return in_process(SIMULATE, name, "--out", folder, cache=cache)


def starts() -> Iterator[Figure]:
    """The first run after an install, later runs, the year, and help."""
    with tempfile.TemporaryDirectory() as cache:
        yield Figure("simulate frosty-morning, cold compile cache", simulate("frosty-morning", cache)["process_s"], "s")
    with tempfile.TemporaryDirectory() as cache:
        yield Figure("simulate year, cold compile cache", simulate("year", cache)["process_s"], "s", at_most=60.0)
        yield Figure("simulate frosty-morning, warm", median(lambda: simulate("frosty-morning", cache)["process_s"]), "s")
        yield Figure("simulate washhouse-week, warm", median(lambda: simulate("washhouse-week", cache)["process_s"]), "s")
        year = [simulate("year", cache) for _ in range(REPEATS)]
    yield Figure("simulate year, warm", statistics.median([one["process_s"] for one in year]), "s", at_most=15.0)
    yield Figure("the most memory that it held", statistics.median([one["mib"] for one in year]), "MiB")
    yield Figure("twinloop --help", median(help_s), "s", at_most=0.3)


def reports() -> Iterator[Figure]:
    """Writing the files of a run, and choosing the rows that a page draws; processor time."""
    week, fortnight = (engine.run(scenarios.load(name)) for name in ("washhouse-week", "away-fortnight"))
    yield Figure("report and picture of a week", median(lambda: report_s(week, document(week))), "s", at_most=3.0)
    run = files.as_run(fortnight, document(fortnight))
    yield Figure("choosing the rows to draw of a fortnight", median(lambda: shown_rows_s(run)), "s", at_most=0.5)


def report_s(outcome, facts: dict) -> float:
    with tempfile.TemporaryDirectory() as folder:
        begin = time.process_time()
        files.write_report(Path(folder), outcome, facts)
        return time.process_time() - begin


def shown_rows_s(run) -> float:
    begin = time.process_time()
    shown_rows(run)
    return time.process_time() - begin


def help_s() -> float:
    begin = time.perf_counter()
    subprocess.run([sys.executable, "-m", "twinloop_sim.cli", "--help"], stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - begin


def year_and_floor_s(days: int = 365) -> tuple[float, float]:
    """Processor seconds of a compiled year: with the firmware, and with commands replayed."""
    scenario = replace(scenarios.load("year"), days=days)
    replay = compiled_block(None, "engine.replay_block", "run_replay_block")
    setup, floor = engine.Setup(scenario), engine.Setup(scenario)
    runner = engine.CompiledRunner(setup)
    runs_s = floor_s = 0.0
    for part in setup.parts:
        if part.first_day:
            setup.load(part)
            floor.rows = floor.room[: len(setup.rows)]
        begin = time.thread_time()
        runner.run(slice(0, len(setup.drive)))
        middle = time.thread_time()
        told = setup.rows
        replay(floor.rig(runner.state, runner.settings, runner.inputs), told, setup.drive, setup.dt_ms, floor.rows)
        floor_s += time.thread_time() - middle
        runs_s += middle - begin
        # The replay must give the same temperatures, or it is not this run's floor.
        same = slice(trace.TRUE_SENSORS, trace.TRUE_SENSORS + s.SENSORS)
        if not np.array_equal(floor.rows[:, same], told[:, same]):
            raise RuntimeError("make bench: the replayed plant is not the plant of the run")
    return runs_s, floor_s


def solver_day_s() -> float:
    """Processor seconds of one day of the plant by scipy's implicit solver, tight tolerances."""
    spec = importlib.util.spec_from_file_location("solver", SOLVER)
    solver = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(solver)
    values = p.plant_values(solver.PLANT)
    start = initial_plant(values, 6.0, 15.0, 35.0)
    begin = time.thread_time()
    solver.by_scipy(values, start)
    return time.thread_time() - begin


def year_against_floor() -> Iterator[Figure]:
    """Figures (a), (b), (c) and their ratios."""
    # Freshly compiled code runs a fifth slower than code loaded from the cache: fill the cache
    # elsewhere.
    in_process(COMPILE)
    year_and_floor_s(days=1)
    solver = SOLVER.exists()
    if solver:
        solver_day_s()
    rounds = [(*year_and_floor_s(), 365.0 * solver_day_s() if solver else float("nan")) for _ in range(REPEATS)]
    a_s, b_s, c_s = (statistics.median(each) for each in zip(*rounds, strict=True))
    yield Figure("(a) the compiled loop of a year at 5 s, firmware in it", a_s, "s")
    yield Figure("(b) its floor: the same with the commands replayed", b_s, "s")
    yield Figure("(a) over (b)", statistics.median([a / b for a, b, _ in rounds]), "times", at_most=2.0)
    yield Figure("(c) scipy's implicit solver on the same equations, a day times 365", c_s if solver else None, "s")
    ratio = statistics.median([c / a for a, _, c in rounds]) if solver else None
    yield Figure("(c) over (a)", ratio, "times", more=True, at_least=100.0)


def lengths() -> Iterator[Figure]:
    """Time and memory of ever longer runs: each additional day must cost the same."""
    rounds = []
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(ROUNDS):
            rounds.append([in_process(SOME_DAYS, str(n), f"{month}-{day}", f"{folder}/trace") for n, (month, day) in LENGTHS])
    days = [n for n, _ in LENGTHS]
    spent_s, held_mib = (np.median([[one[key] for one in some] for some in rounds], axis=0) for key in ("s", "mib"))
    for n, seconds, mib in zip(days, spent_s, held_mib, strict=True):
        yield Figure(f"a run of {n} days, processor time", float(seconds), "s")
        yield Figure(f"the most memory of a run of {n} days", float(mib), "MiB")
    day_ms = 1000.0 * np.diff(spent_s) / np.diff(days)
    for first, last, cost in zip(days, days[1:], day_ms, strict=False):
        yield Figure(f"each day more, from {first} to {last} days", float(cost), "ms")
    yield Figure("dearest of these over cheapest", float(day_ms.max() / day_ms.min()), "times", at_most=1.1)
    yield Figure("memory of the longest over the shortest", float(held_mib[-1] / held_mib[0]), "times", at_most=1.1)


def storm_years_per_h(workers: int, seed: int = 1) -> float:
    """Years of storm per hour, from the 61 episodes of one year."""
    from ..storm import campaign as storm

    begin = time.perf_counter()
    storm.run(1, seed, 6, None, lambda *_: None, workers=workers)
    return 3600.0 / (time.perf_counter() - begin)


def storms() -> Iterator[Figure]:
    """One worker and two, alternating; all compiling and starting is done before."""
    storm_years_per_h(2, seed=2)
    storm_years_per_h(1, seed=2)
    rounds = [(storm_years_per_h(1), storm_years_per_h(2)) for _ in range(ROUNDS)]
    alone, shared = (statistics.median(each) for each in zip(*rounds, strict=True))
    yield Figure("storm with one worker", alone, "years/h", more=True)
    yield Figure("storm with two workers", shared, "years/h", more=True)
    ratio = statistics.median([two / one for one, two in rounds])
    yield Figure("two workers over one", ratio, "times", more=True, at_least=1.7)


def explored_per_s() -> float:
    """Transitions per second of the walk, on the station as shipped."""
    from ..explore import campaign as explore
    from ..explore.corners import builds

    explore.search(builds()[2:3], rooms=explore.ROOMS[:1], tell=lambda text: None)
    begin = time.perf_counter()
    found = explore.search(builds()[:1], tell=lambda text: None)
    return float(found.seen[explore.w.TRANSITIONS]) / (time.perf_counter() - begin)
