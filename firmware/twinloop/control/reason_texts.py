"""A sentence for each code. The host and a display load this, the control core never does."""

from . import reasons as why
from . import settings as cfg
from . import state as s

REASON_TEXTS = {
    0: "just started",
    why.NO_DIFFERENCE: "the collector is not warmer than the tank by start_difference",
    why.COLLECTOR_COOL: "the collector is below collector_minimum",
    why.DIFFERENCE: "the collector is warmer than the tank",
    why.TANK_FULL_REFUSED: "the tank is full and takes no more heat",
    why.TANK_FULL_DUMP: "the tank is full and the collector hot: its heat goes to the radiator",
    why.CHARGE_LIMIT_DUMP: "the glycol is too hot for the tank: it goes through the radiator first",
    why.CHARGE_LIMIT_REFUSED: "the glycol is too hot for the tank, and no radiator can take its heat",
    why.COLD_SLUG_ROUND: "the loop may hold frosty glycol: it circulates through the radiator until it is warm",
    why.COLD_SLUG_REFUSED: "tank or loop may be too cold to let glycol into the exchanger",
    why.STEAM: "the collector may hold steam, whichever sensor shows it: no glycol is pumped until it cools to collector_reset",
    why.COLLECTOR_UNKNOWN: "the collector sensor is not trusted: no pump runs",
    why.TANK_UNKNOWN: "neither tank sensor is trusted: no charging",
    why.TANK_UNKNOWN_DUMP: "neither tank sensor is trusted and the collector is hot: its heat goes to the radiator",
    why.GLYCOL_NOT_ARRIVING: "pumped glycol did not reach the station: next try in half an hour",
    why.GUARD_ACTED: "the guard had to stop a command: pumps and valve off for ten minutes",
    why.RESET_STORM: "three resets or power cuts within an hour: pumps and valve off for an hour, longer each time",
    why.VALVE_HOMING: "the dump valve is returning home after a reset",
    why.COLLECTOR_HOT_DUMP: "the collector is hot and not wanted for the tank: its heat goes to the radiator",
    why.EXCHANGER_FROST: "the exchanger is near frost: the tank pump keeps it from freezing",
    why.GLYCOL_STIFF: "glycol is near its freezing point: it is not pumped",
    why.RADIATOR_DEAD: "dumping had no effect: given up for half an hour, the collector may stagnate",
    why.DUMP_HEATS_TANK: "dumping heated the tank, or it is above tank_limit: given up for half an hour, a valve may be stuck",
    why.HEAT_ASTRAY: "hot glycol arrived and the exchanger stayed cold: given up for half an hour, the dump valve may be stuck",
    why.SENSORS_SWAPPED: "collector and tank_low look swapped, or no glycol flows: given up for half an hour",
    why.FLOW_MISSING: "the flow input saw no flow: given up for half an hour",
    why.HAND_HELD: "held by hand; limits still apply",
    why.UNDER_MAINTENANCE: "under maintenance: all pumps off",
    why.PURGING: "filling and purging: both pumps on while the collector is cool",
    why.NIGHT_COOLING_AWAY: "away, and no radiator takes the heat: the night cools the tank",
    why.TURN: "a pump or the valve has stood for exercise_after and is exercised",
    why.TURN_POSTPONED_COLD: "exercise is due but postponed: the loop may hold frosty glycol",
    why.TURN_POSTPONED_HOT: "exercise is due but postponed: the tank is full",
    why.HEAT_TOO_WEAK: "arriving glycol got no warmer than the tank in five minutes: next try in half an hour",
    why.PAUSE_DUMP: "charging is given up for half an hour, but the collector is hot: its heat goes to the radiator",
    why.HEAT_TAKEN: "charging took heat out of the tank: next try with a hotter collector, or hours later",
    why.COLD_SLUG_SERIES: "loop or radiator may hold frosty glycol, and it would reach the exchanger: nothing is pumped",
    why.WAIT_VALVE: "waits for the dump valve",
    why.WAIT_REST: "waits for minimum_rest, or longer after many starts in vain",
    why.WAIT_EXCHANGER: "the tank pump waits for warm glycol at the exchanger",
    why.WAIT_RUN_ON: "waits for the tank pump to finish",
    why.WAIT_TANK_PUMP_FIRST: "waits for the tank pump to run first",
    why.WAIT_LIMIT: "asked for, refused by a limit",
    why.WAIT_COLD_GLYCOL: "the tank pump waits for glycol colder than the tank",
}

ALARM_TEXTS = (
    "a fitted sensor is lost",
    "tank_low reads hotter than tank_high: swapped, or one is wrong",
    "glycol does not flow or does not arrive",
    "dumping has been given up, or the tank is above tank_limit",
    "the exchanger is near frost",
    "steam is possible in the collector",
    "glycol or water moves although its pump is off: welded relay or leaking check valve",
    "the exchanger transfers poorly: fouled, low flow, a dead pump, or a stuck valve",
    "water at the taps is hotter than the mixing valve should allow",
    "the guard had to stop a command",
    "three resets or power cuts within an hour",
    "stored settings are damaged or out of range: defaults are in force in their place",
    "the board's memory refuses to be written: the station works on, but a power cut loses what is new",
    "collector disagrees with loop_supply while glycol flows, or with outdoor: one of them reads wrong",
    "the sun shines, but glycol near its freezing point is not pumped",
    "charging took heat out of the tank: a sensor reads wrong, look at tank_low first",
    "pump or valve starts again and again in vain: look for a sensor that is noisy or comes and goes, and a stuck valve",
    "a tank sensor reads hotter than the glycol that heated it: tank_high, tank_low or loop_supply reads wrong",
)

CAUSE_TEXTS = {
    s.CAUSE_NONE: "no fault",
    s.CAUSE_OPEN: "open circuit",
    s.CAUSE_SHORT: "short circuit",
    s.CAUSE_SILENT: "no answer",
    s.CAUSE_CRC: "garbled answer",
    s.CAUSE_POWER_ON: "power-on value, not a measurement",
    s.CAUSE_ALL_ZERO: "all bytes zero",
    s.CAUSE_CHIP: "fault reported by the sensor chip",
    s.CAUSE_NOT_READY: "still measuring",
    s.CAUSE_RANGE: "outside the credible range",
    s.CAUSE_RATE: "changed faster than is credible",
    s.CAUSE_FROZEN: "stands still where a live sensor would move",
}

STATUS_TEXTS = ("good", "held", "lost", "absent")

RULE_TEXTS = {
    cfg.RULE_STOP_UNDER_START: "stop_difference has to be at least 2 K under start_difference",
    cfg.RULE_FULL_UNDER_LIMIT: "tank_full_low must not be above tank_limit",
    cfg.RULE_DUMP_STOP_UNDER_START: "dump_collector_stop has to be at least 5 K under dump_collector_start",
    cfg.RULE_DUMP_UNDER_COLLECTOR_LIMIT: "dump_collector_start has to be at least 15 K under collector_limit",
    cfg.RULE_RESET_UNDER_COLLECTOR_LIMIT: "collector_reset has to be at least 5 K under collector_limit",
    cfg.RULE_BOILING: "collector_limit has to be at least 5 K under water's boiling point at the collector "
    "(loop_pressure, collector_height, altitude)",
    cfg.RULE_LAG_UNDER_LEAD: "exchanger_lag has to be at least 1 K under exchanger_lead",
    cfg.RULE_CHARGE_RESET_ABOVE_TANK: "charge_limit less charge_limit_reset must not be under tank_limit less tank_limit_reset",
    cfg.RULE_OUTDOOR_NEEDED: "the outdoor sensor has to be fitted unless the radiator bypasses the exchanger (frosty glycol)",
    cfg.RULE_AWAY_UNDER_LIMIT: "away_limit must not be above tank_limit",
    cfg.RULE_TANK_ABOVE_FROST: "tank_limit less tank_limit_reset, and tank_full_low less tank_full_reset, must be at least "
    "tank_margin plus stratification_margin above 0 C",
    cfg.RULE_DELAY_COVERS_TRANSIT: "tank_pump_delay has to be at least the time to pump a quarter of loop_volume at collector_flow",
}

# The settings that each joint rule is about, so that an error can show their values.
RULE_SETTINGS = {
    cfg.RULE_STOP_UNDER_START: (cfg.STOP_DIFFERENCE, cfg.START_DIFFERENCE),
    cfg.RULE_FULL_UNDER_LIMIT: (cfg.TANK_FULL_LOW, cfg.TANK_LIMIT),
    cfg.RULE_DUMP_STOP_UNDER_START: (cfg.DUMP_COLLECTOR_STOP, cfg.DUMP_COLLECTOR_START),
    cfg.RULE_DUMP_UNDER_COLLECTOR_LIMIT: (cfg.DUMP_COLLECTOR_START, cfg.COLLECTOR_LIMIT),
    cfg.RULE_RESET_UNDER_COLLECTOR_LIMIT: (cfg.COLLECTOR_RESET, cfg.COLLECTOR_LIMIT),
    cfg.RULE_BOILING: (cfg.COLLECTOR_LIMIT, cfg.LOOP_PRESSURE, cfg.COLLECTOR_HEIGHT, cfg.ALTITUDE),
    cfg.RULE_LAG_UNDER_LEAD: (cfg.EXCHANGER_LAG, cfg.EXCHANGER_LEAD),
    cfg.RULE_CHARGE_RESET_ABOVE_TANK: (cfg.CHARGE_LIMIT, cfg.CHARGE_LIMIT_RESET, cfg.TANK_LIMIT, cfg.TANK_LIMIT_RESET),
    cfg.RULE_OUTDOOR_NEEDED: (cfg.DUMP_TOPOLOGY, cfg.OUTDOOR_FITTED),
    cfg.RULE_AWAY_UNDER_LIMIT: (cfg.AWAY_LIMIT, cfg.TANK_LIMIT),
    cfg.RULE_TANK_ABOVE_FROST: (
        cfg.TANK_LIMIT,
        cfg.TANK_LIMIT_RESET,
        cfg.TANK_FULL_LOW,
        cfg.TANK_FULL_RESET,
        cfg.TANK_MARGIN,
        cfg.STRATIFICATION_MARGIN,
    ),
    cfg.RULE_DELAY_COVERS_TRANSIT: (cfg.TANK_PUMP_DELAY, cfg.LOOP_VOLUME, cfg.COLLECTOR_FLOW),
}
