"""Actuators, plant and sensors that lie: evidence, time to detection, what is done, when it is tried again, and the alarm."""

from .collector import TANK_FULL
from .common import AWAKE, BOTH_PUMPS, COLLECTOR_GONE, DARK, FLUSHED, LONG_CHARGING, MILD, OFF, SUN, TO_RADIATOR, idle, sequence

# -- the radiator ----------------------------------------------------------------------------------------------------------
FULL_DUMP = {**TO_RADIATOR, "reason": "TANK_FULL_DUMP"}
DEAD = idle("RADIATOR_DEAD", alarms=["DUMP"], alarm=1)
# Hot glycol goes to the radiator and comes back colder by 3 K.
HOT = [["set", {"loop_supply": 90000, "loop_return": 87000}], ["ramp", "collector", 100000, 5000, {}], ["keep", 5000, FULL_DUMP]]

RADIATOR = sequence(
    "dead_radiator",
    [
        *TANK_FULL,
        *HOT,
        ["phase", "it takes out 2 K: works"],
        ["set", {"loop_return": 88000}],
        ["keep", 600000, {**FULL_DUMP, "alarms": []}],
        ["phase", "less, for less than three minutes: still hoping"],
        ["set", {"loop_return": 88001}],
        ["keep", 175000, FULL_DUMP],
        ["set", {"loop_return": 88000}],
        ["keep", 5000, FULL_DUMP],
        ["set", {"loop_return": 88001}],
        ["keep", 175000, FULL_DUMP],
        ["phase", "for three minutes: given up"],
        ["becomes", 5000, 5000, DEAD],
        ["phase", "half an hour later: tried again, and given up again"],
        ["keep", 1795000, DEAD],
        ["becomes", 5000, 5000, {**FULL_DUMP, "alarms": []}],
        ["keep", 175000, FULL_DUMP],
        ["becomes", 5000, 5000, DEAD],
        ["phase", "the collector cools by itself: nothing to dump, the alarm stays"],
        ["ramp", "collector", 80000, 5000, {"alarms": ["DUMP"], "collector_pump": 0}],
        ["keep", 60000, idle("TANK_FULL_REFUSED", alarms=["DUMP"])],
        ["ramp", "collector", 100000, 5000, {"collector_pump": 0}],
        ["phase", "it works again"],
        ["becomes", 1500000, 1800000, FULL_DUMP],
        ["set", {"loop_return": 85000}],
        ["keep", 600000, {**FULL_DUMP, "alarms": []}],
    ],
)

# Without both loop sensors the collector tells: it has to have fallen by 2 K.
RADIATOR_BLIND = sequence(
    "dead_radiator_by_the_collector",
    [
        *TANK_FULL,
        ["ramp", "collector", 100000, 5000, {}],
        ["keep", 5000, FULL_DUMP],
        ["phase", "not colder: given up"],
        ["keep", 170000, FULL_DUMP],
        ["becomes", 5000, 15000, DEAD],
        ["keep", 1795000, DEAD],
        ["becomes", 5000, 5000, FULL_DUMP],
        ["keep", 5000, FULL_DUMP],
        ["phase", "colder by less than 2 K: given up"],
        ["set", {"collector": 98001}],
        ["keep", 170000, FULL_DUMP],
        ["becomes", 5000, 5000, DEAD],
        ["keep", 1795000, DEAD],
        ["set", {"collector": 100000}],
        ["becomes", 5000, 5000, FULL_DUMP],
        ["phase", "colder by 2 K: works"],
        ["keep", 5000, FULL_DUMP],
        ["set", {"collector": 98000}],
        ["keep", 600000, FULL_DUMP],
    ],
    loop_return_fitted=0,
)

RADIATOR_LOST = sequence(
    "dead_radiator_with_a_sensor_lost_meanwhile",
    [
        *TANK_FULL,
        *HOT,
        ["set", {"loop_return": 90000, "collector": 97000}],
        ["keep", 60000, FULL_DUMP],
        ["phase", "break the sensor: judged by the collector, which fell"],
        ["break", "loop_supply", "CAUSE_CRC"],
        ["keep", 60000, {**FULL_DUMP, "LOOP_SUPPLY_STATUS": "HELD"}],
        ["keep", 600000, {**FULL_DUMP, "LOOP_SUPPLY_STATUS": "LOST"}],
        ["phase", "restore: judged by the two again"],
        ["restore", "loop_supply"],
        ["keep", 180000, FULL_DUMP],
        ["becomes", 5000, 20000, DEAD],
    ],
)

# A frosty loop that goes round is no dump: nobody asks what it leaves in the radiator.
ROUND = sequence(
    "going_round_is_not_judged",
    [
        *AWAKE,
        ["set", {**SUN, "loop_return": 32000}],
        ["becomes", 5000, 5000, {"duty": "dumping", "reason": "COLD_SLUG_ROUND"}],
        ["phase", "no effect for seven minutes, and no alarm"],
        ["keep", 420000, {"duty": "dumping", "reason": "COLD_SLUG_ROUND", "alarms": []}],
    ],
    loop_volume=25000,
    tank_pump_delay=120000,
)

HEATS = idle("DUMP_HEATS_TANK", alarms=["DUMP"], alarm=1)
HEATING = sequence(
    "dump_that_heats_the_tank",
    [
        *TANK_FULL,
        *HOT,
        ["phase", "not yet 2 K: dumping"],
        ["set", {"tank_high": 71999}],
        ["keep", 300000, {**FULL_DUMP, "alarms": []}],
        ["phase", "2 K: given up"],
        ["set", {"tank_high": 72000}],
        ["becomes", 5000, 5000, HEATS],
        ["keep", 1795000, HEATS],
        ["phase", "half an hour later: tried again, from what the tank is then"],
        ["becomes", 5000, 5000, {**FULL_DUMP, "alarms": []}],
        ["keep", 5000, FULL_DUMP],
        ["set", {"tank_high": 73999}],
        ["keep", 300000, FULL_DUMP],
        ["phase", "and given up again"],
        ["set", {"tank_high": 74000}],
        ["becomes", 5000, 5000, HEATS],
        ["keep", 1795000, HEATS],
        ["becomes", 5000, 5000, FULL_DUMP],
        ["phase", "break the top: the bottom alone is compared, without a margin"],
        ["break", "tank_high", "CAUSE_CRC"],
        ["keep", 300000, {"duty": "dumping", "collector_pump": 1}],
    ],
)

# In series the dumped glycol passes the exchanger, so some heat is no wonder there.
HEATING_SERIES = sequence(
    "dump_in_series_may_warm_the_tank",
    [
        ["set", {**MILD, "collector": 25000, "outdoor": 25000}],
        ["keep", 180000, OFF],
        ["ramp", "tank_high", 74000, 1000, OFF],
        ["ramp", "tank_low", 70000, 1000, OFF],
        ["set", {"loop_supply": 90000, "loop_return": 87000}],
        ["ramp", "collector", 100000, 5000, {}],
        ["keep", 30000, FULL_DUMP],
        ["phase", "3 K more in the tank, still dumping"],
        ["ramp", "tank_high", 77000, 1000, FULL_DUMP],
        ["keep", 300000, FULL_DUMP],
    ],
    dump_topology=1,
)


# A valve that was found stuck is no way round for a frosty loop either.
def no_way_round(name, readings, soonest_ms, given_up):
    """A dump is given up because of these readings; then the loop becomes frosty and the tank cold."""
    return sequence(
        name,
        [
            *TANK_FULL,
            *HOT,
            ["set", readings],
            ["becomes", soonest_ms, soonest_ms + 10000, given_up],
            ["ramp", "collector", 3000, 5000, {"collector_pump": 0}],
            ["ramp", "tank_low", 12000, 1000, {"collector_pump": 0}],
            ["ramp", "tank_high", 15000, 1000, {"collector_pump": 0}],
            ["phase", "frosty loop: refused"],
            ["set", {**DARK, "collector": 50000}],
            ["keep", 10000, OFF],
            ["keep", 600000, idle(given_up["reason"])],
            ["phase", "half an hour after it was given up: round"],
            ["becomes", 600000, 1500000, {**TO_RADIATOR, "reason": "COLD_SLUG_ROUND"}],
        ],
    )


STUCK_ROUND = no_way_round("no_way_round_while_the_valve_may_be_stuck", {"tank_high": 72000}, 5000, HEATS)
DEAD_ROUND = no_way_round("no_way_round_through_a_dead_radiator", {"loop_return": 90000}, 180000, DEAD)

# With an open crossover the pump need not stop between charging and dumping: the dump is still judged from its own beginning.
OPEN_DUMP = sequence(
    "a_dump_is_judged_from_its_own_beginning",
    [
        *FLUSHED,
        ["set", {"collector": 28000, "loop_supply": 20500}],
        ["becomes", 5000, 5000, {"duty": "charging", "collector_pump": 1, "tank_pump": 0}],
        ["keep", 60000, {"duty": "charging", "collector_pump": 1, "tank_pump": 0}],
        ["phase", "the tank is as warm as before: the dump goes on"],
        ["set", {"collector": 91000}],
        ["becomes", 5000, 15000, {**TO_RADIATOR, "reason": "CHARGE_LIMIT_DUMP"}],
        ["keep", 60000, {**TO_RADIATOR, "alarms": []}],
    ],
    dump_crossover=1,
)

# -- charging that brings nothing ------------------------------------------------------------------------------------------
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
# Just not hot enough to be worth it is the weak sun's case, and so is an exchanger nobody can see.
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
# A dead pump: the collector is 20 K above the tank for an hour, and the plates say that nothing comes.
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


def swap(name, changes, reason):
    """At night the collector's sensor reads the tank and tank_low the roof; changed by so much, it is taken for it or not."""
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

# The same in frost, and nobody sees what arrives: going round would end with a loop that the tank's own warmth calls warm.
SWAPPED_IN_FROST = sequence(
    "swapped_in_frost",
    [
        ["set", {**MILD, "collector": 50000, "tank_low": -3000, "tank_high": 55000, "outdoor": -2000}],
        ["keep", 115000, OFF],
        ["phase", "no glycol is sent round"],
        ["keep", 5000, OFF],
        ["keep", 60000, idle("COLD_SLUG_REFUSED")],
        ["phase", "found within ten minutes of boot"],
        ["becomes", 5000, 150000, {**GIVEN_UP, "reason": "SENSORS_SWAPPED"}],
        ["keep", 1795000, {**GIVEN_UP, "reason": "SENSORS_SWAPPED"}],
        ["becomes", 5000, 5000, idle("COLD_SLUG_REFUSED", alarms=[], alarm=0)],
    ],
    loop_supply_fitted=0,
)

# A dead pump in the sun: the collector is the tank's neighbour in temperature by chance, and becomes hotter.
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

# -- the flow input --------------------------------------------------------------------------------------------------------
FLOW_MISSING = {**GIVEN_UP, "reason": "FLOW_MISSING"}
QUIET = idle("COLLECTOR_COOL", alarms=[], alarm=0)


def flow(name, kind, still, moving, unbidden):
    """A switch or a meter: what is no flow under a running pump, what is, and what counts as flow that nobody asked for."""
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


# A fifth of collector_flow is flow, and a tenth of it without a pump. source: 4500 ml/min, the setting's default
FLOW = [flow("flow_switch", 1, 0, 1, 1), flow("flow_meter", 2, 900, 901, 451)]
METER_CREEP = sequence(
    "flow_meter_that_creeps_at_rest",
    [
        ["flow", 450],
        *AWAKE,
        ["phase", "a tenth of the flow is none"],
        ["keep", 600000, {**OFF, "alarms": []}],
    ],
    flow_sensor=2,
)

# -- sensors of the tank ---------------------------------------------------------------------------------------------------
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
        ["ramp", "tank_low", 54999, 1000, {"TANK_OVER": 0}],
        ["set", {"tank_low": 55000}],
        ["becomes", 5000, 5000, {"TANK_OVER": 1, "TANK_FULL": 1}],
        ["phase", "break the top: one alone is not crossed"],
        ["break", "tank_high", "CAUSE_CRC"],
        ["keep", 60000, {"alarms": ["TANK_CROSSED"]}],
        ["becomes", 5000, 5000, {"alarms": [], "TANK_HOTTEST_MC": 75000}],
        ["phase", "restore, in order"],
        ["set", {"tank_high": 56000}],
        ["becomes", 15000, 15000, {"alarms": [], "TANK_HOTTEST_MC": 56000}],
    ],
)

# -- glycol that moves by itself, without a flow input ----------------------------------------------------------------------
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

# -- taps, exchanger, alarms -----------------------------------------------------------------------------------------------
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

# Glycol arrives 12 K above the tank; a clean exchanger takes six tenths of that out of it.
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
# Stuck 25 K above the air: glycol may be hotter than it says. source: docs/sensors.md
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

SEQUENCES = [
    RADIATOR,
    RADIATOR_BLIND,
    RADIATOR_LOST,
    ROUND,
    HEATING,
    HEATING_SERIES,
    STUCK_ROUND,
    DEAD_ROUND,
    OPEN_DUMP,
    ASTRAY,
    NOT_ASTRAY,
    WEAK_UNSEEN,
    NO_FLOW_BLIND,
    PLATES_LOST,
    *SWAPPED,
    SWAPPED_IN_FROST,
    WARMED,
    SWAP_UNSEEN,
    *FLOW,
    METER_CREEP,
    FROZEN,
    FLICKERS,
    CROSSED,
    UNBIDDEN,
    UNBIDDEN_PUMPED,
    SCALD,
    FOULED,
    STILL,
    LOST,
    ABSENT,
    ALARMS,
]
