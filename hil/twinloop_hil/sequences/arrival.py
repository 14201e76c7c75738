"""Glycol that is pumped but does not arrive, a sun too weak to charge."""

from .common import AWAKE, BOTH_PUMPS, DARK, FLUSHED, OFF, SUN, TO_RADIATOR, idle, sequence

PUMPING = {"duty": "charging", "collector_pump": 1, "tank_pump": 0, "wait": "WAIT_EXCHANGER"}
GIVEN_UP = {**OFF, "duty": "fault_stop", "reason": "GLYCOL_NOT_ARRIVING"}
# Air far colder than the tank, so that tank_low is not mistaken for an outdoor sensor.
PUMP = [["set", {"collector": 40000, "loop_supply": 15000, "outdoor": 5000}], ["becomes", 115000, 130000, PUMPING]]

NOT_ARRIVING = sequence(
    "glycol_does_not_arrive",
    [
        *FLUSHED,
        *PUMP,
        ["phase", "pumped for less than three minutes: still hoping"],
        ["keep", 175000, PUMPING],
        ["phase", "pumped for three minutes: given up"],
        ["becomes", 5000, 5000, GIVEN_UP],
        ["phase", "given up: no pump below the dump threshold"],
        ["ramp", "collector", 94999, 5000, GIVEN_UP],
        ["ramp", "collector", 40000, 5000, GIVEN_UP],
        ["phase", "half an hour later: next try"],
        ["keep", 1685000, GIVEN_UP],
        ["becomes", 5000, 200000, {"duty": "charging"}],
        ["becomes", 115000, 130000, PUMPING],
        ["keep", 175000, PUMPING],
        ["phase", "again nothing: given up for another half hour"],
        ["becomes", 5000, 5000, GIVEN_UP],
        ["keep", 1795000, GIVEN_UP],
        ["becomes", 5000, 5000, {"duty": "charging"}],
        ["phase", "it arrives after all"],
        ["becomes", 115000, 130000, PUMPING],
        ["keep", 170000, PUMPING],
        ["set", {"loop_supply": 33000}],
        ["becomes", 5000, 5000, BOTH_PUMPS],
        ["keep", 600000, BOTH_PUMPS],
    ],
)

# 2 L at 0.5 L/min take four minutes: long pipes that are cold in the morning are no fault.
SLOWLY_FLUSHED = [
    *AWAKE,
    ["set", SUN],
    ["becomes", 5000, 1800000, {"duty": "charging"}],
    ["set", DARK],
    ["keep", 600000, {}],
    ["expect", idle("COLLECTOR_COOL")],
]
SLOW = sequence(
    "glycol_of_a_slow_loop_takes_its_time",
    [
        *SLOWLY_FLUSHED,
        *PUMP,
        ["phase", "pumped for less than one round: still hoping"],
        ["keep", 235000, PUMPING],
        ["phase", "once round: given up"],
        ["becomes", 5000, 5000, GIVEN_UP],
    ],
    loop_volume=2000,
    collector_flow=500,
)
# A loop of twelve minutes is given up after five all the same, but not for a weak sun.
SLOWEST = sequence(
    "a_dead_pump_of_the_slowest_loop_is_no_weak_sun",
    [
        *SLOWLY_FLUSHED,
        *PUMP,
        ["phase", "pumped for less than five minutes: still hoping"],
        ["keep", 295000, PUMPING],
        ["phase", "five minutes: given up, with an alarm"],
        ["becomes", 5000, 5000, GIVEN_UP],
    ],
    loop_volume=6000,
    collector_flow=500,
    tank_pump_delay=180000,
)

# The sun comes out while the pump runs: glycol that does not arrive then is no weak sun either.
LATER = sequence(
    "a_dead_pump_under_a_sun_that_comes_out_is_no_weak_sun",
    [
        *SLOWLY_FLUSHED,
        ["set", {"collector": 25000, "loop_supply": 17500, "tank_low": 16000, "outdoor": 5000}],
        ["becomes", 115000, 240000, PUMPING],
        ["keep", 60000, PUMPING],
        ["set", {"collector": 40000}],
        ["phase", "pumped for less than five minutes: still hoping"],
        ["keep", 235000, PUMPING],
        ["phase", "five minutes: given up, with an alarm"],
        ["becomes", 5000, 5000, GIVEN_UP],
    ],
    loop_volume=6000,
    collector_flow=500,
    tank_pump_delay=180000,
)

# Each arrival restarts the three minutes, each start of the tank pump the five of a weak sun.
LATE = sequence(
    "glycol_that_arrives_now_and_then",
    [
        *FLUSHED,
        *PUMP,
        ["phase", "arrived once: three more minutes"],
        ["keep", 170000, PUMPING],
        ["set", {"loop_supply": 33000}],
        ["becomes", 5000, 5000, BOTH_PUMPS],
        ["set", {"loop_supply": 20000}],
        ["becomes", 5000, 5000, PUMPING],
        ["keep", 170000, PUMPING],
        ["phase", "given up"],
        ["becomes", 5000, 5000, GIVEN_UP],
    ],
)
JOINED = sequence(
    "tank_pump_that_joins_now_and_then",
    [
        *FLUSHED,
        *PUMP,
        ["set", {"collector": 27999, "loop_supply": 22000}],
        ["phase", "joined once: five more minutes"],
        ["keep", 290000, PUMPING],
        ["set", {"loop_supply": 23000}],
        ["becomes", 5000, 5000, BOTH_PUMPS],
        ["set", {"loop_supply": 20000}],
        ["becomes", 5000, 5000, PUMPING],
        ["keep", 295000, PUMPING],
        ["phase", "not worth it"],
        ["becomes", 5000, 5000, idle("HEAT_TOO_WEAK")],
    ],
)

EXACT = sequence(
    "glycol_arrives_colder_by_just_start_difference",
    [
        *FLUSHED,
        *PUMP,
        ["phase", "arrives colder by start_difference: a fault"],
        ["set", {"collector": 28000, "loop_supply": 20000}],
        ["keep", 175000, PUMPING],
        ["becomes", 5000, 5000, GIVEN_UP],
    ],
)

WEAK = sequence(
    "sun_too_weak_to_be_worth_it",
    [
        *FLUSHED,
        *PUMP,
        ["phase", "glycol flows, but brings nothing: the pump rests without a fault"],
        ["set", {"collector": 27999, "loop_supply": 20000}],
        # It has got warmer, so the five minutes begin now.
        ["keep", 300000, PUMPING],
        ["becomes", 5000, 5000, idle("HEAT_TOO_WEAK", alarms=[], alarm=0)],
        ["phase", "half an hour, also with more sun"],
        ["set", {"collector": 40000, "loop_supply": 25000}],
        ["keep", 1790000, idle("HEAT_TOO_WEAK", alarms=[], alarm=0)],
        ["phase", "next try"],
        ["becomes", 5000, 130000, BOTH_PUMPS],
    ],
)

# While charging rests, the collector becomes hot enough to be dumped.
WEAK_THEN_HOT = sequence(
    "hot_after_all_while_charging_rests",
    [
        *FLUSHED,
        ["ramp", "tank_low", 45000, 1000, OFF],
        ["set", {"tank_high": 45000, "loop_supply": 46500}],
        ["ramp", "collector", 54000, 5000, {}],
        ["becomes", 400000, 450000, idle("HEAT_TOO_WEAK")],
        ["phase", "between, still off"],
        ["set", {"collector": 59999}],
        ["keep", 60000, idle("HEAT_TOO_WEAK")],
        ["phase", "hot, on"],
        ["set", {"collector": 60000}],
        ["becomes", 5000, 130000, {**TO_RADIATOR, "reason": "PAUSE_DUMP"}],
    ],
    dump_collector_start=60000,
    dump_collector_stop=40000,
)

# A long pipe loses 4 K on a hot day, and the exchanger takes 26 K: no fault.
PIPE_LOSS = sequence(
    "heat_that_arrives_a_little_colder_is_not_missing",
    [
        *FLUSHED,
        ["set", {"collector": 70000, "loop_supply": 66000, "loop_return": 40000}],
        ["becomes", 5000, 240000, BOTH_PUMPS],
        ["phase", "the smallest start_difference, and heat arrives all the while"],
        ["keep", 600000, {**BOTH_PUMPS, "NO_FLOW": 0}],
    ],
    start_difference=4000,
    stop_difference=2000,
)

# Without loop_supply the tank pump starts by time, and five minutes of waiting prove nothing.
BLIND = sequence(
    "arrival_unknown_without_loop_supply",
    [
        *FLUSHED,
        ["set", {"collector": 40000}],
        ["becomes", 115000, 130000, PUMPING],
        ["phase", "waits for its time, past five minutes, without a fault"],
        ["keep", 595000, PUMPING],
        ["becomes", 5000, 5000, BOTH_PUMPS],
        ["keep", 600000, BOTH_PUMPS],
    ],
    loop_supply_fitted=0,
    tank_pump_delay=600000,
)

# Plates that glycol has warmed show that it arrives, however weak the sun.
PLATES_TELL = sequence(
    "plates_tell_without_loop_supply",
    [
        *FLUSHED,
        ["set", {"collector": 40000, "exchanger": 20000}],
        ["becomes", 115000, 130000, PUMPING],
        ["phase", "cold plates: nothing arrives"],
        ["becomes", 300000, 365000, GIVEN_UP],
        ["keep", 1700000, GIVEN_UP],
        ["set", {"collector": 28000}],
        ["phase", "colder than the collector by 8 K: nothing arrives"],
        ["becomes", 5000, 100000, {"duty": "charging"}],
        ["becomes", 300000, 500000, GIVEN_UP],
        ["keep", 1700000, GIVEN_UP],
        ["phase", "by less: a weak sun"],
        ["set", {"exchanger": 20100}],
        ["becomes", 5000, 100000, {"duty": "charging"}],
        ["becomes", 300000, 500000, idle("HEAT_TOO_WEAK", alarms=[], alarm=0)],
    ],
    loop_supply_fitted=0,
)

# Held readings count: both are held when the three minutes end.
HELD_THEN = sequence(
    "held_readings_as_three_minutes_end",
    [
        *FLUSHED,
        *PUMP,
        ["keep", 165000, PUMPING],
        ["break", "collector", "CAUSE_CRC"],
        ["break", "loop_supply", "CAUSE_CRC"],
        ["keep", 10000, PUMPING],
        ["phase", "given up"],
        ["becomes", 5000, 5000, {**GIVEN_UP, "COLLECTOR_STATUS": "HELD", "LOOP_SUPPLY_STATUS": "HELD"}],
    ],
)

# Whatever gave charging up may be wrong: at the dump threshold the radiator gets its chance.
PAUSE_DUMP = {**TO_RADIATOR, "reason": "PAUSE_DUMP"}
ALSO_STOPPED = {**OFF, "alarms": ["NO_FLOW"], "alarm": 1}
HOT_GIVEN_UP = sequence(
    "a_hot_collector_is_dumped_while_charging_is_given_up",
    [
        *FLUSHED,
        *PUMP,
        ["keep", 175000, PUMPING],
        ["becomes", 5000, 5000, GIVEN_UP],
        ["phase", "below the threshold: off"],
        ["ramp", "collector", 94999, 5000, GIVEN_UP],
        ["keep", 125000, GIVEN_UP],
        ["phase", "hot: to the radiator, and the alarm stays"],
        ["set", {"collector": 95000}],
        ["becomes", 5000, 5000, {**PAUSE_DUMP, "alarms": ["NO_FLOW"], "alarm": 1}],
        ["phase", "cool enough: off"],
        ["ramp", "collector", 80001, 5000, PAUSE_DUMP],
        ["keep", 90000, PAUSE_DUMP],
        ["set", {"collector": 80000}],
        ["becomes", 5000, 5000, GIVEN_UP],
        ["keep", 60000, GIVEN_UP],
        ["phase", "steam outranks it"],
        ["ramp", "collector", 119999, 5000, {}],
        ["keep", 60000, {"duty": "dumping"}],
        ["set", {"collector": 120000}],
        ["becomes", 5000, 5000, {**ALSO_STOPPED, "duty": "stagnation_hold", "reason": "STEAM", "alarms": ["NO_FLOW", "STEAM"]}],
        ["ramp", "collector", 100000, 5000, {}],
        ["becomes", 5000, 65000, PAUSE_DUMP],
        ["phase", "stiff glycol outranks it"],
        ["ramp", "outdoor", -20000, 1000, {}],
        ["keep", 10000, {**OFF, "duty": "idle", "reason": "GLYCOL_STIFF"}],
        ["ramp", "outdoor", 5000, 1000, {}],
        ["keep", 65000, {}],
        ["expect", PAUSE_DUMP],
        ["phase", "without effect: given up as well"],
        ["set", {"loop_return": 15000}],
        ["becomes", 175000, 185000, {**ALSO_STOPPED, **GIVEN_UP, "alarms": ["NO_FLOW", "DUMP"]}],
    ],
)
# A frosty radiator in series would reach the exchanger.
HOT_GIVEN_UP_SERIES = sequence(
    "given_up_with_a_frosty_radiator_in_series",
    [
        *AWAKE,
        ["keep", 7200000, OFF],
        ["set", SUN],
        ["becomes", 5000, 300000, BOTH_PUMPS],
        ["set", {"collector": 60000, "loop_supply": 15000, "outdoor": 9000}],
        ["becomes", 5000, 400000, GIVEN_UP],
        # Since boot the sensor has been doubted by 4.5 K; the last 3 K of frost freeze nothing.
        ["ramp", "outdoor", 5400, 1000, GIVEN_UP],
        ["ramp", "collector", 95000, 5000, GIVEN_UP],
        ["phase", "hot: refused"],
        ["keep", 30000, GIVEN_UP],
        ["phase", "mild: to the radiator"],
        ["set", {"outdoor": 12000}],
        ["becomes", 5000, 180000, PAUSE_DUMP],
    ],
    dump_topology=1,
)

# Glycol that gets warmer is arriving, however far it is from a collector sensor that reads high.
RISING = sequence(
    "glycol_that_gets_warmer_is_arriving",
    [
        *FLUSHED,
        ["set", {"collector": 60000, "loop_supply": 5000, "tank_low": 20000, "outdoor": 5000}],
        ["becomes", 115000, 130000, PUMPING],
        ["phase", "2 K every few minutes: still hoping"],
        *[
            line
            for warm in (7000, 9000, 11000, 13000)
            for line in (["keep", 170000, PUMPING], ["set", {"loop_supply": warm}], ["keep", 5000, PUMPING])
        ],
        ["phase", "less than 2 K: given up three minutes after it last did"],
        ["keep", 5000, PUMPING],
        ["set", {"loop_supply": 14999}],
        ["keep", 165000, PUMPING],
        ["becomes", 5000, 5000, GIVEN_UP],
    ],
)
RISING_WEAK = sequence(
    "glycol_that_gets_warmer_is_no_weak_sun",
    [
        *FLUSHED,
        ["set", {"collector": 28000, "loop_supply": 20500, "tank_low": 20000}],
        ["becomes", 115000, 130000, PUMPING],
        ["phase", "2 K within five minutes: still hoping"],
        ["keep", 290000, PUMPING],
        ["set", {"loop_supply": 22500}],
        ["keep", 295000, PUMPING],
        ["phase", "five minutes without: the pump rests"],
        ["becomes", 5000, 10000, idle("HEAT_TOO_WEAK")],
    ],
)

# Far apart in the last two minutes only: the sun has come out, and the next try will tell.
JUST_FAR = sequence(
    "a_sun_that_has_just_come_out_proves_nothing",
    [
        *FLUSHED,
        *PUMP,
        ["set", {"collector": 27999, "loop_supply": 20000}],
        ["keep", 185000, PUMPING],
        ["phase", "far apart for less than two minutes: a weak sun"],
        ["set", {"collector": 28000}],
        ["keep", 115000, PUMPING],
        ["becomes", 5000, 5000, idle("HEAT_TOO_WEAK", alarms=[])],
    ],
)

# The collector is lost in the very step that would judge the three minutes.
LOST_THEN = sequence(
    "collector_lost_as_three_minutes_end",
    [
        *FLUSHED,
        *PUMP,
        ["phase", "lost at the end: its own reason, no retry pause"],
        ["keep", 160000, PUMPING],
        ["break", "collector", "CAUSE_OPEN"],
        ["keep", 15000, PUMPING],
        ["becomes", 5000, 5000, {**OFF, "duty": "fault_stop", "reason": "COLLECTOR_UNKNOWN", "NO_FLOW": 0}],
    ],
)
