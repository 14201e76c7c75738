"""What may break: the table of faults. budget.py says which may come together."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass

from twinloop.control import state as s

from ..thermal import parameters as p
from ..thermal.air import parameters as air
from . import block as b

MINUTE = 60.0
HOUR = 3600.0
DAY = 86400.0

SENSOR, RELAY, VALVE, PUMP, PLANT, POWER, PEOPLE = "sensor", "relay", "valve", "pump", "plant", "power", "people"
CLASSES = (SENSOR, RELAY, VALVE, PUMP, PLANT, POWER, PEOPLE)
EVERY_SENSOR = s.SENSOR_NAMES
TANK_SENSORS = ("tank_low", "tank_high")
# Name of each plant value, by its place.
NAME_AT = {index: row.name for row, index in p.ROWS}
AIR_ROWS = ("fan_relay_off", "fan_relay_welded", "filter_full", "damper_open")
# Sensors that sit in a pocket or on a pipe, and can fall off.
MOUNTED = tuple(name for name in EVERY_SENSOR if name not in ("outdoor", "tap", "air_collector", "room"))


@dataclass(frozen=True)
class Row:
    """One kind of fault: its class, how block.py lets it act, what it may hit, its least and
    greatest size, how long it lasts when transient, and the place in block.py that does not depend
    on the target.
    """

    name: str
    what: str
    _: KW_ONLY
    group: str
    kind: int
    targets: tuple[str, ...]
    size: tuple[float, float] = (1, 1)
    unit: str = "1"
    lasts_s: tuple[float, float]
    place: int = -1
    # A fault that ends by itself cannot last to the end of the phase.
    persistent: bool = True


def sensor(name: str, what: str, **more) -> Row:
    """A sensor fault; it may hit any sensor unless `targets` says otherwise."""
    return Row(name, what, **{"group": SENSOR, "targets": EVERY_SENSOR, **more})


def added(name: str, what: str, size: tuple[float, float], lasts_s: tuple[float, float]) -> Row:
    """A sensor fault that adds kelvins to the reading."""
    return sensor(name, what, kind=b.ADDED, size=size, unit="K", lasts_s=lasts_s)


def swapped(name: str, what: str, target: str) -> Row:
    """Two sensors that are wired in each other's place."""
    return sensor(name, what, kind=b.SWAPPED, targets=(target,), lasts_s=(12 * HOUR, 48 * HOUR))


def sensor_cause(name: str, cause: int, what: str, **more) -> Row:
    """A sensor fault that the driver reports with this cause."""
    lasts_s = (20.0, 12 * HOUR)
    return sensor(name, what, **{"kind": b.CAUSE, "size": (cause, cause), "unit": "code", "lasts_s": lasts_s, **more})


def relay(name: str, output: int, on: int, what: str) -> Row:
    """A relay, or its load, that stays on or off whatever the command."""
    group = PUMP if name.endswith("dead") else RELAY
    targets, lasts_s = (s.OUTPUT_NAMES[output],), (MINUTE, 48 * HOUR)
    return Row(name, what, group=group, kind=b.RELAY, targets=targets, size=(on, on), unit="0 or 1", lasts_s=lasts_s, place=output)


def scaled(name: str, what: str, *, place: int, **more) -> Row:
    """A plant value that falls to a part of itself."""
    targets, lasts_s = (NAME_AT[place],), (10 * MINUTE, 72 * HOUR)
    return Row(name, what, **{"kind": b.SCALED, "targets": targets, "unit": "part", "lasts_s": lasts_s, "place": place, **more})


def replaced(name: str, what: str, **more) -> Row:
    """A plant value that is replaced by another."""
    return scaled(name, what, kind=b.REPLACED, **more)


def power(name: str, what: str, kind: int, lasts_s: tuple[float, float], **more) -> Row:
    """A fault of the board's supply or of the board itself, which ends by itself."""
    return Row(name, what, group=POWER, kind=kind, targets=("board",), lasts_s=lasts_s, persistent=False, **more)


def people(name: str, what: str, lasts_s: tuple[float, float], **more) -> Row:
    """What somebody in the house does, which ends by itself."""
    facts = {"group": PEOPLE, "kind": b.WORLD, "targets": ("board",), "lasts_s": lasts_s, "persistent": False}
    return Row(name, what, **{**facts, **more})


ROWS = (
    sensor_cause("sensor_open", s.CAUSE_OPEN, "open circuit"),
    sensor_cause("sensor_short", s.CAUSE_SHORT, "short circuit"),
    sensor_cause("sensor_silent", s.CAUSE_SILENT, "no answer from the chip"),
    sensor_cause("sensor_power_on", s.CAUSE_POWER_ON, "the chip browns out and returns its power-on value"),
    sensor_cause("sensor_all_zero", s.CAUSE_ALL_ZERO, "all bytes zero, the bus is stuck low"),
    sensor_cause("bus_silent", s.CAUSE_SILENT, "all sensors but the collector", kind=b.BUS_LOST, targets=("bus",)),
    sensor("sensor_crc", "bursts of garbled answers", kind=b.CAUSE, size=(0.05, 0.9), unit="share", lasts_s=(MINUTE, 24 * HOUR)),
    sensor("sensor_stuck", "stays at the value of its first step", kind=b.STUCK, lasts_s=(5 * MINUTE, 48 * HOUR)),
    added("sensor_offset", "reads a little high or low", (-3, 3), (HOUR, 72 * HOUR)),
    added("sensor_far_off", "reads far too high or low", (-15, 15), (HOUR, 96 * HOUR)),
    sensor(
        "sensor_strapped",
        "strapped to the pipe: reads this part of it, the rest of the room",
        kind=b.MIXED,
        targets=MOUNTED,
        size=(0.75, 0.95),
        unit="part",
        lasts_s=(12 * HOUR, 96 * HOUR),
    ),
    sensor(
        "pocket_out",
        "fallen off: reads the room, or the air on the roof, and a little of its place",
        kind=b.MIXED,
        targets=MOUNTED,
        size=(0.0, 0.1),
        unit="part",
        lasts_s=(HOUR, 96 * HOUR),
    ),
    added("sensor_drift", "drifts slowly to its size", (-5, 5), (12 * HOUR, 96 * HOUR)),
    added("sensor_noise", "normal noise of this standard deviation", (0.1, 3), (MINUTE, 48 * HOUR)),
    added("sensor_spikes", "single values far off, up or down", (5, 60), (MINUTE, 48 * HOUR)),
    swapped("swapped_collector_tank", "collector and tank_low swapped", "collector"),
    swapped("swapped_tank", "tank_low and tank_high swapped", "tank_low"),
    sensor(
        "swapped_others",
        "any two swapped; the size is the number of the other",
        kind=b.SWAPPED,
        size=(0, s.SENSORS - 1),
        unit="sensor",
        lasts_s=(12 * HOUR, 96 * HOUR),
    ),
    sensor(
        "pocket_slipped",
        "follows slowly",
        kind=b.REPLACED,
        targets=EVERY_SENSOR[: s.WATER_SENSORS],
        size=(90, 600),
        unit="s of lag",
        lasts_s=(HOUR, 72 * HOUR),
    ),
    sensor_cause("flow_lost", s.CAUSE_SILENT, "no flow input", kind=b.FLOW_LOST, targets=("flow",), lasts_s=(MINUTE, 48 * HOUR)),
    sensor("flow_stuck", "the flow input keeps its value", kind=b.FLOW_STUCK, targets=("flow",), lasts_s=(10 * MINUTE, 24 * HOUR)),
    relay("collector_relay_off", s.COLLECTOR_PUMP, 0, "its relay does not close"),
    relay("collector_relay_welded", s.COLLECTOR_PUMP, 1, "its relay does not open"),
    relay("tank_relay_off", s.TANK_PUMP, 0, "its relay does not close"),
    relay("tank_relay_welded", s.TANK_PUMP, 1, "its relay does not open"),
    relay("valve_relay_off", s.DUMP_VALVE_POWER, 0, "its relay does not close"),
    relay("valve_relay_welded", s.DUMP_VALVE_POWER, 1, "its relay does not open"),
    Row(
        "valve_stuck",
        "sticks where it reaches this position",
        group=VALVE,
        kind=b.VALVE_HELD,
        targets=("dump_valve",),
        size=(0, 1),
        unit="place 0 .. 1",
        lasts_s=(HOUR, 72 * HOUR),
    ),
    replaced(
        "valve_leaks", "part of the flow goes the closed way", group=VALVE, place=p.DUMP_SEAT_LEAK, size=(0.02, 0.1), unit="share"
    ),
    relay("collector_pump_dead", s.COLLECTOR_PUMP, 0, "its motor does not turn"),
    relay("tank_pump_dead", s.TANK_PUMP, 0, "its motor does not turn"),
    scaled("collector_flow_low", "air, dirt or a worn pump", group=PUMP, place=p.COLLECTOR_FLOW_L_PER_MIN, size=(0.15, 0.8)),
    scaled("tank_flow_low", "air, dirt or a worn pump", group=PUMP, place=p.TANK_FLOW_L_PER_MIN, size=(0.15, 0.8)),
    scaled(
        "air_lock",
        "no glycol flows at all",
        group=PUMP,
        place=p.COLLECTOR_FLOW_L_PER_MIN,
        size=(0, 0),
        lasts_s=(3 * MINUTE, 3 * HOUR),
        persistent=False,
    ),
    scaled("radiator_covered", "covered or full of leaves", group=PLANT, place=p.RADIATOR_FLOW_W_PER_K, size=(0.0, 0.2)),
    replaced(
        "roof_check_leaks",
        "the gravity brake does not close",
        group=PLANT,
        place=p.ROOF_CHECK_VALVE_LEAK,
        size=(0.03, 0.3),
        unit="share",
    ),
    replaced(
        "tank_check_leaks",
        "the check valve does not close",
        group=PLANT,
        place=p.TANK_CHECK_VALVE_LEAK,
        size=(0.03, 0.3),
        unit="share",
    ),
    scaled("exchanger_fouled", "lime on the plates", group=PLANT, place=p.EXCHANGER_UA_W_PER_K, size=(0.1, 0.6)),
    relay("fan_relay_off", s.AIR_FAN, 0, "its relay does not close, or its motor does not turn"),
    relay("fan_relay_welded", s.AIR_FAN, 1, "its relay does not open"),
    replaced("filter_full", "full of dust", group=PLANT, place=p.AIR_FIRST + air.AIR_FILTER_DIRT, size=(5, 60), unit="times"),
    replaced(
        "damper_open",
        "the backdraught damper hangs",
        group=PLANT,
        place=p.AIR_FIRST + air.AIR_DAMPER_LEAK,
        size=(0.2, 1),
        unit="share",
    ),
    replaced("mixing_valve_off", "mixes to another temperature", group=PLANT, place=p.MIXING_VALVE_ERROR_K, size=(-8, 8), unit="K"),
    people("long_absence", "nobody draws water", (24 * HOUR, 96 * HOUR), targets=("draw",), persistent=True),
    people(
        "tank_emptied",
        "a tap runs, more than the tank holds",
        (10 * MINUTE, 3 * HOUR),
        targets=("draw",),
        size=(4, 15),
        unit="L/min",
    ),
    people("settings_changed", "somebody commits another accepted set", (HOUR, 48 * HOUR), targets=("settings",), persistent=True),
    people("commissioned", "the station starts cold in the middle of its work", (5.0, 5.0)),
    people(
        "hands", "outputs held by hand, one after the other", (MINUTE, 3 * HOUR), kind=b.HELD, size=(8, 63), unit="8 x held + on"
    ),
    people("purged", "filling and purging", (10 * MINUTE, 2 * HOUR), kind=b.UPKEEP, size=(s.UPKEEP_PURGE, s.UPKEEP_PURGE)),
    people(
        "maintained", "pumps off for work", (MINUTE, 30 * MINUTE), kind=b.UPKEEP, size=(s.UPKEEP_MAINTENANCE, s.UPKEEP_MAINTENANCE)
    ),
    power("power_cut", "no power at all", b.NO_POWER, (5.0, 12 * HOUR)),
    power(
        "power_flickers", "no power, for a step, again and again", b.NO_POWER, (10 * MINUTE, 9 * HOUR), size=(3, 200), unit="times"
    ),
    power(
        "supply_sags", "a start takes the power away once this many loads run", b.SAGS, (HOUR, 48 * HOUR), size=(1, 3), unit="loads"
    ),
    power("watchdog_reset", "the watchdog bites once", b.RESETS, (5.0, 5.0)),
    power("reset_storm", "the watchdog bites again and again", b.RESETS, (10 * MINUTE, 3 * HOUR), size=(3, 30), unit="resets"),
)
BY_NAME = {row.name: row for row in ROWS}


@dataclass(frozen=True)
class Fault:
    """One fault of an episode; `settings` are those that a commit changes."""

    name: str
    target: str
    size: float
    begin_s: float
    end_s: float
    settings: tuple[tuple[str, int], ...] = ()

    @property
    def row(self) -> Row:
        """The kind of this fault."""
        return BY_NAME[self.name]


def steps_of(fault: Fault, step_s: int) -> slice:
    """The steps in which a fault acts, as a slice."""
    return slice(int(fault.begin_s // step_s), int(fault.end_s // step_s))
