"""`make bench`: how fast and how large, measured on this machine in one run, medians of several; a table and one JSON file."""

from __future__ import annotations

import json
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from array import array
from pathlib import Path

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control import station

from . import engine, measure_sizes, scenarios

REPEATS = 3
STEPS = 20000
SUNNY_MC = (60000, 30000, 35000, 55000, 40000, 20000, 30000, 48000)
# The control step alone on MicroPython: the same loop as `control_step_us` below.
ON_MICROPYTHON = """
import sys, time
from array import array
sys.path.insert(0, sys.argv[1])
from twinloop.control import settings as cfg, state as s, station
state = array("i", [0] * s.STATE); settings = array("i", [0] * cfg.SETTINGS); inputs = array("i", [0] * s.INPUTS)
cfg.load_defaults(settings); station.wake(state, settings, inputs)
for sensor, value in enumerate((60000, 30000, 35000, 55000, 40000, 20000, 30000, 48000)):
    inputs[s.IN_RAW_MC + sensor] = value
inputs[s.IN_DT_MS] = 5000
begin = time.ticks_us()
for _ in range(20000):
    station.step(state, settings, inputs)
print(time.ticks_diff(time.ticks_us(), begin) / 20000)
"""


def median(measure) -> float:
    """Median of some repetitions."""
    return statistics.median(measure() for _ in range(REPEATS))


def control_step_us() -> float:
    """One control step, interpreted on CPython."""
    state, settings, inputs = (array("i", [0] * size) for size in (s.STATE, cfg.SETTINGS, s.INPUTS))
    cfg.load_defaults(settings)
    station.wake(state, settings, inputs)
    for sensor, value in enumerate(SUNNY_MC):
        inputs[s.IN_RAW_MC + sensor] = value
    inputs[s.IN_DT_MS] = 5000
    begin = time.perf_counter()
    for _ in range(STEPS):
        station.step(state, settings, inputs)
    return 1e6 * (time.perf_counter() - begin) / STEPS


def control_step_micropython_us() -> float | None:
    """One control step on MicroPython's Unix port; None without one."""
    from twinloop_hil.virtual import NoInterpreterError, find_interpreter

    try:
        interpreter = find_interpreter()
    except NoInterpreterError:
        return None
    with tempfile.NamedTemporaryFile("w", suffix=".py") as program:
        program.write(ON_MICROPYTHON)
        program.flush()
        call = [interpreter, program.name, str(Path(cfg.__file__).parent.parent.parent)]
        return median(lambda: float(subprocess.run(call, capture_output=True, text=True, check=True).stdout))


def run_s(name: str) -> float:
    """A scenario, compiled and warm, without its files."""
    scenario = scenarios.load(name)
    engine.run(scenario)
    return median(lambda: engine.run(scenario).wall_s)


def first_run_s(cache: str) -> float:
    """A process of its own that simulates a day: with an empty or a filled compile cache."""
    program = "from twinloop_sim import engine, scenarios; t = scenarios.load('washhouse-week'); t.days = 1; engine.run(t)"
    begin = time.perf_counter()
    subprocess.run([sys.executable, "-c", program], env={**os.environ, "TWINLOOP_CACHE": cache}, check=True)
    return time.perf_counter() - begin


def help_s() -> float:
    """`twinloop --help` in a process of its own."""

    def once():
        begin = time.perf_counter()
        subprocess.run([sys.executable, "-m", "twinloop_sim.cli", "--help"], stdout=subprocess.DEVNULL, check=True)
        return time.perf_counter() - begin

    return median(once)


def lock_step_per_s() -> float | None:
    """Lock steps a second over the virtual board's serial line; None without MicroPython."""
    from twinloop_hil.client import Client, SerialTransport
    from twinloop_hil.virtual import NoInterpreterError, VirtualBoard

    def once(client):
        client.release()
        client.inject(SUNNY_MC, lease_ms=10000)
        begin = time.perf_counter()
        for _ in range(3000):
            client.advance(5000, SUNNY_MC)
        return 3000 / (time.perf_counter() - begin)

    try:
        with VirtualBoard() as board, Client(SerialTransport(board.port)) as client:
            return median(lambda: once(client))
    except NoInterpreterError:
        return None


def measure_all(progress) -> list[dict]:
    """Every figure: name, value, unit."""
    figures = []

    def note(name, value, unit):
        figures.append({"name": name, "value": None if value is None else round(value, 4), "unit": unit})
        progress(figures[-1])

    with tempfile.TemporaryDirectory() as cache:
        note("simulate one day in a new process, cold compile cache", first_run_s(cache), "s")
        note("the same with a warm cache", first_run_s(cache), "s")
    note("washhouse-week, warm", run_s("washhouse-week"), "s")
    note("away-fortnight, warm", run_s("away-fortnight"), "s")
    note("control step, CPython", median(control_step_us), "us")
    note("control step, MicroPython 64 bit", control_step_micropython_us(), "us")
    note("lock steps over the virtual board", lock_step_per_s(), "1/s")
    for name, value, unit in measure_sizes.figures():
        note(name, value, unit)
    note("twinloop --help", help_s(), "s")
    note("peak memory of this process", resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0, "MiB")
    return figures


def show(figure: dict) -> None:
    """A figure in a line."""
    value = "not here" if figure["value"] is None else f"{figure['value']:g} {figure['unit']}"
    print(f"  {figure['name']:54} {value}", flush=True)


def main() -> int:
    """Measure, show, and write runs/bench.json."""
    print("Measured on this machine, medians of three; no number here is a limit of a test.")
    figures = measure_all(show)
    folder = Path("runs")
    folder.mkdir(exist_ok=True)
    facts = {"python": platform.python_version(), "machine": platform.machine(), "numpy": np.__version__, "figures": figures}
    (folder / "bench.json").write_text(json.dumps(facts, indent=2) + "\n")
    print(f"written to {folder / 'bench.json'}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
