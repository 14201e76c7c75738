"""48 hours of readings give the same results on CPython, compiled, and on MicroPython."""

import binascii
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import twinloop
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_hil.virtual.board import NoInterpreterError, find_interpreter
from twinloop_sim import scenarios, trace
from twinloop_sim.engine import compiled
from twinloop_sim.engine import run as engine

STEPS = 34560
RUNNER = Path(__file__).parent / "parity_runner.py"
FIRMWARE = Path(twinloop.__file__).parent.parent


@pytest.fixture(scope="module")
def inputs():
    """Two days of simulated readings, made hard: lost wires, jumps, odd steps, heat, frost."""
    outcome = engine.run(scenarios.load("washhouse-week"))
    random = np.random.default_rng(20260511)
    table = np.zeros((STEPS, s.INPUTS), dtype=np.int32)
    believed = outcome.rows[:STEPS, trace.BELIEVED : trace.BELIEVED + s.SENSORS]
    table[:, s.IN_RAW_MC : s.IN_RAW_MC + s.SENSORS] = np.nan_to_num(believed, nan=20.0) * 1000
    table[:, s.IN_DT_MS] = 5000
    readings = table[:, s.IN_RAW_MC : s.IN_RAW_MC + s.SENSORS]
    # On the second day, hours shifted by tens of kelvin cross every limit in both directions.
    for begin in range(STEPS // 2, STEPS - 720, 720):
        readings[begin : begin + 720, random.integers(s.SENSORS)] += random.integers(-60000, 90000)
    for begin in random.integers(0, STEPS - 60, 150):
        length = random.integers(1, 60)
        table[begin : begin + length, s.IN_RAW_CAUSE + random.integers(s.SENSORS)] = random.integers(1, 9)
    for at in random.integers(0, STEPS, 300):
        readings[at, random.integers(s.SENSORS)] += random.integers(-80000, 80000)
    table[random.integers(0, STEPS, 200), s.IN_DT_MS] = random.integers(1, 200000, 200)
    # An undisturbed hot spell: the collector climbs past its limit and falls again.
    table[20000:20400, s.IN_RAW_CAUSE :] = 0
    table[20000:20400, s.IN_RAW_MC + s.COLLECTOR] = 70000 + 60000 * np.sin(np.linspace(0.0, np.pi, 400))
    table[30000:30100, s.IN_RESETS] = 3
    return table


def run_with(interpreter, inputs, folder, name):
    """Run the runner in a process of its own; returns its rows."""
    source, sink = folder / "inputs", folder / name
    source.write_bytes(inputs.tobytes())
    subprocess.run([interpreter, str(RUNNER), str(FIRMWARE), str(source), str(sink)], check=True, timeout=120)
    return np.frombuffer(sink.read_bytes(), dtype=np.int32).reshape(-1, 5)


@pytest.fixture(scope="module")
def on_cpython(inputs, tmp_path_factory):
    """The interpreted reference."""
    return run_with(sys.executable, inputs, tmp_path_factory.mktemp("parity"), "cpython")


def test_readings_reach_far(on_cpython):
    """The comparison covers most duties, reasons and relays."""
    assert len(on_cpython) == STEPS
    assert {s.IDLE, s.CHARGING, s.DUMPING, s.STAGNATION_HOLD, s.FAULT_STOP} <= set(on_cpython[:, 1])
    assert len(set(on_cpython[:, 2])) >= 10
    assert set(on_cpython[:, 0]) >= {0, 1, 4, 7}


def test_micropython_equals_cpython(inputs, on_cpython, tmp_path):
    """Step by step, down to a CRC over the whole state."""
    try:
        interpreter = find_interpreter()
    except NoInterpreterError as missing:
        pytest.skip(str(missing))
    assert np.array_equal(run_with(interpreter, inputs, tmp_path, "micropython"), on_cpython)


def test_compiled_equals_cpython(inputs, on_cpython):
    """The same files through numba."""
    station = compiled.load_control(FIRMWARE / "twinloop" / "control")
    state = np.zeros(s.STATE, dtype=np.int32)
    settings = np.array([row[4] for row in cfg.TABLE], dtype=np.int32)
    now = np.zeros(s.INPUTS, dtype=np.int32)
    station.wake(state, settings, now)
    for k in range(STEPS):
        now[:] = inputs[k]
        station.step(state, settings, now)
        commands = state[s.COMMAND] | state[s.COMMAND + 1] << 1 | state[s.COMMAND + 2] << 2
        seen = (commands, state[s.DUTY], state[s.REASON], state[s.WAIT_REASON], binascii.crc32(state.tobytes()) & 0x3FFFFFFF)
        assert seen == tuple(on_cpython[k]), f"step {k}"
