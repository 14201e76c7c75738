"""Raw value to value, status and age. No lying numbers: what is not trusted has no value.

A raw value is accepted when the driver trusts it, it is in the sensor's range, and it is either near the last accepted value or
the third in a row that agrees with its neighbours; tank_high is also refused while heat passes it and it does not move, the
collector while it stands in the sun and does not. What is refused leaves the last good value in place until it is older than the
sensor's age limit; then the value is gone and the status is LOST.
"""

from .settings import COLLECTOR_AGE, LOOP_SUPPLY_FITTED, TANK_AGE
from .state import (
    ABSENT,
    AGE_MS,
    CANDIDATE_COUNT,
    CANDIDATE_MC,
    CAUSE,
    CAUSE_FROZEN,
    CAUSE_NONE,
    CAUSE_NOT_READY,
    CAUSE_RANGE,
    CAUSE_RATE,
    COLLECTOR,
    COLLECTOR_PUMP_ON,
    EFFECT_PERMILLE,
    FROZEN_MC,
    FROZEN_MS,
    GOOD,
    HELD,
    IN_DT_MS,
    IN_RAW_CAUSE,
    IN_RAW_MC,
    LOOP_SUPPLY,
    LOOP_SUPPLY_MC,
    LOOP_SUPPLY_STATUS,
    LOST,
    OUTDOOR_MC,
    OUTDOOR_STATUS,
    SENSORS,
    STATUS,
    STILL_MC,
    STILL_MS,
    TANK_HIGH,
    TANK_LOW_MC,
    TANK_LOW_STATUS,
    TANK_PUMP_ON,
    TIMER_TOP_MS,
    UNKNOWN_MC,
    VALUE_MC,
)

# What each place can credibly read, collector first: a stagnating collector on one side (240 C is above the stagnation of a flat
# plate; an evacuated tube at 257 C reads "range", which also stops the pump), a hard frost on the other.
LOWEST_MC = (-50000, -5000, -5000, -50000, -50000, -50000, -5000, -50000)
HIGHEST_MC = (240000, 115000, 115000, 160000, 160000, 65000, 115000, 160000)
# Fastest credible change in mK a ms (K a s): a hot slug reaching a pocket is the fastest thing there is. Common practice.
FASTEST_MK_PER_MS = (10, 1, 1, 5, 5, 1, 5, 5)
# Two readings in a row may always differ by this much, whatever the time between them: noise and quantisation.
NOISE_MK = 1000
AGREE = 3
# tank_high is not believed when heat has passed it for this long and not one step of its chip was seen.
FROZEN_LIMIT_MS = 900000
# By how much the water that enters the tank has to be warmer than tank_high for that to count.
PASSING_MK = 4000
# A collector this much above the air has the sun on it, or has just lost it; an hour without one step of its chip is not believed
# then. In simulated typical years it stands within a step of 0.03 K for 27 minutes at most, under an even sky.
SUNNY_MK = 25000
STILL_LIMIT_MS = 3600000
# For that, the air when nobody tells of it: the hottest that it usually is.
AIR_MC = 35000


def fitted(state, settings, inputs, sensor):
    """Whether the sensor is there: collector and both tank sensors always are."""
    if sensor < LOOP_SUPPLY:
        return 1
    return settings[LOOP_SUPPLY_FITTED + sensor - LOOP_SUPPLY]


def grow_old(state, settings, inputs, sensor):
    """The raw value was refused: the last good one ages, and is lost past the limit."""
    age = state[AGE_MS + sensor] + inputs[IN_DT_MS]
    if age > TIMER_TOP_MS:
        age = TIMER_TOP_MS
    state[AGE_MS + sensor] = age
    limit = settings[COLLECTOR_AGE] if sensor == COLLECTOR else settings[TANK_AGE]
    if age > limit or state[STATUS + sensor] >= LOST:
        state[STATUS + sensor] = LOST
        state[VALUE_MC + sensor] = UNKNOWN_MC
    else:
        state[STATUS + sensor] = HELD


def credible(state, settings, inputs, sensor):
    """Whether the raw value, which is in range, can be true: near the last good one, or the third that agrees."""
    raw = inputs[IN_RAW_MC + sensor]
    reach = NOISE_MK + FASTEST_MK_PER_MS[sensor] * inputs[IN_DT_MS]
    if state[CANDIDATE_COUNT + sensor] > 0 and abs(raw - state[CANDIDATE_MC + sensor]) > reach:
        state[CANDIDATE_COUNT + sensor] = 0
    if state[CANDIDATE_COUNT + sensor] < AGREE:
        state[CANDIDATE_COUNT + sensor] += 1
    state[CANDIDATE_MC + sensor] = raw
    if state[CANDIDATE_COUNT + sensor] >= AGREE:
        return 1
    if state[STATUS + sensor] <= HELD and abs(raw - state[VALUE_MC + sensor]) <= reach:
        return 1
    return 0


def heat_passes(state, settings, inputs):
    """Whether water clearly warmer than raw tank_high is entering the tank beside it; from the last step's readings and commands.

    How far the water gets from tank_low to loop_supply is the exchanger's effectiveness, as diagnosis.py last saw it; six tenths
    until then (a small clean counterflow exchanger).
    """
    if state[TANK_PUMP_ON] == 0 or state[COLLECTOR_PUMP_ON] == 0:
        return False
    if state[LOOP_SUPPLY_STATUS] > HELD or state[TANK_LOW_STATUS] > HELD:
        return False
    share = state[EFFECT_PERMILLE] if state[EFFECT_PERMILLE] > 0 else 600
    entering = state[TANK_LOW_MC] + (state[LOOP_SUPPLY_MC] - state[TANK_LOW_MC]) * share // 1000
    return entering - PASSING_MK >= inputs[IN_RAW_MC + TANK_HIGH]


def watch_frozen(state, settings, inputs):
    """A live sensor flickers or moves; tank_high that does not, while heat passes it, hides how hot the top is."""
    if inputs[IN_RAW_CAUSE + TANK_HIGH] != CAUSE_NONE:
        return
    if inputs[IN_RAW_MC + TANK_HIGH] != state[FROZEN_MC]:
        state[FROZEN_MC] = inputs[IN_RAW_MC + TANK_HIGH]
        state[FROZEN_MS] = 0
    elif heat_passes(state, settings, inputs):
        state[FROZEN_MS] = min(state[FROZEN_MS] + inputs[IN_DT_MS], TIMER_TOP_MS)


def watch_still(state, settings, inputs):
    """A collector in the sun moves; one that stands still there hides how hot its glycol is."""
    raw = inputs[IN_RAW_MC + COLLECTOR]
    if inputs[IN_RAW_CAUSE + COLLECTOR] != CAUSE_NONE:
        return
    air = state[OUTDOOR_MC] if state[OUTDOOR_STATUS] <= HELD else AIR_MC
    if raw != state[STILL_MC]:
        state[STILL_MC] = raw
        state[STILL_MS] = 0
    elif raw >= air + SUNNY_MK:
        state[STILL_MS] = min(state[STILL_MS] + inputs[IN_DT_MS], TIMER_TOP_MS)


def stuck(state, settings, inputs, sensor):
    """Whether a sensor stands still where a live one moves."""
    if sensor == TANK_HIGH:
        return state[FROZEN_MS] >= FROZEN_LIMIT_MS
    return sensor == COLLECTOR and state[STILL_MS] >= STILL_LIMIT_MS


def judge(state, settings, inputs, sensor):
    """One sensor's raw value and driver cause to value, status, cause and age."""
    if fitted(state, settings, inputs, sensor) == 0:
        state[STATUS + sensor] = ABSENT
        state[VALUE_MC + sensor] = UNKNOWN_MC
        state[CAUSE + sensor] = CAUSE_NONE
        return
    raw = inputs[IN_RAW_MC + sensor]
    cause = inputs[IN_RAW_CAUSE + sensor]
    if cause == CAUSE_NONE and (raw < LOWEST_MC[sensor] or raw > HIGHEST_MC[sensor]):
        cause = CAUSE_RANGE
    if cause == CAUSE_NONE and stuck(state, settings, inputs, sensor):
        cause = CAUSE_FROZEN
    if cause == CAUSE_NONE and credible(state, settings, inputs, sensor) == 0:
        cause = CAUSE_RATE
    if cause == CAUSE_NONE:
        state[VALUE_MC + sensor] = raw
        state[STATUS + sensor] = GOOD
        state[CAUSE + sensor] = CAUSE_NONE
        state[AGE_MS + sensor] = 0
        return
    # A chip that is still converting has not failed: its last value ages, but what was wrong before stays on record.
    if cause != CAUSE_NOT_READY:
        state[CAUSE + sensor] = cause
        if cause != CAUSE_RATE:
            state[CANDIDATE_COUNT + sensor] = 0
    grow_old(state, settings, inputs, sensor)


def judge_all(state, settings, inputs):
    """Judge every sensor."""
    watch_frozen(state, settings, inputs)
    watch_still(state, settings, inputs)
    for sensor in range(SENSORS):
        judge(state, settings, inputs, sensor)


def forget_all(state, settings, inputs):
    """Nothing is known of any sensor: the state at boot."""
    for sensor in range(SENSORS):
        state[VALUE_MC + sensor] = UNKNOWN_MC
        state[STATUS + sensor] = LOST
        state[CAUSE + sensor] = CAUSE_NONE
        state[AGE_MS + sensor] = TIMER_TOP_MS
        state[CANDIDATE_MC + sensor] = UNKNOWN_MC
        state[CANDIDATE_COUNT + sensor] = 0
