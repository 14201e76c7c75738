"""Raw readings to values and trust: a reading that is not trusted has no value.

A raw reading is accepted when its driver trusts it, it is in the sensor's range, and it is either
near the last accepted value or the third in a row to agree: a single spike moves no relay, and a
fast change counts two steps later. A sensor is also refused for standing still where a live one
moves: tank_high while heat passes it, the collector in the sun, and for half a day the collector
anywhere and what is warm in the house.

After a refusal the last good value holds until it is older than the sensor's age limit. Then the
value is gone and the status is LOST.
"""

from . import settings as cfg
from . import state as s

LOWEST_MC = s.SENSOR_ROWS.column("lowest_mc")
HIGHEST_MC = s.SENSOR_ROWS.column("highest_mc")
FASTEST_MK_PER_MS = s.SENSOR_ROWS.column("fastest_mk_per_ms")
FITTED_BY = s.SENSOR_ROWS.column("fitted_by")
# Two readings in a row may always differ by this much: noise and quantisation.
NOISE_MK = 1000
# A single reading is near the last good one up to half a kelvin a second. A faster change takes
# three in a row, which agree within the fastest change of their place.
CALM_MS_PER_MK = 2
AGREE = 3
# What a place cannot reach shows an exchanged sensor, once it has lasted for three steps of five
# seconds.
REFUSED_MS = 15000
# Refuse tank_high once heat has passed it this long without one step of its chip.
FROZEN_LIMIT_MS = 900000
# Entering water counts as heat when it is this much warmer than tank_high.
PASSING_MK = 4000
# Refuse tank_low once charging has moved this much water without moving it (tank.py): more than a
# big tank holds below its port.
UNWARMED_LIMIT_ML = 750000
# A collector this much above the air is in the sun, or just was. Refuse it after an hour without
# one step of its chip: in simulated typical years it stands within a step of 0.03 K for 27 minutes
# at most, under an even sky.
SUNNY_MK = 25000
SUNNY_LIMIT_S = 3600
# The air for that while it is unknown: the hottest it usually is. What is this warm has to cool.
INDOORS_MC = 35000
# So has what is this much warmer than loop_supply, which is as warm as the room, or still warmer,
# while no glycol moves; exercise moves it once an hour at most. In 312 drawn sound episodes
# tank_low stood within a step for 9.5 hours at most while it was 12 K warmer.
ROOM_OVER_MK = 15000
ROOM_AFTER_S = 3000
# In simulated typical years a collector under an even sky stands within a step for 7.6 hours at
# most, and a tank of INDOORS_MC within a step of 0.06 K for 9.5 hours.
STILL_LIMIT_S = 43200


def fitted(state, settings, inputs, sensor):
    """Whether the sensor is fitted."""
    setting = FITTED_BY[sensor]
    return 1 if setting == s.ALWAYS else settings[setting]


def age_limit_ms(state, settings, inputs, sensor):
    """How old the last good value of a sensor may get."""
    return settings[cfg.COLLECTOR_AGE] if sensor == s.COLLECTOR else settings[cfg.TANK_AGE]


def grow_old(state, settings, inputs, sensor):
    """Age the last good value after a refusal; past the limit it is lost."""
    age = state[s.AGE_MS + sensor] + inputs[s.IN_DT_MS]
    if age > s.TIMER_TOP_MS:
        age = s.TIMER_TOP_MS
    state[s.AGE_MS + sensor] = age
    if age > age_limit_ms(state, settings, inputs, sensor) or state[s.STATUS + sensor] >= s.LOST:
        state[s.STATUS + sensor] = s.LOST
        state[s.VALUE_MC + sensor] = s.UNKNOWN_MC
    else:
        state[s.STATUS + sensor] = s.HELD


def reach_mk(state, settings, inputs, sensor):
    """How far apart two readings in a row can be at this place."""
    return NOISE_MK + FASTEST_MK_PER_MS[sensor] * inputs[s.IN_DT_MS]


def near_mk(state, settings, inputs, sensor):
    """How near the last good value a single reading is believed.

    Where three steps do not fit into the age, one reading has to do.
    """
    if 2 * inputs[s.IN_DT_MS] > age_limit_ms(state, settings, inputs, sensor):
        return reach_mk(state, settings, inputs, sensor)
    return NOISE_MK + inputs[s.IN_DT_MS] // CALM_MS_PER_MK


def credible(state, settings, inputs, sensor):
    """Whether a raw value in range can be true: near the last good one, or the third to agree."""
    raw = inputs[s.IN_RAW_MC + sensor]
    if abs(raw - state[s.CANDIDATE_MC + sensor]) > reach_mk(state, settings, inputs, sensor):
        state[s.CANDIDATE_COUNT + sensor] = 0
    state[s.CANDIDATE_MC + sensor] = raw
    if s.trusted(state, sensor) and abs(raw - state[s.VALUE_MC + sensor]) <= near_mk(state, settings, inputs, sensor):
        state[s.CANDIDATE_COUNT + sensor] = 0
        return 1
    state[s.CANDIDATE_COUNT + sensor] = min(state[s.CANDIDATE_COUNT + sensor] + 1, AGREE)
    return 1 if state[s.CANDIDATE_COUNT + sensor] == AGREE else 0


def heat_passes(state, settings, inputs):
    """Whether water clearly warmer than raw tank_high enters the tank beside it.

    Judged from the last step's readings and commands. How far the water gets from tank_low to
    loop_supply is the exchanger's effectiveness, as diagnosis.py last saw it; six tenths until then
    (a small clean counterflow exchanger). More water than glycol gets less warm.
    """
    if state[s.TANK_PUMP_ON] == 0 or state[s.COLLECTOR_PUMP_ON] == 0:
        return False
    if not s.trusted(state, s.LOOP_SUPPLY) or not s.trusted(state, s.TANK_LOW):
        return False
    share = state[s.EFFECT_PERMILLE] if state[s.EFFECT_PERMILLE] > 0 else 600
    rise = (state[s.LOOP_SUPPLY_MC] - state[s.TANK_LOW_MC]) * share // 16000
    if settings[cfg.COLLECTOR_FLOW] < settings[cfg.TANK_FLOW]:
        rise = rise * settings[cfg.COLLECTOR_FLOW] // settings[cfg.TANK_FLOW]
    return state[s.TANK_LOW_MC] + rise * 16 - PASSING_MK >= inputs[s.IN_RAW_MC + s.TANK_HIGH]


def watch_frozen(state, settings, inputs):
    """Time a tank_high that stands still while heat passes it: it hides how hot the top is."""
    if inputs[s.IN_RAW_CAUSE + s.TANK_HIGH] != s.CAUSE_NONE:
        return
    if inputs[s.IN_RAW_MC + s.TANK_HIGH] != state[s.FROZEN_MC]:
        state[s.FROZEN_MC] = inputs[s.IN_RAW_MC + s.TANK_HIGH]
        state[s.FROZEN_MS] = 0
    elif heat_passes(state, settings, inputs):
        state[s.FROZEN_MS] = min(state[s.FROZEN_MS] + inputs[s.IN_DT_MS], s.TIMER_TOP_MS)


def watch_still(state, settings, inputs, sensor):
    """Time how long a raw reading has stood still."""
    raw = inputs[s.IN_RAW_MC + sensor]
    if inputs[s.IN_RAW_CAUSE + sensor] != s.CAUSE_NONE:
        return
    if raw != state[s.STILL_MC + sensor]:
        state[s.STILL_MC + sensor] = raw
        state[s.STILL_S + sensor] = 0
    elif state[s.STILL_S + sensor] < STILL_LIMIT_S:
        state[s.STILL_S + sensor] += state[s.METER_SECONDS]


def still_limit_s(state, settings, inputs, sensor):
    """How long a live sensor can stand still at its last raw reading."""
    raw = state[s.STILL_MC + sensor]
    if sensor != s.COLLECTOR:
        room = INDOORS_MC
        if s.trusted(state, s.LOOP_SUPPLY) and state[s.UNMOVED_S + s.COLLECTOR_PUMP] >= ROOM_AFTER_S:
            room = min(room, state[s.LOOP_SUPPLY_MC] + ROOM_OVER_MK)
        return STILL_LIMIT_S if raw >= room else s.TIMER_TOP_MS
    air = state[s.OUTDOOR_MC] if s.trusted(state, s.OUTDOOR) else INDOORS_MC
    return SUNNY_LIMIT_S if raw >= air + SUNNY_MK else STILL_LIMIT_S


def stuck(state, settings, inputs, sensor):
    """Whether a sensor has stood still too long where a live one moves."""
    if sensor == s.TANK_HIGH and state[s.FROZEN_MS] >= FROZEN_LIMIT_MS:
        return True
    if sensor == s.TANK_LOW and state[s.UNWARMED_ML] >= UNWARMED_LIMIT_ML:
        return True
    return state[s.STILL_S + sensor] >= still_limit_s(state, settings, inputs, sensor)


def judge(state, settings, inputs, sensor):
    """Turn one sensor's raw value and driver cause into value, status, cause and age."""
    if fitted(state, settings, inputs, sensor) == 0:
        state[s.STATUS + sensor] = s.ABSENT
        state[s.VALUE_MC + sensor] = s.UNKNOWN_MC
        state[s.CAUSE + sensor] = s.CAUSE_NONE
        return
    raw = inputs[s.IN_RAW_MC + sensor]
    cause = inputs[s.IN_RAW_CAUSE + sensor]
    if cause == s.CAUSE_NONE and (raw < LOWEST_MC[sensor] or raw > HIGHEST_MC[sensor]):
        cause = s.CAUSE_RANGE
    if cause == s.CAUSE_NONE and stuck(state, settings, inputs, sensor):
        cause = s.CAUSE_FROZEN
    if cause == s.CAUSE_NONE and credible(state, settings, inputs, sensor) == 0:
        cause = s.CAUSE_RATE
    if cause == s.CAUSE_NONE:
        state[s.VALUE_MC + sensor] = raw
        state[s.STATUS + sensor] = s.GOOD
        state[s.CAUSE + sensor] = s.CAUSE_NONE
        state[s.AGE_MS + sensor] = 0
        return
    # A chip that is still converting has not failed: its last value ages, and an earlier cause
    # stays on record.
    if cause != s.CAUSE_NOT_READY:
        state[s.CAUSE + sensor] = cause
        if cause != s.CAUSE_RATE:
            state[s.CANDIDATE_COUNT + sensor] = 0
    grow_old(state, settings, inputs, sensor)


def shown_mc(state, settings, inputs, sensor):
    """What a sensor shows: its value, or for some time a reading that its place cannot reach."""
    if state[s.CAUSE + sensor] == s.CAUSE_RANGE and state[s.AGE_MS + sensor] >= REFUSED_MS:
        return inputs[s.IN_RAW_MC + sensor]
    return state[s.VALUE_MC + sensor]


def sensor_lost(state, settings, inputs):
    """Whether a fitted sensor or a fitted flow input is lost."""
    if settings[cfg.FLOW_SENSOR] != cfg.NO_FLOW_SENSOR and inputs[s.IN_FLOW_CAUSE] != 0:
        return True
    for index in range(s.STATUS, s.STATUS + s.SENSORS):
        if state[index] == s.LOST:
            return True
    return False


def judge_all(state, settings, inputs):
    """Judge every sensor."""
    watch_frozen(state, settings, inputs)
    for sensor in range(s.SENSORS):
        watch_still(state, settings, inputs, sensor)
        judge(state, settings, inputs, sensor)


def forget_all(state, settings, inputs):
    """Make every sensor unknown, as at boot."""
    for sensor in range(s.SENSORS):
        state[s.VALUE_MC + sensor] = s.UNKNOWN_MC
        state[s.STATUS + sensor] = s.LOST
        state[s.CAUSE + sensor] = s.CAUSE_NONE
        state[s.AGE_MS + sensor] = s.TIMER_TOP_MS
        state[s.CANDIDATE_MC + sensor] = s.UNKNOWN_MC
        state[s.CANDIDATE_COUNT + sensor] = 0
