"""What is taken away from the core, and where the sequences of lies.py miss it: name, edit, phase."""

from twinloop_hil.sequences.lies.glycol import FLOW

from ..syntax_edits import body_gone, constant, no_row, statement_gone, swapped

COOLER = "state[LOOP_SUPPLY_MC] - state[LOOP_RETURN_MC] >= DUMP_EFFECT_MK"
FELL = "state[COLLECTOR_MC] <= state[DUMP_FROM_MC] - DUMP_EFFECT_MK"
WARMER = "tank_seen_mc(state, settings, inputs) - state[DUMP_TANK_MC] >= DUMP_EFFECT_MK"
AIR = "abs(state[TANK_LOW_MC] - state[OUTDOOR_MC]) > SWAP_AIR_MK"
TOP = "-SWAP_ABOVE_MK <= state[TANK_HIGH_MC] - state[COLLECTOR_MC] <= SWAP_TANK_MK"
BELOW = "-SWAP_ABOVE_MK <= state[TANK_HIGH_MC] - state[COLLECTOR_MC] < SWAP_TANK_MK"
ABOVE = "-SWAP_ABOVE_MK < state[TANK_HIGH_MC] - state[COLLECTOR_MC] <= SWAP_TANK_MK"
STILL = "abs(state[COLLECTOR_MC] - state[FAR_FROM_MC]) > SWAP_STILL_MK"
NEGATIVES = [
    ("dead_radiator", no_row("RADIATOR_DEAD: FULL | DUMP | DEAD"), "for three minutes: given up"),
    ("dead_radiator", swapped("dump_works", COOLER, "True"), "for three minutes: given up"),
    ("dead_radiator", swapped("dump_works", COOLER, COOLER.replace(">=", ">")), "it takes out 2 K: works"),
    ("dead_radiator", constant("DUMP_LIMIT_MS", "175000"), "less, for less than three minutes: still hoping"),
    ("dead_radiator", constant("DUMP_LIMIT_MS", "185000"), "for three minutes: given up"),
    ("dead_radiator", body_gone("forget_dump_fault"), "half an hour later: tried again, and given up again"),
    (
        "dead_radiator",
        statement_gone("bar_dump", "state[DUMP_RETRY_MS] = 0"),
        "the collector cools by itself: nothing to dump, the alarm stays",
    ),
    ("dead_radiator", constant("RETRY_LIMIT_MS", "600000"), "half an hour later: tried again, and given up again"),
    ("dead_radiator_by_the_collector", swapped("dump_works", FELL, "True"), "not colder: given up"),
    ("dead_radiator_by_the_collector", swapped("dump_works", FELL, FELL.replace("<=", "<")), "colder by 2 K: works"),
    ("dead_radiator_by_the_collector", constant("DUMP_EFFECT_MK", "1999"), "colder by less than 2 K: given up"),
    (
        "dead_radiator_with_a_sensor_lost_meanwhile",
        swapped("dump_works", "state[LOOP_SUPPLY_STATUS] <= HELD", "True"),
        "break the sensor: judged by the collector, which fell",
    ),
    (
        "going_round_is_not_judged",
        swapped("watch_dump", "state[REASON] == COLD_SLUG_ROUND", "False"),
        "no effect for seven minutes, and no alarm",
    ),
    ("dump_that_heats_the_tank", no_row("DUMP_HEATS_TANK: FULL | DUMP | HEATING"), "2 K: given up"),
    ("dump_that_heats_the_tank", body_gone("dump_heats", False), "2 K: given up"),
    ("dump_that_heats_the_tank", swapped("dump_heats", WARMER, WARMER.replace(">=", ">")), "2 K: given up"),
    (
        "dump_that_heats_the_tank",
        statement_gone("watch_dump", "state[DUMP_TANK_MC] = tank_seen_mc(state, settings, inputs)"),
        "",
    ),
    (
        "dump_in_series_may_warm_the_tank",
        swapped("dump_heats", "settings[DUMP_TOPOLOGY] != BYPASS", "False"),
        "3 K more in the tank, still dumping",
    ),
    ("no_way_round_through_a_dead_radiator", no_row("RADIATOR_DEAD: COLD_LOOP | WANTED | DEAD"), "frosty loop: refused"),
    (
        "no_way_round_while_the_valve_may_be_stuck",
        no_row("DUMP_HEATS_TANK: COLD_LOOP | WANTED | HEATING"),
        "frosty loop: refused",
    ),
    (
        "no_way_round_while_the_valve_may_be_stuck",
        swapped(
            "collect_plant",
            "settings[DUMP_TOPOLOGY] == BYPASS and state[DUMP_BARRED] == 0",
            "settings[DUMP_TOPOLOGY] == BYPASS",
        ),
        "frosty loop: refused",
    ),
    (
        "a_dump_is_judged_from_its_own_beginning",
        statement_gone("watch_dump", "state[DUMP_FROM_MC] = UNKNOWN_MC"),
        "the tank is as warm as before: the dump goes on",
    ),
    ("heat_goes_astray", no_row("HEAT_ASTRAY"), "given up"),
    ("heat_goes_astray", body_gone("astray", False), "given up"),
    ("heat_goes_astray", body_gone("plates_cold", False), ""),
    (
        "heat_goes_astray",
        swapped("plates_cold", "state[TANK_PUMP_ON] == 1", "False"),
        "once it runs its cold water says nothing: stays on",
    ),
    (
        "cold_plates_under_weak_glycol_are_no_fault",
        swapped("astray", "state[LOOP_SUPPLY_MC] - state[TANK_REFERENCE_MC] < settings[EXCHANGER_LEAD]", "False"),
        "5 minutes, and the pump rests",
    ),
    (
        "weak_glycol_and_plates_out_of_sight_are_no_fault",
        statement_gone("watch_joining", "give_up_flow(state, settings, inputs, HEAT_TOO_WEAK)"),
        "5 minutes, and the pump rests",
    ),
    (
        "plates_out_of_sight_do_not_keep_the_tank_pump",
        swapped("plates_cold", "state[EXCHANGER_STATUS] > HELD", "False"),
        "break the sensor: by loop_supply alone",
    ),
    ("collector_and_tank_low_swapped", no_row("SENSORS_SWAPPED"), "found within ten minutes of boot"),
    ("collector_and_tank_low_swapped", body_gone("looks_swapped", False), "found within ten minutes of boot"),
    (
        "swapped_as_far_from_the_air_as_may_be",
        swapped("looks_swapped", AIR, AIR.replace(">", ">=")),
        "found within ten minutes of boot",
    ),
    ("tank_low_is_not_the_air", swapped("looks_swapped", AIR, "False"), "found within ten minutes of boot"),
    (
        "swapped_with_a_tank_as_warm_as_may_be",
        swapped("looks_swapped", TOP, ABOVE),
        "found within ten minutes of boot",
    ),
    (
        "collector_is_hotter_than_the_tank",
        swapped("looks_swapped", TOP, "abs(state[COLLECTOR_MC] - state[TANK_HIGH_MC]) <= SWAP_TANK_MK"),
        "found within ten minutes of boot",
    ),
    ("swapped_in_frost", no_row("COLD_SLUG_REFUSED: WANTED | TANK_COOL"), "no glycol is sent round"),
    ("swapped_in_frost", body_gone("frosty_tank", False), "found within ten minutes of boot"),
    ("collector_is_not_the_tank", swapped("looks_swapped", TOP, "True"), "found within ten minutes of boot"),
    (
        "swapped_with_a_cold_tank",
        swapped("looks_swapped", TOP, BELOW),
        "found within ten minutes of boot",
    ),
    (
        "a_collector_that_the_sun_warms_is_not_swapped",
        swapped("looks_swapped", STILL, "False"),
        "warmed by more than 1.5 K: no flow",
    ),
    *((run["name"], no_row("FLOW_MISSING"), "for half a minute: given up") for run in FLOW),
    *((run["name"], constant("FLOWLESS_LIMIT_MS", "25000"), "no flow for less than half a minute: goes on") for run in FLOW),
    *(
        (
            run["name"],
            swapped("sensor_lost", "inputs[IN_FLOW_CAUSE] != 0", "False"),
            "break the input: it proves nothing any more",
        )
        for run in FLOW
    ),
    *(
        (
            run["name"],
            swapped("watch_flow", "1 if flow_seen(state, settings, inputs, 10) else 0", "0"),
            "the pump rests: what still flows after a minute is unbidden",
        )
        for run in FLOW
    ),
    ("flow_switch", swapped("flow_seen", "settings[FLOW_SENSOR] == FLOW_METER", "True"), ""),
    (
        "flow_meter",
        swapped("flow_seen", "settings[FLOW_SENSOR] == FLOW_METER", "False"),
        "for half a minute: given up",
    ),
    (
        "flow_meter_that_creeps_at_rest",
        swapped("flow_seen", "settings[FLOW_SENSOR] == FLOW_METER", "False"),
        "a tenth of the flow is none",
    ),
    (
        "tank_high_stands_still",
        body_gone("watch_frozen"),
        "longer: not trusted, and lost when its last value is too old",
    ),
    (
        "tank_high_stands_still",
        constant("FROZEN_LIMIT_MS", "840000"),
        "heat passes and it does not move: a quarter of an hour of trust",
    ),
    (
        "tank_high_stands_still",
        constant("FROZEN_LIMIT_MS", "960000"),
        "longer: not trusted, and lost when its last value is too old",
    ),
    (
        "tank_high_that_flickers_is_alive",
        statement_gone("watch_frozen", "state[FROZEN_MS] = 0"),
        "one step of its chip, now and then",
    ),
    ("tank_high_that_flickers_is_alive", body_gone("heat_passes", True), "one step of its chip, now and then"),
    ("crossed_tank_sensors", body_gone("tank_crossed", False), "by 5 K: the margin counts, and somebody has to look"),
    ("crossed_tank_sensors", constant("INVERSION_MK", "4999"), "colder on top by less than 5 K: noise of a mixed tank"),
    ("crossed_tank_sensors", constant("INVERSION_MK", "5001"), "by 5 K: the margin counts, and somebody has to look"),
    (
        "crossed_tank_sensors",
        swapped("take_hottest", "tank_crossed(state, settings, inputs)", "False"),
        "by 5 K: the margin counts, and somebody has to look",
    ),
    ("unbidden_flow_without_a_flow_input", body_gone("watch_unbidden"), "by 12 K: unbidden"),
    (
        "unbidden_flow_without_a_flow_input",
        constant("TRACK_RANGE_MK", "11999"),
        "it follows for an hour, by less than 12 K: weather",
    ),
    ("unbidden_flow_without_a_flow_input", constant("TRACK_NEAR_MK", "2999"), "by 12 K: unbidden"),
    ("unbidden_flow_without_a_flow_input", constant("TRACK_APART_MK", "14999"), "apart, but not by 15 K: still"),
    ("unbidden_flow_without_a_flow_input", constant("TRACK_APART_MK", "15001"), "restore, apart by 15 K: over"),
    (
        "unbidden_flow_without_a_flow_input",
        constant("TRACK_LIMIT_MS", "3500000"),
        "it follows again, but not for an hour",
    ),
    ("pumped_flow_is_bidden", constant("TRACK_FROM_MS", "0"), "a run of the pump starts it again"),
    ("scald", body_gone("watch_tap"), "for a minute: alarm"),
    ("scald", constant("SCALD_MC", "51999"), "as hot as a mixing valve may let through"),
    ("scald", constant("SCALD_MC", "52001"), "for a minute: alarm"),
    ("scald", constant("SCALD_LIMIT_MS", "55000"), "hotter, for less than a minute"),
    ("collector_stands_still_in_the_sun", body_gone("watch_still"), "an hour: held, then lost"),
    (
        "collector_stands_still_in_the_sun",
        swapped("stuck", "state[STILL_MS] >= STILL_LIMIT_MS", "False"),
        "an hour: held, then lost",
    ),
    (
        "collector_stands_still_in_the_sun",
        constant("SUNNY_MK", "24999"),
        "hardly warmer than the air: believed however long",
    ),
    (
        "collector_stands_still_in_the_sun",
        constant("STILL_LIMIT_MS", "3595000"),
        "in the sun for less than an hour: believed",
    ),
    (
        "collector_stands_still_in_the_sun",
        statement_gone("watch_still", "state[STILL_MS] = 0"),
        "one step of its chip: it lives",
    ),
    ("fouled_exchanger", body_gone("watch_exchanger"), "for two hours: alarm"),
    ("fouled_exchanger", constant("CLEAN_PERMILLE", "700"), "clean again: over"),
    ("fouled_exchanger", constant("FOUL_PERMILLE", "299"), "for two hours: alarm"),
    ("fouled_exchanger", constant("FOUL_PERMILLE", "700"), "poor, for less than two hours"),
    ("lost_sensor_alarm", body_gone("sensor_lost", False), "for two minutes: alarm"),
    ("lost_sensor_alarm", constant("LOST_LIMIT_MS", "115000"), "held, then lost for less than two minutes"),
    (
        "an_absent_sensor_is_not_lost",
        swapped("sensor_lost", "state[index] == LOST", "state[index] >= LOST"),
        "not fitted: no alarm",
    ),
    (
        "alarms_of_the_board",
        swapped("collect_station_alarms", "inputs[IN_SETTINGS_LOST] != 0", "False"),
        "defaults in place of lost settings: alarm, and work goes on",
    ),
    (
        "alarms_of_the_board",
        swapped("collect_station_alarms", "inputs[IN_RESETS] >= 3", "False"),
        "two resets: none; three: alarm",
    ),
    (
        "alarms_of_the_board",
        swapped("collect_station_alarms", "inputs[IN_RESETS] >= 3", "inputs[IN_RESETS] >= 2"),
        "two resets: none; three: alarm",
    ),
    ("alarms_of_the_board", swapped("collect_station_alarms", "state[STAGNATION] == 1", "False"), "steam: alarm"),
    (
        "alarms_of_the_board",
        swapped("collect_station_alarms", "state[COLLECTOR_STATUS] <= HELD", "True"),
        "not for an unknown collector: that is the sensor's alarm",
    ),
    (
        "alarms_of_the_board",
        swapped("speak", "state[ALARMS] != 0", "False"),
        "defaults in place of lost settings: alarm, and work goes on",
    ),
]
