"""What is taken away from the core, and where the sequences of restart.py miss it: name, edit, phase."""

from ..syntax_edits import statement_gone

NEGATIVES = [
    *(
        (
            "restart_in_the_band_of_collector_limit",
            statement_gone("latches.wake", f"state[{latch}] = 1"),
            "set by the reset itself",
        )
        for latch in ("STAGNATION", "TANK_OVER", "TANK_FULL", "CHARGE_HOT")
    ),
    (
        "restart_in_the_band_of_tank_limit",
        statement_gone("latches.wake", "state[TANK_OVER] = 1"),
        "in the band: over the limit is assumed",
    ),
    (
        "restart_in_the_band_of_tank_full_low",
        statement_gone("latches.wake", "state[TANK_FULL] = 1"),
        "in the band: a full tank is assumed",
    ),
    (
        "restart_in_the_band_of_charge_limit",
        statement_gone("latches.wake", "state[CHARGE_HOT] = 1"),
        "in the band: too hot is assumed",
    ),
]
