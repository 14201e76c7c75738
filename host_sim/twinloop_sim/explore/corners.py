"""Corners of the accepted settings: the sets that walks start from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from twinloop.control import settings as cfg
from twinloop.reason_texts import RULE_SETTINGS

NAMES = tuple(row[0] for row in cfg.TABLE)
# Steps of a setting's range, and the most moves, to make a set acceptable.
GRID = 100
MOVES = 40
# Joint rules of the form "one is at most the other less this much" are mended exactly; others are
# searched.
ORDERED = {
    cfg.RULE_STOP_UNDER_START: (cfg.STOP_DIFFERENCE, cfg.START_DIFFERENCE, 2000),
    cfg.RULE_FULL_UNDER_LIMIT: (cfg.TANK_FULL_LOW, cfg.TANK_LIMIT, 0),
    cfg.RULE_DUMP_STOP_UNDER_START: (cfg.DUMP_COLLECTOR_STOP, cfg.DUMP_COLLECTOR_START, 5000),
    cfg.RULE_DUMP_UNDER_COLLECTOR_LIMIT: (cfg.DUMP_COLLECTOR_START, cfg.COLLECTOR_LIMIT, 15000),
    cfg.RULE_RESET_UNDER_COLLECTOR_LIMIT: (cfg.COLLECTOR_RESET, cfg.COLLECTOR_LIMIT, 5000),
    cfg.RULE_LAG_UNDER_LEAD: (cfg.EXCHANGER_LAG, cfg.EXCHANGER_LEAD, 1000),
    cfg.RULE_AWAY_UNDER_LIMIT: (cfg.AWAY_LIMIT, cfg.TANK_LIMIT, 0),
    cfg.RULE_AIR_STOP_UNDER_START: (cfg.AIR_STOP_DIFFERENCE, cfg.AIR_START_DIFFERENCE, 2000),
    cfg.RULE_ROOM_MINIMUM_UNDER_MAXIMUM: (cfg.ROOM_MINIMUM, cfg.ROOM_MAXIMUM, 2000),
}


@dataclass(frozen=True)
class Corner:
    """A set of settings and what is special about it; `wide` ones get every alphabet in full."""

    name: str
    settings: np.ndarray
    wide: bool = False


def plain(**changes: int) -> np.ndarray:
    """The defaults, except for the named settings."""
    settings = np.array([row[4] for row in cfg.TABLE], dtype=np.int32)
    for name, value in changes.items():
        settings[NAMES.index(name)] = value
    return settings


def choices(code: int) -> list[int]:
    """The values that mending may try for a setting."""
    _, _, low, high, *_ = cfg.TABLE[code]
    return sorted({low + (high - low) * step // GRID for step in range(GRID + 1)})


def least_move(settings: list[int], rule: int, code: int) -> int | None:
    """The nearest value of one setting that mends a rule, or None."""
    trial = list(settings)
    for value in sorted(choices(code), key=lambda value: abs(value - settings[code])):
        trial[code] = value
        if cfg.broken_rule(trial) != rule:
            return value
    return None


def ways(settings: list[int], rule: int) -> list[tuple[int, int]]:
    """Each single change (code, value) that may mend a rule."""
    if rule in ORDERED:
        lower, upper, gap = ORDERED[rule]
        return [(lower, settings[upper] - gap), (upper, settings[lower] + gap)]
    found = [(code, least_move(settings, rule, code)) for code in RULE_SETTINGS.get(rule, ())]
    return [(code, value) for code, value in found if value is not None]


def mended(settings: np.ndarray, pinned: tuple[int, ...]) -> np.ndarray | None:
    """The set with unpinned settings moved as little as needed to be accepted, or None.

    A setting moves a second time only when no other can, so that two rules do not move one setting
    back and forth.
    """
    trial = [int(value) for value in settings]
    moved = dict.fromkeys(range(cfg.SETTINGS), 0)
    for _ in range(MOVES):
        rule = cfg.broken_rule(trial)
        if rule == cfg.RULE_OK:
            return np.array(trial, dtype=np.int32)
        fit = []
        for code, value in ways(trial, rule):
            _, _, low, high, *_ = cfg.TABLE[code]
            if code not in pinned and low <= value <= high:
                fit.append((moved[code], abs(value - trial[code]) / (high - low), code, value))
        if not fit:
            return None
        _, _, code, value = min(fit)
        trial[code] = value
        moved[code] += 1
    return None


def extreme_value(code: int, high: bool, share: float) -> int:
    """A setting's lowest or highest value, moved inwards by a share of its range."""
    _, _, lowest, highest, *_ = cfg.TABLE[code]
    return round(highest - (highest - lowest) * share if high else lowest + (highest - lowest) * share)


def at_extreme(base: np.ndarray, *wanted: tuple[int, bool]) -> np.ndarray | None:
    """These settings (code, whether highest) as far out as accepted near `base`, or None."""
    for share in np.linspace(0.0, 0.5, 21):
        trial = base.copy()
        for code, high in wanted:
            trial[code] = extreme_value(code, high, share)
        found = mended(trial, tuple(code for code, _ in wanted))
        if found is not None:
            return found
    return None


def builds() -> list[Corner]:
    """The stations people build: topologies, crossovers, away or not, sensors left out."""
    bare = {f"{name}_fitted": 0 for name in ("loop_supply", "loop_return", "outdoor", "tap", "exchanger")}
    return [
        Corner("as shipped", plain(), wide=True),
        Corner("series", plain(dump_topology=cfg.SERIES, exercise_after=3600), wide=True),
        Corner("none", plain(dump_topology=cfg.NONE, exercise_after=3600), wide=True),
        Corner("bypass, open crossover, away, flow meter", plain(dump_crossover=1, away=1, flow_sensor=cfg.FLOW_METER), wide=True),
        Corner("series, open crossover, away", plain(dump_topology=cfg.SERIES, dump_crossover=1, away=1), wide=True),
        Corner("none, away, flow switch", plain(dump_topology=cfg.NONE, away=1, flow_sensor=cfg.FLOW_SWITCH), wide=True),
        Corner("bypass, nothing optional fitted", plain(**bare), wide=True),
        Corner("series, nothing optional but outdoor", plain(dump_topology=cfg.SERIES, **{**bare, "outdoor_fitted": 1})),
        Corner("none, nothing optional but outdoor", plain(dump_topology=cfg.NONE, **{**bare, "outdoor_fitted": 1})),
        Corner("bypass, no supply, flow switch", plain(loop_supply_fitted=0, flow_sensor=cfg.FLOW_SWITCH)),
        Corner("bypass, no supply and no exchanger", plain(loop_supply_fitted=0, exchanger_fitted=0)),
        Corner("bypass, no return and no tap", plain(loop_return_fitted=0, tap_fitted=0)),
        Corner("bypass, no outdoor and no tap", plain(outdoor_fitted=0, tap_fitted=0)),
        Corner("bypass, no outdoor and no exchanger", plain(outdoor_fitted=0, exchanger_fitted=0)),
        Corner("bypass, an air heater", plain(air_heater=1, exercise_after=3600), wide=True),
        Corner("series, an air heater whose fan draws", plain(dump_topology=cfg.SERIES, air_heater=1, fan_place=cfg.DRAWS)),
        Corner("bypass, an air heater and no outdoor", plain(air_heater=1, outdoor_fitted=0)),
    ]


def extremes() -> list[Corner]:
    """Every setting at both ends of its range, two at a time, over varying topologies."""
    rounds = (
        plain(),
        plain(dump_topology=cfg.SERIES),
        plain(away=1),
        plain(dump_topology=cfg.NONE),
        plain(dump_crossover=1, flow_sensor=cfg.FLOW_SWITCH),
    )
    wanted = [(code, high) for code in range(cfg.SETTINGS) for high in (False, True)]
    half = len(wanted) // 2
    found: list[Corner] = []
    for number, pair in enumerate(zip(wanted[:half], wanted[half:], strict=True)):
        base = rounds[number % len(rounds)]
        together = at_extreme(base, *pair)
        # Both as far out as each would be on its own.
        if together is not None and all(at_extreme(base, one)[one[0]] == together[one[0]] for one in pair):
            found.append(Corner(", ".join(extreme_name(*one) for one in pair), together))
            continue
        for one in pair:
            found.append(Corner(extreme_name(*one), at_extreme(base, one)))
    return found


def extreme_name(code: int, high: bool) -> str:
    return f"{NAMES[code]} {'highest' if high else 'lowest'}"


def drawn(count: int, seed: int) -> list[Corner]:
    """Random corners: each setting at its lowest, default or highest, then mended."""
    random = np.random.default_rng(seed)
    found = []
    while len(found) < count:
        trial = plain()
        for code, (_, _, low, high, default, _) in enumerate(cfg.TABLE):
            trial[code] = (low, default, high)[random.integers(3)]
        corner = mended(trial, ())
        if corner is not None:
            found.append(Corner(f"drawn {len(found) + 1} with seed {seed}", corner))
    return found


# Builds, extremes and a few drawn ones: the default of `twinloop explore`.
COUNT = 76


def corners(count: int, seed: int) -> list[Corner]:
    """Builds, then extremes, then drawn corners: `count` in all, each accepted."""
    fixed = [*builds(), *extremes()]
    return [*fixed, *drawn(max(count - len(fixed), 0), seed)][:count]
