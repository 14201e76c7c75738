"""`make bench`: how fast and how large, measured on this machine in one run, medians of several; a table and one JSON file."""

from __future__ import annotations

import contextlib
import importlib.util
import json
import os
import platform
import shutil
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

from . import engine, measure_sizes, scenarios, trace
from .compiled import compiled_block
from .storm import commit_of
from .thermal import parameters as p
from .thermal.storage import initial_plant

CHECKOUT = Path(__file__).resolve().parents[2]
# A line a run, kept with the code, so that a regression shows.
HISTORY = CHECKOUT / "docs" / "bench-history.jsonl"
SOLVER = CHECKOUT / "tests" / "host_sim" / "test_thermal_solver.py"
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
if len(sys.argv) > 3:
    open(sys.argv[3], "w").close()
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


def control_step_32_us() -> float | None:
    """One control step on a 32-bit MicroPython (WebAssembly under node); None without it."""
    if shutil.which("node") is None or not measure_sizes.WASM.exists():
        return None
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "program.py").write_text(ON_MICROPYTHON)
        (folder / "source").write_bytes(b"")
        firmware = Path(cfg.__file__).parent.parent.parent
        call = ["node", str(measure_sizes.RUNTIME / "wasm.mjs"), str(measure_sizes.WASM), str(firmware), str(folder / "program.py")]
        call += [str(folder / "source"), str(folder / "sink")]
        done = [subprocess.run(call, capture_output=True, text=True, check=False).stdout for _ in range(REPEATS)]
    found = [float(text.split()[-1]) for text in done if text.strip()]
    return statistics.median(found) if found else None


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


def compiled_step_us() -> float:
    """One control step, compiled, called from a compiled loop; on the sunny readings of the others."""
    import numba

    from .compiled import load_control

    step = load_control(Path(station.__file__).parent).step
    state, settings, inputs = (np.zeros(size, dtype=np.int32) for size in (s.STATE, cfg.SETTINGS, s.INPUTS))
    cfg.load_defaults(settings)
    station.wake(state, settings, inputs)
    inputs[s.IN_RAW_MC : s.IN_RAW_MC + s.SENSORS] = SUNNY_MC
    inputs[s.IN_DT_MS] = 5000

    @numba.njit
    def loop(state, settings, inputs, count):
        for _ in range(count):
            step(state, settings, inputs)

    loop(state, settings, inputs, 10)
    begin = time.perf_counter()
    loop(state, settings, inputs, 50 * STEPS)
    return 1e6 * (time.perf_counter() - begin) / (50 * STEPS)


def year_and_floor_s() -> tuple[float, float]:
    """The compiled loop of a year with the firmware in it, and the same with its commands replayed: seconds in the loop alone."""
    scenario = scenarios.load("year")
    replay = compiled_block(None, "replay_block", "run_replay_block")
    setup, floor = engine.Setup(scenario), engine.Setup(scenario)
    runner = engine.CompiledRunner(setup)
    runs_s = floor_s = 0.0
    for part in setup.parts:
        if part.first_day:
            setup.load(part)
            floor.drive, floor.rows = setup.drive, np.zeros_like(setup.rows)
        begin = time.perf_counter()
        runner.run(slice(0, len(setup.drive)))
        middle = time.perf_counter()
        told = setup.rows
        replay(
            floor.plant,
            floor.values,
            setup.drive,
            floor.flux,
            floor.facts,
            floor.command,
            runner.state,
            told,
            setup.dt_ms,
            floor.rows,
        )
        floor_s += time.perf_counter() - middle
        runs_s += middle - begin
        # The same plant, so the same temperatures: otherwise the floor would be another one.
        same = slice(trace.TRUE_SENSORS, trace.TRUE_SENSORS + s.SENSORS)
        if not np.array_equal(floor.rows[:, same], told[:, same]):
            raise RuntimeError("make bench: the replayed plant is not the plant of the run")
    return runs_s, floor_s


def solver_day_s() -> float | None:
    """One day of the plant's equations by scipy's implicit solver at tight tolerance; None outside of a checkout."""
    if not SOLVER.exists():
        return None
    spec = importlib.util.spec_from_file_location("solver", SOLVER)
    solver = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(solver)
    values = p.plant_values(solver.PLANT)
    start = initial_plant(values, 6.0, 15.0, 35.0)
    begin = time.perf_counter()
    solver.by_scipy(values, start)
    return time.perf_counter() - begin


def process_of_a_year() -> dict:
    """A year in a process of its own, warm: seconds in all, and the most memory it held."""
    program = (
        "import json, resource, time; begin = time.perf_counter(); from twinloop_sim import engine, scenarios; "
        "outcome = engine.run(scenarios.load('year')); "
        "print(json.dumps({'s': outcome.wall_s, 'mib': resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024}))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def storm_years_per_h(workers: int) -> float:
    """Years of storm an hour, from the 61 episodes of one."""
    from . import storm

    begin = time.perf_counter()
    storm.run(1, 1, 6, None, lambda *_: None, workers=workers)
    return 3600.0 / (time.perf_counter() - begin)


def explored_per_s() -> float:
    """Transitions a second of the exploring walk, on the station as shipped."""
    from . import explore
    from .explore_corners import builds

    explore.search(builds()[2:3], rooms=explore.ROOMS[:1], tell=lambda text: None)
    begin = time.perf_counter()
    found = explore.search(builds()[:1], tell=lambda text: None)
    return float(found.seen[explore.w.TRANSITIONS]) / (time.perf_counter() - begin)


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
    year = [process_of_a_year() for _ in range(REPEATS)]
    note("a year at 5 s in a process of its own, warm", statistics.median(one["s"] for one in year), "s")
    note("most memory that it held", statistics.median(one["mib"] for one in year), "MiB")
    loops = [year_and_floor_s() for _ in range(REPEATS)]
    runs_s, floor_s = (statistics.median(each) for each in zip(*loops, strict=True))
    note("(a) the compiled loop of a year, firmware in it", runs_s, "s")
    note("(b) its floor: the same with the commands replayed", floor_s, "s")
    note("(a) over (b)", runs_s / floor_s, "times")
    day_s = solver_day_s()
    note("(c) scipy's implicit solver on the same equations, a day times 365", day_s and 365 * day_s, "s")
    note("(c) over (a)", day_s and 365 * day_s / runs_s, "times")
    note("control step, CPython", median(control_step_us), "us")
    note("control step, compiled", median(compiled_step_us), "us")
    note("control step, MicroPython 64 bit", control_step_micropython_us(), "us")
    note("control step, MicroPython 32 bit under node", control_step_32_us(), "us")
    note("lock steps over the virtual board", lock_step_per_s(), "1/s")
    for name, value, unit in measure_sizes.figures():
        note(name, value, unit)
    note("twinloop --help", help_s(), "s")
    alone, shared = storm_years_per_h(1), storm_years_per_h(2)
    note("storm with one worker", alone, "years/h")
    note("storm with two workers", shared, "years/h")
    note("two workers over one", shared / alone, "times")
    note("explored transitions", explored_per_s(), "1/s")
    return figures


def show(figure: dict, before: dict) -> None:
    """A figure in a line, with the last one of this machine beside it."""
    value = "not here" if figure["value"] is None else f"{figure['value']:g} {figure['unit']}"
    last = before.get(figure["name"])
    print(f"  {figure['name']:68} {value:18}" + (f" before: {last:g}" if last is not None else ""), flush=True)


def last_figures(machine: str) -> dict:
    """The newest figures of this machine in the history, by name."""
    if not HISTORY.exists():
        return {}
    entries = [json.loads(line) for line in HISTORY.read_text().splitlines()]
    own = [entry for entry in entries if entry["machine"] == machine]
    return own[-1]["figures"] if own else {}


def machine_name() -> str:
    """Processor and how many of it, so that only like is compared with like."""
    model = platform.machine()
    with contextlib.suppress(OSError):
        lines = Path("/proc/cpuinfo").read_text().splitlines()
        model = next((line.split(":")[1].strip() for line in lines if line.startswith("model name")), model)
    return f"{model}, {os.cpu_count()} processors"


def main() -> int:
    """Measure, show, write runs/bench.json, and add a line to the history."""
    machine = machine_name()
    print("Measured on this machine in one run, medians of three; some five minutes. No number here is a limit of a test.")
    before = last_figures(machine)
    figures = measure_all(lambda figure: show(figure, before))
    folder = Path("runs")
    folder.mkdir(exist_ok=True)
    facts = {"python": platform.python_version(), "machine": machine, "numpy": np.__version__, "figures": figures}
    (folder / "bench.json").write_text(json.dumps(facts, indent=2) + "\n")
    entry = {"date": time.strftime("%Y-%m-%d"), "commit": commit_of(), "machine": machine}
    entry["figures"] = {figure["name"]: figure["value"] for figure in figures}
    if HISTORY.parent.is_dir():
        with HISTORY.open("a") as history:
            history.write(json.dumps(entry) + "\n")
    print(f"written to {folder / 'bench.json'}; {HISTORY.name} has one line more")
    return 0


if __name__ == "__main__":
    sys.exit(main())
