"""Sensors that read apart: collector and arriving glycol, collector and the air at night."""

from .arrival import GIVEN_UP, PUMP, PUMPING
from .common import AWAKE, BOTH_PUMPS, DARK, FLUSHED, LONG_CHARGING, MILD, SUN, idle, sequence

# loop_supply reads low: what leaves shows it, for glycol gets no warmer at the plates.
NEXT_TRY = [["becomes", 5000, 200000, PUMPING], ["keep", 290000, PUMPING], ["becomes", 5000, 15000, idle("HEAT_TOO_WEAK")]]
RESTS = [["keep", 1780000, idle("HEAT_TOO_WEAK")]]
LEAVES_HOTTER = sequence(
    "glycol_that_leaves_hotter_than_it_came",
    [
        *FLUSHED,
        *PUMP,
        ["phase", "by less than 3 K, as often as you like: a weak sun"],
        ["set", {"collector": 27999, "loop_supply": 20000, "loop_return": 22999}],
        *NEXT_TRY,
        *RESTS,
        *NEXT_TRY,
        ["expect", {"APART_MK": 0}],
        ["phase", "by 3 K, once: no alarm"],
        ["set", {"loop_return": 23000}],
        *RESTS,
        *NEXT_TRY,
        ["expect", {"alarms": []}],
        ["phase", "in the next try too: alarm"],
        *RESTS,
        *NEXT_TRY,
        ["expect", {"alarms": ["APART"], "alarm": 1}],
        ["phase", "again and again: no more than that"],
        *RESTS,
        *NEXT_TRY,
        ["expect", {"APART_MK": 8000}],
    ],
)
LEAVES_UNKNOWN = sequence(
    "what_leaves_tells_nothing_without_loop_supply",
    [
        *FLUSHED,
        ["set", {"collector": 28000, "exchanger": 20100, "loop_return": 23000}],
        ["phase", "a weak sun, again and again: no alarm"],
        ["becomes", 300000, 500000, idle("HEAT_TOO_WEAK")],
        *RESTS,
        ["becomes", 5000, 200000, PUMPING],
        ["becomes", 200000, 600000, idle("HEAT_TOO_WEAK")],
        ["expect", {"APART_MK": 0}],
    ],
    loop_supply_fitted=0,
)

# The collector's sensor reads 12 K high: glycol arrives all the same.
HIGH = sequence(
    "a_collector_that_reads_high_is_no_missing_flow",
    [
        *LONG_CHARGING,
        ["keep", 900000, {**BOTH_PUMPS, "alarms": []}],
        ["phase", "4 K more: no fault, and an alarm about the sensors"],
        ["set", {"collector": 44000}],
        ["keep", 30000, {**BOTH_PUMPS, "alarms": []}],
        ["becomes", 5000, 600000, {**BOTH_PUMPS, "alarms": ["APART"], "alarm": 1}],
        ["keep", 1800000, BOTH_PUMPS],
        ["phase", "far more apart than usual, for less than three minutes: still hoping"],
        ["set", {"collector": 64000}],
        ["keep", 175000, BOTH_PUMPS],
        ["phase", "for three minutes: nothing flows"],
        ["becomes", 5000, 5000, {**GIVEN_UP, "alarms": ["NO_FLOW"]}],
    ],
)
# Arriving glycol cannot be hotter than the collector for long.
LOW = sequence(
    "a_collector_that_reads_low_is_told",
    [
        *LONG_CHARGING,
        ["set", {"collector": 24500}],
        ["phase", "7.5 K below arriving glycol: no alarm"],
        ["keep", 1800000, {**BOTH_PUMPS, "alarms": []}],
        ["phase", "8 K and more: alarm"],
        ["set", {"collector": 23500, "loop_supply": 33000}],
        ["becomes", 5000, 600000, {**BOTH_PUMPS, "alarms": ["APART"], "alarm": 1}],
        ["keep", 600000, BOTH_PUMPS],
        ["phase", "it stays at night"],
        ["set", DARK],
        ["keep", 1800000, {"alarms": ["APART"]}],
        ["phase", "they agree again: over"],
        ["set", {**SUN, "collector": 34000}],
        ["becomes", 5000, 1800000, {**BOTH_PUMPS, "alarms": [], "alarm": 0}],
    ],
)

# Every night a collector cools down to the air.
DAY = [[["set", {"collector": 15000 + change}], ["keep", 7200000, {"alarms": []}]] for change in (-20, 20, -40, 40, -60)]
WARMER = sequence(
    "an_outdoor_sensor_that_reads_colder_than_every_night",
    [
        *AWAKE,
        ["step_ms", 60000],
        ["phase", "almost 4 K warmer than the air, day and night: no alarm"],
        ["set", {"outdoor": 11100}],
        ["keep", 120000, {}],
        *[step for hours in 3 * DAY for step in hours],
        ["phase", "4 K, for less than 22 hours: no alarm"],
        ["set", {"outdoor": 10900}],
        *[step for hours in 2 * DAY for step in hours],
        ["phase", "for 22 hours: alarm"],
        ["set", {"collector": 15000}],
        ["becomes", 7020000, 7380000, {"alarms": ["APART"], "alarm": 1}],
        ["keep", 3600000, {"alarms": ["APART"]}],
        ["phase", "a night that agrees: over"],
        ["set", {"outdoor": 11100}],
        ["becomes", 60000, 180000, {"alarms": [], "alarm": 0}],
        ["phase", "nobody knows the air: that is another alarm"],
        ["set", {"outdoor": 10900}],
        *[step for hours in 2 * DAY for step in hours],
        ["break", "outdoor", "CAUSE_OPEN"],
        ["keep", 7200000, {}],
        ["expect", {"alarms": ["SENSOR"], "AIR_UNDER_S": 0}],
    ],
)
COLDER = sequence(
    "a_collector_colder_than_any_sky_makes_it",
    [
        ["phase", "not quite 13 K colder than the air: no alarm"],
        ["set", {**MILD, "collector": 2100}],
        ["keep", 3600000, {"alarms": []}],
        ["phase", "13 K: alarm"],
        ["set", {"collector": 1900}],
        ["becomes", 5000, 65000, {"alarms": ["APART"], "alarm": 1}],
        ["phase", "the sun shines: not yet over"],
        ["ramp", "collector", 25000, 1000, {}],
        ["keep", 60000, {"alarms": ["APART"]}],
    ],
    dump_topology=2,
)

# A collector's sensor that has fallen off reads the air. What arrives can be far too hot.
STILL_HOTTER = [["ramp", "loop_supply", to, 1000, PUMPING] for to in (50000, 60000, 70000, 80000, 89000)]
FALLEN_OFF = [
    *FLUSHED,
    ["set", {"collector": 30000}],
    ["becomes", 115000, 130000, PUMPING],
    ["set", {"loop_supply": 45000}],
]
UNTOLD = sequence(
    "glycol_hotter_than_the_collector_may_get_too_hot",
    [
        *FALLEN_OFF,
        ["phase", "still hotter: the tank pump waits"],
        *STILL_HOTTER,
        ["set", {"loop_supply": 90000}],
        ["phase", "too hot for the tank: to the radiator"],
        ["becomes", 5000, 5000, {"duty": "dumping", "reason": "CHARGE_LIMIT_DUMP", "tank_pump": 0}],
    ],
)
SETTLED = sequence(
    "glycol_hotter_than_the_collector_that_gets_no_hotter",
    [
        *FALLEN_OFF,
        ["phase", "for less than half a minute: the tank pump waits"],
        ["keep", 30000, PUMPING],
        ["phase", "for half a minute: it joins"],
        ["becomes", 5000, 5000, BOTH_PUMPS],
        ["phase", "hotter while it runs: it goes on"],
        ["ramp", "loop_supply", 60000, 1000, BOTH_PUMPS],
    ],
)
# It gets hotter by 20 K at once, and soon is hotter than the collector reads.
ABOUT_TO_BE = sequence(
    "glycol_about_to_be_hotter_than_the_collector",
    [
        *FLUSHED,
        ["set", {"collector": 49999}],
        ["becomes", 115000, 130000, PUMPING],
        ["set", {"loop_supply": 20000}],
        ["keep", 10000, PUMPING],
        ["phase", "the tank pump waits"],
        ["set", {"loop_supply": 40000}],
        ["keep", 5000, PUMPING],
    ],
)
AS_HOT = sequence(
    "glycol_as_hot_as_the_collector",
    [
        *FLUSHED,
        ["set", {"collector": 30000}],
        ["becomes", 115000, 130000, PUMPING],
        ["set", {"loop_supply": 30000}],
        ["phase", "as hot as the collector: at once"],
        ["becomes", 5000, 5000, BOTH_PUMPS],
    ],
)
