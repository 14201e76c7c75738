"""Exercise, hands, purging and maintenance, and the limits that they keep."""

from .common import BOTH_PUMPS, DARK, FLUSHED, LONG_CHARGING, MILD, OFF, SUN, idle, sequence

# -- exercise --------------------------------------------------------------------------------------
TURN = {"duty": "exercise", "reason": "TURN"}
PUMP_TURN = {**TURN, "collector_pump": 1, "tank_pump": 0, "dump_valve_power": 0}
TANK_TURN = {**TURN, "collector_pump": 0, "tank_pump": 1, "dump_valve_power": 0}
VALVE_TURN = {**TURN, "collector_pump": 0, "tank_pump": 0, "dump_valve_power": 1}
NO_TURN = idle("COLLECTOR_COOL")
AN_HOUR = {"exercise_after": 3600}

# All three were last on at about the same time and become due together; the tank pump has rested
# longest.
EXERCISE = sequence(
    "exercise",
    [
        *LONG_CHARGING,
        ["set", DARK],
        ["becomes", 5000, 5000, {"collector_pump": 0, "dump_valve_power": 0}],
        ["becomes", 5000, 200000, NO_TURN],
        ["phase", "not due, off"],
        ["keep", 3590000, NO_TURN],
        ["phase", "due: the valve first, for ten seconds"],
        ["becomes", 5000, 5000, VALVE_TURN],
        ["keep", 5000, VALVE_TURN],
        ["phase", "then one pump after the other"],
        ["becomes", 5000, 10000, TANK_TURN],
        ["keep", 5000, TANK_TURN],
        ["becomes", 5000, 10000, PUMP_TURN],
        ["keep", 5000, PUMP_TURN],
        ["phase", "and no more for an hour"],
        ["becomes", 5000, 5000, {**TURN, **OFF}],
        ["becomes", 5000, 5000, NO_TURN],
        ["keep", 3500000, NO_TURN],
        ["becomes", 5000, 200000, VALVE_TURN],
        ["phase", "break the collector: no turn"],
        ["break", "collector", "CAUSE_OPEN"],
        ["becomes", 20000, 20000, {**OFF, "duty": "fault_stop"}],
        ["keep", 600000, OFF],
        ["phase", "restore: the loop is unknown now, so it is postponed"],
        ["restore", "collector"],
        ["becomes", 15000, 15000, idle("TURN_POSTPONED_COLD")],
    ],
    **AN_HOUR,
)

POSTPONED = sequence(
    "exercise_is_postponed",
    [
        *LONG_CHARGING,
        ["set", DARK],
        ["becomes", 5000, 200000, NO_TURN],
        ["keep", 3500000, NO_TURN],
        ["phase", "a full tank"],
        ["ramp", "tank_high", 75000, 1000, {}],
        ["ramp", "tank_low", 70500, 1000, {}],
        ["keep", 300000, {}],
        ["keep", 60000, idle("TURN_POSTPONED_HOT")],
        ["phase", "a cold loop as well: that comes first"],
        ["ramp", "collector", 4000, 1000, idle("TURN_POSTPONED_HOT")],
        ["set", {"collector": 3999}],
        ["keep", 60000, idle("TURN_POSTPONED_COLD")],
        ["phase", "the tank is cool again, the loop still frosty"],
        ["ramp", "tank_low", 20000, 1000, idle("TURN_POSTPONED_COLD")],
        ["ramp", "tank_high", 25000, 1000, idle("TURN_POSTPONED_COLD")],
        ["phase", "the sun takes the turn over"],
        ["set", SUN],
        ["becomes", 5000, 600000, BOTH_PUMPS],
        ["set", DARK],
        ["becomes", 5000, 400000, NO_TURN],
    ],
    **AN_HOUR,
)

NO_VALVE = sequence(
    "exercise_without_a_valve",
    [
        ["set", {**MILD, "collector": 25000, "outdoor": 25000}],
        ["phase", "due: the pumps alone"],
        ["keep", 3595000, OFF],
        ["becomes", 5000, 10000, TANK_TURN],
        ["becomes", 5000, 20000, PUMP_TURN],
        ["keep", 5000, PUMP_TURN],
        ["becomes", 5000, 5000, {**TURN, **OFF}],
        ["keep", 3000000, idle("NO_DIFFERENCE", dump_valve_power=0)],
    ],
    dump_topology=2,
    **AN_HOUR,
)

# -- hands -----------------------------------------------------------------------------------------
HELD = {"duty": "hand", "reason": "HAND_HELD"}
ALL = {"collector_pump": 1, "tank_pump": 1, "dump_valve_power": 1}
PUMP_BY_HAND = sequence(
    "hand_on_the_collector_pump",
    [
        *FLUSHED,
        ["phase", "held off: off"],
        ["hand", {"collector_pump": 0}],
        ["keep", 60000, {**HELD, **OFF, "wait": "WAIT_NOTHING"}],
        ["phase", "held on: on, and nothing else"],
        ["hand", {"collector_pump": 1}],
        ["keep", 60000, {**HELD, **OFF, "collector_pump": 1, "wait": "WAIT_NOTHING"}],
        ["phase", "steam, off"],
        ["ramp", "collector", 119999, 5000, {**HELD, "collector_pump": 1}],
        ["set", {"collector": 120000}],
        ["keep", 60000, {**HELD, **OFF, "wait": "WAIT_LIMIT"}],
        ["ramp", "collector", 105001, 5000, {**HELD, **OFF}],
        ["phase", "cooler, on"],
        ["set", {"collector": 105000}],
        ["keep", 5000, {**HELD, "collector_pump": 1}],
        ["ramp", "collector", 15000, 5000, {**HELD, "collector_pump": 1}],
        ["phase", "stiff, off"],
        ["ramp", "outdoor", -17560, 1000, {**HELD, "collector_pump": 1}],
        ["set", {"outdoor": -17561}],
        ["keep", 60000, {**HELD, **OFF, "wait": "WAIT_LIMIT"}],
        ["ramp", "outdoor", 15000, 1000, HELD],
        ["keep", 60000, {**HELD, "collector_pump": 1}],
        ["phase", "break the collector, off"],
        ["break", "collector", "CAUSE_OPEN"],
        ["keep", 15000, {**HELD, "collector_pump": 1}],
        ["becomes", 5000, 5000, {**HELD, **OFF, "wait": "WAIT_LIMIT"}],
        ["keep", 60000, {**HELD, **OFF}],
        ["phase", "restore: the frosty loop may go round"],
        ["restore", "collector"],
        ["becomes", 15000, 15000, {**HELD, "collector_pump": 1, "dump_valve_power": 0}],
        ["phase", "let go"],
        ["hand", {}],
        ["becomes", 5000, 5000, NO_TURN],
    ],
)

FROSTY_BY_HAND = sequence(
    "hand_with_a_frosty_loop",
    [
        ["set", MILD],
        ["keep", 120000, OFF],
        ["phase", "to the exchanger: refused, wherever the valve is on its way"],
        ["hand", {"collector_pump": 1, "dump_valve_power": 1}],
        ["keep", 60000, {**HELD, "collector_pump": 0, "dump_valve_power": 1, "wait": "WAIT_LIMIT"}],
        ["keep", 120000, {**HELD, "collector_pump": 0, "dump_valve_power": 1, "wait": "WAIT_LIMIT"}],
        ["phase", "the valve comes home: refused until it is there"],
        ["hand", {"collector_pump": 1}],
        ["keep", 120000, {**HELD, **OFF}],
        ["phase", "home: round, until the loop is known"],
        ["becomes", 5000, 5000, {**HELD, "collector_pump": 1, "dump_valve_power": 0}],
        ["keep", 30000, {**HELD, "collector_pump": 1}],
        ["phase", "then to the exchanger, and the pump waits for the valve"],
        ["hand", {"collector_pump": 1, "dump_valve_power": 1}],
        ["becomes", 5000, 5000, {**HELD, "collector_pump": 0, "dump_valve_power": 1, "wait": "WAIT_VALVE"}],
        ["keep", 115000, {**HELD, "collector_pump": 0, "wait": "WAIT_VALVE"}],
        ["becomes", 5000, 5000, {**HELD, "collector_pump": 1, "dump_valve_power": 1, "wait": "WAIT_NOTHING"}],
    ],
)
OPEN_BY_HAND = sequence(
    "hand_with_a_frosty_loop_and_an_open_crossover",
    [
        ["set", MILD],
        ["keep", 120000, OFF],
        ["phase", "the valve moves: no glycol through it before it is home"],
        ["hand", {"dump_valve_power": 1}],
        ["keep", 60000, {**HELD, "collector_pump": 0, "dump_valve_power": 1}],
        ["hand", {"collector_pump": 1}],
        ["keep", 55000, {**HELD, **OFF, "wait": "WAIT_LIMIT"}],
        ["becomes", 5000, 10000, {**HELD, "collector_pump": 1}],
    ],
    dump_crossover=1,
)

TANK_BY_HAND = sequence(
    "hand_on_both_pumps",
    [
        *FLUSHED,
        ["hand", ALL],
        ["becomes", 110000, 130000, {**HELD, **ALL}],
        ["phase", "cool, on"],
        ["keep", 60000, {**HELD, **ALL}],
        ["phase", "tank over its limit: the tank pump off"],
        ["ramp", "tank_high", 74999, 1000, {**HELD, **ALL}],
        ["set", {"tank_high": 75000}],
        ["keep", 60000, {**HELD, **ALL, "tank_pump": 0, "wait": "WAIT_LIMIT"}],
        ["phase", "without glycol that moves it adds no heat: on"],
        ["hand", {"tank_pump": 1}],
        ["keep", 60000, {**HELD, **OFF, "tank_pump": 1}],
        ["hand", ALL],
        ["becomes", 5000, 130000, {**HELD, "collector_pump": 1}],
        ["expect", {"tank_pump": 0, "wait": "WAIT_LIMIT"}],
        ["phase", "cool again, on"],
        ["ramp", "tank_high", 70000, 1000, {**HELD, "tank_pump": 0}],
        ["set", {"tank_high": 69999}],
        ["keep", 60000, {**HELD, **ALL}],
        ["phase", "glycol too hot: the tank pump off"],
        ["ramp", "collector", 89999, 5000, {**HELD, **ALL}],
        ["set", {"collector": 90000}],
        ["keep", 60000, {**HELD, **ALL, "tank_pump": 0, "wait": "WAIT_LIMIT"}],
        ["ramp", "collector", 40000, 5000, HELD],
        ["keep", 60000, {**HELD, **ALL}],
        ["phase", "break both tank sensors: the tank pump off"],
        ["break", "tank_low", "CAUSE_CRC"],
        ["break", "tank_high", "CAUSE_CRC"],
        ["keep", 60000, {**HELD, **ALL}],
        ["becomes", 5000, 5000, {**HELD, **ALL, "tank_pump": 0, "wait": "WAIT_LIMIT"}],
        ["phase", "restore"],
        ["restore", "tank_low"],
        ["restore", "tank_high"],
        ["becomes", 15000, 15000, {**HELD, **ALL}],
        ["phase", "three resets outrank hands"],
        ["resets", 3],
        ["keep", 60000, {**OFF, "duty": "fault_stop", "reason": "RESET_STORM"}],
    ],
)
NO_BYPASS_BY_HAND = sequence(
    "hand_with_a_frosty_loop_and_no_way_round",
    [
        ["set", {**MILD, "outdoor": 10000}],
        ["keep", 120000, OFF],
        ["phase", "frosty: refused"],
        ["hand", {"collector_pump": 1}],
        ["keep", 300000, {**HELD, **OFF, "wait": "WAIT_LIMIT"}],
    ],
    dump_topology=2,
)
SERIES_BY_HAND = sequence(
    "hand_with_a_frosty_radiator_ahead_of_the_exchanger",
    [
        ["set", {**MILD, "outdoor": 20000, "collector": 20000}],
        ["keep", 130000, OFF],
        ["phase", "mild, on"],
        ["hand", {"collector_pump": 1}],
        ["becomes", 5000, 5000, {**HELD, **OFF, "collector_pump": 1}],
        ["phase", "frosty air, off"],
        ["set", {"outdoor": 3999}],
        ["becomes", 5000, 20000, {**HELD, **OFF, "wait": "WAIT_LIMIT"}],
        ["keep", 60000, {**HELD, **OFF, "wait": "WAIT_LIMIT"}],
        ["phase", "out of the glycol's way, on"],
        ["hand", {"collector_pump": 1, "dump_valve_power": 1}],
        ["keep", 115000, {**HELD, "collector_pump": 0, "dump_valve_power": 1}],
        ["becomes", 5000, 10000, {**HELD, "collector_pump": 1, "dump_valve_power": 1}],
        ["phase", "back into it, off at once"],
        ["hand", {"collector_pump": 1}],
        ["becomes", 5000, 5000, {**HELD, **OFF, "wait": "WAIT_LIMIT"}],
    ],
    dump_topology=1,
    dump_crossover=1,
)

# -- purging ---------------------------------------------------------------------------------------
PURGED = {"duty": "hand", "reason": "PURGING"}
PURGE = sequence(
    "purge",
    [
        *FLUSHED,
        ["phase", "five minutes through the radiator"],
        ["upkeep", "UPKEEP_PURGE"],
        ["becomes", 5000, 5000, {**PURGED, **ALL, "dump_valve_power": 0}],
        ["keep", 295000, {**PURGED, **ALL, "dump_valve_power": 0}],
        ["phase", "five minutes through the exchanger"],
        ["becomes", 5000, 5000, {**PURGED, "dump_valve_power": 1, "collector_pump": 0, "tank_pump": 1, "wait": "WAIT_VALVE"}],
        ["keep", 115000, {**PURGED, "dump_valve_power": 1, "collector_pump": 0, "tank_pump": 1}],
        ["keep", 180000, {**PURGED, **ALL}],
        ["phase", "and again"],
        ["becomes", 5000, 5000, {**PURGED, "dump_valve_power": 0}],
        ["keep", 295000, {**PURGED, "dump_valve_power": 0}],
        ["becomes", 5000, 5000, {**PURGED, "dump_valve_power": 1}],
        ["keep", 180000, {**PURGED, "dump_valve_power": 1}],
        ["phase", "warm, still on"],
        ["set", {"collector": 59999}],
        ["keep", 60000, {**PURGED, **ALL}],
        ["phase", "hot: both pumps off"],
        ["set", {"collector": 60000}],
        ["becomes", 5000, 5000, {**PURGED, "collector_pump": 0, "tank_pump": 0}],
        ["keep", 60000, {**PURGED, "collector_pump": 0, "tank_pump": 0}],
        ["phase", "cooler, on"],
        ["set", {"collector": 40000}],
        ["becomes", 5000, 200000, {**PURGED, "collector_pump": 1, "tank_pump": 1}],
        ["phase", "break the collector: no glycol"],
        ["break", "collector", "CAUSE_SILENT"],
        ["becomes", 20000, 20000, {**PURGED, "collector_pump": 0, "wait": "WAIT_LIMIT"}],
        ["phase", "done"],
        ["upkeep", "UPKEEP_NONE"],
        ["becomes", 5000, 5000, {**OFF, "duty": "fault_stop"}],
    ],
)
# From hand straight to purging: purging begins with its own five minutes.
PURGE_AFTER_HAND = sequence(
    "purge_straight_from_hand",
    [
        *FLUSHED,
        ["hand", {"tank_pump": 1}],
        ["keep", 400000, {**HELD, **OFF, "tank_pump": 1}],
        ["phase", "five minutes through the radiator first"],
        ["hand", {}],
        ["upkeep", "UPKEEP_PURGE"],
        ["becomes", 5000, 5000, PURGED],
        ["keep", 290000, {**PURGED, "dump_valve_power": 0}],
    ],
)
# The board allows two hours at most. source: the desk's own limit
PURGE_LONG = sequence(
    "purge_for_two_hours",
    [
        *FLUSHED,
        ["upkeep", "UPKEEP_PURGE"],
        ["becomes", 5000, 5000, PURGED],
        ["keep", 6600000, PURGED],
        ["phase", "to and fro after hours"],
        ["becomes", 0, 305000, {**PURGED, "dump_valve_power": 1}],
        ["becomes", 0, 305000, {**PURGED, "dump_valve_power": 0}],
        ["becomes", 0, 305000, {**PURGED, "dump_valve_power": 1}],
    ],
)

# -- maintenance -----------------------------------------------------------------------------------
UPKEPT = {**OFF, "duty": "maintenance", "reason": "UNDER_MAINTENANCE", "wait": "WAIT_NOTHING"}
MAINTENANCE = sequence(
    "maintenance",
    [
        *LONG_CHARGING,
        ["phase", "charging: all off at once, no run-on"],
        ["upkeep", "UPKEEP_MAINTENANCE"],
        ["becomes", 5000, 5000, UPKEPT],
        ["keep", 300000, UPKEPT],
        ["phase", "outranks hands and frost, and is outranked by resets"],
        ["hand", ALL],
        ["keep", 60000, UPKEPT],
        ["hand", {}],
        ["set", {"exchanger": 3000}],
        ["keep", 60000, UPKEPT],
        ["expect", {"alarms": ["FROST"], "alarm": 1}],
        ["set", {"exchanger": 30000}],
        ["keep", 30000, UPKEPT],
        ["resets", 3],
        ["keep", 10000, {**OFF, "duty": "fault_stop"}],
        ["resets", 0],
        ["keep", 10000, UPKEPT],
        ["phase", "back to work"],
        ["upkeep", "UPKEEP_NONE"],
        ["becomes", 5000, 5000, {"duty": "charging"}],
        ["becomes", 5000, 130000, BOTH_PUMPS],
        ["keep", 90000, BOTH_PUMPS],
        ["phase", "in the run-on: off at once"],
        ["set", {"collector": 20000}],
        ["becomes", 5000, 5000, {"duty": "idle", "tank_pump": 1}],
        ["upkeep", "UPKEEP_MAINTENANCE"],
        ["becomes", 5000, 5000, UPKEPT],
        ["keep", 60000, UPKEPT],
    ],
)
