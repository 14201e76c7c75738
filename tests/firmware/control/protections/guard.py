"""The guard on broken rules: what it stops, when and for how long, and what it lets pass.

It acts 15 s after the rules would have given up a held reading: 30 s after the last good
collector reading, 75 s after the last good tank reading, and as long after the first reading beyond
a limit. source: guard.py's margin and the design page's sensor ages
"""

from twinloop_hil.sequences.away import BOILED
from twinloop_hil.sequences.collector import TANK_FULL
from twinloop_hil.sequences.common import BOTH_PUMPS, DARK, FLUSHED, LONG_CHARGING, OFF, TO_RADIATOR, sequence

from ..syntax_edits import always, edge, gone, moved, never, only, returns, swapped, trusts

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
        ["phase", "at the limit: nothing"],
        ["ramp", "tank_high", 75000, 1000, BOTH_PUMPS],
        ["keep", 300000, BOTH_PUMPS],
        ["phase", "more, for as long as the rules may take"],
        ["set", {"tank_high": 75001}],
        ["keep", 75000, BOTH_PUMPS],
        ["phase", "longer: acts"],
        ["becomes", 5000, 5000, {**OFF, "GUARD_ACTIONS": 1}],
        ["set", {"tank_high": 70000}],
        ["keep", 600000, ACTED],
        ["phase", "back to work"],
        ["becomes", 5000, 185000, BOTH_PUMPS],
        ["phase", "the low sensor counts as well"],
        ["set", {"collector": 85000, "loop_supply": 80000}],
        ["ramp", "tank_low", 75001, 1000, {"collector_pump": 1}],
        ["becomes", 75000, 75000, {**OFF, "GUARD_ACTIONS": 2}],
    ],
)

# Without the tank pump, too: valves leak and relays weld.
DUMP_OVER = sequence(
    "guard_on_a_dump_beside_a_hot_tank",
    [
        *FLUSHED,
        ["ramp", "tank_high", 75000, 1000, {}],
        ["ramp", "tank_low", 71000, 1000, {}],
        ["set", {"loop_supply": 60000}],
        ["ramp", "collector", 100000, 5000, {}],
        ["becomes", 5000, 90000, TO_RADIATOR],
        ["set", {"loop_supply": 90000}],
        ["phase", "at the limit: nothing"],
        ["keep", 300000, {**TO_RADIATOR, "GUARD_ACTIONS": 0}],
        ["phase", "more, beside glycol colder than all of it"],
        ["set", {"loop_supply": 70999}],
        ["keep", 10000, TO_RADIATOR],
        ["set", {"tank_high": 75001}],
        ["keep", 300000, {**TO_RADIATOR, "GUARD_ACTIONS": 0}],
        ["phase", "warmer, for as long as the rules may take"],
        ["set", {"loop_supply": 71000}],
        ["keep", 75000, TO_RADIATOR],
        ["phase", "longer: acts"],
        ["becomes", 5000, 5000, {**OFF, "GUARD_ACTIONS": 1}],
        ["keep", 600000, ACTED],
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
        ["keep", 590000, ACTED],
        ["jump", {"collector": 90000}],
        ["keep", 10000, ACTED],
        ["phase", "to the radiator it may go"],
        ["becomes", 5000, 5000, {**TO_RADIATOR, "GUARD_ACTIONS": 1}],
        ["keep", 300000, {**TO_RADIATOR, "GUARD_ACTIONS": 1}],
    ],
)


def mixed(seconds, period, *parts, facts):
    """A sensor's readings, over and over: (sensor, millidegrees or None for a bad one, seconds)."""
    lines = []
    for _ in range(0, seconds, period):
        for name, mc, lasts_s in parts:
            lines.append(["break", name, "CAUSE_CRC"] if mc is None else ["jump", {name: mc}])
            lines.append(["keep", 1000 * lasts_s, facts])
    return lines


INTERMITTENT_TANK = sequence(
    "guard_on_an_intermittent_tank_sensor",
    [
        *LONG_CHARGING,
        ["step_ms", 1000],
        ["ramp", "tank_high", 75000, 1000, BOTH_PUMPS],
        ["phase", "two readings of 95 C say nothing"],
        *mixed(200, 10, ("tank_high", 95000, 2), ("tank_high", 75000, 8), facts=BOTH_PUMPS),
        ["phase", "one reading a minute over the limit, then none: lost"],
        *mixed(60, 60, ("tank_high", 77000, 1), ("tank_high", None, 59), facts=BOTH_PUMPS),
        ["keep", 60000, BOTH_PUMPS],
        ["phase", "two readings of a lost sensor say nothing"],
        *mixed(
            80,
            80,
            *(("tank_high", 77000, 1), ("tank_high", None, 59), ("tank_high", 77000, 1), ("tank_high", None, 19)),
            facts={**BOTH_PUMPS, "GUARD_ACTIONS": 0},
        ),
        *mixed(3, 3, ("tank_high", 75000, 3), facts=BOTH_PUMPS),
        ["phase", "bad every other second, for as long as the rules may take"],
        *mixed(74, 2, ("tank_high", 77000, 1), ("tank_high", None, 1), facts=BOTH_PUMPS),
        ["phase", "longer: acts"],
        ["becomes", 1000, 2000, {**OFF, "GUARD_ACTIONS": 1}],
        ["set", {"tank_high": 75000}],
        ["keep", 600000, ACTED],
        ["becomes", 1000, 185000, BOTH_PUMPS],
        ["phase", "good for one second a minute"],
        *mixed(60, 60, ("tank_high", 77000, 1), ("tank_high", None, 59), facts=BOTH_PUMPS),
        ["set", {"tank_high": 77000}],
        ["keep", 1000, BOTH_PUMPS],
        ["break", "tank_high", "CAUSE_CRC"],
        ["becomes", 14000, 15000, {**OFF, "GUARD_ACTIONS": 2}],
        ["set", {"tank_high": 75000}],
        ["keep", 600000, ACTED],
        ["becomes", 1000, 185000, BOTH_PUMPS],
        ["phase", "two lies of 20 C in five seconds"],
        *mixed(75, 5, ("tank_high", 77000, 3), ("tank_high", 20000, 2), facts=BOTH_PUMPS),
        ["set", {"tank_high": 77000}],
        ["becomes", 1000, 2000, {**OFF, "GUARD_ACTIONS": 3}],
    ],
)

INTERMITTENT_COLLECTOR = sequence(
    "guard_on_an_intermittent_collector",
    [
        *DUMPING,
        ["step_ms", 1000],
        ["ramp", "collector", 119600, 1000, TO_RADIATOR],
        ["phase", "bad every other second, for as long as the rules may take"],
        *mixed(30, 2, ("collector", 121000, 1), ("collector", None, 1), facts=TO_RADIATOR),
        ["phase", "longer: acts"],
        ["becomes", 1000, 1000, {**OFF, "GUARD_ACTIONS": 1}],
        ["set", {"collector": 110000}],
        ["keep", 600000, ACTED],
        ["becomes", 1000, 5000, TO_RADIATOR],
        ["phase", "two lies of 20 C in five seconds"],
        *mixed(30, 5, ("collector", 121000, 3), ("collector", 20000, 2), facts=TO_RADIATOR),
        ["set", {"collector": 121000}],
        ["becomes", 1000, 1000, {**OFF, "GUARD_ACTIONS": 2}],
    ],
)

# Broken rules, so that the guard has to act.
BROKEN = [
    (STEAM, never("latch_steam", "COLLECTOR_LIMIT")),
    (COLLECTOR_LOST, never("grow_old", "age_limit_ms")),
    (TANK_OVER, gone("latch_full", "TANK_FULL = 1")),
    (DUMP_OVER, returns("pump_barred", False)),
    (TANK_LOST, never("grow_old", "age_limit_ms")),
    (INTERMITTENT_TANK, gone("latch_full", "TANK_FULL = 1")),
    (INTERMITTENT_COLLECTOR, never("latch_steam", "COLLECTOR_LIMIT")),
]

# Not the guard's business: the tank pump alone may run on into a hot tank.
RUN_ON = sequence(
    "guard_lets_the_tank_pump_run_on",
    [
        *LONG_CHARGING,
        ["set", {"collector": 80000, "loop_supply": 55000}],
        ["keep", 10000, BOTH_PUMPS],
        ["set", {"loop_supply": 79000}],
        ["ramp", "tank_high", 74499, 1000, BOTH_PUMPS],
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
        *BOILED,
        ["ramp", "collector", 60000, 5000, {}],
        ["ramp", "tank_high", 78000, 1000, {}],
        ["ramp", "tank_low", 74000, 1000, {}],
        ["set", DARK],
        ["phase", "cooling"],
        ["becomes", 5000, 500000, {"duty": "night_cooling", "collector_pump": 1, "tank_pump": 1}],
        ["keep", 300000, {"duty": "night_cooling", "tank_pump": 1, "GUARD_ACTIONS": 0}],
        ["phase", "a sensor that fails or lies now and then"],
        ["step_ms", 1000],
        *[
            line
            for name, true_mc in (("loop_supply", 15000), ("tank_low", 74000), ("tank_high", 78000))
            for part in (
                (name, None, 20),
                (name, true_mc, 5),
                (name, 100000, 2),
                (name, true_mc, 5),
                (name, 0, 2),
                (name, true_mc, 5),
            )
            for line in mixed(1, 1, part, facts={"duty": "night_cooling", "tank_pump": 1, "GUARD_ACTIONS": 0})
        ],
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

# The same night without what shows that it only cools: the rules give up, not the guard.
BLIND = sequence(
    "guard_is_spared_a_hot_tank_that_nobody_sees_cooled",
    [
        *FLUSHED,
        *BOILED,
        ["ramp", "collector", 60000, 5000, {}],
        ["ramp", "tank_high", 78000, 1000, {}],
        ["ramp", "tank_low", 74000, 1000, {}],
        ["set", DARK],
        ["becomes", 5000, 500000, {"duty": "night_cooling", "collector_pump": 1, "tank_pump": 1}],
        *[
            line
            for sensor in ("loop_supply", "tank_low")
            for line in (
                ["phase", f"{sensor} lost: off"],
                ["break", sensor, "CAUSE_CRC"],
                ["becomes", 60000, 70000, {**OFF, "duty": "idle"}],
                ["keep", 600000, {**OFF, "duty": "idle", "GUARD_ACTIONS": 0}],
                ["phase", f"{sensor} back: on"],
                ["restore", sensor],
                ["becomes", 5000, 500000, {"duty": "night_cooling", "collector_pump": 1, "tank_pump": 1}],
            )
        ],
        ["phase", "at its limit nobody has to see it"],
        ["ramp", "tank_low", 71000, 1000, {"tank_pump": 1}],
        ["ramp", "tank_high", 75000, 1000, {"tank_pump": 1}],
        ["break", "loop_supply", "CAUSE_CRC"],
        ["keep", 600000, {"duty": "night_cooling", "tank_pump": 1, "GUARD_ACTIONS": 0}],
    ],
    away=1,
)

LIMIT = "age_limit_ms(state, settings, inputs, sensor)"
SEQUENCES = [RUN_ON, NIGHT, BLIND, RANGE, JUMPING]

# The rules are broken and so is the guard: nothing holds any more.
TABLE = [
    "guard_lets_a_cold_night_cool_a_hot_tank",
    ("cooling", "cold glycol only cools", returns("chills", False)),
    "guard_is_spared_a_hot_tank_that_nobody_sees_cooled",
    ("loop_supply lost: off", "no cooling of a hot tank that nobody sees", never("latch_cooling", "pump_barred")),
    ("loop_supply lost: off", "loop_supply shows that it cools", trusts("pump_barred", "LOOP_SUPPLY")),
    ("tank_low lost: off", "so does the whole tank", only("pump_barred", "min", 1)),
    ("at its limit", "over that only", edge("above_limit", "tank_limit_mc")),
    [sequence["name"] for sequence, _ in BROKEN],
    ("longer: acts", "the guard", returns("gate")),
    "guard_on_steam",
    ("longer: acts", "a hot collector", never("steams", "COLLECTOR_LIMIT")),
    ("longer: acts", "hot at the limit itself", edge("steams", "COLLECTOR_LIMIT")),
    ("at the limit, for as long", "the rules get their time", moved("guard.MARGIN_MS", -5000)),
    ("ten minutes off", "ten minutes off, no less", moved("HOLD_MS", -5000)),
    ("longer: acts", "an action is an alarm", never("collect_station_alarms", "GUARD_HOLD_MS")),
    ("", "a good reading starts the time again", always("steams", "COLLECTOR_LIMIT")),
    "guard_on_a_lost_collector",
    ("longer: acts", "a lost collector", only("must_act", "GUARD_COLLECTOR_MS", 0)),
    "guard_on_a_tank_over_its_limit",
    ("longer: acts", "all movers", swapped("release_all", "MOVERS", "TANK_PUMP")),
    ("at the limit", "the limit itself is the rules' business", edge("over", "TANK_LIMIT")),
    ("longer: acts", "a hot tank", never("over", "TANK_LIMIT")),
    ("the low sensor counts as well", "a hot low end", never("measure_tank", "over TANK_LOW")),
    "guard_on_a_dump_beside_a_hot_tank",
    ("longer: acts", "beside a pump alone as well", swapped("must_act", "state[GUARD_TANK_MS]", "0")),
    ("more, beside glycol colder", "colder glycol only cools", never("measure_tank", "chills")),
    ("longer: acts", "as warm is not colder", edge("chills", "min")),
    "guard_on_two_lost_tank_sensors",
    ("one is enough", "one sensor is enough", only("unseen_ms", "min", 0)),
    ("longer: acts", "no sensor is not enough", only("must_act", "max unseen_ms", 0)),
    ("to the radiator it may go", "an unknown tank is in the tank pump's way only", always("must_act", "TANK_PUMP")),
    "guard_on_an_intermittent_tank_sensor",
    ("longer: acts", "a bad reading leaves the last good one", swapped("guard.known", LIMIT, "0")),
    ("two readings of a lost sensor", "a jump says nothing", moved("guard.AGREE", -2)),
    ("two lies of 20 C", "nor does it twice", moved("guard.AGREE", -1)),
    ("one reading a minute", "what is too old says nothing", always("guard.known", "GUARD_AGE_MS")),
    ("two readings of a lost sensor", "what agreed before its loss is no proof", gone("listen", "GUARD_TRIES = 0")),
    ("two lies of 20 C", "readings in a row have to agree", gone("count_agreeing", "GUARD_TRIES = 0")),
    "guard_on_an_intermittent_collector",
    ("longer: acts", "a bad reading leaves the last good one", swapped("guard.known", LIMIT, "0")),
    ("two lies of 20 C", "a jump says nothing", moved("guard.AGREE", -1)),
]
