"""The relay-truth sequences through the link: every interlock with its cold, hot, between, broken and restored readings.

Each sequence runs on the board and on the control core of this computer at once. What counts as wrong is an expectation that does
not hold, and a step in which the board decides otherwise than the core here.
"""

from __future__ import annotations

from collections.abc import Callable

from ..sequences import library
from .frame import Check
from .mirror import by_link, run_sequence

# Part, what its sequences are about, and about how long they take on the virtual board.
PARTS = {
    "charging": ("start, stop, minimum times, a collector sensor lost in every way", 4),
    "tank": ("limits of the tank, its resets, its sensors lost", 3),
    "collector": ("steam, dumping, the charge limit", 2),
    "outputs": ("the order of valve and pumps, run-on, travel", 3),
    "cold_slug": ("glycol that may be frosty goes round the radiator first", 8),
    "arrival": ("glycol that does not arrive, or too cold", 4),
    "restart": ("cold start within every hysteresis band", 1),
    "frost": ("frost at the exchanger with the pumps off, stiff glycol", 3),
    "away": ("nobody draws water: lower limits, night cooling", 2),
    "upkeep": ("hands, maintenance, purge, exercise", 6),
    "lies": ("sensors, valve, radiator and pumps that lie", 15),
}


def measure_part(name: str) -> Callable:
    """All sequences of one part that can be said through the link."""
    part = getattr(library, name)

    def measure(bench):
        wrong = steps = 0
        first = ""
        chosen = [sequence for sequence in part.SEQUENCES if by_link(sequence)]
        for sequence in chosen:
            run = run_sequence(bench, sequence)
            steps += len(run.trace)
            wrong += run.differences + len(run.failures)
            if not first and (run.first or run.failures):
                first = f"; first in {sequence['name']}: {run.first or run.failures[0]}"
        bench.restore_settings()
        left = len(part.SEQUENCES) - len(chosen)
        aside = f", {left} left out that no host can put in" if left else ""
        return wrong, 0, 0, f"steps or expectations, of {len(chosen)} sequences with {steps} steps{aside}{first}"

    return measure


CHECKS = tuple(
    Check(f"sequences-{name.replace('_', '-')}", what, "wrong", seconds, measure_part(name))
    for name, (what, seconds) in PARTS.items()
)
