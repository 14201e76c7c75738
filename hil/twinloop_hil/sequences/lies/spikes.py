"""Single readings far off: they move no relay, and a fast change counts all the same."""

from ..common import BOTH_PUMPS, FLUSHED, LONG_CHARGING, OFF, idle, sequence

STILL_OFF = idle("NO_DIFFERENCE", LOOP_LOWEST_MC=15000)


def spike(sensor, off_mc, true_mc, facts):
    """Two readings in a row that are far off, and the truth again."""
    return [["jump", {sensor: off_mc}], ["keep", 2000, facts], ["jump", {sensor: true_mc}], ["keep", 60000, facts]]


COLLECTOR = sequence(
    "a_spike_of_the_collector_moves_no_relay",
    [
        *FLUSHED,
        ["ramp", "collector", 27000, 500, OFF],
        ["step_ms", 1000],
        ["phase", "nearly warm enough: no start"],
        *spike("collector", 35000, 27000, STILL_OFF),
        ["phase", "into frost: no cold loop"],
        *spike("collector", 1000, 27000, STILL_OFF),
        ["phase", "in steps of five seconds"],
        ["step_ms", 5000],
        ["jump", {"collector": 1000}],
        ["keep", 10000, STILL_OFF],
        ["jump", {"collector": 27000}],
        ["keep", 60000, STILL_OFF],
        ["phase", "nor three that do not agree"],
        ["swing", "collector", 1000, 60000, 15000, STILL_OFF],
        ["jump", {"collector": 27000}],
        ["keep", 60000, STILL_OFF],
        ["phase", "the third reading that agrees: charging"],
        ["jump", {"collector": 35000}],
        ["keep", 10000, STILL_OFF],
        ["becomes", 5000, 5000, {"duty": "charging", "COLLECTOR_MC": 35000}],
    ],
)
CHARGING = sequence(
    "a_spike_ends_no_charging",
    [
        *LONG_CHARGING,
        ["ramp", "collector", 32000, 500, BOTH_PUMPS],
        ["step_ms", 1000],
        ["phase", "collector"],
        *spike("collector", 22000, 32000, BOTH_PUMPS),
        *spike("collector", 10000, 32000, BOTH_PUMPS),
        ["phase", "arriving glycol"],
        *spike("loop_supply", 26500, 32000, BOTH_PUMPS),
        *spike("loop_supply", 20000, 32000, BOTH_PUMPS),
        ["phase", "bottom of the tank"],
        *spike("tank_low", 38000, 20000, BOTH_PUMPS),
        ["phase", "top of the tank"],
        *spike("tank_high", 80000, 25000, BOTH_PUMPS),
    ],
)
# The fastest of its place, 10 K/s: two readings are held, the others follow.
FAST = sequence(
    "a_fast_change_is_believed",
    [
        *LONG_CHARGING,
        ["step_ms", 1000],
        ["phase", "up"],
        ["keep", 5000, BOTH_PUMPS],
        ["ramp", "collector", 59500, 10000, {**BOTH_PUMPS, "COLLECTOR_MC": 39500}],
        ["ramp", "collector", 69500, 10000, BOTH_PUMPS],
        ["expect", {"COLLECTOR_MC": 69500, "COLLECTOR_STATUS": "GOOD"}],
        ["ramp", "collector", 89500, 10000, {"COLLECTOR_STATUS": "GOOD"}],
        ["phase", "and down, within the shortest age of five-second steps"],
        ["step_ms", 5000],
        ["keep", 10000, {"COLLECTOR_STATUS": "GOOD"}],
        ["jump", {"collector": 39500}],
        ["keep", 10000, {"COLLECTOR_MC": 89500, "COLLECTOR_STATUS": "HELD"}],
        ["becomes", 5000, 5000, {"COLLECTOR_MC": 39500, "COLLECTOR_STATUS": "GOOD"}],
    ],
    collector_age=10000,
)
# Three such steps do not fit into the age: one reading has to do.
LONG_STEPS = sequence(
    "long_steps_believe_one_reading",
    [
        *LONG_CHARGING,
        ["step_ms", 8000],
        ["phase", "at once"],
        ["jump", {"collector": 60000}],
        ["keep", 8000, {"COLLECTOR_MC": 60000, "COLLECTOR_STATUS": "GOOD"}],
    ],
)
