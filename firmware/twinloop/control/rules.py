"""What the station does, and why: the first row whose conditions all hold decides.

The rules see no raw reading and no clock, only *conditions*, one bit each. A condition with two
thresholds is a latch. Latches that forbid something are set at boot, and only a reading clears
them. The last row has no conditions, so one row always fits. sequence.py says what a duty means for
the relays, and in which order they move.

The rows stand in order of rank: hard faults, hands and upkeep, frost, the unknown collector, the
unknown valve, steam, stiff glycol, soft faults, tank limits, the charge limit, the cold slug, heat
that is too weak, charging, dumping, heat that was taken out, night cooling, exercise, idle. What
gives charging up may be wrong, so ahead of the soft faults a hot collector is still dumped.

A row is refused by a row above it, never by a hidden exception. One exception is stated in
frost.py: frost yields to charging when the sun can warm the plates. The limits of hands are in
sequence.py, frost.py and tank.py.
"""

from . import conditions as c
from . import reasons as why
from . import state as s

# conditions that must all hold, duty, reason
ROWS = (
    ((c.RESETS,), s.FAULT_STOP, why.RESET_STORM),
    ((c.GUARD_HELD,), s.FAULT_STOP, why.GUARD_ACTED),
    ((c.MAINTAINED,), s.MAINTENANCE, why.UNDER_MAINTENANCE),
    ((c.HAND_ON,), s.HAND, why.HAND_HELD),
    ((c.PURGE_ON,), s.HAND, why.PURGING),
    # Frost outranks the faults below it: it needs only the tank pump, neither collector nor glycol.
    ((c.FROSTY,), s.FROST_GUARD, why.EXCHANGER_FROST),
    ((c.COLLECTOR_LOST,), s.FAULT_STOP, why.COLLECTOR_UNKNOWN),
    ((c.VALVE_UNKNOWN,), s.IDLE, why.VALVE_HOMING),
    ((c.HOT_STEAM,), s.STAGNATION_HOLD, why.STEAM),
    ((c.STIFF,), s.IDLE, why.GLYCOL_STIFF),
    ((c.PAUSED, c.DUMP, c.RADIATOR), s.DUMPING, why.PAUSE_DUMP),
    ((c.SWAPPED,), s.FAULT_STOP, why.SENSORS_SWAPPED),
    ((c.FLOWLESS,), s.FAULT_STOP, why.FLOW_MISSING),
    ((c.ASTRAY,), s.FAULT_STOP, why.HEAT_ASTRAY),
    ((c.NOT_ARRIVING,), s.FAULT_STOP, why.GLYCOL_NOT_ARRIVING),
    ((c.TANK_LOST, c.DUMP, c.RADIATOR), s.DUMPING, why.TANK_UNKNOWN_DUMP),
    ((c.TANK_LOST,), s.IDLE, why.TANK_UNKNOWN),
    ((c.FULL, c.DUMP, c.RADIATOR), s.DUMPING, why.TANK_FULL_DUMP),
    ((c.COLD_DUMP, c.FULL, c.DUMP), s.IDLE, why.COLD_SLUG_SERIES),
    ((c.FULL, c.DUMP, c.DEAD), s.IDLE, why.RADIATOR_DEAD),
    ((c.FULL, c.DUMP, c.HEATING), s.IDLE, why.DUMP_HEATS_TANK),
    ((c.FULL, c.WANTED), s.IDLE, why.TANK_FULL_REFUSED),
    ((c.COLD_DUMP, c.HOT_GLYCOL, c.WANTED), s.IDLE, why.COLD_SLUG_SERIES),
    ((c.HOT_GLYCOL, c.WANTED, c.RADIATOR), s.DUMPING, why.CHARGE_LIMIT_DUMP),
    ((c.HOT_GLYCOL, c.WANTED), s.IDLE, why.CHARGE_LIMIT_REFUSED),
    ((c.WANTED, c.TANK_COOL), s.IDLE, why.COLD_SLUG_REFUSED),
    ((c.COLD_LOOP, c.WANTED, c.ROUND), s.DUMPING, why.COLD_SLUG_ROUND),
    ((c.COLD_LOOP, c.WANTED, c.DEAD), s.IDLE, why.RADIATOR_DEAD),
    ((c.COLD_LOOP, c.WANTED, c.HEATING), s.IDLE, why.DUMP_HEATS_TANK),
    ((c.PAUSED, c.WANTED), s.IDLE, why.HEAT_TOO_WEAK),
    ((c.WANTED,), s.CHARGING, why.DIFFERENCE),
    ((c.DUMP, c.RADIATOR), s.DUMPING, why.COLLECTOR_HOT_DUMP),
    ((c.TAKEN,), s.IDLE, why.HEAT_TAKEN),
    ((c.COOLING, c.COLD_LOOP), s.IDLE, why.COLD_SLUG_REFUSED),
    ((c.COOLING, c.COLD_DUMP), s.IDLE, why.COLD_SLUG_SERIES),
    ((c.COOLING,), s.NIGHT_COOLING, why.NIGHT_COOLING_AWAY),
    ((c.TURN_DUE, c.COLD_LOOP), s.IDLE, why.TURN_POSTPONED_COLD),
    ((c.TURN_DUE, c.FULL), s.IDLE, why.TURN_POSTPONED_HOT),
    ((c.TURN_DUE,), s.EXERCISE, why.TURN),
    ((c.COOL,), s.IDLE, why.COLLECTOR_COOL),
    ((), s.IDLE, why.NO_DIFFERENCE),
)


def needs(rows):
    """The conditions of every row as bits, CONDITION_WORDS words per row."""
    return tuple([word for row in rows for word in c.CONDITION_ROWS.words(row[0], c.BITS)])


NEEDS = needs(ROWS)
ROW_DUTIES = tuple([row[1] for row in ROWS])
ROW_REASONS = tuple([row[2] for row in ROWS])


def mark(state, condition):
    """Set a condition of this step."""
    state[s.CONDITIONS + condition // c.BITS] |= 1 << condition % c.BITS


def clear(state, condition):
    """Clear a condition of this step."""
    state[s.CONDITIONS + condition // c.BITS] &= ~(1 << condition % c.BITS)


def holds(state, condition):
    """Whether a condition is set in this step."""
    return state[s.CONDITIONS + condition // c.BITS] & 1 << condition % c.BITS != 0


def lacks_more(state, at):
    """Whether a row lacks a condition of the words behind the first; `at` is its place in NEEDS."""
    for word in range(1, c.CONDITION_WORDS):
        if state[s.CONDITIONS + word] & NEEDS[at + word] != NEEDS[at + word]:
            return True
    return False


def first_row(state, settings, inputs):
    """The number of the first row whose conditions all hold."""
    at = 0
    while state[s.CONDITIONS] & NEEDS[at] != NEEDS[at] or lacks_more(state, at):
        at += c.CONDITION_WORDS
    return at // c.CONDITION_WORDS


def decide(state, settings, inputs):
    """Set duty and reason from the first row whose conditions all hold."""
    row = first_row(state, settings, inputs)
    # Purging counts its own time, even when it follows hands.
    purging = ROW_REASONS[row] == why.PURGING and state[s.REASON] != why.PURGING
    if ROW_DUTIES[row] != state[s.DUTY] or purging:
        state[s.DUTY_MS] = 0
    state[s.ROW] = row
    state[s.DUTY] = ROW_DUTIES[row]
    state[s.REASON] = ROW_REASONS[row]
