"""Starts in vain: pump and valve rest longer, but never beside a collector near its limit."""

from .cold_slug import AT_ONCE, GO_ROUND
from .common import AWAKE, BOTH_PUMPS, DARK, FLUSHED, LONG_CHARGING, OFF, SUN, TO_RADIATOR, idle, sequence

LIT = {"duty": "charging", "dump_valve_power": 1, "collector_pump": 0}
HELD_BACK = {**OFF, "duty": "charging", "wait": "WAIT_REST"}
FULL = {"tank_low": 70000, "tank_high": 71000}
HOT = {**FULL, "collector": 96000, "loop_supply": 88000, "loop_return": 70000}
COOLED = {"collector": 79000, "loop_supply": 78000}
DUMP_RESTS = {**OFF, "duty": "dumping", "wait": "WAIT_REST"}
BY_HAND = [["hand", {"dump_valve_power": 1}], ["keep", 5000, {"dump_valve_power": 1}], ["hand", {}], ["keep", 5000, OFF]]
# A sun that is gone before the valve has arrived.
VAIN = [["set", SUN], ["keep", 10000, LIT], ["set", DARK], ["keep", 20000, OFF]]
# The same after a rest that has grown.
VAIN_AGAIN = [["set", SUN], ["becomes", 60000, 2400000, LIT], ["set", DARK], ["keep", 60000, OFF]]
WORTH_IT = [["set", SUN], ["becomes", 5000, 130000, BOTH_PUMPS], ["keep", 150000, BOTH_PUMPS], ["set", DARK], ["keep", 180000, {}]]
DUMPED = [["set", HOT], ["becomes", 5000, 5000, TO_RADIATOR], ["keep", 150000, TO_RADIATOR], ["set", COOLED], ["keep", 60000, OFF]]
GONE_ROUND = [["set", SUN], ["becomes", 5000, 60000, GO_ROUND], ["keep", 150000, GO_ROUND], ["set", DARK], ["keep", 60000, OFF]]

# Going round at first counts, and so does the charge that follows it.
VALVE = sequence(
    "starts_in_vain_lengthen_the_rest",
    [
        *FLUSHED,
        ["phase", "seven times: as ever"],
        *VAIN * 5,
        ["phase", "then they rest for minutes"],
        ["set", SUN],
        ["keep", 400000, HELD_BACK],
        ["phase", "and start"],
        ["becomes", 5000, 40000, LIT],
        ["set", DARK],
        ["keep", 5000, OFF],
        ["phase", "rest upon rest: no alarm yet"],
        ["step_ms", 60000],
        *VAIN_AGAIN * 2,
        ["expect", {"alarms": []}],
        ["phase", "the alarm"],
        *VAIN_AGAIN * 2,
        ["expect", {"alarms": ["STARTS"]}],
        ["phase", "two hours later it is quiet again"],
        ["keep", 7200000, OFF],
        ["expect", {"alarms": []}],
    ],
)
PAID = sequence(
    "starts_that_bring_heat_are_paid_off",
    [*FLUSHED, ["phase", "the tank pump runs for two minutes and a half, again and again"], *WORTH_IT * 10],
)
# Else the radiator's content would send the glycol round, with a start in vain and one more.
UNREAD = sequence(
    "glycol_that_stood_in_unread_air_waits_for_an_open_valve",
    [
        *FLUSHED,
        ["break", "outdoor", "CAUSE_CRC"],
        ["keep", 65000, OFF],
        ["phase", "nobody reads the air: the pump waits for the valve"],
        ["set", SUN],
        ["becomes", 5000, 5000, {**LIT, "wait": "WAIT_VALVE"}],
        ["keep", 100000, LIT],
        ["becomes", 5000, 30000, {"duty": "charging", "collector_pump": 1}],
        ["becomes", 5000, 130000, BOTH_PUMPS],
        ["set", DARK],
        ["keep", 900000, {}],
        ["phase", "ten minutes of rest: round"],
        ["set", SUN],
        ["becomes", 5000, 60000, GO_ROUND],
        ["phase", "and on, while the valve moves"],
        ["becomes", 5000, 60000, {"duty": "charging", "collector_pump": 1}],
        ["keep", 60000, {"duty": "charging", "collector_pump": 1}],
    ],
    dump_crossover=1,
)
DUMPS = sequence(
    "dumps_that_last_are_paid_off_in_part",
    [
        *AWAKE,
        ["set", {**HOT, **COOLED}],
        ["keep", 60000, OFF],
        ["phase", "two minutes and a half each"],
        *DUMPED * 17,
        ["set", HOT],
        ["becomes", 5000, 60000, TO_RADIATOR],
        *DUMPED[2:],
        ["phase", "one more: it rests"],
        ["set", HOT],
        ["keep", 60000, DUMP_RESTS],
    ],
)
ROUNDS = sequence(
    "rounds_that_last_are_paid_off",
    [*AWAKE, ["phase", "two minutes and a half each"], *GONE_ROUND * 20, ["set", SUN], ["becomes", 5000, 60000, GO_ROUND]],
    loop_volume=36000,
    collector_flow=900,
    tank_pump_delay=600000,
)
NEAR = sequence(
    "a_collector_near_its_limit_does_not_wait",
    [
        *AWAKE,
        ["set", HOT],
        ["phase", "hot: it rests"],
        ["keep", 60000, DUMP_RESTS],
        ["phase", "nearly half way to the limit"],
        ["set", {"collector": 107400}],
        ["keep", 5000, DUMP_RESTS],
        ["phase", "half way: at once"],
        ["set", {"collector": 107500}],
        ["becomes", 5000, 5000, TO_RADIATOR],
    ],
    minimum_rest=600000,
)
HANDS = sequence(
    "hands_lengthen_no_rest",
    [*FLUSHED, ["phase", "by hand, ten times"], *BY_HAND * 10, ["phase", "as ever"], *VAIN],
)
TURNS = sequence(
    "turns_lengthen_no_rest",
    [
        *FLUSHED,
        ["step_ms", 60000],
        ["phase", "a turn of each every hour"],
        ["keep", 36000000, {}],
        ["becomes", 60000, 3900000, {"duty": "exercise"}],
        ["becomes", 60000, 600000, {"duty": "idle"}],
        ["step_ms", 5000],
        ["phase", "as ever"],
        ["set", SUN],
        ["becomes", 5000, 60000, LIT],
    ],
    exercise_after=3600,
)

# The collector waits for the run-on before it is dumped, unless it nears its limit.
RUN_ON = sequence(
    "a_collector_near_its_limit_does_not_wait_for_the_run_on",
    [
        *LONG_CHARGING,
        ["set", {"collector": 95000}],
        ["keep", 130000, {"duty": "dumping", "collector_pump": 0, "tank_pump": 1}],
        ["phase", "nearly half way to the limit"],
        ["set", {"collector": 107400}],
        ["keep", 60000, {"duty": "dumping", "collector_pump": 0, "tank_pump": 1, "wait": "WAIT_RUN_ON"}],
        ["phase", "half way: at once"],
        ["set", {"collector": 107500}],
        ["becomes", 5000, 10000, TO_RADIATOR],
    ],
    tank_run_on_time=600000,
)

# A round that ends too early begins again, all day.
WHOLE = sequence(
    "cold_slug_that_cools_the_collector",
    [
        *AWAKE,
        ["set", SUN],
        ["becomes", 5000, 5000, GO_ROUND],
        ["keep", 95000, GO_ROUND],
        ["phase", "no warmer than the tank: round to the end"],
        ["set", {"collector": 22000}],
        ["keep", 100000, GO_ROUND],
        ["phase", "pumped round: not worth a charge"],
        ["becomes", 5000, 5000, idle("NO_DIFFERENCE")],
        ["keep", 60000, OFF],
        ["phase", "the sun is back: no second round"],
        ["set", SUN],
        ["becomes", 5000, 15000, AT_ONCE],
        ["phase", "below collector_minimum: no further"],
        ["reset"],
        ["becomes", 120000, 120000, GO_ROUND],
        ["keep", 95000, GO_ROUND],
        ["ramp", "collector", 20000, 1000, GO_ROUND],
        ["set", {"collector": 19999}],
        ["becomes", 5000, 5000, idle("COLLECTOR_COOL")],
    ],
    loop_volume=10000,
)
