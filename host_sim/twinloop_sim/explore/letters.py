"""Alphabets of a walk: inputs around every threshold of the settings in force.

A letter overwrites some inputs and holds them for some steps; the others keep their values. A full
letter sets them all. A patch loses a sensor, takes an output by hand, or only lets time pass. Each
alphabet is a room of its own, because one alphabet of everything would never finish.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
from twinloop.control import air, alarms, coldloop, diagnosis, latches, tank
from twinloop.control import frost as frost_rule
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control.readings import FITTED_BY, HIGHEST_MC
from twinloop.control.readings import LOWEST_MC as CREDIBLE_MC

from .walk import Letters

# A letter may read this cold at any place, so that a tank sensor also falls out of its range.
LOWEST_MC = tuple(min(mc, -20000) for mc in CREDIBLE_MC)
# The flicker of a live chip: one step of a DS18B20 in millidegrees, rounded down.
FLICKER_MK = 62
SHORT_MS = 5000
LONG_MS = 60000
RAW = s.IN_RAW_MC
LOSSES = (s.CAUSE_OPEN, s.CAUSE_SHORT, s.CAUSE_SILENT, s.CAUSE_CRC, s.CAUSE_POWER_ON, s.CAUSE_ALL_ZERO, s.CAUSE_CHIP)


class Alphabet:
    """The letters of a room."""

    def __init__(self, name: str, settings: np.ndarray):
        self.name = name
        self.settings = settings
        self.values: list[np.ndarray] = []
        self.masks: list[np.ndarray] = []
        self.steps: list[int] = []
        self.dither_mk: list[int] = []

    def patch(self, fields: dict[int, int], dt_ms: int, steps: int = 1, dither_mk: int = 0) -> None:
        """Add a letter that overwrites these inputs only."""
        values = np.zeros(s.INPUTS, dtype=np.int32)
        masks = np.zeros(s.INPUTS, dtype=np.int32)
        for index, value in {**fields, s.IN_DT_MS: dt_ms}.items():
            values[index] = value
            masks[index] = 1
        self.values.append(values)
        self.masks.append(masks)
        self.steps.append(steps)
        self.dither_mk.append(dither_mk)

    def full(self, readings, dt_ms: int = LONG_MS, steps: int = 2, dither_mk: int = 0, **others: int) -> None:
        """Add a full letter: all readings, glycol flows, no hands; `others` by name in state.py."""
        fields = dict.fromkeys(range(s.INPUTS), 0)
        fields[s.IN_FLOW_ML_PER_MIN] = int(self.settings[cfg.COLLECTOR_FLOW])
        for sensor, value in enumerate(readings):
            fields[RAW + sensor] = min(max(int(value), LOWEST_MC[sensor]), HIGHEST_MC[sensor])
        for name, value in others.items():
            fields[getattr(s, name)] = value
        self.patch(fields, dt_ms, steps, dither_mk)

    def hold(self, dt_ms: int, steps: int, dither_mk: int = 0) -> None:
        """Add a letter that only lets time pass."""
        self.patch({}, dt_ms, steps, dither_mk)

    def holds(self, *steps: int) -> None:
        """Add letters of one second, five seconds, and each of these numbers of minutes."""
        self.hold(1000, 1)
        self.hold(SHORT_MS, 1)
        for count in steps:
            self.hold(LONG_MS, count)

    def arrays(self) -> Letters:
        """The letters as arrays for the walk."""
        return Letters(
            np.array(self.values, dtype=np.int32),
            np.array(self.masks, dtype=np.int32),
            np.array(self.steps, dtype=np.int32),
            np.array(self.dither_mk, dtype=np.int32),
        )


class Levels:
    """The thresholds of a set of settings, and readings of the whole plant around them."""

    def __init__(self, settings: np.ndarray):
        self.of = {row[0]: int(settings[code]) for code, row in enumerate(cfg.TABLE)}
        self.limit = int(cfg.tank_limit_mc(settings))
        self.ends = self.limit - tank.EARLY_MK
        self.full = int(cfg.tank_full_low_mc(settings))
        self.limit_reset = self.limit - self.of["tank_limit_reset"]
        self.full_reset = self.full - self.of["tank_full_reset"]
        self.hot_reset = self.of["charge_limit"] - self.of["charge_limit_reset"]
        # The warmest tank with room for heat even while tank_high is lost: warm enough for the cold
        # slug's table.
        room = min(self.full_reset, self.limit_reset)
        self.low = max(min(room - 3000, 55000), -15000)
        self.sunny = self.sunny_collector(self.low)
        self.stiff = int(frost_rule.stiff_mc(settings))

    def sunny_collector(self, low: int) -> int:
        """A collector that charges a tank of this temperature, and if possible is not too hot."""
        least = max(low + self.of["start_difference"] + 1000, self.of["collector_minimum"] + 1000)
        return max(least, min(least + 12000, self.hot_reset - 2000))

    def plant(self, collector: int, low: int, high: int | None = None, arriving: str = "near", **others: int) -> list[int]:
        """All readings; `arriving` sets loop_supply, `others` set readings by sensor name."""
        high = low + 2000 if high is None else high
        supply = {"near": collector - 1000, "tank": low, "cold": low - 3000, "lead": low + self.of["exchanger_lead"]}[arriving]
        readings = [collector, low, high, supply, (supply + low) // 2, 15000, 40000, max(supply - 1000, 8000), 15000, 15000]
        for name, value in others.items():
            readings[s.SENSOR_NAMES.index(name)] = value
        return readings

    def charging(self, **others: int) -> list[int]:
        """Sun, and a tank with room."""
        return self.plant(self.sunny, self.low, **others)

    def full_tank(self, collector: int, **others: int) -> list[int]:
        """A tank full at its low end and below its limit, where the two differ."""
        high = max(self.full, min(self.ends - 1, self.full + 2000))
        return self.plant(collector, self.full, **{"high": high, **others})

    def around(self, *thresholds: int) -> list[int]:
        """Below, at and above each threshold, once each."""
        return sorted({value + off for value in thresholds for off in (-1, 0, 1)})

    def collectors(self, low: int) -> list[int]:
        """A collector around everything it is compared with."""
        of = self.of
        fixed = self.around(
            of["collector_minimum"],
            of["dump_collector_stop"],
            of["dump_collector_start"],
            of["collector_reset"],
            of["collector_limit"],
            of["charge_limit"],
            self.hot_reset,
        )
        moving = self.around(
            low + of["start_difference"],
            low + of["stop_difference"],
            low - latches.COOLING_START_MK,
            low - latches.COOLING_STOP_MK,
        )
        return sorted({*fixed, *moving})

    def tanks(self) -> list[tuple[int, int]]:
        """tank_low and tank_high around limit and full, around their resets, and inverted."""
        low, margin = self.low, self.of["stratification_margin"]
        pairs = [(low, low + 1000), (low - 8000, low)]
        pairs += [(low, high) for high in (self.limit_reset - 1, self.limit_reset, self.ends - 1, self.ends, self.limit + 1)]
        pairs += [(value, value + 500) for value in (self.full_reset - 1, self.full_reset, self.full - 1, self.full)]
        pairs += [(self.ends - margin - 1, low), (self.ends - margin, low), (low, low - tank.INVERSION_MK)]
        return list(dict.fromkeys(pairs))


def sun(settings: np.ndarray, wide: bool) -> Alphabet:
    """Collector and tank: in a wide corner all pairs of levels, otherwise a selection."""
    room, levels = Alphabet("sun", settings), Levels(settings)
    count = 0
    for index, (low, high) in enumerate(levels.tanks()):
        collectors = levels.collectors(low)
        if not wide and index > 0:
            collectors = [levels.sunny_collector(low), levels.of["dump_collector_start"]]
        for collector in collectors:
            count += 1
            arriving = ("near", "near", "tank", "lead")[count % 4]
            if count % 3 == 0:
                room.full(levels.plant(collector, low, high, arriving), SHORT_MS, 4)
            else:
                room.full(levels.plant(collector, low, high, arriving), LONG_MS, 2)
    # A cold tank, so that a collector around its minimum is far above it.
    for collector in levels.around(levels.of["collector_minimum"]):
        room.full(levels.plant(collector, levels.of["collector_minimum"] - levels.of["start_difference"] - 1000))
    # Jumps too short to be believed.
    room.full(levels.full_tank(levels.of["collector_limit"]), 1000, 1)
    room.full(levels.charging(), SHORT_MS, 1)
    room.holds(3)
    return room


def trust(settings: np.ndarray, wide: bool) -> Alphabet:
    """Every sensor and pair of sensors lost, briefly and for good, in a few weathers."""
    room, levels = Alphabet("trust", settings), Levels(settings)
    room.full(levels.charging(), LONG_MS, 4)
    room.full(levels.full_tank(levels.of["dump_collector_start"]), LONG_MS, 4)
    room.full(levels.plant(levels.of["collector_minimum"] - 1, levels.low, arriving="tank"))
    fitted = [sensor for sensor, by in enumerate(FITTED_BY) if by == s.ALWAYS or settings[by]]
    pairs = list(combinations(fitted, 2))
    if not wide:
        pairs = [pair for pair in pairs if pair[1] <= s.LOOP_SUPPLY]
    for number, lost in enumerate([*pairs, *((sensor,) for sensor in fitted)]):
        causes = dict.fromkeys(range(s.IN_RAW_CAUSE, s.IN_RAW_CAUSE + s.SENSORS), s.CAUSE_NONE)
        for sensor in lost:
            causes[s.IN_RAW_CAUSE + sensor] = LOSSES[(number + sensor) % len(LOSSES)]
        room.patch(causes, 1000)
        room.patch(causes, LONG_MS, 6)
    for sensor in fitted:
        room.patch({s.IN_RAW_CAUSE + sensor: s.CAUSE_NOT_READY}, SHORT_MS)
        room.patch({RAW + sensor: HIGHEST_MC[sensor] + 1}, SHORT_MS)
    room.patch(dict.fromkeys(range(s.IN_RAW_CAUSE, s.IN_RAW_CAUSE + s.SENSORS), s.CAUSE_NONE), LONG_MS, 3)
    room.holds(3)
    return room


def cold(settings: np.ndarray, wide: bool) -> Alphabet:
    """Frost outdoors, in collector and exchanger; the cold slug's table; pulses and mild times."""
    room, levels = Alphabet("cold", settings), Levels(settings)
    frost = levels.of["exchanger_frost"]
    # With the mean of both tank sensors.
    table = (frost_rule.NEED_FOOT_MC - levels.low - 1000) // frost_rule.NEED_SLOPE + coldloop.LAG_MK
    outdoors = [frost - 1, -12000, levels.stiff - 6000, 15000, table - 1, table]
    if wide:
        outdoors += [frost, frost + coldloop.NIGHT_MK, levels.stiff - 1, levels.stiff, table + 1]
    for outdoor in outdoors:
        for collector in (levels.sunny, frost - 1, frost, levels.of["dump_collector_start"])[: 4 if wide else 2]:
            room.full(levels.plant(collector, levels.low, outdoor=outdoor))
        room.full(levels.full_tank(levels.of["dump_collector_start"], outdoor=outdoor))
    for collector in (levels.stiff - 1, levels.stiff, levels.stiff - 6000, 0):
        room.full(levels.plant(collector, levels.low, outdoor=levels.stiff, arriving="tank"))
    for exchanger in levels.around(frost, frost + frost_rule.FROST_RESET_MK):
        room.full(levels.plant(5000, levels.low, outdoor=-5000, arriving="tank", exchanger=exchanger))
    room.full(levels.plant(levels.sunny, levels.low, outdoor=-5000, exchanger=frost - 1))
    room.full(levels.plant(5000, levels.low, arriving="tank", loop_return=frost - 1))
    room.full(levels.charging(outdoor=-5000), SHORT_MS, 1)
    room.patch({s.IN_RAW_CAUSE + s.OUTDOOR: s.CAUSE_OPEN}, LONG_MS, 6)
    room.holds(3, 12, 32)
    if wide:
        room.hold(LONG_MS, 125)
    return room


def loop(settings: np.ndarray, wide: bool) -> Alphabet:
    """Loop sensors and flow input that contradict each other: a plant that does not follow."""
    room, levels = Alphabet("loop", settings), Levels(settings)
    low, of = levels.low, levels.of
    hot = levels.sunny
    supplies = levels.around(
        low + of["exchanger_lead"],
        low + of["exchanger_lag"],
        low + of["tank_run_on_difference"],
        hot - of["start_difference"],
        of["charge_limit"],
    )
    for supply in [*supplies, low - 1000, low - 999, hot - 1000]:
        for exchanger in (low + 100, supply - 1000):
            room.full(levels.plant(hot, low, loop_supply=supply, exchanger=exchanger), LONG_MS, 2)
    # Both loops charge: good plates, poor ones, and none at all; tank_high where the flow cannot
    # hide it.
    warm = {"high": low + 9000, "loop_supply": low + 12000, "exchanger": low + 9000}
    for back in (low + 2000, low + 10000, low + 11990):
        room.full(levels.plant(low + 13000, low, **{**warm, "loop_return": back}), LONG_MS, 4, FLICKER_MK)
    room.full(levels.plant(low + 13000, low, **{**warm, "high": low + 2000, "loop_return": low + 4000}), LONG_MS, 18)
    # Glycol leaves as warm as it arrives: the tank is warmer than its low end reads.
    taking = {"high": hot, "loop_supply": hot - 1000, "loop_return": hot - 1000, "exchanger": hot - 1000}
    room.full(levels.plant(hot, low, **taking), LONG_MS, 8, FLICKER_MK)
    # Dumps: with effect, without, and one that heats the tank.
    for fall in (diagnosis.DUMP_EFFECT_MK - 1, diagnosis.DUMP_EFFECT_MK, 9000):
        at = of["dump_collector_start"]
        room.full(levels.full_tank(at, loop_supply=at - 2000, loop_return=at - 2000 - fall), LONG_MS, 2)
    room.full(levels.full_tank(of["dump_collector_start"], high=levels.full + 6000), LONG_MS, 1)
    # A collector sensor that sits in the tank and a tank sensor on the roof.
    room.full(levels.plant(low + 9000, low, high=low + 12000, arriving="tank", outdoor=min(low, 60000)), LONG_MS, 5)
    room.full(levels.plant(30000, 14000, high=45000, arriving="tank", outdoor=12000), LONG_MS, 5)
    # A flow input that contradicts the pump.
    for flow in (0, of["collector_flow"] // 10, of["collector_flow"] // 5, of["collector_flow"]):
        room.patch({s.IN_FLOW_ML_PER_MIN: flow, s.IN_FLOW_CAUSE: 0}, LONG_MS, 2)
    room.patch({s.IN_FLOW_CAUSE: s.CAUSE_SILENT}, LONG_MS, 2)
    # Water at the taps.
    for tap in (alarms.SCALD_MC - 1, alarms.SCALD_MC):
        room.patch({RAW + s.TAP: tap}, LONG_MS, 3)
    room.holds(3, 6, 32)
    return room


def people(settings: np.ndarray, wide: bool) -> Alphabet:
    """Hands on every output, upkeep, resets and bad memory, in every weather with a limit."""
    room, levels = Alphabet("people", settings), Levels(settings)
    frost = levels.of["exchanger_frost"]
    weathers = [
        levels.charging(),
        levels.charging(outdoor=-8000),
        levels.full_tank(levels.of["dump_collector_start"]),
        levels.plant(levels.of["collector_limit"], levels.low),
        levels.plant(levels.of["charge_limit"], levels.low),
        levels.plant(frost - 1, levels.low, arriving="tank", outdoor=frost - 1, exchanger=frost - 1),
        levels.plant(levels.stiff - 6000, levels.low, arriving="tank", outdoor=levels.stiff - 6000),
        levels.plant(levels.sunny, levels.limit, high=levels.limit),
    ]
    if not wide:
        weathers = weathers[:4]
    hands = [(1, 1), (2, 2), (3, 3), (7, 7), (5, 5)]
    nobody = dict.fromkeys((s.IN_HAND_MASK, s.IN_HAND_VALUE, s.IN_UPKEEP, s.IN_RESETS, s.IN_SETTINGS_LOST, s.IN_MEMORY_BAD), 0)
    for readings in weathers:
        fields = {RAW + k: min(max(v, LOWEST_MC[k]), HIGHEST_MC[k]) for k, v in enumerate(readings)}
        fields.update(dict.fromkeys(range(s.IN_RAW_CAUSE, s.IN_RAW_CAUSE + s.SENSORS), 0))
        fields.update({s.IN_FLOW_ML_PER_MIN: levels.of["collector_flow"], s.IN_FLOW_CAUSE: 0})
        room.patch(fields, LONG_MS, 2)
    for mask, value in hands if wide else hands[2:]:
        room.patch({**nobody, s.IN_HAND_MASK: mask, s.IN_HAND_VALUE: value}, SHORT_MS)
    for index, value in ((s.IN_UPKEEP, 1), (s.IN_UPKEEP, 2), (s.IN_RESETS, 2), (s.IN_RESETS, 3)):
        room.patch({**nobody, index: value}, SHORT_MS)
    room.patch({**nobody, s.IN_SETTINGS_LOST: 1, s.IN_MEMORY_BAD: 1}, SHORT_MS)
    room.patch(nobody, SHORT_MS)
    room.patch({s.IN_RAW_CAUSE + s.COLLECTOR: s.CAUSE_OPEN}, LONG_MS, 2)
    room.holds(3)
    return room


def hours(settings: np.ndarray, wide: bool) -> Alphabet:
    """Whatever takes hours: turns, nights away, standing fluids, fouling plates."""
    room, levels = Alphabet("hours", settings), Levels(settings)
    low, of = levels.low, levels.of
    # Glycol that follows the collector without a pump, and glycol that does not.
    for collector in (low - 20000, low - 20000 - alarms.TRACK_RANGE_MK, low - 20000 + alarms.TRACK_RANGE_MK):
        room.full(levels.plant(collector, low, loop_supply=collector, exchanger=20000), LONG_MS, 62)
    room.full(levels.plant(low - 20000, low, loop_supply=low - 20000 + alarms.TRACK_APART_MK, exchanger=20000), LONG_MS, 2)
    night = levels.full - max(latches.COOLING_START_MK, 12000)
    for collector in (night, levels.full - latches.COOLING_STOP_MK - 1, levels.full - latches.COOLING_STOP_MK):
        for arriving in (collector, levels.full + 1000):
            room.full(levels.full_tank(collector, loop_supply=arriving), LONG_MS, 4)
    room.full(levels.full_tank(night, loop_supply=night, outdoor=-8000), LONG_MS, 4)
    for back in (low + 3000, low + 11000) if wide else ():
        poor = {"high": low + 9000, "loop_supply": low + 12000, "exchanger": low + 9000, "loop_return": back}
        room.full(levels.plant(low + 13000, low, **poor), LONG_MS, 135, FLICKER_MK)
    room.full(levels.plant(of["collector_minimum"] - 1, low, arriving="tank"), LONG_MS, 2)
    room.full(levels.plant(max(low, of["collector_minimum"]), low, arriving="tank"), LONG_MS, 2)
    room.full(levels.full_tank(max(levels.full, of["collector_minimum"])), LONG_MS, 2)
    room.full(levels.charging(), LONG_MS, 2)
    # A tank that flickers between its limit and below the reset: start after start in vain.
    reach = of["tank_limit_reset"] - 200
    warm = levels.plant(levels.limit_reset - 2000, levels.limit_reset - 25000, levels.limit_reset - 100)
    room.full(warm, LONG_MS, 130, reach)
    room.hold(1000, 1)
    room.hold(SHORT_MS, 4)
    room.hold(LONG_MS, 3)
    room.hold(LONG_MS, 125 if wide else 62, FLICKER_MK)
    return room


def duties(settings: np.ndarray, wide: bool) -> Alphabet:
    """One or two letters for each duty, to walk every edge between two duties."""
    room, levels = Alphabet("duties", settings), Levels(settings)
    frost, of = levels.of["exchanger_frost"], levels.of
    mild = levels.plant(of["collector_minimum"] - 1, levels.low, arriving="tank")
    night = levels.full_tank(levels.full - 12000, loop_supply=levels.full - 12000)
    room.full(levels.charging())
    room.full(levels.charging(), LONG_MS, 8)
    room.full(levels.full_tank(of["dump_collector_start"], loop_return=of["dump_collector_start"] - 20000), LONG_MS, 3)
    room.full(levels.plant(of["collector_limit"], levels.low))
    room.full(levels.plant(5000, levels.low, arriving="tank", exchanger=frost - 1))
    room.full(night)
    room.full(mild)
    room.full(mild, SHORT_MS, 3)
    room.full(mild, IN_RESETS=3)
    room.full(mild, SHORT_MS, 1, IN_UPKEEP=s.UPKEEP_MAINTENANCE)
    room.full(mild, SHORT_MS, 1, IN_UPKEEP=s.UPKEEP_PURGE)
    room.full(night, SHORT_MS, 3, IN_HAND_MASK=7, IN_HAND_VALUE=7)
    room.full(levels.full_tank(of["dump_collector_start"]), SHORT_MS, 3, IN_HAND_MASK=1, IN_HAND_VALUE=1)
    room.patch({s.IN_RAW_CAUSE + s.COLLECTOR: s.CAUSE_OPEN}, LONG_MS, 2)
    room.patch({s.IN_RAW_CAUSE + s.TANK_LOW: s.CAUSE_OPEN, s.IN_RAW_CAUSE + s.TANK_HIGH: s.CAUSE_OPEN}, LONG_MS, 6)
    room.holds(3)
    return room


def heater(settings: np.ndarray, wide: bool) -> Alphabet:
    """The air heater on a quiet day of the water side; without one a single letter."""
    room, levels = Alphabet("heater", settings), Levels(settings)
    quiet = levels.plant(levels.of["collector_minimum"] - 1, levels.low, arriving="tank")
    room.full(quiet)
    if settings[cfg.AIR_HEATER] == 0:
        return room
    of = levels.of
    warm, cold_room = of["room_maximum"] - air.ROOM_EARLY_MK, of["room_minimum"]
    rooms = levels.around(warm, warm - air.ROOM_RESET_MK, cold_room)
    for inside in [*rooms, of["room_maximum"]]:
        differences = (of["air_start_difference"], of["air_stop_difference"], of["air_stop_difference"] + air.COLD_ROOM_MK, 0)
        for difference in levels.around(*differences):
            room.patch({RAW + s.ROOM: inside, RAW + s.AIR_COLLECTOR: inside + difference}, SHORT_MS, 4)
    mild = {RAW + s.ROOM: warm - 3000, RAW + s.AIR_COLLECTOR: warm + 40000}
    room.patch(mild, SHORT_MS, 4)
    room.patch({RAW + s.ROOM: warm - 3000, RAW + s.AIR_COLLECTOR: of["fan_limit"] + 1}, SHORT_MS, 4)
    room.patch({**mild, RAW + s.AIR_COLLECTOR: warm - 3000 + air.HOT_MK}, LONG_MS, 12)
    # A day of each season, where a sensor tells them apart.
    for mc in (of["summer_above"] + 6000, of["summer_above"] - 12000) if settings[cfg.OUTDOOR_FITTED] else ():
        room.patch({RAW + s.OUTDOOR: mc}, LONG_MS, 1440)
    room.patch({RAW + s.OUTDOOR: warm - 20000, RAW + s.ROOM: warm - 3000, RAW + s.AIR_COLLECTOR: warm - 4000}, LONG_MS, 545)
    nobody = dict.fromkeys((s.IN_HAND_MASK, s.IN_HAND_VALUE, s.IN_UPKEEP, s.IN_RESETS), 0)
    for mask, value in ((16, 16), (16, 0), (17, 17)):
        room.patch({**nobody, s.IN_HAND_MASK: mask, s.IN_HAND_VALUE: value}, SHORT_MS)
    room.patch({**nobody, s.IN_UPKEEP: s.UPKEEP_MAINTENANCE}, SHORT_MS)
    room.patch({**nobody, s.IN_RESETS: 3}, SHORT_MS)
    room.patch(nobody, SHORT_MS)
    for sensor in (s.AIR_COLLECTOR, s.ROOM):
        room.patch({s.IN_RAW_CAUSE + sensor: s.CAUSE_OPEN}, LONG_MS, 2)
        room.patch({s.IN_RAW_CAUSE + sensor: s.CAUSE_NONE}, SHORT_MS, 3)
    room.holds(3, 62)
    return room


ROOMS = (duties, sun, trust, cold, loop, people, hours, heater)
