"""The summary of a run on the terminal."""

from __future__ import annotations

from twinloop.control import settings as cfg

from ..checkers.tap_scald import LIMIT_C as TAP_LIMIT_C
from ..document import CLOSURE_TOP_PERCENT
from ..engine.run import Outcome
from ..sheets.clock import Clock
from .months import MONTH_COLUMNS, month_cells


def figure_line(label: str, value: float, unit: str, rest: str, digits: int = 1) -> str:
    """One line of the summary."""
    return f"  {label:21} {value:8.{digits}f} {unit:4}  {rest}"


def monthly_lines(facts: dict) -> list[str]:
    """The months of a run as a text table, heat in kWh; the last row is the whole run."""
    headings = [heading for heading, *_ in MONTH_COLUMNS]
    total = {**facts, "irradiation_kwh_per_m2": sum(month["irradiation_kwh_per_m2"] for month in facts["months"])}
    rows = [(month["month"], month_cells(month)) for month in facts["months"]] + [("all", month_cells(total))]
    lines = [f"  {'kWh':9} " + " ".join(f"{heading:>{len(heading) + 1}}" for heading in headings)]
    for name, cells in rows:
        lines.append(
            f"  {name:9} " + " ".join(f"{cell:>{len(heading) + 1}}" for cell, heading in zip(cells, headings, strict=True))
        )
    return lines


def air_lines(facts: dict) -> list[str]:
    """The lines of the air heater; none where there is none."""
    if not facts["air"]:
        return []
    kwh, room = facts["air"]["kwh"], facts["air"]["room_c"]
    lost = f"{kwh['back_draught']:.1f} lost backwards; fan {kwh['fan']:.1f} kWh in {facts['run_hours']['air_fan']:.0f} h"
    return [
        figure_line("Air heater", kwh["to_room"], "kWh", lost),
        figure_line("Backup heating", kwh["backup_fuel"], "kWh", f"room {room['lowest']:.1f} to {room['highest']:.1f} C"),
    ]


def summary(outcome: Outcome, facts: dict) -> str:
    """The run in a builder's words."""
    heat, scenario = facts["heat_kwh"], outcome.scenario
    fraction, hours = facts["solar_fraction"], facts["stagnation_hours"]
    hottest, coldest = facts["hottest_true_c"], facts["coldest_true_c"]
    tank_limit = scenario.settings[cfg.TANK_LIMIT] / 1000.0
    collector_limit = scenario.settings[cfg.COLLECTOR_LIMIT] / 1000.0
    saved = "nobody drew hot water" if fraction is None else f"{100 * fraction:.0f} % of the gas saved"
    short = heat["tap_short"] / (heat["tap"] + heat["tap_short"]) if heat["tap"] else 0.0
    burnt = f"gas burnt: {heat['gas']:.1f} of {heat['gas_without_station']:.1f} kWh"
    lost = heat["tank_losses"] + heat["pipe_losses"]
    starts_a_day = facts["starts"]["collector_pump"] / scenario.days
    mains = f"both pumps took {facts['pump_mains_kwh']:.1f} kWh"
    lines = [
        f"{scenario.name}: {scenario.what}",
        "",
        figure_line("Heat collected", heat["collected"], "kWh", f"to tank {heat['to_tank']:.1f}, to radiator {heat['dumped']:.1f}"),
        figure_line("Heat used at the taps", heat["used"], "kWh", f"{saved} ({burnt})"),
        figure_line(
            "Missing at the taps",
            heat["tap_short"],
            "kWh",
            f"{100 * short:.0f} % of the demand, where the heater's minimum was not reached",
        ),
        figure_line("Lost on the way", lost, "kWh", f"tank {heat['tank_losses']:.1f}, pipes {heat['pipe_losses']:.1f}"),
        figure_line("Collector pump", facts["run_hours"]["collector_pump"], "h", f"{starts_a_day:.0f} starts per day; {mains}"),
        figure_line("Hottest collector", hottest["collector"], "C", f"limit {collector_limit:g} C; {hours:.1f} h at or above it"),
        figure_line("Hottest tank layer", hottest["tank_node"], "C", f"limit {tank_limit:g} C"),
        figure_line("Hottest at the taps", hottest["tap"], "C", f"limit {TAP_LIMIT_C:g} C; can scald from 49 C (120 F)"),
        figure_line("Coldest exchanger", coldest["exchanger_plate"], "C", f"coldest glycol {coldest['loop']:.1f} C"),
        figure_line("Heat balance", facts["closure_percent"], "%", f"unexplained (at most {CLOSURE_TOP_PERCENT:g} %)", 4),
        *air_lines(facts),
        "",
    ]
    if len(facts["months"]) > 1:
        lines += [*monthly_lines(facts), ""]
    lines += [f"Note: {note}" for note in facts["notes"]]
    if not facts["violations"]:
        lines.append("Verdict: good. Nothing got too hot, froze or scalded, and the guard never had to act.")
        lines.append(
            "Not checked: pressure, expansion, Legionella, your weather. A model is not your plant; mechanical protection stays."
        )
        return "\n".join(lines)
    lines.append("Verdict: NOT GOOD")
    for found in facts["violations"]:
        unit = found["unit"]
        worst = f"{found['measured']:g} {unit} at worst, limit {found['limit']:g} {unit}"
        lines.append(f"  first on {Clock('').day_and_time(found['at_s'])}: {found['text']} ({worst})")
    return "\n".join(lines)
