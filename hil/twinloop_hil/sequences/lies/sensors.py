"""Sensors that are swapped, stuck, crossed, lost or absent."""

from ..common import BOTH_PUMPS, COLLECTOR_GONE, FLUSHED, LONG_CHARGING, MILD, OFF, ROUND, idle, sequence
from .glycol import GIVEN_UP, QUIET


# -- collector and tank_low ------------------------------------------------------------------------
def swap(name, changes, reason):
    """A sequence with collector and tank_low swapped; `changes` decide if that is recognised."""
    night = {"collector": 55000, "tank_low": 5000, "tank_high": 65000, "loop_supply": 20000, "outdoor": 5000, **changes}
    return sequence(
        name,
        [
            ["set", {**MILD, **night}],
            ["keep", 115000, OFF],
            ["becomes", 5000, 300000, {"duty": "charging", "collector_pump": 1}],
            ["keep", 170000, {"duty": "charging", "collector_pump": 1}],
            ["phase", "found within ten minutes of boot"],
            ["becomes", 5000, 15000, {**GIVEN_UP, "reason": reason}],
            ["keep", 1795000, {**GIVEN_UP, "reason": reason}],
            ["phase", "half an hour later tried again"],
            ["becomes", 5000, 5000, {"duty": "charging"}],
        ],
    )


SWAPPED = [
    swap("collector_and_tank_low_swapped", {}, "SENSORS_SWAPPED"),
    swap("swapped_as_far_from_the_air_as_may_be", {"outdoor": 13000}, "SENSORS_SWAPPED"),
    swap("tank_low_is_not_the_air", {"outdoor": 13001}, "GLYCOL_NOT_ARRIVING"),
    swap("collector_is_not_the_tank", {"tank_high": 65000, "collector": 39999}, "GLYCOL_NOT_ARRIVING"),
    swap("swapped_with_a_tank_as_warm_as_may_be", {"tank_high": 50000}, "SENSORS_SWAPPED"),
    swap("collector_is_hotter_than_the_tank", {"tank_high": 49999}, "GLYCOL_NOT_ARRIVING"),
    swap("swapped_with_a_cold_tank", {"tank_high": 65000, "collector": 40000}, "SENSORS_SWAPPED"),
]

# Without loop_supply, a round would end with a loop that the tank makes look warm. No tank is below
# 0 C: in frosty air tank_low is lost, and tank_high is hotter than the tank's low end.
SWAPPED_IN_FROST = sequence(
    "swapped_in_frost",
    [
        ["set", {**MILD, "collector": 50000, "tank_low": -1, "tank_high": 55000, "outdoor": -2000}],
        ["keep", 115000, {**OFF, "alarms": []}],
        ["phase", "no glycol is sent round"],
        ["keep", 600000, idle("NO_DIFFERENCE", alarms=["SENSOR"], alarm=1, TANK_LOW_STATUS="LOST")],
        ["phase", "a hair warmer: round"],
        ["set", {"tank_low": 0}],
        ["keep", 10000, OFF],
        ["becomes", 5000, 5000, {**ROUND, "TANK_LOW_STATUS": "GOOD"}],
    ],
    loop_supply_fitted=0,
)

# A dead pump in the sun: the collector has the tank's temperature by chance, then gets hotter.
WARMED = sequence(
    "a_collector_that_the_sun_warms_is_not_swapped",
    [
        *FLUSHED,
        ["set", {"collector": 40000, "loop_supply": 20000, "tank_high": 60000}],
        ["becomes", 5000, 240000, {"collector_pump": 1}],
        ["keep", 90000, {"duty": "charging"}],
        ["phase", "warmed by more than 1.5 K: no flow"],
        ["set", {"collector": 42000}],
        ["keep", 80000, {"duty": "charging"}],
        ["becomes", 5000, 15000, {**GIVEN_UP, "reason": "GLYCOL_NOT_ARRIVING"}],
    ],
)
# Tank sensors stand still: a collector that moves and comes back is none.
MOVED = sequence(
    "a_collector_that_moves_meanwhile_is_not_swapped",
    [
        *FLUSHED,
        ["set", {"collector": 40000, "loop_supply": 20000, "tank_high": 60000}],
        ["becomes", 5000, 240000, {"collector_pump": 1}],
        ["keep", 90000, {"duty": "charging"}],
        ["phase", "by more than 1.5 K, and back: no flow"],
        ["set", {"collector": 42000}],
        ["keep", 30000, {"duty": "charging"}],
        ["set", {"collector": 40000}],
        ["keep", 50000, {"duty": "charging"}],
        ["becomes", 5000, 15000, {**GIVEN_UP, "reason": "GLYCOL_NOT_ARRIVING"}],
    ],
)
# By day the collector disagreed with arriving glycol by 11 K, and the tank was heated all the same.
DISAGREES = sequence(
    "a_collector_that_disagrees_is_not_swapped",
    [
        *LONG_CHARGING,
        ["set", {"collector": 44000}],
        ["keep", 1800000, BOTH_PUMPS],
        ["set", {"collector": 15000, "loop_supply": 20000}],
        ["keep", 300000, {}],
        ["phase", "at night it looks like the tank: no flow"],
        ["set", {"collector": 40000, "tank_high": 60000}],
        ["becomes", 5000, 240000, {"collector_pump": 1}],
        ["keep", 170000, {"duty": "charging"}],
        ["becomes", 5000, 15000, {**GIVEN_UP, "reason": "GLYCOL_NOT_ARRIVING"}],
    ],
)
SWAP_UNSEEN = sequence(
    "nobody_sees_a_swap_without_the_air",
    [
        *FLUSHED,
        ["set", {"collector": 40000, "loop_supply": 20000, "tank_high": 60000}],
        ["becomes", 5000, 240000, {"collector_pump": 1}],
        ["keep", 170000, {"duty": "charging"}],
        ["phase", "no flow"],
        ["becomes", 5000, 15000, {**GIVEN_UP, "reason": "GLYCOL_NOT_ARRIVING"}],
    ],
    outdoor_fitted=0,
)

# -- sensors of the tank ---------------------------------------------------------------------------
FROZEN = sequence(
    "tank_high_stands_still",
    [
        *LONG_CHARGING,
        ["set", {"collector": 60000, "loop_supply": 55000, "loop_return": 35000}],
        ["phase", "heat passes and it does not move: a quarter of an hour of trust"],
        ["keep", 880000, {**BOTH_PUMPS, "TANK_HIGH_STATUS": "GOOD"}],
        ["phase", "longer: not trusted, and lost when its last value is too old"],
        ["becomes", 5000, 35000, {"TANK_HIGH_STATUS": "HELD"}],
        ["expect", {"TANK_HIGH_MC": 25000}],
        ["becomes", 60000, 65000, {**BOTH_PUMPS, "TANK_HIGH_STATUS": "LOST", "TANK_HOTTEST_MC": 40000}],
        ["keep", 125000, BOTH_PUMPS],
        ["expect", {"alarms": ["SENSOR"]}],
        ["phase", "it moves: trusted again"],
        ["set", {"tank_high": 25063}],
        ["keep", 10000, {"TANK_HIGH_STATUS": "LOST"}],
        ["becomes", 5000, 5000, {"TANK_HIGH_STATUS": "GOOD", "TANK_HOTTEST_MC": 25063}],
    ],
)
FLICKERS = sequence(
    "tank_high_that_flickers_is_alive",
    [
        *LONG_CHARGING,
        ["set", {"collector": 60000, "loop_supply": 55000, "loop_return": 35000}],
        ["phase", "one step of its chip, now and then"],
        *[
            line
            for value in (25000, 25063, 25000, 25063)
            for line in (["set", {"tank_high": value}], ["keep", 600000, {**BOTH_PUMPS, "TANK_HIGH_STATUS": "GOOD"}])
        ],
        ["phase", "no heat passes: it may stand still"],
        ["set", {"collector": 39000, "loop_supply": 32000, "loop_return": 24800}],
        ["keep", 7200000, {"TANK_HIGH_STATUS": "GOOD"}],
    ],
)
CROSSED = sequence(
    "crossed_tank_sensors",
    [
        *FLUSHED,
        ["phase", "colder on top by less than 5 K: noise of a mixed tank"],
        ["ramp", "tank_high", 20000, 1000, OFF],
        ["ramp", "tank_low", 24999, 1000, OFF],
        ["keep", 60000, {**QUIET, "TANK_HOTTEST_MC": 24999}],
        ["phase", "by 5 K: the margin counts, and somebody has to look"],
        ["set", {"tank_low": 25000}],
        ["becomes", 5000, 5000, {**OFF, "alarms": ["TANK_CROSSED"], "alarm": 1, "TANK_HOTTEST_MC": 45000}],
        ["phase", "over the limit with the margin"],
        ["ramp", "tank_low", 54499, 1000, {"TANK_OVER": 0}],
        ["set", {"tank_low": 54500}],
        ["becomes", 5000, 5000, {"TANK_OVER": 1, "TANK_FULL": 1}],
        ["keep", 60000, {}],
        ["phase", "break the top: one alone is not crossed"],
        ["break", "tank_high", "CAUSE_CRC"],
        ["keep", 60000, {"alarms": ["TANK_CROSSED"]}],
        ["becomes", 5000, 5000, {"alarms": [], "TANK_HOTTEST_MC": 74500}],
        ["phase", "restore, in order: the margin stays for a quarter of an hour"],
        ["set", {"tank_high": 56000}],
        ["keep", 800000, {"alarms": [], "TANK_HOTTEST_MC": 74500}],
        ["phase", "and no longer"],
        ["becomes", 5000, 100000, {"alarms": [], "TANK_HOTTEST_MC": 56000}],
    ],
)
# At rest it is as warm as the room, and in charging hotter than tank_low.
IN_THE_LOOP = sequence(
    "tank_high_exchanged_with_a_pipe",
    [
        *FLUSHED,
        ["phase", "colder than the bottom for two minutes"],
        ["set", {"tank_low": 40000}],
        ["becomes", 5000, 15000, {**OFF, "alarms": ["TANK_CROSSED"]}],
        ["keep", 130000, {**OFF, "TANK_HOTTEST_MC": 60000}],
        ["phase", "hotter in charging: the margin stays"],
        ["set", {"collector": 60000}],
        ["becomes", 5000, 200000, {"collector_pump": 1}],
        ["set", {"loop_supply": 58000, "loop_return": 50000, "exchanger": 50000}],
        ["becomes", 5000, 200000, BOTH_PUMPS],
        ["ramp", "tank_high", 50000, 1000, BOTH_PUMPS],
        ["keep", 2000000, {**BOTH_PUMPS, "TANK_HOTTEST_MC": 60000}],
    ],
)

# -- any sensor ------------------------------------------------------------------------------------
# Stuck 25 K above the air, the sensor may hide hotter glycol. source: docs/sensors.md
STILL = sequence(
    "collector_stands_still_in_the_sun",
    [
        *FLUSHED,
        ["ramp", "tank_high", 45000, 1000, OFF],
        ["ramp", "tank_low", 40000, 1000, OFF],
        ["stick", "collector"],
        ["phase", "hardly warmer than the air: believed however long"],
        ["set", {"collector": 39999}],
        ["keep", 15000, OFF],
        ["keep", 7200000, idle("NO_DIFFERENCE", alarms=[])],
        ["phase", "in the sun for less than an hour: believed"],
        ["set", {"collector": 40000}],
        ["keep", 3600000, idle("NO_DIFFERENCE", COLLECTOR_STATUS="GOOD")],
        ["phase", "an hour: held, then lost"],
        ["becomes", 5000, 5000, idle("NO_DIFFERENCE", COLLECTOR_STATUS="HELD")],
        ["becomes", 15000, 15000, COLLECTOR_GONE],
        ["keep", 600000, COLLECTOR_GONE],
        ["phase", "one step of its chip: it lives"],
        ["set", {"collector": 40031}],
        ["becomes", 15000, 15000, idle("NO_DIFFERENCE", COLLECTOR_STATUS="GOOD")],
    ],
)
# In half a day every collector moves, by sun or night. source: docs/sensors.md
STILL_COLD = sequence(
    "collector_stands_still_for_half_a_day",
    [
        *FLUSHED,
        ["stick", "collector"],
        ["step_ms", 60000],
        ["phase", "by day and night, for less than half a day: believed"],
        ["set", {"collector": 14000}],
        ["keep", 43200000, idle("COLLECTOR_COOL", COLLECTOR_STATUS="GOOD")],
        ["phase", "half a day: lost"],
        ["becomes", 60000, 60000, COLLECTOR_GONE],
        ["keep", 600000, {**COLLECTOR_GONE, "CAUSE": "CAUSE_FROZEN"}],
        ["phase", "one step of its chip: it lives"],
        ["set", {"collector": 14031}],
        ["becomes", 60000, 180000, idle("COLLECTOR_COOL", COLLECTOR_STATUS="GOOD")],
    ],
)
# What is warmer than any room has to cool.
STILL_WARM = sequence(
    "a_warm_tank_sensor_stands_still_for_half_a_day",
    [
        *FLUSHED,
        ["step_ms", 60000],
        ["phase", "no warmer than a room can be: believed"],
        ["set", {"tank_low": 34999, "tank_high": 45000, "loop_supply": 21000}],
        ["swing", "tank_high", 45000, 45062, 43260000, {"TANK_LOW_STATUS": "GOOD"}],
        ["phase", "warmer, for less than half a day: believed"],
        ["set", {"tank_low": 35000}],
        ["swing", "tank_high", 45000, 45062, 43200000, {"TANK_LOW_STATUS": "GOOD"}],
        ["phase", "half a day: lost, and tank_high takes its place"],
        ["becomes", 60000, 240000, {"TANK_LOW_STATUS": "LOST", "TANK_REFERENCE_MC": 45062, "alarms": ["SENSOR"]}],
    ],
)
# So has what is far warmer than the station.
STILL_WARMER = sequence(
    "a_tank_sensor_far_warmer_than_the_station_stands_still",
    [
        *FLUSHED,
        ["step_ms", 60000],
        ["phase", "by less than 15 K: believed"],
        ["set", {"tank_low": 28999, "tank_high": 45000, "loop_supply": 14000}],
        ["swing", "tank_high", 45000, 45062, 43260000, {"TANK_LOW_STATUS": "GOOD"}],
        ["phase", "by 15 K, for less than half a day: believed"],
        ["set", {"tank_low": 29000}],
        ["swing", "tank_high", 45000, 45062, 43200000, {"TANK_LOW_STATUS": "GOOD"}],
        ["phase", "half a day: lost"],
        ["becomes", 60000, 240000, {"TANK_LOW_STATUS": "LOST", "alarms": ["SENSOR"]}],
        ["phase", "glycol that has moved may be colder than the room: believed"],
        ["step_ms", 5000],
        ["set", {"collector": 15031}],
        ["keep", 60000, {}],
        ["hand", {"collector_pump": 1}],
        ["keep", 60000, {"collector_pump": 1}],
        ["hand", {}],
        ["keep", 5000, OFF],
        ["step_ms", 60000],
        ["becomes", 60000, 300000, {"TANK_LOW_STATUS": "GOOD"}],
        ["keep", 2580000, {"TANK_LOW_STATUS": "GOOD"}],
        ["phase", "for less than an hour: lost"],
        ["becomes", 60000, 600000, {"TANK_LOW_STATUS": "LOST"}],
        ["phase", "without loop_supply nobody knows the room: believed"],
        ["break", "loop_supply", "CAUSE_CRC"],
        ["becomes", 60000, 300000, {"TANK_LOW_STATUS": "GOOD"}],
    ],
)
LOST = sequence(
    "lost_sensor_alarm",
    [
        *FLUSHED,
        ["phase", "held, then lost for less than two minutes"],
        ["break", "tap", "CAUSE_OPEN"],
        ["keep", 60000, {**QUIET, "TAP_STATUS": "HELD"}],
        ["keep", 115000, {**QUIET, "TAP_STATUS": "LOST"}],
        ["phase", "for two minutes: alarm"],
        ["becomes", 5000, 5000, {**OFF, "alarms": ["SENSOR"], "alarm": 1}],
        ["phase", "another one is lost as well, the first comes back"],
        ["break", "loop_return", "CAUSE_OPEN"],
        ["keep", 65000, {"alarms": ["SENSOR"]}],
        ["restore", "tap"],
        ["keep", 60000, {"alarms": ["SENSOR"]}],
        ["phase", "restore: over"],
        ["restore", "loop_return"],
        ["becomes", 15000, 15000, QUIET],
    ],
)
ABSENT = sequence(
    "an_absent_sensor_is_not_lost",
    [
        *FLUSHED,
        ["phase", "not fitted: no alarm"],
        ["break", "tap", "CAUSE_OPEN"],
        ["keep", 600000, {**QUIET, "TAP_STATUS": "ABSENT"}],
    ],
    tap_fitted=0,
)
