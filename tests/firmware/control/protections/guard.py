"""The guard on broken rules: what it stops, when and for how long, and what it lets pass.

It acts 15 s after the rules would have given up a held reading: 30 s after the last good
collector reading, 75 s after the last good tank reading. source: guard.py's margin and the design
page's sensor ages
"""

from twinloop_hil.sequences.collector import TANK_FULL
from twinloop_hil.sequences.common import BOTH_PUMPS, DARK, FLUSHED, LONG_CHARGING, OFF, TO_RADIATOR, sequence

from ..syntax_edits import always, edge, gone, moved, never, returns, swapped

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

# Broken rules, so that the guard has to act.
BROKEN = [
    (STEAM, never("latch_steam", "COLLECTOR_LIMIT")),
    (COLLECTOR_LOST, never("grow_old", "limit")),
    (TANK_OVER, gone("latch_full", "TANK_FULL = 1")),
    (TANK_LOST, never("grow_old", "limit")),
]

# Not the guard's business: the tank pump alone may run on into a hot tank.
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

# Glycol colder than the whole tank only takes heat out, even of a tank over its limit.
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

# Impossible values: above the scale the rules stop heating, below it they use tank_low and its
# margin.
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

# The rules are broken and so is the guard: nothing holds any more.
TABLE = [
    "guard_lets_a_cold_night_cool_a_hot_tank",
    ("cooling", "cold glycol only cools", returns("chills", False)),
    [sequence["name"] for sequence, _ in BROKEN],
    ("longer: acts", "the guard", returns("gate")),
    "guard_on_steam",
    ("longer: acts", "a hot collector", always("measure_collector", "COLLECTOR_LIMIT")),
    ("longer: acts", "hot at the limit itself", edge("measure_collector", "COLLECTOR_LIMIT")),
    ("at the limit, for as long", "the rules get their time", moved("guard.MARGIN_MS", -5000)),
    ("ten minutes off", "ten minutes off, no less", moved("HOLD_MS", -5000)),
    ("longer: acts", "an action is an alarm", never("collect_station_alarms", "GUARD_HOLD_MS")),
    ("", "a good reading starts the time again", never("measure_collector", "good")),
    "guard_on_a_lost_collector",
    ("longer: acts", "a lost collector", always("measure_collector", "IN_RAW_CAUSE")),
    "guard_on_a_tank_over_its_limit",
    ("longer: acts", "all movers", swapped("release_all", "MOVERS", "TANK_PUMP")),
    ("one kelvin over", "one kelvin over is the rules' business", edge("over", "TANK_LIMIT")),
    ("longer: acts", "a hot tank", never("over", "TANK_LIMIT")),
    ("the low sensor counts as well", "a hot low end", never("measure_tank", "over TANK_LOW")),
    "guard_on_two_lost_tank_sensors",
    ("one is enough", "one sensor is enough", never("measure_tank", "seen TANK_HIGH")),
    ("to the radiator it may go", "without the tank pump nothing heats", always("must_act", "TANK_PUMP")),
]
