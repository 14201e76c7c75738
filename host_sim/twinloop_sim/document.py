"""The JSON document of a run. Its keys are explained in docs/names.md."""

from __future__ import annotations

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s

from . import trace
from .engine.run import Month, Outcome
from .thermal import parameters as p
from .thermal import state as th
from .thermal.air import parameters as air_values
from .thermal.air import state as air

KWH_J = 3.6e6
# source: rule 5.9 of the check values: closure is judged against the collected heat, or 1 kWh where
# less was collected.
CLOSURE_FLOOR_KWH = 1.0
CLOSURE_TOP_PERCENT = 0.1
HEAT_FLUXES = {
    "collected": th.FLUX_COLLECTED,
    "to_tank": th.FLUX_TO_TANK,
    "dumped": th.FLUX_DUMPED,
    "used": th.FLUX_USED,
    "tank_losses": th.FLUX_TANK_LOSSES,
    "pipe_losses": th.FLUX_PIPE_LOSSES,
    "pump_heat": th.FLUX_PUMP_HEAT,
    "gas": th.FLUX_GAS,
    "gas_without_station": th.FLUX_GAS_WITHOUT_STATION,
    "tap": th.FLUX_TAP_HEAT,
    "tap_short": th.FLUX_TAP_HEAT_SHORT,
}
AIR_FLUXES = {
    "to_room": air.FLUX_TO_ROOM,
    "back_draught": air.FLUX_BACK_DRAUGHT,
    "fan": air.FLUX_FAN_POWER,
    "backup": air.FLUX_BACKUP,
    "backup_fuel": air.FLUX_BACKUP_FUEL,
}


def heat_kwh(part: Outcome | Month) -> dict[str, float]:
    """The heat balance of a run or of one month, in kWh. Every term has a flux of its own."""
    heat = {name: float(part.flux[index]) / KWH_J for name, index in HEAT_FLUXES.items()}
    heat["stored_change"] = part.tank_change_j / KWH_J
    heat["loop_change"] = part.loop_change_j / KWH_J
    return heat


def air_facts(outcome: Outcome) -> dict | None:
    """The air heater and its room; None where there is none."""
    if outcome.scenario.plant[p.AIR_FIRST + air_values.AIR_HEATER_BUILT] == 0.0:
        return None
    flux = outcome.flux[th.AIR_FLUX_FIRST :] / KWH_J
    return {
        "kwh": {name: round(float(flux[index]), 4) for name, index in AIR_FLUXES.items()},
        "room_c": {bound: extreme(outcome, "true_room", bound) for bound in ("lowest", "highest")},
        "hottest_air_collector_c": extreme(outcome, "true_air_collector", "highest"),
    }


def closure_percent(heat: dict[str, float]) -> float:
    """What the heat balance leaves unexplained, in per cent of the collected heat (or of 1 kWh)."""
    came = heat["collected"] + heat["pump_heat"]
    went = heat["dumped"] + heat["used"] + heat["tank_losses"] + heat["pipe_losses"]
    left = came - went - heat["stored_change"] - heat["loop_change"]
    return 100.0 * abs(left) / max(heat["collected"], CLOSURE_FLOOR_KWH)


def solar_fraction(heat: dict[str, float]) -> float | None:
    """The share of gas that the station saved; None when nobody drew hot water."""
    if heat["gas_without_station"] <= 0.0:
        return None
    return 1.0 - heat["gas"] / heat["gas_without_station"]


def extreme(outcome: Outcome, column: str, bound: str) -> float | None:
    """The highest or lowest value of a column; None when it was never known."""
    value = getattr(outcome, bound)[trace.COLUMNS.index(column)]
    return None if np.isnan(value) else round(float(value), 2)


def notes(outcome: Outcome) -> list[str]:
    """Sentences about settings that do not suit the plant."""
    scenario = outcome.scenario
    told_l = scenario.settings[cfg.LOOP_VOLUME] / 1000.0
    true_l = loop_content_l(scenario.plant)
    found = []
    if told_l < true_l:
        found.append(
            f"loop_volume = {told_l:g} L, but the loop holds {true_l:.1f} L: a slug of freezing glycol may be longer than expected"
        )
    if scenario.settings[cfg.DUMP_TOPOLOGY] == cfg.NONE:
        found.append("there is no radiator: the collector stagnates once the tank is full")
    if scenario.settings[cfg.DUMP_TOPOLOGY] != cfg.BYPASS and outcome.frost_refused_h > 0.0:
        found.append(
            f"without a bypass, frost kept the sun out of the tank for {outcome.frost_refused_h:.0f} h: "
            "dump_topology = bypass shows what that costs"
        )
    if scenario.settings[cfg.EXCHANGER_FITTED] == 0:
        found.append("there is no exchanger sensor: the exchanger is not protected against frost while the pumps are off")
    return found


def loop_content_l(values) -> float:
    """Litres of glycol in collector, pipes, radiator and exchanger."""
    pipes_m = sum(values[index] for index in (p.SUPPLY_OUTDOOR_M, p.SUPPLY_INDOOR_M, p.RETURN_INDOOR_M, p.RETURN_OUTDOOR_M))
    content_l = values[p.COLLECTOR_CONTENT_L] + pipes_m * values[p.PIPE_CONTENT_L_PER_M] + values[p.EXCHANGER_GLYCOL_L]
    return float(content_l + (values[p.RADIATOR_CONTENT_L] if values[p.DUMP_TOPOLOGY] != p.DUMP_NONE else 0.0))


def heat_facts(part: Outcome | Month, starts, run_s) -> dict:
    """Heat, starts and hours of a run or of one month, as the document has them."""
    heat = heat_kwh(part)
    fraction = solar_fraction(heat)
    return {
        "heat_kwh": {name: round(value, 4) for name, value in heat.items()},
        "pump_mains_kwh": round(float(part.flux[th.FLUX_PUMP_POWER]) / KWH_J, 4),
        "closure_percent": round(closure_percent(heat), 6),
        "solar_fraction": None if fraction is None else round(fraction, 4),
        "starts": {name: int(starts[output]) for output, name in enumerate(s.OUTPUT_NAMES)},
        "run_hours": {name: round(int(run_s[output]) / 3600.0, 4) for output, name in enumerate(s.OUTPUT_NAMES)},
    }


def month_facts(month: Month) -> dict:
    """One month of a run, as the document has it."""
    return {
        "month": month.name,
        "days": month.days,
        "irradiation_kwh_per_m2": round(month.irradiation_j_per_m2 / KWH_J, 3),
        **heat_facts(month, month.starts, month.run_s),
        "stagnation_hours": round(month.stagnation_h, 4),
    }


def document(outcome: Outcome) -> dict:
    """The JSON document of a run. The caller fills in `files`."""
    scenario, state = outcome.scenario, outcome.state
    closure = closure_percent(heat_kwh(outcome))
    violations = list(outcome.found)
    if closure > CLOSURE_TOP_PERCENT:
        text = "the heat balance of the model does not close: do not trust this run"
        violations.append(
            {"name": "closure", "text": text, "at_s": 0.0, "measured": closure, "limit": CLOSURE_TOP_PERCENT, "unit": "%"}
        )
    steps = outcome.steps
    return {
        "scenario": scenario.name,
        "days": scenario.days,
        "steps": steps,
        "step_s": scenario.step_s,
        "trace_step_s": scenario.trace_step_s,
        **heat_facts(outcome, state[s.STARTS :], state[s.ON_S :]),
        "duty_hours": {name: round(int(state[s.DUTY_S + duty]) / 3600.0, 4) for duty, name in enumerate(s.DUTY_NAMES)},
        "hottest_c": {name: extreme(outcome, name, "highest") for name in s.SENSOR_NAMES},
        "hottest_true_c": {
            "tank_node": extreme(outcome, "true_tank_node", "highest"),
            "tank_inlet": extreme(outcome, "true_tank_inlet", "highest"),
            "exchanger_water": extreme(outcome, "true_exchanger_water", "highest"),
            "collector": extreme(outcome, "true_collector", "highest"),
            "tap": extreme(outcome, "true_tap", "highest"),
        },
        "coldest_true_c": {
            "exchanger_water": extreme(outcome, "true_exchanger_water", "lowest"),
            "exchanger_plate": extreme(outcome, "true_exchanger_plate", "lowest"),
            "loop": extreme(outcome, "true_loop_coldest", "lowest"),
        },
        "stagnation_hours": round(outcome.stagnation_h, 4),
        "air": air_facts(outcome),
        "months": [month_facts(month) for month in outcome.months],
        "guard_actions": int(state[s.GUARD_ACTIONS]),
        "violations": violations,
        "faults_injected": {},
        "notes": notes(outcome),
        "verdict": "fail" if violations else "pass",
        "wall_s": round(outcome.wall_s, 3),
        "times_real_time": round(steps * scenario.step_s / outcome.wall_s),
        "files": {},
    }
