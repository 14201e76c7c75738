"""Every value of the state stays in its range."""

import numpy as np
from twinloop.control import state as s
from twinloop.control.conditions import CONDITION_WORDS

BIT_TOP = (1 << 30) - 1
LATCHES = (
    *(s.TANK_OVER, s.TANK_FULL, s.STAGNATION, s.CHARGE_HOT),
    *(s.CHARGE_WANTED, s.DUMP_WANTED, s.FROST, s.COOLING_WANTED),
    *(s.AIR_WANTED, s.ROOM_WARM, s.SUMMER),
)
TIMERS = (
    *(s.FROZEN_MS, s.DUTY_MS, s.STANDING_MS, s.RISE_MS, s.ARRIVED_MS, s.RUN_ON_MS, s.RETRY_MS),
    *(s.NOT_JOINED_MS, s.ASTRAY_MS, s.FAR_MS, s.FLOWLESS_MS, s.DUMP_IDLE_MS, s.DUMP_HEATS_MS, s.DUMP_RETRY_MS),
    *(s.TRACK_MS, s.SCALD_MS, s.STEADY_MS, s.STANDS_MS, s.COOLED_MS, s.TAKING_MS, s.LOST_MS, s.HOT_MS),
    *(s.GUARD_COLLECTOR_MS, s.GUARD_TANK_MS, s.GUARD_HOLD_MS, s.ABOVE_MS, s.BEYOND_MS, s.CROSSED_MS, s.PLATES_HOT_MS),
    *(s.AIR_SPENT_MS, s.AIR_HOT_MS),
)

# first index, how many, lowest, highest
RANGES = (
    (s.VALUE_MC, s.SENSORS, s.UNKNOWN_MC, 240000),
    (s.STATUS, s.SENSORS, s.GOOD, s.ABSENT),
    (s.CAUSE, s.SENSORS, 0, s.CAUSE_FROZEN),
    (s.CANDIDATE_MC, s.SENSORS, s.UNKNOWN_MC, 240000),
    (s.CANDIDATE_COUNT, s.SENSORS, 0, 3),
    (s.STILL_S, s.SENSORS, 0, 43260),
    (s.TANK_REFERENCE_MC, 1, s.UNKNOWN_MC, 115000),
    (s.TANK_HOTTEST_MC, 1, s.UNKNOWN_MC, 155000),
    (s.TANK_COLDEST_MC, 1, s.UNKNOWN_MC, 115000),
    (s.CONDITIONS, CONDITION_WORDS, 0, BIT_TOP),
    (s.DUTY, 1, 0, s.DUTIES - 1),
    (s.REASON, 1, 1, 39),
    (s.WAIT_REASON, 1, 0, 63),
    (s.LOOP_LOWEST_MC, 1, -65000, 240000),
    (s.LOOP_SEEN_MC, 1, -65000, 240000),
    (s.AIR_MC, 1, -50000, 240000),
    (s.AIR_UNDER_S, 1, 0, 79200),
    (s.AIR_OVER_MK, 1, 0, 115000),
    (s.PLATES_FROM_MC, 1, -50000, 160000),
    (s.PUMPED_ML, 1, 0, s.TIMER_TOP_MS),
    (s.PUMPED_REST, 1, 0, 59999),
    (s.LOOP_KNOWN, 1, 0, 1),
    (s.RADIATOR_STOOD, 1, 0, 1),
    (s.COMMAND, s.OUTPUTS, 0, 1),
    (s.VALVE_MS, 1, 0, 300000),
    (s.VALVE_HOME_MS, 1, 0, 300000),
    (s.RUNNING_ON, 1, 0, 2),
    (s.UNMOVED_S, s.MOVERS, 0, 1209660),
    (s.EXERCISING, 1, 0, s.MOVERS),
    (s.ARRIVED_MC, 1, s.UNKNOWN_MC, 160000),
    (s.APART_MK, 1, -210000, 290000),
    (s.FAR_FROM_MC, 1, s.UNKNOWN_MC, 240000),
    (s.DUMP_FROM_MC, 1, s.UNKNOWN_MC, 240000),
    (s.DUMP_TANK_MC, 1, s.UNKNOWN_MC, 155000),
    (s.UNBIDDEN_FLOW, 1, 0, 1),
    (s.FOUL_S, 1, 0, 7200),
    (s.DRAINS, 1, 0, 1),
    (s.TOP_FROM_MC, 1, s.UNKNOWN_MC, 115000),
    (s.GIVEN_MC, 1, s.UNKNOWN_MC, 160000),
    (s.LOW_BY_MK, 1, 0, 160000),
    (s.ALARMS, 1, 0, (1 << 20) - 1),
    (s.AIR_REASON, 1, 0, 73),
    (s.SEASON_S, 1, 0, 86400),
    (s.SEASON_MC, 1, -50000, 65000),
    (s.SEASON_REST, 1, 0, 86399),
    (s.ROOM_SLOW_MC, 1, s.UNKNOWN_MC, 60000),
    (s.ROOM_REST, 1, 0, 299),
    (s.BACK_S, 1, 0, 32400),
    (s.FILTER_S, 1, 0, BIT_TOP),
    (s.METER_MS, 1, 0, 999),
    (s.METER_SECONDS, 1, 0, 60),
    (s.ON_S, s.OUTPUTS, 0, BIT_TOP),
    (s.STARTS, s.OUTPUTS, 0, BIT_TOP),
    (s.DUTY_S, s.DUTIES, 0, BIT_TOP),
    (s.HEAT_WH, 1, 0, BIT_TOP),
    (s.DUMPED_WH, 1, 0, BIT_TOP),
    (s.SINCE_HOT_S, 1, 0, BIT_TOP),
    (s.AGE_MS, s.SENSORS, 0, s.TIMER_TOP_MS),
    (s.OUTPUT_MS, s.OUTPUTS, 0, s.TIMER_TOP_MS),
    (s.GUARD_MC, s.GUARDED, -50000, 240000),
    (s.GUARD_AGE_MS, s.GUARDED, 0, s.TIMER_TOP_MS),
    (s.GUARD_TRY_MC, s.GUARDED, -50000, 240000),
    (s.GUARD_TRIES, s.GUARDED, 0, 3),
    (s.GUARD_TANK_STEPS, 1, 0, 4),
    *((latch, 1, 0, 1) for latch in LATCHES),
    *((timer, 1, 0, s.TIMER_TOP_MS) for timer in TIMERS),
)


def range_tables():
    """Lowest and highest value for every index of the state; 31 bits unless RANGES says less."""
    lowest = np.full(s.STATE, -BIT_TOP - 1, dtype=np.int32)
    highest = np.full(s.STATE, BIT_TOP, dtype=np.int32)
    for first, count, low, high in RANGES:
        lowest[first : first + count] = low
        highest[first : first + count] = high
    return lowest, highest


LOWEST, HIGHEST = range_tables()


def values_in_range(m, state, settings, inputs):
    """Every value of the state stays in its stated range and in 31 bits."""
    # No early exit: the compiler can then compare several values at once.
    outside = 0
    for index in range(s.STATE):
        outside += (state[index] < LOWEST[index]) + (state[index] > HIGHEST[index])
    return outside > 0


TRUTHS = (values_in_range,)
