"""What is taken away from the core, and where the sequences of cold_slug.py miss it: name, edit, phase."""

from twinloop_hil.sequences.charging import LOST

from ..syntax_edits import body_gone, constant, denied, no_row, statement_gone, swapped

PUMPED = "state[PUMPED_ML] * 2 < settings[LOOP_VOLUME] * 3"
COLD = "seen < settings[EXCHANGER_FROST]"
FROSTY = "state[TANK_LOW_MC] < 0"
ENOUGH = "state[TANK_LOW_MC] < 10000 + 5 * short"
SLUG = "cold_slug_through_the_exchanger_only"
NEGATIVES = [
    ("cold_slug_from_boot", no_row("COLD_SLUG_ROUND"), "round through the radiator"),
    ("cold_slug_from_boot", statement_gone("coldloop.wake", "state[LOOP_LOWEST_MC] = COLDEST_MC"), "after a reset again"),
    ("cold_slug_from_boot", swapped("count_pumped", PUMPED, "False"), "round through the radiator"),
    (
        "cold_slug_from_boot",
        swapped("count_pumped", PUMPED, "state[PUMPED_ML] < settings[LOOP_VOLUME]"),
        "round through the radiator",
    ),
    (
        "cold_slug_from_boot",
        swapped("count_pumped", PUMPED, "state[PUMPED_ML] * 2 <= settings[LOOP_VOLUME] * 3"),
        "pumped round, charging",
    ),
    (
        "cold_slug_pumped_in_two_parts",
        statement_gone("fold_lowest", "state[PUMPED_ML] = 0"),
        "a frosty sign in the middle starts it again",
    ),
    (
        "cold_slug_by_the_collector",
        swapped("track_loop", "state[COLLECTOR_MC]", "COLDEST_MC + 100000"),
        "frosty for one step: round",
    ),
    (
        "cold_slug_by_the_collector",
        swapped(
            "collect_plant",
            "state[LOOP_LOWEST_MC] < settings[EXCHANGER_FROST]",
            "state[LOOP_LOWEST_MC] <= settings[EXCHANGER_FROST]",
        ),
        "not frosty: charging",
    ),
    (
        "cold_slug_by_the_collector",
        swapped("count_pumped", "min(state[LOOP_LOWEST_MC], state[LOOP_SUPPLY_MC])", "state[LOOP_LOWEST_MC]"),
        "what arrives is still frosty: round",
    ),
    (
        "cold_slug_by_air_after_ten_minutes",
        swapped("track_loop", "state[STANDING_MS] >= STANDING_LIMIT_MS", "True"),
        "stood for less than ten minutes, the valve's way included: charging",
    ),
    (
        "cold_slug_by_air_after_ten_minutes",
        swapped("track_loop", "state[STANDING_MS] >= STANDING_LIMIT_MS", "False"),
        "stood for ten minutes: round",
    ),
    (
        "cold_slug_by_air_after_ten_minutes",
        swapped("track_loop", "state[STANDING_MS] >= STANDING_LIMIT_MS", "state[STANDING_MS] > STANDING_LIMIT_MS"),
        "stood for ten minutes: round",
    ),
    (
        "cold_slug_by_air_after_ten_minutes",
        statement_gone("count_pumped", "state[STANDING_MS] = 0"),
        "stood for less than ten minutes, the valve's way included: charging",
    ),
    (
        "cold_slug_while_air_is_unknown",
        statement_gone("fold_outdoor", "fold_lowest(state, settings, inputs, COLDEST_MC)"),
        "break the sensor: after ten minutes of standing anything may be out there",
    ),
    (
        "the_radiator_is_a_slug_of_its_own",
        body_gone("flush_radiator"),
        "frost: the first glycol through the radiator sets the latch",
    ),
    (
        "the_radiator_is_a_slug_of_its_own",
        swapped("flush_radiator", "state[RADIATOR_STOOD] == 1", "True"),
        "pumped round, charging",
    ),
    (
        "mild_hours_forgive_a_loop_without_a_bypass",
        body_gone("forgive_mild"),
        "two hours: forgiven, as far as the mildest lag allows",
    ),
    ("mild_hours_forgive_a_loop_without_a_bypass", constant("MILD_LIMIT_MS", "6000000"), "mild, but not for two hours"),
    ("mild_hours_forgive_a_loop_without_a_bypass", constant("MILD_LAG_MK", "2999"), "a colder spell: from the start"),
    (
        "mild_hours_forgive_a_loop_without_a_bypass",
        swapped("forgive_mild", "mildest < settings[EXCHANGER_FROST]", "False"),
        "a colder spell: from the start",
    ),
    (
        "mild_hours_forgive_a_loop_without_a_bypass",
        swapped("forgive_mild", "min(state[COLLECTOR_MC], state[OUTDOOR_MC])", "state[OUTDOOR_MC]"),
        "the collector counts as well",
    ),
    (
        "cold_slug_from_boot",
        swapped("forgive_mild", "settings[DUMP_TOPOLOGY] == BYPASS", "False"),
        "hours of warmth do not clear it",
    ),
    (
        "cold_slug_with_tank_low_lost",
        swapped(
            "tank_too_cold",
            "state[TANK_LOW_STATUS] > HELD or state[TANK_LOW_MC] < 10000 + 5 * short",
            "max(state[TANK_LOW_MC], state[2]) < 10000 + 5 * short",
        ),
        "cold bottom: refused",
    ),
    (
        "radiator_in_series_takes_no_frosty_loop",
        no_row("COLD_SLUG_SERIES: COLD_DUMP | HOT_GLYCOL | WANTED"),
        "too hot to charge: refused",
    ),
    ("radiator_in_series_takes_no_frosty_loop", no_row("COLD_SLUG_SERIES: COLD_DUMP | DUMP"), "tank full and hot: refused"),
    (
        "radiator_in_series_is_a_slug_ahead_of_the_exchanger",
        body_gone("dump_frosty", False),
        "too hot to charge: the standing water must not meet the radiator's content",
    ),
    (
        "the_radiator_is_a_slug_without_an_outdoor_sensor",
        statement_gone("fold_outdoor", "fold_lowest(state, settings, inputs, COLDEST_MC)"),
        "nobody knows the air: the radiator may hold anything",
    ),
    (
        "frost_that_was_seen_is_not_forgotten",
        swapped("know_loop", "min(state[LOOP_SEEN_MC], now)", "now"),
        "the air is known again: judged by what was seen",
    ),
    (
        "frost_that_was_seen_is_not_forgotten",
        statement_gone("coldloop.wake", "state[LOOP_SEEN_MC] = WARMEST_MC"),
        "",
    ),
    (
        "glycol_waits_until_the_frosty_radiator_is_out_of_its_way",
        denied("path_open", "COLD_DUMP"),
        "the pump waits for the valve's end, whatever valve it is",
    ),
    (
        "no_glycol_meets_a_frosty_tank",
        swapped("tank_too_cold", FROSTY, "False"),
        "frosty: not even sent round",
    ),
    (
        "no_glycol_meets_a_frosty_tank",
        swapped("tank_too_cold", FROSTY, FROSTY.replace("<", "<=")),
        "a hair warmer: round",
    ),
    (
        "cold_slug_waits_for_an_open_valve_to_come_home",
        denied("path_open", "COLD_LOOP", "COLD_DUMP"),
        "the loop becomes unknown, the valve still stands at the exchanger",
    ),
    (SLUG, no_row("COLD_SLUG_REFUSED: WANTED | TANK_COOL"), "tank too cold: refused"),
    (SLUG, swapped("tank_too_cold", ENOUGH, "False"), "tank too cold: refused"),
    (SLUG, swapped("tank_too_cold", ENOUGH, ENOUGH.replace("<", "<=")), "tank warm enough: water first"),
    (SLUG, swapped("tank_too_cold", "5 * short", "4 * short"), "tank too cold: refused"),
    (SLUG, body_gone("water_first", 0), "tank warm enough: water first"),
    (SLUG, constant("WATER_FIRST_MS", "0"), "tank warm enough: water first"),
    (
        SLUG,
        statement_gone("fold_outdoor", "state[LOOP_KNOWN] = 0"),
        "break the sensor of the air, ten minutes after the pump",
    ),
    ("cold_slug_with_the_radiator_in_series", body_gone("water_first", 0), "tank warm enough: water first"),
    (
        "cold_slug_with_the_radiator_in_series",
        swapped("collect_plant", "settings[DUMP_TOPOLOGY] == BYPASS", "True"),
        "tank warm enough: water first",
    ),
    (
        "unknown_loop_without_a_bypass_is_judged_once",
        constant("LAG_MK", "0"),
        "air at 19 C: 15 K of lag end at exchanger_frost, charging",
    ),
    (
        "unknown_loop_without_a_bypass_is_judged_once",
        body_gone("know_loop"),
        "air at 19 C: 15 K of lag end at exchanger_frost, charging",
    ),
    (
        "unknown_loop_without_a_bypass_is_judged_once",
        swapped("know_loop", "state[LOOP_KNOWN] == 1", "False"),
        "judged once: the sun on the outdoor sensor does not make the loop warm",
    ),
    (
        "unknown_loop_without_a_bypass_is_judged_once",
        statement_gone("track_loop", "state[LOOP_KNOWN] = 0"),
        "a collector that was lost: judged again, by the colder of the two",
    ),
    *((lost["name"], statement_gone("track_loop", "fold_lowest(state, settings, inputs, COLDEST_MC)"), "restore") for lost in LOST),
]
