"""Safety invariants, one a file, judged on plant truth: each has NAME, TEXT and `check(outcome)`.

`check` returns None when the invariant held, or a finding: at_s (first time), measured, limit, unit. What the firmware believes is
not asked.
"""

from __future__ import annotations

from . import collector_pump_hot, exchanger_ice, guard_idle, loop_freeze, stagnation, tank_inlet, tank_node, tap_scald

ALL = (tank_node, tank_inlet, exchanger_ice, loop_freeze, tap_scald, collector_pump_hot, stagnation, guard_idle)


def check_all(outcome) -> list[dict]:
    """Every invariant that did not hold, with its name and sentence."""
    found = []
    for checker in ALL:
        finding = checker.check(outcome)
        if finding is not None:
            found.append({"name": checker.NAME, "text": checker.TEXT, **finding})
    return found


def first_where(outcome, wrong, series, limit: float, unit: str, worst=max) -> dict | None:
    """A finding from a mask over the trace: when it began, and the worst of the series under it."""
    if not wrong.any():
        return None
    at = int(wrong.argmax())
    return {
        "at_s": float(outcome.rows[at, 0]),
        "measured": round(float(worst(series[wrong])), 3),
        "limit": limit,
        "unit": unit,
    }
