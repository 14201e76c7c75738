"""One measured figure, and medians, for `make bench`."""

from __future__ import annotations

import resource
import statistics
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

REPEATS = 3
# A regression. Medians of three differ by less on an idle machine.
WORSE_SHARE = 0.2


@dataclass(frozen=True)
class Figure:
    """A name, a value (None where it cannot be measured here) and its unit.

    `more` says that more is better; `at_most` and `at_least` are bounds to keep.
    """

    name: str
    value: float | None
    unit: str
    more: bool = False
    at_most: float | None = None
    at_least: float | None = None

    def missed(self) -> bool:
        """Whether it misses its bound."""
        if self.value is None:
            return False
        above = self.at_most is not None and self.value > self.at_most
        return above or (self.at_least is not None and self.value < self.at_least)

    def worse(self, before: float | None) -> bool:
        """Whether it is a regression against this earlier value."""
        if self.value is None or not before:
            return False
        return self.value < before * (1.0 - WORSE_SHARE) if self.more else self.value > before * (1.0 + WORSE_SHARE)


def median(measure: Callable[[], float]) -> float:
    return statistics.median([measure() for _ in range(REPEATS)])


def most_held_mib() -> float:
    """The peak memory of this process, in MiB."""
    status = Path("/proc/self/status")
    if status.exists():
        # Not ru_maxrss: on Linux it starts from the parent process's peak.
        return next(int(line.split()[1]) for line in status.read_text().splitlines() if line.startswith("VmHWM")) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
