"""One episode of `storm`: run it, judge it on plant truth, check that the station recovers.

Recovery: when the faults end, so does the safety phase. Two stations go on from that plant: the one
that lived through the faults, and a fresh one that wakes with the same settings on a copy, under
the same weather and draws. After `recovered_s` the old station must show no fault reason that the
fresh one does not show, must trust every fitted sensor that the fresh one trusts, and must charge
or dump at least half as long as the fresh one, less half an hour.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from functools import lru_cache
from types import SimpleNamespace

import numpy as np
from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control import station

from .. import checkers, trace
from ..checkers.allowance import Allowance
from ..demand.profiles import PROFILES, daily_kwh
from ..demand.table import draw_table
from ..engine.block import Rig
from ..engine.run import CHIP_STEPS_PER_K
from ..thermal import parameters as p
from ..thermal import state as th
from ..thermal.storage import initial_plant
from ..weather.files import named_weather
from ..weather.plane import on_plane
from ..weather.table import drive_table
from . import block as b
from . import faults as f
from .budget import AFTERMATH_S, UNPROTECTED
from .draw import Case
from .schedule import prepare

RECOVERY = "recovery"
FAULT_REASONS = (
    why.COLLECTOR_UNKNOWN,
    why.TANK_UNKNOWN,
    why.TANK_UNKNOWN_DUMP,
    why.GLYCOL_NOT_ARRIVING,
    why.GUARD_ACTED,
    why.RESET_STORM,
    why.VALVE_HOMING,
    why.RADIATOR_DEAD,
    why.DUMP_HEATS_TANK,
    why.HEAT_ASTRAY,
    why.SENSORS_SWAPPED,
    why.FLOW_MISSING,
)
# Whatever was given up rests for half an hour. Three resets stop the station for an hour. Then it
# needs five minutes of evidence, and the plant as long to follow.
RETRY_S = 1800
STORM_S = 3600
EVIDENCE_S = 600
# The old station must be worth this share of a fresh one.
USEFUL_SHARE = 0.5
USEFUL_LESS_S = 1800


@dataclass
class Result:
    """The result of an episode; `felt` has an entry for each fault, `digest` is of the trace."""

    case: Case
    violations: list[dict]
    felt: list[bool]
    guard_actions: int
    digest: str


@dataclass
class Episode:
    """The arrays of an episode; `parts` are its spans of constant settings."""

    case: Case
    values: np.ndarray
    plant: np.ndarray
    drive: np.ndarray
    rows: np.ndarray
    state: np.ndarray
    settings: np.ndarray
    faults: b.Faults
    parts: list[tuple[slice, np.ndarray]] = field(default_factory=list)


def weather_of(place: str):
    """The typical year of one of draw.PLACES."""
    return named_weather(place.replace("_", "-"))


@lru_cache(maxsize=4)
def plane_of(place: str, slope_deg: float, azimuth_deg: float, b0: float):
    """Irradiance on a plane over the year, computed once for each station."""
    values = p.plant_values({"collector_slope_deg": slope_deg, "collector_azimuth_deg": azimuth_deg, "collector_b0": b0})
    return on_plane(weather_of(place), values)


def drive_of(case: Case, values: np.ndarray) -> np.ndarray:
    """Weather and draws, one row for each step."""
    facts = (float(values[p.COLLECTOR_SLOPE_DEG]), float(values[p.COLLECTOR_AZIMUTH_DEG]), float(values[p.COLLECTOR_B0]))
    plane = plane_of(case.weather, *facts)
    drive = drive_table(weather_of(case.weather), values, case.start, case.days, case.step_s, plane=plane)
    drive[:, th.DRIVE_AMBIENT_C] += case.ambient_shift_k
    profile = PROFILES[case.profile]
    drive[:, th.DRIVE_DRAW_L_PER_MIN] = draw_table(
        profile,
        case.days,
        case.step_s,
        drive[:, th.DRIVE_COLD_MAIN_C],
        scale=case.daily_kwh / daily_kwh(profile),
        delivery_c=values[p.HEATER_SET_C],
    )
    return drive


def stay_away(episode: Episode) -> None:
    """Remove the draws during an absence, which is felt if there were any."""
    for number, fault in enumerate(episode.case.faults):
        if fault.name == "long_absence":
            where = f.steps_of(fault, episode.case.step_s)
            episode.faults.felt[number] = np.count_nonzero(episode.drive[where, th.DRIVE_DRAW_L_PER_MIN])
            episode.drive[where, th.DRIVE_DRAW_L_PER_MIN] = 0.0


def open_episode(case: Case) -> Episode:
    """Set up the arrays of an episode."""
    values = p.plant_values(case.plant)
    drive = drive_of(case, values)
    episode = Episode(
        case=case,
        values=values,
        plant=initial_plant(values, drive[0, th.DRIVE_AMBIENT_C], *case.tank),
        drive=drive,
        rows=np.zeros((len(drive), trace.WIDTH)),
        state=np.zeros(s.STATE, dtype=np.int32),
        settings=np.array(case.settings_array(), dtype=np.int32),
        faults=prepare(case, len(drive)),
    )
    episode.rows[:, 0] = np.arange(len(drive)) * case.step_s
    station.wake(episode.state, episode.settings, np.zeros(s.INPUTS, dtype=np.int32))
    stay_away(episode)
    return episode


def rig_of(plant: np.ndarray, values: np.ndarray, state: np.ndarray, settings: np.ndarray) -> Rig:
    """A plant whose chips have no offset, and its firmware."""
    return Rig(
        plant,
        values,
        flux=np.zeros(th.FLUX_COUNT),
        chips=np.array([[0.0] * s.SENSORS, CHIP_STEPS_PER_K]),
        felt_c=np.zeros(s.SENSORS),
        command=np.zeros(s.OUTPUTS, dtype=np.int64),
        state=state,
        settings=settings,
        inputs=np.zeros(s.INPUTS, dtype=np.int32),
    )


def run_part(run_block, episode: Episode, where: slice, plant, state, rows, faultless: bool = False) -> None:
    """Run some steps of an episode on this plant and firmware, into these rows."""
    faults = episode.faults
    if faultless:
        faults = b.Faults(*(array[:0] for array in faults[:-1]), tallies=np.zeros_like(faults.tallies))
    rig = rig_of(plant, episode.values, state, episode.settings)
    run_block(rig, faults, where.start, episode.drive[where], episode.case.step_s * 1000, rows)


def commits(case: Case) -> list[tuple[int, int, bool]]:
    """When somebody commits settings: (step, number of the fault, whether it begins)."""
    found = []
    for number, fault in enumerate(case.faults):
        if fault.name == "settings_changed":
            where = f.steps_of(fault, case.step_s)
            found += [(where.start, number, True), (where.stop, number, False)]
    return sorted(found)


def commit(episode: Episode, number: int, begins: bool) -> None:
    """Commit another accepted set, or the first one again."""
    first = episode.case.settings_array()
    codes = {row[0]: code for code, row in enumerate(cfg.TABLE)}
    for name, value in episode.case.faults[number].settings:
        code = codes[name]
        wanted = value if begins else first[code]
        episode.faults.felt[number] += int(episode.settings[code] != wanted)
        episode.settings[code] = wanted


def run_span(run_block, episode: Episode, span: slice) -> None:
    """Run a span of steps, split where settings change."""
    at = span.start
    for step, number, begins in commits(episode.case):
        if not span.start <= step < span.stop:
            continue
        close_part(run_block, episode, slice(at, step))
        commit(episode, number, begins)
        at = step
    close_part(run_block, episode, slice(at, span.stop))


def close_part(run_block, episode: Episode, where: slice) -> None:
    """Run a part and note the settings in force."""
    if where.stop > where.start:
        run_part(run_block, episode, where, episode.plant, episode.state, episode.rows[where])
        episode.parts.append((where, episode.settings.copy()))


def asleep_masks(episode: Episode) -> dict[str, np.ndarray]:
    """Masks of the steps without power and with a watchdog reset, and the board's reset count."""
    case, steps = episode.case, len(episode.rows)
    unpowered, bitten = np.zeros(steps, dtype=bool), np.zeros(steps, dtype=bool)
    for number, fault in enumerate(case.faults):
        if fault.row.kind == b.NO_POWER:
            unpowered[f.steps_of(fault, case.step_s)] = True
        if fault.row.kind == b.RESETS:
            bitten |= episode.faults.series[number] > 0.0
    resets = np.zeros(steps, dtype=int)
    hour = b.FORGIVEN_MS // 1000 // case.step_s
    count, last = 0, -hour
    for k in np.flatnonzero(bitten | unpowered):
        count = 0 if unpowered[k] or k - last > hour else count
        count = 0 if unpowered[k] else count + 1
        last = k
        resets[k : k + hour] = count
    return {"unpowered": unpowered, "bitten": bitten, "resets": resets}


def lagged_low_k(true_c: np.ndarray, lag_s: float, step_s: int) -> np.ndarray:
    """How far a pocket with this lag reads low in each step."""
    low, reading = np.zeros(len(true_c)), true_c[0]
    for k, place in enumerate(true_c.tolist()):
        reading += (place - reading) * step_s / (lag_s + step_s)
        low[k] = max(place - reading, 0.0)
    return low


def hidden_low_k(episode: Episode, number: int, sensor: int) -> np.ndarray:
    """How far a fault lets a sensor read low unnoticed; zero for faults that can be detected."""
    fault, steps = episode.case.faults[number], len(episode.rows)
    low = np.zeros(steps)
    where = f.steps_of(fault, episode.case.step_s)
    if fault.name in ("sensor_offset", "sensor_drift"):
        low[where] = np.maximum(-episode.faults.series[number][where], 0.0)
    elif fault.name == "pocket_slipped":
        low[where] = lagged_low_k(episode.rows[where, trace.TRUE_SENSORS + sensor], fault.size, episode.case.step_s)
    return low


def allowance_of(episode: Episode) -> Allowance:
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
    return allowance


def judge(episode: Episode) -> list[dict]:
    """Every invariant that did not hold, judged part by part."""
    allowance = allowance_of(episode)
    found: dict[str, dict] = {}
    for where, settings in episode.parts:
        scenario = SimpleNamespace(settings=settings, plant=episode.values, step_s=episode.case.step_s)
        state = np.zeros(s.STATE, dtype=np.int64)
        last = where.stop == len(episode.rows)
        state[s.GUARD_ACTIONS] = episode.faults.tallies[b.GUARD_ACTIONS] if last else 0
        outcome = SimpleNamespace(scenario=scenario, rows=episode.rows[where], state=state, allowance=allowance.part(where))
        for finding in checkers.check_all(outcome, checkers.STORM):
            found.setdefault(finding["name"], finding)
    if "guard_idle" in found:
        found["guard_idle"]["at_s"] = float(episode.faults.tallies[b.GUARD_FIRST_STEP] * episode.case.step_s)
    return list(found.values())


def recovered_s(case: Case) -> int:
    """Time from the last fault to normal duty: slowest retry, sensor ages, moves, evidence."""
    slowest = STORM_S if any(fault.row.kind == b.RESETS for fault in case.faults) else RETRY_S
    ages = max(case.setting(cfg.TANK_AGE), case.setting(cfg.COLLECTOR_AGE)) // 1000
    moves = (case.setting(cfg.DUMP_TRAVEL) + max(case.setting(cfg.MINIMUM_REST), case.setting(cfg.TANK_RUN_ON_TIME))) // 1000
    return slowest + ages + moves + EVIDENCE_S


def finding(at_s: float, measured: float, limit: float, unit: str, text: str) -> dict:
    """A violation: the station did not recover."""
    return {"name": RECOVERY, "text": text, "at_s": at_s, "measured": round(measured, 3), "limit": limit, "unit": unit}


def judge_recovery(episode: Episode, fresh: np.ndarray, begin: int) -> list[dict]:
    """Compare the station with a fresh one from step `begin` on; returns violations."""
    case = episode.case
    due = begin + recovered_s(case) // case.step_s
    old = episode.rows[due:]
    if len(old) == 0:
        return []
    odd = np.isin(old[:, trace.REASON], FAULT_REASONS) & ~np.isin(old[:, trace.REASON], np.unique(fresh[:, trace.REASON]))
    if odd.any():
        at = int(odd.argmax())
        code = int(old[at, trace.REASON])
        return [finding(old[at, 0], odd.sum() * case.step_s / 60.0, 0, "min", f"still shows a fault reason (code {code})")]
    for sensor in range(s.SENSORS):
        known, knew = ~np.isnan(old[-1, trace.BELIEVED + sensor]), ~np.isnan(fresh[-1, trace.BELIEVED + sensor])
        if knew and not known:
            return [finding(old[-1, 0], 0, 1, "trusted sensor", f"{s.SENSOR_NAMES[sensor]} is still not trusted")]
    busy = (s.CHARGING, s.DUMPING)
    useful_s = np.isin(old[:, trace.DUTY], busy).sum() * case.step_s
    could_s = np.isin(fresh[due - begin :, trace.DUTY], busy).sum() * case.step_s
    least_s = USEFUL_SHARE * could_s - USEFUL_LESS_S
    if useful_s < least_s:
        text = "charges and dumps far less than a fresh station"
        return [finding(old[0, 0], useful_s / 3600.0, round(least_s / 3600.0, 3), "h", text)]
    return []


def run_case(case: Case, run_block) -> Result:
    """Run and judge one episode."""
    episode = open_episode(case)
    steps = len(episode.rows)
    begin = steps - case.recovery_s // case.step_s
    run_span(run_block, episode, slice(0, begin))
    fresh_plant = episode.plant.copy()
    run_span(run_block, episode, slice(begin, steps))
    violations = judge(episode)
    digest = hashlib.sha256(episode.rows)
    if case.faults and case.recovery_s > 0:
        state, rows = np.zeros(s.STATE, dtype=np.int32), np.zeros((steps - begin, trace.WIDTH))
        station.wake(state, episode.settings, np.zeros(s.INPUTS, dtype=np.int32))
        run_part(run_block, episode, slice(begin, steps), fresh_plant, state, rows, faultless=True)
        violations += judge_recovery(episode, rows, begin)
        digest.update(rows)
    felt = [bool(count) for count in episode.faults.felt]
    return Result(case, violations, felt, int(episode.faults.tallies[b.GUARD_ACTIONS]), digest.hexdigest())
