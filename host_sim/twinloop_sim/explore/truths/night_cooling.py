"""Night cooling: used when it helps, and barred by a tank sensor that cannot be right."""

from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s

from . import memory as mem
from .facts import both_pumps, limit_in_force, on, reason_of_low_rank, tank_coldest, tank_known, trusted

REASONS = ((why.NIGHT_COOLING_AWAY, s.NIGHT_COOLING),)
# source: docs/hazards.md and the design
COOLING_START_MK = 10000
# A minute less than two days: when the radiator failed is seen within a step.
USELESS_FOR_MS = 172800000 - s.STEP_TOP_MS


def off_scale(state, inputs):
    """Whether a tank sensor reads, without a driver's error, above its range of 115 C."""
    for sensor in (s.TANK_LOW, s.TANK_HIGH):
        if state[s.CAUSE + sensor] == s.CAUSE_RANGE and inputs[s.IN_RAW_MC + sensor] > 115000:
            return True
    return False


def upside_down(state):
    """Whether the trusted bottom of the tank reads at least 1.5 K hotter than its trusted top."""
    if not trusted(state, s.TANK_LOW) or not trusted(state, s.TANK_HIGH):
        return False
    return state[s.TANK_LOW_MC] - state[s.TANK_HIGH_MC] >= 1500


def cooling_colder(m, state, settings, inputs):
    """Night cooling moves tank water only against glycol colder than every tank reading."""
    if state[s.DUTY] != s.NIGHT_COOLING or not both_pumps(state):
        return False
    warmest = state[s.COLLECTOR_MC]
    if trusted(state, s.LOOP_SUPPLY):
        warmest = max(warmest, state[s.LOOP_SUPPLY_MC])
    return not trusted(state, s.COLLECTOR) or not tank_known(state) or warmest >= tank_coldest(state)


def off_scale_bars(m, state, settings, inputs):
    """A tank sensor that reads hotter than any tank bars charging and night cooling."""
    barred = state[s.DUTY] == s.CHARGING or state[s.DUTY] == s.NIGHT_COOLING
    return barred and tank_known(state) and off_scale(state, inputs)


def upside_down_bars(m, state, settings, inputs):
    """Night cooling moves no water while the tank reads upside down or its top is unknown."""
    cools = state[s.DUTY] == s.NIGHT_COOLING and on(state, s.TANK_PUMP)
    return cools and (upside_down(state) or not trusted(state, s.TANK_HIGH))


def night_used(m, state, settings, inputs):
    """During an absence without a radiator that works, a cold night cools the tank."""
    if (
        settings[cfg.AWAY] == 0
        or m[mem.USELESS_AGO_MS] >= USELESS_FOR_MS
        or not trusted(state, s.COLLECTOR)
        or not tank_known(state)
    ):
        return False
    # A tank sensor hotter than any tank, or a bottom hotter than the top, may hang on the roof.
    # Cooling that has ended waits until the two differ by at most half a kelvin.
    if off_scale(state, inputs) or not trusted(state, s.TANK_HIGH):
        return False
    if trusted(state, s.TANK_LOW) and state[s.TANK_LOW_MC] - state[s.TANK_HIGH_MC] > 500:
        return False
    # Beyond tank_limit, loop_supply has to show that it only cools, 1 K below both tank sensors.
    seen = trusted(state, s.LOOP_SUPPLY) and trusted(state, s.TANK_LOW)
    seen &= state[s.LOOP_SUPPLY_MC] <= tank_coldest(state) - 1000
    if not seen and max(state[s.TANK_LOW_MC], state[s.TANK_HIGH_MC]) > limit_in_force(settings):
        return False
    least = max(state[s.COLLECTOR_MC], settings[cfg.AWAY_LIMIT])
    return tank_coldest(state) - least >= COOLING_START_MK and reason_of_low_rank(state)


def good_radiator_spared(m, state, settings, inputs):
    """Night cooling is for an absence, and never where the radiator has worked for two days."""
    if state[s.DUTY] != s.NIGHT_COOLING:
        return False
    return settings[cfg.AWAY] == 0 or m[mem.USELESS_AGO_MS] > USELESS_FOR_MS + 2 * s.STEP_TOP_MS


def cooled_enough(m, state, settings, inputs):
    """After a minimum run, night cooling ends 2 K above away_limit."""
    cools = state[s.DUTY] == s.NIGHT_COOLING and tank_coldest(state) <= settings[cfg.AWAY_LIMIT] + 2000
    return cools and (m[mem.ON_MS] == 0 or m[mem.ON_MS] > settings[cfg.MINIMUM_RUN] + s.STEP_TOP_MS)


TRUTHS = (cooling_colder, good_radiator_spared, cooled_enough, off_scale_bars, upside_down_bars, night_used)
