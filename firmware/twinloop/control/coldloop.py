"""How cold the glycol outdoors may be. What follows from it is in frost.py.

A sensor sees a frosty slug too late. So the lowest temperature of collector or air since the last full exchange of the
glycol is remembered, and only pumped volume makes the loop warm again. After a reset, and while a sensor that tells of
it is lost, the loop counts as frosty.
"""

from . import settings as cfg
from . import state as s

# Ten minutes outdoors without flow do not cool an insulated pipe from use to frost; an uninsulated one is not modelled as safe and
# must be set colder by hand. Common practice.
STANDING_LIMIT_MS = 600000
# Glycol or plates seen at the station are near ice below this, or below exchanger_frost where that is lower.
SEEN_FROST_MC = 4000
# What an unknown loop may hold, and how far an outdoor pipe may lag behind air and collector after a night nobody watched.
COLDEST_MC = -50000
# The pumped volume is counted up to here: far more than any loop holds.
PUMPED_TOP_ML = 8388607
# Nothing frosty was seen: above anything that a loop can be.
WARMEST_MC = 240000
LAG_MK = 15000
# Two hours in mild air warm an insulated outdoor pipe (time constant about 45 min: 0.66 kJ/(m K) against 0.25 W/(m K)) to within
# a few kelvin of it.
MILD_LIMIT_MS = 7200000
MILD_LAG_MK = 3000


def fold_lowest(state, settings, inputs, seen):
    """A temperature that the outdoor part of the loop may hold; a frosty one starts the pumped volume again."""
    if seen < settings[cfg.EXCHANGER_FROST]:
        state[s.PUMPED_ML] = 0
    state[s.LOOP_LOWEST_MC] = min(state[s.LOOP_LOWEST_MC], seen)
    if seen != COLDEST_MC:
        state[s.LOOP_SEEN_MC] = min(state[s.LOOP_SEEN_MC], seen)


def fold_outdoor(state, settings, inputs):
    """What lies outdoors may be as cold as the air, or as anything when nobody tells of the air."""
    if s.trusted(state, s.OUTDOOR):
        fold_lowest(state, settings, inputs, state[s.OUTDOOR_MC])
    else:
        state[s.LOOP_KNOWN] = 0
        fold_lowest(state, settings, inputs, COLDEST_MC)


def flush_radiator(state, settings, inputs):
    """The radiator is outdoors and small: with the first glycol through it after any stop, its content is in the loop."""
    if settings[cfg.DUMP_TOPOLOGY] == cfg.NONE:
        return
    if state[s.COLLECTOR_PUMP_ON] == 0 or state[s.VALVE_MS] >= settings[cfg.DUMP_TRAVEL]:
        state[s.RADIATOR_STOOD] = 1
        return
    if state[s.RADIATOR_STOOD] == 1:
        fold_outdoor(state, settings, inputs)
    state[s.RADIATOR_STOOD] = 0


def know_loop(state, settings, inputs):
    """Without a way round the exchanger an unknown loop can never be flushed: judge it once from air and collector, less a lag.

    What was seen while it was unknown is not forgotten.
    """
    if state[s.LOOP_KNOWN] == 1 or settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS:
        return
    if s.trusted(state, s.COLLECTOR) and s.trusted(state, s.OUTDOOR):
        now = min(state[s.COLLECTOR_MC], state[s.OUTDOOR_MC]) - LAG_MK
        state[s.LOOP_LOWEST_MC] = min(state[s.LOOP_SEEN_MC], now)
        state[s.LOOP_KNOWN] = 1


def forgive_mild(state, settings, inputs):
    """Without a way round the exchanger, only hours of mild weather warm a loop: else the first frost would end the year."""
    if not s.trusted(state, s.COLLECTOR) or not s.trusted(state, s.OUTDOOR) or settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS:
        state[s.MILD_MS] = 0
        return
    mildest = min(state[s.COLLECTOR_MC], state[s.OUTDOOR_MC]) - MILD_LAG_MK
    if mildest < settings[cfg.EXCHANGER_FROST]:
        state[s.MILD_MS] = 0
        return
    state[s.MILD_MS] = min(state[s.MILD_MS] + inputs[s.IN_DT_MS], s.TIMER_TOP_MS)
    if state[s.MILD_MS] >= MILD_LIMIT_MS and mildest > state[s.LOOP_LOWEST_MC]:
        state[s.LOOP_LOWEST_MC] = mildest
        state[s.LOOP_SEEN_MC] = mildest


def count_pumped(state, settings, inputs):
    """Pumped glycol since the last frosty sign; once round and half as much again, the loop is as warm as its sensors say."""
    state[s.STANDING_MS] = 0
    part = settings[cfg.COLLECTOR_FLOW] * inputs[s.IN_DT_MS] + state[s.PUMPED_REST]
    state[s.PUMPED_ML] = min(state[s.PUMPED_ML] + part // 60000, PUMPED_TOP_ML)
    state[s.PUMPED_REST] = part % 60000
    # Half as much again: cold glycol is thick and flows slower than the bucket showed.
    if state[s.PUMPED_ML] * 2 < settings[cfg.LOOP_VOLUME] * 3 or not s.trusted(state, s.COLLECTOR):
        return
    state[s.LOOP_LOWEST_MC] = state[s.COLLECTOR_MC]
    if s.trusted(state, s.LOOP_SUPPLY):
        state[s.LOOP_LOWEST_MC] = min(state[s.LOOP_LOWEST_MC], state[s.LOOP_SUPPLY_MC])
    state[s.LOOP_SEEN_MC] = state[s.LOOP_LOWEST_MC]
    state[s.LOOP_KNOWN] = 1


def at_station_mc(state, settings, inputs):
    """The coldest glycol that a trusted sensor of the station tells of, WARMEST_MC without one."""
    coldest = WARMEST_MC
    if s.trusted(state, s.LOOP_RETURN):
        coldest = state[s.LOOP_RETURN_MC]
    if s.trusted(state, s.LOOP_SUPPLY):
        coldest = min(coldest, state[s.LOOP_SUPPLY_MC])
    return coldest


def glycol_sinks(state, settings, inputs):
    """Whether frosty glycol comes down to the exchanger with the pump off, forwards or backwards through a leaking check valve.

    With a bypass the dump valve at rest keeps that way shut. What a sensor of the station reads needs less margin than what lies
    outdoors unseen: a high exchanger_frost must not call a cool plant room frosty.
    """
    if settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS or state[s.COLLECTOR_PUMP_ON] != 0:
        return False
    return at_station_mc(state, settings, inputs) < min(settings[cfg.EXCHANGER_FROST], SEEN_FROST_MC)


def track_loop(state, settings, inputs):
    """Follow how cold the glycol outdoors may be. Only pumped volume makes it warmer."""
    know_loop(state, settings, inputs)
    forgive_mild(state, settings, inputs)
    if not s.trusted(state, s.COLLECTOR):
        state[s.LOOP_KNOWN] = 0
        fold_lowest(state, settings, inputs, COLDEST_MC)
    else:
        fold_lowest(state, settings, inputs, state[s.COLLECTOR_MC])
    if glycol_sinks(state, settings, inputs):
        fold_lowest(state, settings, inputs, at_station_mc(state, settings, inputs))
    flush_radiator(state, settings, inputs)
    if state[s.COLLECTOR_PUMP_ON] != 0:
        count_pumped(state, settings, inputs)
        return
    state[s.STANDING_MS] = min(state[s.STANDING_MS] + inputs[s.IN_DT_MS], s.TIMER_TOP_MS)
    # Without an outdoor sensor the collector, which is colder than the air at night, speaks for the pipes.
    if state[s.STANDING_MS] >= STANDING_LIMIT_MS and settings[cfg.OUTDOOR_FITTED] == 1:
        fold_outdoor(state, settings, inputs)


def wake(state, settings, inputs):
    """After a reset the loop is unknown."""
    state[s.LOOP_LOWEST_MC] = COLDEST_MC
    state[s.LOOP_SEEN_MC] = WARMEST_MC
    state[s.RADIATOR_STOOD] = 1
    state[s.LOOP_KNOWN] = 0
    state[s.MILD_MS] = 0
