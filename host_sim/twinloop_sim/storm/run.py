"""One episode of `storm`: run it, judge it on plant truth, check that the station recovers.

Recovery: when the faults end, so does the safety phase. Two stations go on from that plant: the one
that lived through the faults, and a fresh one that wakes with the same settings on a copy, under
the same weather and draws. After `recovered_s` the old station must show no fault reason that the
fresh one does not show, must trust every fitted sensor that the fresh one trusts, and must pump
glycol to charge or dump at least half as long as the fresh one, less half an hour. Warming a frosty
loop is no use of its own. A fresh station takes a tank between its thresholds for full: where it
dumps and the old one's collector stays below the dump threshold, nobody has to dump.
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

from .. import checkers, trace
from ..demand.profiles import PROFILES, daily_kwh
from ..demand.table import draw_table
from ..thermal import parameters as p
from ..thermal import state as th
from ..thermal.air import state as air
from ..thermal.storage import initial_plant
from ..weather.plane import on_plane
from ..weather.table import drive_table
from . import block as b
from . import faults as f
from .draw import Case
from .excuses import allowance_of, recovered_s
from .lives import Beside, Life, Part, live, no_faults, wake
from .places import weather_of
from .schedule import prepare

RECOVERY = "recovery"
FAULT_REASONS = checkers.storm.silence.NAMING
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
    """The arrays of an episode.

    `parts` are its spans of constant settings: steps, settings, and whether it starts cold.
    """

    case: Case
    values: np.ndarray
    plant: np.ndarray
    drive: np.ndarray
    rows: np.ndarray
    state: np.ndarray
    settings: np.ndarray
    faults: b.Faults
    parts: list[tuple[slice, np.ndarray, bool]] = field(default_factory=list)


@lru_cache(maxsize=4)
def plane_of(place: str, slope_deg: float, azimuth_deg: float, b0: float):
    """Irradiance on a plane over the year, computed once for each station."""
    values = p.plant_values({"collector_slope_deg": slope_deg, "collector_azimuth_deg": azimuth_deg, "collector_b0": b0})
    return on_plane(weather_of(place), values)


def drive_of(case: Case, values: np.ndarray) -> np.ndarray:
    """Weather and draws, one row for each step."""
    facts = (float(values[p.COLLECTOR_SLOPE_DEG]), float(values[p.COLLECTOR_AZIMUTH_DEG]), float(values[p.COLLECTOR_B0]))
    plane = plane_of(case.weather, *facts)
    drive = drive_table(
        weather_of(case.weather), values, case.start, case.days, case.step_s, plane=plane, cloud_seed=case.cloud_seed
    )
    for ambient in (th.DRIVE_AMBIENT_C, th.AIR_DRIVE_FIRST + air.DRIVE_AMBIENT_C):
        drive[:, ambient] += case.ambient_shift_k
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


def alter_draws(episode: Episode) -> None:
    """Remove the draws of an absence, which is felt if there were any, and let an open tap run."""
    draws = episode.drive[:, th.DRIVE_DRAW_L_PER_MIN]
    for number, fault in enumerate(episode.case.faults):
        where = f.steps_of(fault, episode.case.step_s)
        if fault.name == "long_absence":
            episode.faults.felt[number] = np.count_nonzero(draws[where])
            draws[where] = 0.0
        elif fault.name == "tank_emptied":
            episode.faults.felt[number] = where.stop - where.start
            draws[where] += fault.size


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
        faults=prepare(case, drive),
    )
    episode.rows[:, 0] = np.arange(len(drive)) * case.step_s
    wake(episode.state, episode.settings)
    alter_draws(episode)
    return episode


def commits(case: Case) -> list[tuple[int, int, bool]]:
    """When somebody changes the running station: (step, number of the fault, whether it begins)."""
    found = []
    for number, fault in enumerate(case.faults):
        where = f.steps_of(fault, case.step_s)
        if fault.name == "commissioned":
            found.append((where.start, number, True))
        if fault.name == "settings_changed":
            found += [(where.start, number, True), (where.stop, number, False)]
    return sorted(found)


def commit(episode: Episode, number: int, begins: bool) -> bool:
    """Commit another accepted set, or the first one again.

    Returns whether the station starts cold.
    """
    first, fault = episode.case.settings_array(), episode.case.faults[number]
    cold = fault.name == "commissioned"
    episode.faults.felt[number] += int(cold)
    codes = {row[0]: code for code, row in enumerate(cfg.TABLE)}
    for name, value in fault.settings:
        code = codes[name]
        wanted = value if begins else first[code]
        changes = int(episode.settings[code] != wanted)
        cold |= bool(changes) and code in cfg.COLD_CODES
        episode.faults.felt[number] += changes
        episode.settings[code] = wanted
    if cold:
        wake(episode.state, episode.settings)
    return cold


def run_span(run_block, episode: Episode, span: slice) -> None:
    """Run a span of steps, split where settings change or the station starts cold."""
    at, cold = span.start, False
    for step, number, begins in commits(episode.case):
        if not span.start <= step < span.stop:
            continue
        close_part(run_block, episode, slice(at, step), cold)
        cold = commit(episode, number, begins) or cold and at == step
        at = step
    close_part(run_block, episode, slice(at, span.stop), cold)


def close_part(run_block, episode: Episode, where: slice, cold: bool) -> None:
    """Run a part and note the settings in force."""
    if where.stop > where.start:
        life = Life(episode.plant, episode.state, episode.settings, episode.faults)
        live(run_block, episode, where, life, episode.rows[where])
        episode.parts.append((where, episode.settings.copy(), cold))


def judge(episode: Episode, run_block, which=checkers.STORM) -> list[dict]:
    """Every invariant that did not hold, judged part by part."""
    allowance, beside = allowance_of(episode), Beside(episode, run_block)
    found: dict[str, dict] = {}
    for where, settings, _ in episode.parts:
        scenario = SimpleNamespace(settings=settings, plant=episode.values, step_s=episode.case.step_s)
        state = np.zeros(s.STATE, dtype=np.int64)
        last = where.stop == len(episode.rows)
        state[s.GUARD_ACTIONS] = episode.faults.tallies[b.GUARD_ACTIONS] if last else 0
        outcome = SimpleNamespace(scenario=scenario, rows=episode.rows[where], state=state, allowance=allowance.part(where))
        outcome.beside = Part(beside, where)
        for finding in checkers.check_all(outcome, which):
            found.setdefault(finding["name"], finding)
    if "guard_idle" in found:
        found["guard_idle"]["at_s"] = float(episode.faults.tallies[b.GUARD_FIRST_STEP] * episode.case.step_s)
    return list(found.values())


def finding(at_s: float, measured: float, limit: float, unit: str, text: str) -> dict:
    """A violation: the station did not recover."""
    return {"name": RECOVERY, "text": text, "at_s": at_s, "measured": round(measured, 3), "limit": limit, "unit": unit}


def useful(rows: np.ndarray) -> np.ndarray:
    """Mask of the steps in which glycol is pumped to charge or dump."""
    pumped = (rows[:, trace.COMMANDS + s.COLLECTOR_PUMP] != 0) & (rows[:, trace.REASON] != why.COLD_SLUG_ROUND)
    return pumped & np.isin(rows[:, trace.DUTY], (s.CHARGING, s.DUMPING))


def needed(old: np.ndarray, fresh: np.ndarray, settings: np.ndarray) -> np.ndarray:
    """Mask of the steps in which a fresh station does what the old one has to do as well."""
    hot = old[:, trace.BELIEVED + s.COLLECTOR] * 1000.0 >= settings[cfg.DUMP_COLLECTOR_START]
    return useful(fresh) & (hot | (fresh[:, trace.DUTY] != s.DUMPING))


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
    useful_s = useful(old).sum() * case.step_s
    could_s = needed(old, fresh[due - begin :], episode.settings).sum() * case.step_s
    least_s = USEFUL_SHARE * could_s - USEFUL_LESS_S
    if useful_s < least_s:
        text = "charges and dumps far less than a fresh station"
        return [finding(old[0, 0], useful_s / 3600.0, round(least_s / 3600.0, 3), "h", text)]
    return []


def run_case(case: Case, run_block, which=checkers.STORM) -> Result:
    """Run an episode and judge it by these checkers."""
    episode = open_episode(case)
    steps = len(episode.rows)
    begin = steps - case.recovery_s // case.step_s
    run_span(run_block, episode, slice(0, begin))
    fresh_plant = episode.plant.copy()
    run_span(run_block, episode, slice(begin, steps))
    violations = judge(episode, run_block, which)
    digest = hashlib.sha256(episode.rows)
    if case.faults and case.recovery_s > 0:
        state, rows = np.zeros(s.STATE, dtype=np.int32), np.zeros((steps - begin, trace.WIDTH))
        wake(state, episode.settings)
        life = Life(fresh_plant, state, episode.settings, no_faults(episode.faults))
        live(run_block, episode, slice(begin, steps), life, rows)
        violations += judge_recovery(episode, rows, begin)
        digest.update(rows)
    felt = [bool(count) for count in episode.faults.felt]
    return Result(case, violations, felt, int(episode.faults.tallies[b.GUARD_ACTIONS]), digest.hexdigest())
