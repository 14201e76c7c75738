"""Safety rules checked on plant truth, one per file: each has NAME, TEXT and `check(outcome)`.

`check` returns None when the rule held, or a finding: at_s (first time), measured, limit, unit. It
judges the plant itself, not what the firmware believes.
"""

from __future__ import annotations

from . import (
    collector_pump_hot,
    collector_pump_steam,
    exchanger_ice,
    guard_idle,
    loop_freeze,
    missed_sun,
    power_return,
    reset_safe,
    room_over,
    stagnation,
    storm,
    tank_blind,
    tank_inlet,
    tank_node,
    tank_over,
    tap_scald,
)

ALL = (
    tank_node,
    tank_inlet,
    tank_blind,
    tank_over,
    exchanger_ice,
    loop_freeze,
    tap_scald,
    collector_pump_hot,
    collector_pump_steam,
    stagnation,
    power_return,
    reset_safe,
    room_over,
    guard_idle,
)
# What a storm checks. Left out: a hot collector (unavoidable with a full tank and no radiator), and
# two rules that depend on the builder: enough glycol, and a mixing valve that mixes. Added: a
# station without faults must do its work, and what only days can show.
STORM = (*(checker for checker in ALL if checker not in (stagnation, loop_freeze, tap_scald)), missed_sun, *storm.ALL)


def check_all(outcome, which=ALL) -> list[dict]:
    """Findings of the rules that were broken, with name and sentence."""
    found = []
    for checker in which:
        finding = checker.check(outcome)
        if finding is not None:
            found.append({"name": checker.NAME, "text": checker.TEXT, **finding})
    return found


def merged(parts: list[list[dict]]) -> list[dict]:
    """The findings of all parts in order, each with its first time and its worst value."""
    found: dict[str, dict] = {}
    for finding in (finding for part in parts for finding in part):
        first = found.setdefault(finding["name"], dict(finding))
        worst = max if first["measured"] >= first["limit"] else min
        first["measured"] = worst(first["measured"], finding["measured"])
    return list(found.values())
