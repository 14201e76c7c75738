"""How cold the glycol outdoors may be. A frosty slug must not meet drinking water in the exchanger, and a sensor sees it too late.

The lowest temperature that collector or air have shown since the last full exchange is remembered; only pumped volume makes the
loop warm again. After a reset, and while a sensor that tells of it is lost, the loop counts as frosty.
"""

from .settings import (
    BYPASS,
    COLLECTOR_FLOW,
    DUMP_TOPOLOGY,
    DUMP_TRAVEL,
    EXCHANGER_FROST,
    GLYCOL_MASS_PERCENT,
    LOOP_VOLUME,
    NONE,
    OUTDOOR_FITTED,
    SERIES,
)
from .state import (
    COLLECTOR_MC,
    COLLECTOR_PUMP_ON,
    COLLECTOR_STATUS,
    HELD,
    IN_DT_MS,
    LOOP_KNOWN,
    LOOP_LOWEST_MC,
    LOOP_RETURN_MC,
    LOOP_RETURN_STATUS,
    LOOP_SEEN_MC,
    LOOP_SUPPLY_MC,
    LOOP_SUPPLY_STATUS,
    MILD_MS,
    OUTDOOR_MC,
    OUTDOOR_STATUS,
    PUMPED_ML,
    PUMPED_REST,
    RADIATOR_STOOD,
    STANDING_MS,
    TANK_LOW_MC,
    TANK_LOW_STATUS,
    TIMER_TOP_MS,
    VALVE_MS,
)

# Ten minutes outdoors without flow do not cool an insulated pipe from use to frost; an uninsulated one is not modelled as safe and
# must be set colder by hand. Common practice.
STANDING_LIMIT_MS = 600000
# What an unknown loop may hold, and how far an outdoor pipe may lag behind air and collector after a night nobody watched.
COLDEST_MC = -50000
# Nothing frosty was seen: above anything that a loop can be.
WARMEST_MC = 240000
# What is seen at the station, glycol or plates, is near ice below this, or below exchanger_frost where that is lower.
SEEN_FROST_MC = 4000
LAG_MK = 15000
# Two hours in mild air warm an insulated outdoor pipe (time constant about 45 min: 0.66 kJ/(m K) against 0.25 W/(m K)) to within
# a few kelvin of it.
MILD_LIMIT_MS = 7200000
MILD_LAG_MK = 3000
# Pumps stall in slush before glycol is solid: stay this far above the freezing point.
STIFF_MARGIN_MK = 3000
# Freezing point in millidegrees at 0, 10, .. 60 per cent of propylene glycol by mass.
# source: CoolProp 8.0.0, INCOMP::MPG; the last row is chosen so that the line to it is right at 55 per cent, the highest allowed.
FREEZING_MC = (0, -2860, -7170, -12780, -20560, -32190, -48100)


def fold_lowest(state, settings, inputs, seen):
    """A temperature that the outdoor part of the loop may hold; a frosty one starts the pumped volume again."""
    if seen < settings[EXCHANGER_FROST]:
        state[PUMPED_ML] = 0
    state[LOOP_LOWEST_MC] = min(state[LOOP_LOWEST_MC], seen)
    if seen != COLDEST_MC:
        state[LOOP_SEEN_MC] = min(state[LOOP_SEEN_MC], seen)


def fold_outdoor(state, settings, inputs):
    """What lies outdoors may be as cold as the air, or as anything when nobody tells of the air."""
    if state[OUTDOOR_STATUS] <= HELD:
        fold_lowest(state, settings, inputs, state[OUTDOOR_MC])
    else:
        state[LOOP_KNOWN] = 0
        fold_lowest(state, settings, inputs, COLDEST_MC)


def flush_radiator(state, settings, inputs):
    """The radiator is outdoors and small: with the first glycol through it after any stop, its content is in the loop."""
    if settings[DUMP_TOPOLOGY] == NONE:
        return
    if state[COLLECTOR_PUMP_ON] == 0 or state[VALVE_MS] >= settings[DUMP_TRAVEL]:
        state[RADIATOR_STOOD] = 1
        return
    if state[RADIATOR_STOOD] == 1:
        fold_outdoor(state, settings, inputs)
    state[RADIATOR_STOOD] = 0


def dump_frosty(state, settings, inputs):
    """Whether, with the radiator ahead of the exchanger, a dump may bring frosty glycol into it, the loop's or its own."""
    if settings[DUMP_TOPOLOGY] != SERIES:
        return False
    if state[LOOP_LOWEST_MC] < settings[EXCHANGER_FROST] or state[OUTDOOR_STATUS] > HELD:
        return True
    return state[OUTDOOR_MC] < settings[EXCHANGER_FROST]


def know_loop(state, settings, inputs):
    """Without a way round the exchanger an unknown loop can never be flushed: judge it once from air and collector, less a lag.

    What was seen while it was unknown is not forgotten.
    """
    if state[LOOP_KNOWN] == 1 or settings[DUMP_TOPOLOGY] == BYPASS:
        return
    if state[COLLECTOR_STATUS] <= HELD and state[OUTDOOR_STATUS] <= HELD:
        now = min(state[COLLECTOR_MC], state[OUTDOOR_MC]) - LAG_MK
        state[LOOP_LOWEST_MC] = min(state[LOOP_SEEN_MC], now)
        state[LOOP_KNOWN] = 1


def forgive_mild(state, settings, inputs):
    """Without a way round the exchanger, only hours of mild weather warm a loop: else the first frost would end the year."""
    if state[COLLECTOR_STATUS] > HELD or state[OUTDOOR_STATUS] > HELD or settings[DUMP_TOPOLOGY] == BYPASS:
        state[MILD_MS] = 0
        return
    mildest = min(state[COLLECTOR_MC], state[OUTDOOR_MC]) - MILD_LAG_MK
    if mildest < settings[EXCHANGER_FROST]:
        state[MILD_MS] = 0
        return
    state[MILD_MS] = min(state[MILD_MS] + inputs[IN_DT_MS], TIMER_TOP_MS)
    if state[MILD_MS] >= MILD_LIMIT_MS and mildest > state[LOOP_LOWEST_MC]:
        state[LOOP_LOWEST_MC] = mildest
        state[LOOP_SEEN_MC] = mildest


def count_pumped(state, settings, inputs):
    """Pumped glycol since the last frosty sign; once round and half as much again, the loop is as warm as its sensors say."""
    state[STANDING_MS] = 0
    part = settings[COLLECTOR_FLOW] * inputs[IN_DT_MS] + state[PUMPED_REST]
    state[PUMPED_ML] = min(state[PUMPED_ML] + part // 60000, TIMER_TOP_MS)
    state[PUMPED_REST] = part % 60000
    # Half as much again: cold glycol is thick and flows slower than the bucket showed.
    if state[PUMPED_ML] * 2 < settings[LOOP_VOLUME] * 3 or state[COLLECTOR_STATUS] > HELD:
        return
    state[LOOP_LOWEST_MC] = state[COLLECTOR_MC]
    if state[LOOP_SUPPLY_STATUS] <= HELD:
        state[LOOP_LOWEST_MC] = min(state[LOOP_LOWEST_MC], state[LOOP_SUPPLY_MC])
    state[LOOP_SEEN_MC] = state[LOOP_LOWEST_MC]
    state[LOOP_KNOWN] = 1


def at_station_mc(state, settings, inputs):
    """The coldest glycol that a trusted sensor of the station tells of, WARMEST_MC without one."""
    coldest = WARMEST_MC
    if state[LOOP_RETURN_STATUS] <= HELD:
        coldest = state[LOOP_RETURN_MC]
    if state[LOOP_SUPPLY_STATUS] <= HELD:
        coldest = min(coldest, state[LOOP_SUPPLY_MC])
    return coldest


def glycol_sinks(state, settings, inputs):
    """Whether frosty glycol comes down to the exchanger with the pump off, forwards or backwards through a leaking check valve.

    With a bypass the dump valve at rest keeps that way shut. What a sensor of the station reads needs less margin than what lies
    outdoors unseen: a high exchanger_frost must not call a cool plant room frosty.
    """
    if settings[DUMP_TOPOLOGY] == BYPASS or state[COLLECTOR_PUMP_ON] == 1:
        return False
    return at_station_mc(state, settings, inputs) < min(settings[EXCHANGER_FROST], SEEN_FROST_MC)


def track_loop(state, settings, inputs):
    """Follow how cold the glycol outdoors may be. Only pumped volume makes it warmer."""
    know_loop(state, settings, inputs)
    forgive_mild(state, settings, inputs)
    if state[COLLECTOR_STATUS] > HELD:
        state[LOOP_KNOWN] = 0
        fold_lowest(state, settings, inputs, COLDEST_MC)
    else:
        fold_lowest(state, settings, inputs, state[COLLECTOR_MC])
    if glycol_sinks(state, settings, inputs):
        fold_lowest(state, settings, inputs, at_station_mc(state, settings, inputs))
    flush_radiator(state, settings, inputs)
    if state[COLLECTOR_PUMP_ON] == 1:
        count_pumped(state, settings, inputs)
        return
    state[STANDING_MS] = min(state[STANDING_MS] + inputs[IN_DT_MS], TIMER_TOP_MS)
    # Without an outdoor sensor the collector, which is colder than the air at night, speaks for the pipes.
    if state[STANDING_MS] >= STANDING_LIMIT_MS and settings[OUTDOOR_FITTED] == 1:
        fold_outdoor(state, settings, inputs)


def tank_too_cold(state, settings, inputs):
    """Whether the tank is too cold to meet the coldest glycol of the loop in the exchanger with its pump running.

    A tank_low below 0 C is too cold for any: it is about to freeze, or its sensor hangs outdoors. Otherwise a way round the
    exchanger makes the loop warm without the tank; where there is none:

    Five kelvin of tank for each kelvin of glycol below exchanger_frost, above 10 C: with a counterflow effectiveness of 0.72 and
    equal films the coldest plate, halfway between glycol and leaving water, stays above 0 C down to -8 C; below, no tank is warm
    enough. With tank_low out of sight nobody knows how cold the water is that the pump would send.
    """
    if state[TANK_LOW_STATUS] <= HELD and state[TANK_LOW_MC] < 0:
        return True
    short = settings[EXCHANGER_FROST] - state[LOOP_LOWEST_MC]
    if short <= 0 or settings[DUMP_TOPOLOGY] == BYPASS:
        return False
    return state[TANK_LOW_STATUS] > HELD or state[TANK_LOW_MC] < 10000 + 5 * short


def glycol_stiff(state, settings, inputs):
    """Whether any glycol that a sensor tells of is near its freezing point."""
    percent = settings[GLYCOL_MASS_PERCENT]
    limit = FREEZING_MC[percent // 10 + 1] - FREEZING_MC[percent // 10]
    limit = FREEZING_MC[percent // 10] + limit * (percent % 10) // 10 + STIFF_MARGIN_MK
    if state[COLLECTOR_STATUS] <= HELD and state[COLLECTOR_MC] < limit:
        return True
    return state[OUTDOOR_STATUS] <= HELD and state[OUTDOOR_MC] < limit


def wake(state, settings, inputs):
    """After a reset the loop is unknown."""
    state[LOOP_LOWEST_MC] = COLDEST_MC
    state[LOOP_SEEN_MC] = WARMEST_MC
    state[RADIATOR_STOOD] = 1
    state[LOOP_KNOWN] = 0
    state[MILD_MS] = 0
