"""Charging that takes heat out of the tank: tank_low reads too low, or hangs beside its pocket."""

from ..common import BOTH_PUMPS, DARK, FLUSHED, LONG_CHARGING, MILD, OFF, idle, sequence

# By tank_low at 20 C this is worth charging: the collector 8 K above it, glycol arriving 5 K above.
TAKING = {"collector": 28000, "tank_high": 30000, "loop_supply": 25000, "loop_return": 25000, "exchanger": 25000}
RESTS = idle("HEAT_TAKEN", alarms=["TAKING"], alarm=1)
FLOWS = {"duty": "charging", "collector_pump": 1, "tank_pump": 0, "wait": "WAIT_EXCHANGER"}
FIVE_MINUTES = [
    ["keep", 295000, {**BOTH_PUMPS, "alarms": []}],
    ["becomes", 5000, 5000, {"alarms": ["TAKING"], "alarm": 1}],
    ["becomes", 5000, 5000, RESTS],
]
RUN_ON = ["becomes", 5000, 180000, RESTS]


def colder(sensor):
    """By one of the sensors it leaves a hair colder than it arrives: it brings heat."""
    return [["set", {sensor: 24999}], ["keep", 600000, {**BOTH_PUMPS, "LOW_BY_MK": 0}], ["set", {sensor: 25000}]]


TAKEN = sequence(
    "charging_that_takes_heat_out_of_the_tank",
    [
        *LONG_CHARGING,
        ["set", TAKING],
        ["phase", "by one of three sensors it brings heat: charging"],
        *[line for sensor in ("loop_return", "exchanger", "tank_high") for line in colder(sensor)],
        ["phase", "for less than five minutes: still hoping"],
        ["keep", 290000, BOTH_PUMPS],
        ["set", {"loop_supply": 25001}],
        ["keep", 5000, BOTH_PUMPS],
        ["set", {"loop_supply": 25000}],
        ["phase", "for five minutes: ended, and named"],
        *FIVE_MINUTES,
        RUN_ON,
        ["phase", "the doubt fades: the alarm ends, and charging is tried again"],
        ["set", {"collector": 28500}],
        ["becomes", 1800000, 2015000, idle("HEAT_TAKEN", alarms=[], alarm=0, LOW_BY_MK=2995)],
        ["keep", 2400000, idle("HEAT_TAKEN", alarms=[])],
        ["becomes", 5000, 100000, {"duty": "charging", "LOW_BY_MK": 495}],
        ["set", {"collector": 28000}],
        ["becomes", 5000, 200000, BOTH_PUMPS],
        ["phase", "ended again"],
        *FIVE_MINUTES,
        RUN_ON,
        ["phase", "a collector that is hotter by as much: charging"],
        ["set", {"collector": 32000, "loop_supply": 32000, "loop_return": 24800}],
        ["keep", 300000, RESTS],
        ["set", {"collector": 33000}],
        ["becomes", 5000, 5000, {"duty": "charging"}],
        ["becomes", 5000, 200000, BOTH_PUMPS],
        ["phase", "until it is that much too cold"],
        ["keep", 90000, BOTH_PUMPS],
        ["set", {"collector": 26000}],
        ["becomes", 5000, 5000, idle("NO_DIFFERENCE", tank_pump=1, alarms=["TAKING"], alarm=1)],
    ],
)


def seen_by(name, **fitted):
    """The same with fewer sensors."""
    return sequence(
        f"heat_taken_out_of_the_tank_{name}",
        [*LONG_CHARGING, ["set", TAKING], ["phase", "for five minutes: ended, and named"], *FIVE_MINUTES],
        **fitted,
    )


FEWER = [
    seen_by("seen_by_the_plates_alone", loop_return_fitted=0),
    seen_by("seen_by_loop_return_alone", exchanger_fitted=0),
]
UNSEEN = sequence(
    "nobody_sees_heat_taken_out_of_the_tank",
    [*LONG_CHARGING, ["set", TAKING], ["phase", "for an hour"], ["keep", 3600000, {**BOTH_PUMPS, "LOW_BY_MK": 0}]],
    loop_return_fitted=0,
    exchanger_fitted=0,
)
# Whatever else is wrong, the tank gets no hotter than the glycol that heats it.
BEYOND = sequence(
    "tank_sensor_hotter_than_the_glycol_that_heats_it",
    [
        *LONG_CHARGING,
        ["set", {"collector": 52000, "loop_supply": 50000}],
        ["phase", "by 4 K: no alarm"],
        ["ramp", "tank_high", 54000, 1000, {**BOTH_PUMPS, "alarms": []}],
        ["keep", 300000, {**BOTH_PUMPS, "alarms": []}],
        ["phase", "by more, for less than two minutes: none"],
        ["set", {"tank_high": 54001}],
        ["keep", 115000, {**BOTH_PUMPS, "alarms": []}],
        ["set", {"tank_high": 54000}],
        ["keep", 5000, {**BOTH_PUMPS, "alarms": []}],
        ["phase", "for two minutes: an alarm, and charging goes on"],
        ["set", {"tank_high": 54001}],
        ["keep", 115000, {**BOTH_PUMPS, "alarms": []}],
        ["becomes", 5000, 5000, {**BOTH_PUMPS, "alarms": ["BEYOND"], "alarm": 1}],
        ["keep", 600000, {**BOTH_PUMPS, "alarms": ["BEYOND"], "alarm": 1}],
        ["phase", "hotter glycol explains it, then and later"],
        ["set", {"loop_supply": 50001}],
        ["becomes", 5000, 5000, {**BOTH_PUMPS, "alarms": [], "alarm": 0}],
        ["set", {"loop_supply": 45000}],
        ["keep", 600000, {**BOTH_PUMPS, "alarms": [], "alarm": 0}],
        ["phase", "without loop_supply nothing is compared"],
        ["set", {"tank_high": 55000}],
        ["becomes", 120000, 125000, {**BOTH_PUMPS, "alarms": ["BEYOND"], "alarm": 1}],
        ["break", "loop_supply", "CAUSE_CRC"],
        ["becomes", 15000, 65000, {"alarms": [], "alarm": 0}],
        ["keep", 60000, {"alarms": []}],
        ["phase", "and from what the tank was then"],
        ["restore", "loop_supply"],
        ["keep", 300000, {"alarms": []}],
    ],
)
FAST = sequence(
    "charging_that_takes_much_heat_ends_soon",
    [
        *LONG_CHARGING,
        ["phase", "by less than 10 K, for more than two minutes: still hoping"],
        ["set", {**TAKING, "tank_high": 40000, "loop_return": 34999, "exchanger": 35000}],
        ["keep", 240000, {**BOTH_PUMPS, "LOW_BY_MK": 0}],
        ["set", {"loop_supply": 36000}],
        ["keep", 5000, BOTH_PUMPS],
        ["phase", "by 10 K, for two minutes: ended"],
        ["set", {"loop_supply": 25000, "loop_return": 35000}],
        ["keep", 115000, {**BOTH_PUMPS, "LOW_BY_MK": 0}],
        ["becomes", 5000, 5000, {"LOW_BY_MK": 15000, "alarms": ["TAKING"], "alarm": 1}],
        ["becomes", 5000, 200000, {**RESTS, "tank_pump": 0}],
        ["phase", "tried again: the tank pump waits for glycol that is hotter by as much"],
        ["set", {"collector": 46000}],
        ["becomes", 5000, 130000, FLOWS],
        ["set", {"loop_supply": 37000}],
        ["keep", 60000, FLOWS],
        ["set", {"loop_supply": 38000}],
        ["becomes", 5000, 125000, BOTH_PUMPS],
    ],
)
# The plates' sensor sits where the cooler glycol enters: loop_return tells how much.
AT_THE_INLET = sequence(
    "charging_that_takes_much_heat_ends_soon_by_loop_return",
    [
        *LONG_CHARGING,
        ["set", {"collector": 40000, "loop_supply": 36000}],
        ["keep", 5000, BOTH_PUMPS],
        ["phase", "for two minutes: ended, whatever the plates read"],
        ["set", {**TAKING, "tank_high": 40000, "loop_return": 35000}],
        ["keep", 115000, {**BOTH_PUMPS, "LOW_BY_MK": 0}],
        ["becomes", 5000, 5000, {"LOW_BY_MK": 5000, "alarms": ["TAKING"], "alarm": 1}],
    ],
)
AT_THE_PLATES = sequence(
    "charging_that_takes_much_heat_ends_soon_by_the_plates_alone",
    [
        *LONG_CHARGING,
        ["set", {"collector": 40000, "loop_supply": 36000}],
        ["keep", 5000, BOTH_PUMPS],
        ["phase", "for two minutes: ended"],
        ["set", {**TAKING, "tank_high": 40000, "exchanger": 35000}],
        ["keep", 115000, {**BOTH_PUMPS, "LOW_BY_MK": 0}],
        ["becomes", 5000, 5000, {"LOW_BY_MK": 15000, "alarms": ["TAKING"], "alarm": 1}],
    ],
    loop_return_fitted=0,
)
# Without loop_supply the collector is compared; the tank's sensors say nothing of arriving glycol.
BY_COLLECTOR = sequence(
    "heat_taken_out_of_the_tank_seen_by_the_collector",
    [
        *LONG_CHARGING,
        ["set", {**TAKING, "tank_high": 40000, "loop_return": 27999, "exchanger": 28000}],
        ["phase", "a hair colder: charging"],
        ["keep", 600000, {**BOTH_PUMPS, "LOW_BY_MK": 0}],
        ["phase", "for five minutes: ended, and named"],
        ["set", {"loop_return": 28000}],
        *FIVE_MINUTES[:2],
        ["becomes", 5000, 5000, {**RESTS, "tank_pump": 1}],
    ],
    loop_supply_fitted=0,
)
# The sun has gone, or tank_low hangs at the collector: warm glycol has stood in the pipes.
STOOD = {"collector": 39500, "loop_supply": 30000, "loop_return": 24800, "tank_high": 30001}
FROM_THE_PIPES = sequence(
    "tank_pump_waits_for_glycol_that_has_not_stood_in_the_pipes",
    [
        *FLUSHED,
        ["phase", "colder than the top: for a minute"],
        ["set", STOOD],
        ["becomes", 5000, 130000, FLOWS],
        ["keep", 55000, FLOWS],
        ["becomes", 5000, 5000, BOTH_PUMPS],
        ["phase", "it gets colder, and warmer again: the pump has run, no wait"],
        ["set", {"collector": 27000, "loop_supply": 20000}],
        ["becomes", 5000, 5000, FLOWS],
        ["keep", 240000, FLOWS],
        ["set", {"collector": 39500, "loop_supply": 30000}],
        ["becomes", 5000, 5000, BOTH_PUMPS],
        ["phase", "it gets warmer by 1 K: comes from the sun"],
        ["set", DARK],
        ["keep", 300000, {}],
        ["set", {**STOOD, "tank_high": 40000}],
        ["becomes", 5000, 130000, FLOWS],
        ["keep", 5000, FLOWS],
        ["set", {"loop_supply": 30999}],
        ["keep", 10000, FLOWS],
        ["set", {"loop_supply": 31000}],
        ["becomes", 5000, 5000, BOTH_PUMPS],
        ["phase", "as warm as the top: it can only bring heat"],
        ["set", DARK],
        ["keep", 300000, {}],
        ["set", {**STOOD, "tank_high": 30000}],
        ["becomes", 5000, 130000, BOTH_PUMPS],
        ["expect", {"COLLECTOR_PUMP_MS": 0}],
        ["phase", "so is what comes to a tank without tank_high"],
        ["set", DARK],
        ["keep", 300000, {}],
        ["break", "tank_high", "CAUSE_CRC"],
        ["keep", 65000, {}],
        ["expect", {"TANK_HIGH_STATUS": "LOST"}],
        ["set", {"collector": 39500, "loop_supply": 30000, "loop_return": 24800}],
        ["becomes", 5000, 130000, BOTH_PUMPS],
        ["expect", {"COLLECTOR_PUMP_MS": 0}],
    ],
)
LATER = sequence(
    "tank_pump_waits_two_minutes_at_most",
    [*FLUSHED, ["set", STOOD], ["becomes", 5000, 130000, FLOWS], ["keep", 115000, FLOWS], ["becomes", 5000, 5000, BOTH_PUMPS]],
    tank_pump_delay=600000,
)
# Frost without a bypass: before glycol moves, water of 30 C comes from a bottom that reads 20 C.
WATER = {"duty": "charging", "collector_pump": 0, "tank_pump": 1}
MORNING = {**MILD, "outdoor": 10000, "tank_high": 50000, "exchanger": 20500}
FROSTY = [
    ["set", MORNING],
    ["keep", 15000, OFF],
    ["ramp", "outdoor", 0, 1000, OFF],
    ["keep", 130000, OFF],
    ["ramp", "collector", 37000, 5000, OFF],
]
DENIED = sequence(
    "water_that_is_far_warmer_than_tank_low_ends_charging",
    [
        *FROSTY,
        ["phase", "not that far: glycol follows after a minute"],
        ["set", {"collector": 40000}],
        ["becomes", 5000, 5000, WATER],
        ["set", {"exchanger": 29999}],
        ["keep", 55000, WATER],
        ["becomes", 5000, 5000, {**WATER, "collector_pump": 1, "LOW_BY_MK": 0}],
        ["phase", "the water between two pulses has less than a minute"],
        ["set", {"exchanger": 30000}],
        ["keep", 50000, {"duty": "charging", "tank_pump": 1, "LOW_BY_MK": 0}],
        ["phase", "far warmer, for fifty seconds: ended, and named"],
        ["becomes", 5000, 5000, {**WATER, "LOW_BY_MK": 20000, "alarms": ["TAKING"], "alarm": 1}],
        ["becomes", 5000, 5000, {"duty": "idle", "reason": "HEAT_TAKEN", "collector_pump": 0}],
        ["phase", "no water is warmer than the top"],
        ["set", {"tank_high": 35000}],
        ["keep", 5000, {"LOW_BY_MK": 15000}],
        ["phase", "the sensors change places back: no doubt, and no alarm"],
        ["set", {"tank_low": 40000, "tank_high": 40000}],
        ["becomes", 5000, 10000, {"LOW_BY_MK": 0, "alarms": [], "alarm": 0}],
    ],
    dump_topology=2,
    loop_volume=3000,
)
TOPLESS = sequence(
    "without_tank_high_water_denies_nothing",
    [
        *FROSTY,
        ["break", "tank_high", "CAUSE_CRC"],
        ["keep", 65000, OFF],
        ["phase", "glycol follows"],
        ["set", {"collector": 40000}],
        ["becomes", 5000, 5000, WATER],
        ["set", {"exchanger": 40000}],
        ["keep", 55000, WATER],
        ["becomes", 5000, 5000, {**WATER, "collector_pump": 1, "LOW_BY_MK": 0}],
    ],
    dump_topology=2,
    loop_volume=3000,
)
# loop_return reads too low: the plates show the heat that is taken.
ONE_SHOWS = sequence(
    "one_sensor_shows_heat_taken_and_the_other_none_left",
    [
        *LONG_CHARGING,
        ["set", {"loop_supply": 36000, "tank_high": 39999, "exchanger": 36999, "loop_return": 34000}],
        ["phase", "by less than the error of a sensor: charging"],
        ["keep", 600000, {**BOTH_PUMPS, "LOW_BY_MK": 0}],
        ["phase", "more than an eighth of the lead is left: charging"],
        ["set", {"exchanger": 37000, "loop_return": 33999}],
        ["keep", 600000, {**BOTH_PUMPS, "LOW_BY_MK": 0}],
        ["phase", "no more: ended, and the tank is as warm as the glycol that came"],
        ["set", {"loop_return": 34000}],
        ["keep", 295000, {**BOTH_PUMPS, "LOW_BY_MK": 0}],
        ["becomes", 5000, 5000, {"LOW_BY_MK": 16000, "alarms": ["TAKING"], "alarm": 1}],
    ],
)
# Three hours at 4 l/min move 720 l.
UNWARMED = sequence(
    "charging_that_does_not_warm_tank_low",
    [
        *LONG_CHARGING,
        ["set", {"tank_low": 22000, "tank_high": 30000, "loop_supply": 29999}],
        ["phase", "glycol less than 8 K hotter: believed however long"],
        ["keep", 12000000, {**BOTH_PUMPS, "TANK_LOW_STATUS": "GOOD"}],
        ["phase", "8 K, for less than 750 l: believed"],
        ["set", {"loop_supply": 30000}],
        ["keep", 6000000, {**BOTH_PUMPS, "TANK_LOW_STATUS": "GOOD"}],
        ["phase", "moved by less than 2 K"],
        ["set", {"loop_supply": 32000, "tank_low": 23999}],
        ["keep", 5260000, {**BOTH_PUMPS, "TANK_LOW_STATUS": "GOOD"}],
        ["phase", "750 l: held, then lost, and tank_high takes its place"],
        ["becomes", 5000, 10000, {**BOTH_PUMPS, "TANK_LOW_STATUS": "HELD"}],
        ["becomes", 60000, 65000, {**BOTH_PUMPS, "TANK_LOW_STATUS": "LOST", "TANK_REFERENCE_MC": 30000}],
        ["becomes", 110000, 125000, {"alarms": ["SENSOR"], "alarm": 1}],
        ["phase", "it moves: trusted again"],
        ["set", {"tank_low": 24000}],
        ["becomes", 15000, 20000, {**BOTH_PUMPS, "TANK_LOW_STATUS": "GOOD", "alarms": []}],
        ["phase", "750 l more"],
        ["keep", 11200000, {**BOTH_PUMPS, "TANK_LOW_STATUS": "GOOD"}],
    ],
    loop_return_fitted=0,
    exchanger_fitted=0,
)
SIGHTED = sequence(
    "glycol_that_is_seen_to_leave_tells_more_than_tank_low",
    [*LONG_CHARGING, ["phase", "750 l and more"], ["keep", 12000000, {**BOTH_PUMPS, "TANK_LOW_STATUS": "GOOD"}]],
    exchanger_fitted=0,
)
DOUBTED = sequence(
    "a_doubt_that_charging_does_not_refute",
    [
        *LONG_CHARGING,
        ["set", {**TAKING, "tank_high": 40000, "loop_return": 35000, "exchanger": 35000}],
        ["becomes", 115000, 130000, {"alarms": ["TAKING"]}],
        ["set", {"collector": 60000, "loop_supply": 50000, "loop_return": 38000, "exchanger": 38000}],
        ["becomes", 5000, 300000, {**BOTH_PUMPS, "alarms": ["TAKING"]}],
        ["phase", "for less than 750 l"],
        ["keep", 10800000, {**BOTH_PUMPS, "TANK_LOW_STATUS": "GOOD"}],
        ["phase", "750 l: lost"],
        ["becomes", 5000, 600000, {"TANK_LOW_STATUS": "LOST"}],
    ],
)
