"""From a mask over the steps of a run to a finding."""

from __future__ import annotations

import numpy as np


def first_where(outcome, wrong, series, limit: float, unit: str, worst=max) -> dict | None:
    """Begin of a mask over the trace, and the worst value under it; None for an empty mask."""
    if not wrong.any():
        return None
    at = int(wrong.argmax())
    return {
        "at_s": float(outcome.rows[at, 0]),
        "measured": round(float(worst(series[wrong])), 3),
        "limit": float(limit),
        "unit": unit,
    }


def begun_in(wrong, mask):
    """The stretches of `wrong` that began under `mask`: what began excused stays excused."""
    begins = wrong & ~np.concatenate(([False], wrong[:-1]))
    number = np.cumsum(begins)
    first = np.flatnonzero(begins)
    return wrong & np.concatenate(([False], mask[first]))[number]


def runs_longer(mask, steps: int):
    """Where a mask has been true for more than `steps` steps in a row."""
    count = np.arange(1, len(mask) + 1)
    since = np.maximum.accumulate(np.where(mask, 0, count))
    return mask & (count - since > steps)
