"""What is taken away from the core, and where the sequences of arrival.py miss it: name, edit, phase."""

from ..syntax_edits import body_gone, constant, no_row, statement_gone, swapped

DIFFERENT = "state[COLLECTOR_MC] - state[LOOP_SUPPLY_MC] >= max(settings[START_DIFFERENCE], FAR_LEAST_MK)"
NEGATIVES = [
    ("hot_after_all_while_charging_rests", no_row("HEAT_TOO_WEAK_DUMP"), "hot, on"),
    ("sun_too_weak_to_be_worth_it", no_row("HEAT_TOO_WEAK"), "glycol flows, but brings nothing: the pump rests without a fault"),
    (
        "sun_too_weak_to_be_worth_it",
        swapped("collect_plant_alarms", "state[NO_FLOW] != HEAT_TOO_WEAK", "True"),
        "glycol flows, but brings nothing: the pump rests without a fault",
    ),
    ("glycol_does_not_arrive", no_row("GLYCOL_NOT_ARRIVING"), "pumped for three minutes: given up"),
    ("glycol_does_not_arrive", body_gone("watch_far"), "pumped for three minutes: given up"),
    (
        "glycol_does_not_arrive",
        constant("FAR_LIMIT_MS", "175000"),
        "pumped for less than three minutes: still hoping",
    ),
    (
        "glycol_of_a_slow_loop_takes_its_time",
        swapped("far_limit_ms", "min(round_ms, NOT_JOINED_LIMIT_MS)", "0"),
        "pumped for less than one round: still hoping",
    ),
    (
        "a_dead_pump_under_a_sun_that_comes_out_is_no_weak_sun",
        swapped("watch_joining", "far(state, settings, inputs)", "False"),
        "five minutes: given up, with an alarm",
    ),
    (
        "glycol_does_not_arrive",
        statement_gone("forget_flow_fault", "state[RETRY_MS] += inputs[IN_DT_MS]"),
        "half an hour later: next try",
    ),
    ("glycol_does_not_arrive", constant("RETRY_LIMIT_MS", "600000"), "half an hour later: next try"),
    (
        "glycol_does_not_arrive",
        statement_gone("give_up_flow", "state[RETRY_MS] = 0"),
        "again nothing: given up for another half hour",
    ),
    (
        "glycol_that_arrives_now_and_then",
        swapped("far", DIFFERENT, "True"),
        "arrived once: three more minutes",
    ),
    (
        "tank_pump_that_joins_now_and_then",
        swapped("waits_for_heat", "state[TANK_PUMP_ON] == 1", "False"),
        "joined once: five more minutes",
    ),
    (
        "tank_pump_that_joins_now_and_then",
        constant("NOT_JOINED_LIMIT_MS", "295000"),
        "joined once: five more minutes",
    ),
    (
        "glycol_arrives_colder_by_just_start_difference",
        swapped("far", DIFFERENT, DIFFERENT.replace(">=", ">")),
        "arrives colder by start_difference: a fault",
    ),
    (
        "sun_too_weak_to_be_worth_it",
        swapped("far", DIFFERENT, "True"),
        "glycol flows, but brings nothing: the pump rests without a fault",
    ),
    (
        "sun_too_weak_to_be_worth_it",
        statement_gone("watch_joining", "give_up_flow(state, settings, inputs, HEAT_TOO_WEAK)"),
        "glycol flows, but brings nothing: the pump rests without a fault",
    ),
    (
        "arrival_unknown_without_loop_supply",
        swapped("waits_for_heat", "state[COLLECTOR_PUMP_MS] >= settings[TANK_PUMP_DELAY]", "True"),
        "waits for its time, past five minutes, without a fault",
    ),
    ("reset_storm", no_row("RESET_STORM"), "three: all off"),
    ("reset_storm", constant("RESETS_LIMIT", "2"), "two resets: goes on"),
    ("reset_storm", constant("RESETS_LIMIT", "4"), "three: all off"),
]
