"""Hands beside a hot tank, hot glycol or a hot exchanger: the limits stay active."""

from .collector import TANK_FULL
from .common import AWAKE, FLUSHED, MILD, OFF, SUN, TO_RADIATOR, sequence
from .lies.radiator import HEATS, HOT
from .upkeep import AN_HOUR, HELD, NO_TURN, TANK_TURN, TURN

PUMPING = {**HELD, "collector_pump": 1}
REFUSED = {**HELD, "collector_pump": 0, "tank_pump": 0, "wait": "WAIT_LIMIT"}
TANK_PUMP = {**HELD, **OFF, "tank_pump": 1}
COLD = {"collector": 69500, "loop_supply": 69500}

# The tank at 75 and 70.5 C: glycol has to be 1 K colder than its coldest sensor.
ABOVE = sequence(
    "hand_beside_a_tank_above_its_limit",
    [
        *FLUSHED,
        ["ramp", "tank_high", 75000, 1000, OFF],
        ["ramp", "tank_low", 70500, 1000, OFF],
        ["set", {"collector": 60000, "loop_supply": 60000}],
        ["hand", {"collector_pump": 1}],
        ["keep", 60000, PUMPING],
        ["phase", "at its limit: on"],
        ["set", {"collector": 74500, "loop_supply": 74500}],
        ["keep", 600000, PUMPING],
        ["phase", "above it for a minute: off"],
        ["set", {"tank_high": 75001}],
        ["keep", 55000, PUMPING],
        ["becomes", 5000, 5000, REFUSED],
        ["phase", "through the exchanger as well"],
        ["hand", {"collector_pump": 1, "dump_valve_power": 1}],
        ["keep", 600000, REFUSED],
        ["phase", "glycol colder than all of it for half an hour: on"],
        ["set", COLD],
        ["keep", 1795000, REFUSED],
        ["keep", 600000, PUMPING],
        *[
            line
            for sensor in ("collector", "loop_supply")
            for line in (
                ["phase", f"{sensor} not colder: off"],
                ["set", {sensor: 69501}],
                ["becomes", 5000, 5000, REFUSED],
                ["set", {sensor: 69500}],
                ["becomes", 1795000, 1805000, PUMPING],
            )
        ],
        ["phase", "break loop_supply: nobody shows colder glycol"],
        ["break", "loop_supply", "CAUSE_CRC"],
        ["keep", 60000, PUMPING],
        ["becomes", 5000, 5000, REFUSED],
        ["restore", "loop_supply"],
        ["becomes", 1795000, 1815000, PUMPING],
        ["phase", "break tank_low: nor what is coldest"],
        ["break", "tank_low", "CAUSE_CRC"],
        ["keep", 60000, PUMPING],
        ["becomes", 5000, 5000, REFUSED],
        ["restore", "tank_low"],
        ["becomes", 1795000, 1815000, PUMPING],
        ["phase", "the top may be the colder one"],
        ["ramp", "tank_low", 75001, 1000, PUMPING],
        ["ramp", "tank_high", 73502, 1000, PUMPING],
        ["set", {"collector": 72503, "loop_supply": 72503}],
        ["becomes", 5000, 5000, REFUSED],
        ["phase", "colder than the top: on"],
        ["set", {"collector": 60000, "loop_supply": 60000}],
        ["becomes", 1795000, 1815000, PUMPING],
        ["phase", "a bottom hotter than the top may be the collector: off"],
        ["set", {"tank_high": 73501}],
        ["becomes", 5000, 5000, REFUSED],
    ],
)

# A dump that heated a tank below its limit binds no hand.
HEATED = sequence(
    "hand_after_a_dump_that_heated_the_tank",
    [
        *FLUSHED,
        ["ramp", "tank_high", 68000, 1000, OFF],
        ["ramp", "tank_low", 67000, 1000, OFF],
        *HOT,
        ["keep", 30000, {}],
        ["set", {"tank_high": 70000}],
        ["becomes", 120000, 120000, HEATS],
        ["ramp", "collector", 70000, 5000, OFF],
        ["set", {"loop_supply": 70000}],
        ["phase", "below its limit: on"],
        ["hand", {"collector_pump": 1}],
        ["becomes", 5000, 90000, PUMPING],
        ["phase", "at its limit: off"],
        ["ramp", "tank_high", 74999, 1000, PUMPING],
        ["set", {"tank_high": 75000}],
        ["becomes", 5000, 5000, REFUSED],
    ],
)

HOT_GLYCOL = sequence(
    "hand_on_glycol_too_hot_for_the_tank",
    [
        *FLUSHED,
        ["set", {"loop_supply": 60000}],
        ["hand", {"collector_pump": 1, "dump_valve_power": 1}],
        ["becomes", 110000, 130000, PUMPING],
        ["phase", "not too hot: to the exchanger"],
        ["ramp", "collector", 89999, 5000, PUMPING],
        ["keep", 60000, PUMPING],
        ["phase", "too hot: off"],
        ["set", {"collector": 90000}],
        ["keep", 60000, REFUSED],
        ["phase", "to the radiator, once the valve is there: on"],
        ["hand", {"collector_pump": 1, "tank_pump": 1}],
        ["keep", 115000, TANK_PUMP],
        ["becomes", 5000, 10000, {**PUMPING, "dump_valve_power": 0}],
        ["phase", "the tank pump not beside it: the valve may leak"],
        ["expect", {**PUMPING, "tank_pump": 0, "wait": "WAIT_LIMIT"}],
        ["keep", 60000, {**PUMPING, "tank_pump": 0, "wait": "WAIT_LIMIT"}],
        ["phase", "between, still off"],
        ["hand", {"collector_pump": 1, "dump_valve_power": 1}],
        ["ramp", "collector", 75000, 5000, {**HELD, "collector_pump": 0}],
        ["keep", 180000, {**HELD, "collector_pump": 0}],
        ["phase", "cooler, on"],
        ["set", {"collector": 74999}],
        ["becomes", 5000, 5000, PUMPING],
    ],
)
NO_WAY_ROUND = sequence(
    "hand_on_hot_glycol_without_a_way_round",
    [
        ["set", {**MILD, "collector": 25000, "outdoor": 25000}],
        ["keep", 180000, OFF],
        ["hand", {"collector_pump": 1}],
        ["keep", 60000, PUMPING],
        ["ramp", "collector", 89999, 5000, PUMPING],
        ["phase", "too hot: off"],
        ["set", {"collector": 90000}],
        ["keep", 60000, REFUSED],
    ],
    dump_topology=2,
)

PLATES = sequence(
    "hand_on_an_exchanger_too_hot_for_the_tank",
    [
        *FLUSHED,
        ["ramp", "exchanger", 89999, 5000, OFF],
        ["phase", "not too hot: on"],
        ["hand", {"tank_pump": 1}],
        ["keep", 60000, TANK_PUMP],
        ["phase", "too hot while water flows: it cools"],
        ["set", {"exchanger": 90000}],
        ["keep", 60000, TANK_PUMP],
        ["phase", "too hot: off"],
        ["hand", {"tank_pump": 0}],
        ["keep", 5000, {**HELD, **OFF}],
        ["hand", {"tank_pump": 1}],
        ["keep", 60000, {**REFUSED, "dump_valve_power": 0}],
        ["phase", "cooled: on"],
        ["set", {"exchanger": 89999}],
        ["becomes", 5000, 5000, TANK_PUMP],
    ],
)
# Dumping with a full tank, then somebody takes the tank pump.
DUMPED = [*TANK_FULL, *HOT, ["keep", 60000, TO_RADIATOR], ["hand", {"tank_pump": 1}]]
JUST_NOW = sequence(
    "hand_right_after_hot_glycol",
    [
        *DUMPED,
        ["phase", "the sensor needs a minute to follow"],
        ["ramp", "exchanger", 60000, 5000, REFUSED],
        ["keep", 20000, REFUSED],
        ["phase", "cool by then: on"],
        ["becomes", 5000, 40000, TANK_PUMP],
        ["phase", "its hot end may be hotter: off"],
        ["hand", {"tank_pump": 0}],
        ["ramp", "exchanger", 80000, 5000, {**HELD, "tank_pump": 0}],
        ["hand", {"tank_pump": 1}],
        ["keep", 60000, REFUSED],
        ["phase", "not by more than 10 K: on"],
        ["set", {"exchanger": 79999}],
        ["becomes", 5000, 5000, TANK_PUMP],
    ],
)
BLIND = sequence(
    "hand_after_hot_glycol_without_an_exchanger_sensor",
    [
        *DUMPED,
        ["phase", "hot glycol: off"],
        ["keep", 600000, REFUSED],
        ["phase", "cooler glycol in the collector says nothing of the plates"],
        ["set", {"loop_supply": 60000}],
        ["ramp", "collector", 60000, 5000, REFUSED],
        ["keep", 6480000, REFUSED],
        ["phase", "two hours later: on"],
        ["becomes", 5000, 120000, TANK_PUMP],
        ["phase", "hot again, and cooled by the collector pump: on"],
        ["hand", {}],
        ["set", {"loop_supply": 90000}],
        ["ramp", "collector", 100000, 5000, {}],
        ["becomes", 5000, 200000, TO_RADIATOR],
        ["hand", {"tank_pump": 1}],
        ["set", {"loop_supply": 60000}],
        ["ramp", "collector", 60000, 5000, REFUSED],
        ["hand", {"collector_pump": 1, "dump_valve_power": 1}],
        ["becomes", 110000, 130000, PUMPING],
        ["keep", 50000, PUMPING],
        ["hand", {"tank_pump": 1}],
        ["keep", 60000, REFUSED],
        ["hand", {"collector_pump": 1, "dump_valve_power": 1}],
        ["becomes", 50000, 70000, PUMPING],
        ["keep", 120000, PUMPING],
        ["hand", {"tank_pump": 1}],
        ["becomes", 5000, 5000, TANK_PUMP],
    ],
    exchanger_fitted=0,
)
RESTARTED = sequence(
    "hand_after_a_reset_without_an_exchanger_sensor",
    [
        *AWAKE,
        ["ramp", "collector", 80000, 5000, {}],
        ["reset"],
        ["phase", "the collector is still hot: off"],
        ["hand", {"tank_pump": 1}],
        ["keep", 20000, HELD],
        ["keep", 60000, REFUSED],
        ["phase", "it is not: on"],
        ["set", {"collector": 74999}],
        ["becomes", 5000, 5000, TANK_PUMP],
    ],
    exchanger_fitted=0,
)

# The station's own tank pump waits as well.
TURN_WAITS = sequence(
    "exercise_waits_for_an_exchanger_that_is_too_hot",
    [
        *FLUSHED,
        ["keep", 3000000, NO_TURN],
        ["ramp", "exchanger", 90000, 5000, {}],
        ["becomes", 5000, 700000, TURN],
        ["phase", "too hot: it waits"],
        ["keep", 600000, {**TURN, **OFF, "wait": "WAIT_LIMIT"}],
        ["phase", "cooled: on"],
        ["set", {"exchanger": 89999}],
        ["becomes", 5000, 5000, TANK_TURN],
    ],
    **AN_HOUR,
)
JOINS = sequence(
    "tank_pump_waits_for_an_exchanger_that_a_dump_heated",
    [
        *FLUSHED,
        ["set", SUN],
        ["ramp", "collector", 91000, 5000, {}],
        ["becomes", 5000, 300000, {**TO_RADIATOR, "reason": "CHARGE_LIMIT_DUMP"}],
        ["set", {"collector": 74999, "loop_supply": 74000}],
        ["becomes", 5000, 200000, {"duty": "charging", "collector_pump": 1, "tank_pump": 1}],
        ["phase", "too hot: the collector pump cools it first"],
        ["ramp", "collector", 91000, 5000, {}],
        ["becomes", 5000, 500000, {**TO_RADIATOR, "reason": "CHARGE_LIMIT_DUMP"}],
        ["ramp", "exchanger", 95000, 5000, {}],
        ["set", {"collector": 74999}],
        ["becomes", 5000, 200000, {"duty": "charging", "collector_pump": 1, "tank_pump": 0, "wait": "WAIT_EXCHANGER"}],
        ["keep", 55000, {"duty": "charging", "collector_pump": 1, "tank_pump": 0}],
        ["phase", "a minute later: on, whatever its sensor says"],
        ["becomes", 5000, 10000, {"duty": "charging", "collector_pump": 1, "tank_pump": 1}],
    ],
    minimum_run=0,
)
