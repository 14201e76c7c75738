"""What is taken away from the core, and where the sequences of tank.py miss it: name, edit, phase."""

from ..syntax_edits import body_gone, no_row, statement_gone, swapped

OVER = "hottest >= limit"
OVER_RESET = "hottest < limit - settings[TANK_LIMIT_RESET]"
BOTTOM_RESET = "low < full - settings[TANK_FULL_RESET]"
HOTTEST = "max(high, state[TANK_REFERENCE_MC])"
MARGIN_ADDED = statement_gone("take_hottest", "high += settings[STRATIFICATION_MARGIN]")
NEGATIVES = [
    *(
        negative
        for name in ("tank_low_off_its_scale", "tank_high_off_its_scale")
        for negative in (
            (name, body_gone("off_scale", False), "off its scale, off"),
            (
                name,
                swapped("off_scale", f"inputs[IN_RAW_MC + {name[:-14].upper()}] > 0", "True"),
                "colder than its scale: no reason to stop",
            ),
            (name, swapped("latch_over", "off_scale(state, settings, inputs)", "False"), "off its scale, off"),
        )
    ),
    (
        "a_tank_that_is_full_below_stays_full_while_nobody_sees_it",
        swapped("latch_full", "state[TANK_REFERENCE_MC] == UNKNOWN_MC", "False"),
        "restore in the band",
    ),
    ("tank_limit", statement_gone("latch_over", "state[TANK_OVER] = 1"), "hot, off"),
    ("tank_limit", swapped("latch_over", OVER, "hottest > limit"), "hot, off"),
    ("tank_limit", swapped("latch_over", OVER, "hottest >= limit - 1"), "between, still on"),
    ("tank_limit", swapped("latch_over", OVER_RESET, "True"), "between, stays off"),
    (
        "tank_limit",
        swapped("latch_over", OVER_RESET, "hottest <= limit - settings[TANK_LIMIT_RESET]"),
        "between, stays off",
    ),
    ("tank_limit", swapped("latch_over", OVER_RESET, "False"), ""),
    ("tank_limit", swapped("take_hottest", HOTTEST, "state[TANK_REFERENCE_MC]"), "hot, off"),
    ("tank_limit", MARGIN_ADDED, "break the sensor"),
    ("tank_limit", swapped("latch_full", "state[TANK_OVER] == 1", "False"), "hot, off"),
    ("tank_limit_on_the_low_sensor", swapped("take_hottest", HOTTEST, "high"), "between, stays off"),
    ("tank_full_low", statement_gone("latch_full", "state[TANK_FULL] = 1"), "hot, off"),
    ("tank_full_low", swapped("latch_full", "low >= full", "False"), "hot, off"),
    (
        "tank_full_low",
        swapped("latch_full", "low >= full", "low > full"),
        "hot, off",
    ),
    ("tank_full_low", swapped("latch_full", BOTTOM_RESET, "True"), "between, stays off"),
    (
        "tank_full_low",
        swapped("latch_full", BOTTOM_RESET, "low <= full - settings[TANK_FULL_RESET]"),
        "between, stays off",
    ),
    ("tank_full_low", swapped("take_reference", "low if low != UNKNOWN_MC else high", "low"), "break the sensor"),
    (
        "tank_full_until_both_ends_are_cool",
        swapped("latch_full", BOTTOM_RESET, "True"),
        "top below its reset, bottom still in its band",
    ),
    (
        "stratification_margin_on_tank_limit",
        MARGIN_ADDED,
        "hot, off",
    ),
    ("stratification_margin_on_tank_limit", swapped("latch_over", OVER_RESET, "True"), "between, stays off"),
    (
        "tank_low_lost_tank_high_is_the_reference",
        swapped("take_reference", "low if low != UNKNOWN_MC else high", "low"),
        "between by tank_high, stays on",
    ),
    ("both_tank_sensors_lost", no_row("TANK_UNKNOWN"), "break the sensors"),
    ("both_tank_sensors_lost", no_row("TANK_UNKNOWN_DUMP"), "hot, to the radiator"),
    (
        "both_tank_sensors_lost",
        swapped("run_on_over", "state[TANK_REFERENCE_MC] == UNKNOWN_MC", "False"),
        "break the sensors",
    ),
    (
        "both_tank_sensors_lost",
        swapped("latch_difference", "state[TANK_REFERENCE_MC] == UNKNOWN_MC", "False"),
        "restore in the band, off",
    ),
    (
        "a_full_tank_stays_full_while_nobody_sees_it",
        swapped("latch_over", "state[TANK_REFERENCE_MC] == UNKNOWN_MC", "False"),
        "restore in the band",
    ),
    ("a_full_tank_stays_full_while_nobody_sees_it", no_row("TANK_FULL_REFUSED"), ""),
    ("tank_limit", no_row("TANK_FULL_REFUSED"), "hot, off"),
]
