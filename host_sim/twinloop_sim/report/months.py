"""The monthly table of a run: its columns and the text of their cells."""

from __future__ import annotations

# Heading, key in a month (a dot reaches into a table), decimals, factor.
MONTH_COLUMNS = (
    ("sun kWh/m2", "irradiation_kwh_per_m2", 1, 1),
    ("collected", "heat_kwh.collected", 1, 1),
    ("used", "heat_kwh.used", 1, 1),
    ("lost", "heat_kwh.lost", 1, 1),
    ("dumped", "heat_kwh.dumped", 1, 1),
    ("gas", "heat_kwh.gas", 1, 1),
    ("gas alone", "heat_kwh.gas_without_station", 1, 1),
    ("solar %", "solar_fraction", 0, 100),
    ("pumps kWh", "pump_mains_kwh", 1, 1),
    ("pump h", "run_hours.collector_pump", 0, 1),
    ("starts", "starts.collector_pump", 0, 1),
    ("stagnation h", "stagnation_hours", 1, 1),
)


def month_cells(month: dict) -> list[str]:
    """A month's figures as text, in the order of MONTH_COLUMNS; heat in kWh, `-` for none."""
    heat = {**month["heat_kwh"], "lost": month["heat_kwh"]["tank_losses"] + month["heat_kwh"]["pipe_losses"]}
    cells = []
    for _, key, digits, factor in MONTH_COLUMNS:
        group, _, name = key.rpartition(".")
        value = ({**month, "heat_kwh": heat}[group] if group else month)[name]
        cells.append("-" if value is None else f"{factor * value:.{digits}f}")
    return cells
