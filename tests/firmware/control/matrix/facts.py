"""What each fact may hang on, and so what it may not: a table to read, from the design.

A tank over its limit is over it in every topology and duty, whoever holds what, and with every
other sensor lost. So a step is taken twice: as it is, and with something changed that the fact must
not hang on. The fact has to come out the same. Every state that the matrix reaches is tried.
"""

from . import table

DUTIES = (
    *("idle", "charging", "dumping", "stagnation_hold", "frost_guard", "night_cooling"),
    *("exercise", "fault_stop", "maintenance", "hand"),
)
TANK = "tank_low tank_high"
LOOP = "topology charging collector outdoor loop_supply loop_return"
FLOW = f"charging loop_supply collector outdoor exchanger {TANK}"
# A frost guard lasts ten minutes, and what is pumped does not sink.
FROST = "topology charging frost_guard exchanger loop_supply loop_return"
DUMP = f"topology dumping collector loop_supply loop_return exchanger outdoor {TANK}"

# Entries of the state, and what they may hang on: topology, hands, purging, away, sensors, and a
# duty: whether it is that one.
# What is not in the table follows from commands, which the matrix judges.
STATE = {
    "FROZEN_MC FROZEN_MS": f"loop_supply {TANK}",
    "UNWARMED_MC UNWARMED_ML": f"{FLOW} loop_return",
    "TANK_REFERENCE_MC TANK_HOTTEST_MC TANK_COLDEST_MC": TANK,
    "TANK_OVER TANK_FULL": TANK,
    # A collector at its limit may show at any sensor.
    "STAGNATION": " ".join(table.WATER_SENSORS),
    "DUMP_WANTED": "collector",
    "CHARGE_HOT": "collector loop_supply",
    "CHARGE_WANTED": f"collector {TANK}",
    "FROST": FROST,
    "COOLING_WANTED": f"away {DUMP}",
    "HELPLESS_S": DUMP,
    "LOOP_LOWEST_MC LOOP_SEEN_MC": f"{LOOP} tank_low",
    "LOOP_KNOWN PUMPED_ML PUMPED_REST ARRIVED_MS": LOOP,
    "RISE_MS AIR_MC AIR_OVER_MK": "topology collector outdoor",
    "AIR_UNDER_S": "night_cooling collector outdoor",
    # A pulse keeps the proof that water moves.
    "PLATES_FROM_MC": f"{LOOP} exchanger",
    "RADIATOR_STOOD VALVE_MS VALVE_HOME_MS": "topology",
    "STANDING_MS": "",
    "NOT_JOINED_MS ARRIVED_MC FAR_MS FAR_FROM_MC": FLOW,
    # A radiator in series may have cooled the glycol.
    "ASTRAY_MS NO_FLOW RETRY_MS": f"{FLOW} topology",
    "FLOWLESS_MS SCALD_MS": "tap",
    "DUMP_FROM_MC DUMP_TANK_MC DUMP_IDLE_MS DUMP_HEATS_MS DUMP_BARRED DUMP_RETRY_MS": DUMP,
    "TRACK_MS TRACK_LOW_MC TRACK_HIGH_MC UNBIDDEN_FLOW": "collector loop_supply",
    "STEADY_MS": "charging",
    "APART_MK": f"{FLOW} topology loop_return",
    "TAKING_MS LOW_BY_MK": f"{FLOW} loop_return",
    "STANDS_MS": f"{LOOP} exchanger {TANK}",
    "EFFECT_PERMILLE EFFECT_REST FOUL_S DRAINS TOP_FROM_MC COOLED_MS": f"{FLOW} topology loop_return",
    "LOST_MS": " ".join(table.SENSORS),
    "GUARD_COLLECTOR_MS": "collector",
    "GUARD_TANK_MS GUARD_TANK_STEPS": f"loop_supply {TANK}",
    "ABOVE_MS": TANK,
    "GIVEN_MC BEYOND_MS": f"charging loop_supply {TANK}",
    # How warm the plates may be follows from where the glycol has been.
    "PLATES_HOT_MS": f"topology collector loop_supply {TANK}",
    # The air heater hangs on nothing of the water side.
    "AIR_REASON AIR_FAN_ON BACK_S": "air_collector room outdoor",
    "AIR_WANTED AIR_SPENT_MS AIR_HOT_MS": "air_collector room",
    "ROOM_WARM": "room",
    "SUMMER SEASON_S SEASON_MC SEASON_REST": "outdoor",
}
# The same for entries with one for each sensor: they hang on their own sensor, and on these.
EACH_SENSOR = "VALUE_MC STATUS CAUSE AGE_MS CANDIDATE_MC CANDIDATE_COUNT STILL_MC STILL_S"
EACH_GUARDED = "GUARD_MC GUARD_AGE_MS GUARD_TRY_MC GUARD_TRIES"
# These two may be refused for standing still.
BESIDES = {"collector": "outdoor", "tank_high": "tank_low loop_supply"}
# Conditions of the rules.
CONDITIONS = {
    "RESETS GUARD_HELD": "",
    "MAINTAINED PURGE_ON": "purging",
    "HAND_ON": "hands",
    "HOT_STEAM": " ".join(table.WATER_SENSORS),
    "COLLECTOR_LOST DUMP COOL": "collector",
    "NOT_ARRIVING FLOWLESS SWAPPED": FLOW,
    "ASTRAY PAUSED": f"{FLOW} topology",
    "VALVE_UNKNOWN TURN_DUE": "topology",
    "STIFF": "collector outdoor",
    "TANK_LOST": TANK,
    # Frost that bars the dump leaves room up to the limit.
    "FULL": f"{TANK} {LOOP}",
    "HOT_GLYCOL": "collector loop_supply",
    "COLD_LOOP COLD_DUMP": LOOP,
    "TANK_COOL": f"exchanger {TANK} {LOOP}",
    "WANTED TAKEN": f"collector {TANK}",
    "DEAD HEATING ROUND": DUMP,
    "RADIATOR": f"{DUMP} {LOOP}",
    "COOLING": f"away {DUMP}",
}
ALARMS = {
    "SENSOR": " ".join(table.SENSORS),
    "TANK_CROSSED": TANK,
    "NO_FLOW": FLOW,
    "DUMP": DUMP,
    "FROST": FROST,
    "STEAM": " ".join(table.WATER_SENSORS),
    "APART": f"{FLOW} topology loop_return",
    "TAKING": f"{FLOW} loop_return",
    "STIFF": f"collector outdoor {TANK}",
    "UNBIDDEN_FLOW": f"collector loop_supply loop_return exchanger {TANK}",
    "FOULED": f"{FLOW} topology loop_return",
    "SCALD": "tap",
    "BEYOND": f"charging loop_supply {TANK}",
    "BACK": "air_collector room outdoor",
    "FAN": "air_collector room",
    "RESETS SETTINGS MEMORY": "",
}
# The guard alone, with both pumps commanded on: it hears its four sensors, and nothing else.
GUARD = f"collector loop_supply {TANK}"
# Time alone: every timer runs, whatever the station does. Without a valve there is none to time.
TIMES = {"OUTPUT_MS DUTY_MS RUN_ON_MS": "", "VALVE_MS VALVE_HOME_MS UNMOVED_S": "topology", "WORN_S": "dumping"}
