"""Limits and their resets, found by slow ramps of injected readings."""

from __future__ import annotations

from twinloop.control import settings as cfg
from twinloop.control import state as s

from .frame import FINE_MC, Check, Station, kelvin


def rising(at: int, limit: int):
    """Measured and allowed for a limit that acts at or above its setting."""
    return kelvin(at), kelvin(limit), kelvin(limit + FINE_MC)


def falling(at: int, limit: int):
    """Measured and allowed for a threshold that acts at or below its setting."""
    return kelvin(at), kelvin(limit - FINE_MC), kelvin(limit)


def measure_tank_limit(bench):
    """Charging; the top of the tank warms until charging ends."""
    station = Station(bench)
    limit = station.settings["tank_limit"]
    return *rising(to_tank_limit(station, limit), limit), "tank_high when charging ended"


def to_tank_full(station: Station) -> int:
    """Charging; the bottom of the tank warms, the collector with it, until charging ends. Returns where it did."""
    station.settle()
    station.charge()
    full = station.settings["tank_full_low"]
    station.ramp("tank_high", min(full + 2000, station.settings["tank_limit"] - 500))
    for sensor in ("loop_supply", "collector"):
        # Warm enough to go on charging up to the last step, cool enough not to be dumped first.
        station.ramp(sensor, full + station.settings["start_difference"] + 2000)
    station.ramp("tank_low", full - 1000)
    return station.ramp_until("tank_low", FINE_MC, lambda: station.duty != s.CHARGING, "the end of charging")


def measure_tank_full(bench):
    """Charging; the bottom of the tank warms until charging ends."""
    station = Station(bench)
    return *rising(to_tank_full(station), station.settings["tank_full_low"]), "tank_low when charging ended"


def measure_collector_limit(bench):
    """Dumping from a full tank; the collector warms until the pump stops."""
    station = Station(bench)
    station.settle()
    station.fill_tank()
    station.ramp("collector", station.settings["dump_collector_start"])
    station.until(station.pumping, "dumping")
    limit = station.settings["collector_limit"]
    station.ramp("collector", limit - 1000)
    at = station.ramp_until("collector", FINE_MC, lambda: not station.pumping(), "the collector pump to stop")
    return *rising(at, limit), "collector when its pump stopped"


def measure_collector_reset(bench):
    """Above its limit the collector cools until a pump may run again."""
    station = Station(bench)
    station.settle()
    station.fill_tank()
    station.ramp("collector", station.settings["collector_limit"])
    reset = station.settings["collector_reset"]
    station.ramp("collector", reset + 1000)
    at = station.ramp_until("collector", -FINE_MC, lambda: station.duty != s.STAGNATION_HOLD, "the end of stagnation_hold")
    return *falling(at, reset), "collector when stagnation_hold ended"


def measure_dump_start(bench):
    """A full tank; the collector warms until dumping begins."""
    station = Station(bench)
    station.settle()
    station.fill_tank()
    start = station.settings["dump_collector_start"]
    at = station.ramp_until("collector", FINE_MC, lambda: station.duty == s.DUMPING and station.pumping(), "dumping")
    return *rising(at, start), "collector when dumping began"


def measure_dump_stop(bench):
    """Dumping; the collector cools until it ends."""
    station = Station(bench)
    station.settle()
    station.fill_tank()
    station.ramp("collector", station.settings["dump_collector_start"])
    station.until(station.pumping, "dumping")
    for _ in range(station.settings["minimum_run"] // 5000 + 1):
        station.step()
    stop = station.settings["dump_collector_stop"]
    station.ramp("collector", stop + 1000)
    at = station.ramp_until("collector", -FINE_MC, lambda: not station.pumping(), "the end of dumping")
    return *falling(at, stop), "collector when dumping ended"


def measure_charge_limit(bench):
    """Charging; the glycol that arrives warms until it is dumped first."""
    station = Station.charging(bench)
    limit = station.settings["charge_limit"]
    station.ramp("loop_supply", limit - 1000)
    station.ramp("collector", limit - 2000)
    at = station.ramp_until("loop_supply", FINE_MC, lambda: station.duty == s.DUMPING, "dumping")
    return *rising(at, limit), "loop_supply when the glycol was sent to the radiator"


def to_tank_limit(station: Station, limit: int) -> int:
    """Charging; the top of the tank warms until charging ends. Returns where it did."""
    station.settle()
    station.charge()
    station.ramp("tank_high", limit - 1000)
    return station.ramp_until("tank_high", FINE_MC, lambda: station.duty != s.CHARGING, "the end of charging")


def measure_tank_reset(bench):
    """A tank at its limit cools from the top until charging begins again."""
    station = Station(bench)
    to_tank_limit(station, station.settings["tank_limit"])
    reset = station.settings["tank_limit"] - station.settings["tank_limit_reset"]
    station.ramp("tank_high", reset + 1000)
    at = station.ramp_until("tank_high", -FINE_MC, lambda: station.duty == s.CHARGING, "charging")
    return *falling(at, reset), "tank_high when charging began again"


def measure_full_reset(bench):
    """A full tank cools from the bottom until charging begins again."""
    station = Station(bench)
    to_tank_full(station)
    reset = station.settings["tank_full_low"] - station.settings["tank_full_reset"]
    station.ramp("tank_low", reset + 1000)
    at = station.ramp_until("tank_low", -FINE_MC, lambda: station.duty == s.CHARGING, "charging")
    return *falling(at, reset), "tank_low when charging began again"


def measure_charge_reset(bench):
    """Glycol that is dumped first cools until it is charged with again."""
    station = Station.charging(bench)
    limit = station.settings["charge_limit"]
    reset = limit - station.settings["charge_limit_reset"]
    station.ramp("loop_supply", limit)
    station.until(lambda: station.duty == s.DUMPING, "dumping")
    station.ramp("collector", reset - 1000)
    station.ramp("loop_supply", reset + 1000)
    at = station.ramp_until("loop_supply", -FINE_MC, lambda: station.duty == s.CHARGING, "charging")
    return *falling(at, reset), "loop_supply when charging began again"


def measure_margin(bench):
    """tank_high is lost; the bottom of the tank warms until charging ends, the margin below where the tank is full."""
    station = Station.charging(bench)
    limit = min(station.settings["tank_limit"], station.settings["tank_full_low"]) - station.settings["stratification_margin"]
    for sensor in ("loop_supply", "collector"):
        station.ramp(sensor, limit + station.settings["start_difference"] + 2000)
    station.cause["tank_high"] = s.CAUSE_SILENT
    for _ in range(station.settings["tank_age"] // 5000 + 2):
        station.step()
    station.ramp("tank_low", limit - 1000)
    at = station.ramp_until("tank_low", FINE_MC, lambda: station.duty != s.CHARGING, "the end of charging")
    return *rising(at, limit), "tank_low when charging ended, tank_high lost"


def measure_away(bench):
    """Nobody draws water: the top of the tank warms until charging ends, at the lower limit."""
    bench.client.change_settings({cfg.AWAY: 1})
    try:
        station = Station(bench)
        limit = station.settings["away_limit"]
        return *rising(to_tank_limit(station, limit), limit), "tank_high when charging ended, away"
    finally:
        bench.restore_settings()


def measure_frost(bench):
    """Pumps off; the plates of the exchanger cool until the tank pump is told to warm them."""
    station = Station(bench)
    station.settle()
    station.plates_follow = False
    frost = station.settings["exchanger_frost"]
    station.ramp("exchanger", frost + 1000)
    at = station.ramp_until("exchanger", -FINE_MC, lambda: station.duty == s.FROST_GUARD, "frost_guard")
    return *falling(at, frost), "exchanger when frost_guard began"


CHECKS = (
    Check("tank-limit", "the top of the tank warms until charging ends", "C", 1, measure_tank_limit),
    Check("tank-full", "the bottom of the tank warms until charging ends", "C", 1, measure_tank_full),
    Check("charge-limit", "the arriving glycol warms until it is dumped first", "C", 1, measure_charge_limit),
    Check("collector-limit", "the collector warms until its pump stops", "C", 1, measure_collector_limit),
    Check("collector-reset", "a stagnating collector cools until a pump may run again", "C", 1, measure_collector_reset),
    Check("dump-start", "tank full, the collector warms until dumping begins", "C", 1, measure_dump_start),
    Check("dump-stop", "dumping, the collector cools until it ends", "C", 1, measure_dump_stop),
    Check("tank-limit-reset", "a tank at its limit cools from the top until charging begins again", "C", 1, measure_tank_reset),
    Check("tank-full-reset", "a full tank cools from the bottom until charging begins again", "C", 1, measure_full_reset),
    Check("charge-limit-reset", "glycol that is dumped first cools until it is charged with", "C", 1, measure_charge_reset),
    Check("stratification-margin", "tank_high lost, the bottom of the tank warms until charging ends", "C", 1, measure_margin),
    Check("away-limit", "away, the top of the tank warms until charging ends", "C", 1, measure_away),
    Check("frost-threshold", "the plates of the exchanger cool until the tank pump warms them", "C", 1, measure_frost),
)
