"""Run a scenario compiled and interpreted: both must give one hash over every row of every step.

Interpreted means the control core in the firmware's own loop on CPython, one call per step; the
plant is the same compiled code. The year takes half an hour. Run as `python -m
twinloop_sim.measure.same [SCENARIO [DAYS]]`.
"""

from __future__ import annotations

import hashlib
import sys
from dataclasses import replace

from .. import scenarios
from ..engine import run as engine


def run_hash(scenario, compiled: bool, progress=lambda done, steps: None) -> str:
    """SHA-256 over the rows of all steps and the firmware's last state."""
    digest = hashlib.sha256()
    every_step = replace(scenario, trace_step_s=scenario.step_s)
    outcome = engine.run(every_step, compiled=compiled, progress=progress, write_rows=digest.update)
    digest.update(outcome.state)
    return digest.hexdigest()


def main(name: str = "year", days: str = "") -> int:
    """Print both hashes; returns 0 when they are equal."""
    scenario = scenarios.load(name)
    if days:
        scenario = replace(scenario, days=int(days), absent_days=())
    found = []
    for compiled in (True, False):
        found.append(run_hash(scenario, compiled))
        steps = scenario.days * engine.DAY_S // scenario.step_s
        print(f"{'compiled' if compiled else 'interpreted'}: {found[-1]} over {steps} steps of {name}", flush=True)
    return 0 if found[0] == found[1] else 1


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
