"""Steam, a full tank, and glycol too hot to charge."""

from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s

from . import memory as mem
from .facts import both_pumps, collector_at, has_room, on, tank_known, trusted

# source: docs/hazards.md
SCALDED_FOR_MS = 7200000
# No pipe is this much hotter than the collector that its glycol came from.
EXCHANGED_MK = 20000
REASONS = (
    (why.STEAM, s.STAGNATION_HOLD),
    (why.TANK_FULL_DUMP, s.DUMPING),
    (why.TANK_FULL_REFUSED, s.IDLE),
    (why.CHARGE_LIMIT_DUMP, s.DUMPING),
    (why.CHARGE_LIMIT_REFUSED, s.IDLE),
)


def collector_limit(m, state, settings, inputs):
    """The collector pump is off while the collector reads collector_limit or more."""
    return on(state, s.COLLECTOR_PUMP) and collector_at(state, settings[cfg.COLLECTOR_LIMIT])


def collector_elsewhere(m, state, settings, inputs):
    """The collector pump is off while a collector at its limit shows at another sensor's place."""
    hot = max(settings[cfg.COLLECTOR_LIMIT], state[s.COLLECTOR_MC] + EXCHANGED_MK)
    seen = False
    for sensor in range(s.TANK_LOW, s.SENSORS):
        seen |= trusted(state, sensor) and state[s.VALUE_MC + sensor] >= hot
    return seen and on(state, s.COLLECTOR_PUMP) and trusted(state, s.COLLECTOR)


def steam_memory(m, state, settings, inputs):
    """After a reset or collector_limit, the collector pump waits for collector_reset."""
    return on(state, s.COLLECTOR_PUMP) and m[mem.STEAM] == 1


def tank_limit(m, state, settings, inputs):
    """Both pumps run together only while the tank's hottest reading is below its limit."""
    if not both_pumps(state) or not tank_known(state) or state[s.DUTY] == s.NIGHT_COOLING:
        return False
    return m[mem.OVER] == 1 and not has_room(state, settings)


def above_tank_limit(m, state, settings, inputs):
    """Beside a tank sensor above tank_limit only glycol that is shown to be colder is pumped."""
    # It has to last as long as a reading may be held: a single one may be noise.
    return on(state, s.COLLECTOR_PUMP) and m[mem.ABOVE_MS] >= settings[cfg.TANK_AGE] + inputs[s.IN_DT_MS]


def tank_full(m, state, settings, inputs):
    """A full tank is not charged until both of its readings are below their resets, or has room."""
    if state[s.DUTY] != s.CHARGING or not tank_known(state) or has_room(state, settings):
        return False
    return m[mem.FULL] == 1


def charge_limit(m, state, settings, inputs):
    """Glycol that reached charge_limit heats no tank until it is below the reset."""
    # Night cooling's glycol is colder than the tank, whatever the latch says; see cooling_colder.
    return both_pumps(state) and m[mem.HOT] == 1 and state[s.DUTY] != s.NIGHT_COOLING


def hand_on_hot_glycol(m, state, settings, inputs):
    """Hands pump glycol that reached charge_limit only round, through a bypass radiator."""
    if not on(state, s.COLLECTOR_PUMP) or state[s.DUTY] != s.HAND or m[mem.HOT] == 0:
        return False
    away = on(state, s.DUMP_VALVE_POWER) or m[mem.VALVE_MOST_MS] > 0
    return settings[cfg.DUMP_TOPOLOGY] != cfg.BYPASS or away


def hot_exchanger(m, state, settings, inputs):
    """The tank pump starts neither by hand nor for exercise beside a scalding exchanger."""
    # Its sensor tells. Without it two hours after hot glycol have to pass.
    if not on(state, s.TANK_PUMP) or m[mem.WAS + s.TANK_PUMP] == 1:
        return False
    if state[s.DUTY] != s.HAND and state[s.DUTY] != s.EXERCISE:
        return False
    if trusted(state, s.EXCHANGER):
        return state[s.EXCHANGER_MC] >= settings[cfg.CHARGE_LIMIT]
    return m[mem.SCALDED_MS] < SCALDED_FOR_MS - s.STEP_TOP_MS


TRUTHS = (
    *(collector_limit, collector_elsewhere, steam_memory, tank_limit, above_tank_limit, tank_full, charge_limit),
    *(hand_on_hot_glycol, hot_exchanger),
)
