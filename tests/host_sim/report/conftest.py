"""A made-up run for the tests of its page and its pictures."""

import numpy as np
import pytest
from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_sim.report.run import Run
from twinloop_sim.trace import COLUMNS

STEP_S = 5.0
ROWS_A_DAY = 17280


def sample_trace(days):
    """A made-up run: several kinds of day, charging, a full tank, steam, a lost sensor."""
    t_s = np.arange(int(days * ROWS_A_DAY)) * STEP_S
    hour, day = t_s / 3600.0 % 24.0, (t_s // 86400).astype(int)
    noise = np.random.default_rng(7)
    cloud = np.array([1.0, 0.8, 0.35, 1.0, 1.0, 0.6, 0.95])[day % 7]
    passing = np.where(cloud < 0.9, 0.75 + 0.25 * np.sin(t_s / 700.0 + day), 1.0)
    sun = 950.0 * cloud * passing * np.clip(np.sin(np.pi * (hour - 5.5) / 13.5), 0, None)
    outdoor = 12.0 + 6.0 * np.sin(np.pi * (hour - 9.0) / 12.0) + 0.3 * np.sin(t_s / 5000.0)
    warmed = np.interp(hour, [0.0, 7.0, 16.0, 24.0], [0.0, -0.1, 1.0, 0.15])
    tank_low = 24.0 + 4.0 * np.sin(t_s / 86400.0) + 42.0 * cloud * warmed
    tank_high = np.clip(tank_low + 9.0 + 3.0 * np.sin(t_s / 9000.0), None, 74.5)
    full = (tank_low > 60.0) & (sun > 420.0)
    burst = (t_s % 2400.0) < 700.0
    steam = (day == 4) & (hour > 13.0) & (hour < 13.4)
    charging = (sun > 260.0) & ~full & ~steam & ~((sun < 330.0) & (t_s % 900.0 < 300.0))
    dumping = full & burst & ~steam
    duty = np.select([steam, dumping, charging], [s.STAGNATION_HOLD, s.DUMPING, s.CHARGING], s.IDLE)
    quiet = np.where(sun > 60.0, why.NO_DIFFERENCE, why.COLLECTOR_COOL)
    reason = np.select(
        [steam, dumping, charging, full], [why.STEAM, why.TANK_FULL_DUMP, why.DIFFERENCE, why.TANK_FULL_REFUSED], quiet
    )
    pump = charging | dumping
    blows = (sun > 400.0) & ~steam
    joined = charging & np.roll(charging, 18)
    collector = outdoor + np.where(pump, 0.0, 0.045 * sun) + np.where(sun > 60, tank_low - outdoor + 0.013 * sun, -3.0)
    collector = np.where(steam, 121.5 + 3.0 * np.sin(t_s / 300.0), collector) + noise.normal(0, 0.05, len(t_s))
    draw = np.where(((t_s % 5400.0) < 240.0) & (hour > 6) & (hour < 21.5), 6.0, 0.0)
    supply = np.where(pump, collector - 1.5, 20.0 + 4.0 * np.sin(t_s / 8000.0))
    trace = {
        "t_s": t_s,
        "collector": collector,
        "tank_low": tank_low,
        "tank_high": tank_high.copy(),
        "loop_supply": supply,
        "loop_return": np.where(joined, tank_low + 4.0, supply - 2.0),
        "outdoor": outdoor,
        "tap": np.where(draw > 0, 45.0, 21.0),
        "exchanger": np.where(joined, tank_low + 5.0, 19.0),
        "air_collector": outdoor + 0.04 * sun,
        "room": 18.0 + 0.3 * (outdoor - 12.0),
    }
    trace |= {f"true_{name}": trace[name].copy() for name in s.SENSOR_NAMES}
    # The page draws no heat from the trace, so its columns need no values.
    trace |= {name: np.zeros(len(t_s)) for name in COLUMNS if name.startswith("heat_")}
    trace["tank_high"][(day == 5) & (hour > 10.0) & (hour < 12.0)] = np.nan
    trace["loop_return"][100] = np.nan
    trace |= {
        "true_tank_node": tank_high + 0.6,
        "true_tank_inlet": np.where(joined, collector - 3.0, np.nan),
        "true_exchanger_water": np.where(joined, collector - 4.0, 19.0),
        "true_exchanger_plate": np.where(joined, collector - 5.0, 18.5),
        "true_loop_coldest": outdoor - 1.0,
        "irradiance_w_per_m2": sun,
        "draw_l_per_min": draw,
        "true_collector_flow_l_per_min": np.where(pump, 4.5, 0.0),
        "true_tank_flow_l_per_min": np.where(joined, 4.0, 0.0),
        "collector_pump": pump.astype(np.int8),
        "tank_pump": joined.astype(np.int8),
        "dump_valve_power": charging.astype(np.int8),
        "alarm": (day == 5).astype(np.int8),
        "air_fan": blows.astype(np.int8),
        "duty": duty.astype(np.int16),
        "reason": reason.astype(np.int16),
        "wait_reason": np.where(charging & ~joined, why.WAIT_EXCHANGER, 0).astype(np.int16),
        "air_reason": np.where(blows, why.AIR_WARM, why.AIR_COOL).astype(np.int16),
    }
    return trace


def sample_document(trace):
    """The document of the trace. Its heats are made up and close to 0.01 kWh."""
    hours = {name: float(trace[name].sum()) * STEP_S / 3600.0 for name in s.OUTPUT_NAMES}
    heat = {"collected": 96.413, "pump_heat": 1.207, "used": 61.552, "dumped": 9.104, "tank_losses": 12.81, "pipe_losses": 8.377}
    heat |= {"stored_change": 6.02, "loop_change": -0.253, "to_tank": 80.96}
    heat |= {"tap": 80.402, "tap_short": 0.31, "gas": 22.178, "gas_without_station": 94.59}
    return {
        "scenario": "washhouse-week",
        "days": len(trace["t_s"]) / ROWS_A_DAY,
        "steps": len(trace["t_s"]),
        "step_s": STEP_S,
        "heat_kwh": heat,
        "pump_mains_kwh": 2.414,
        "closure_percent": 0.0104,
        "solar_fraction": 0.7655,
        "starts": {name: int((np.diff(trace[name].astype(int)) == 1).sum()) for name in s.OUTPUT_NAMES},
        "run_hours": hours,
        "duty_hours": {name: float((trace["duty"] == code).sum()) * STEP_S / 3600.0 for code, name in enumerate(s.DUTY_NAMES)},
        "hottest_c": {name: float(np.nanmax(trace[name])) for name in s.SENSOR_NAMES},
        "hottest_true_c": {
            name: float(np.nanmax(trace[f"true_{name}"]))
            for name in ("tank_node", "tank_inlet", "exchanger_water", "collector", "tap")
        },
        "coldest_true_c": {
            "exchanger_water": float(trace["true_exchanger_water"].min()),
            "exchanger_plate": float(trace["true_exchanger_plate"].min()),
            "loop": float(trace["true_loop_coldest"].min()),
        },
        "stagnation_hours": float((trace["collector"] >= 120.0).sum()) * STEP_S / 3600.0,
        "guard_actions": 0,
        "violations": [],
        "faults_injected": {},
        "verdict": "pass",
        "wall_s": 3.2,
        "times_real_time": 189000.0,
        "files": {},
    }


def sample_settings():
    """Every setting of the firmware at its default, but one."""
    rows = []
    for name, unit, _, _, default, reason in cfg.TABLE:
        value = f"{default / 1000:g} {unit[1:]}" if unit in ("mC", "mK") else f"{default} {unit}"
        value = cfg.TOPOLOGY_NAMES[default] if name == "dump_topology" else value
        rows.append((name, "9 K" if name == "start_difference" else value, value, reason))
    return rows


def sample_run(days=7, scenario="washhouse-week"):
    trace = sample_trace(days)
    return Run(
        scenario=scenario,
        what="Seven days in May at a market garden's wash-house with showers in the evening.",
        start="3 May, 00:00, clock time",
        document=sample_document(trace),
        trace=trace,
        settings=sample_settings(),
        plant=[("collector_area_m2", "6", "m2", "gross area"), ("tank_volume_l", "400", "L", "water content")],
    )


@pytest.fixture(scope="session")
def make_run():
    return sample_run


@pytest.fixture(scope="session")
def week():
    """Seven days. Tests must not change it."""
    return sample_run()


@pytest.fixture(scope="session")
def chattering():
    """A fortnight of relays that start every 150 s, as fast as minimum_run and _rest allow."""
    run = sample_run(14)
    chatter = (run.trace["t_s"] % 150.0 < 90.0).astype(np.int8)
    for name in s.OUTPUT_NAMES:
        run.trace[name] = chatter
    run.trace["duty"] = np.where(chatter == 1, s.CHARGING, s.IDLE)
    return run
