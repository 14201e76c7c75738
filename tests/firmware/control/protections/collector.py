"""Collector and radiator: (phase that fails, protection, edit) by sequence."""

from ..syntax_edits import always, edge, gone, only, swapped, trusts

HOT = "state[COLLECTOR_MC]"
LIMIT = "settings[COLLECTOR_LIMIT]"
DUMP_AT = f"{HOT} >= settings[DUMP_COLLECTOR_START]"
TABLE = [
    "a_dump_keeps_the_minimum_run",
    ("cool at once, still to the radiator", "a dump goes on", always("latch_hot", "ran_enough")),
    "collector_limit",
    ("steam, off", "steam", gone("latch_steam", "STAGNATION = 1")),
    ("steam, off", "steam at the limit itself", edge("latch_steam", "COLLECTOR_LIMIT")),
    ("between, still pumping", "no steam just below the limit", swapped("latch_steam", LIMIT, f"{LIMIT} - 1")),
    ("between, stays off", "stays off within the reset", always("latch_steam", "COLLECTOR_RESET")),
    ("cooler, on again", "ends at the reset itself", edge("latch_steam", "COLLECTOR_RESET")),
    ("steam, lost, back in the band", "a lost collector may have boiled", trusts("latch_steam", "COLLECTOR")),
    "dump_with_a_full_tank",
    ("hot, on", "a dump is wanted", gone("latch_dump", "DUMP_WANTED = 1")),
    ("hot, on", "dumps at the start threshold itself", edge("latch_dump", "DUMP_COLLECTOR_START")),
    ("between, still off", "no dump below it", swapped("latch_dump", DUMP_AT, f"{HOT} > settings[DUMP_COLLECTOR_STOP]")),
    ("between, stays on", "dumps until the stop threshold", always("latch_dump", "DUMP_COLLECTOR_STOP")),
    ("cold, off", "ends at the stop threshold itself", edge("latch_dump", "DUMP_COLLECTOR_STOP")),
    ("hot and at once cold again", "a dump runs its minimum", always("latch_dump", "ran_enough")),
    "a_dump_goes_on_after_a_lost_collector",
    ("restore in the band", "a dump goes on after a lost collector", trusts("latch_dump", "COLLECTOR")),
    "a_full_tank_without_a_radiator",
    ("hot, off: the collector may stagnate", "no dump without a radiator", always("collect_plant", "NONE")),
    "charge_limit",
    ("too hot, to the radiator", "glycol too hot", gone("latch_hot", "CHARGE_HOT = 1")),
    ("too hot, to the radiator", "too hot at the limit itself", edge("latch_hot", "hot >=")),
    ("between, still to the radiator", "too hot within the reset", always("latch_hot", "CHARGE_LIMIT_RESET")),
    ("between, still to the radiator", "too hot at the reset itself", edge("latch_hot", "CHARGE_LIMIT_RESET")),
    ("glycol that arrives counts as well", "arriving glycol counts", only("latch_hot", "max", 0)),
    ("too hot and the collector lost", "too hot stays so while the collector is lost", trusts("latch_hot", "COLLECTOR")),
]
