"""The one table: what the station does, and why. Read it top to bottom; the first row whose conditions all hold decides.

Theory. The rules see no raw reading and no clock, only *conditions*, one bit each. A condition with two thresholds is a latch
(latches.py); those that protect are set at boot and have to be cleared by a reading. `decide` takes the first row of `ROWS` whose
conditions are all there; the last row has none, so there always is one. What the duty means for the relays, and in which order they
move, is in sequence.py.

Order of the rows is order of rank: hard faults, hands and upkeep, frost, soft faults, the unknown valve, steam, stiff glycol, tank
limits, the charge limit, the cold slug, charging, dumping, night cooling, exercise, idle. A row is refused by a row above it, never
by a hidden exception; what hands may not do is in sequence.py.
"""

from . import reasons as why
from .state import (
    CHARGING,
    CONDITIONS,
    DUMPING,
    DUTY,
    DUTY_MS,
    EXERCISE,
    FAULT_STOP,
    FROST_GUARD,
    HAND,
    IDLE,
    MAINTENANCE,
    NIGHT_COOLING,
    REASON,
    ROW,
    STAGNATION_HOLD,
)

RESETS = 1 << 0  # three watchdog resets without a full hour between them
GUARD_HELD = 1 << 1  # the guard had to act a moment ago
MAINTAINED = 1 << 2  # somebody works on the station
HAND_ON = 1 << 3  # somebody holds outputs by hand
PURGE_ON = 1 << 4  # the loops are being filled or purged
FROSTY = 1 << 5  # latch: exchanger below exchanger_frost
COLLECTOR_LOST = 1 << 6  # no trusted collector reading
NOT_ARRIVING = 1 << 7  # glycol was pumped for minutes and did not arrive
FLOWLESS = 1 << 8  # the flow input said that nothing flows
ASTRAY = 1 << 9  # hot glycol arrives and the exchanger does not feel it
SWAPPED = 1 << 10  # collector and tank_low look exchanged
VALVE_UNKNOWN = 1 << 11  # the dump valve is on its way home after a reset
HOT_STEAM = 1 << 12  # latch: collector_limit, collector_reset
STIFF = 1 << 13  # some glycol is near its freezing point
TANK_LOST = 1 << 14  # neither tank sensor is trusted
FULL = 1 << 15  # latch: the tank is full or over its limit
HOT_GLYCOL = 1 << 16  # latch: charge_limit
COLD_LOOP = 1 << 17  # the outdoor part of the loop may hold glycol below exchanger_frost
TANK_COOL = 1 << 18  # the tank is too cold to meet the loop's glycol in the exchanger
WANTED = 1 << 19  # latch: start_difference, stop_difference
DUMP = 1 << 20  # latch: dump_collector_start, dump_collector_stop
RADIATOR = 1 << 21  # there is one, and it is not given up
DEAD = 1 << 22  # dumping was given up: no effect
HEATING = 1 << 23  # dumping was given up: it heated the tank
ROUND = 1 << 24  # the glycol can go round without touching the exchanger
COLD_DUMP = 1 << 25  # in series: what a dump would bring through the exchanger may be frosty
COOLING = 1 << 26  # latch: away, and the night can cool a full tank
TURN_DUE = 1 << 27  # a pump or the valve has not moved for exercise_after
COOL = 1 << 28  # collector below collector_minimum
WEAK = 1 << 29  # glycol was pumped for minutes and arrived no warmer than the tank; the last bit that 31 bits hold

CONDITION_NAMES = (
    "three resets in an hour",
    "the guard acted",
    "under maintenance",
    "held by hand",
    "purging",
    "exchanger near frost",
    "collector unknown",
    "glycol does not arrive",
    "no flow",
    "exchanger stays cold",
    "collector and tank_low look exchanged",
    "dump valve not home yet",
    "steam possible",
    "glycol near freezing",
    "both tank sensors unknown",
    "tank full",
    "glycol too hot to charge",
    "loop may be frosty",
    "tank too cold for the loop",
    "collector warmer than the tank",
    "collector at the dump threshold",
    "radiator usable",
    "radiator without effect",
    "dumping heated the tank",
    "radiator bypasses the exchanger",
    "a dump may bring frost into the exchanger",
    "away and a cold night",
    "a turn is due",
    "collector cool",
    "heat too weak",
)

# conditions that must all hold, duty, reason
ROWS = (
    (RESETS, FAULT_STOP, why.RESET_STORM),
    (GUARD_HELD, FAULT_STOP, why.GUARD_ACTED),
    (MAINTAINED, MAINTENANCE, why.UNDER_MAINTENANCE),
    (HAND_ON, HAND, why.HAND_HELD),
    (PURGE_ON, HAND, why.PURGING),
    # Frost outranks the faults below it: it needs the tank pump only, and neither collector nor glycol.
    (FROSTY, FROST_GUARD, why.EXCHANGER_FROST),
    (COLLECTOR_LOST, FAULT_STOP, why.COLLECTOR_UNKNOWN),
    (SWAPPED, FAULT_STOP, why.SENSORS_SWAPPED),
    (FLOWLESS, FAULT_STOP, why.FLOW_MISSING),
    (ASTRAY, FAULT_STOP, why.HEAT_ASTRAY),
    (NOT_ARRIVING, FAULT_STOP, why.GLYCOL_NOT_ARRIVING),
    (VALVE_UNKNOWN, IDLE, why.VALVE_HOMING),
    (HOT_STEAM, STAGNATION_HOLD, why.STEAM),
    (STIFF, IDLE, why.GLYCOL_STIFF),
    (COLD_DUMP | DUMP, IDLE, why.COLD_SLUG_SERIES),
    (TANK_LOST | DUMP | RADIATOR, DUMPING, why.TANK_UNKNOWN_DUMP),
    (TANK_LOST, IDLE, why.TANK_UNKNOWN),
    (FULL | DUMP | RADIATOR, DUMPING, why.TANK_FULL_DUMP),
    (FULL | DUMP | DEAD, IDLE, why.RADIATOR_DEAD),
    (FULL | DUMP | HEATING, IDLE, why.DUMP_HEATS_TANK),
    (FULL | WANTED, IDLE, why.TANK_FULL_REFUSED),
    (COLD_DUMP | HOT_GLYCOL | WANTED, IDLE, why.COLD_SLUG_SERIES),
    (HOT_GLYCOL | WANTED | RADIATOR, DUMPING, why.CHARGE_LIMIT_DUMP),
    (HOT_GLYCOL | WANTED, IDLE, why.CHARGE_LIMIT_REFUSED),
    (WANTED | TANK_COOL, IDLE, why.COLD_SLUG_REFUSED),
    (COLD_LOOP | WANTED | ROUND, DUMPING, why.COLD_SLUG_ROUND),
    (COLD_LOOP | WANTED | DEAD, IDLE, why.RADIATOR_DEAD),
    (COLD_LOOP | WANTED | HEATING, IDLE, why.DUMP_HEATS_TANK),
    (WEAK | WANTED | DUMP | RADIATOR, DUMPING, why.HEAT_TOO_WEAK_DUMP),
    (WEAK | WANTED, IDLE, why.HEAT_TOO_WEAK),
    (WANTED, CHARGING, why.DIFFERENCE),
    (DUMP | RADIATOR, DUMPING, why.COLLECTOR_HOT_DUMP),
    (COOLING | COLD_LOOP, IDLE, why.COLD_SLUG_REFUSED),
    (COOLING | COLD_DUMP, IDLE, why.COLD_SLUG_SERIES),
    (COOLING, NIGHT_COOLING, why.NIGHT_COOLING_AWAY),
    (TURN_DUE | COLD_LOOP, IDLE, why.TURN_POSTPONED_COLD),
    (TURN_DUE | FULL, IDLE, why.TURN_POSTPONED_HOT),
    (TURN_DUE, EXERCISE, why.TURN),
    (COOL, IDLE, why.COLLECTOR_COOL),
    (0, IDLE, why.NO_DIFFERENCE),
)


def first_row(state, settings, inputs, have):
    """The first row whose conditions all hold among these."""
    row = 0
    while have & ROWS[row][0] != ROWS[row][0]:
        row += 1
    return row


def decide(state, settings, inputs):
    """Take the first row whose conditions all hold."""
    row = first_row(state, settings, inputs, state[CONDITIONS])
    # Purging counts its own time, also when it follows hands.
    if ROWS[row][1] != state[DUTY] or (ROWS[row][2] == why.PURGING and state[REASON] != why.PURGING):
        state[DUTY_MS] = 0
    state[ROW] = row
    state[DUTY] = ROWS[row][1]
    state[REASON] = ROWS[row][2]
