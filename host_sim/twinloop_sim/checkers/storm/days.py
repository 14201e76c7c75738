"""From steps to calendar days."""

from __future__ import annotations

import numpy as np

DAY_S = 86400


def day_numbers(outcome) -> np.ndarray:
    """The calendar day of each step, counted from the first of these rows."""
    days = outcome.rows[:, 0].astype(int) // DAY_S
    return days - days[0]


def sums(outcome, series) -> np.ndarray:
    """The sum of a series over each calendar day."""
    return np.bincount(day_numbers(outcome), weights=series)


def each_step(outcome, by_day) -> np.ndarray:
    """A value for each calendar day, at each of its steps."""
    return by_day[day_numbers(outcome)]
