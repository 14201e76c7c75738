"""What the budget excuses in one episode, step by step; budget.py has the tables and reasons."""

from __future__ import annotations

import numpy as np
from twinloop.control import frost
from twinloop.control import settings as cfg
from twinloop.control import state as s

from .. import checkers, trace
from ..checkers.allowance import Allowance
from . import block as b
from . import budget
from . import faults as f
from .budget import AFTERMATH_S, UNPROTECTED

# Whatever was given up rests for half an hour. Starts upon starts rest the station for an hour, at
# most for four. Then it needs five minutes of evidence, and the plant as long to follow.
RETRY_S = 1800
STORM_S = 4 * 3600
EVIDENCE_S = 600


def asleep_masks(episode) -> dict[str, np.ndarray]:
    """Masks of the steps without power and with a watchdog reset, and the board's count."""
    case, steps = episode.case, len(episode.rows)
    unpowered, bitten = np.zeros(steps, dtype=bool), np.zeros(steps, dtype=bool)
    for number, fault in enumerate(case.faults):
        if fault.row.kind in (b.NO_POWER, b.SAGS):
            unpowered |= episode.faults.series[number] > 0.0
        if fault.row.kind == b.RESETS:
            bitten |= episode.faults.series[number] > 0.0
    moves = episode.rows[:, [trace.COMMANDS + output for output in s.MOVING]].max(axis=1) > 0
    resets = b.resets_in_force(unpowered, bitten, moves, case.step_s * 1000)
    return {"unpowered": unpowered, "bitten": bitten, "resets": resets}


def lagged_low_k(true_c: np.ndarray, lag_s: float, step_s: int) -> np.ndarray:
    """How far a pocket with this lag reads low in each step."""
    low, reading = np.zeros(len(true_c)), true_c[0]
    for k, place in enumerate(true_c.tolist()):
        reading += (place - reading) * step_s / (lag_s + step_s)
        low[k] = max(place - reading, 0.0)
    return low


def hidden_low_k(episode, number: int, sensor: int) -> np.ndarray:
    """How far a fault lets a sensor read low unnoticed; zero for faults that can be detected."""
    fault, steps = episode.case.faults[number], len(episode.rows)
    low = np.zeros(steps)
    where = f.steps_of(fault, episode.case.step_s)
    if fault.row.kind == b.MIXED:
        true, around = episode.rows[where, trace.TRUE_SENSORS + sensor], episode.faults.series[number][where]
        low[where] = np.maximum((1.0 - fault.size) * (true - around), 0.0)
    elif fault.name in ("sensor_offset", "sensor_far_off", "sensor_drift"):
        low[where] = np.maximum(-episode.faults.series[number][where], 0.0)
    elif fault.name == "pocket_slipped":
        low[where] = lagged_low_k(episode.rows[where, trace.TRUE_SENSORS + sensor], fault.size, episode.case.step_s)
    return low


def tank_shows_mc(episode) -> np.ndarray:
    """The hottest that the tank is, or that a sensor of it which reads high shows."""
    case, shown = episode.case, np.array(episode.rows[:, [trace.TRUE_SENSORS + s.TANK_LOW, trace.TRUE_SENSORS + s.TANK_HIGH]])
    for number, fault in enumerate(case.faults):
        if fault.target in budget.TANK_SENSORS and fault.name in budget.READS_HIGH:
            where = f.steps_of(fault, case.step_s)
            shown[where, budget.TANK_SENSORS.index(fault.target)] += np.maximum(episode.faults.series[number][where], 0.0)
    return shown.max(axis=1) * 1000.0


def allowance_of(episode) -> Allowance:
    """What the fault budget excuses in this episode."""
    case, steps = episode.case, len(episode.rows)
    allowance = Allowance(**asleep_masks(episode))
    for number, fault in enumerate(case.faults):
        where = f.steps_of(fault, case.step_s)
        after = slice(where.start, where.stop + int(AFTERMATH_S // case.step_s))
        if fault.target in s.SENSOR_NAMES:
            sensor = s.SENSOR_NAMES.index(fault.target)
            low = hidden_low_k(episode, number, sensor)
            allowance.reads_low_k[sensor] = allowance.reads_low_k.get(sensor, 0.0) + low
            if fault.name == "pocket_slipped":
                allowance.lag_s[sensor] = fault.size
        for name, test, _ in UNPROTECTED:
            if test(fault, case):
                allowance.excused.setdefault(name, np.zeros(steps, dtype=bool))[after] = True
    if case.faults:
        busy = int(max(fault.end_s for fault in case.faults) + recovered_s(case)) // case.step_s
        allowance.excused[checkers.missed_sun.NAME] = np.arange(steps) < busy
    ice = allowance.excused.get(checkers.exchanger_ice.NAME)
    if ice is not None:
        ice |= frozen_tank(episode) & np.maximum.accumulate(ice)
    for name, mask in compared(episode, allowance.down(steps)).items():
        allowance.excused[name] = mask | allowance.excused.get(name, False)
    return allowance


def frozen_tank(episode) -> np.ndarray:
    """Mask of the steps in which all of the tank is at 0 C or colder: it warms no plates."""
    true = episode.rows[:, trace.TRUE_SENSORS : trace.TRUE_SENSORS + s.SENSORS]
    return np.maximum(true[:, s.TANK_LOW], true[:, s.TANK_HIGH]) <= 0.0


def spans(case, steps: int, chosen, after_s: float = 0.0) -> np.ndarray:
    """Mask of the steps in which a chosen fault acts, or has acted this short ago."""
    mask = np.zeros(steps, dtype=bool)
    for fault in case.faults:
        if chosen(fault):
            where = f.steps_of(fault, case.step_s)
            mask[where.start : where.stop + int(after_s // case.step_s)] = True
    return mask


def to_midnight(mask: np.ndarray, step_s: int) -> np.ndarray:
    """A mask whose every stretch lasts to the end of its day: what has boiled cools at night."""
    days = np.arange(len(mask)) * step_s // int(f.DAY)
    first = np.full(int(days[-1]) + 1, len(mask))
    np.minimum.at(first, days[mask], np.flatnonzero(mask))
    return mask | (np.arange(len(mask)) >= first[days])


def woken(episode, down: np.ndarray) -> np.ndarray:
    """Mask of the steps from which the station starts cold: no power, reset, commissioned."""
    starts = down.astype(bool)
    for where, _, cold in episode.parts:
        starts[where.start] |= cold
    return starts


def forbidden(episode, starts: np.ndarray) -> np.ndarray:
    """Mask of the steps in which the design forbids any flow, however hot the collector gets.

    Beside a tank that is above its limit, or reads so, no glycol moves, nor beside plates near
    frost that a tank as cold cannot warm. A station that starts beside a collector above
    collector_reset assumes steam; in series it assumes a frosty loop, unless the weather is mild.
    """
    true = episode.rows[:, trace.TRUE_SENSORS : trace.TRUE_SENSORS + s.SENSORS] * 1000.0
    hottest, mask = np.maximum(true[:, s.TANK_LOW], true[:, s.TANK_HIGH]), np.zeros(len(starts), dtype=bool)
    shown = tank_shows_mc(episode)
    for where, settings, _ in episode.parts:
        steam = starts[where] & (true[where, s.COLLECTOR] >= settings[cfg.COLLECTOR_RESET])
        mask[where] = steam | (shown[where] > cfg.tank_limit_mc(settings))
        if settings[cfg.EXCHANGER_FITTED] != 0:
            mask[where] |= hottest[where] < settings[cfg.EXCHANGER_FROST] + frost.FROST_RESET_MK
        if settings[cfg.DUMP_TOPOLOGY] == cfg.SERIES:
            mask[where] |= starts[where] & (true[where, s.OUTDOOR] < budget.NEAR_FROST_C * 1000.0)
    return mask


def air_unknown(episode, starts: np.ndarray) -> np.ndarray:
    """Mask of the steps in which a radiator in series may hold frost, for all that anybody knows.

    The air is lost after a cold hour, or the station has started since and remembers none.
    """
    case, steps = episode.case, len(starts)
    cold = np.minimum.accumulate(episode.rows[:, trace.TRUE_SENSORS + s.OUTDOOR]) < budget.NEAR_FROST_C
    unknown = np.zeros(steps, dtype=bool)
    for fault in case.faults:
        lost = spans(case, steps, lambda one, fault=fault: one is fault and budget.blind_to_frost(one, case), recovered_s(case))
        unknown |= lost & (cold | np.maximum.accumulate(starts & lost))
    return unknown


def compared(episode, down: np.ndarray) -> dict[str, np.ndarray]:
    """What the checkers do not judge that compare, or count, over days."""
    judges, case, steps = checkers.storm, episode.case, len(down)
    starts = woken(episode, down)
    rests = spans(case, steps, lambda fault: budget.needs_rest(fault, case), recovered_s(case))
    acts = spans(case, steps, lambda fault: True)
    by_others = spans(case, steps, lambda fault: not budget.nameable(fault), recovered_s(case))
    blind = spans(case, steps, lambda fault: budget.blind_to_steam(fault, case), recovered_s(case))
    return {
        judges.idle_sun.NAME: rests | ~acts,
        judges.silence.NAME: ~spans(case, steps, budget.nameable) | by_others,
        judges.avoidable_boiling.NAME: to_midnight(blind | forbidden(episode, starts) | air_unknown(episode, starts), case.step_s),
        judges.carried_out.NAME: spans(case, steps, lambda fault: fault.row.group == f.PEOPLE),
        judges.relay_operations.NAME: spans(case, steps, lambda fault: fault.name in budget.SWITCHED, AFTERMATH_S),
    }


def recovered_s(case) -> int:
    """Time from the last fault to normal duty: slowest retry, sensor ages, moves, evidence."""
    slowest = STORM_S if any(fault.name in budget.RESTARTS for fault in case.faults) else RETRY_S
    ages = max(case.setting(cfg.TANK_AGE), case.setting(cfg.COLLECTOR_AGE)) // 1000
    moves = (case.setting(cfg.DUMP_TRAVEL) + max(case.setting(cfg.MINIMUM_REST), case.setting(cfg.TANK_RUN_ON_TIME))) // 1000
    return slowest + ages + moves + EVIDENCE_S
