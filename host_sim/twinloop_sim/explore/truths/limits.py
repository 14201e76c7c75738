"""Steam, a full tank, and glycol too hot to charge."""

from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s

from . import memory as mem
from .facts import both_pumps, collector_at, on, tank_known

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


def steam_memory(m, state, settings, inputs):
    """After a reset or collector_limit, the collector pump waits for collector_reset."""
    return on(state, s.COLLECTOR_PUMP) and m[mem.STEAM] == 1


def tank_limit(m, state, settings, inputs):
    """Both pumps run together only while the tank's hottest reading is below its limit."""
    if not both_pumps(state) or not tank_known(state) or state[s.DUTY] == s.NIGHT_COOLING:
        return False
    return m[mem.OVER] == 1


def tank_full(m, state, settings, inputs):
    """A full tank is not charged until both of its readings are below their resets."""
    return state[s.DUTY] == s.CHARGING and tank_known(state) and m[mem.FULL] == 1


def charge_limit(m, state, settings, inputs):
    """Glycol that reached charge_limit heats no tank until it is below the reset."""
    # Night cooling's glycol is colder than the tank, whatever the latch says; see cooling_colder.
    return both_pumps(state) and m[mem.HOT] == 1 and state[s.DUTY] != s.NIGHT_COOLING


TRUTHS = (collector_limit, steam_memory, tank_limit, tank_full, charge_limit)
