"""Draws the stations of a storm and their episodes from its seed."""

from __future__ import annotations

from array import array
from dataclasses import dataclass, field, replace

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control.readings import FITTED_BY

from ..demand.profiles import PROFILES, daily_kwh
from ..thermal import parameters as p
from ..thermal.air.presets import ROOMS, room
from ..thermal.presets import COLLECTORS
from . import faults as f
from .draw_faults import draw_faults
from .places import PLACES, YEAR_DAYS

DAY_S = 86400
STEP_S = 5
# The step of one episode in ten: that of a board with fast sensors.
SHORT_STEP_S = 1
SHORT_SHARE = 0.1
EPISODE_DAYS = 6
# Episodes in a row with the same station: two months of a year.
STATION_EPISODES = 10
RECOVERY_S = DAY_S
# Chances of the kinds of collector.
COLLECTOR_SHARES = {"flat-plate": 0.6, "flat-plate-unselective": 0.15, "evacuated-tube": 0.25}
# Chance that the sun of an episode is broken by passing clouds.
CLOUDY = 0.5
# The settings that say which optional sensors are fitted.
OPTIONAL = tuple(setting for setting in FITTED_BY[: s.WATER_SENSORS] if setting != s.ALWAYS)
# Settings of the air heater, drawn for stations that have one.
AIR_WISHES = (
    *(cfg.AIR_START_DIFFERENCE, cfg.AIR_STOP_DIFFERENCE, cfg.AIR_RUN_ON, cfg.ROOM_MAXIMUM, cfg.ROOM_MINIMUM),
    *(cfg.SUMMER_ABOVE, cfg.FAN_LIMIT, cfg.FILTER_AFTER),
)
# Settings that state a fact of the plant: set with a bounded error, never drawn freely.
TOLD = {
    cfg.LOOP_VOLUME,
    cfg.COLLECTOR_FLOW,
    cfg.TANK_FLOW,
    cfg.GLYCOL_MASS_PERCENT,
    cfg.DUMP_TOPOLOGY,
    cfg.DUMP_TRAVEL,
    cfg.DUMP_CROSSOVER,
    cfg.LOOP_PRESSURE,
    cfg.COLLECTOR_HEIGHT,
    cfg.ALTITUDE,
    *OPTIONAL,
    cfg.FLOW_SENSOR,
    cfg.AIR_HEATER,
    cfg.FAN_PLACE,
    *AIR_WISHES,
}
WISHES = tuple(code for code in range(cfg.SETTINGS) if code not in TOLD)
# Cold and warm spells beyond a typical year, in K of air.
SPELL_K = (-14.0, 8.0)
# A flow measured with bucket and watch is this accurate.
FLOW_ERROR = 0.15


@dataclass(frozen=True)
class Wish:
    """What a storm is narrowed to: one fault, one topology, stations with an air heater."""

    only: str | None = None
    topology: str | None = None
    air: bool = False


@dataclass(frozen=True)
class Case:
    """One complete episode: the same values give the same trace, to the last bit.

    `recovery_s` is its last part, without faults; `tank` the lowest and highest layer at the start,
    in C. `plant` and `settings` hold what is not default.
    """

    seed: int
    weather: str = "greensboro"
    start: tuple[int, int] = (5, 12)
    days: int = EPISODE_DAYS
    recovery_s: int = RECOVERY_S
    step_s: int = STEP_S
    profile: str = "M"
    daily_kwh: float = 5.845
    tank: tuple[float, float] = (30.0, 45.0)
    ambient_shift_k: float = 0.0
    cloud_seed: int | None = None
    plant: dict[str, float] = field(default_factory=dict)
    settings: dict[str, int] = field(default_factory=dict)
    faults: tuple[f.Fault, ...] = ()

    def safety_s(self) -> int:
        """Length of the safety phase."""
        return self.days * DAY_S - self.recovery_s

    def topology(self) -> str:
        return cfg.TOPOLOGY_NAMES[self.setting(cfg.DUMP_TOPOLOGY)]

    def setting(self, code: int) -> int:
        return self.settings.get(cfg.TABLE[code][0], cfg.TABLE[code][4])

    def settings_array(self) -> array:
        return array("i", [self.setting(code) for code in range(cfg.SETTINGS)])

    def other_settings(self, random) -> tuple[tuple[str, int], ...]:
        """Another accepted set, for somebody to commit while the station runs."""
        before = self.settings_array()
        after = array("i", before)
        if random.random() < 0.3:
            measure_again(random, after, self.plant)
        wander(random, after, 0.3)
        # This setting has a floor: the pipe's transit time.
        after[cfg.TANK_PUMP_DELAY] = max(after[cfg.TANK_PUMP_DELAY], before[cfg.TANK_PUMP_DELAY])
        return tuple((cfg.TABLE[code][0], after[code]) for code in range(cfg.SETTINGS) if after[code] != before[code])


def wander(random, values: array, share: float, wishes: tuple[int, ...] = WISHES) -> None:
    """Change a share of the free settings one by one, keeping the whole set acceptable."""
    for code in random.permutation(np.array(wishes)):
        if random.random() >= share:
            continue
        _, unit, low, high, _, _ = cfg.TABLE[code]
        kept = values[code]
        wish = int(random.choice((low, high))) if random.random() < 0.25 else int(random.integers(low, high + 1))
        if unit in ("mC", "mK"):
            wish = wish // 500 * 500
        values[code] = max(low, min(wish, high))
        if cfg.broken_rule(values) != cfg.RULE_OK:
            values[code] = kept


def measure_again(random, values: array, plant: dict[str, float]) -> None:
    """State the facts of the plant anew, as far as the set stays acceptable."""
    for code, value in told_settings(random, whole(plant)).items():
        kept = values[code]
        values[code] = value
        if cfg.broken_rule(values) != cfg.RULE_OK:
            values[code] = kept


def uniform(random, low: float, high: float) -> float:
    """A number with three decimals, so that a case stays readable."""
    return round(float(random.uniform(low, high)), 3)


def draw_roof(random, place: str) -> dict[str, float]:
    """What kind of collector, and where it looks: most near the noon sun, the others anywhere."""
    kind = str(random.choice(list(COLLECTOR_SHARES), p=list(COLLECTOR_SHARES.values())))
    aside_deg = uniform(random, -180.0, 180.0) * (1.0 if random.random() < 0.3 else 0.4)
    own = random.random() < 0.6
    return {
        **({} if kind == "flat-plate" else COLLECTORS[kind]),
        "collector_slope_deg": uniform(random, 0.0, 90.0),
        "collector_azimuth_deg": round((PLACES[place].equator_deg() + aside_deg) % 360.0, 3),
        "altitude_m": float(PLACES[place].altitude_m if own else random.integers(0, 3600)),
    }


def draw_plant(random, place: str, topology: str | None = None) -> dict[str, float]:
    """A plant in the sizes of home builders; `topology` unless any will do."""
    area = uniform(random, 3.0, 14.0)
    height = uniform(random, 1.2, 2.0)
    radiator = uniform(random, 8.0, 30.0) * area
    plant = {
        "collector_area_m2": area,
        "collector_content_l": round(0.5 * area, 3),
        "collector_flow_l_per_min": round(min(max(area * uniform(random, 0.5, 1.1), 1.5), 9.0), 3),
        "collector_height_m": float(random.integers(1, 9)),
        "glycol_mass_percent": float(random.integers(30, 51)),
        "loop_pressure_kpa": float(random.integers(120, 400)),
        **draw_roof(random, place),
        "radiator_flow_w_per_k": round(radiator, 3),
        "radiator_rest_w_per_k": round(radiator / 4.0, 3),
        "radiator_content_l": uniform(random, 0.5, 4.0),
        "exchanger_ua_w_per_k": round(uniform(random, 60.0, 180.0) * area, 3),
        "exchanger_rest_w_per_k": round(30.0 * area, 3),
        "exchanger_glycol_l": round(0.1 * area, 3),
        "exchanger_water_l": round(0.1 * area, 3),
        "exchanger_plate_j_per_k": round(330.0 * area, 3),
        "tank_flow_l_per_min": round(min(max(area * uniform(random, 0.4, 1.1), 1.5), 9.0), 3),
        "tank_volume_l": uniform(random, 200.0, 800.0),
        "tank_height_m": height,
        "tank_low_port_m": round(0.1 * height, 3),
        "tank_upper_port_m": round(0.75 * height, 3),
        "tank_low_sensor_m": round(0.16 * height, 3),
        "tank_high_sensor_m": round(0.78 * height, 3),
        "dump_topology": float(random.choice((0, 0, 1, 2)) if topology is None else cfg.TOPOLOGY_NAMES.index(topology)),
        "dump_travel_s": float(random.integers(10, 180)),
        "dump_crossover_open": float(random.integers(2)),
        "room_c": uniform(random, 8.0, 24.0),
        "cold_main_mean_c": PLACES[place].cold_main_c,
        "cold_main_swing_k": 4.0,
    }
    for name in ("supply_outdoor_m", "return_outdoor_m", "supply_indoor_m", "return_indoor_m"):
        plant[name] = uniform(random, 2.0, 15.0)
    for name in ("collector", "tank_low", "tank_high", "loop_supply", "loop_return", "exchanger"):
        plant[f"{name}_sensor_s"] = uniform(random, 5.0, 45.0)
    return plant


def content_l(plant: dict[str, float]) -> tuple[float, float]:
    """Glycol in the whole loop, and from collector inlet to station, in L; `plant` is complete."""
    pipe_l_per_m = plant["pipe_content_l_per_m"]
    supply_l = pipe_l_per_m * (plant["supply_outdoor_m"] + plant["supply_indoor_m"]) + plant["collector_content_l"]
    return_l = pipe_l_per_m * (plant["return_outdoor_m"] + plant["return_indoor_m"])
    return supply_l + return_l + plant["radiator_content_l"] + plant["exchanger_glycol_l"], supply_l


def whole(plant: dict[str, float]) -> dict[str, float]:
    """Every value of a plant by name, defaults where it says nothing."""
    return {row.name: plant.get(row.name, row.default) for row, _ in p.ROWS}


def told_settings(random, plant: dict[str, float]) -> dict[int, int]:
    """Settings that state the plant: within a bucket's error, and never on the unsafe side."""
    volume_l, supply_l = content_l(whole(plant))
    transit_s = 60.0 * supply_l / plant["collector_flow_l_per_min"]
    return {
        cfg.LOOP_VOLUME: int(1000.0 * volume_l * random.uniform(1.0, 1.5)),
        cfg.COLLECTOR_FLOW: int(1000.0 * plant["collector_flow_l_per_min"] * random.uniform(1 - FLOW_ERROR, 1 + FLOW_ERROR)),
        cfg.TANK_FLOW: int(1000.0 * plant["tank_flow_l_per_min"] * random.uniform(1 - FLOW_ERROR, 1 + FLOW_ERROR)),
        cfg.GLYCOL_MASS_PERCENT: int(plant["glycol_mass_percent"]) - int(random.integers(0, 3)),
        cfg.DUMP_TOPOLOGY: int(plant["dump_topology"]),
        cfg.DUMP_TRAVEL: int(1000.0 * plant["dump_travel_s"] * random.uniform(1.0, 1.3)),
        cfg.DUMP_CROSSOVER: int(plant["dump_crossover_open"]),
        cfg.LOOP_PRESSURE: int(plant["loop_pressure_kpa"]),
        cfg.COLLECTOR_HEIGHT: int(plant["collector_height_m"]),
        cfg.ALTITUDE: int(plant["altitude_m"]),
        cfg.TANK_PUMP_DELAY: min(max(int(1000.0 * transit_s * 1.3), cfg.TABLE[cfg.TANK_PUMP_DELAY][4]), 600000),
    }


def told_right(case: Case) -> bool:
    """Whether the settings state the plant within the errors that `told_settings` draws."""
    plant, told = whole(case.plant), case.setting
    volume_l, supply_l = content_l(plant)
    alike = (
        (cfg.DUMP_TOPOLOGY, "dump_topology"),
        (cfg.DUMP_CROSSOVER, "dump_crossover_open"),
        (cfg.LOOP_PRESSURE, "loop_pressure_kpa"),
        (cfg.COLLECTOR_HEIGHT, "collector_height_m"),
        (cfg.ALTITUDE, "altitude_m"),
    )
    flows = ((cfg.COLLECTOR_FLOW, "collector_flow_l_per_min"), (cfg.TANK_FLOW, "tank_flow_l_per_min"))
    return (
        all(told(code) == int(plant[name]) for code, name in alike)
        and all(abs(told(code) / 1000.0 / plant[name] - 1.0) <= FLOW_ERROR + 0.001 for code, name in flows)
        and told(cfg.LOOP_VOLUME) >= int(1000.0 * volume_l)
        and 0 <= plant["glycol_mass_percent"] - told(cfg.GLYCOL_MASS_PERCENT) <= 2
        and told(cfg.DUMP_TRAVEL) >= int(1000.0 * plant["dump_travel_s"])
        and told(cfg.TANK_PUMP_DELAY) >= min(60000.0 * supply_l / plant["collector_flow_l_per_min"], 600000)
        and cfg.broken_rule(case.settings_array()) == cfg.RULE_OK
    )


def draw_fitted(random, values: array) -> None:
    """Draw the optional sensors: all of them, or most."""
    if random.random() < 0.5:
        for code in OPTIONAL:
            values[code] = 1 if random.random() < 0.8 else 0
    if values[cfg.DUMP_TOPOLOGY] != cfg.BYPASS:
        values[cfg.OUTDOOR_FITTED] = 1
    values[cfg.FLOW_SENSOR] = int(random.integers(3))


def fit_limits(values: array) -> None:
    """Lower the limits of the collector as far as the boiling point asks."""
    limit = min(values[cfg.COLLECTOR_LIMIT], (cfg.boiling_mc(values) - 5000) // 500 * 500)
    values[cfg.COLLECTOR_LIMIT] = limit
    values[cfg.COLLECTOR_RESET] = min(values[cfg.COLLECTOR_RESET], limit - 15000)
    values[cfg.DUMP_COLLECTOR_START] = min(values[cfg.DUMP_COLLECTOR_START], limit - 25000)
    values[cfg.DUMP_COLLECTOR_STOP] = min(values[cfg.DUMP_COLLECTOR_STOP], limit - 40000)


def draw_settings(random, plant: dict[str, float]) -> dict[str, int]:
    """An accepted set: the facts of the plant, and half the time free settings too."""
    values = array("i", [row[4] for row in cfg.TABLE])
    told = told_settings(random, plant)
    for code, value in told.items():
        values[code] = value
    draw_fitted(random, values)
    fit_limits(values)
    if random.random() < 0.5:
        delay = values[cfg.TANK_PUMP_DELAY]
        wander(random, values, 0.7)
        # This setting has a floor: the pipe's transit time.
        values[cfg.TANK_PUMP_DELAY] = max(values[cfg.TANK_PUMP_DELAY], delay)
    if cfg.broken_rule(values) != cfg.RULE_OK:
        raise ValueError("the facts of this plant do not fit the default settings")
    return {cfg.TABLE[code][0]: values[code] for code in range(cfg.SETTINGS) if values[code] != cfg.TABLE[code][4]}


def draw_station(seed: int, year: int, number: int, wish: Wish | None = None) -> Case:
    """Draw place, plant, settings and demand, as a case without faults."""
    wish = wish or Wish()
    random = np.random.default_rng([seed, year, number, 0])
    while True:
        place = str(random.choice(sorted(PLACES)))
        plant = draw_plant(random, place, wish.topology)
        try:
            p.plant_values(plant)
            settings = draw_settings(random, plant)
        except ValueError:
            continue
        break
    profile = str(random.choice(sorted(PROFILES)))
    kwh = daily_kwh(PROFILES[profile]) * float(random.uniform(0.2, 1.2))
    # Two stations in five are oversized: hazards lie near the limits.
    kwh = round(kwh * (0.15 if random.random() < 0.4 else 1.0), 3)
    station = Case(seed=0, weather=place, profile=profile, daily_kwh=kwh, plant=plant, settings=settings)
    return with_air_heater(station, seed, year, number) if wish.air else station


def with_air_heater(base: Case, seed: int, year: int, number: int) -> Case:
    """The station with an air heater, drawn from numbers of its own; the water side stays."""
    random = np.random.default_rng([seed, year, number, 2])
    values = base.settings_array()
    draws = int(random.integers(2))
    values[cfg.AIR_HEATER], values[cfg.FAN_PLACE] = 1, draws
    if random.random() < 0.5:
        wander(random, values, 0.7, AIR_WISHES)
    plant = room(str(random.choice(sorted(ROOMS)))) | {
        "air_heater_built": 1.0,
        "air_fan_draws": float(draws),
        "air_collector_area_m2": uniform(random, 2.0, 16.0),
        "air_collector_azimuth_deg": uniform(random, 90.0, 270.0),
        "air_collector_slope_deg": uniform(random, 30.0, 90.0),
        "air_fan_free_m3_per_h": uniform(random, 200.0, 1200.0),
        "air_leak_share": uniform(random, 0.0, 0.15),
        "air_collector_sensor_s": uniform(random, 10.0, 120.0),
        "room_sensor_s": uniform(random, 60.0, 900.0),
        "backup_w": float(random.choice((0.0, 3000.0))),
    }
    settings = {cfg.TABLE[code][0]: values[code] for code in range(cfg.SETTINGS) if values[code] != cfg.TABLE[code][4]}
    return replace(base, plant={**base.plant, **plant}, settings=settings)


def month_and_day(day_of_year: int) -> tuple[int, int]:
    """The calendar day of a year without a leap day, from 0."""
    date = np.datetime64("1990-01-01") + np.timedelta64(day_of_year % YEAR_DAYS, "D")
    return int(str(date)[5:7]), int(str(date)[8:10])


def draw_episode(seed: int, year: int, episode: int, days: int, wish: Wish | None = None, base: Case | None = None) -> Case:
    """Draw one episode of a year: its dates, its tank, and its faults."""
    wish = wish or Wish()
    base = base or draw_station(seed, year, episode // STATION_EPISODES, wish)
    random = np.random.default_rng([seed, year, episode, 1])
    first = int(np.random.default_rng([seed, year]).integers(YEAR_DAYS))
    limit = cfg.tank_limit_mc(base.settings_array()) / 1000.0
    # Every other tank starts warm: hazards lie near the limits.
    top = uniform(random, limit - 8.0, limit) if random.random() < 0.5 else uniform(random, 12.0, limit)
    case = replace(
        base,
        seed=int(random.integers(1 << 31)),
        start=month_and_day(first + episode * days),
        days=days,
        tank=(uniform(random, 5.0, top), top),
        ambient_shift_k=uniform(random, *SPELL_K) if random.random() < 0.5 else 0.0,
        cloud_seed=int(random.integers(1 << 31)) if random.random() < CLOUDY else None,
        step_s=SHORT_STEP_S if random.random() < SHORT_SHARE else STEP_S,
    )
    return replace(case, faults=draw_faults(random, case, wish.only))


def episodes_a_year(days: int) -> int:
    return -(-YEAR_DAYS // days)
