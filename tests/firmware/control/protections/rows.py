"""Rows of the table as protections: the sequences that miss each row, and in which phase.

The last row ends the search: without it there is no decision at all.
"""

from twinloop_hil.sequences.charging import LOST

LAST = "NO_DIFFERENCE"
MISSED = {
    "RESET_STORM": {"reset_storm": "three: all off", "hand_on_both_pumps": "three resets outrank hands"},
    "GUARD_ACTED": {"guard_on_steam": "ten minutes off"},
    "UNDER_MAINTENANCE": {"maintenance": "charging: all off at once"},
    "HAND_HELD": {"hand_on_the_collector_pump": "held off: off"},
    "PURGING": {"purge": "five minutes through the radiator"},
    "EXCHANGER_FROST": {"frost_at_the_exchanger": "frost, on", "frost_at_the_exchanger_while_charging": "frost: no glycol moves"},
    "COLLECTOR_UNKNOWN": {
        "minimum_run": "a safety stop does not wait",
        "start_and_stop_difference": "break the sensor",
        "collector_minimum": "break the sensor",
        **{lost["name"]: "break the sensor" for lost in LOST},
        "night_cooling_ends_with_a_lost_collector": "break the collector",
    },
    "SENSORS_SWAPPED": {"collector_and_tank_low_swapped": "found within ten minutes of boot"},
    "FLOW_MISSING": {"flow_switch": "for half a minute: given up", "flow_meter": "for half a minute: given up"},
    "HEAT_ASTRAY": {"heat_goes_astray": "given up"},
    "GLYCOL_NOT_ARRIVING": {"glycol_does_not_arrive": "pumped for three minutes: given up"},
    "VALVE_HOMING": {"valve_homing": "at boot nothing runs", "valve_homing_with_open_crossover": "at boot nothing runs"},
    "STEAM": {
        "collector_limit": "steam, off",
        "a_hot_collector_is_dumped_while_charging_is_given_up": "steam outranks it",
        "collector_limit_in_the_middle_of_charging": "steam, off",
    },
    "GLYCOL_STIFF": {
        "stiff_glycol_by_the_air": "too cold, off",
        "a_hot_collector_is_dumped_while_charging_is_given_up": "stiff glycol outranks it",
    },
    "COLD_SLUG_SERIES: COLD_DUMP | FULL | DUMP": {"radiator_in_series_takes_no_frosty_loop": "tank full and hot: refused"},
    "TANK_UNKNOWN_DUMP": {"both_tank_sensors_lost": "hot, to the radiator"},
    "TANK_UNKNOWN": {"both_tank_sensors_lost": "break the sensors"},
    "TANK_FULL_DUMP": {"dump_with_a_full_tank": "hot, on"},
    "RADIATOR_DEAD: FULL | DUMP | DEAD": {"dead_radiator": "for three minutes: given up"},
    "DUMP_HEATS_TANK: FULL | DUMP | HEATING": {"dump_that_heats_the_tank": "for two minutes: given up"},
    "TANK_FULL_REFUSED": {"tank_limit": "hot, off", "a_full_tank_stays_full_while_nobody_sees_it": ""},
    "COLD_SLUG_SERIES: COLD_DUMP | HOT_GLYCOL | WANTED": {"radiator_in_series_takes_no_frosty_loop": "too hot to charge: refused"},
    "CHARGE_LIMIT_DUMP": {"charge_limit": "too hot, to the radiator"},
    "CHARGE_LIMIT_REFUSED": {"charge_limit_without_a_radiator": "too hot, off"},
    "COLD_SLUG_REFUSED: WANTED | TANK_COOL": {"cold_slug_through_the_exchanger_only": "tank too cold: refused"},
    "COLD_SLUG_ROUND": {"cold_slug_from_boot": "round through the radiator"},
    "RADIATOR_DEAD: COLD_LOOP | WANTED | DEAD": {"no_way_round_through_a_dead_radiator": "frosty loop: refused"},
    "DUMP_HEATS_TANK: COLD_LOOP | WANTED | HEATING": {"no_way_round_while_the_valve_may_be_stuck": "frosty loop: refused"},
    "PAUSE_DUMP": {
        "hot_after_all_while_charging_rests": "hot, on",
        "a_hot_collector_is_dumped_while_charging_is_given_up": "hot: to the radiator, and the alarm stays",
        "a_hot_collector_is_dumped_while_the_exchanger_stays_cold": "hot: to the radiator",
        "a_hot_collector_is_dumped_though_the_flow_input_sees_nothing": "hot: to the radiator",
    },
    "HEAT_TOO_WEAK": {"sun_too_weak_to_be_worth_it": "glycol flows"},
    "DIFFERENCE": {"start_and_stop_difference": ""},
    "COLLECTOR_HOT_DUMP": {"hot_collector_and_nothing_wanted": "hot, on"},
    "COLD_SLUG_REFUSED: COOLING | COLD_LOOP": {"night_cooling_is_refused_in_frost": "frosty, off"},
    "COLD_SLUG_SERIES: COOLING | COLD_DUMP": {"night_cooling_in_series": "frost outdoors"},
    "NIGHT_COOLING_AWAY": {"night_cooling": "cold, on"},
    "TURN_POSTPONED_COLD": {"exercise": "restore: the loop is unknown now", "exercise_is_postponed": "a cold loop as well"},
    "TURN_POSTPONED_HOT": {"exercise_is_postponed": "a full tank"},
    "TURN": {"exercise": "due: the valve first"},
    "COLLECTOR_COOL": {"collector_minimum": ""},
    "HEAT_TAKEN": {"charging_that_takes_heat_out_of_the_tank": "for five minutes: ended, and named"},
}
