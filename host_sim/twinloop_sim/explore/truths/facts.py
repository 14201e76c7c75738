"""Readings, limits and commands in the words of the design."""

from twinloop.control import conditions as c
from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s

ALARM_NO_FLOW = 1 << 2
ALARM_DUMP = 1 << 3
ALARM_FROST = 1 << 4
ALARM_TAKING = 1 << 15
# A tank counts as at its limit from this far below it on, so that a run-on stays under it.
EARLY_MK = 500
# More than the two sensors of a mixed tank differ by.
INVERTED_MK = 1500
# Air is unknown this long after its last reading, and until then as cold as it was: it changes by a
# kelvin and a half in as long.
AIR_AGE_MS = 600000
# A table of this module, so that the compiled copy makes it an array.
MOVING = s.MOVING


def trusted(state, sensor):
    """Whether the sensor has a value."""
    return state[s.STATUS + sensor] <= s.HELD


def air_unread(state):
    """Whether outdoor has had no value for so long that the air may be any other."""
    return not trusted(state, s.OUTDOOR) and state[s.AGE_MS + s.OUTDOOR] >= AIR_AGE_MS


def collector_at(state, limit_mc):
    """Whether the collector is trusted and at least this hot."""
    return trusted(state, s.COLLECTOR) and state[s.COLLECTOR_MC] >= limit_mc


def tank_known(state):
    """Whether a tank sensor is trusted."""
    return trusted(state, s.TANK_LOW) or trusted(state, s.TANK_HIGH)


def tank_reference(state):
    """tank_low, or tank_high while tank_low is lost."""
    return state[s.TANK_LOW_MC] if trusted(state, s.TANK_LOW) else state[s.TANK_HIGH_MC]


def tank_hottest(state, settings):
    """The hottest the tank may be, judging by its trusted sensors."""
    if not trusted(state, s.TANK_HIGH):
        return state[s.TANK_LOW_MC] + settings[cfg.STRATIFICATION_MARGIN]
    return max(tank_reference(state), state[s.TANK_HIGH_MC])


def tank_coldest(state):
    """The coldest trusted tank sensor."""
    if trusted(state, s.TANK_LOW) and trusted(state, s.TANK_HIGH):
        return min(state[s.TANK_LOW_MC], state[s.TANK_HIGH_MC])
    return tank_reference(state)


def above_limit(state, settings):
    """Whether a trusted tank sensor reads above tank_limit."""
    limit = limit_in_force(settings)
    if trusted(state, s.TANK_LOW) and state[s.TANK_LOW_MC] > limit:
        return True
    return trusted(state, s.TANK_HIGH) and state[s.TANK_HIGH_MC] > limit


def colder_shown(state):
    """Whether collector and loop_supply are trusted, and colder than both trusted tank sensors.

    A bottom that reads hotter than the top may be the collector: then nothing shows it.
    """
    if not trusted(state, s.TANK_LOW) or not trusted(state, s.TANK_HIGH):
        return False
    if state[s.TANK_LOW_MC] - state[s.TANK_HIGH_MC] >= INVERTED_MK:
        return False
    if not trusted(state, s.COLLECTOR) or not trusted(state, s.LOOP_SUPPLY):
        return False
    return max(state[s.COLLECTOR_MC], state[s.LOOP_SUPPLY_MC]) < tank_coldest(state)


def limit_in_force(settings):
    """What a tank sensor reads when the water is at tank_limit."""
    return settings[cfg.TANK_LIMIT] - settings[cfg.TANK_MARGIN]


def full_in_force(settings):
    """What tank_low reads when the water around it is at tank_full_low."""
    return settings[cfg.TANK_FULL_LOW] - settings[cfg.TANK_MARGIN]


def gain(state):
    """Collector minus tank reference; both must be trusted."""
    return state[s.COLLECTOR_MC] - tank_reference(state)


def frosty_exchanger(state, settings):
    """Whether the exchanger is trusted and below exchanger_frost."""
    return trusted(state, s.EXCHANGER) and state[s.EXCHANGER_MC] < settings[cfg.EXCHANGER_FROST]


def on(state, output):
    """Whether an output is commanded on."""
    return state[s.COMMAND + output] != 0


def frost_bars_dump(state):
    """Whether the core calls a radiator in series frosty; `radiator_slug` judges when it must."""
    return state[s.CONDITIONS + c.COLD_DUMP // c.BITS] & 1 << c.COLD_DUMP % c.BITS != 0


def has_room(state, settings):
    """Whether a full tank may take heat up to its limit, because frost keeps it from dumping."""
    return frost_bars_dump(state) and tank_hottest(state, settings) < limit_in_force(settings) - EARLY_MK


def both_pumps(state):
    """Whether heat can pass the exchanger."""
    return on(state, s.COLLECTOR_PUMP) and on(state, s.TANK_PUMP)


def reason_of_low_rank(state):
    """Whether the reason is one of the lowest rank: nothing to do, or a pump's or valve's turn."""
    reason = state[s.REASON]
    if reason == why.NO_DIFFERENCE or reason == why.COLLECTOR_COOL:
        return True
    return reason == why.TURN or reason == why.TURN_POSTPONED_COLD or reason == why.TURN_POSTPONED_HOT
