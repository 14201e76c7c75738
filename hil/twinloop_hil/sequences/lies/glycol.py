"""Glycol that brings no heat, does not flow, or moves without a pump."""

from ..common import AWAKE, BOTH_PUMPS, DARK, FLUSHED, LONG_CHARGING, MILD, OFF, SUN, TO_RADIATOR, idle, sequence

QUIET = idle("COLLECTOR_COOL", alarms=[], alarm=0)

# -- charging that brings nothing ------------------------------------------------------------------
PUMPING = {"duty": "charging", "collector_pump": 1, "tank_pump": 0, "wait": "WAIT_EXCHANGER"}
GIVEN_UP = {**OFF, "duty": "fault_stop", "alarms": ["NO_FLOW"], "alarm": 1}
HEAT_ASTRAY = {**GIVEN_UP, "reason": "HEAT_ASTRAY"}
ASTRAY = sequence(
    "heat_goes_astray",
    [
        ["set", {"exchanger": 20999}],
        *FLUSHED,
        ["set", SUN],
        ["becomes", 115000, 130000, PUMPING],
        ["phase", "hot glycol arrives, the plates stay cold: five minutes of hope"],
        ["keep", 295000, {**PUMPING, "alarms": []}],
        ["phase", "given up"],
        ["becomes", 5000, 5000, HEAT_ASTRAY],
        ["keep", 1795000, HEAT_ASTRAY],
        ["phase", "tried again: the plates become warm"],
        ["becomes", 5000, 5000, {"duty": "charging", "alarms": []}],
        ["becomes", 115000, 130000, PUMPING],
        ["set", {"exchanger": 21000}],
        ["becomes", 5000, 5000, BOTH_PUMPS],
        ["phase", "once it runs its cold water says nothing: stays on"],
        ["set", {"exchanger": 20000}],
        ["keep", 600000, BOTH_PUMPS],
    ],
)
# One hot reading beside cold plates is noise.
JUST_ASTRAY = sequence(
    "a_minute_of_hot_glycol_is_no_stuck_valve",
    [
        ["set", {"exchanger": 20999}],
        *FLUSHED,
        ["set", {"collector": 28000, "loop_supply": 22999}],
        ["becomes", 115000, 130000, PUMPING],
        ["keep", 180000, PUMPING],
        ["phase", "hot for less than two minutes: a weak sun"],
        ["keep", 5000, PUMPING],
        ["set", {"loop_supply": 23000}],
        ["keep", 110000, PUMPING],
        ["becomes", 5000, 5000, idle("HEAT_TOO_WEAK", alarms=[])],
    ],
)
KNOWN = {**BOTH_PUMPS, "alarms": ["FOULED"]}
HEAT_ASTRAY_KNOWN = {**HEAT_ASTRAY, "alarms": ["NO_FLOW", "FOULED"]}
# In series such a valve leads the glycol through the radiator to the exchanger.
DRAINED = sequence(
    "a_radiator_in_series_cools_the_glycol_below_the_tank",
    [
        ["set", {**MILD, "collector": 25000, "outdoor": 25000}],
        ["keep", 180000, OFF],
        ["set", {"collector": 50000, "loop_supply": 45000, "exchanger": 30000}],
        ["becomes", 5000, 300000, BOTH_PUMPS],
        ["keep", 90000, BOTH_PUMPS],
        ["phase", "plates at the tank's temperature, less the error of two sensors: charging"],
        ["set", {"collector": 30000, "loop_supply": 27999, "exchanger": 18000, "loop_return": 17000}],
        ["keep", 310000, {**BOTH_PUMPS, "alarms": []}],
        ["phase", "so it is with glycol that is 8 K hotter"],
        ["set", {"loop_supply": 28000, "exchanger": 20000}],
        ["keep", 310000, {**BOTH_PUMPS, "alarms": []}],
        ["phase", "then plates that are colder at all tell, after five minutes"],
        ["set", {"exchanger": 19999}],
        ["keep", 295000, {**BOTH_PUMPS, "alarms": []}],
        ["set", {"exchanger": 20000}],
        ["keep", 5000, BOTH_PUMPS],
        ["set", {"exchanger": 19999}],
        ["keep", 295000, {**BOTH_PUMPS, "alarms": []}],
        ["set", {"loop_supply": 27999}],
        ["keep", 5000, BOTH_PUMPS],
        ["phase", "colder by more than two sensors' error, for less than five minutes: still hoping"],
        ["set", {"exchanger": 17999}],
        ["keep", 295000, {**BOTH_PUMPS, "alarms": []}],
        ["phase", "for five minutes: given up"],
        ["becomes", 5000, 5000, HEAT_ASTRAY_KNOWN],
        ["phase", "tried again, it is known: plates as warm as the tank bring heat"],
        ["set", {"collector": 50000, "loop_supply": 45000, "exchanger": 30000}],
        ["becomes", 1790000, 2100000, KNOWN],
        ["set", {"exchanger": 20000}],
        ["keep", 180000, KNOWN],
        ["phase", "colder, for less than two minutes: still hoping"],
        ["set", {"exchanger": 19999}],
        ["keep", 115000, KNOWN],
        ["phase", "for two minutes: given up"],
        ["becomes", 5000, 5000, HEAT_ASTRAY_KNOWN],
    ],
    dump_topology=1,
)
# With a bypass cold plates are no proof.
UNDRAINED = sequence(
    "cold_plates_of_a_bypass_take_no_heat",
    [
        *LONG_CHARGING,
        ["phase", "charging"],
        ["set", {"exchanger": 17000, "loop_return": 17000}],
        ["keep", 600000, BOTH_PUMPS],
    ],
)
# A valve that looks stuck at the radiator still dumps, and so does a flow input that looks dead.
ASTRAY_HOT = sequence(
    "a_hot_collector_is_dumped_while_the_exchanger_stays_cold",
    [
        ["set", {"exchanger": 20999}],
        *FLUSHED,
        ["set", SUN],
        ["becomes", 400000, 430000, HEAT_ASTRAY],
        ["phase", "hot: to the radiator"],
        ["ramp", "collector", 95000, 5000, {"tank_pump": 0}],
        ["becomes", 0, 130000, {**TO_RADIATOR, "reason": "PAUSE_DUMP", "alarms": ["NO_FLOW"]}],
    ],
)
# Glycol that is just too cold to charge is a weak sun, and so is an exchanger without a reading.
NOT_ASTRAY = sequence(
    "cold_plates_under_weak_glycol_are_no_fault",
    [
        ["set", {"exchanger": 20000}],
        *FLUSHED,
        ["set", {"collector": 28000, "loop_supply": 22999}],
        ["becomes", 115000, 130000, PUMPING],
        ["phase", "5 minutes, and the pump rests"],
        ["keep", 295000, PUMPING],
        ["becomes", 5000, 5000, {**OFF, "duty": "idle", "alarms": []}],
    ],
)
WEAK_UNSEEN = sequence(
    "weak_glycol_and_plates_out_of_sight_are_no_fault",
    [
        *FLUSHED,
        ["set", {"collector": 28000, "loop_supply": 22999}],
        ["becomes", 115000, 130000, PUMPING],
        ["phase", "5 minutes, and the pump rests"],
        ["break", "exchanger", "CAUSE_CRC"],
        ["keep", 295000, PUMPING],
        ["becomes", 5000, 5000, idle("HEAT_TOO_WEAK", alarms=["SENSOR"], alarm=1, EXCHANGER_STATUS="LOST")],
    ],
)
# A dead pump: the collector stays 20 K above the tank for an hour, and the plates stay cold.
# source: the design page, not joined in five minutes is a fault
NO_FLOW_BLIND = sequence(
    "no_flow_without_loop_supply_is_told_by_the_plates",
    [
        ["set", {"exchanger": 20000}],
        *FLUSHED,
        ["set", {"collector": 40000}],
        ["phase", "an hour of pumping in vain"],
        ["becomes", 300000, 3600000, {"alarms": ["NO_FLOW"], "collector_pump": 0}],
    ],
    loop_supply_fitted=0,
)
PLATES_LOST = sequence(
    "plates_out_of_sight_do_not_keep_the_tank_pump",
    [
        ["set", {"exchanger": 20000}],
        *FLUSHED,
        ["set", SUN],
        ["becomes", 115000, 130000, PUMPING],
        ["phase", "break the sensor: by loop_supply alone"],
        ["break", "exchanger", "CAUSE_CRC"],
        ["keep", 60000, PUMPING],
        ["becomes", 5000, 5000, {**BOTH_PUMPS, "EXCHANGER_STATUS": "LOST"}],
        ["phase", "restore: it runs already"],
        ["restore", "exchanger"],
        ["keep", 300000, BOTH_PUMPS],
    ],
)

# -- the flow input --------------------------------------------------------------------------------
FLOW_MISSING = {**GIVEN_UP, "reason": "FLOW_MISSING"}


def flow(name, kind, still, moving, unbidden):
    """A sequence for a switch or a meter: readings that mean no flow, flow, and unbidden flow."""
    return sequence(
        name,
        [
            ["flow", 0],
            *AWAKE,
            ["set", SUN],
            ["becomes", 5000, 5000, {"duty": "dumping", "collector_pump": 1}],
            ["flow", moving],
            ["becomes", 5000, 60000, {"duty": "charging", "collector_pump": 0}],
            ["flow", 0],
            ["becomes", 5000, 130000, BOTH_PUMPS],
            ["flow", moving],
            ["keep", 90000, {**BOTH_PUMPS, "alarms": []}],
            ["phase", "no flow for less than half a minute: goes on"],
            ["flow", still],
            ["keep", 25000, BOTH_PUMPS],
            ["flow", moving],
            ["keep", 5000, BOTH_PUMPS],
            ["flow", still],
            ["keep", 25000, BOTH_PUMPS],
            ["phase", "for half a minute: given up"],
            ["becomes", 5000, 5000, FLOW_MISSING],
            ["flow", 0],
            ["keep", 1795000, FLOW_MISSING],
            ["phase", "half an hour later: tried again"],
            ["becomes", 5000, 5000, {"duty": "charging", "alarms": []}],
            ["becomes", 100000, 130000, {"collector_pump": 1}],
            ["flow", moving],
            ["keep", 300000, BOTH_PUMPS],
            ["phase", "break the input: it proves nothing any more"],
            ["flow_break", "CAUSE_SILENT"],
            ["keep", 115000, {**BOTH_PUMPS, "alarms": []}],
            ["becomes", 5000, 5000, {**BOTH_PUMPS, "alarms": ["SENSOR"]}],
            ["phase", "restore"],
            ["flow", moving],
            ["keep", 60000, {**BOTH_PUMPS, "alarms": []}],
            ["phase", "the pump rests: what still flows after a minute is unbidden"],
            ["set", DARK],
            ["flow", unbidden],
            ["becomes", 5000, 5000, {"collector_pump": 0, "alarms": []}],
            ["keep", 55000, {"collector_pump": 0, "alarms": []}],
            ["becomes", 5000, 5000, {"collector_pump": 0, "alarms": ["UNBIDDEN_FLOW"], "alarm": 1}],
            ["keep", 300000, {"collector_pump": 0, "alarms": ["UNBIDDEN_FLOW"]}],
            ["phase", "and over when it stops"],
            ["flow", 0],
            ["becomes", 5000, 5000, QUIET],
        ],
        flow_sensor=kind,
    )


FLOWLESS_HOT = sequence(
    "a_hot_collector_is_dumped_though_the_flow_input_sees_nothing",
    [
        ["flow", 0],
        *AWAKE,
        ["set", {"collector": 60000, "loop_supply": 32000}],
        ["becomes", 30000, 200000, {**GIVEN_UP, "reason": "FLOW_MISSING"}],
        ["phase", "hot: to the radiator"],
        ["ramp", "collector", 95000, 5000, {"tank_pump": 0}],
        ["becomes", 0, 130000, {**TO_RADIATOR, "reason": "PAUSE_DUMP", "alarms": ["NO_FLOW"]}],
        ["keep", 120000, {"duty": "dumping", "collector_pump": 1}],
    ],
    flow_sensor=1,
)

# It flows above a fifth of collector_flow, unbidden above a tenth. source: default 4500 ml/min
FLOW = [flow("flow_switch", 1, 0, 1, 1), flow("flow_meter", 2, 900, 901, 451)]
METER_CREEP = sequence(
    "flow_meter_that_creeps_at_rest",
    [["flow", 450], *AWAKE, ["phase", "a tenth of the flow is none"], ["keep", 600000, {**OFF, "alarms": []}]],
    flow_sensor=2,
)

# -- glycol that moves by itself, without a flow input ---------------------------------------------
UNBIDDEN = sequence(
    "unbidden_flow_without_a_flow_input",
    [
        *FLUSHED,
        ["phase", "two hours of rest: pipes are still warm"],
        ["keep", 7200000, {**OFF, "alarms": []}],
        ["phase", "it follows for an hour, by less than 12 K: weather"],
        ["set", {"collector": 22000, "loop_supply": 22000}],
        ["keep", 1800000, {**OFF, "alarms": []}],
        ["set", {"collector": 10001, "loop_supply": 13001}],
        ["keep", 7200000, {**OFF, "alarms": []}],
        ["phase", "by 12 K: unbidden"],
        ["set", {"collector": 10000, "loop_supply": 13000}],
        ["becomes", 5000, 5000, {**OFF, "alarms": ["UNBIDDEN_FLOW"], "alarm": 1}],
        ["phase", "apart, but not by 15 K: still"],
        ["set", {"loop_supply": 24999}],
        ["keep", 60000, {"alarms": ["UNBIDDEN_FLOW"]}],
        ["phase", "break what arrives: still"],
        ["break", "loop_supply", "CAUSE_CRC"],
        ["keep", 120000, {"alarms": ["UNBIDDEN_FLOW"]}],
        ["phase", "restore, apart by 15 K: over"],
        ["set", {"loop_supply": 25000}],
        ["becomes", 5000, 15000, {"UNBIDDEN_FLOW": 0}],
        ["phase", "it follows again, but not for an hour"],
        ["set", {"collector": 22000, "loop_supply": 22000}],
        ["keep", 1800000, {"UNBIDDEN_FLOW": 0}],
        ["set", {"collector": 8000, "loop_supply": 8000}],
        ["keep", 1780000, {"UNBIDDEN_FLOW": 0}],
        ["phase", "for an hour: unbidden"],
        ["becomes", 5000, 20000, {"UNBIDDEN_FLOW": 1}],
    ],
)
UNBIDDEN_PUMPED = sequence(
    "pumped_flow_is_bidden",
    [
        *FLUSHED,
        ["keep", 7200000, OFF],
        ["set", {"collector": 22000, "loop_supply": 22000}],
        ["keep", 1800000, OFF],
        ["phase", "a run of the pump starts it again"],
        ["set", {**SUN, "loop_supply": 37000}],
        ["becomes", 5000, 300000, BOTH_PUMPS],
        ["set", DARK],
        ["keep", 300000, {}],
        ["set", {"collector": 10000, "loop_supply": 10000}],
        ["keep", 3600000, {**OFF, "alarms": []}],
    ],
)
