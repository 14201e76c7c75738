"""All sequences, and what is taken away from the core to make each of them fail."""

from twinloop_hil.sequences import library

from . import arrival, away, charging, cold_slug, collector, frost, guard, lies, outputs, restart, tank, upkeep

_PARTS = (charging, tank, collector, outputs, cold_slug, arrival, restart, frost, away, upkeep, lies)

SEQUENCES = [*library.SEQUENCES, *guard.SEQUENCES]
BY_NAME = {sequence["name"]: sequence for sequence in SEQUENCES}
# name of the sequence, edit, phase in which its first expectation must fail
NEGATIVES = [negative for part in _PARTS for negative in part.NEGATIVES]

# Which sequence misses each row of the table, by the row's reason. The last row is the end of the search: without it there is no
# decision at all.
ROW_WITNESSES = {
    "RESET_STORM": "reset_storm",
    "GUARD_ACTED": "guard_on_steam",
    "UNDER_MAINTENANCE": "maintenance",
    "HAND_HELD": "hand_on_the_collector_pump",
    "PURGING": "purge",
    "EXCHANGER_FROST": "frost_at_the_exchanger",
    "COLLECTOR_UNKNOWN": "collector_lost_open",
    "SENSORS_SWAPPED": "collector_and_tank_low_swapped",
    "FLOW_MISSING": "flow_switch",
    "HEAT_ASTRAY": "heat_goes_astray",
    "GLYCOL_NOT_ARRIVING": "glycol_does_not_arrive",
    "VALVE_HOMING": "valve_homing",
    "STEAM": "collector_limit",
    "GLYCOL_STIFF": "stiff_glycol_by_the_air",
    "COLD_SLUG_SERIES: COLD_DUMP | DUMP": "radiator_in_series_takes_no_frosty_loop",
    "TANK_UNKNOWN_DUMP": "both_tank_sensors_lost",
    "TANK_UNKNOWN": "both_tank_sensors_lost",
    "TANK_FULL_DUMP": "dump_with_a_full_tank",
    "RADIATOR_DEAD: FULL | DUMP | DEAD": "dead_radiator",
    "DUMP_HEATS_TANK: FULL | DUMP | HEATING": "dump_that_heats_the_tank",
    "TANK_FULL_REFUSED": "tank_limit",
    "COLD_SLUG_SERIES: COLD_DUMP | HOT_GLYCOL | WANTED": "radiator_in_series_takes_no_frosty_loop",
    "CHARGE_LIMIT_DUMP": "charge_limit",
    "CHARGE_LIMIT_REFUSED": "charge_limit_without_a_radiator",
    "COLD_SLUG_REFUSED: WANTED | TANK_COOL": "cold_slug_through_the_exchanger_only",
    "COLD_SLUG_ROUND": "cold_slug_from_boot",
    "RADIATOR_DEAD: COLD_LOOP | WANTED | DEAD": "no_way_round_through_a_dead_radiator",
    "DUMP_HEATS_TANK: COLD_LOOP | WANTED | HEATING": "no_way_round_while_the_valve_may_be_stuck",
    "HEAT_TOO_WEAK_DUMP": "hot_after_all_while_charging_rests",
    "HEAT_TOO_WEAK": "sun_too_weak_to_be_worth_it",
    "DIFFERENCE": "start_and_stop_difference",
    "COLLECTOR_HOT_DUMP": "hot_collector_and_nothing_wanted",
    "COLD_SLUG_REFUSED: COOLING | COLD_LOOP": "night_cooling_is_refused_in_frost",
    "COLD_SLUG_SERIES: COOLING | COLD_DUMP": "night_cooling_in_series",
    "NIGHT_COOLING_AWAY": "night_cooling",
    "TURN_POSTPONED_COLD": "exercise",
    "TURN_POSTPONED_HOT": "exercise_is_postponed",
    "TURN": "exercise",
    "COLLECTOR_COOL": "collector_minimum",
    "NO_DIFFERENCE": "start_and_stop_difference",
}
