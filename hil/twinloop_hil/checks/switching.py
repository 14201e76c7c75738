"""Start and stop differences, found by slow ramps of the injected collector.

After the idea of EN 12977-5 (from memory; its clauses were not read): one reading is moved slowly, the place where the controller
switches is compared with its setting.
"""

from __future__ import annotations

from collections.abc import Callable

from twinloop.control import state as s

from .frame import FINE_MC, Check, Station, kelvin

# A cold tank in winter, a mild one, one that is nearly done.
LEVELS_MC = {"cold": 15000, "": 30000, "hot": 55000}


def settled_at(bench, level_mc: int) -> Station:
    """A warm loop at rest over a tank of this temperature."""
    station = Station(bench)
    station.ramp("tank_high", level_mc + 5000)
    station.ramp("tank_low", level_mc)
    station.settle()
    return station


def find_start(station: Station) -> int:
    """The collector rises until charging begins; returns its difference to the tank in millikelvin."""
    station.ramp("collector", station.mc["tank_low"] + station.settings["start_difference"] - 2000)
    at = station.ramp_until("collector", FINE_MC, lambda: station.duty == s.CHARGING, "charging")
    return at - station.mc["tank_low"]


def find_stop(station: Station) -> int:
    """From charging, the collector falls until it ends; returns its difference to the tank in millikelvin."""
    for _ in range(station.settings["minimum_run"] // 5000 + 1):
        station.step()
    station.ramp("collector", station.mc["tank_low"] + station.settings["stop_difference"] + 2000)
    at = station.ramp_until("collector", -FINE_MC, lambda: station.duty != s.CHARGING, "the end of charging")
    return at - station.mc["tank_low"]


def measure_start(level_mc: int) -> Callable:
    """Start difference over a tank of this temperature."""

    def measure(bench):
        station = settled_at(bench, level_mc)
        start = station.settings["start_difference"]
        detail = f"collector above tank_low at {kelvin(level_mc):g} C when charging began"
        return kelvin(find_start(station)), kelvin(start), kelvin(start + FINE_MC), detail

    return measure


def measure_stop(level_mc: int) -> Callable:
    """Stop difference over a tank of this temperature."""

    def measure(bench):
        station = settled_at(bench, level_mc)
        station.charge()
        stop = station.settings["stop_difference"]
        detail = f"collector above tank_low at {kelvin(level_mc):g} C when charging ended"
        return kelvin(find_stop(station)), kelvin(stop - FINE_MC), kelvin(stop), detail

    return measure


def measure_hysteresis(bench):
    """What lies between start and stop, both found in one run."""
    station = settled_at(bench, LEVELS_MC[""])
    start = find_start(station)
    station.ramp("loop_supply", station.mc["collector"] - 2000)
    # It only ends by itself once both pumps run; the ramp up is part of it.
    station.ramp("collector", station.mc["tank_low"] + station.settings["start_difference"] + 5000)
    station.until(lambda: station.pumping() and station.on(s.TANK_PUMP), "both pumps while charging")
    wanted = station.settings["start_difference"] - station.settings["stop_difference"]
    return (
        kelvin(start - find_stop(station)),
        kelvin(wanted),
        kelvin(wanted + 2 * FINE_MC),
        "start difference less stop difference, in one run",
    )


def measure_minimum(bench):
    """A tank colder than any start wants: the collector warms until it is worth it."""
    station = settled_at(bench, 5000)
    minimum = station.settings["collector_minimum"]
    station.ramp("collector", minimum - 2000)
    at = station.ramp_until("collector", FINE_MC, lambda: station.duty == s.CHARGING, "charging")
    return kelvin(at), kelvin(minimum), kelvin(minimum + FINE_MC), "collector over a cold tank when charging began"


def measure_leave(bench):
    """Arriving glycol cools until the tank pump leaves."""
    station = Station.charging(bench)
    lag = station.settings["exchanger_lag"]
    station.ramp("loop_supply", station.mc["tank_low"] + lag + 500)
    at = station.ramp_until("loop_supply", -FINE_MC, lambda: not station.on(s.TANK_PUMP), "the tank pump to leave")
    detail = "loop_supply above tank_low when the tank pump left"
    return kelvin(at - station.mc["tank_low"]), kelvin(lag - FINE_MC), kelvin(lag), detail


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


def at_level(name: str, level: str) -> str:
    """Name of a check at a level."""
    return f"{name}-{level}" if level else name


CHECKS = (
    *(
        Check(
            at_level("start-difference", level),
            f"tank at {kelvin(level_mc):g} C, the collector rises by 0.1 K a step until charging begins",
            "K",
            1,
            measure_start(level_mc),
        )
        for level, level_mc in LEVELS_MC.items()
    ),
    *(
        Check(
            at_level("stop-difference", level),
            f"tank at {kelvin(level_mc):g} C, the collector falls by 0.1 K a step until charging ends",
            "K",
            1,
            measure_stop(level_mc),
        )
        for level, level_mc in LEVELS_MC.items()
    ),
    Check("hysteresis", "collector up until charging begins and down until it ends, in one run", "K", 1, measure_hysteresis),
    Check("collector-minimum", "a very cold tank, the collector warms until charging begins", "C", 1, measure_minimum),
    Check("exchanger-lag", "arriving glycol cools by 0.1 K a step until the tank pump leaves", "K", 1, measure_leave),
    Check("exchanger-lead", "arriving glycol warms by 0.1 K a step until the tank pump joins", "K", 1, measure_join),
)
