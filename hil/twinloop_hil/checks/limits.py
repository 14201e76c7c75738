"""Limits and their resets, measured by slow ramps of injected readings."""

from __future__ import annotations

from twinloop.control import settings as cfg
from twinloop.control import state as s

from .frame import FINE_MC, Check, Station, kelvin

# A margin for sensors strapped on, far from the default of none.
STRAPPED_MK = 10000
# Charging ends this far below tank_limit, for what a run-on still brings.
EARLY_MK = 500


def from_below(station: Station, sensor: str, limit: int, acted, what: str):
    """Measured value and limits of a threshold that acts at or above its setting."""
    station.ramp(sensor, limit - 1000)
    at = station.ramp_until(sensor, FINE_MC, acted, what)
    return kelvin(at), kelvin(limit), kelvin(limit + FINE_MC)


def from_above(station: Station, sensor: str, limit: int, acted, what: str):
    """Measured value and limits of a threshold that acts at or below its setting."""
    station.ramp(sensor, limit + 1000)
    at = station.ramp_until(sensor, -FINE_MC, acted, what)
    return kelvin(at), kelvin(limit - FINE_MC), kelvin(limit)


def to_tank_limit(station: Station, margin: int = 0):
    """Charge and warm the top of the tank until charging ends; returns value and limits."""
    station.settle()
    station.charge()
    limit = station.settings["tank_limit"] - margin - EARLY_MK
    return from_below(station, "tank_high", limit, lambda: station.duty != s.CHARGING, "the end of charging")


def to_tank_full(station: Station):
    """Charge and warm the bottom of the tank until charging ends; returns value and limits."""
    station.settle()
    station.charge()
    full = station.settings["tank_full_low"]
    station.ramp("tank_high", min(full + 2000, station.settings["tank_limit"] - 500))
    for sensor in ("loop_supply", "collector"):
        # Warm enough to charge up to the last step, too cool to be dumped first.
        station.ramp(sensor, full + station.settings["start_difference"] + 2000)
    return from_below(station, "tank_low", full, lambda: station.duty != s.CHARGING, "the end of charging")


def measure_tank_limit(bench):
    station = Station(bench)
    return *to_tank_limit(station), "tank_high when charging ended, half a kelvin below tank_limit"


def measure_tank_full(bench):
    return *to_tank_full(Station(bench)), "tank_low when charging ended"


def measure_collector_limit(bench):
    station = Station.with_full_tank(bench)
    station.ramp("collector", station.settings["dump_collector_start"])
    station.until(station.pumping, "dumping")
    limit = station.settings["collector_limit"]
    found = from_below(station, "collector", limit, lambda: not station.pumping(), "the collector pump to stop")
    return *found, "collector when its pump stopped"


def measure_collector_reset(bench):
    station = Station.with_full_tank(bench)
    station.ramp("collector", station.settings["collector_limit"])
    reset = station.settings["collector_reset"]
    found = from_above(station, "collector", reset, lambda: station.duty != s.STAGNATION_HOLD, "the end of stagnation_hold")
    return *found, "collector when stagnation_hold ended"


def measure_dump_start(bench):
    station = Station.with_full_tank(bench)
    start = station.settings["dump_collector_start"]
    found = from_below(station, "collector", start, lambda: station.duty == s.DUMPING and station.pumping(), "dumping")
    return *found, "collector when dumping began"


def measure_dump_stop(bench):
    station = Station.with_full_tank(bench)
    station.ramp("collector", station.settings["dump_collector_start"])
    station.until(station.pumping, "dumping")
    station.wait_out("minimum_run")
    stop = station.settings["dump_collector_stop"]
    return *from_above(
        station, "collector", stop, lambda: not station.pumping(), "the end of dumping"
    ), "collector when dumping ended"


def measure_charge_limit(bench):
    station = Station.charging(bench)
    limit = station.settings["charge_limit"]
    station.ramp("loop_supply", limit - 1000)
    station.ramp("collector", limit - 2000)
    found = from_below(station, "loop_supply", limit, lambda: station.duty == s.DUMPING, "dumping")
    return *found, "loop_supply when the glycol was sent to the radiator"


def measure_tank_reset(bench):
    station = Station(bench)
    to_tank_limit(station)
    reset = station.settings["tank_limit"] - station.settings["tank_limit_reset"]
    found = from_above(station, "tank_high", reset, lambda: station.duty == s.CHARGING, "charging")
    return *found, "tank_high when charging began again"


def measure_full_reset(bench):
    station = Station(bench)
    to_tank_full(station)
    reset = station.settings["tank_full_low"] - station.settings["tank_full_reset"]
    found = from_above(station, "tank_low", reset, lambda: station.duty == s.CHARGING, "charging")
    return *found, "tank_low when charging began again"


def measure_charge_reset(bench):
    station = Station.charging(bench)
    limit = station.settings["charge_limit"]
    reset = limit - station.settings["charge_limit_reset"]
    station.ramp("loop_supply", limit)
    station.until(lambda: station.duty == s.DUMPING, "dumping")
    station.ramp("collector", reset - 1000)
    found = from_above(station, "loop_supply", reset, lambda: station.duty == s.CHARGING, "charging")
    return *found, "loop_supply when charging began again"


def measure_margin(bench):
    station = Station.charging(bench)
    limit = min(station.settings["tank_limit"], station.settings["tank_full_low"]) - station.settings["stratification_margin"]
    for sensor in ("loop_supply", "collector"):
        station.ramp(sensor, limit + station.settings["start_difference"] + 2000)
    station.cause["tank_high"] = s.CAUSE_SILENT
    for _ in range(station.settings["tank_age"] // 5000 + 2):
        station.step()
    found = from_below(station, "tank_low", limit, lambda: station.duty != s.CHARGING, "the end of charging")
    return *found, "tank_low when charging ended, tank_high lost"


def measure_strapped(bench):
    bench.client.change_settings({cfg.TANK_MARGIN: STRAPPED_MK})
    try:
        station = Station(bench)
        return *to_tank_limit(station, STRAPPED_MK), "tank_high when charging ended, its sensors strapped on"
    finally:
        bench.restore_settings()


def measure_frost(bench):
    station = Station.settled(bench)
    station.plates_follow = False
    frost = station.settings["exchanger_frost"]
    found = from_above(station, "exchanger", frost, lambda: station.duty == s.FROST_GUARD, "frost_guard")
    return *found, "exchanger when frost_guard began"


CHECKS = (
    Check("tank-limit", "the top of the tank warms until charging ends", "C", 1, measure_tank_limit),
    Check("tank-full", "the bottom of the tank warms until charging ends", "C", 1, measure_tank_full),
    Check("charge-limit", "the arriving glycol warms until it is dumped", "C", 1, measure_charge_limit),
    Check("collector-limit", "the collector warms until its pump stops", "C", 1, measure_collector_limit),
    Check("collector-reset", "a stagnating collector cools until its pump may run again", "C", 1, measure_collector_reset),
    Check("dump-start", "the tank is full; the collector warms until dumping begins", "C", 1, measure_dump_start),
    Check("dump-stop", "the collector cools until dumping ends", "C", 1, measure_dump_stop),
    Check("tank-limit-reset", "a tank at its limit cools from the top until charging begins again", "C", 1, measure_tank_reset),
    Check("tank-full-reset", "a full tank cools from the bottom until charging begins again", "C", 1, measure_full_reset),
    Check("charge-limit-reset", "dumped glycol cools until charging begins again", "C", 1, measure_charge_reset),
    Check("stratification-margin", "tank_high is lost; the bottom of the tank warms until charging ends", "C", 1, measure_margin),
    Check("strapped-limit", "with sensors strapped on, the top of the tank warms until charging ends", "C", 1, measure_strapped),
    Check("frost-threshold", "the exchanger cools until the tank pump starts to warm it", "C", 1, measure_frost),
)
