"""Charging that takes heat out of the tank: tank_low reads too low, or hangs beside its pocket."""

from ..common import BOTH_PUMPS, LONG_CHARGING, idle, sequence

# By tank_low at 20 C this is worth charging: the collector 8 K above it, glycol arriving 5 K above.
TAKING = {"collector": 28000, "tank_high": 30000, "loop_supply": 25000, "loop_return": 25000, "exchanger": 25000}
RESTS = idle("HEAT_TAKEN", alarms=["TAKING"], alarm=1)
FIVE_MINUTES = [
    ["keep", 295000, {**BOTH_PUMPS, "alarms": []}],
    ["becomes", 5000, 5000, {"alarms": ["TAKING"], "alarm": 1}],
    ["becomes", 5000, 5000, {**RESTS, "tank_pump": 1}],
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
        ["becomes", 600000, 1005000, idle("HEAT_TAKEN", alarms=[], alarm=0, LOW_BY_MK=2990)],
        ["keep", 1200000, idle("HEAT_TAKEN", alarms=[])],
        ["becomes", 5000, 100000, {"duty": "charging", "LOW_BY_MK": 490}],
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
        *FIVE_MINUTES,
    ],
    loop_supply_fitted=0,
)
