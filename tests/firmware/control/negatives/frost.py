"""What is taken away from the core, and where the sequences of frost.py miss it: name, edit, phase."""

from ..syntax_edits import body_gone, constant, decided, no_row, statement_gone, swapped

SEEN = "state[EXCHANGER_MC] < settings[EXCHANGER_FROST]"
WARM = "state[EXCHANGER_MC] >= frost + FROST_RESET_MK"
COLD = "at_station_mc(state, settings, inputs) < min(settings[EXCHANGER_FROST], SEEN_FROST_MC)"
BACK = "state[LOOP_RETURN_STATUS] <= HELD"
FORTH = "state[LOOP_SUPPLY_STATUS] <= HELD"
SINKS = "glycol_sinks(state, settings, inputs)"
NEGATIVES = [
    ("frost_at_the_exchanger", no_row("EXCHANGER_FROST"), "frost, on"),
    ("frost_at_the_exchanger", statement_gone("latch_frost", "state[FROST] = 1"), "frost, on"),
    ("frost_at_the_exchanger", swapped("latch_frost", SEEN, SEEN.replace("<", "<=")), "between, still off"),
    ("frost_at_the_exchanger", swapped("frost_over", WARM, "True"), "between, stays on"),
    ("frost_at_the_exchanger", swapped("frost_over", WARM, WARM.replace(">=", ">")), "warm, off"),
    ("frost_at_the_exchanger", constant("FROST_LEAST_MS", "0"), "warm at once again: ten minutes all the same"),
    ("frost_at_the_exchanger", constant("FROST_LEAST_MS", "605000"), "warm at once again: ten minutes all the same"),
    (
        "frost_at_the_exchanger",
        swapped("frost_over", "state[EXCHANGER_STATUS] > HELD", "False"),
        "break the sensor: it ends what it began, and says no more",
    ),
    ("frost_at_the_exchanger", swapped("tank_pump_wanted", "state[DUTY] == FROST_GUARD", "False"), "frost, on"),
    (
        "frost_at_the_exchanger",
        swapped("latch_frost", "state[EXCHANGER_STATUS] <= HELD", "True"),
        "",
    ),
    ("frost_at_the_exchanger_while_charging", no_row("EXCHANGER_FROST"), "frost: no glycol moves"),
    ("frost_by_glycol_that_sinks_backwards", body_gone("glycol_sinks", False), "frost, on"),
    ("frost_by_glycol_that_sinks_backwards", swapped("at_station_mc", BACK, "False"), "frost, on"),
    (
        "frost_by_glycol_that_sinks_backwards",
        swapped("glycol_sinks", COLD, COLD.replace("<", "<=")),
        "between, still off",
    ),
    (
        "frost_by_glycol_that_sinks_backwards",
        swapped("at_station_mc", BACK, "True"),
        "",
    ),
    (
        "frost_by_glycol_that_sinks_backwards",
        swapped("glycol_sinks", "state[COLLECTOR_PUMP_ON] == 1", "False"),
        "pumped, it is no sinking",
    ),
    ("frost_by_glycol_that_sinks_forwards", swapped("at_station_mc", FORTH, "False"), "frost, on"),
    (
        "frost_by_glycol_that_sinks_forwards",
        swapped("glycol_sinks", COLD, COLD.replace("<", "<=")),
        "between, still off",
    ),
    (
        "frost_by_glycol_that_sinks_forwards",
        swapped("at_station_mc", FORTH, "True"),
        "",
    ),
    (
        "frost_by_glycol_that_sinks_through_a_radiator_in_series",
        swapped("glycol_sinks", "settings[DUMP_TOPOLOGY] == BYPASS", "True"),
        "frost, on",
    ),
    *(
        negative
        for name in ("cold_room_series", "cold_room_none")
        for negative in (
            (name, body_gone("yield_to_the_sun"), "warm enough: charging"),
            (
                name,
                swapped("yield_to_the_sun", "frost_over(state, settings, inputs, frost)", "True"),
                "plates between, a sunny collector: frost",
            ),
            (
                name,
                decided("yield_to_the_sun", "CHARGING", True),
                "plates warm, the tank a little too cold for this loop: frost",
            ),
            (
                name,
                swapped("track_loop", SINKS, "False"),
                "plates warm, the tank a little too cold for this loop: frost",
            ),
            (
                name,
                constant("FROST_LEAST_MS", "500000"),
                "the sun is gone: frost again, and for ten minutes whatever comes",
            ),
        )
    ),
    ("cool_room_is_not_frosty", constant("SEEN_FROST_MC", "4001"), "plates warm: charging"),
    ("cool_room_is_not_frosty", constant("SEEN_FROST_MC", "3999"), "in the sun, plates between: frost"),
    (
        "cool_room_is_not_frosty",
        swapped("yield_to_the_sun", "min(settings[EXCHANGER_FROST], SEEN_FROST_MC)", "settings[EXCHANGER_FROST]"),
        "plates warm: charging",
    ),
    ("frost_by_glycol_that_sinks_backwards", constant("SEEN_FROST_MC", "3000"), "frost, on"),
    (
        "exchanger_frost_under_four_degrees",
        swapped("glycol_sinks", "min(settings[EXCHANGER_FROST], SEEN_FROST_MC)", "SEEN_FROST_MC"),
        "between, off",
    ),
    (
        "frost_beside_a_bypass_is_none",
        swapped("glycol_sinks", "settings[DUMP_TOPOLOGY] == BYPASS", "False"),
        "frosty glycol at the station, off",
    ),
    ("stiff_glycol_by_the_air", no_row("GLYCOL_STIFF"), "too cold, off"),
    (
        "stiff_glycol_by_the_air",
        swapped("glycol_stiff", "state[OUTDOOR_MC] < limit", "state[OUTDOOR_MC] <= limit"),
        "between, still charging",
    ),
    ("stiff_glycol_by_the_air", swapped("glycol_stiff", "state[OUTDOOR_MC] < limit", "False"), "too cold, off"),
    ("stiff_glycol_by_the_air", constant("STIFF_MARGIN_MK", "0"), "too cold, off"),
    ("stiff_glycol_by_the_collector", swapped("glycol_stiff", "state[COLLECTOR_MC] < limit", "False"), "too cold"),
    (
        "stiff_glycol_by_the_collector",
        swapped("glycol_stiff", "state[COLLECTOR_MC] < limit", "state[COLLECTOR_MC] <= limit"),
        "between",
    ),
    ("stiff_glycol_between_two_rows_of_the_table", swapped("glycol_stiff", "percent % 10", "0"), "between"),
]
