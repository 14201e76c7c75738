"""Frost in the exchanger, cold slugs, and glycol near its freezing point."""

from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s

from . import memory as mem
from .facts import ALARM_FROST, air_unread, collector_at, frosty_exchanger, on, tank_reference, trusted
from .glycol import loop_cold
from .stops import somebody_in_charge

REASONS = (
    (why.EXCHANGER_FROST, s.FROST_GUARD),
    (why.GLYCOL_STIFF, s.IDLE),
    (why.COLD_SLUG_SERIES, s.IDLE),
    (why.COLD_SLUG_REFUSED, s.IDLE),
    (why.COLD_SLUG_ROUND, s.DUMPING),
)
# source: docs/hazards.md and the design
TABLE_FOOT_MC = 3000
TABLE_SLOPE = 2
# Once it charges, the tank may be this much colder.
TABLE_HELD_MK = 2000
# Readings at the plates below this are near ice.
NEAR_ICE_MC = 4000
# Glycol this warm freezes no water, however long it flows.
NO_ICE_MC = 1000
PULSE_MS = 5000
PULSE_REST_MS = 60000
# The core's word for air that was never read.
NO_AIR_MC = 240000
# Freezing point in millidegrees at 0, 10, .. 60 per cent of propylene glycol by mass: handbook
# figures, rounded down to whole degrees, without the margin that the core adds.
FREEZING_MC = (0, -3000, -8000, -13000, -21000, -33000, -50000)


def freezing_point(settings):
    """Freezing point of the glycol in the loop, in millidegrees."""
    tens = settings[cfg.GLYCOL_MASS_PERCENT] // 10
    fall = FREEZING_MC[tens + 1] - FREEZING_MC[tens]
    return FREEZING_MC[tens] + fall * (settings[cfg.GLYCOL_MASS_PERCENT] % 10) // 10


def frost_guard(m, state, settings, inputs):
    """An exchanger below exchanger_frost runs the tank pump alone, until the sun warms it."""
    if state[s.DUTY] == s.FROST_GUARD:
        return not on(state, s.TANK_PUMP) or on(state, s.COLLECTOR_PUMP)
    # The sun may end a frost that is not near ice, with a collector warmer than the tank: by
    # charging, or past the plates through a bypass radiator: that also saves a hot collector.
    past = state[s.DUTY] == s.DUMPING and settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS
    if past and state[s.DUMP_WANTED] == 1:
        return False
    sunny = (past or state[s.DUTY] == s.CHARGING) and collector_at(state, tank_reference(state) + 1)
    if sunny and state[s.EXCHANGER_MC] >= NEAR_ICE_MC + 2000:
        return False
    return frosty_exchanger(state, settings) and not somebody_in_charge(m, state, inputs)


def frost_alarm(m, state, settings, inputs):
    """An exchanger below exchanger_frost raises the alarm in every duty."""
    return frosty_exchanger(state, settings) and (state[s.ALARMS] & ALARM_FROST == 0 or not on(state, s.ALARM))


def slug_past_the_exchanger(m, state, settings, inputs):
    """With a bypass, glycol of a cold loop goes to the radiator, never to the exchanger."""
    if settings[cfg.DUMP_TOPOLOGY] != cfg.BYPASS or not on(state, s.COLLECTOR_PUMP):
        return False
    return loop_cold(m, settings) and on(state, s.DUMP_VALVE_POWER)


def above_ice(state):
    """Whether a hot collector is dumped while air and loop are, or were when last seen, above ice.

    Without the air 5 K more are asked, and it has to have been seen since the start.
    """
    if state[s.DUTY] != s.DUMPING or state[s.DUMP_WANTED] == 0:
        return False
    if trusted(state, s.OUTDOOR):
        return state[s.OUTDOOR_MC] >= NO_ICE_MC and state[s.LOOP_LOWEST_MC] >= NO_ICE_MC
    return state[s.LOOP_SEEN_MC] >= NO_ICE_MC and NO_ICE_MC + 5000 <= state[s.AIR_MC] < NO_AIR_MC


def slug_meets_warm_water(m, state, settings, inputs):
    """Without a bypass, a cold loop is pumped beside warm plates only, the tank pump first."""
    if settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS or not on(state, s.COLLECTOR_PUMP) or not loop_cold(m, settings):
        return False
    if above_ice(state):
        return False
    if m[mem.WAS + s.TANK_PUMP] == 0 or not on(state, s.TANK_PUMP) or not trusted(state, s.TANK_LOW):
        return True
    # The pulse itself cools the plates.
    if m[mem.WAS + s.COLLECTOR_PUMP] == 1:
        return False
    return not trusted(state, s.EXCHANGER) or state[s.EXCHANGER_MC] < TABLE_FOOT_MC - TABLE_SLOPE * m[mem.COLDEST_MC]


def cold_tank_waits(m, state, settings, inputs):
    """Without a bypass, charging waits while the tank is too cold for a cold loop, or unknown."""
    if settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS or state[s.DUTY] != s.CHARGING or not loop_cold(m, settings):
        return False
    if not trusted(state, s.TANK_LOW) or not trusted(state, s.EXCHANGER):
        return True
    tank = state[s.TANK_LOW_MC]
    if trusted(state, s.TANK_HIGH):
        tank = max(tank, (tank + state[s.TANK_HIGH_MC]) // 2)
    return tank + TABLE_HELD_MK < TABLE_FOOT_MC - TABLE_SLOPE * m[mem.COLDEST_MC]


def slug_in_pulses(m, state, settings, inputs):
    """Without a bypass, a loop near ice moves for five seconds a minute, ten beside warm plates."""
    if m[mem.COLDEST_MC] >= NO_ICE_MC or above_ice(state):
        return False
    if settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS or not on(state, s.COLLECTOR_PUMP) or not loop_cold(m, settings):
        return False
    if m[mem.WAS + s.COLLECTOR_PUMP] == 0:
        return m[mem.OFF_MS] < PULSE_REST_MS
    twice = state[s.EXCHANGER_MC] >= 2 * (TABLE_FOOT_MC - TABLE_SLOPE * m[mem.COLDEST_MC])
    return m[mem.ON_MS] >= (2 * PULSE_MS if twice else PULSE_MS)


def radiator_slug(m, state, settings, inputs):
    """In series no glycol enters a radiator in frosty or unknown air, unless the sun boils it."""
    if settings[cfg.DUMP_TOPOLOGY] != cfg.SERIES or not on(state, s.COLLECTOR_PUMP) or on(state, s.DUMP_VALVE_POWER):
        return False
    air = state[s.OUTDOOR_MC] if trusted(state, s.OUTDOOR) else state[s.AIR_MC]
    frosty = air_unread(state) or air == NO_AIR_MC or air < settings[cfg.EXCHANGER_FROST]
    return frosty and not above_ice(state)


def glycol_freezes(m, state, settings, inputs):
    """The collector pump is off while a trusted sensor reports glycol below its freezing point."""
    if not on(state, s.COLLECTOR_PUMP):
        return False
    limit = freezing_point(settings)
    if trusted(state, s.COLLECTOR) and state[s.COLLECTOR_MC] < limit:
        return True
    return trusted(state, s.OUTDOOR) and state[s.OUTDOOR_MC] < limit


TRUTHS = (
    frost_guard,
    frost_alarm,
    slug_past_the_exchanger,
    slug_meets_warm_water,
    cold_tank_waits,
    slug_in_pulses,
    radiator_slug,
    glycol_freezes,
)
