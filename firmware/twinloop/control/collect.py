"""The conditions of a step, from latches, flags and settings."""

from . import conditions as c
from . import frost, rules, tank
from . import reasons as why
from . import settings as cfg
from . import state as s


def collect_hands(state, settings, inputs):
    """Set the conditions that people, the board or the guard cause."""
    if inputs[s.IN_RESETS] >= s.RESETS_LIMIT:
        rules.mark(state, c.RESETS)
    if state[s.GUARD_HOLD_MS] > 0:
        rules.mark(state, c.GUARD_HELD)
    if inputs[s.IN_UPKEEP] == s.UPKEEP_MAINTENANCE:
        rules.mark(state, c.MAINTAINED)
    if inputs[s.IN_UPKEEP] == s.UPKEEP_PURGE:
        rules.mark(state, c.PURGE_ON)
    # A hand on the fan leaves the water side alone.
    if inputs[s.IN_HAND_MASK] & ~(1 << s.AIR_FAN) != 0:
        rules.mark(state, c.HAND_ON)


def collect_faults(state, settings, inputs):
    """Set the conditions of sensors and plant that stop or forbid something."""
    if state[s.FROST] == 1:
        rules.mark(state, c.FROSTY)
    if not s.trusted(state, s.COLLECTOR):
        rules.mark(state, c.COLLECTOR_LOST)
    if state[s.VALVE_HOME_MS] > 0:
        rules.mark(state, c.VALVE_UNKNOWN)
    if state[s.STAGNATION] == 1:
        rules.mark(state, c.HOT_STEAM)
    if frost.glycol_stiff(state, settings, inputs):
        rules.mark(state, c.STIFF)
    if state[s.TANK_REFERENCE_MC] == s.UNKNOWN_MC:
        rules.mark(state, c.TANK_LOST)


def collect_given_up(state, settings, inputs):
    """Set the conditions of what had no effect and pauses for half an hour."""
    if state[s.NO_FLOW] != 0:
        rules.mark(state, c.PAUSED)
    if state[s.NO_FLOW] == why.GLYCOL_NOT_ARRIVING:
        rules.mark(state, c.NOT_ARRIVING)
    if state[s.NO_FLOW] == why.FLOW_MISSING:
        rules.mark(state, c.FLOWLESS)
    if state[s.NO_FLOW] == why.HEAT_ASTRAY:
        rules.mark(state, c.ASTRAY)
    if state[s.NO_FLOW] == why.SENSORS_SWAPPED:
        rules.mark(state, c.SWAPPED)
    if state[s.DUMP_BARRED] == why.RADIATOR_DEAD:
        rules.mark(state, c.DEAD)
    if state[s.DUMP_BARRED] == why.DUMP_HEATS_TANK:
        rules.mark(state, c.HEATING)


def collect_plant(state, settings, inputs):
    """Set the conditions of how the plant is built and how cold its loop may be."""
    # A dump that heated the tank or had no effect may be a stuck valve: then there is no way round.
    if settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS and state[s.DUMP_BARRED] == 0:
        rules.mark(state, c.ROUND)
    if frost.dump_frosty(state, settings, inputs):
        rules.mark(state, c.COLD_DUMP)
    elif settings[cfg.DUMP_TOPOLOGY] != cfg.NONE and state[s.DUMP_BARRED] == 0:
        rules.mark(state, c.RADIATOR)
    if frost.loop_frosty(state, settings, inputs):
        rules.mark(state, c.COLD_LOOP)
    if frost.tank_too_cold(state, settings, inputs):
        rules.mark(state, c.TANK_COOL)


def turn_due(state, settings, inputs):
    """Whether a pump or the valve is due for exercise, or being exercised."""
    if state[s.EXERCISING] < s.MOVERS:
        return True
    for mover in range(s.MOVERS):
        if mover != s.FAN_MOVER and state[s.UNMOVED_S + mover] >= settings[cfg.EXERCISE_AFTER]:
            return True
    return False


def goes_round(state, settings, inputs):
    """Whether frosty glycol still goes round under the sun.

    It cools the collector, and a round that ends too early has to begin again.
    """
    if state[s.REASON] != why.COLD_SLUG_ROUND or state[s.COLLECTOR_PUMP_ON] == 0:
        return False
    return rules.holds(state, c.COLD_LOOP) and state[s.COLLECTOR_MC] >= settings[cfg.COLLECTOR_MINIMUM]


def collect_sun(state, settings, inputs):
    """Set the conditions of heat, of room for it, and of what the station may do without it."""
    if state[s.TANK_FULL] == 1 and not tank.has_room(state, settings, inputs):
        rules.mark(state, c.FULL)
    if state[s.CHARGE_HOT] == 1:
        rules.mark(state, c.HOT_GLYCOL)
    if state[s.CHARGE_WANTED] == 1 or goes_round(state, settings, inputs):
        rules.mark(state, c.WANTED)
    if state[s.DUMP_WANTED] == 1:
        rules.mark(state, c.DUMP)
    if state[s.COOLING_WANTED] == 1:
        rules.mark(state, c.COOLING)
    if turn_due(state, settings, inputs):
        rules.mark(state, c.TURN_DUE)
    if state[s.COLLECTOR_MC] < settings[cfg.COLLECTOR_MINIMUM]:
        rules.mark(state, c.COOL)
    elif state[s.COLLECTOR_MC] - state[s.TANK_REFERENCE_MC] >= settings[cfg.START_DIFFERENCE]:
        rules.mark(state, c.TAKEN)


def collect(state, settings, inputs):
    """Set all conditions of this step."""
    for word in range(s.CONDITIONS, s.CONDITIONS + c.CONDITION_WORDS):
        state[word] = 0
    collect_hands(state, settings, inputs)
    collect_faults(state, settings, inputs)
    collect_given_up(state, settings, inputs)
    collect_plant(state, settings, inputs)
    collect_sun(state, settings, inputs)
    frost.yield_to_the_sun(state, settings, inputs)
