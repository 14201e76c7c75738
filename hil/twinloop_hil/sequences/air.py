"""The fan of the solar air heater: its difference, the room, summer, sensors, hands and its turn.

The water side of the station is idle on a mild morning unless a sequence says otherwise.
"""

from .common import AWAKE, BOTH_PUMPS, FLUSHED, LONG_CHARGING, MILD, OFF, idle, sequence

COOL = {"air_collector": 15000, "room": 15000}
WARM = {"air_collector": 25000}
FAN = {"air_fan": 1, "air": "AIR_WARM"}
NO_FAN = {"air_fan": 0}
READY = [["set", {**MILD, **COOL}], ["keep", 600000, NO_FAN], ["expect", {"air": "AIR_COOL"}]]
BLOWING = [*READY, ["set", WARM], ["becomes", 5000, 5000, FAN], ["keep", 60000, FAN]]


def air_sequence(name, script, **settings):
    """A sequence of a station with an air heater; the mean of a day begins in spring."""
    return sequence(name, script, air_heater=1, **settings)


DIFFERENCE = air_sequence(
    "air_difference",
    [
        *READY,
        ["phase", "not warm enough"],
        ["ramp", "air_collector", 24999, 1000, NO_FAN],
        ["keep", 60000, NO_FAN],
        ["phase", "warmer by the start difference, on"],
        ["set", {"air_collector": 25000}],
        ["becomes", 5000, 5000, FAN],
        ["phase", "between, stays on"],
        ["ramp", "air_collector", 19001, 1000, FAN],
        ["keep", 300000, FAN],
        ["phase", "spent: the last heat, and off"],
        ["set", {"air_collector": 19000}],
        ["becomes", 5000, 5000, {"air_fan": 1, "air": "AIR_LAST"}],
        ["keep", 110000, {"air_fan": 1, "air": "AIR_LAST"}],
        ["becomes", 5000, 5000, {"air_fan": 0, "air": "AIR_COOL"}],
        ["phase", "off again: on only from the start difference"],
        ["keep", 600000, NO_FAN],
        ["ramp", "air_collector", 24999, 1000, NO_FAN],
        ["set", {"air_collector": 25000}],
        ["becomes", 5000, 5000, FAN],
        ["phase", "colder than the room: no last heat"],
        ["ramp", "air_collector", 19001, 1000, FAN],
        ["jump", {"air_collector": 14000}],
        ["becomes", 5000, 15000, {"air_fan": 0, "air": "AIR_COOL"}],
        ["expect", idle("COLLECTOR_COOL")],
    ],
)

# The room warms by a kelvin in 17 minutes, so its sensor lags by 0.6 K. A collector that is 22 K
# warmer counts 0.7 K.
ROOM = air_sequence(
    "air_room_warm_enough",
    [
        ["set", {**MILD, "air_collector": 21000, "room": 21000}],
        ["keep", 600000, NO_FAN],
        ["set", {"air_collector": 45000}],
        ["keep", 15000, {}],
        ["expect", FAN],
        ["step_ms", 60000],
        ["phase", "warming, on"],
        ["ramp", "room", 21640, 1, FAN],
        ["phase", "a kelvin below the maximum, with the lag: off"],
        ["ramp", "room", 22000, 1, {}],
        ["expect", {"air_fan": 0, "air": "ROOM_WARM"}],
        ["phase", "between, stays off"],
        ["ramp", "room", 21700, 1, NO_FAN],
        ["keep", 3600000, NO_FAN],
        ["phase", "a kelvin below: on again"],
        ["ramp", "room", 21250, 1, {}],
        ["keep", 1200000, {}],
        ["expect", FAN],
        ["phase", "as warm as that for long: off as well"],
        ["ramp", "room", 23000, 1, {}],
        ["keep", 3600000, NO_FAN],
        ["phase", "it was in the sun, and is still warm: off as well"],
        ["set", {"room": 35000}],
        ["keep", 600000, NO_FAN],
        ["set", {"room": 24000}],
        ["keep", 600000, NO_FAN],
    ],
)

ROOM_AFTER_RESET = air_sequence(
    "air_room_after_a_reset",
    [
        ["set", {**MILD, "air_collector": 45000, "room": 22000}],
        ["phase", "between: not known to be below, off"],
        ["keep", 600000, {"air_fan": 0}],
        ["expect", {"air": "ROOM_WARM"}],
        ["phase", "below, on"],
        ["step_ms", 60000],
        ["ramp", "room", 21250, 1, {}],
        ["expect", FAN],
    ],
)

COLD_ROOM = air_sequence(
    "air_cold_room_takes_any_heat",
    [
        ["set", {**MILD, "air_collector": 5000, "room": 5000}],
        ["keep", 600000, NO_FAN],
        ["phase", "not that cold: the start difference"],
        ["ramp", "air_collector", 14000, 1000, NO_FAN],
        ["keep", 60000, NO_FAN],
        ["phase", "colder than the minimum: less will do"],
        ["ramp", "air_collector", 9998, 1000, NO_FAN],
        ["set", {"room": 4999}],
        ["keep", 60000, NO_FAN],
        ["set", {"air_collector": 9999}],
        ["becomes", 5000, 5000, FAN],
    ],
)

SUMMER = air_sequence(
    "air_summer",
    [
        ["set", {**MILD, **COOL, "outdoor": 17500}],
        ["keep", 600000, NO_FAN],
        ["set", WARM],
        ["phase", "a cool day, on"],
        ["becomes", 5000, 5000, FAN],
        ["step_ms", 60000],
        ["keep", 86400000, FAN],
        ["phase", "one hot hour is no summer"],
        ["ramp", "outdoor", 22000, 1000, FAN],
        ["keep", 3600000, FAN],
        ["phase", "a hot day is: off"],
        ["becomes", 3600000, 14400000, {"air_fan": 0, "air": "SUMMER"}],
        ["phase", "a cooler day: still summer"],
        ["ramp", "outdoor", 10000, 100, {}],
        ["keep", 10800000, {"air_fan": 0, "air": "SUMMER"}],
        ["phase", "two kelvin below ends it"],
        ["becomes", 5000, 36000000, FAN],
    ],
)

SUMMER_AFTER_RESET = air_sequence(
    "air_summer_after_a_reset",
    [
        ["set", {**MILD, **COOL, "outdoor": 22000}],
        ["keep", 600000, NO_FAN],
        ["phase", "no mean of a day yet, on"],
        ["set", WARM],
        ["step_ms", 60000],
        ["keep", 85740000, FAN],
        ["phase", "after a day: off"],
        ["becomes", 60000, 120000, {"air_fan": 0, "air": "SUMMER"}],
        ["phase", "its turn is in mild air"],
        ["keep", 7200000, {"air_fan": 0, "air": "SUMMER"}],
        ["set", {"air_collector": 16000}],
        ["becomes", 60000, 60000, {"air_fan": 1, "air": "FAN_TURN"}],
        ["becomes", 60000, 60000, {"air_fan": 0, "air": "SUMMER"}],
    ],
    exercise_after=3600,
)

UNKNOWN = [
    air_sequence(
        f"air_{sensor}_lost",
        [
            *BLOWING,
            ["phase", "break the sensor"],
            ["break", sensor, "CAUSE_CRC"],
            ["keep", 60000, FAN],
            ["becomes", 5000, 5000, {"air_fan": 0, "air": "AIR_UNKNOWN"}],
            ["expect", idle("COLLECTOR_COOL")],
            ["keep", 110000, {"alarm": 0}],
            ["becomes", 5000, 10000, {"alarms": ["SENSOR"], "alarm": 1}],
            ["phase", "restore"],
            ["restore", sensor],
            ["becomes", 5000, 600000, {**FAN, "alarm": 0}],
        ],
    )
    for sensor in ("air_collector", "room")
]

DRAWS = air_sequence(
    "air_fan_that_draws",
    [
        *READY,
        ["set", {"room": 24000}],
        ["keep", 1800000, {"air_fan": 0}],
        ["expect", {"air": "ROOM_WARM"}],
        ["ramp", "air_collector", 70001, 2000, NO_FAN],
        ["phase", "too hot for the fan: off"],
        ["set", {"room": 20400}],
        ["becomes", 5000, 15000, {"air_fan": 0, "air": "FAN_HOT"}],
        ["keep", 120000, {"air_fan": 0, "air": "FAN_HOT"}],
        ["phase", "by hand as well"],
        ["hand", {"air_fan": 1}],
        ["keep", 60000, {"air_fan": 0, "air": "FAN_HOT"}],
        ["phase", "at the limit, on"],
        ["hand", {}],
        ["set", {"air_collector": 70000}],
        ["becomes", 5000, 5000, FAN],
        ["phase", "on its way it goes on"],
        ["ramp", "air_collector", 80000, 1000, FAN],
        ["keep", 60000, FAN],
    ],
    fan_place=1,
)

PUSHES = air_sequence(
    "air_fan_that_pushes",
    [
        *READY,
        ["set", {"room": 24000}],
        ["keep", 3600000, {"air": "ROOM_WARM"}],
        ["ramp", "air_collector", 90000, 2000, NO_FAN],
        ["phase", "what stands in it will warm the room: off"],
        ["set", {"room": 19808}],
        ["keep", 60000, {**NO_FAN, "air": "ROOM_WARM"}],
        ["phase", "its air comes from the room, on"],
        ["set", {"room": 19807}],
        ["becomes", 5000, 5000, FAN],
    ],
)

REST = air_sequence(
    "air_fan_rests",
    [
        *BLOWING,
        ["phase", "off, and warm at once"],
        ["set", {"air_collector": 14000}],
        ["becomes", 5000, 15000, {"air_fan": 0, "air": "AIR_COOL"}],
        ["jump", {"air_collector": 30000}],
        ["becomes", 5000, 15000, {"air_fan": 0, "air": "FAN_RESTS"}],
        ["phase", "rested, on"],
        ["becomes", 570000, 600000, FAN],
    ],
)

HANDS = air_sequence(
    "air_fan_by_hand",
    [
        *READY,
        ["phase", "held on, and the water side works on"],
        ["hand", {"air_fan": 1}],
        ["becomes", 5000, 5000, {"air_fan": 1, "air": "FAN_HELD"}],
        ["expect", idle("COLLECTOR_COOL")],
        ["phase", "held off while it is warm"],
        ["set", WARM],
        ["hand", {"air_fan": 0}],
        ["becomes", 5000, 5000, {"air_fan": 0, "air": "FAN_HELD_OFF"}],
        ["keep", 600000, NO_FAN],
        ["phase", "let go, on by itself"],
        ["hand", {}],
        ["becomes", 5000, 5000, FAN],
        ["phase", "a hand on the pump leaves the fan alone"],
        ["hand", {"collector_pump": 0}],
        ["keep", 60000, {**FAN, "duty": "hand"}],
        ["phase", "held on in a room that is warm enough: off, until it has cooled"],
        ["hand", {"air_fan": 1}],
        ["becomes", 5000, 5000, {"air_fan": 1, "air": "FAN_HELD"}],
        ["set", {"room": 23000}],
        ["becomes", 5000, 5000, {"air_fan": 0, "air": "ROOM_WARM"}],
        ["set", {"room": 21000}],
        ["becomes", 5000, 900000, {"air_fan": 1, "air": "FAN_HELD"}],
        ["phase", "nobody knows the room: off"],
        ["break", "room", "CAUSE_CRC"],
        ["becomes", 60000, 65000, {"air_fan": 0, "air": "AIR_UNKNOWN"}],
        ["restore", "room"],
        ["becomes", 5000, 60000, {"air_fan": 1, "air": "FAN_HELD"}],
        ["phase", "three resets outrank hands"],
        ["hand", {"air_fan": 1}],
        ["resets", 3],
        ["becomes", 5000, 5000, {**OFF, "air_fan": 0, "air": "AIR_STOPPED", "duty": "fault_stop"}],
        ["resets", 0],
        ["becomes", 5000, 5000, {"air_fan": 1, "air": "FAN_HELD"}],
        ["phase", "maintenance as well"],
        ["upkeep", "UPKEEP_MAINTENANCE"],
        ["becomes", 5000, 5000, {"air_fan": 0, "air": "AIR_STOPPED", "duty": "maintenance"}],
    ],
)

TURN = air_sequence(
    "air_fan_has_its_turn",
    [
        ["set", {**COOL, "air_collector": 14000}],
        *FLUSHED,
        ["phase", "it has stood, but the air is colder than the room"],
        ["keep", 3300000, NO_FAN],
        ["phase", "warmer than the room: its turn, before any of the water side is due"],
        ["set", {"air_collector": 15001}],
        ["becomes", 5000, 5000, {**idle("COLLECTOR_COOL"), "air_fan": 1, "air": "FAN_TURN"}],
        ["keep", 5000, {"air_fan": 1}],
        ["becomes", 5000, 5000, {"air_fan": 0, "air": "AIR_COOL"}],
        ["keep", 3000000, {"air_fan": 0}],
        ["phase", "a warm room bars it while the air is hot"],
        ["set", {"room": 24000}],
        ["ramp", "air_collector", 28001, 1000, {"air": "ROOM_WARM"}],
        ["keep", 1200000, {"air_fan": 0, "air": "ROOM_WARM"}],
        ["phase", "mild air: its turn"],
        ["set", {"air_collector": 28000}],
        ["becomes", 5000, 5000, {"air_fan": 1, "air": "FAN_TURN"}],
    ],
    exercise_after=3600,
)

BACK = air_sequence(
    "air_flows_back_at_night",
    [
        ["set", {**MILD, "outdoor": 5000, "air_collector": 5500, "room": 15000}],
        ["keep", 120000, NO_FAN],
        ["step_ms", 60000],
        ["phase", "a tight damper: no alarm in a whole night"],
        ["keep", 36000000, {"BACK_S": 0}],
        ["phase", "air from the room for nine hours: the alarm"],
        ["ramp", "air_collector", 12000, 20, {}],
        ["keep", 32100000, {"air_fan": 0}],
        ["becomes", 60000, 420000, {"BACK_S": 32400}],
        ["phase", "warmed by the sun: over"],
        ["set", {"air_collector": 15500}],
        ["becomes", 60000, 120000, {"BACK_S": 0}],
    ],
)

STILL_HOT = air_sequence(
    "air_fan_moves_no_air",
    [
        *BLOWING,
        ["ramp", "air_collector", 59999, 1000, FAN],
        ["phase", "hot, but not that hot: no alarm"],
        ["keep", 900000, {**FAN, "alarm": 0}],
        ["phase", "for ten minutes 45 K above the room: the alarm"],
        ["set", {"air_collector": 60000}],
        ["keep", 595000, {**FAN, "alarm": 0}],
        ["becomes", 5000, 5000, {**FAN, "alarm": 1, "alarms": ["FAN"]}],
    ],
)

BESIDE = air_sequence(
    "air_and_water_know_nothing_of_each_other",
    [
        *LONG_CHARGING[:1],
        ["set", {**COOL, "air_collector": 130000, "room": 24000}],
        *LONG_CHARGING[1:],
        ["phase", "a hot air collector is no steam in the water's"],
        ["keep", 120000, {**BOTH_PUMPS, "air": "ROOM_WARM"}],
        ["phase", "the fan joins"],
        ["set", {"room": 19500}],
        ["becomes", 5000, 15000, {**BOTH_PUMPS, **FAN}],
    ],
)

NO_AIR = sequence(
    "air_heater_not_fitted",
    [
        *AWAKE,
        ["phase", "nothing moves, nothing is missed"],
        ["set", {"air_collector": 60000, "room": 10000}],
        ["keep", 300000, {"air_fan": 0, "AIR_REASON": 0, "alarm": 0, "ROOM_STATUS": "ABSENT"}],
    ],
)
