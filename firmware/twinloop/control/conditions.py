"""From latches, flags and settings to the set of conditions that the table looks at, one bit each."""

from . import reasons as why
from .coldloop import SEEN_FROST_MC, dump_frosty, glycol_stiff, tank_too_cold
from .latches import frost_over
from .rules import (
    ASTRAY,
    COLD_DUMP,
    COLD_LOOP,
    COLLECTOR_LOST,
    COOL,
    COOLING,
    DEAD,
    DUMP,
    FLOWLESS,
    FROSTY,
    FULL,
    GUARD_HELD,
    HAND_ON,
    HEATING,
    HOT_GLYCOL,
    HOT_STEAM,
    MAINTAINED,
    NOT_ARRIVING,
    PURGE_ON,
    RADIATOR,
    RESETS,
    ROUND,
    ROWS,
    STIFF,
    SWAPPED,
    TANK_COOL,
    TANK_LOST,
    TURN_DUE,
    VALVE_UNKNOWN,
    WANTED,
    WEAK,
    first_row,
)
from .settings import (
    BYPASS,
    COLLECTOR_MINIMUM,
    DUMP_TOPOLOGY,
    EXCHANGER_FROST,
    EXERCISE_AFTER,
    NONE,
)
from .state import (
    CHARGE_HOT,
    CHARGE_WANTED,
    CHARGING,
    COLLECTOR_MC,
    COLLECTOR_STATUS,
    CONDITIONS,
    COOLING_WANTED,
    DUMP_BARRED,
    DUMP_WANTED,
    EXERCISING,
    FROST,
    GUARD_HOLD_MS,
    HELD,
    IN_HAND_MASK,
    IN_RESETS,
    IN_UPKEEP,
    LOOP_LOWEST_MC,
    MOVERS,
    NO_FLOW,
    STAGNATION,
    TANK_FULL,
    TANK_REFERENCE_MC,
    UNKNOWN_MC,
    UNMOVED_S,
    UPKEEP_MAINTENANCE,
    UPKEEP_PURGE,
    VALVE_HOME_MS,
)

RESETS_LIMIT = 3


def collect_hands(state, settings, inputs):
    """Conditions that a person, the board or the guard sets."""
    have = 0
    if inputs[IN_RESETS] >= RESETS_LIMIT:
        have |= RESETS
    if state[GUARD_HOLD_MS] > 0:
        have |= GUARD_HELD
    if inputs[IN_UPKEEP] == UPKEEP_MAINTENANCE:
        have |= MAINTAINED
    if inputs[IN_UPKEEP] == UPKEEP_PURGE:
        have |= PURGE_ON
    if inputs[IN_HAND_MASK] != 0:
        have |= HAND_ON
    state[CONDITIONS] |= have


def collect_faults(state, settings, inputs):
    """Conditions of plant and sensors that stop or bar."""
    have = 0
    if state[FROST] == 1:
        have |= FROSTY
    if state[COLLECTOR_STATUS] > HELD:
        have |= COLLECTOR_LOST
    if state[VALVE_HOME_MS] > 0:
        have |= VALVE_UNKNOWN
    if state[STAGNATION] == 1:
        have |= HOT_STEAM
    if glycol_stiff(state, settings, inputs):
        have |= STIFF
    if state[TANK_REFERENCE_MC] == UNKNOWN_MC:
        have |= TANK_LOST
    state[CONDITIONS] |= have


def collect_given_up(state, settings, inputs):
    """Conditions of what was tried, had no effect, and rests for half an hour."""
    have = 0
    if state[NO_FLOW] == why.GLYCOL_NOT_ARRIVING:
        have |= NOT_ARRIVING
    if state[NO_FLOW] == why.FLOW_MISSING:
        have |= FLOWLESS
    if state[NO_FLOW] == why.HEAT_ASTRAY:
        have |= ASTRAY
    if state[NO_FLOW] == why.SENSORS_SWAPPED:
        have |= SWAPPED
    if state[NO_FLOW] == why.HEAT_TOO_WEAK:
        have |= WEAK
    if state[DUMP_BARRED] == why.RADIATOR_DEAD:
        have |= DEAD
    if state[DUMP_BARRED] == why.DUMP_HEATS_TANK:
        have |= HEATING
    state[CONDITIONS] |= have


def collect_plant(state, settings, inputs):
    """Conditions of the plant as it is built and of the loop as it is."""
    have = 0
    if settings[DUMP_TOPOLOGY] != NONE and state[DUMP_BARRED] == 0:
        have |= RADIATOR
    # A dump that heated the tank or had no effect may be a valve that does not move: then the way round is not one.
    if settings[DUMP_TOPOLOGY] == BYPASS and state[DUMP_BARRED] == 0:
        have |= ROUND
    if dump_frosty(state, settings, inputs):
        have |= COLD_DUMP
    if state[LOOP_LOWEST_MC] < settings[EXCHANGER_FROST]:
        have |= COLD_LOOP
    if tank_too_cold(state, settings, inputs):
        have |= TANK_COOL
    state[CONDITIONS] |= have


def turn_due(state, settings, inputs):
    """Whether a mover waits for its turn, or is having it."""
    if state[EXERCISING] < MOVERS:
        return True
    for index in range(UNMOVED_S, UNMOVED_S + MOVERS):
        if state[index] >= settings[EXERCISE_AFTER]:
            return True
    return False


def collect_sun(state, settings, inputs):
    """Conditions of the heat that is there, of the room for it, and of what can be done without it."""
    have = 0
    if state[TANK_FULL] == 1:
        have |= FULL
    if state[CHARGE_HOT] == 1:
        have |= HOT_GLYCOL
    if state[CHARGE_WANTED] == 1:
        have |= WANTED
    if state[DUMP_WANTED] == 1:
        have |= DUMP
    if state[COOLING_WANTED] == 1:
        have |= COOLING
    if turn_due(state, settings, inputs):
        have |= TURN_DUE
    if state[COLLECTOR_MC] < settings[COLLECTOR_MINIMUM]:
        have |= COOL
    state[CONDITIONS] |= have


def yield_to_the_sun(state, settings, inputs):
    """Frost that is no near ice, or that only glycol tells of, ends by charging, if that is what comes next.

    Otherwise a room colder than exchanger_frost would keep the pump off on the sunniest day. Plates that are really cold bar it,
    and so does a tank that is too cold for the loop.
    """
    frost = min(settings[EXCHANGER_FROST], SEEN_FROST_MC)
    if state[FROST] == 0 or not frost_over(state, settings, inputs, frost):
        return
    have = state[CONDITIONS] & ~FROSTY
    if ROWS[first_row(state, settings, inputs, have)][1] == CHARGING:
        state[CONDITIONS] = have


def collect(state, settings, inputs):
    """All conditions of this step."""
    state[CONDITIONS] = 0
    collect_hands(state, settings, inputs)
    collect_faults(state, settings, inputs)
    collect_given_up(state, settings, inputs)
    collect_plant(state, settings, inputs)
    collect_sun(state, settings, inputs)
    yield_to_the_sun(state, settings, inputs)
