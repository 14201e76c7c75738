"""Start and stop differences, measured by slow ramps of the injected collector reading.

After the idea of EN 12977-5 (from memory; its clauses were not read): one reading moves slowly, and
the value at which the controller switches is compared with its setting.
"""

from __future__ import annotations

from collections.abc import Callable

from twinloop.control import state as s

from .frame import FINE_MC, Check, Station, kelvin

# A cold tank in winter, a mild one, a nearly full one.
LEVELS_MC = {"-cold": 15000, "": 30000, "-hot": 55000}


def settled_at(bench, level_mc: int) -> Station:
    """A warm loop at rest, with the tank at this temperature."""
    station = Station(bench)
    station.ramp("tank_high", level_mc + 5000)
    station.ramp("tank_low", level_mc)
    station.settle()
    return station


def find_start(station: Station) -> int:
    """The difference in millikelvin at which charging begins: the collector rises slowly."""
    station.ramp("collector", station.mc["tank_low"] + station.settings["start_difference"] - 2000)
    at = station.ramp_until("collector", FINE_MC, lambda: station.duty == s.CHARGING, "charging")
    return at - station.mc["tank_low"]


def find_stop(station: Station) -> int:
    """The difference in millikelvin at which charging ends: the collector falls slowly."""
    station.wait_out("minimum_run")
    station.ramp("collector", station.mc["tank_low"] + station.settings["stop_difference"] + 2000)
    at = station.ramp_until("collector", -FINE_MC, lambda: station.duty != s.CHARGING, "the end of charging")
    return at - station.mc["tank_low"]


def measure_start(level_mc: int) -> Callable:
    """A measurement of the start difference with the tank at this temperature."""

    def measure(bench):
        station = settled_at(bench, level_mc)
        start = station.settings["start_difference"]
        detail = f"collector above tank_low at {kelvin(level_mc):g} C when charging began"
        return kelvin(find_start(station)), kelvin(start), kelvin(start + FINE_MC), detail

    return measure


def measure_stop(level_mc: int) -> Callable:
    """A measurement of the stop difference with the tank at this temperature."""

    def measure(bench):
        station = settled_at(bench, level_mc)
        station.charge()
        stop = station.settings["stop_difference"]
        detail = f"collector above tank_low at {kelvin(level_mc):g} C when charging ended"
        return kelvin(find_stop(station)), kelvin(stop - FINE_MC), kelvin(stop), detail

    return measure


def measure_hysteresis(bench):
    station = settled_at(bench, LEVELS_MC[""])
    start = find_start(station)
    station.ramp("loop_supply", station.mc["collector"] - 2000)
    # Charging ends by the difference only while both pumps run, so warm up until they do.
    station.ramp("collector", station.mc["tank_low"] + station.settings["start_difference"] + 5000)
    station.until(lambda: station.pumping() and station.on(s.TANK_PUMP), "both pumps while charging")
    wanted = station.settings["start_difference"] - station.settings["stop_difference"]
    detail = "start difference less stop difference, in one run"
    return kelvin(start - find_stop(station)), kelvin(wanted), kelvin(wanted + 2 * FINE_MC), detail


def measure_minimum(bench):
    station = settled_at(bench, 5000)
    minimum = station.settings["collector_minimum"]
    station.ramp("collector", minimum - 2000)
    at = station.ramp_until("collector", FINE_MC, lambda: station.duty == s.CHARGING, "charging")
    return kelvin(at), kelvin(minimum), kelvin(minimum + FINE_MC), "collector over a cold tank when charging began"


def measure_leave(bench):
    station = Station.charging(bench)
    lag = station.settings["exchanger_lag"]
    station.ramp("loop_supply", station.mc["tank_low"] + lag + 500)
    at = station.ramp_until("loop_supply", -FINE_MC, lambda: not station.on(s.TANK_PUMP), "the tank pump to stop")
    detail = "loop_supply above tank_low when the tank pump stopped"
    return kelvin(at - station.mc["tank_low"]), kelvin(lag - FINE_MC), kelvin(lag), detail


def measure_join(bench):
    station = Station.settled(bench)
    lead = station.settings["exchanger_lead"]
    station.ramp("collector", station.mc["tank_low"] + station.settings["start_difference"] + 5000)
    station.until(station.pumping, "the collector pump")
    station.ramp("loop_supply", station.mc["tank_low"] + lead - 1000)
    at = station.ramp_until("loop_supply", FINE_MC, lambda: station.on(s.TANK_PUMP), "the tank pump")
    detail = "loop_supply above tank_low when the tank pump started"
    return kelvin(at - station.mc["tank_low"]), kelvin(lead), kelvin(lead + FINE_MC), detail


def checks_at(name: str, moves: str, measure: Callable) -> list[Check]:
    """A check of how the collector moves, at each level of the tank."""
    return [
        Check(name + level, f"tank at {kelvin(mc):g} C; the collector {moves}", "K", 1, measure(mc))
        for level, mc in LEVELS_MC.items()
    ]


ONE_RUN = "the collector rises until charging begins and falls until it ends, in one run"
CHECKS = (
    *checks_at("start-difference", "rises by 0.1 K per step until charging begins", measure_start),
    *checks_at("stop-difference", "falls by 0.1 K per step until charging ends", measure_stop),
    Check("hysteresis", ONE_RUN, "K", 1, measure_hysteresis),
    Check("collector-minimum", "the tank is very cold; the collector warms until charging begins", "C", 1, measure_minimum),
    Check("exchanger-lag", "the arriving glycol cools by 0.1 K per step until the tank pump stops", "K", 1, measure_leave),
    Check("exchanger-lead", "the arriving glycol warms by 0.1 K per step until the tank pump starts", "K", 1, measure_join),
)
