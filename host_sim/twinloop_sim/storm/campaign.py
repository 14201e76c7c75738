"""`twinloop storm`: years of random weather, plants and faults, judged on plant truth.

The first line says how to run it again. A violation is shrunk and printed as a pytest file.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from dataclasses import dataclass, field, fields, replace
from itertools import islice
from pathlib import Path

from twinloop.control import settings as cfg

from ..engine.commit import commit_of
from ..engine.compiled import compiled_block
from ..many import each
from ..scenarios import TWINS
from . import draw
from . import faults as f
from .draw import Case, Wish
from .run import RECOVERY, Result, run_case

YEARS_TOP = 1000
DAYS = (2, 60)
SEED_TOP = 2**31 - 1
# Plant values that shrinking resets together, by a part of their names.
PLANT_PARTS = ("_sensor_s", "door_m", "exchanger", "radiator", "tank_", "cold_main")
# Violations shrunk in one call: each costs some tens of runs.
SHRUNK_TOP = 3


@dataclass
class Campaign:
    """The results of a storm so far."""

    injected: Counter = field(default_factory=Counter)
    felt: Counter = field(default_factory=Counter)
    violations: list[dict] = field(default_factory=list)
    cases: list[tuple[Case, dict]] = field(default_factory=list)
    guard_actions: int = 0
    episodes: int = 0
    digest: object = field(default_factory=hashlib.sha256)

    def add(self, where: str, result: Result) -> None:
        for fault, felt in zip(result.case.faults, result.felt, strict=True):
            self.injected[fault.name] += 1
            self.felt[fault.name] += int(felt)
        self.episodes += 1
        self.guard_actions += result.guard_actions
        self.digest.update(result.digest.encode())
        for found in result.violations:
            names = [f"{fault.name} {fault.target}" for fault in result.case.faults]
            self.violations.append({"episode": where, **found, "faults": names})
            self.cases.append((result.case, found))


def block_of(control_folder: Path | None = None):
    """The compiled inner loop, for the installed firmware or other control files."""
    return compiled_block(control_folder, "storm.block", "run_storm_block")


def replay(case: Case, control_folder: Path | None = None) -> list[dict]:
    """The violations of one episode, by every checker; printed pytest files call this."""
    return run_case(case, block_of(control_folder)).violations


def plan_of(years: int, seed: int, days: int, wish: Wish | None):
    """Yield every episode of a storm as (name, case)."""
    for year in range(years):
        for episode in range(draw.episodes_a_year(days)):
            if episode % draw.STATION_EPISODES == 0:
                base = draw.draw_station(seed, year, episode // draw.STATION_EPISODES, wish)
            yield f"{seed}.{year}.{episode}", draw.draw_episode(seed, year, episode, days, wish, base)


def batched(items, size: int):
    """Yield lists of `size` items; the last may be shorter."""
    items = iter(items)
    while batch := list(islice(items, size)):
        yield batch


def first_line(years: int, seed: int, days: int, wish: Wish | None) -> str:
    """The seed, commit and plan of a storm."""
    classes = Counter()
    for _, case in plan_of(years, seed, days, wish):
        classes.update(fault.row.group for fault in case.faults)
    counts = ", ".join(f"{name} {classes[name]}" for name in f.CLASSES)
    episodes = draw.episodes_a_year(days)
    return (
        f"storm: seed {seed}, commit {commit_of()}, {years} years of {episodes} episodes of {days} days, the last "
        f"{draw.RECOVERY_S // 3600} h of each without faults; faults: {counts}"
    )


def run_cases(cases: list[tuple[str, Case]], control_folder: Path | None) -> list[tuple[str, Result]]:
    """Run some episodes in turn: one worker's share."""
    run_block = block_of(control_folder)
    return [(where, run_case(case, run_block)) for where, case in cases]


def run(
    years: int, seed: int, days: int, wish: Wish | None, progress, control_folder: Path | None = None, workers: int = 1
) -> Campaign:
    """Run a whole storm; `progress` gets the episodes done, their total, and the violations so far.

    One worker runs all episodes of a station, so that its weather is computed once.
    """
    campaign = Campaign()
    total = years * draw.episodes_a_year(days)
    stations = batched(plan_of(years, seed, days, wish), draw.STATION_EPISODES if total > draw.STATION_EPISODES * workers else 1)
    for results in each(run_cases, ((cases, control_folder) for cases in stations), workers):
        for where, result in results:
            campaign.add(where, result)
            progress(campaign.episodes, total, len(campaign.violations))
    return campaign


def document(campaign: Campaign, years: int, seed: int, days: int, wall_s: float) -> dict:
    """The JSON document; docs/names.md explains its keys."""
    injected = {row.name: campaign.injected[row.name] for row in f.ROWS}
    return {
        "years": years,
        "seed": seed,
        "commit": commit_of(),
        "episodes": campaign.episodes,
        "episode_days": days,
        "faults_injected": injected,
        "faults_felt": {name: campaign.felt[name] for name in injected},
        "guard_actions": campaign.guard_actions,
        "violations": campaign.violations,
        "trace_sha256": campaign.digest.hexdigest(),
        "wall_s": round(wall_s, 3),
    }


def fails(case: Case, name: str, run_block) -> dict | None:
    """This violation in a case; None when it is gone or the settings misstate the plant."""
    try:
        violations = run_case(case, run_block).violations if draw.told_right(case) else []
    except ValueError:
        return None
    return next((found for found in violations if found["name"] == name), None)


def later_start(case: Case, days: int) -> Case:
    """The same weather and faults, starting some days later."""
    ahead = days * draw.DAY_S
    # The calendar of a typical year has no leap day.
    month, day = case.start
    first = sum((31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)[: month - 1]) + day - 1
    moved = tuple(
        replace(fault, begin_s=max(fault.begin_s - ahead, 0.0), end_s=max(fault.end_s - ahead, case.step_s))
        for fault in case.faults
    )
    return replace(case, start=draw.month_and_day(first + days), days=case.days - days, faults=moved)


def smaller(case: Case, found: dict):
    """Yield simpler cases, the largest simplification first."""
    for fault in case.faults:
        yield replace(case, faults=tuple(other for other in case.faults if other is not fault))
    if found["name"] != RECOVERY:
        days = int(found["at_s"] // draw.DAY_S) + 1
        if case.recovery_s or days < case.days:
            cut = tuple(replace(fault, end_s=min(fault.end_s, days * draw.DAY_S)) for fault in case.faults)
            yield replace(case, days=days, recovery_s=0, faults=tuple(fault for fault in cut if fault.end_s > fault.begin_s))
    for days in range(case.days - 1 - case.recovery_s // draw.DAY_S, 0, -1):
        yield later_start(case, days)
    yield from plainer(case)


def plainer(case: Case):
    """Yield cases with more defaults: all at once, by group, then one by one."""
    facts = {cfg.TABLE[code][0] for code in draw.TOLD}
    told = {name: value for name, value in case.settings.items() if name in facts}
    wishes = {name: value for name, value in case.settings.items() if name not in facts}
    if case.cloud_seed is not None:
        yield replace(case, cloud_seed=None)
    if case.step_s != draw.STEP_S:
        yield replace(case, step_s=draw.STEP_S)
    if case.plant:
        yield replace(case, plant={}, settings={})
        yield replace(case, plant={}, settings=wishes)
    if wishes:
        yield replace(case, settings=told)
    for part in PLANT_PARTS:
        yield replace(case, plant={key: value for key, value in case.plant.items() if part not in key})
    for name in case.settings:
        yield replace(case, settings={key: value for key, value in case.settings.items() if key != name})
    for name in case.plant:
        twins = {setting for setting, twin in TWINS.items() if twin == name}
        fewer = {key: value for key, value in case.plant.items() if key != name}
        yield replace(case, plant=fewer, settings={key: value for key, value in case.settings.items() if key not in twins})
        yield replace(case, plant=fewer)


def shrink(case: Case, found: dict, run_block, runs: int = 150) -> tuple[Case, dict]:
    """Shrink a failing case while the same invariant fails, within a number of runs."""
    went_on = True
    while went_on and runs > 0:
        went_on = False
        for candidate in smaller(case, found):
            runs -= 1
            still = fails(candidate, found["name"], run_block)
            if still is not None:
                case, found, went_on = candidate, still, True
                break
            if runs <= 0:
                break
    return case, found


def literal(case: Case) -> str:
    """A case as Python source."""
    lines = []
    for name in (row.name for row in fields(case) if row.name not in ("plant", "settings", "faults")):
        lines.append(f"    {name}={getattr(case, name)!r},")
    for name in ("plant", "settings"):
        lines.append(f"    {name}={{")
        lines += [f"        {key!r}: {value!r}," for key, value in getattr(case, name).items()]
        lines.append("    },")
    lines.append("    faults=(")
    for fault in case.faults:
        settings = f", settings={fault.settings!r}" if fault.settings else ""
        lines.append(
            f"        Fault({fault.name!r}, {fault.target!r}, {fault.size!r}, {fault.begin_s!r}, {fault.end_s!r}{settings}),"
        )
    lines.append("    ),")
    return ("Case(\n" + "\n".join(lines) + "\n)").replace("'", '"')


def pytest_file(case: Case, found: dict) -> str:
    """A pytest file that fails while the violation exists."""
    faults = ", ".join(f"{fault.name} ({fault.target})" for fault in case.faults) or "no fault"
    measured = f"{found['measured']:g} {found['unit']}, limit {found['limit']:g}, first at {found['at_s']:g} s"
    return (
        f'"""Found by `twinloop storm`: {found["text"]} ({measured}); with {faults}."""\n\n'
        "from twinloop_sim.storm import campaign as storm\n"
        "from twinloop_sim.storm.draw import Case\n"
        "from twinloop_sim.storm.faults import Fault\n\n"
        f"CASE = {literal(case)}\n\n\n"
        f"def test_{found['name']}():\n"
        '    """The episode that broke the invariant, shrunk."""\n'
        "    assert storm.replay(CASE) == []\n"
    )


def found_line(found: dict) -> str:
    """A violation in one line."""
    measured = f"{found['measured']:g} {found['unit']}, limit {found['limit']:g}, first at {found['at_s'] / 3600.0:.2f} h"
    return f"VIOLATION in {found['episode']}: {found['text']} ({measured}); faults: {', '.join(found['faults']) or 'none'}"


def summary(facts: dict) -> str:
    """The results of a storm as text."""
    injected, felt = facts["faults_injected"], facts["faults_felt"]
    unfelt = {name: injected[name] - felt[name] for name in injected if felt[name] < injected[name]}
    never = [name for name in unfelt if felt[name] == 0]
    lines = [
        f"{facts['episodes']} episodes in {facts['wall_s']:.0f} s; faults injected: {sum(injected.values())}, felt: "
        f"{sum(felt.values())}; guard actions: {facts['guard_actions']}",
        f"hash of all traces: {facts['trace_sha256'][:16]}",
    ]
    if unfelt:
        counts = ", ".join(f"{name} {count} of {injected[name]}" for name, count in unfelt.items())
        lines.append(f"injected but not felt: {counts}")
    if never:
        lines.append(f"never felt in any episode: {', '.join(never)}")
    lines += [found_line(found) for found in facts["violations"]]
    if not facts["violations"]:
        lines.append("No invariant was broken. A model is not your plant, and mechanical protection stays in charge.")
    return "\n".join(lines)
