"""The relay-truth sequences through the link: every interlock with good and bad readings.

Each sequence runs on the board and on this computer's control core at once. Counted as wrong: an
expectation that does not hold, and a step in which the two decide differently.
"""

from __future__ import annotations

from collections.abc import Callable

from ..sequences import library
from .frame import Check
from .mirror import by_link, run_sequence

# Module of the library: its subject, and about how many seconds it takes on the virtual board.
PARTS = {
    "charging": ("start, stop, minimum times, and a collector sensor lost in every way", 4),
    "tank": ("tank limits and their resets, lost tank sensors", 3),
    "collector": ("steam, dumping, the charge limit", 2),
    "outputs": ("the order of valve and pumps, valve travel, run-on", 3),
    "cold_slug": ("glycol that may be frosty goes through the radiator first", 8),
    "arrival": ("glycol that does not arrive, or arrives too cold", 3),
    "apart": ("collector and arriving glycol that read apart", 1),
    "restart": ("a cold start within every hysteresis band", 1),
    "frost": ("frost at the exchanger with the pumps off, stiff glycol", 3),
    "away": ("during an absence: night cooling where no radiator works", 2),
    "upkeep": ("hands, maintenance, purging, exercise", 6),
    "lies": ("faulty sensors, valve, radiator and pumps", 15),
}


def measure_part(name: str) -> Callable:
    """A measurement of all sequences of one part that are possible through the link."""
    sequences = library.sequences_of(getattr(library, name))

    def measure(bench):
        wrong = steps = 0
        first = ""
        chosen = [sequence for sequence in sequences if by_link(sequence)]
        for sequence in chosen:
            run = run_sequence(bench, sequence)
            steps += len(run.trace)
            wrong += run.differences + len(run.failures)
            if not first and (run.first or run.failures):
                first = f"; first in {sequence['name']}: {run.first or run.failures[0]}"
        bench.restore_settings()
        left = len(sequences) - len(chosen)
        aside = f", {left} left out that need the board's own inputs" if left else ""
        return wrong, 0, 0, f"wrong steps or expectations in {len(chosen)} sequences with {steps} steps{aside}{first}"

    return measure


CHECKS = tuple(
    Check(f"sequences-{name.replace('_', '-')}", what, "wrong", seconds, measure_part(name))
    for name, (what, seconds) in PARTS.items()
)
