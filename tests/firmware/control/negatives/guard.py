"""The guard, when the rules are broken on purpose: what it stops, after how long, for how long, and what it lets pass.

It acts 15 s after the rules would have given up a held reading: 30 s after the last good collector, 75 s after the last good tank
reading. source: guard.py's margin and the design page's sensor ages
"""

from twinloop_hil.sequences.collector import TANK_FULL
from twinloop_hil.sequences.common import BOTH_PUMPS, DARK, FLUSHED, LONG_CHARGING, OFF, TO_RADIATOR, sequence

from ..syntax_edits import body_gone, constant, no_row, statement_gone, swapped

ACTED = {**OFF, "duty": "fault_stop", "reason": "GUARD_ACTED"}
DUMPING = [*TANK_FULL, ["ramp", "collector", 95000, 5000, {}], ["becomes", 5000, 90000, {**TO_RADIATOR, "GUARD_ACTIONS": 0}]]

STEAM = sequence(
    "guard_on_steam",
    [
        *DUMPING,
        ["phase", "below the limit: nothing"],
        ["ramp", "collector", 119999, 5000, TO_RADIATOR],
        ["keep", 120000, TO_RADIATOR],
        ["phase", "at the limit, for as long as the rules may take"],
        ["set", {"collector": 120000}],
        ["keep", 30000, TO_RADIATOR],
        ["phase", "good for one step: counts from the start"],
        ["set", {"collector": 119999}],
        ["keep", 5000, TO_RADIATOR],
        ["set", {"collector": 120000}],
        ["keep", 30000, TO_RADIATOR],
        ["phase", "longer: acts"],
        ["becomes", 5000, 5000, {**OFF, "GUARD_ACTIONS": 1, "alarms": ["GUARD"], "alarm": 1}],
        ["phase", "ten minutes off, although it is good again"],
        ["set", {"collector": 100000}],
        ["keep", 595000, {**ACTED, "GUARD_ACTIONS": 1, "alarms": ["GUARD"], "alarm": 1}],
        ["keep", 5000, ACTED],
        ["phase", "back to work"],
        ["becomes", 5000, 5000, {**TO_RADIATOR, "GUARD_ACTIONS": 1}],
        ["phase", "again, and still bad when the pause is over: no relay moves"],
        ["set", {"collector": 125000}],
        ["becomes", 35000, 35000, {**OFF, "GUARD_ACTIONS": 2}],
        ["keep", 600000, {**ACTED, "GUARD_ACTIONS": 2}],
        ["becomes", 5000, 5000, {**OFF, "GUARD_ACTIONS": 3}],
        ["keep", 600000, {**ACTED, "GUARD_ACTIONS": 3}],
    ],
)

COLLECTOR_LOST = sequence(
    "guard_on_a_lost_collector",
    [
        *DUMPING,
        ["phase", "bad for as long as the rules may take"],
        ["break", "collector", "CAUSE_SILENT"],
        ["keep", 30000, TO_RADIATOR],
        ["phase", "longer: acts"],
        ["becomes", 5000, 5000, {**OFF, "GUARD_ACTIONS": 1}],
        ["restore", "collector"],
        ["keep", 600000, ACTED],
        ["phase", "back to work"],
        ["becomes", 5000, 5000, TO_RADIATOR],
    ],
)

TANK_OVER = sequence(
    "guard_on_a_tank_over_its_limit",
    [
        *LONG_CHARGING,
        ["phase", "one kelvin over: the rules act at the limit itself"],
        ["ramp", "tank_high", 76000, 1000, BOTH_PUMPS],
        ["keep", 300000, BOTH_PUMPS],
        ["phase", "more, for as long as the rules may take"],
        ["set", {"tank_high": 76001}],
        ["keep", 75000, BOTH_PUMPS],
        ["phase", "longer: acts"],
        ["becomes", 5000, 5000, {**OFF, "GUARD_ACTIONS": 1}],
        ["set", {"tank_high": 70000}],
        ["keep", 600000, ACTED],
        ["phase", "back to work"],
        ["becomes", 5000, 125000, BOTH_PUMPS],
        ["phase", "the low sensor counts as well"],
        ["set", {"collector": 85000, "loop_supply": 80000}],
        ["ramp", "tank_low", 76001, 1000, {"collector_pump": 1}],
        ["becomes", 75000, 75000, {**OFF, "GUARD_ACTIONS": 2}],
    ],
)

TANK_LOST = sequence(
    "guard_on_two_lost_tank_sensors",
    [
        *LONG_CHARGING,
        ["phase", "one is enough"],
        ["break", "tank_low", "CAUSE_CRC"],
        ["keep", 300000, BOTH_PUMPS],
        ["restore", "tank_low"],
        ["break", "tank_high", "CAUSE_CRC"],
        ["keep", 300000, BOTH_PUMPS],
        ["phase", "none, for as long as the rules may take"],
        ["break", "tank_low", "CAUSE_CRC"],
        ["keep", 75000, BOTH_PUMPS],
        ["phase", "longer: acts"],
        ["becomes", 5000, 5000, {**OFF, "GUARD_ACTIONS": 1}],
        ["keep", 600000, ACTED],
        ["phase", "to the radiator it may go"],
        ["set", {"collector": 90000}],
        ["becomes", 5000, 5000, {**TO_RADIATOR, "GUARD_ACTIONS": 1}],
        ["keep", 300000, {**TO_RADIATOR, "GUARD_ACTIONS": 1}],
    ],
)

# What is broken, so that the guard is needed at all.
BROKEN = [
    (STEAM, swapped("latch_steam", "state[COLLECTOR_MC] >= settings[COLLECTOR_LIMIT]", "False")),
    (COLLECTOR_LOST, swapped("grow_old", "age > limit", "False")),
    (TANK_OVER, statement_gone("latch_full", "state[TANK_FULL] = 1")),
    (TANK_LOST, swapped("grow_old", "age > limit", "False")),
]

# The rules do the right thing: the tank pump alone may run on over a hot tank, and that is none of the guard's business.
RUN_ON = sequence(
    "guard_lets_the_tank_pump_run_on",
    [
        *LONG_CHARGING,
        ["set", {"collector": 80000, "loop_supply": 55000}],
        ["keep", 10000, BOTH_PUMPS],
        ["set", {"loop_supply": 79000}],
        ["ramp", "tank_high", 74999, 1000, BOTH_PUMPS],
        ["phase", "run-on"],
        ["ramp", "tank_high", 77000, 1000, {"tank_pump": 1}],
        ["keep", 170000, {"collector_pump": 0, "tank_pump": 1, "GUARD_ACTIONS": 0}],
        ["becomes", 5000, 10000, {**OFF, "GUARD_ACTIONS": 0}],
    ],
)

# Over the limit by more than the guard's kelvin, and yet glycol that is colder than the whole tank can only take heat out.
NIGHT = sequence(
    "guard_lets_a_cold_night_cool_a_hot_tank",
    [
        *FLUSHED,
        ["ramp", "collector", 60000, 5000, {}],
        ["ramp", "tank_high", 78000, 1000, {}],
        ["ramp", "tank_low", 74000, 1000, {}],
        ["set", DARK],
        ["phase", "cooling"],
        ["becomes", 5000, 500000, {"duty": "night_cooling", "collector_pump": 1, "tank_pump": 1}],
        ["keep", 300000, {"duty": "night_cooling", "tank_pump": 1, "GUARD_ACTIONS": 0}],
    ],
    away=1,
)

# A value that cannot be: off the scale the rules bring no more heat, below it they go on by tank_low and its margin.
RANGE = sequence(
    "guard_agrees_that_an_impossible_tank_reading_is_none",
    [
        *LONG_CHARGING,
        ["phase", "tank_high colder than its range"],
        ["set", {"tank_high": -6000}],
        ["keep", 300000, {**BOTH_PUMPS, "GUARD_ACTIONS": 0}],
        ["phase", "tank_high hotter than its range"],
        ["set", {"tank_high": 120000}],
        ["becomes", 5000, 5000, {"collector_pump": 0, "GUARD_ACTIONS": 0}],
        ["keep", 600000, {"collector_pump": 0, "GUARD_ACTIONS": 0}],
    ],
)
JUMPING = sequence(
    "guard_agrees_that_a_jumping_tank_reading_is_none",
    [
        *LONG_CHARGING,
        ["phase", "tank_high jumps faster than a tank can"],
        ["swing", "tank_high", 80000, 95000, 300000, {**BOTH_PUMPS, "GUARD_ACTIONS": 0}],
    ],
)

SEQUENCES = [RUN_ON, NIGHT, RANGE, JUMPING]

LONGER = "longer: acts"
LIMIT = "inputs[IN_RAW_MC + COLLECTOR] < settings[COLLECTOR_LIMIT]"
OVER = "inputs[IN_RAW_MC + sensor] > settings[TANK_LIMIT] + 1000"
GROWS = "min(state[GUARD_COLLECTOR_MS] + inputs[IN_DT_MS], TOP_MS)"
# Rules broken, and the guard as well: then nothing holds any more.
NEGATIVES = [
    ("guard_lets_a_cold_night_cool_a_hot_tank", body_gone("chills", False), "cooling"),
    *((name, body_gone("gate"), LONGER) for name in [sequence["name"] for sequence, edit in BROKEN]),
    ("guard_on_steam", swapped("measure_collector", LIMIT, "True"), LONGER),
    ("guard_on_steam", swapped("measure_collector", LIMIT, LIMIT.replace("<", "<=")), LONGER),
    ("guard_on_steam", constant("MARGIN_MS", "10000"), "at the limit, for as long as the rules may take"),
    ("guard_on_steam", constant("HOLD_MS", "595000"), "ten minutes off, although it is good again"),
    (
        "guard_on_steam",
        swapped("collect_station_alarms", "state[GUARD_HOLD_MS] > 0", "False"),
        LONGER,
    ),
    ("guard_on_a_tank_over_its_limit", swapped("release_all", "COMMAND + MOVERS", "COMMAND + TANK_PUMP"), LONGER),
    ("guard_on_steam", no_row("GUARD_ACTED"), "ten minutes off, although it is good again"),
    ("guard_on_steam", swapped("measure_collector", f"0 if good else {GROWS}", GROWS), ""),
    ("guard_on_a_lost_collector", swapped("measure_collector", "inputs[IN_RAW_CAUSE + COLLECTOR] == 0", "True"), LONGER),
    (
        "guard_on_a_tank_over_its_limit",
        swapped("over", OVER, OVER.replace(">", ">=")),
        "one kelvin over: the rules act at the limit itself",
    ),
    ("guard_on_a_tank_over_its_limit", swapped("over", OVER, "False"), LONGER),
    (
        "guard_on_a_tank_over_its_limit",
        swapped("measure_tank", "over(state, settings, inputs, TANK_LOW)", "False"),
        "the low sensor counts as well",
    ),
    (
        "guard_on_two_lost_tank_sensors",
        swapped("measure_tank", "not seen(state, settings, inputs, TANK_HIGH)", "True"),
        "one is enough",
    ),
    (
        "guard_on_two_lost_tank_sensors",
        swapped("must_act", "state[COMMAND + TANK_PUMP] == 1", "True"),
        "to the radiator it may go",
    ),
]
