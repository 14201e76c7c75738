"""Charging: only warm glycol meets the tank, and heat worth fetching is fetched."""

from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s

from . import memory as mem
from .facts import ALARM_DUMP, ALARM_TAKING, both_pumps, gain, on, reason_of_low_rank, tank_known, tank_reference, trusted

REASONS = (
    (why.HEAT_TOO_WEAK, s.IDLE),
    (why.DIFFERENCE, s.CHARGING),
    (why.HEAT_TAKEN, s.IDLE),
)


def water_moves_first(state, settings):
    """Whether water must move before glycol may, by the core's own, stricter latch."""
    around = settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS and state[s.ALARMS] & ALARM_DUMP == 0
    return not around and state[s.LOOP_LOWEST_MC] < settings[cfg.EXCHANGER_FROST]


def exchanger_warm(m, state, settings, inputs):
    """In charging the tank pump waits for glycol that is trusted or timed to be warmer."""
    if state[s.DUTY] != s.CHARGING or not both_pumps(state) or water_moves_first(state, settings):
        return False
    if trusted(state, s.LOOP_SUPPLY):
        return state[s.LOOP_SUPPLY_MC] <= tank_reference(state)
    return m[mem.ON_MS] < settings[cfg.TANK_PUMP_DELAY]


def run_kept(m, state, settings, inputs):
    """Charging ends for lack of a difference only after minimum_run."""
    stops = m[mem.WAS + s.COLLECTOR_PUMP] == 1 and m[mem.WAS_DUTY] == s.CHARGING and not on(state, s.COLLECTOR_PUMP)
    short = m[mem.ON_MS] < settings[cfg.MINIMUM_RUN]
    return stops and short and (state[s.REASON] == why.NO_DIFFERENCE or state[s.REASON] == why.COLLECTOR_COOL)


def weak_heat_rests(m, state, settings, inputs):
    """Charging that brought no warm glycol for five minutes rests for half an hour."""
    if state[s.NO_FLOW] == why.HEAT_TOO_WEAK and state[s.DUTY] == s.CHARGING:
        return True
    return state[s.REASON] == why.HEAT_TOO_WEAK and m[mem.UNJOINED_AGO_MS] > mem.GIVEN_UP_MS


def heat_fetched(m, state, settings, inputs):
    """Heat worth fetching is fetched, or refused with a reason against it."""
    if not trusted(state, s.COLLECTOR) or not tank_known(state):
        return False
    worth = gain(state) >= settings[cfg.START_DIFFERENCE] and state[s.COLLECTOR_MC] >= settings[cfg.COLLECTOR_MINIMUM]
    dumps = state[s.REASON] == why.COLLECTOR_HOT_DUMP and m[mem.TAKING_AGO_MS] > mem.DOUBT_TOP_MS
    return worth and (reason_of_low_rank(state) or dumps)


def taken_is_proven(m, state, settings, inputs):
    """Heat is refused for what was taken out only after five minutes of it, or warmer water."""
    proven = m[mem.TAKING_AGO_MS] <= mem.DOUBT_TOP_MS
    return (state[s.REASON] == why.HEAT_TAKEN or state[s.ALARMS] & ALARM_TAKING != 0) and not proven


def taking_ends(m, state, settings, inputs):
    """Charging that takes heat out of the tank, with a cool collector, ends after five minutes."""
    long_ms = mem.TAKING_LIMIT_MS + settings[cfg.MINIMUM_RUN] + 2 * s.STEP_TOP_MS
    return m[mem.VAIN_MS] >= long_ms and state[s.DUTY] == s.CHARGING


TRUTHS = (exchanger_warm, run_kept, weak_heat_rests, heat_fetched, taken_is_proven, taking_ends)
