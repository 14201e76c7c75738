"""What is taken away from the core, and where the sequences of upkeep.py miss it: name, edit, phase."""

from ..syntax_edits import body_gone, constant, denied, no_row, statement_gone, swapped

NEGATIVES = [
    ("exercise", no_row("TURN"), "due: the valve first, for ten seconds"),
    ("exercise", body_gone("turn_due", False), "due: the valve first, for ten seconds"),
    (
        "exercise",
        swapped("choose_turn", "state[OUTPUT_MS + state[EXERCISING]] >= settings[EXERCISE_FOR]", "True"),
        "due: the valve first, for ten seconds",
    ),
    (
        "exercise",
        swapped("choose_turn", "state[OUTPUT_MS + state[EXERCISING]] >= settings[EXERCISE_FOR]", "False"),
        "then one pump after the other",
    ),
    ("exercise", statement_gone("rest_movers", "state[UNMOVED_S + output] = 0"), "not due, off"),
    (
        "exercise",
        swapped("tank_pump_wanted", "state[EXERCISING] == TANK_PUMP", "True"),
        "due: the valve first, for ten seconds",
    ),
    (
        "exercise",
        swapped("pump_wanted", "state[EXERCISING] == COLLECTOR_PUMP", "True"),
        "then one pump after the other",
    ),
    (
        "exercise",
        swapped("valve_wanted", "state[EXERCISING] == DUMP_VALVE_POWER", "True"),
        "then one pump after the other",
    ),
    ("exercise", no_row("TURN_POSTPONED_COLD"), "restore: the loop is unknown now, so it is postponed"),
    ("exercise_is_postponed", no_row("TURN_POSTPONED_HOT"), "a full tank"),
    ("exercise_is_postponed", no_row("TURN_POSTPONED_COLD"), "a cold loop as well: that comes first"),
    (
        "exercise_without_a_valve",
        swapped("rest_movers", "settings[DUMP_TOPOLOGY] == NONE", "False"),
        "due: the pumps alone",
    ),
    ("hand_on_the_collector_pump", no_row("HAND_HELD"), "held off: off"),
    (
        "hand_on_the_collector_pump",
        swapped("held", "inputs[IN_HAND_MASK] & inputs[IN_HAND_VALUE]", "inputs[IN_HAND_MASK]"),
        "held off: off",
    ),
    ("hand_on_the_collector_pump", denied("hand_pump_refused", "HOT_STEAM"), "steam, off"),
    ("hand_on_the_collector_pump", denied("hand_pump_refused", "STIFF"), "stiff, off"),
    (
        "hand_with_a_frosty_loop",
        denied("hand_pump_refused", "COLD_LOOP"),
        "to the exchanger: refused, wherever the valve is on its way",
    ),
    (
        "hand_with_a_frosty_loop",
        swapped("hand_pump_refused", "state[DUMP_VALVE_POWER_ON] == 1", "False"),
        "to the exchanger: refused, wherever the valve is on its way",
    ),
    (
        "hand_with_a_frosty_loop",
        swapped("hand_wait", "path_open(state, settings, inputs) == 1", "True"),
        "then to the exchanger, and the pump waits for the valve",
    ),
    (
        "hand_with_a_frosty_loop_and_an_open_crossover",
        swapped("hand_pump_refused", "state[VALVE_MS] > 0", "False"),
        "the valve moves: no glycol through it before it is home",
    ),
    (
        "hand_with_a_frosty_radiator_ahead_of_the_exchanger",
        denied("hand_pump_refused", "COLD_DUMP"),
        "frosty air, off",
    ),
    (
        "hand_with_a_frosty_radiator_ahead_of_the_exchanger",
        swapped("hand_pump_refused", "state[DUMP_VALVE_POWER_ON] == 0", "False"),
        "back into it, off at once",
    ),
    (
        "hand_with_a_frosty_loop_and_no_way_round",
        swapped("hand_pump_refused", "state[CONDITIONS] & ROUND == 0", "False"),
        "frosty: refused",
    ),
    ("hand_on_both_pumps", body_gone("hand_tank_refused", False), "tank over its limit: the tank pump off"),
    (
        "hand_on_both_pumps",
        swapped("hand_tank_refused", "state[TANK_OVER] == 1", "False"),
        "tank over its limit: the tank pump off",
    ),
    (
        "hand_on_both_pumps",
        denied("hand_tank_refused", "HOT_GLYCOL"),
        "glycol too hot: the tank pump off",
    ),
    (
        "hand_on_both_pumps",
        denied("hand_tank_refused", "TANK_LOST"),
        "break both tank sensors: the tank pump off",
    ),
    (
        "hand_on_both_pumps",
        swapped("hand_tank_refused", "state[COLLECTOR_PUMP_ON] == 0", "False"),
        "without glycol that moves it adds no heat: on",
    ),
    ("hand_on_both_pumps", no_row("RESET_STORM"), "three resets outrank hands"),
    ("purge", no_row("PURGING"), "five minutes through the radiator"),
    ("purge", constant("PURGE_HALF_MS", "295000"), "five minutes through the radiator"),
    ("purge", constant("PURGE_HALF_MS", "305000"), "five minutes through the exchanger"),
    ("purge", swapped("held", "state[COLLECTOR_MC] < PURGE_TOP_MC", "True"), "hot: both pumps off"),
    (
        "purge",
        swapped("held", "state[COLLECTOR_MC] < PURGE_TOP_MC", "state[COLLECTOR_MC] <= PURGE_TOP_MC"),
        "hot: both pumps off",
    ),
    ("purge", body_gone("hand_pump_refused", False), "break the collector: no glycol"),
    (
        "purge_straight_from_hand",
        swapped("decide", "state[REASON] != PURGING", "False"),
        "five minutes through the radiator first",
    ),
    ("maintenance", no_row("UNDER_MAINTENANCE"), "charging: all off at once, no run-on"),
    (
        "maintenance",
        swapped("run_on_over", "state[DUTY] == MAINTENANCE", "False"),
        "charging: all off at once, no run-on",
    ),
]
