"""Time of one control step on each interpreter, and of a lock step, for `make bench`."""

from __future__ import annotations

import shutil
import statistics
import subprocess
import tempfile
import time
from array import array
from pathlib import Path

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control import station

from .figure import REPEATS, Figure, median
from .sizes import RUNTIME, WASM, interpreter

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


def control_step_us() -> float:
    """One control step, interpreted on CPython."""
    state, settings, inputs = (array("i", [0] * size) for size in (s.STATE, cfg.SETTINGS, s.INPUTS))
    cfg.load_defaults(settings)
    station.wake(state, settings, inputs)
    inputs[s.IN_RAW_MC : s.IN_RAW_MC + s.SENSORS] = array("i", SUNNY_MC)
    inputs[s.IN_DT_MS] = 5000
    begin = time.perf_counter()
    for _ in range(STEPS):
        station.step(state, settings, inputs)
    return 1e6 * (time.perf_counter() - begin) / STEPS


def control_step_32_us() -> float | None:
    """One control step on 32-bit MicroPython (WebAssembly under node); None without it."""
    if shutil.which("node") is None or not WASM.exists():
        return None
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "program.py").write_text(ON_MICROPYTHON)
        (folder / "source").write_bytes(b"")
        firmware = Path(cfg.__file__).parent.parent.parent
        call = ["node", str(RUNTIME / "wasm.mjs"), str(WASM), str(firmware), str(folder / "program.py")]
        call += [str(folder / "source"), str(folder / "sink")]
        done = [subprocess.run(call, capture_output=True, text=True, check=False).stdout for _ in range(REPEATS)]
    found = [float(text.split()[-1]) for text in done if text.strip()]
    return statistics.median(found) if found else None


def control_step_micropython_us() -> float | None:
    """One control step on MicroPython's Unix port; None without it."""
    if interpreter() is None:
        return None
    with tempfile.NamedTemporaryFile("w", suffix=".py") as program:
        program.write(ON_MICROPYTHON)
        program.flush()
        call = [interpreter(), program.name, str(Path(cfg.__file__).parent.parent.parent)]
        return median(lambda: float(subprocess.run(call, capture_output=True, text=True, check=True).stdout))


def compiled_step_us() -> float:
    """One compiled control step, called from a compiled loop, on the same readings."""
    import numba

    from ..engine.compiled import SHIPPED, load_control

    step = load_control(SHIPPED).step
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


def lock_step_per_s() -> float | None:
    """Lock steps per second over the virtual board's serial line; None without MicroPython."""
    from twinloop_hil.client import Client, SerialTransport
    from twinloop_hil.virtual.board import VirtualBoard

    def once(client):
        client.release()
        client.inject(SUNNY_MC, lease_ms=10000)
        begin = time.perf_counter()
        for _ in range(3000):
            client.advance(5000, SUNNY_MC)
        return 3000 / (time.perf_counter() - begin)

    if interpreter() is None:
        return None
    with VirtualBoard() as board, Client(SerialTransport(board.port)) as client:
        return median(lambda: once(client))


def figures() -> list[Figure]:
    return [
        Figure("control step, CPython", median(control_step_us), "us"),
        Figure("control step, compiled", median(compiled_step_us), "us"),
        Figure("control step, MicroPython 64 bit", control_step_micropython_us(), "us"),
        Figure("control step, MicroPython 32 bit under node", control_step_32_us(), "us"),
        Figure("lock steps over the virtual board", lock_step_per_s(), "1/s", more=True),
    ]
