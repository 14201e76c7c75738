"""The files of a run: report, picture and trace."""

from __future__ import annotations

import calendar
from pathlib import Path

from . import trace
from .engine.run import Outcome
from .report.annual import write_annual, write_bars
from .report.page import write_report as write_page
from .report.plots import write_overview
from .report.run import Run
from .sheets import quantities
from .thermal import parameters as p

# What a run writes into its folder.
TRACE, REPORT, OVERVIEW = NAMES = ("trace.csv", "report.html", "overview.png")


def as_run(outcome: Outcome, facts: dict) -> Run:
    """The run in the form that the report takes."""
    scenario = outcome.scenario
    month, day = scenario.start
    return Run(
        scenario=scenario.name,
        what=scenario.what,
        start=f"{day} {calendar.month_name[month]}, 00:00, clock time",
        document=facts,
        trace=dict(zip(trace.COLUMNS, outcome.rows.T, strict=True)),
        settings=quantities.settings_rows(scenario.settings),
        plant=[(row.name, f"{scenario.plant[index]:g}", row.unit, row.meaning) for row, index in p.ROWS],
    )


def trace_path(folder: Path) -> Path:
    """The trace file in a run's folder."""
    return folder / TRACE


def write_report(folder: Path, outcome: Outcome, facts: dict) -> dict:
    """Write report and picture into an existing folder; returns the `files` of the document."""
    run = as_run(outcome, facts)
    if outcome.row_every > 1:
        write_annual(folder / REPORT, run)
        write_bars(folder / OVERVIEW, run)
    else:
        write_page(folder / REPORT, run)
        write_overview(folder / OVERVIEW, run)
    return {
        "report": str(folder / REPORT),
        "trace": str(trace_path(folder)),
        "plots": [str(folder / OVERVIEW)],
    }
