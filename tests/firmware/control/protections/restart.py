"""Latches after a reset: (phase that fails, protection, edit) by sequence."""

from ..syntax_edits import gone

OVER, FULL, STEAM, HOT = (gone("latches.wake", f"{latch} = 1") for latch in ("TANK_OVER", "TANK_FULL", "STAGNATION", "CHARGE_HOT"))
TABLE = [
    "restart_in_the_band_of_collector_limit",
    ("set by the reset itself", "steam", STEAM),
    ("set by the reset itself", "tank over its limit", OVER),
    ("set by the reset itself", "tank full", FULL),
    ("set by the reset itself", "glycol too hot", HOT),
    "restart_in_the_band_of_tank_limit",
    ("in the band", "a tank in the band is over its limit", OVER),
    "restart_in_the_band_of_tank_full_low",
    ("in the band", "a tank in the band is full", FULL),
    "restart_in_the_band_of_charge_limit",
    ("in the band", "glycol in the band is too hot", HOT),
]
