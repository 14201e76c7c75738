"""Draws the faults of an episode: their number, class, time and size."""

from __future__ import annotations

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control.readings import FITTED_BY

from . import block as b
from .budget import beyond
from .faults import AIR_ROWS, CLASSES, DAY, EVERY_SENSOR, HOUR, ROWS, TANK_SENSORS, Fault, Row

# Chances of one, two and three faults at once.
AT_ONCE = (0.5, 0.35, 0.15)
# Chance that a fault is persistent: to the end of the safety phase.
PERSISTENT = 0.4
# Chance of each class; within a class, all rows that fit the plant are equally likely.
CLASS_SHARES = (0.4, 0.1, 0.07, 0.12, 0.1, 0.11, 0.1)
# Chance that a fault begins by day, and the hours of that day.
BY_DAY = 0.6
SUNNY_H = (8.0, 15.0)


def possible(row: Row, case) -> bool:
    """Whether this plant has the part that the fault hits."""
    if row.targets == ("flow",):
        return case.setting(cfg.FLOW_SENSOR) != cfg.NO_FLOW_SENSOR
    if row.name in AIR_ROWS:
        return case.setting(cfg.AIR_HEATER) == 1
    if row.name in ("valve_relay_off", "valve_relay_welded", "valve_stuck", "valve_leaks", "radiator_covered"):
        return case.topology() != "none"
    return True


def fitted(case) -> list[str]:
    """The sensors that this station has."""
    return [name for name, by in zip(EVERY_SENSOR, FITTED_BY, strict=True) if by == s.ALWAYS or case.setting(by)]


def targets(row: Row, case) -> list[str]:
    """What a fault may hit: fitted sensors, the three that decide most three times as often."""
    if len(row.targets) == 1:
        return list(row.targets)
    there = [name for name in fitted(case) if name in row.targets]
    return there + 2 * [name for name in there if name in ("collector", *TANK_SENSORS)]


def draw_size(random, row: Row, target: str, case) -> float:
    """Draw a size within the row's range.

    A valve sticks at an end or half-way, a sensor is swapped with another that is fitted, and hands
    hold one to three outputs.
    """
    if row.kind == b.VALVE_HELD:
        return float(random.choice((0.0, 0.5, 1.0)))
    if row.name == "swapped_others":
        return float(EVERY_SENSOR.index(str(random.choice([name for name in fitted(case) if name != target]))))
    if row.kind == b.HELD:
        held = int(random.integers(1, b.HELD_BY))
        return float(b.HELD_BY * held + (held & int(random.integers(0, b.HELD_BY))))
    if row.kind == b.SAGS:
        return float(random.integers(1, 4))
    return round(float(random.uniform(*row.size)), 3)


def draw_begin_s(random, safety_s: float) -> float:
    """Draw a start within 70 % of the safety phase, mostly by day, when most faults are felt."""
    begin_s = float(random.uniform(0.02, 0.7)) * safety_s
    if random.random() < BY_DAY:
        begin_s = begin_s // DAY * DAY + float(random.uniform(*SUNNY_H)) * HOUR
    return min(begin_s, 0.9 * safety_s)


def draw_fault(random, row: Row, case) -> Fault:
    """Draw one fault of a row, within the safety phase of the case."""
    safety_s = case.safety_s()
    begin_s = draw_begin_s(random, safety_s)
    shortest_s, longest_s = row.lasts_s
    length_s = float(np.exp(random.uniform(np.log(shortest_s), np.log(longest_s))))
    end_s = min(begin_s + length_s, safety_s)
    if row.persistent and random.random() < PERSISTENT:
        end_s = safety_s
    step_s = case.step_s
    begin_s = begin_s // step_s * step_s
    end_s = max(end_s // step_s * step_s, begin_s + step_s)
    changed = case.other_settings(random) if row.name == "settings_changed" else ()
    target = str(random.choice(targets(row, case)))
    return Fault(row.name, target, draw_size(random, row, target, case), begin_s, end_s, changed)


def draw_row(random, rows: list[Row]) -> Row:
    """Draw a class by its chance, then a row of that class."""
    there = [any(row.group == group for row in rows) for group in CLASSES]
    shares = np.array(CLASS_SHARES) * there
    group = CLASSES[int(random.choice(len(CLASSES), p=shares / shares.sum()))]
    rows = [row for row in rows if row.group == group]
    return rows[int(random.integers(len(rows)))]


def draw_faults(random, case, only: str | None) -> tuple[Fault, ...]:
    """Draw the faults of an episode, within the budget; see draw.Wish."""
    rows = [row for row in ROWS if possible(row, case) and only in (None, row.name)]
    if not rows:
        return ()
    count = 1 if only else 1 + int(random.choice(len(AT_ONCE), p=AT_ONCE))
    faults: tuple[Fault, ...] = ()
    for _ in range(20):
        if len(faults) == count:
            break
        more = (*faults, draw_fault(random, draw_row(random, rows), case))
        if not beyond(more, case):
            faults = more
    return faults
