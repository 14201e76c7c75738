"""The memory of a long run whose trace goes to disk: no more than for one month."""

import json
import subprocess
import sys

import pytest
from twinloop_sim import trace

# One row per minute, so that the 85 MB of the long run's rows would show.
RUN = """
import dataclasses, json, sys
from twinloop_sim import scenarios, trace
from twinloop_sim.engine import run as engine
from twinloop_sim.measure.figure import most_held_mib
scenario = dataclasses.replace(scenarios.load("year"), days=int(sys.argv[1]), step_s=60, trace_step_s=60)
if sys.argv[2] == "disk":
    with trace.Writer("trace.csv") as writer:
        outcome = engine.run(scenario, write_rows=writer.write_rows)
else:
    outcome = engine.run(scenario)
print(json.dumps({"mib": most_held_mib(), "kept": len(outcome.rows)}))
"""
SHORT, LONG = 40, 150


@pytest.fixture(scope="module")
def held(tmp_path_factory):
    """Peak memory and kept rows: short and long run with traces on disk, long one without."""
    folder = tmp_path_factory.mktemp("memory")
    found = {}
    for days, where in ((SHORT, "disk"), (LONG, "disk"), (LONG, "memory")):
        call = [sys.executable, "-c", RUN, str(days), where]
        run = subprocess.run(call, capture_output=True, text=True, timeout=240, cwd=folder)
        assert run.returncode == 0, run.stderr
        found[days, where] = json.loads(run.stdout)
        if where == "disk":
            with open(folder / "trace.csv") as file:
                assert sum(1 for _ in file) == 1 + days * 1440
    return found


def test_memory_is_flat_with_days_when_the_trace_goes_to_disk(held):
    # Measured: 365 MiB for 40 days, 376 MiB for 240.
    assert held[LONG, "disk"]["mib"] <= 1.1 * held[SHORT, "disk"]["mib"]
    assert held[LONG, "disk"]["kept"] == LONG * 144


def test_it_is_not_flat_when_rows_are_kept(held):
    """Negative: without a file the same run keeps all its rows, and that shows."""
    assert held[LONG, "memory"]["kept"] == LONG * 1440
    assert held[LONG, "memory"]["mib"] > 1.15 * held[LONG, "disk"]["mib"]


def test_an_interrupted_run_leaves_no_trace_that_looks_whole(tmp_path):
    with pytest.raises(KeyboardInterrupt), trace.Writer(tmp_path / "trace.csv"):
        raise KeyboardInterrupt
    assert list(tmp_path.iterdir()) == []
