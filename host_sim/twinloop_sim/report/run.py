"""The input of a report: one finished run."""

from dataclasses import dataclass

import numpy as np

from .. import trace

HEAT_KEYS = (
    "collected",
    "to_tank",
    "dumped",
    "used",
    "tank_losses",
    "pipe_losses",
    "stored_change",
    "loop_change",
    "pump_heat",
    "gas",
)
DOCUMENT_KEYS = (
    "days",
    "steps",
    "step_s",
    "heat_kwh",
    "closure_percent",
    "solar_fraction",
    "starts",
    "run_hours",
    "duty_hours",
    "hottest_c",
    "hottest_true_c",
    "coldest_true_c",
    "stagnation_hours",
    "guard_actions",
    "violations",
    "faults_injected",
    "verdict",
)


@dataclass
class Run:
    """One finished run, with everything that a report shows of it.

    Args: `scenario` (name), `what` (one sentence), `start` (first moment in words, such as "3 May,
    00:00, clock time"), `document` (what `simulate --json` prints), `trace` (one array per column
    of `trace.COLUMNS`, one row per control step; temperatures in C, NaN is unknown; duty, reason
    and wait_reason are the control core's codes), `settings` (name, value, default, why; all text),
    `plant` (name, value, unit, meaning; all text).
    Raises: ValueError that names the column or key that is missing or does not fit.
    """

    scenario: str
    what: str
    start: str
    document: dict
    trace: dict[str, np.ndarray]
    settings: list[tuple[str, str, str, str]]
    plant: list[tuple[str, str, str, str]]

    def __post_init__(self):
        for name in trace.COLUMNS:
            if name not in self.trace:
                raise ValueError(f"trace: column {name} is missing")
        rows = len(self.trace["t_s"])
        if rows == 0:
            raise ValueError("trace: it has no row")
        for name in trace.COLUMNS:
            if len(self.trace[name]) != rows:
                raise ValueError(f"trace: column {name} has {len(self.trace[name])} rows, t_s has {rows}")
        for key in DOCUMENT_KEYS:
            if key not in self.document:
                raise ValueError(f"document: key {key} is missing")
        for key in HEAT_KEYS:
            if key not in self.document["heat_kwh"]:
                raise ValueError(f"document: key heat_kwh.{key} is missing")
