"""The [demand] part of a scenario: draws, absences, and differences between days."""

from __future__ import annotations

from dataclasses import dataclass

from ..demand.profiles import PROFILES, Draw
from ..demand.table import Variation
from .checks import check_keys, number, whole

KEYS = ("profile", "draw", "daily_kwh", "absent_days", "variation")
DRAW_KEYS = ("at", "kwh", "l_per_min")
VARIATION_KEYS = ("seed", "heat_percent", "shift_min")
HEAT_PERCENT, SHIFT_MIN = 30.0, 20.0


@dataclass(frozen=True)
class Demand:
    """Draws of a day, factor on their heat, days without draws, and how days differ."""

    draws: tuple[Draw, ...]
    scale: float
    absent_days: tuple[int, ...]
    variation: Variation | None


def read_demand(name: str, table: dict, days: int) -> Demand:
    """The checked [demand] of a scenario with this many days. Raises: ValueError."""
    check_keys(name, table, "demand.", KEYS)
    draws = own_draws(name, table["draw"]) if "draw" in table else profile_of(name, table)
    if "draw" in table and "profile" in table:
        raise ValueError(f"{name}: demand.profile and demand.draw: allowed only one of them")
    profile_kwh = sum(draw.heat_wh for draw in draws) / 1000.0
    daily_kwh = number(f"{name}: demand.daily_kwh", table.get("daily_kwh", profile_kwh), 0.0, 100.0)
    absent_days = read_absent(f"{name}: demand.absent_days", table.get("absent_days", []), days)
    return Demand(draws, daily_kwh / profile_kwh, absent_days, read_variation(name, table.get("variation")))


def read_absent(where: str, entries, days: int) -> tuple[int, ...]:
    """Days without a draw: numbers counted from 0, or pairs of the first and the last day."""
    if type(entries) is not list:
        raise ValueError(f"{where} = {entries}: allowed a list of days, counted from 0, or of pairs [first, last]")
    absent: list[int] = []
    for entry in entries:
        pair = entry if type(entry) is list else [entry, entry]
        if len(pair) != 2:
            raise ValueError(f"{where} = {entry}: allowed a day or a pair [first, last]")
        first, last = (whole(where, day, 0, days - 1) for day in pair)
        if first > last:
            raise ValueError(f"{where} = {entry}: allowed pairs with the first day not after the last")
        absent += range(first, last + 1)
    return tuple(absent)


def profile_of(name: str, table: dict) -> tuple[Draw, ...]:
    """The draws of a profile of the Regulation."""
    profile = table.get("profile", "M")
    if type(profile) is not str or profile not in PROFILES:
        raise ValueError(f"{name}: demand.profile = {profile}: allowed {', '.join(PROFILES)}")
    return PROFILES[profile]


def own_draws(name: str, rows) -> tuple[Draw, ...]:
    """Draws from tables [[demand.draw]] with `at` (clock), `kwh` (at the tap), `l_per_min`."""
    if type(rows) is not list or not rows or not all(type(row) is dict for row in rows):
        raise ValueError(f"{name}: demand.draw: allowed tables [[demand.draw]] with at, kwh, l_per_min")
    draws = []
    for place, row in enumerate(rows):
        where = f"demand.draw[{place}]."
        check_keys(name, row, where, DRAW_KEYS)
        for key in DRAW_KEYS:
            if key not in row:
                raise ValueError(f"scenario file {name}: {where}{key} is missing")
        kwh = number(f"{name}: {where}kwh", row["kwh"], 0.001, 50.0)
        flow = number(f"{name}: {where}l_per_min", row["l_per_min"], 0.5, 60.0)
        draws.append(Draw(clock_minute(f"{name}: {where}at", row["at"]), 1000.0 * kwh, flow, 25.0, None))
    return tuple(sorted(draws, key=lambda draw: draw.minute))


def clock_minute(where: str, text) -> int:
    """Minute of the day from `07:30`."""
    hour, colon, minute = str(text).partition(":")
    digits = all(part.isascii() and part.isdigit() for part in (hour, minute))
    if not colon or not digits or int(hour) > 23 or int(minute) > 59 or len(minute) != 2:
        raise ValueError(f"{where} = {text}: allowed a clock time from 00:00 to 23:59")
    return 60 * int(hour) + int(minute)


def read_variation(name: str, table) -> Variation | None:
    """The [demand.variation] of a scenario; None when all days are alike."""
    if table is None:
        return None
    if type(table) is not dict:
        raise ValueError(f"scenario file {name}: demand.variation must be a table, [demand.variation]")
    check_keys(name, table, "demand.variation.", VARIATION_KEYS)
    where = f"{name}: demand.variation."
    return Variation(
        whole(f"{where}seed", table.get("seed", 1), 0, 2**31 - 1),
        number(f"{where}heat_percent", table.get("heat_percent", HEAT_PERCENT), 0.0, 100.0),
        number(f"{where}shift_min", table.get("shift_min", SHIFT_MIN), 0.0, 120.0),
    )
