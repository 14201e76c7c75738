"""Start and stop differences, found by slow ramps of the injected collector.

After the idea of EN 12977-5 (from memory; its clauses were not read): one reading is moved slowly, the place where the controller
switches is compared with its setting.
"""

from __future__ import annotations

from twinloop.control import state as s

from .frame import FINE_MC, Check, Station, kelvin


def measure_start(bench):
    """Collector rises until charging begins."""
    station = Station(bench)
    station.settle()
    start = station.settings["start_difference"]
    station.ramp("collector", station.mc["tank_low"] + start - 2000)
    at = station.ramp_until("collector", FINE_MC, lambda: station.duty == s.CHARGING, "charging")
    detail = f"collector above tank_low at {kelvin(station.mc['tank_low']):g} C when charging began"
    return kelvin(at - station.mc["tank_low"]), kelvin(start), kelvin(start + FINE_MC), detail


def measure_stop(bench):
    """Collector falls until charging ends."""
    station = Station(bench)
    station.settle()
    station.charge()
    for _ in range(station.settings["minimum_run"] // 5000 + 1):
        station.step()
    stop = station.settings["stop_difference"]
    station.ramp("collector", station.mc["tank_low"] + stop + 2000)
    at = station.ramp_until("collector", -FINE_MC, lambda: station.duty != s.CHARGING, "the end of charging")
    detail = f"collector above tank_low at {kelvin(station.mc['tank_low']):g} C when charging ended"
    return kelvin(at - station.mc["tank_low"]), kelvin(stop - FINE_MC), kelvin(stop), detail


def measure_join(bench):
    """Glycol arriving warms until the tank pump joins."""
    station = Station(bench)
    station.settle()
    lead = station.settings["exchanger_lead"]
    station.ramp("collector", station.mc["tank_low"] + station.settings["start_difference"] + 5000)
    station.until(station.pumping, "the collector pump")
    station.ramp("loop_supply", station.mc["tank_low"] + lead - 1000)
    at = station.ramp_until("loop_supply", FINE_MC, lambda: station.on(s.TANK_PUMP), "the tank pump")
    detail = "loop_supply above tank_low when the tank pump joined"
    return kelvin(at - station.mc["tank_low"]), kelvin(lead), kelvin(lead + FINE_MC), detail


CHECKS = (
    Check("start-difference", "collector rises by 0.1 K a step until charging begins", "K", 1, measure_start),
    Check("stop-difference", "collector falls by 0.1 K a step until charging ends", "K", 1, measure_stop),
    Check("exchanger-lead", "arriving glycol warms by 0.1 K a step until the tank pump joins", "K", 1, measure_join),
)
