"""`twinloop tune`: sweep start and stop difference over a scenario and advise a pair."""

from __future__ import annotations

import json
import sys
import time

from twinloop.control import settings as cfg

from . import scenarios
from .document import document
from .engine import run as engine
from .engine.compiled import compiled_block
from .many import check_workers, each
from .sheets import folders
from .thermal import parameters as p

# Common practice is 4 to 11 K and 2 to 5 K; the sweep goes a little beyond.
STARTS_K = (4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0, 15.0, 20.0)
STOPS_K = (2.0, 3.0, 4.0, 5.0, 6.0)
LEAST_APART_K = 2.0
# Differences in net heat below this do not matter in practice; then fewer starts win.
EQUAL_SHARE = 0.01


def pairs() -> list[tuple[float, float]]:
    """Every pair of start and stop difference in the sweep, in K; the settings accept them all."""
    return [(start, stop) for start in STARTS_K for stop in STOPS_K if stop <= start - LEAST_APART_K]


def pair_run(name: str, changes: list[str], start_k: float, stop_k: float) -> dict:
    """Run the scenario with one pair (K); returns a row of the grid. Raises: ValueError.

    `net_kwh` is the heat into the tank minus the mains energy of both pumps.
    """
    scenario = scenarios.load(name, [*changes, f"start_difference={start_k}K", f"stop_difference={stop_k}K"])
    facts = document(engine.run(scenario))
    hours = facts["run_hours"]
    mains_wh = hours["collector_pump"] * scenario.plant[p.COLLECTOR_PUMP_W] + hours["tank_pump"] * scenario.plant[p.TANK_PUMP_W]
    return {
        "start_difference_k": start_k,
        "stop_difference_k": stop_k,
        "net_kwh": round(facts["heat_kwh"]["to_tank"] - mains_wh / 1000.0, 3),
        "to_tank_kwh": facts["heat_kwh"]["to_tank"],
        "pump_mains_kwh": round(mains_wh / 1000.0, 3),
        "starts_per_day": round(facts["starts"]["collector_pump"] / facts["days"], 2),
        "violations": len(facts["violations"]),
    }


def sweep(name: str, changes: list[str], workers: int, tell) -> list[dict]:
    """The whole grid, for any number of workers; `tell` is called with rows done and total."""
    compiled_block()
    todo = pairs()
    grid = []
    for row in each(pair_run, ((name, changes, *pair) for pair in todo), workers):
        grid.append(row)
        tell(len(grid), len(todo))
    return grid


def advice(grid: list[dict], now: dict) -> dict:
    """The safe pair with the fewest starts among those within 1 % of the most net heat.

    `now` is the row of the present settings. Pairs that break more safety rules than others are
    left out.
    """
    fewest_wrong = min(row["violations"] for row in grid)
    safe = [row for row in grid if row["violations"] == fewest_wrong]
    best = max(safe, key=lambda row: row["net_kwh"])
    near = [row for row in safe if row["net_kwh"] >= best["net_kwh"] - EQUAL_SHARE * abs(best["net_kwh"])]
    chosen = min(near, key=lambda row: (row["starts_per_day"], -row["net_kwh"]))
    return {
        **chosen,
        "best_net_kwh": best["net_kwh"],
        "now_start_difference_k": now["start_difference_k"],
        "now_stop_difference_k": now["stop_difference_k"],
        "gain_kwh": round(chosen["net_kwh"] - now["net_kwh"], 3),
        "fewer_starts_per_day": round(now["starts_per_day"] - chosen["starts_per_day"], 2),
    }


def progress(done: int, total: int) -> None:
    """Print the number of runs done on standard error."""
    end = "\n" if done == total or not sys.stderr.isatty() else ""
    if sys.stderr.isatty() or done == total or done % 10 == 0:
        print(f"\r  {done} of {total} runs", end=end, file=sys.stderr, flush=True)


def words(facts: dict) -> str:
    """The grid as a table, and the advice."""
    found = facts["advice"]
    lines = [f"{facts['scenario']}: net heat into the tank in kWh (minus the pumps' mains energy), starts per day in brackets", ""]
    lines.append("  start \\ stop " + "".join(f"{stop:>14g} K" for stop in STOPS_K))
    cells = {(row["start_difference_k"], row["stop_difference_k"]): row for row in facts["grid"]}
    for start in STARTS_K:
        line = f"  {start:>10g} K "
        for stop in STOPS_K:
            row = cells.get((start, stop))
            text = "" if row is None else f"{row['net_kwh']:.2f} ({row['starts_per_day']:.1f}){'!' if row['violations'] else ''}"
            line += f"{text:>16}"
        lines.append(line.rstrip())
    if any(row["violations"] for row in facts["grid"]):
        lines.append("  ! that run broke a safety rule: simulate it to see which")
    lines += [
        "",
        f"Advice: start_difference {found['start_difference_k']:g} K, stop_difference {found['stop_difference_k']:g} K: "
        f"{found['net_kwh']:.2f} kWh, {found['starts_per_day']:.1f} starts per day.",
        f"  Now {found['now_start_difference_k']:g} K and {found['now_stop_difference_k']:g} K; the change brings "
        f"{found['gain_kwh']:+.2f} kWh and {-found['fewer_starts_per_day']:+.1f} starts per day.",
        "  Among pairs within 1 % of the most net heat, the one with the fewest starts wins. A week of weather is a small sample:",
        "  try a longer scenario before you trust small differences, and watch the real plant after a change.",
    ]
    return "\n".join(lines)


def document_of(name: str, changes: list[str], workers: int, tell=progress) -> dict:
    """The JSON document of `twinloop tune`, without files."""
    begin = time.monotonic()
    grid = sweep(name, changes, workers, tell)
    scenario = scenarios.load(name, changes)
    now_k = [scenario.settings[code] / 1000.0 for code in (cfg.START_DIFFERENCE, cfg.STOP_DIFFERENCE)]
    facts = {"scenario": scenario.name, "grid": grid, "advice": advice(grid, pair_run(name, changes, *now_k))}
    return {**facts, "wall_s": round(time.monotonic() - begin, 3), "files": {}}


def main(options) -> int:
    """Run the sweep and print it; returns the exit status. Raises: ValueError (wrong call)."""
    check_workers(options.workers)
    name = scenarios.DEFAULT if options.scenario is None else options.scenario
    scenario = scenarios.load(name, options.changes)
    picture = f"{scenario.name}-tune.png"
    with folders.claimed("runs/tune" if options.out is None else options.out, (picture,)) as folder:
        facts = document_of(name, options.changes, options.workers)
        path = folder / picture
        from .report.tune import write_heat_map

        write_heat_map(path, facts)
    facts["files"]["heat_map"] = str(path)
    if options.json:
        print(json.dumps(facts, indent=2))
    else:
        print(words(facts))
        print(f"  heat map: {path}")
    return 0
