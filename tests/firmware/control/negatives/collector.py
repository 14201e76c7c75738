"""What is taken away from the core, and where the sequences of collector.py miss it: name, edit, phase."""

from ..syntax_edits import no_row, statement_gone, swapped

STEAM_AT = "state[COLLECTOR_MC] >= settings[COLLECTOR_LIMIT]"
STEAM_RESET = "state[COLLECTOR_MC] <= settings[COLLECTOR_RESET]"
DUMP_AT = "state[COLLECTOR_MC] >= settings[DUMP_COLLECTOR_START]"
DUMP_STOP = "state[COLLECTOR_MC] <= settings[DUMP_COLLECTOR_STOP]"
HOT_AT = "hot >= settings[CHARGE_LIMIT]"
HOT_RESET = "hot < settings[CHARGE_LIMIT] - settings[CHARGE_LIMIT_RESET]"
SUPPLY_KNOWN = "state[LOOP_SUPPLY_STATUS] <= HELD"
NEGATIVES = [
    ("collector_limit", no_row("STEAM"), "steam, off"),
    ("collector_limit", statement_gone("latch_steam", "state[STAGNATION] = 1"), "steam, off"),
    (
        "collector_limit",
        swapped("latch_steam", STEAM_AT, "state[COLLECTOR_MC] > settings[COLLECTOR_LIMIT]"),
        "steam, off",
    ),
    (
        "collector_limit",
        swapped("latch_steam", STEAM_AT, "state[COLLECTOR_MC] > settings[COLLECTOR_LIMIT] - 2"),
        "between, still pumping",
    ),
    ("collector_limit", swapped("latch_steam", STEAM_RESET, "True"), "between, stays off"),
    (
        "collector_limit",
        swapped("latch_steam", STEAM_RESET, "state[COLLECTOR_MC] < settings[COLLECTOR_RESET]"),
        "cooler, on again",
    ),
    (
        "collector_limit",
        swapped("latch_steam", "state[COLLECTOR_STATUS] > HELD", "False"),
        "steam, lost, back in the band: stays off",
    ),
    ("collector_limit_in_the_middle_of_charging", no_row("STEAM"), "steam, off, the tank pump empties the exchanger"),
    ("dump_with_a_full_tank", no_row("TANK_FULL_DUMP"), "hot, on"),
    ("dump_with_a_full_tank", statement_gone("latch_dump", "state[DUMP_WANTED] = 1"), "hot, on"),
    (
        "dump_with_a_full_tank",
        swapped("latch_dump", DUMP_AT, "state[COLLECTOR_MC] > settings[DUMP_COLLECTOR_START]"),
        "hot, on",
    ),
    (
        "dump_with_a_full_tank",
        swapped("latch_dump", DUMP_AT, "state[COLLECTOR_MC] > settings[DUMP_COLLECTOR_STOP]"),
        "between, still off",
    ),
    ("dump_with_a_full_tank", swapped("latch_dump", DUMP_STOP, "True"), "between, stays on"),
    (
        "dump_with_a_full_tank",
        swapped("latch_dump", DUMP_STOP, "state[COLLECTOR_MC] < settings[DUMP_COLLECTOR_STOP]"),
        "cold, off",
    ),
    (
        "dump_with_a_full_tank",
        swapped("latch_dump", "ran_enough(state, settings, inputs)", "True"),
        "hot and at once cold again: the minimum run is kept",
    ),
    (
        "a_dump_goes_on_after_a_lost_collector",
        swapped("latch_dump", "state[COLLECTOR_STATUS] > HELD", "False"),
        "restore in the band",
    ),
    (
        "a_full_tank_without_a_radiator",
        swapped("collect_plant", "settings[DUMP_TOPOLOGY] != NONE", "True"),
        "hot, off: the collector may stagnate",
    ),
    ("hot_collector_and_nothing_wanted", no_row("COLLECTOR_HOT_DUMP"), "hot, on"),
    ("charge_limit", no_row("CHARGE_LIMIT_DUMP"), "too hot, to the radiator once the valve is there"),
    (
        "charge_limit",
        statement_gone("latch_hot", "state[CHARGE_HOT] = 1"),
        "too hot, to the radiator once the valve is there",
    ),
    (
        "charge_limit",
        swapped("latch_hot", HOT_AT, "hot > settings[CHARGE_LIMIT]"),
        "too hot, to the radiator once the valve is there",
    ),
    ("charge_limit", swapped("latch_hot", HOT_RESET, "True"), "between, still to the radiator"),
    (
        "charge_limit",
        swapped("latch_hot", HOT_RESET, "hot <= settings[CHARGE_LIMIT] - settings[CHARGE_LIMIT_RESET]"),
        "between, still to the radiator",
    ),
    (
        "charge_limit",
        swapped("latch_hot", "max(hot, state[LOOP_SUPPLY_MC])", "hot"),
        "glycol that arrives counts as well",
    ),
    (
        "charge_limit",
        swapped("latch_hot", "state[COLLECTOR_STATUS] > HELD", "False"),
        "too hot and the collector lost: no pump; restored in the band: still too hot",
    ),
    ("charge_limit_without_a_radiator", no_row("CHARGE_LIMIT_REFUSED"), "too hot, off"),
]
