"""Reason codes. The sentences live in reason_texts.py, which only the host and a display load.

The numbers are part of the trace and of the link: append, never renumber. From 40 on they say what an output waits for.
"""

NO_DIFFERENCE = 1
COLLECTOR_COOL = 2
DIFFERENCE = 3
TANK_FULL_REFUSED = 4
TANK_FULL_DUMP = 5
CHARGE_LIMIT_DUMP = 6
CHARGE_LIMIT_REFUSED = 7
COLD_SLUG_ROUND = 8
COLD_SLUG_REFUSED = 9
STEAM = 10
COLLECTOR_UNKNOWN = 11
TANK_UNKNOWN = 12
TANK_UNKNOWN_DUMP = 13
GLYCOL_NOT_ARRIVING = 14
GUARD_ACTED = 15
RESET_STORM = 16
VALVE_HOMING = 17
COLLECTOR_HOT_DUMP = 18

WAIT_NOTHING = 0
WAIT_VALVE = 40
WAIT_REST = 41
WAIT_EXCHANGER = 42
WAIT_RUN_ON = 43
WAIT_TANK_PUMP_FIRST = 44
