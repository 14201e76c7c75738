"""What a run's faults excuse: no controller with these sensors could do better.

Empty for a run without faults. Every entry comes from the budget in storm/budget.py, which gives
the reason.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np


@dataclass
class Allowance:
    """What is excused, step by step: each array has one value per step.

    `reads_low_k` is how far a sensor reads low without any sign of it, `lag_s` the slowest lag of
    its pocket; `excused` masks the steps that a checker does not judge. `bitten` masks watchdog
    resets, `resets` is the board's count of them.
    """

    reads_low_k: dict[int, np.ndarray] = field(default_factory=dict)
    lag_s: dict[int, float] = field(default_factory=dict)
    excused: dict[str, np.ndarray] = field(default_factory=dict)
    unpowered: np.ndarray | None = None
    bitten: np.ndarray | None = None
    resets: np.ndarray | None = None

    def low_k(self, sensor: int, steps: int) -> np.ndarray:
        """How far this sensor may read low unnoticed, in K, one value per step."""
        return self.reads_low_k.get(sensor, np.zeros(steps))

    def judged(self, name: str, steps: int) -> np.ndarray:
        """Mask of the steps that this checker judges."""
        return ~self.excused.get(name, np.zeros(steps, dtype=bool))

    def down(self, steps: int) -> np.ndarray:
        """Mask of the steps without power or with a reset."""
        return sum((mask for mask in (self.unpowered, self.bitten) if mask is not None), np.zeros(steps, dtype=bool))

    def part(self, where: slice) -> Allowance:
        """The allowance of some of the steps."""
        cut = {name: None if array is None else array[where] for name, array in self.masks().items()}
        return Allowance(
            {sensor: array[where] for sensor, array in self.reads_low_k.items()},
            self.lag_s,
            {name: array[where] for name, array in self.excused.items()},
            **cut,
        )

    def masks(self) -> dict[str, np.ndarray | None]:
        return {"unpowered": self.unpowered, "bitten": self.bitten, "resets": self.resets}
