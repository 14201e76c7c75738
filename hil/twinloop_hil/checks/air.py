"""The air heater's fan: its differences, and a lost sensor. The board has one for the check."""

from contextlib import contextmanager

from twinloop.control import air
from twinloop.control import settings as cfg
from twinloop.control import state as s

from .frame import FINE_MC, STEP_MS, Check, Station

# Colder than any summer.
OUTDOOR_MC = 4000
REST_STEP_MS = 60000


@contextmanager
def with_air_heater(bench):
    """A station at rest, with an air heater beside it, on the board's own settings otherwise."""
    values = list(bench.values)
    values[cfg.AIR_HEATER] = 1
    bench.client.hold_settings(values)
    try:
        station = Station(bench)
        # Neither too warm nor so cold that less will do.
        room = max(station.settings["room_minimum"], station.settings["room_maximum"] - 5000)
        station.mc.update(air_collector=room, room=room, outdoor=OUTDOOR_MC)
        for _ in range(air.FAN_REST_MS // REST_STEP_MS):
            station.step(REST_STEP_MS)
        yield station
    finally:
        bench.client.hold_settings(bench.values)


def fan_starts(station) -> int:
    """Warm the air collector until the fan starts; returns how far it is above the room."""
    return station.ramp_until("air_collector", FINE_MC, lambda: station.on(s.AIR_FAN), "the fan") - station.mc["room"]


def measure_start(bench):
    with with_air_heater(bench) as station:
        start = station.settings["air_start_difference"]
        detail = f"air_collector above room at {station.mc['room'] / 1000.0:g} C when the fan started"
        return fan_starts(station) / 1000.0, start / 1000.0, (start + FINE_MC) / 1000.0, detail


def measure_run_on(bench):
    with with_air_heater(bench) as station:
        fan_starts(station)
        station.ramp("air_collector", station.mc["room"] + station.settings["air_stop_difference"], FINE_MC)
        passed = station.until(lambda: not station.on(s.AIR_FAN), "the fan's rest")
        run_on = station.settings["air_run_on"]
        return passed / 1000.0, (run_on - STEP_MS) / 1000.0, (run_on + STEP_MS) / 1000.0, "from the stop difference to its rest"


def measure_lost(bench):
    with with_air_heater(bench) as station:
        fan_starts(station)
        station.cause["room"] = s.CAUSE_OPEN
        passed = station.until(lambda: not station.on(s.AIR_FAN), "the fan's rest")
        age_s = station.settings["tank_age"] / 1000.0
        return passed / 1000.0, age_s, age_s + 2 * STEP_MS / 1000.0, "from the broken wire of room to the fan's rest"


CHECKS = (
    Check("fan-difference", "the air collector warms by 0.1 K per step until the fan starts", "K", 1, measure_start),
    Check("fan-run-on", "the air collector cools to its stop difference until the fan rests", "s", 1, measure_run_on),
    Check("fan-lost-room", "the room's sensor is lost while the fan runs", "s", 1, measure_lost),
)
