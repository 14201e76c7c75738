"""Scenarios: the shipped ones, reading a file, and changes by `--set`."""

from __future__ import annotations

import calendar
import os
import tomllib
from array import array
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

import numpy as np
from twinloop.control import settings as cfg

from ..demand.table import Variation
from ..sheets import quantities
from ..thermal import parameters as p
from ..thermal import presets
from ..weather.files import check_weather
from .checks import check_keys, number, whole
from .demand import read_demand

FOLDER = Path(__file__).parent
DEFAULT = "washhouse-week"
DAYS_TOP = 366
# Defaults of a file that leaves these out: the week of the default scenario.
DEFAULT_WHAT, DEFAULT_START, DEFAULT_DAYS = "Your own plant", "05-12", 7
KEYS = ("what", "weather", "start", "days", "step_s", "trace_step_s", "cloud_seed", "collector", "clear_sky")
KEYS += ("demand", "tank", "settings", "plant")
TANK_KEYS = ("low_c", "high_c")
# Place and air of cloudless days: lowest and highest value allowed.
CLEAR_SKY = {
    "latitude_deg": (-90.0, 90.0),
    "longitude_deg": (-180.0, 180.0),
    "altitude_m": (-400.0, 4500.0),
    "utc_offset_h": (-12.0, 14.0),
    "coldest_c": (-50.0, 50.0),
    "warmest_c": (-50.0, 60.0),
}
# A run of up to this many days is one piece with one trace row per step. A longer run goes month by
# month and by default keeps one row per ten minutes (about 15 MB for a year).
LONG_DAYS, LONG_TRACE_S = 31, 600

_SETTINGS = {row[0]: code for code, row in enumerate(cfg.TABLE)}
_PLANT = {row.name: row for row, _ in p.ROWS}
# Settings that describe the plant, and the plant value of each: `--set` of the setting changes
# both, the plant's own name only the plant.
TWINS = {
    "dump_topology": "dump_topology",
    "dump_travel": "dump_travel_s",
    "dump_crossover": "dump_crossover_open",
    "glycol_mass_percent": "glycol_mass_percent",
    "collector_flow": "collector_flow_l_per_min",
    "tank_flow": "tank_flow_l_per_min",
    "loop_pressure": "loop_pressure_kpa",
    "collector_height": "collector_height_m",
    "altitude": "altitude_m",
    "fan_place": "air_fan_draws",
}
# How many of the setting's unit make one of the plant's.
_PER_PLANT_UNIT = {"choice": 1, "ms": 1000, "%": 1, "ml/min": 1000, "kPa": 1, "m": 1, "h": 1}


@dataclass
class Scenario:
    """One run, complete and checked."""

    name: str
    what: str
    weather: str
    start: tuple[int, int]
    days: int
    step_s: int
    trace_step_s: int
    cloud_seed: int | None
    clear_sky: dict | None
    profile: tuple
    draw_scale: float
    absent_days: tuple[int, ...]
    variation: Variation | None
    start_tank_low_c: float
    start_tank_high_c: float
    settings: array
    plant: np.ndarray
    changed_settings: tuple[str, ...]


def shipped() -> list[str]:
    return sorted(path.stem for path in FOLDER.glob("*.toml"))


def describe(name: str) -> tuple[int, str]:
    """Days and one sentence of a shipped scenario."""
    table = read_table(name)
    return table.get("days", DEFAULT_DAYS), table.get("what", DEFAULT_WHAT)


def read_table(name: str) -> dict:
    """The data of a scenario, by shipped name or path of a TOML file. Raises: ValueError."""
    if not name.endswith(".toml") and name not in shipped():
        raise ValueError(f"scenario {name}: not known, allowed {', '.join(shipped())} or the path of a .toml file")
    path = Path(name) if name.endswith(".toml") else FOLDER / f"{name}.toml"
    if os.path.isdir(path):
        raise ValueError(f"scenario file {name}: a folder")
    if not os.path.isfile(path):
        raise ValueError(f"scenario file {name}: not found")
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
        raise ValueError(f"scenario file {name}: {fault}") from None
    except OSError as fault:
        raise ValueError(f"scenario file {name}: {fault.strerror}") from None
    for part in ("clear_sky", "demand", "tank", "settings", "plant"):
        if type(table.get(part, {})) is not dict:
            raise ValueError(f"scenario file {name}: {part} must be a table, [{part}]")
    check_keys(name, table, "", KEYS)
    check_keys(name, table.get("tank", {}), "tank.", TANK_KEYS)
    if type(table.get("what", "")) is not str:
        raise ValueError(f"scenario file {name}: what must be a text")
    return table


def start_day(where: str, text) -> tuple[int, int]:
    """Month and day from `05-12`."""
    parts = str(text).split("-")
    if len(parts) != 2 or not all(part.isascii() and part.isdigit() and len(part) <= 2 for part in parts):
        raise ValueError(f"{where} = {text}: allowed month-day, such as 05-12")
    month, day = (int(part) for part in parts)
    # The years of weather have no 29 February.
    if not 1 <= month <= 12 or not 1 <= day <= calendar.monthrange(1990, month)[1]:
        raise ValueError(f"{where} = {text}: no such day in a year of 365 days")
    return month, day


def near(name: str) -> str:
    """A hint at the name that was probably meant."""
    found = get_close_matches(name, [*_SETTINGS, *_PLANT], n=1)
    return f" (did you mean {found[0]}?)" if found else ""


class Changes:
    """Settings and plant values that are not the defaults, collected to be checked together."""

    def __init__(self):
        self.settings: dict[str, int] = {}
        self.plant: dict[str, float] = {}

    def put(self, name: str, text: str) -> None:
        """Take one `name=value`; some settings also change the plant. Raises: ValueError."""
        if name in _SETTINGS and not name.startswith("plant."):
            unit = cfg.TABLE[_SETTINGS[name]][1]
            value = quantities.parse_setting(name, unit, text)
            self.settings[name] = value
            if name in TWINS:
                self.plant[TWINS[name]] = value / _PER_PLANT_UNIT[unit]
            return
        bare = name.removeprefix("plant.")
        if bare not in _PLANT:
            raise ValueError(f"{name}: neither a setting nor a plant value{near(bare)}; see docs/names.md")
        self.plant[bare] = self.plant_number(bare, text)

    @staticmethod
    def plant_number(name: str, text: str) -> float:
        """A plant value: a number, with or without the unit that its name ends in."""
        row = _PLANT[name]
        value, written = quantities.split_number(name, text)
        if written not in ("", row.unit.replace(" ", "")):
            raise ValueError(f"{name} = {text}: unit {written} does not fit, allowed {row.unit}")
        return float(value)

    def settings_array(self) -> array:
        """All settings, checked as a whole."""
        values = [row[4] for row in cfg.TABLE]
        for name, value in self.settings.items():
            values[_SETTINGS[name]] = value
        rule = cfg.broken_rule(values)
        if rule != cfg.RULE_OK:
            raise ValueError(quantities.explain_rule(rule, values))
        return array("i", values)


def load(name: str, changes: list[str] | None = None, keys: dict | None = None) -> Scenario:
    """A scenario with `name=value` changes, checked as a whole.

    Args: `name` (shipped name or path of a .toml file), `changes` (texts such as
    `start_difference=6K`), `keys` (values that replace the file's, such as `weather`). Raises:
    ValueError, one line: what, where, what is allowed.
    """
    table = {**read_table(name), **(keys or {})}
    collected = Changes()
    if "collector" in table:
        collected.plant.update(presets.collector(table["collector"], f"{name}: collector"))
    for part in ("settings", "plant"):
        for key, value in table.get(part, {}).items():
            collected.put(key, str(value))
    for change in changes or []:
        key, equals, value = change.partition("=")
        if not equals:
            raise ValueError(f"--set {change}: needs name=value, such as start_difference=6K")
        collected.put(key.strip(), value.strip())
    return build(Path(name).stem, table, collected)


def build(name: str, table: dict, collected: Changes) -> Scenario:
    tank = table.get("tank", {})
    days = whole(f"{name}: days", table.get("days", DEFAULT_DAYS), 1, DAYS_TOP)
    step_s = whole(f"{name}: step_s", table.get("step_s", 5), 1, 60)
    if 3600 % step_s:
        raise ValueError(f"{name}: step_s = {step_s}: must divide an hour (3600 s)")
    trace_step_s = table.get("trace_step_s", step_s if days <= LONG_DAYS else max(LONG_TRACE_S, step_s))
    if whole(f"{name}: trace_step_s", trace_step_s, step_s, 86400) % step_s:
        raise ValueError(f"{name}: trace_step_s = {trace_step_s}: allowed multiples of step_s = {step_s}")
    seed = table.get("cloud_seed")
    weather = str(table.get("weather", "greensboro"))
    check_weather(weather)
    demand = read_demand(name, table.get("demand", {}), days)
    return Scenario(
        name=name,
        what=str(table.get("what", DEFAULT_WHAT)),
        weather=weather,
        start=start_day(f"{name}: start", table.get("start", DEFAULT_START)),
        days=days,
        step_s=step_s,
        trace_step_s=trace_step_s,
        cloud_seed=None if seed is None else whole(f"{name}: cloud_seed", seed, 0, 2**31 - 1),
        clear_sky=read_clear_sky(name, table),
        profile=demand.draws,
        draw_scale=demand.scale,
        absent_days=demand.absent_days,
        variation=demand.variation,
        start_tank_low_c=number(f"{name}: tank.low_c", tank.get("low_c", 30.0), 5.0, 95.0),
        start_tank_high_c=number(f"{name}: tank.high_c", tank.get("high_c", 40.0), 5.0, 95.0),
        settings=collected.settings_array(),
        plant=p.plant_values(with_air_heater(collected)),
        changed_settings=tuple(collected.settings),
    )


def with_air_heater(collected: Changes) -> dict[str, float]:
    """The plant values, with an air heater where settings have one and the plant says nothing."""
    fitted = collected.settings.get("air_heater", 0)
    return {"air_heater_built": fitted, **collected.plant} if fitted else collected.plant


def read_clear_sky(name: str, table: dict) -> dict | None:
    """The [clear_sky] of a scenario, which replaces a weather file; None without one."""
    if "clear_sky" not in table:
        return None
    part = table["clear_sky"]
    if "weather" in table:
        raise ValueError(f"scenario file {name}: weather and clear_sky: allowed only one of them")
    check_keys(name, part, "clear_sky.", tuple(CLEAR_SKY))
    for key in CLEAR_SKY:
        if key not in part:
            raise ValueError(f"scenario file {name}: clear_sky.{key} is missing")
    read = {key: number(f"{name}: clear_sky.{key}", part[key], *limits) for key, limits in CLEAR_SKY.items()}
    if read["coldest_c"] > read["warmest_c"]:
        raise ValueError(f"{name}: clear_sky.coldest_c = {read['coldest_c']:g}: allowed at most warmest_c = {read['warmest_c']:g}")
    return read
