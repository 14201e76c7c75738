"""The table of docs/sensors.md about sensors that read wrong by a constant amount.

Run `.venv/bin/python -m twinloop_sim.pages.offsets` to renew it; that takes a minute or two.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from textwrap import fill

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s

from .. import trace
from ..storm import campaign
from ..storm import run as storm_run
from ..storm.draw import Case
from ..storm.faults import DAY, Fault

PAGE = "docs/sensors.md"
BEGIN, END = "<!-- offsets: generated -->\n", "<!-- offsets: end -->\n"
# Six days each of the simulated wash-house: a tank that has room, one that gets full, and frost.
DAYS = 6
MONTHS = {"April": (4, 10), "July": (7, 6), "February": (2, 3)}
DAILY_KWH = 9.0
OFFSETS_K = (-15, -12, -8, -4, 4, 8, 12, 15)
SENSORS = ("collector", "loop_supply", "loop_return", "tank_low", "tank_high", "outdoor", "exchanger")
# A part of a pipe's temperature above the room, as a strapped sensor feels it.
STRAPPED = (0.95, 0.87, 0.8)
TO_TANK = trace.COLUMNS.index("heat_to_tank_kwh")


@dataclass(frozen=True)
class Effect:
    """What a fault made of some days: heat into the tank, hours of boiling, hours of alarm."""

    heat_kwh: float
    boiling_h: float
    alarm_h: float


def case_of(month: str) -> Case:
    """The days of a month without a fault."""
    return Case(seed=7, start=MONTHS[month], days=DAYS, recovery_s=0, daily_kwh=DAILY_KWH)


def offset(sensor: str, kelvin: float) -> Fault:
    """A sensor that reads this much high all the time."""
    return Fault("sensor_far_off", sensor, float(kelvin), 0.0, DAYS * DAY)


def strapped(part: float) -> Fault:
    """A loop_supply that feels this part of its pipe, and the room."""
    return Fault("sensor_strapped", "loop_supply", part, 0.0, DAYS * DAY)


def live(run_block, case: Case, *faults: Fault) -> Effect:
    """The effect of these faults on the days of a case."""
    episode = storm_run.open_episode(replace(case, faults=faults))
    storm_run.run_span(run_block, episode, slice(0, len(episode.rows)))
    rows, hours = episode.rows, case.step_s / 3600.0
    limit_c = episode.settings[cfg.COLLECTOR_LIMIT] / 1000.0
    boiling = np.count_nonzero(rows[:, trace.TRUE_SENSORS + s.COLLECTOR] >= limit_c)
    alarm = np.count_nonzero(rows[:, trace.COMMANDS + s.ALARM])
    return Effect(float(rows[-1, TO_TANK]), boiling * hours, alarm * hours)


def cell(run_block, sound: dict[str, Effect], fault: Fault) -> str:
    """The worst month under a fault: per cent of a sound station's heat, and what else happened."""
    effects = {month: live(run_block, case_of(month), fault) for month in MONTHS}
    month = min(MONTHS, key=lambda name: effects[name].heat_kwh / sound[name].heat_kwh)
    text = f"{round(100.0 * effects[month].heat_kwh / sound[month].heat_kwh)}"
    text += " A" if effects[month].alarm_h > 0.0 else ""
    boiling_h = max(effect.boiling_h for effect in effects.values())
    return text + (f" ({boiling_h:.1f} h)" if boiling_h > 0.0 else "")


def table() -> str:
    """The table as Markdown."""
    run_block = campaign.block_of()
    sound = {month: live(run_block, case_of(month)) for month in MONTHS}
    lines = ["| reads | " + " | ".join(f"{kelvin:+d} K" for kelvin in OFFSETS_K) + " |"]
    lines.append("|---|" + "---|" * len(OFFSETS_K))
    for sensor in SENSORS:
        cells = [cell(run_block, sound, offset(sensor, kelvin)) for kelvin in OFFSETS_K]
        lines.append(f"| `{sensor}` | " + " | ".join(cells) + " |")
    parts = [f"{part:g} of it: {cell(run_block, sound, strapped(part))}" for part in STRAPPED]
    lines += ["", fill(f"`loop_supply` strapped to its pipe, so that it feels a part of it: {'; '.join(parts)}.", 100), ""]
    return "\n".join(lines)


def renewed(text: str, new: str) -> str:
    """The page with this table."""
    before, rest = text.split(BEGIN)
    return before + BEGIN + "\n" + new + "\n" + END + rest.split(END)[1]


def main() -> None:
    path = Path(PAGE)
    path.write_text(renewed(path.read_text(), table()))


if __name__ == "__main__":
    main()
