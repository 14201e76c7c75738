"""What is taken away from the core, and where the sequences of outputs.py miss it: name, edit, phase."""

from ..syntax_edits import body_gone, no_row, statement_gone, swapped

BLOCKED = "return 1 if state[VALVE_MS] == 0 else 0"
LEFT = "left <= settings[TANK_RUN_ON_DIFFERENCE]"
GAIN = "state[LOOP_SUPPLY_MC] - state[TANK_REFERENCE_MC] >= lead"
NEGATIVES = [
    (
        "valve_that_blocks_on_its_way",
        swapped("path_open", "state[VALVE_MS] == settings[DUMP_TRAVEL]", "True"),
        "to the exchanger: no pump before the valve is there",
    ),
    (
        "valve_that_blocks_on_its_way",
        swapped("path_open", "state[VALVE_MS] == 0", "True"),
        "to the radiator: no pump before the valve is there",
    ),
    (
        "valve_that_blocks_on_its_way",
        swapped("move_valve", "max(state[VALVE_MS] - inputs[IN_DT_MS], 0)", "0"),
        "to the radiator: no pump before the valve is there",
    ),
    (
        "valve_that_blocks_on_its_way",
        swapped("valve_wanted", "state[DUTY] == CHARGING", "False"),
        "to the exchanger: no pump before the valve is there",
    ),
    (
        "valve_that_lets_through_on_its_way",
        swapped("path_open", "settings[DUMP_CROSSOVER] != CLOSED", "False"),
        "to the exchanger: the pump need not wait",
    ),
    (
        "valve_that_lets_through_on_its_way",
        swapped("pump_wait", "state[RUNNING_ON] == 1", "False"),
        "to the radiator: the tank pump finishes first",
    ),
    ("valve_homing", no_row("VALVE_HOMING"), "at boot nothing runs before the valve is home, however hot it is"),
    (
        "valve_homing",
        statement_gone("sequence.wake", "state[VALVE_HOME_MS] = settings[DUMP_TRAVEL]"),
        "at boot nothing runs before the valve is home, however hot it is",
    ),
    (
        "valve_homing_disturbed_by_hand",
        swapped("move_valve", "state[VALVE_HOME_MS] > 0", "False"),
        "half a minute more than was left",
    ),
    (
        "hands_wait_for_a_valve_that_is_not_home",
        swapped("path_open", "state[VALVE_HOME_MS] > 0", "False"),
        "to the exchanger: nobody knows where it is, so the pump waits",
    ),
    ("valve_homing_with_open_crossover", no_row("VALVE_HOMING"), "at boot nothing runs before the valve is home"),
    (
        "valve_homing_with_open_crossover",
        statement_gone("sequence.wake", "state[VALVE_HOME_MS] = settings[DUMP_TRAVEL]"),
        "at boot nothing runs before the valve is home",
    ),
    (
        "no_valve_no_homing",
        swapped("move_valve", "settings[DUMP_TOPOLOGY] == NONE", "False"),
        "without a valve only the rest is waited for",
    ),
    (
        "no_valve_no_homing",
        swapped("valve_wanted", "settings[DUMP_TOPOLOGY] == NONE", "False"),
        "without a valve only the rest is waited for",
    ),
    (
        "the_collector_pump_stops_first_the_tank_pump_runs_on",
        statement_gone("run_on", "state[RUNNING_ON] = 1"),
        "stop: the collector pump first",
    ),
    (
        "the_collector_pump_stops_first_the_tank_pump_runs_on",
        swapped("run_on_over", LEFT, "False"),
        "by difference: cold, off",
    ),
    (
        "the_collector_pump_stops_first_the_tank_pump_runs_on",
        swapped("run_on_over", LEFT, "left <= settings[TANK_RUN_ON_DIFFERENCE] + 1"),
        "by difference: between, runs on",
    ),
    (
        "the_collector_pump_stops_first_the_tank_pump_runs_on",
        swapped("run_on_over", "state[RUN_ON_MS] >= settings[TANK_RUN_ON_TIME]", "False"),
        "by time",
    ),
    (
        "the_collector_pump_stops_first_the_tank_pump_runs_on",
        swapped("run_on_over", "state[LOOP_SUPPLY_STATUS] > HELD", "False"),
        "by time alone without the sensor",
    ),
    (
        "the_collector_pump_stops_first_the_tank_pump_runs_on",
        statement_gone("run_on", "state[RUN_ON_MS] = 0"),
        "stop: the collector pump first",
    ),
    ("a_fault_stops_both_pumps_at_once", swapped("run_on_over", "state[DUTY] == FAULT_STOP", "False"), "fault"),
    ("tank_pump_joins_and_leaves_by_loop_supply", swapped("glycol_warm", GAIN, "True"), "between, still off"),
    (
        "tank_pump_joins_and_leaves_by_loop_supply",
        swapped("glycol_warm", "settings[EXCHANGER_LEAD]", "settings[EXCHANGER_LAG]"),
        "between, still off",
    ),
    (
        "tank_pump_joins_and_leaves_by_loop_supply",
        swapped("glycol_warm", "settings[EXCHANGER_LAG]", "settings[EXCHANGER_LEAD]"),
        "between, stays on",
    ),
    ("tank_pump_joins_and_leaves_by_loop_supply", swapped("glycol_warm", GAIN, GAIN.replace(">=", ">")), "hot, on"),
    (
        "tank_pump_joins_and_leaves_by_loop_supply",
        swapped("glycol_warm", "state[LOOP_SUPPLY_STATUS] > HELD", "False"),
        "break the sensor: by time",
    ),
    (
        "tank_pump_joins_by_time_without_loop_supply",
        body_gone("timed_through", True),
        "too early, off",
    ),
    (
        "tank_pump_delay_counts_with_the_way_open_and_no_sensor_on_the_plates",
        swapped("timed_through", "settings[DUMP_TOPOLOGY] == NONE", "True"),
        "the valve has only begun to move: nothing can have arrived",
    ),
    ("tank_pump_joins_by_time_without_loop_supply_and_valve", body_gone("timed_through", True), "too early, off"),
    ("tank_pump_joins_by_time_without_loop_supply", body_gone("glycol_warm", 0), "pumped long enough, on"),
]
