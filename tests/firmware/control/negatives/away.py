"""What is taken away from the core, and where the sequences of away.py miss it: name, edit, phase."""

from ..syntax_edits import body_gone, constant, no_row, swapped

COLDER = "arriving <= state[TANK_COLDEST_MC] - COLDER_MK"
NEGATIVES = [
    (
        "night_cooling_ends_with_a_tank_sensor_off_its_scale",
        swapped("latch_cooling", "off_scale(state, settings, inputs)", "False"),
        "off its scale, off",
    ),
    (
        "night_cooling_ends_with_a_bottom_hotter_than_the_top",
        swapped("latch_cooling", "inversion >= COOLING_INVERSION_MK", "False"),
        "by a kelvin and a half: off",
    ),
    (
        "night_cooling_ends_with_a_bottom_hotter_than_the_top",
        constant("COOLING_INVERSION_MK", "1000"),
        "as two sensors of a mixed tank may differ: on",
    ),
    (
        "night_cooling_ends_with_a_bottom_hotter_than_the_top",
        swapped("latch_cooling", "inversion <= COOLING_UPRIGHT_MK", "True"),
        "by a kelvin and a half: off",
    ),
    (
        "night_cooling_ends_with_a_bottom_hotter_than_the_top",
        constant("COOLING_UPRIGHT_MK", "501"),
        "still hotter by more than half a kelvin: stays off",
    ),
    (
        "night_cooling_ends_with_a_bottom_hotter_than_the_top",
        swapped("glycol_cold", "inversion_mk(state, settings, inputs) >= COOLING_INVERSION_MK", "False"),
        "upside down at once again: the water stands, the glycol goes round for its minimum run",
    ),
    (
        "night_cooling_ends_with_a_bottom_hotter_than_the_top",
        swapped("latch_cooling", "state[TANK_HIGH_STATUS] > HELD", "False"),
        "the top lost: nobody can tell, off",
    ),
    ("night_cooling", no_row("NIGHT_COOLING_AWAY"), "cold, on"),
    ("night_cooling", constant("COOLING_START_MK", "5000"), "too warm a night, off"),
    ("night_cooling", constant("COOLING_START_MK", "10001"), "cold, on"),
    ("night_cooling", constant("COOLING_STOP_MK", "2001"), "between, stays on"),
    ("night_cooling", constant("COOLING_STOP_MK", "1999"), "too warm, off"),
    (
        "night_cooling",
        swapped("glycol_cold", COLDER, "True"),
        "what arrives is not colder than all of the tank: the tank pump waits",
    ),
    (
        "night_cooling",
        swapped("glycol_cold", COLDER, COLDER.replace("<=", "<")),
        "what arrives is not colder than all of the tank: the tank pump waits",
    ),
    (
        "night_cooling",
        swapped("glycol_cold", "max(arriving, state[LOOP_SUPPLY_MC])", "arriving"),
        "what arrives is not colder than all of the tank: the tank pump waits",
    ),
    (
        "night_cooling",
        swapped("glycol_cold", "not timed_through(state, settings, inputs)", "False"),
        "cold, on",
    ),
    (
        "night_cooling",
        swapped("latch_cooling", "state[TANK_FULL] == 0", "False"),
        "cool enough: the tank is no longer full",
    ),
    (
        "night_cooling_keeps_the_minimum_run",
        swapped("latch_cooling", "ran_enough(state, settings, inputs)", "True"),
        "warm at once again: stays on",
    ),
    ("night_cooling_is_refused_in_frost", no_row("COLD_SLUG_REFUSED: COOLING | COLD_LOOP"), "frosty, off"),
    ("night_cooling_ends_with_a_lost_collector", no_row("COLLECTOR_UNKNOWN"), "break the collector"),
    (
        "night_cooling_without_loop_supply",
        swapped("glycol_cold", "not timed_through(state, settings, inputs)", "False"),
        "its time, and then the collector tells",
    ),
    ("night_cooling_in_series", no_row("COLD_SLUG_SERIES: COOLING | COLD_DUMP"), "frost outdoors: the radiator may hold it, off"),
    (
        "night_cooling_in_series",
        swapped("dump_frosty", "state[OUTDOOR_MC] < settings[EXCHANGER_FROST]", "False"),
        "frost outdoors: the radiator may hold it, off",
    ),
    ("night_cooling_in_series", swapped("valve_wanted", "settings[DUMP_TOPOLOGY] == SERIES", "False"), ""),
    ("no_night_cooling_at_home", swapped("latch_cooling", "settings[AWAY] == 0", "False"), ""),
    ("away_limit", swapped("tank_limit_mc", "settings[AWAY] == 1", "False"), "hot, off"),
    ("away_limit", body_gone("tank_full_low_mc", 67000), "reset of the top, and of the bottom"),
]
