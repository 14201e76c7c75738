"""The faults of a case as arrays: when each acts, and its effect in each step."""

from __future__ import annotations

import numpy as np
from twinloop.control import state as s

from ..thermal import parameters as p
from ..thermal import state as th
from . import block as b
from .faults import Fault, steps_of

# Least and greatest chance of a spike in a step, and mean length in steps of a burst of garbled
# answers (ours).
SPIKE_SHARES = (0.005, 0.04)
BURST_STEPS = 4.0


def bursts(random, share: float, steps: int) -> np.ndarray:
    """Draw bursts of ones that fill a share of the steps."""
    series = np.zeros(steps)
    at = 0
    while at < steps:
        length = 1 + int(random.exponential(BURST_STEPS))
        series[at : at + length] = 1.0
        at += length + 1 + int(random.exponential(BURST_STEPS * (1.0 - share) / share))
    return series


def held(random, first: int, steps: int) -> np.ndarray:
    """What hands hold in turn: the first of this size, then up to three others, mostly on."""
    series = np.full(steps, float(first))
    for begin in np.sort(random.integers(0, steps, int(random.integers(0, 4)))):
        bits = int(random.integers(1, b.HELD_BY))
        on = bits & int(random.integers(0, b.HELD_BY)) if random.random() < 0.3 else bits
        series[begin:] = b.HELD_BY * bits + on
    return series


def around_c(fault: Fault, drive: np.ndarray) -> np.ndarray:
    """What surrounds a sensor: the air on the roof, the room elsewhere; in C."""
    return drive[:, th.DRIVE_AMBIENT_C if fault.target == "collector" else th.DRIVE_ROOM_C]


def series_of(random, fault: Fault, drive: np.ndarray) -> np.ndarray:
    """Draw a fault's effect over its own steps, whose weather is `drive`."""
    steps = len(drive)
    if fault.row.kind == b.MIXED:
        return around_c(fault, drive)
    if fault.name == "sensor_crc":
        return bursts(random, fault.size, steps)
    if fault.name in ("sensor_offset", "sensor_far_off"):
        return np.full(steps, fault.size)
    if fault.name == "sensor_drift":
        return np.linspace(0.0, fault.size, steps)
    if fault.name == "sensor_noise":
        return random.normal(0.0, fault.size, steps)
    if fault.name == "sensor_spikes":
        share = random.uniform(*SPIKE_SHARES)
        return np.where(random.random(steps) < share, fault.size * random.choice((-1.0, 1.0), steps), 0.0)
    if fault.name == "power_flickers":
        series = np.zeros(steps)
        series[:: max(2, int(steps // fault.size))] = 1.0
        return series
    if fault.row.kind == b.SAGS:
        return np.zeros(steps)
    if fault.row.kind == b.HELD:
        return held(random, int(fault.size), steps)
    if fault.row.kind == b.RESETS:
        series = np.zeros(steps)
        series[random.integers(0, steps, max(1, int(fault.size)))] = 1.0
        return series
    return np.ones(steps)


def place(fault: Fault) -> tuple[int, float]:
    """Target and size for the schedule."""
    if fault.name == "swapped_collector_tank":
        return s.COLLECTOR, float(s.TANK_LOW)
    if fault.name == "swapped_tank":
        return s.TANK_LOW, float(s.TANK_HIGH)
    if fault.row.kind == b.SAGS:
        return 0, float(round(fault.size))
    if fault.name == "pocket_slipped":
        return p.SENSOR_LAGS[s.SENSOR_NAMES.index(fault.target)], fault.size
    if fault.name == "sensor_crc":
        return s.SENSOR_NAMES.index(fault.target), float(s.CAUSE_CRC)
    if fault.target in s.SENSOR_NAMES:
        return s.SENSOR_NAMES.index(fault.target), fault.size if fault.row.kind != b.SWAPPED else float(round(fault.size))
    if fault.name == "bus_silent":
        return s.TANK_LOW, fault.size
    return max(fault.row.place, 0), fault.size


def prepare(case, drive: np.ndarray) -> b.Faults:
    """The faults of a case for block.py; the same numbers for the same seed and weather."""
    steps = len(drive)
    schedule = np.zeros((len(case.faults), b.SCHEDULE))
    series = np.zeros((len(case.faults), steps))
    for number, fault in enumerate(case.faults):
        where = steps_of(fault, case.step_s)
        # Each fault has its own random stream: dropping one in shrinking leaves the others
        # unchanged.
        random = np.random.default_rng([case.seed, *fault.name.encode(), *fault.target.encode()])
        series[number, where] = series_of(random, fault, drive[where])
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
