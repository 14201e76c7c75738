"""`twinloop tune`: sweep flow and both differences over a scenario, and advise them."""

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
from .thermal.flow.speeds import flow_shares, speeds_for

# Common practice is 4 to 11 K and 2 to 5 K; the sweep goes a little beyond.
STARTS_K = (4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0)
STOPS_K = (2.0, 3.0, 4.0, 6.0)
LEAST_APART_K = 2.0
# Parts of what the plant's pumps give at full speed; both sides alike.
FLOW_SHARES = (1.0, 0.75, 0.5, 0.35, 0.25)
# What the trade calls a collector's flow, in L/min for a square metre (common practice; low flow
# from memory: 10 to 20 L/h).
TRADE = (("usual", 0.5, 1.0), ("low flow", 0.15, 0.35))
# An alarm shorter than this is no difference.
ALARM_H = 0.1
# Differences in net heat below this do not matter in practice; then fewer starts win.
EQUAL_SHARE = 0.01
# The settings that say how much flows, and the plant values behind them.
TOLD_FLOWS = (
    (cfg.COLLECTOR_FLOW, "collector_flow", p.COLLECTOR_FLOW_L_PER_MIN),
    (cfg.TANK_FLOW, "tank_flow", p.TANK_FLOW_L_PER_MIN),
)


def pairs() -> list[tuple[float, float]]:
    """Every pair of start and stop difference in the sweep, in K; the settings accept them all."""
    return [(start, stop) for start in STARTS_K for stop in STOPS_K if stop <= start - LEAST_APART_K]


def told(scenario: scenarios.Scenario, share: float) -> dict[int, int]:
    """The settings at a part of the plant's flows, by code: both flows, and the tank pump's delay.

    They keep the proportion to the true flow that they have now. The delay covers the pipe, so it
    grows as the glycol slows down.
    """
    found = {}
    for (code, _, nominal), now in zip(TOLD_FLOWS, flow_shares(scenario.plant), strict=True):
        at_full = scenario.settings[code] / now if now else 1000.0 * scenario.plant[nominal]
        found[code] = round(at_full * share)
    delay_ms = scenario.settings[cfg.TANK_PUMP_DELAY]
    slower = scenario.settings[cfg.COLLECTOR_FLOW] / max(found[cfg.COLLECTOR_FLOW], 1)
    # The rule between delay and flow counts in steps of 100 ms.
    longer_ms = delay_ms if slower <= 1.0 else int(delay_ms * slower) + 100
    found[cfg.TANK_PUMP_DELAY] = min(longer_ms, max(cfg.TABLE[cfg.TANK_PUMP_DELAY][3], delay_ms))
    return found


def shares(scenario: scenarios.Scenario) -> list[float]:
    """The parts of the flow that the settings can state. Raises: ValueError."""
    if scenario.plant[p.FLOW_PHYSICS] == 0.0:
        raise ValueError("flow_physics = 0: allowed only 1, since tune compares flows")
    found = []
    for share in FLOW_SHARES:
        settings = told(scenario, share)
        if all(cfg.TABLE[code][2] <= settings[code] <= cfg.TABLE[code][3] for code, _, _ in TOLD_FLOWS):
            found.append(share)
    if not found:
        low, high = (cfg.TABLE[cfg.COLLECTOR_FLOW][bound] / 1000.0 for bound in (2, 3))
        raise ValueError(f"collector_flow, tank_flow: none of the flows in the sweep lies within {low:g} to {high:g} L/min")
    return found


def flow_changes(scenario: scenarios.Scenario, share: float) -> list[str]:
    """The changes that run both pumps at a part of the plant's flows, and tell the firmware."""
    settings, plant = told(scenario, share), scenario.plant
    changes = [f"tank_pump_delay={settings[cfg.TANK_PUMP_DELAY]}ms"]
    for code, name, nominal in TOLD_FLOWS:
        # The setting would change the pump itself; its speed shall.
        changes += [f"{name}={settings[code]}ml/min", f"plant.{name}_l_per_min={float(plant[nominal])!r}"]
    return changes + [f"{name}={speed!r}" for name, speed in speeds_for(plant, share, share).items()]


def row_of(scenario: scenarios.Scenario) -> dict:
    """Run a scenario; returns its row of the grid.

    `net_kwh` is the heat into the tank minus the mains energy of both pumps.
    """
    facts = document(engine.run(scenario))
    to_tank_kwh, mains_kwh = facts["heat_kwh"]["to_tank"], facts["pump_mains_kwh"]
    parts = flow_shares(scenario.plant)
    return {
        "start_difference_k": scenario.settings[cfg.START_DIFFERENCE] / 1000.0,
        "stop_difference_k": scenario.settings[cfg.STOP_DIFFERENCE] / 1000.0,
        "flow_share": round(parts[0], 3),
        "collector_flow_l_per_min": round(parts[0] * float(scenario.plant[p.COLLECTOR_FLOW_L_PER_MIN]), 3),
        "tank_flow_l_per_min": round(parts[1] * float(scenario.plant[p.TANK_FLOW_L_PER_MIN]), 3),
        "net_kwh": round(to_tank_kwh - mains_kwh, 3),
        "to_tank_kwh": to_tank_kwh,
        "pump_mains_kwh": mains_kwh,
        "starts_per_day": round(facts["starts"]["collector_pump"] / facts["days"], 2),
        "alarm_h": facts["run_hours"]["alarm"],
        "violations": len(facts["violations"]),
    }


def grid_run(name: str, changes: list[str], start_k: float, stop_k: float, share: float) -> dict:
    """Run the scenario with one pair (K) at one part of the flow; returns a row."""
    slowed = flow_changes(scenarios.load(name, changes), share)
    scenario = scenarios.load(name, [*changes, *slowed, f"start_difference={start_k}K", f"stop_difference={stop_k}K"])
    return {**row_of(scenario), "flow_share": share}


def sweep(name: str, changes: list[str], workers: int, tell) -> list[dict]:
    """The whole grid, for any number of workers; `tell` is called with rows done and total."""
    compiled_block()
    todo = [(*pair, share) for share in shares(scenarios.load(name, changes)) for pair in pairs()]
    grid = []
    for row in each(grid_run, ((name, changes, *one) for one in todo), workers):
        grid.append(row)
        tell(len(grid), len(todo))
    return grid


def sound(rows: list[dict]) -> list[dict]:
    """The rows that break the fewest safety rules, and of those the ones with the least alarm."""
    fewest_wrong = min(row["violations"] for row in rows)
    safe = [row for row in rows if row["violations"] == fewest_wrong]
    least_h = min(row["alarm_h"] for row in safe)
    return [row for row in safe if row["alarm_h"] < least_h + ALARM_H]


def chosen(rows: list[dict]) -> dict:
    """The safe row with the fewest starts among those within 1 % of the most net heat.

    Rows that break more safety rules than others are left out, and so are those with more alarm:
    little flow can look like a fault.
    """
    safe = sound(rows)
    best = max(row["net_kwh"] for row in safe)
    near = [row for row in safe if row["net_kwh"] >= best - EQUAL_SHARE * abs(best)]
    return min(near, key=lambda row: (row["starts_per_day"], -row["net_kwh"]))


def advice(grid: list[dict], now: dict) -> dict:
    """The chosen row of the whole grid, and what it gains over `now`, the present settings' row."""
    found = chosen(grid)
    return {
        **found,
        "best_net_kwh": max(row["net_kwh"] for row in sound(grid)),
        **{f"now_{key}": now[key] for key in ("start_difference_k", "stop_difference_k", "flow_share")},
        "gain_kwh": round(found["net_kwh"] - now["net_kwh"], 3),
        "less_mains_kwh": round(now["pump_mains_kwh"] - found["pump_mains_kwh"], 3),
        "fewer_starts_per_day": round(now["starts_per_day"] - found["starts_per_day"], 2),
    }


def flows(grid: list[dict], found: dict, area_m2: float) -> list[dict]:
    """The chosen row of each flow, what the trade calls it, and the price against the advice."""
    rows = []
    for share in dict.fromkeys(row["flow_share"] for row in grid):
        row = chosen([one for one in grid if one["flow_share"] == share])
        per_m2 = row["collector_flow_l_per_min"] / area_m2 if area_m2 else 0.0
        rows.append(
            {
                **row,
                "l_per_min_m2": round(per_m2, 3),
                "trade": next((name for name, low, high in TRADE if low <= per_m2 <= high), ""),
                "more_heat_kwh": round(row["to_tank_kwh"] - found["to_tank_kwh"], 3),
                "more_mains_kwh": round(row["pump_mains_kwh"] - found["pump_mains_kwh"], 3),
                "more_starts_per_day": round(row["starts_per_day"] - found["starts_per_day"], 2),
            }
        )
    return rows


def progress(done: int, total: int) -> None:
    """Print the number of runs done on standard error."""
    end = "\n" if done == total or not sys.stderr.isatty() else ""
    if sys.stderr.isatty() or done == total or done % 10 == 0:
        print(f"\r  {done} of {total} runs", end=end, file=sys.stderr, flush=True)


def mark(row: dict) -> str:
    """What marks a run that nobody should copy."""
    return "!" if row["violations"] or row["alarm_h"] >= ALARM_H else ""


def words(facts: dict) -> str:
    """The grid at the advised flow as a table, the flows against each other, and the advice."""
    found = facts["advice"]
    lines = [f"{facts['scenario']}: net heat into the tank in kWh (minus the pumps' mains energy), starts per day in brackets"]
    lines += [f"  collector {found['collector_flow_l_per_min']:.2f} L/min, tank {found['tank_flow_l_per_min']:.2f} L/min", ""]
    lines.append("  start \\ stop " + "".join(f"{stop:>14g} K" for stop in STOPS_K))
    at_flow = [row for row in facts["grid"] if row["flow_share"] == found["flow_share"]]
    cells = {(row["start_difference_k"], row["stop_difference_k"]): row for row in at_flow}
    for start in STARTS_K:
        line = f"  {start:>10g} K "
        for stop in STOPS_K:
            row = cells.get((start, stop))
            text = "" if row is None else f"{row['net_kwh']:.2f} ({row['starts_per_day']:.1f}){mark(row)}"
            line += f"{text:>16}"
        lines.append(line.rstrip())
    if any(mark(row) for row in at_flow):
        lines.append("  ! that run broke a safety rule or gave an alarm: simulate it to see which")
    return "\n".join([*lines, "", *flow_lines(facts), "", *advice_lines(facts)])


def flow_lines(facts: dict) -> list[str]:
    """Each flow with its own best pair, and what it costs or saves against the advised one."""
    lines = ["  Each flow with its own best pair; what it brings more (+) or less (-) than the advice:"]
    lines.append(
        f"  {'L/min':>11} {'L/min m2':>9}  {'trade':9}{'start/stop':>11}{'heat kWh':>16}{'pumps kWh':>15}{'starts a day':>16}"
    )
    for row in facts["flows"]:
        flow = f"{row['collector_flow_l_per_min']:.2f}/{row['tank_flow_l_per_min']:.2f}"
        pair = f"{row['start_difference_k']:g}/{row['stop_difference_k']:g} K"
        heat = f"{row['to_tank_kwh']:.1f} ({row['more_heat_kwh']:+.1f})"
        mains = f"{row['pump_mains_kwh']:.2f} ({row['more_mains_kwh']:+.2f})"
        starts = f"{row['starts_per_day']:.1f} ({row['more_starts_per_day']:+.1f})"
        line = f"  {flow:>11} {row['l_per_min_m2']:>9.2f}  {row['trade']:9}{pair:>11}{heat:>16}{mains:>15}{starts:>16} {mark(row)}"
        lines.append(line.rstrip())
    practice = ", ".join(f"{name} {low:g} to {high:g}" for name, low, high in TRADE)
    return [*lines, f"  Common practice in L/min for a m2 of collector: {practice}."]


def advice_lines(facts: dict) -> list[str]:
    """The advice in words, as settings, and what it changes."""
    found = facts["advice"]
    names = ("start_difference", "stop_difference")
    pair = ", ".join(f"{name} {found[f'{name}_k']:g} K" for name in names)
    told_l = ", ".join(f"{name} {found[f'{name}_l_per_min']:.2f} L/min" for name in ("collector_flow", "tank_flow"))
    now = " and ".join(f"{found[f'now_{name}_k']:g} K" for name in names)
    return [
        f"Advice: {pair}, {told_l}:",
        f"  {found['net_kwh']:.2f} kWh, {found['starts_per_day']:.1f} starts per day.",
        f"  Now {now} at {100 * found['now_flow_share']:.0f} % of the pumps' flow; the change brings",
        f"  {found['gain_kwh']:+.2f} kWh net, {-found['less_mains_kwh']:+.2f} kWh of electricity and "
        f"{-found['fewer_starts_per_day']:+.1f} starts per day.",
        "  Within 1 % of the most net heat the fewest starts win. Less flow: the pumps' lower speed, or a valve, which saves less",
        "  current. Measure what flows, then set collector_flow, tank_flow and, if they are refused, a longer tank_pump_delay.",
        "  A week of weather is a small sample: try a longer scenario before you trust small differences, and watch the real",
        "  plant after a change.",
    ]


def document_of(name: str, changes: list[str], workers: int, tell=progress) -> dict:
    """The JSON document of `twinloop tune`, without files."""
    begin = time.monotonic()
    grid = sweep(name, changes, workers, tell)
    scenario = scenarios.load(name, changes)
    found = advice(grid, row_of(scenario))
    pair = [f"{name}={found[f'{name}_k']:g}K" for name in ("start_difference", "stop_difference")]
    found["changes"] = [*pair, *flow_changes(scenario, found["flow_share"])]
    compared = flows(grid, found, float(scenario.plant[p.COLLECTOR_AREA_M2]))
    facts = {"scenario": scenario.name, "grid": grid, "flows": compared, "advice": found}
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
