"""Starts in vain: (phase that fails, protection, edit) by sequence."""

from ..syntax_edits import edge, gone, moved, never, planted, returns, swapped

RESTS = "rests(state, settings, inputs, DUMP_VALVE_POWER)"
TABLE = [
    "starts_in_vain_lengthen_the_rest",
    ("then they rest", "starts count", gone("count_start", "START_S")),
    ("then they rest", "the valve rests", swapped("valve_wanted", f"not {RESTS}", "True")),
    ("then they rest", "the pump rests with it", swapped("pump_wait", RESTS, "False")),
    ("seven times", "six starts are free", moved("FREE_S", -4200)),
    ("then they rest", "and no more", moved("FREE_S", 4200)),
    ("and start", "time pays", gone("wear", "WORN_S =")),
    ("rest upon rest", "no alarm for a rest of minutes", moved("VAIN_ALARM_S", -7200)),
    ("the alarm", "an alarm names it", never("collect_plant_alarms", "VAIN_ALARM_S")),
    "starts_that_bring_heat_are_paid_off",
    ("the tank pump runs", "heat in the tank pays", swapped("wear", "TANK_PUMP", "DUMP_VALVE_POWER")),
    ("the tank pump runs", "for two minutes", moved("USEFUL", -30)),
    "dumps_that_last_are_half_paid_off",
    (
        "two minutes and a half",
        "so does heat at the radiator",
        swapped("wear", "COLLECTOR_PUMP if state[DUTY] == DUMPING else TANK_PUMP", "TANK_PUMP"),
    ),
    ("one more", "but half of it, no more", swapped("wear", "USEFUL // 2", "USEFUL")),
    "a_collector_near_its_limit_does_not_wait_for_the_run_on",
    ("half way: at once", "no run-on near the limit", never("run_on_over", "near_limit_mc")),
    ("half way: at once", "half way itself is near there too", edge("run_on_over", "near_limit_mc")),
    "a_collector_near_its_limit_does_not_wait",
    ("half way", "no rest near the limit", never("rests", "near_limit_mc")),
    ("half way", "half way itself is near", edge("rests", "near_limit_mc")),
    "pulses_without_flow_count_together",
    ("six pulses", "the time between two pulses is no flow", swapped("watch_flow", "state[COLLECTOR_PUMP_ON] != 0", "True")),
    ("six pulses", "but does not end it", planted("watch_flow", "if state[COLLECTOR_PUMP_ON] == 0: state[FLOWLESS_MS] = 0")),
    "hands_lengthen_no_rest",
    ("as ever", "hands do not count", never("count_start", "HAND")),
    "turns_lengthen_no_rest",
    ("as ever", "turns do not count", never("count_start", "EXERCISE")),
    "pulses_lengthen_the_rest",
    ("ten more", "pulses count", returns("count_pulse")),
    ("twenty-seven", "less than other starts", moved("PULSE_S", 3200)),
    ("nine minutes", "standing glycol does not cool down", moved("PULSES_TOP_S", 2400)),
]
