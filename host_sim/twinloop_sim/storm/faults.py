"""What may break, how, and how often: one named row a fault, and the budget.

The budget
----------
1. An episode has one to three faults (`AT_ONCE`), each either transient, for a time within its row's range, or persistent to the
   end of the safety phase. In the recovery phase there is none.
2. `BEYOND` names pairs that a controller with these sensors cannot survive by itself; they are not drawn together. In each of them
   a mechanical device stays in charge: manual-reset cut-out on tank pump and dump supply, relief valves, expansion vessels.
3. `UNPROTECTED` names single faults against which an invariant does not hold without a sensor or switch that the station does not
   have. They are drawn, every other invariant is judged, and that one is not while the fault lasts and shortly after.
4. A sensor that reads low by a bounded amount and shows it nowhere (`sensor_offset`, `sensor_drift`, `pocket_slipped`) hides just
   that amount: the checkers allow it on top of their limit, no more.
5. Collector and tank_low exchanged since the wires were joined is found within ten minutes of pumping at night. Tank_low and
   tank_high exchanged is shown by the alarm as soon as the tank is stratified by 5 K; the limits look at the hotter one anyway.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s

from ..thermal import parameters as p
from . import block as b

# Chances of one, two and three faults at once.
AT_ONCE = (0.5, 0.35, 0.15)
# Chance that a fault is persistent: to the end of the safety phase.
PERSISTENT = 0.4

# Chance that a fault begins by day, and which hours that is.
BY_DAY = 0.6
SUNNY_H = (8.0, 15.0)

MINUTE = 60.0
HOUR = 3600.0
DAY = 86400.0
# Chance that a spike falls into a step, and mean length of a burst of garbled answers in steps (ours).
SPIKE_SHARE = 0.02
BURST_STEPS = 4.0
# A plate stays cold, and a tank hot, for a while after a fault that nobody could do anything about.
AFTERMATH_S = 1800.0

SENSOR, RELAY, VALVE, PUMP, PLANT, POWER = "sensor", "relay", "valve", "pump", "plant", "power"
CLASSES = (SENSOR, RELAY, VALVE, PUMP, PLANT, POWER)
# Chance of each class; within one, every row that the plant has is as likely.
CLASS_SHARES = (0.4, 0.12, 0.08, 0.14, 0.14, 0.12)
EVERY_SENSOR = s.SENSOR_NAMES
# The sensors that decide something; `tap` and `loop_return` only tell.
TANK_SENSORS = ("tank_low", "tank_high")


@dataclass(frozen=True)
class Row:
    """One fault: its name and class, the size's unit and range, how long it lasts when transient (s), what it hits, and what it is.

    `kind` is how block.py lets it act, `place` what it acts on there when that does not depend on the target.
    """

    name: str
    group: str
    unit: str
    low: float
    high: float
    shortest_s: float
    longest_s: float
    targets: tuple[str, ...]
    kind: int
    what: str
    place: int = -1
    # A fault that is over by itself cannot last to the end of the phase.
    persistent: bool = True


def sensor_cause(name: str, cause: int, what: str) -> Row:
    """A sensor whose driver knows that it is not well."""
    return Row(name, SENSOR, "code", cause, cause, 20.0, 12 * HOUR, EVERY_SENSOR, b.CAUSE, what)


def relay(name: str, output: int, on: int, what: str) -> Row:
    """A relay, or what it switches, that does not do what it is told."""
    group = PUMP if name.endswith("dead") else RELAY
    return Row(name, group, "0 or 1", on, on, MINUTE, 48 * HOUR, (s.OUTPUT_NAMES[output],), b.RELAY, what, output)


def value(name: str, group: str, unit: str, low: float, high: float, place: int, kind: int, what: str) -> Row:
    """A value of the plant that is no longer what it was."""
    return Row(name, group, unit, low, high, 10 * MINUTE, 72 * HOUR, (p.TABLE[place].name,), kind, what, place)


ROWS = (
    sensor_cause("sensor_open", s.CAUSE_OPEN, "open circuit"),
    sensor_cause("sensor_short", s.CAUSE_SHORT, "short circuit"),
    sensor_cause("sensor_silent", s.CAUSE_SILENT, "no answer from the chip"),
    sensor_cause("sensor_power_on", s.CAUSE_POWER_ON, "the chip browns out and offers its power-on value"),
    sensor_cause("sensor_all_zero", s.CAUSE_ALL_ZERO, "all bytes zero, the bus is stuck low"),
    Row(
        "bus_silent", SENSOR, "code", s.CAUSE_SILENT, s.CAUSE_SILENT, 20.0, 12 * HOUR, ("bus",), b.BUS_LOST, "all but the collector"
    ),
    Row("sensor_crc", SENSOR, "share", 0.05, 0.9, MINUTE, 24 * HOUR, EVERY_SENSOR, b.CAUSE, "bursts of garbled answers"),
    Row("sensor_stuck", SENSOR, "1", 1, 1, 5 * MINUTE, 48 * HOUR, EVERY_SENSOR, b.STUCK, "stays at the value of its first step"),
    Row("sensor_offset", SENSOR, "K", -3, 3, HOUR, 72 * HOUR, EVERY_SENSOR, b.ADDED, "reads higher or lower, bounded"),
    Row(
        "sensor_drift", SENSOR, "K", -5, 5, 12 * HOUR, 96 * HOUR, EVERY_SENSOR, b.ADDED, "walks away slowly, to its size at its end"
    ),
    Row("sensor_noise", SENSOR, "K", 0.1, 3, MINUTE, 48 * HOUR, EVERY_SENSOR, b.ADDED, "normal noise of this standard deviation"),
    Row("sensor_spikes", SENSOR, "K", 5, 60, MINUTE, 48 * HOUR, EVERY_SENSOR, b.ADDED, "single values far off, up or down"),
    Row(
        "swapped_collector_tank",
        SENSOR,
        "1",
        1,
        1,
        12 * HOUR,
        48 * HOUR,
        ("collector",),
        b.SWAPPED,
        "collector and tank_low exchanged",
    ),
    Row("swapped_tank", SENSOR, "1", 1, 1, 12 * HOUR, 48 * HOUR, ("tank_low",), b.SWAPPED, "tank_low and tank_high exchanged"),
    Row("pocket_slipped", SENSOR, "s of lag", 90, 300, HOUR, 72 * HOUR, EVERY_SENSOR, b.REPLACED, "a sensor follows slowly"),
    Row("flow_lost", SENSOR, "code", s.CAUSE_SILENT, s.CAUSE_SILENT, MINUTE, 48 * HOUR, ("flow",), b.FLOW_LOST, "no flow input"),
    Row("flow_stuck", SENSOR, "1", 1, 1, 10 * MINUTE, 24 * HOUR, ("flow",), b.FLOW_STUCK, "the flow input stays at its value"),
    relay("collector_relay_off", s.COLLECTOR_PUMP, 0, "its relay does not close"),
    relay("collector_relay_welded", s.COLLECTOR_PUMP, 1, "its relay does not open"),
    relay("tank_relay_off", s.TANK_PUMP, 0, "its relay does not close"),
    relay("tank_relay_welded", s.TANK_PUMP, 1, "its relay does not open"),
    relay("valve_relay_off", s.DUMP_VALVE_POWER, 0, "its relay does not close"),
    relay("valve_relay_welded", s.DUMP_VALVE_POWER, 1, "its relay does not open"),
    Row(
        "valve_stuck",
        VALVE,
        "place 0 .. 1",
        0,
        1,
        HOUR,
        72 * HOUR,
        ("dump_valve",),
        b.VALVE_HELD,
        "sticks where it gets to this place",
    ),
    value("valve_leaks", VALVE, "share", 0.02, 0.1, p.DUMP_SEAT_LEAK, b.REPLACED, "a part of the flow takes the shut way"),
    relay("collector_pump_dead", s.COLLECTOR_PUMP, 0, "its motor does not turn"),
    relay("tank_pump_dead", s.TANK_PUMP, 0, "its motor does not turn"),
    value("collector_flow_low", PUMP, "part", 0.15, 0.8, p.COLLECTOR_FLOW_L_PER_MIN, b.SCALED, "air, dirt or a worn pump"),
    value("tank_flow_low", PUMP, "part", 0.15, 0.8, p.TANK_FLOW_L_PER_MIN, b.SCALED, "air, dirt or a worn pump"),
    Row(
        "air_lock",
        PUMP,
        "part",
        0,
        0,
        3 * MINUTE,
        3 * HOUR,
        ("collector_flow_l_per_min",),
        b.SCALED,
        "no glycol flows at all",
        p.COLLECTOR_FLOW_L_PER_MIN,
        persistent=False,
    ),
    value("radiator_covered", PLANT, "part", 0.0, 0.2, p.RADIATOR_FLOW_W_PER_K, b.SCALED, "covered or full of leaves"),
    value("roof_check_leaks", PLANT, "share", 0.03, 0.3, p.ROOF_CHECK_VALVE_LEAK, b.REPLACED, "the gravity brake does not shut"),
    value("tank_check_leaks", PLANT, "share", 0.03, 0.3, p.TANK_CHECK_VALVE_LEAK, b.REPLACED, "the check valve does not shut"),
    value("exchanger_fouled", PLANT, "part", 0.1, 0.6, p.EXCHANGER_UA_W_PER_K, b.SCALED, "lime on the plates"),
    value("mixing_valve_off", PLANT, "K", -8, 8, p.MIXING_VALVE_ERROR_K, b.REPLACED, "mixes to another temperature"),
    Row("long_absence", PLANT, "1", 1, 1, 24 * HOUR, 96 * HOUR, ("draw",), b.WORLD, "nobody draws water"),
    Row("settings_changed", PLANT, "1", 1, 1, HOUR, 48 * HOUR, ("settings",), b.WORLD, "somebody commits another accepted set"),
    Row("power_cut", POWER, "1", 1, 1, 5.0, 12 * HOUR, ("board",), b.NO_POWER, "no power at all", persistent=False),
    Row("watchdog_reset", POWER, "1", 1, 1, 5.0, 5.0, ("board",), b.RESETS, "the watchdog bites once", persistent=False),
    Row(
        "reset_storm",
        POWER,
        "resets",
        3,
        30,
        10 * MINUTE,
        3 * HOUR,
        ("board",),
        b.RESETS,
        "the watchdog bites again and again",
        persistent=False,
    ),
)
BY_NAME = {row.name: row for row in ROWS}


@dataclass(frozen=True)
class Fault:
    """One fault of an episode: which row, what it hits, how large, from when to when in s; the settings that a commit changes."""

    name: str
    target: str
    size: float
    begin_s: float
    end_s: float
    settings: tuple[tuple[str, int], ...] = ()

    @property
    def row(self) -> Row:
        """Its row."""
        return BY_NAME[self.name]


HIDDEN = {
    "sensor_stuck",
    "sensor_offset",
    "sensor_drift",
    "pocket_slipped",
    "swapped_tank",
    "swapped_collector_tank",
    "sensor_noise",
}
LOST = {
    "bus_silent",
    "sensor_open",
    "sensor_short",
    "sensor_silent",
    "sensor_power_on",
    "sensor_all_zero",
    "sensor_crc",
    "sensor_spikes",
}
NOT_HOME = {"valve_relay_welded", "valve_stuck", "valve_leaks"}
HELD_OPEN = {"collector_relay_welded", "tank_relay_welded", "tank_check_leaks", *NOT_HOME}


def hits(fault: Fault) -> tuple[str, ...]:
    """The sensors of a fault."""
    if fault.name == "swapped_tank":
        return TANK_SENSORS
    if fault.name == "bus_silent":
        return EVERY_SENSOR[s.TANK_LOW :]
    if fault.name == "swapped_collector_tank":
        return ("collector", "tank_low")
    return (fault.target,)


def on_tank(fault: Fault, names: set[str]) -> bool:
    """Whether a fault is one of these and hits a tank sensor."""
    return fault.name in names and any(sensor in TANK_SENSORS for sensor in hits(fault))


def both_tank_sensors_wrong(one: Fault, other: Fault, case) -> bool:
    """One tank sensor lies, and the other lies too or is lost."""
    return on_tank(one, HIDDEN) and on_tank(other, HIDDEN | LOST)


def both_glycol_sensors_wrong(one: Fault, other: Fault, case) -> bool:
    """The collector's sensor lies, and loop_supply lies too or is lost."""
    lies = one.name in HIDDEN and "collector" in hits(one)
    return lies and other.name in HIDDEN | LOST and "loop_supply" in hits(other)


def two_held_open(one: Fault, other: Fault, case) -> bool:
    """Two faults that both hold a way open between sun, or night, and tank."""
    return one.name in HELD_OPEN and other.name in HELD_OPEN


def held_open_and_lie(one: Fault, other: Fault, case) -> bool:
    """A way is held open, and a sensor that could tell of it lies or is lost."""
    told = one.name in HIDDEN | LOST and any(name in ("tank_low", "tank_high", "exchanger", "collector") for name in hits(one))
    return told and other.name in HELD_OPEN


def nobody_home_in_frost(one: Fault, other: Fault, case) -> bool:
    """No power for the tank pump while buoyancy brings frosty glycol into the exchanger."""
    dark = {"power_cut", "reset_storm", "watchdog_reset", "tank_relay_off", "tank_pump_dead"}
    return one.name in dark and other.name in {"roof_check_leaks", "collector_relay_welded"}


# Pairs that are not drawn together: the test on (one, other, case), and why.
BEYOND: tuple[tuple[Callable, str], ...] = (
    (
        both_tank_sensors_wrong,
        "a tank sensor that lies is contradicted by the other one only; the cut-out on the tank pump stays in charge",
    ),
    (
        both_glycol_sensors_wrong,
        "a collector sensor that lies is contradicted by loop_supply only; relief valve and cut-out stay in charge",
    ),
    (
        two_held_open,
        "two actuators that hold the same way open leave no relay to shut it; cut-out and relief valves stay in charge",
    ),
    (held_open_and_lie, "an actuator that holds a way open is known from temperatures only; the cut-out stays in charge"),
    (
        nobody_home_in_frost,
        "frost in the exchanger is fought with the tank pump only; with the pump or its power gone nothing is left",
    ),
)


def leads_through(case) -> bool:
    """Whether glycol meets the exchanger on its only way."""
    return case.topology() != "bypass"


def ice_valve_not_home(fault: Fault, case) -> bool:
    """The way round the exchanger leads through it."""
    return fault.name in NOT_HOME and case.topology() == "bypass" and not (fault.name == "valve_stuck" and fault.size == 0.0)


def ice_welded(fault: Fault, case) -> bool:
    """A collector pump that nobody can stop, and no way round."""
    return fault.name == "collector_relay_welded" and leads_through(case)


def ice_unseen(fault: Fault, case) -> bool:
    """Night circulation through the exchanger without a sensor on its plates."""
    return fault.name == "roof_check_leaks" and leads_through(case) and not case.setting(cfg.EXCHANGER_FITTED)


def tank_high_stuck_unseen(fault: Fault, case) -> bool:
    """A stuck tank_high is told from the heat that passes it, which needs loop_supply."""
    return fault.name == "sensor_stuck" and fault.target == "tank_high" and not case.setting(cfg.LOOP_SUPPLY_FITTED)


# Checker, the test on (fault, case), and why that invariant is not judged then.
UNPROTECTED: tuple[tuple[str, Callable, str], ...] = (
    (
        "exchanger_ice",
        ice_valve_not_home,
        "a dump valve that is not where it was told to be: not protected without end switches on it",
    ),
    (
        "exchanger_ice",
        ice_welded,
        "a welded collector pump without a way round the exchanger: not protected without a second relay",
    ),
    ("exchanger_ice", ice_unseen, "night circulation through a leaking check valve: not protected without the exchanger sensor"),
    ("tank_node", tank_high_stuck_unseen, "tank_high stuck at its value: not protected without loop_supply"),
)


def beyond(faults: tuple[Fault, ...], case) -> str:
    """Why this combination is not drawn, empty when it is."""
    for one in faults:
        for other in faults:
            if one is other:
                continue
            if one.name == other.name and one.target == other.target:
                return "the same fault twice"
            for test, why in BEYOND:
                if test(one, other, case):
                    return why
    return ""


def possible(row: Row, case) -> bool:
    """Whether this plant has what the fault hits."""
    if row.targets == ("flow",):
        return case.setting(cfg.FLOW_SENSOR) != cfg.NO_FLOW_SENSOR
    if row.name in ("valve_relay_off", "valve_relay_welded", "valve_stuck", "valve_leaks", "radiator_covered"):
        return case.topology() != "none"
    return True


def targets(row: Row, case) -> list[str]:
    """What a fault may hit in this plant: fitted sensors only, the three that decide most three times as often."""
    if row.targets != EVERY_SENSOR:
        return list(row.targets)
    fitted = [
        name
        for index, name in enumerate(EVERY_SENSOR)
        if index < s.LOOP_SUPPLY or case.setting(cfg.LOOP_SUPPLY_FITTED + index - s.LOOP_SUPPLY)
    ]
    return fitted + 2 * [name for name in fitted if name in ("collector", *TANK_SENSORS)]


def draw_size(random, row: Row) -> float:
    """A size within the row's range; a valve sticks at an end or half-way."""
    if row.kind == b.VALVE_HELD:
        return float(random.choice((0.0, 0.5, 1.0)))
    return round(float(random.uniform(row.low, row.high)), 3)


def draw_begin_s(random, safety_s: float) -> float:
    """When a fault begins, in the first seven tenths of the safety phase: most while the sun is up, where most of them are felt."""
    begin_s = float(random.uniform(0.02, 0.7)) * safety_s
    if random.random() < BY_DAY:
        begin_s = begin_s // DAY * DAY + float(random.uniform(*SUNNY_H)) * HOUR
    return min(begin_s, 0.9 * safety_s)


def draw_fault(random, row: Row, case) -> Fault:
    """One fault of a row, within the safety phase of the case."""
    safety_s = case.safety_s()
    begin_s = draw_begin_s(random, safety_s)
    length_s = float(np.exp(random.uniform(np.log(row.shortest_s), np.log(row.longest_s))))
    end_s = min(begin_s + length_s, safety_s)
    if row.persistent and random.random() < PERSISTENT:
        end_s = safety_s
    step_s = case.step_s
    begin_s, end_s = begin_s // step_s * step_s, max(end_s // step_s * step_s, begin_s // step_s * step_s + step_s)
    changed = case.other_settings(random) if row.name == "settings_changed" else ()
    return Fault(row.name, str(random.choice(targets(row, case))), draw_size(random, row), begin_s, end_s, changed)


def draw_row(random, rows: list[Row]) -> Row:
    """A class by its chance, then a row of that class."""
    there = [any(row.group == group for row in rows) for group in CLASSES]
    shares = np.array(CLASS_SHARES) * there
    group = CLASSES[int(random.choice(len(CLASSES), p=shares / shares.sum()))]
    rows = [row for row in rows if row.group == group]
    return rows[int(random.integers(len(rows)))]


def draw_faults(random, case, only: str | None) -> tuple[Fault, ...]:
    """The faults of an episode, within the budget."""
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


def steps_of(fault: Fault, step_s: int) -> slice:
    """The steps in which a fault acts."""
    return slice(int(fault.begin_s // step_s), int(fault.end_s // step_s))


def bursts(random, share: float, steps: int) -> np.ndarray:
    """0 and 1 in runs: bursts of a mean length that fill a share of the steps."""
    series = np.zeros(steps)
    at = 0
    while at < steps:
        length = 1 + int(random.exponential(BURST_STEPS))
        series[at : at + length] = 1.0
        at += length + 1 + int(random.exponential(BURST_STEPS * (1.0 - share) / share))
    return series


def series_of(random, fault: Fault, steps: int, step_s: int) -> np.ndarray:
    """What a fault does over its own steps."""
    if fault.name == "sensor_crc":
        return bursts(random, fault.size, steps)
    if fault.name == "sensor_offset":
        return np.full(steps, fault.size)
    if fault.name == "sensor_drift":
        return np.linspace(0.0, fault.size, steps)
    if fault.name == "sensor_noise":
        return random.normal(0.0, fault.size, steps)
    if fault.name == "sensor_spikes":
        return np.where(random.random(steps) < SPIKE_SHARE, fault.size * random.choice((-1.0, 1.0), steps), 0.0)
    if fault.row.kind == b.RESETS:
        series = np.zeros(steps)
        series[random.integers(0, steps, max(1, int(fault.size)))] = 1.0
        return series
    return np.ones(steps)


def place(fault: Fault) -> tuple[int, float]:
    """Target and size of the schedule's row."""
    if fault.name == "swapped_collector_tank":
        return s.COLLECTOR, float(s.TANK_LOW)
    if fault.name == "swapped_tank":
        return s.TANK_LOW, float(s.TANK_HIGH)
    if fault.name == "pocket_slipped":
        return p.COLLECTOR_SENSOR_S + s.SENSOR_NAMES.index(fault.target), fault.size
    if fault.name == "sensor_crc":
        return s.SENSOR_NAMES.index(fault.target), float(s.CAUSE_CRC)
    if fault.target in s.SENSOR_NAMES:
        return s.SENSOR_NAMES.index(fault.target), fault.size
    if fault.name == "bus_silent":
        return s.TANK_LOW, fault.size
    return max(fault.row.place, 0), fault.size


def prepare(case, steps: int) -> b.Faults:
    """The faults of a case as block.py wants them; the same numbers for the same seed."""
    schedule = np.zeros((len(case.faults), b.SCHEDULE))
    series = np.zeros((len(case.faults), steps))
    for number, fault in enumerate(case.faults):
        where = steps_of(fault, case.step_s)
        # Each fault has its own stream: one that is taken away in shrinking leaves the others as they were.
        random = np.random.default_rng([case.seed, *fault.name.encode(), *fault.target.encode()])
        series[number, where] = series_of(random, fault, where.stop - where.start, case.step_s)
        target, size = place(fault)
        schedule[number] = (fault.row.kind, target, size, where.start, where.stop)
    count = len(case.faults)
    return b.Faults(
        schedule,
        series,
        memory=np.full(count, np.nan),
        felt=np.zeros(count, dtype=np.int64),
        tallies=np.zeros(b.TALLIES, dtype=np.int64),
    )
