"""Charging: (phase that fails, protection, edit) by sequence."""

from twinloop_hil.sequences.charging import LOST

from ..syntax_edits import always, edge, gone, never, returns, swapped

TABLE = [
    "start_and_stop_difference",
    ("between, still off", "the start difference", swapped("latch_difference", "settings[START_DIFFERENCE]", "1")),
    ("hot, on", "starts at the start difference itself", edge("state.latched", "measured >= start")),
    ("between, stays on", "runs on below the start difference", swapped("latch_difference", "STOP_DIFFERENCE", "START_DIFFERENCE")),
    ("cold, off", "stops at the stop difference itself", edge("state.latched", "measured > stop")),
    ("", "charging is wanted", gone("latch_difference", "CHARGE_WANTED = 1")),
    "collector_minimum",
    ("between, still off", "no start with a cool collector", always("latch_difference", "COLLECTOR_MINIMUM")),
    ("hot, on", "starts at collector_minimum itself", edge("latch_difference", "COLLECTOR_MINIMUM")),
    "minimum_rest",
    ("from boot", "the pump rests", swapped("rests", "max(rest, settings[MINIMUM_REST])", "rest")),
    ("from boot", "only a pump that is off has to rest", swapped("rests", "state[COMMAND + output] == 0", "True")),
    ("between runs", "a switched output starts its timer", gone("put", "OUTPUT_MS = 0")),
    "minimum_run",
    ("cold, but not run enough: stays on", "the pump runs its minimum", returns("ran_enough", 1)),
    ("run enough, off", "the minimum run ends", never("ran_enough", "MINIMUM_RUN")),
    ("the pump stands: nothing to wait for", "a pump that is off has no run to finish", never("ran_enough", "COLLECTOR_PUMP_ON")),
    [lost["name"] for lost in LOST],
    ("break the sensor", "an old reading is lost", never("grow_old", "age_limit_ms")),
    "collector_lost_too_hot",
    ("break the sensor", "no reading above the range", never("judge", "HIGHEST_MC")),
    "collector_lost_too_cold",
    ("break the sensor", "no reading below the range", never("judge", "LOWEST_MC")),
    "collector_lost_rate",
    ("break the sensor", "no reading that jumps", returns("credible", 1)),
]
