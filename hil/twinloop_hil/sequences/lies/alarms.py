"""Alarms of taps, exchanger and board."""

from ..common import BOTH_PUMPS, DARK, FLUSHED, LONG_CHARGING, MILD, OFF, SUN, sequence
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
# A tank pump that does not turn leaves the plates nearly as hot as the glycol.
FOULED_PLATES = sequence(
    "poor_plates_seen_by_their_own_sensor",
    [
        *LONG_CHARGING,
        ["set", {"exchanger": 31000}],
        ["phase", "for less than two hours"],
        ["keep", 7200000, {**BOTH_PUMPS, "alarms": []}],
        ["phase", "for two hours: alarm"],
        ["becomes", 5000, 300000, {**BOTH_PUMPS, "alarms": ["FOULED"], "alarm": 1}],
    ],
    loop_return_fitted=0,
)
# Glycol that leaves colder than the tank, or enters hardly warmer, has been through the radiator.
# Five minutes are over, and the tank has 20 C.
STEADY = [
    ["set", {**MILD, "collector": 20000, "outdoor": 20000}],
    ["keep", 15000, OFF],
    *LONG_CHARGING,
    ["set", {"tank_high": 30000}],
    ["keep", 300000, BOTH_PUMPS],
]
FOULED_SOON = {**BOTH_PUMPS, "alarms": ["FOULED"], "alarm": 1, "FOUL_S": 7200}
COOLED = sequence(
    "glycol_leaves_colder_than_the_tank",
    [
        *STEADY,
        ["phase", "by the error of two sensors: no alarm"],
        ["set", {"loop_return": 18000}],
        ["keep", 2400000, {**BOTH_PUMPS, "alarms": []}],
        ["phase", "by more, for less than half an hour"],
        ["set", {"loop_return": 17999}],
        ["keep", 1785000, {**BOTH_PUMPS, "alarms": []}],
        ["phase", "an open tap is soon closed: it starts again"],
        ["set", {"loop_return": 18000}],
        ["keep", 10000, {**BOTH_PUMPS, "alarms": []}],
        ["set", {"loop_return": 17999}],
        ["keep", 1785000, {**BOTH_PUMPS, "alarms": []}],
        ["phase", "for half an hour: alarm"],
        ["becomes", 5000, 20000, FOULED_SOON],
    ],
)
COOLED_IN_SERIES = sequence(
    "plates_hardly_warmer_than_the_tank_in_series",
    [
        *STEADY,
        ["phase", "a quarter of the way to the glycol: no alarm"],
        ["set", {"collector": 35000, "loop_supply": 28000, "loop_return": 22000, "exchanger": 22000}],
        ["keep", 3600000, {**BOTH_PUMPS, "alarms": []}],
        ["phase", "less, for less than half an hour"],
        ["set", {"exchanger": 21999}],
        ["keep", 1785000, {**BOTH_PUMPS, "alarms": []}],
        ["phase", "for half an hour: alarm"],
        ["becomes", 5000, 15000, FOULED_SOON],
    ],
    dump_topology=1,
)
# Without loop_return the plates tell there as well: as hot as the glycol, they pass no heat on.
HOT_PLATES = sequence(
    "plates_as_hot_as_the_glycol_in_series",
    [
        *STEADY,
        ["set", {"collector": 60000, "loop_supply": 60000, "tank_high": 60000, "exchanger": 59800}],
        ["phase", "40 K above the tank, for less than a fifth of two hours"],
        ["keep", 1400000, {**BOTH_PUMPS, "alarms": []}],
        ["phase", "longer: alarm"],
        ["becomes", 5000, 400000, FOULED_SOON],
    ],
    dump_topology=1,
    loop_return_fitted=0,
)
# Ahead of frosty glycol a tank pump has to bring the plates to the tank's temperature.
WATER_STANDS = sequence(
    "a_tank_pump_that_moves_no_water",
    [
        ["set", {**MILD, "outdoor": 10000, "tank_low": 23000, "tank_high": 25000, "exchanger": 20000}],
        ["keep", 15000, OFF],
        ["ramp", "outdoor", 0, 1000, OFF],
        ["keep", 130000, OFF],
        ["ramp", "collector", 70000, 5000, {"collector_pump": 0}],
        ["becomes", 0, 5000, {"duty": "charging", "tank_pump": 1}],
        ["phase", "for less than twenty minutes"],
        ["keep", 1140000, {"collector_pump": 0, "tank_pump": 1, "alarms": []}],
        ["phase", "for twenty minutes: alarm"],
        ["becomes", 5000, 65000, {"collector_pump": 0, "tank_pump": 1, "alarms": ["FOULED"], "alarm": 1}],
        ["phase", "the plates get warmer: over, and a pulse"],
        ["set", {"exchanger": 21500}],
        ["becomes", 5000, 5000, {"collector_pump": 1, "tank_pump": 1, "alarms": []}],
    ],
    dump_topology=2,
)
# Water that circulates by itself keeps the plates as warm as the tank all night.
WATER_MOVES = sequence(
    "plates_that_stay_as_warm_as_the_tank",
    [
        *FLUSHED,
        ["step_ms", 60000],
        ["set", {"tank_low": 60000, "tank_high": 65000, "exchanger": 60000}],
        ["phase", "at rest for less than eight hours: still warm from the day"],
        ["keep", 28500000, QUIET],
        ["phase", "for eight hours: alarm"],
        ["becomes", 60000, 600000, {**OFF, "alarms": ["UNBIDDEN_FLOW"], "alarm": 1}],
        ["phase", "colder than the tank by more than 3 K: over"],
        ["set", {"exchanger": 56999}],
        ["becomes", 60000, 60000, QUIET],
        ["phase", "by 3 K: alarm"],
        ["set", {"exchanger": 57000}],
        ["becomes", 60000, 60000, {"alarms": ["UNBIDDEN_FLOW"]}],
        ["phase", "no warmer than a room can be: none"],
        ["set", {"tank_low": 30000, "exchanger": 34999}],
        ["becomes", 60000, 60000, QUIET],
        ["phase", "warmer: alarm"],
        ["set", {"exchanger": 35000}],
        ["becomes", 60000, 60000, {"alarms": ["UNBIDDEN_FLOW"]}],
        ["phase", "break the sensor: it says nothing"],
        ["break", "exchanger", "CAUSE_OPEN"],
        ["keep", 60000, {"alarms": ["UNBIDDEN_FLOW"]}],
        ["becomes", 60000, 60000, QUIET],
    ],
)

COOL_WATER_MOVES = sequence(
    "plates_that_stay_warmer_than_the_glycol_beside_them",
    [
        *FLUSHED,
        ["step_ms", 60000],
        ["set", {"tank_low": 28900, "tank_high": 33000, "exchanger": 26000, "loop_supply": 20000}],
        ["phase", "at rest for less than twelve hours: still warm from the day"],
        ["keep", 30000000, QUIET],
        ["set", {"collector": 14900}],
        ["keep", 12900000, QUIET],
        ["phase", "for twelve hours: alarm"],
        ["becomes", 60000, 600000, {**OFF, "alarms": ["UNBIDDEN_FLOW"], "alarm": 1}],
        ["phase", "by less than 6 K: none"],
        ["set", {"exchanger": 25999}],
        ["becomes", 60000, 60000, QUIET],
        ["phase", "by 6 K: alarm"],
        ["set", {"exchanger": 26000}],
        ["becomes", 60000, 60000, {"alarms": ["UNBIDDEN_FLOW"]}],
        ["phase", "colder than the tank by more than 3 K: over"],
        ["set", {"tank_low": 29001}],
        ["becomes", 60000, 60000, QUIET],
    ],
)

# Air near the glycol's freezing point keeps the pump off, in the sun as well.
STIFF = sequence(
    "stiff_glycol_in_the_sun",
    [
        *LONG_CHARGING,
        ["ramp", "outdoor", -10000, 1000, {}],
        ["set", DARK],
        ["ramp", "outdoor", -20000, 1000, {}],
        ["phase", "at night: no alarm"],
        ["keep", 600000, {"reason": "GLYCOL_STIFF", "alarms": []}],
        ["phase", "in the sun: alarm"],
        ["set", SUN],
        ["becomes", 5000, 15000, {**OFF, "reason": "GLYCOL_STIFF", "alarms": ["STIFF"], "alarm": 1}],
        ["phase", "milder: over"],
        ["ramp", "outdoor", -10000, 1000, {}],
        ["becomes", 0, 5000, {"alarms": []}],
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
        ["phase", "a flash that refuses: alarm, and work goes on"],
        ["memory_bad", 1],
        ["becomes", 5000, 5000, {**BOTH_PUMPS, "alarms": ["MEMORY"], "alarm": 1}],
        ["keep", 60000, BOTH_PUMPS],
        ["memory_bad", 0],
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
