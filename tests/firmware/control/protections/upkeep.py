"""Exercise, hands, purging, maintenance: (phase that fails, protection, edit) by sequence."""

from ..syntax_edits import always, edge, gone, ignores, moved, never, returns, swapped

MASK = "inputs[IN_HAND_MASK]"
UNPOWERED = "state[DUMP_VALVE_POWER_ON] == 0"
LOSES_POWER = f"holds(state, COLD_DUMP) and {UNPOWERED}"
HOME = "state[VALVE_MS] == 0"
TABLE = [
    "exercise",
    ("due: the valve first", "a turn becomes due", returns("turn_due", False)),
    ("due: the valve first", "a turn lasts its time", always("choose_turn", "EXERCISE_FOR")),
    ("then one pump after the other", "a turn ends", never("choose_turn", "EXERCISE_FOR")),
    ("not due, off", "what has moved is not due", gone("rest_movers", "UNMOVED_S mover = 0")),
    ("due: the valve first", "the tank pump waits for its turn", always("tank_pump_wanted", "has_turn")),
    ("then one pump after the other", "the collector pump waits for its turn", always("pump_wanted", "has_turn")),
    ("then one pump after the other", "the valve gives way", always("valve_wanted", "has_turn")),
    "exercise_without_a_valve",
    ("due: the pumps alone", "no valve needs no turn", never("rest_movers", "NONE")),
    "hand_on_the_collector_pump",
    ("held off: off", "hands may hold off", swapped("held", f"{MASK} & inputs[IN_HAND_VALUE]", MASK)),
    ("steam, off", "no hand pumps steam", ignores("hand_pump_refused", "HOT_STEAM")),
    ("stiff, off", "no hand pumps stiff glycol", ignores("frost.hand_refused", "STIFF")),
    "hand_with_a_frosty_loop",
    ("to the exchanger: refused", "no hand pumps a frosty loop", ignores("frost.hand_refused", "COLD_LOOP")),
    ("to the exchanger: refused", "not while the valve has power", swapped("frost.hand_refused", f"{UNPOWERED} and {HOME}", HOME)),
    ("then to the exchanger", "hands wait for the valve", always("hand_wait", "path_open")),
    "hand_with_a_frosty_loop_and_an_open_crossover",
    ("the valve moves", "not before the valve is home", swapped("frost.hand_refused", f"{UNPOWERED} and {HOME}", UNPOWERED)),
    "hand_with_a_frosty_radiator_ahead_of_the_exchanger",
    ("frosty air, off", "no hand pumps a frosty radiator", ignores("frost.hand_refused", "COLD_DUMP")),
    ("back into it, off at once", "not once the valve loses power", swapped("frost.hand_refused", LOSES_POWER, "False")),
    "hand_with_a_frosty_loop_and_no_way_round",
    ("frosty: refused", "not without a way round", always("frost.hand_refused", "ROUND")),
    "hand_on_both_pumps",
    ("tank over its limit", "hands may be refused the tank pump", returns("tank.hand_refused", False)),
    ("tank over its limit", "no hand heats a hot tank", never("tank.hand_refused", "TANK_OVER")),
    ("break both tank sensors", "no hand heats an unknown tank", ignores("tank.hand_refused", "TANK_LOST")),
    ("without glycol that moves", "the tank pump alone adds no heat", never("tank.hand_refused", "COLLECTOR_PUMP_ON")),
    "purge",
    ("five minutes through the radiator", "five minutes, no less", moved("PURGE_HALF_MS", -5000)),
    ("five minutes through the exchanger", "five minutes, no more", moved("PURGE_HALF_MS", 5000)),
    ("hot: both pumps off", "no purging while hot", always("held", "COLLECTOR_MC")),
    ("hot: both pumps off", "hot at the limit itself", edge("held", "COLLECTOR_MC")),
    ("break the collector: no glycol", "limits bind purging too", returns("hand_pump_refused", False)),
    "purge_straight_from_hand",
    ("five minutes through the radiator first", "purging counts its own time", never("decide", "PURGING !=")),
    "maintenance",
    ("charging: all off at once", "no run-on under maintenance", never("run_on_over", "MAINTENANCE")),
]
