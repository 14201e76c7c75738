"""A fortnight's absence over radiators, tank limits and away_limit: what `away` gains and costs.

Run as `python -m twinloop_sim.measure.away`: it prints the table of docs/simulate.md.
"""

from __future__ import annotations

import sys

from .. import scenarios
from ..document import document
from ..engine import run as engine

# To the air, with the glycol flowing and at rest, in W/K. A dead one is covered, or its fan stands.
RADIATORS = {"good": (120.0, 30.0), "weak": (25.0, 6.0), "dead": (2.0, 2.0)}
# Topology and radiator.
PLANTS = (*(("bypass", name) for name in RADIATORS), ("series", "good"), ("series", "dead"), ("none", ""))
TANK_LIMITS_C = (60, 75, 80)
AWAY_LIMITS_C = (35, 45, 50)


def fortnight(topology: str, radiator: str, *changes: str) -> dict[str, float]:
    """Hours of boiling, of both pumps and of night cooling, and starts; the shipped fortnight."""
    plant = [f"dump_topology={topology}"]
    if radiator:
        flowing, rest = RADIATORS[radiator]
        plant += [f"radiator_flow_w_per_k={flowing}", f"radiator_rest_w_per_k={rest}"]
    facts = document(engine.run(scenarios.load("away-fortnight", [*plant, *changes])))
    return {
        "boiling_h": facts["stagnation_hours"],
        "collector_pump_h": facts["run_hours"]["collector_pump"],
        "tank_pump_h": facts["run_hours"]["tank_pump"],
        "cooling_h": facts["duty_hours"]["night_cooling"],
        "starts": facts["starts"]["collector_pump"],
        "tank_c": facts["hottest_true_c"]["tank_node"],
    }


def tank(limit_c: int) -> list[str]:
    """The settings of a tank limit, with tank_full_low as far below it as shipped."""
    return [f"tank_limit={limit_c}C", f"tank_full_low={limit_c - 8}C"]


def ways() -> dict[str, list[str]]:
    """The ways to be away, by their heading in the table."""
    return {"`away` off": ["away=no"]} | {f"to {away_c} C": ["away=yes", f"away_limit={away_c}C"] for away_c in AWAY_LIMITS_C}


def main() -> int:
    """Print a row for each plant and tank limit, a column for each way to be away."""
    print("| plant | tank_limit | " + " | ".join(ways()) + " |")
    print("|---|---|" + "---|" * len(ways()))
    for topology, radiator in PLANTS:
        name = f"{topology}, {radiator} radiator" if radiator else "no radiator"
        for limit_c in TANK_LIMITS_C:
            found = [fortnight(topology, radiator, *tank(limit_c), *changes) for changes in ways().values()]
            figures = [f"{one['boiling_h']:.1f} / {one['collector_pump_h']:.0f} / {one['tank_pump_h']:.0f}" for one in found]
            print(f"| {name} | {limit_c} C | " + " | ".join(figures) + " |", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
