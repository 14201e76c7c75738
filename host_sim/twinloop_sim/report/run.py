"""The input of a report: one finished run."""

from dataclasses import dataclass

import numpy as np


@dataclass
class Run:
    """One finished run, with everything that a report shows of it.

    Args: `scenario` (name), `what` (one sentence), `start` (first moment in words, such as "3 May,
    00:00, clock time"), `document` (what `simulate --json` prints), `trace` (one array per column
    of `trace.COLUMNS`, one row per control step; temperatures in C, NaN is unknown; duty, reason
    and wait_reason are the control core's codes), `settings` (name, value, default, why; all text),
    `plant` (name, value, unit, meaning; all text).
    """

    scenario: str
    what: str
    start: str
    document: dict
    trace: dict[str, np.ndarray]
    settings: list[tuple[str, str, str, str]]
    plant: list[tuple[str, str, str, str]]
