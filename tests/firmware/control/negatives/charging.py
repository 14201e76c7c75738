"""What is taken away from the core, and where the sequences of charging.py miss it: name, edit, phase."""

from twinloop_hil.sequences.charging import LOST

from ..syntax_edits import body_gone, no_row, statement_gone, swapped

NEGATIVES = [
    (
        "start_and_stop_difference",
        swapped("latch_difference", "gain >= settings[START_DIFFERENCE]", "gain > 0"),
        "between, still off",
    ),
    (
        "start_and_stop_difference",
        swapped("latch_difference", "gain >= settings[START_DIFFERENCE]", "gain > settings[START_DIFFERENCE]"),
        "hot, on",
    ),
    (
        "start_and_stop_difference",
        swapped("latch_difference", "gain <= settings[STOP_DIFFERENCE]", "gain < settings[START_DIFFERENCE]"),
        "between, stays on",
    ),
    (
        "start_and_stop_difference",
        swapped("latch_difference", "gain <= settings[STOP_DIFFERENCE]", "gain < settings[STOP_DIFFERENCE]"),
        "cold, off",
    ),
    ("start_and_stop_difference", statement_gone("latch_difference", "state[CHARGE_WANTED] = 1"), ""),
    (
        "collector_minimum",
        swapped("latch_difference", "state[COLLECTOR_MC] >= settings[COLLECTOR_MINIMUM]", "True"),
        "between, still off",
    ),
    (
        "collector_minimum",
        swapped(
            "latch_difference",
            "state[COLLECTOR_MC] >= settings[COLLECTOR_MINIMUM]",
            "state[COLLECTOR_MC] > settings[COLLECTOR_MINIMUM]",
        ),
        "hot, on",
    ),
    (
        "minimum_rest",
        swapped("pump_wait", "state[COLLECTOR_PUMP_MS] < settings[MINIMUM_REST]", "False"),
        "from boot",
    ),
    ("minimum_rest", swapped("pump_wait", "state[COLLECTOR_PUMP_ON] == 0", "False"), "from boot"),
    ("minimum_rest", statement_gone("put", "state[OUTPUT_MS + output] = 0"), "between runs"),
    ("minimum_run", body_gone("ran_enough", 1), "cold, but not run enough: stays on"),
    (
        "minimum_run",
        swapped("ran_enough", "state[COLLECTOR_PUMP_MS] >= settings[MINIMUM_RUN]", "False"),
        "run enough, off",
    ),
    (
        "minimum_run",
        swapped("ran_enough", "state[COLLECTOR_PUMP_ON] == 0", "False"),
        "the pump stands: nothing to wait for",
    ),
    ("minimum_run", no_row("COLLECTOR_UNKNOWN"), "a safety stop does not wait"),
    *((name, no_row("COLLECTOR_UNKNOWN"), "break the sensor") for name in ("start_and_stop_difference", "collector_minimum")),
    *((lost["name"], no_row("COLLECTOR_UNKNOWN"), "break the sensor") for lost in LOST),
    *((lost["name"], swapped("grow_old", "age > limit", "False"), "break the sensor") for lost in LOST),
    ("collector_lost_too_hot", swapped("judge", "raw > HIGHEST_MC[sensor]", "False"), "break the sensor"),
    ("collector_lost_too_cold", swapped("judge", "raw < LOWEST_MC[sensor]", "False"), "break the sensor"),
    ("collector_lost_rate", body_gone("credible", 1), "break the sensor"),
]
