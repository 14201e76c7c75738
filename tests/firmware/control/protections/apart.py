"""Readings apart: (phase that fails, protection, edit) by sequence."""

from ..syntax_edits import always, edge, moved, never, returns, swapped, trusts

APART = "state[COLLECTOR_MC] - state[LOOP_SUPPLY_MC]"
TABLE = [
    "glycol_that_leaves_hotter_than_it_came",
    ("in the next try too: alarm", "a loop_supply that reads low is told", returns("note_leaving")),
    ("by less than 3 K", "3 K, no less", moved("LEAVES_MK", -1)),
    ("in the next try too: alarm", "3 K, no more", edge("note_leaving", "LEAVES_MK")),
    ("by 3 K, once", "twice, no less", swapped("note_leaving", "FAR_LEAST_MK // 2", "FAR_LEAST_MK")),
    ("again and again", "an alarm is enough", always("note_leaving", "APART_MK")),
    "what_leaves_tells_nothing_without_loop_supply",
    ("a weak sun, again and again", "an unknown loop_supply reads no lower", trusts("note_leaving", "LOOP_SUPPLY")),
    "a_collector_that_reads_high_is_no_missing_flow",
    ("4 K more: no fault", "an offset is no missing flow", never("far", "TANK_PUMP_ON")),
    ("4 K more: no fault", "an offset is told", never("collect_plant_alarms", "APART_MK")),
    ("far more apart than usual", "three minutes, no less", moved("FAR_LIMIT_MS", -5000)),
    ("for three minutes: nothing flows", "and no more of it", swapped("far", "max(state[APART_MK], 0)", "100000")),
    "a_collector_that_reads_low_is_told",
    ("8 K and more: alarm", "an offset below is told", swapped("collect_plant_alarms", "abs(state[APART_MK])", "state[APART_MK]")),
    ("they agree again: over", "the mean follows", swapped("watch_apart", APART, f"min({APART}, state[APART_MK])")),
    "glycol_hotter_than_the_collector_may_get_too_hot",
    ("still hotter: the tank pump waits", "what nobody told waits", returns("untold", False)),
    "glycol_hotter_than_the_collector_that_gets_no_hotter",
    ("for less than half a minute", "half a minute, no less", moved("SETTLED_MS", -5000)),
    ("for half a minute: it joins", "half a minute, no more", moved("SETTLED_MS", 5000)),
    "glycol_as_hot_as_the_collector",
    ("as hot as the collector", "the collector has told it", edge("untold", "COLLECTOR_MC")),
]
