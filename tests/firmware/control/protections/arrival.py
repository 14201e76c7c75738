"""Missing glycol: (phase that fails, protection, edit) by sequence."""

from ..syntax_edits import always, edge, gone, moved, never, returns, swapped

ONE_ROUND = "min(round_ms, NOT_JOINED_LIMIT_MS)"
TABLE = [
    "sun_too_weak_to_be_worth_it",
    ("glycol flows", "a weak sun is no alarm", always("collect_plant_alarms", "HEAT_TOO_WEAK")),
    ("glycol flows", "a weak sun is no missing flow", always("far", "COLLECTOR_MC")),
    ("glycol flows", "charging rests under a weak sun", gone("watch_joining", "HEAT_TOO_WEAK")),
    "glycol_does_not_arrive",
    ("pumped for three minutes", "missing glycol is noticed", returns("watch_far")),
    ("pumped for less than three minutes", "three minutes, no less", moved("FAR_LIMIT_MS", -5000)),
    ("half an hour later: next try", "the next try", gone("forget_flow_fault", "IN_DT_MS")),
    ("half an hour later: next try", "after half an hour, no sooner", moved("RETRY_LIMIT_MS", -1200000)),
    ("again nothing", "each try that fails starts the half hour", gone("give_up_flow", "RETRY_MS = 0")),
    "glycol_of_a_slow_loop_takes_its_time",
    ("pumped for less than one round", "a slow loop takes one round", swapped("far_limit_ms", ONE_ROUND, "0")),
    "a_dead_pump_under_a_sun_that_comes_out_is_no_weak_sun",
    ("five minutes: given up", "a dead pump is no weak sun", never("watch_joining", "far")),
    "glycol_that_arrives_now_and_then",
    ("arrived once", "arriving once starts the time again", always("far", "COLLECTOR_MC")),
    "glycol_arrives_colder_by_just_start_difference",
    ("arrives colder by start_difference", "too cold at the difference itself", edge("far", "COLLECTOR_MC")),
    "tank_pump_that_joins_now_and_then",
    ("joined once", "joining once starts the time again", never("waits_for_heat", "TANK_PUMP_ON")),
    ("joined once", "five minutes, no less", moved("NOT_JOINED_LIMIT_MS", -5000)),
    "arrival_unknown_without_loop_supply",
    ("waits for its time", "its delay is not waiting for heat", always("waits_for_heat", "TANK_PUMP_DELAY")),
    "reset_storm",
    ("two resets: goes on", "two resets are none too many", moved("RESETS_LIMIT", -1)),
    ("three: all off", "three resets stop it", moved("RESETS_LIMIT", 1)),
]
