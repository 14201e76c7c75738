"""The station's times: minimum run, minimum rest, travel of the dump valve, run-on."""

from __future__ import annotations

from twinloop.control import state as s

from . import limits
from .frame import FINE_MC, Check, Station

SECOND_MS = 1000


def allowed(setting_ms: int):
    """The limits for a time: its setting, and one step more."""
    return setting_ms / 1000.0, (setting_ms + SECOND_MS) / 1000.0


def dumping(bench) -> Station:
    """A station that starts to dump, with the valve already home."""
    station = Station.with_full_tank(bench)
    station.wait_out("minimum_rest")
    station.ramp("collector", station.settings["dump_collector_start"] - 100)
    station.mc["collector"] += 100
    station.step(SECOND_MS)
    return station


def measure_run(bench):
    station = dumping(bench)
    station.until(station.pumping, "dumping", SECOND_MS)
    # As fast as a collector reading may credibly fall.
    for fall in (7000, 9000):
        station.mc["collector"] -= fall
        station.step(SECOND_MS)
    passed = station.until(lambda: not station.pumping(), "the end of the minimum run", SECOND_MS) + 2 * SECOND_MS
    return passed / 1000.0, *allowed(station.settings["minimum_run"]), "run time of the collector pump without a reason to run"


def measure_rest(bench):
    station = dumping(bench)
    station.wait_out("minimum_run", SECOND_MS)
    station.ramp("collector", station.settings["dump_collector_stop"])
    station.until(lambda: not station.pumping(), "the pump to stop", SECOND_MS)
    start = station.settings["dump_collector_start"]
    steps = 0
    while station.mc["collector"] < start:
        station.mc["collector"] = min(start, station.mc["collector"] + 9000)
        station.step(SECOND_MS)
        steps += 1
    passed = station.until(station.pumping, "the pump to start again", SECOND_MS) + steps * SECOND_MS
    detail = "rest of the collector pump when its reason had returned at once"
    return passed / 1000.0, *allowed(station.settings["minimum_rest"]), detail


def measure_travel(bench):
    station = Station.settled(bench)
    station.ramp("collector", station.mc["tank_low"] + station.settings["start_difference"] - 1000)
    station.ramp_until("collector", FINE_MC, lambda: station.on(s.DUMP_VALVE_POWER), "power on the dump valve")
    passed = station.until(station.pumping, "the collector pump", SECOND_MS)
    low, high = (0.0, 1.0) if station.settings["dump_crossover"] else allowed(station.settings["dump_travel"])
    return passed / 1000.0, low, high, "from power on the dump valve to the start of the collector pump"


def measure_run_on(bench):
    station = Station.charging(bench)
    station.wait_out("minimum_run")
    station.ramp("tank_high", station.settings["tank_limit"] - limits.EARLY_MK - 100)
    station.mc["tank_high"] += 100
    station.step(SECOND_MS)
    if station.pumping():
        raise TimeoutError("the collector pump did not stop before the tank pump")
    passed = station.until(lambda: not station.on(s.TANK_PUMP), "the end of the run-on", SECOND_MS)
    detail = "run time of the tank pump after the collector pump had stopped"
    return passed / 1000.0, *allowed(station.settings["tank_run_on_time"]), detail


CHECKS = (
    Check("minimum-run", "the collector pump keeps its minimum run when its reason ends at once", "s", 1, measure_run),
    Check("minimum-rest", "the collector pump keeps its minimum rest when its reason returns at once", "s", 1, measure_rest),
    Check("valve-travel", "the collector pump waits until the dump valve has arrived", "s", 1, measure_travel),
    Check("run-on", "the tank pump runs on to fetch the heat left in the exchanger", "s", 1, measure_run_on),
)
