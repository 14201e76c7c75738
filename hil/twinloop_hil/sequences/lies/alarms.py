"""Alarms of taps, exchanger and board."""

from ..common import BOTH_PUMPS, DARK, FLUSHED, LONG_CHARGING, OFF, SUN, sequence
from .glycol import QUIET

SCALD = sequence(
    "scald",
    [
        *FLUSHED,
        ["phase", "as hot as a mixing valve may let through"],
        ["ramp", "tap", 51999, 5000, QUIET],
        ["keep", 600000, QUIET],
        ["phase", "hotter, for less than a minute"],
        ["set", {"tap": 52000}],
        ["keep", 55000, QUIET],
        ["set", {"tap": 51999}],
        ["keep", 5000, QUIET],
        ["set", {"tap": 52000}],
        ["keep", 55000, QUIET],
        ["phase", "for a minute: alarm"],
        ["becomes", 5000, 5000, {**OFF, "alarms": ["SCALD"], "alarm": 1}],
        ["keep", 600000, {"alarms": ["SCALD"]}],
        ["phase", "cooler: over"],
        ["set", {"tap": 51999}],
        ["becomes", 5000, 5000, QUIET],
        ["phase", "break the sensor: it says nothing"],
        ["set", {"tap": 60000}],
        ["keep", 5000, QUIET],
        ["break", "tap", "CAUSE_CRC"],
        ["keep", 50000, QUIET],
        ["becomes", 5000, 5000, {"alarms": ["SCALD"], "TAP_STATUS": "HELD"}],
        ["becomes", 5000, 10000, QUIET],
        ["phase", "restore"],
        ["restore", "tap"],
        ["becomes", 65000, 75000, {"alarms": ["SCALD"]}],
    ],
)

# Glycol arrives 12 K above the tank; a clean exchanger extracts 60 per cent of that.
FOULED = sequence(
    "fouled_exchanger",
    [
        *LONG_CHARGING,
        ["phase", "clean, no alarm"],
        ["keep", 7800000, {**BOTH_PUMPS, "alarms": [], "FOUL_S": 0}],
        ["phase", "poor, for less than two hours"],
        ["set", {"loop_return": 28401}],
        ["keep", 12000000, {**BOTH_PUMPS, "alarms": []}],
        ["phase", "for two hours: alarm"],
        ["becomes", 5000, 6000000, {**BOTH_PUMPS, "alarms": ["FOULED"], "alarm": 1, "FOUL_S": 7200}],
        ["phase", "rest does not clean it"],
        ["set", DARK],
        ["keep", 600000, {"alarms": ["FOULED"]}],
        ["phase", "clean again: over"],
        ["set", SUN],
        ["becomes", 5000, 300000, BOTH_PUMPS],
        ["becomes", 300000, 12000000, {**BOTH_PUMPS, "alarms": []}],
    ],
)

ALARMS = sequence(
    "alarms_of_the_board",
    [
        *LONG_CHARGING,
        ["phase", "defaults in place of lost settings: alarm, and work goes on"],
        ["settings_lost", 1],
        ["becomes", 5000, 5000, {**BOTH_PUMPS, "alarms": ["SETTINGS"], "alarm": 1}],
        ["keep", 60000, BOTH_PUMPS],
        ["settings_lost", 0],
        ["becomes", 5000, 5000, {**BOTH_PUMPS, "alarms": [], "alarm": 0}],
        ["phase", "two resets: none; three: alarm"],
        ["resets", 2],
        ["keep", 10000, {"alarms": []}],
        ["resets", 3],
        ["keep", 10000, {**OFF, "alarms": ["RESETS"], "alarm": 1}],
        ["resets", 0],
        ["keep", 10000, {"alarms": []}],
        ["phase", "steam: alarm"],
        ["ramp", "collector", 119999, 5000, {"alarms": []}],
        ["set", {"collector": 120000}],
        ["becomes", 5000, 5000, {"alarms": ["STEAM"], "alarm": 1}],
        ["phase", "two alarms at once"],
        ["settings_lost", 1],
        ["keep", 10000, {"alarms": ["STEAM", "SETTINGS"], "alarm": 1}],
        ["settings_lost", 0],
        ["phase", "not for an unknown collector: that is the sensor's alarm"],
        ["break", "collector", "CAUSE_OPEN"],
        ["becomes", 20000, 20000, {"alarms": []}],
        ["becomes", 115000, 120000, {"alarms": ["SENSOR"]}],
    ],
)

SEQUENCES = [SCALD, FOULED, ALARMS]
