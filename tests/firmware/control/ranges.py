"""The range of every entry of the state array."""

import numpy as np

from ..runtime.small_integers import SMALL_HIGH, SMALL_LOW


def state_ranges(core):
    """(lowest, highest) of every index, from the units and limits that the names promise."""
    s, c, d = core.state, core.conditions, core.diagnosis
    timer, flag, total = (0, s.TIMER_TOP_MS), (0, 1), (0, SMALL_HIGH)
    hottest_mc = max(core.readings.HIGHEST_MC)
    tank_top_mc = core.readings.HIGHEST_MC[s.TANK_LOW]
    margin_mk = core.settings.TABLE[core.settings.STRATIFICATION_MARGIN][3]
    travel_ms = core.settings.TABLE[core.settings.DUMP_TRAVEL][3]
    ranges = {
        s.TANK_REFERENCE_MC: (s.UNKNOWN_MC, tank_top_mc),
        s.TANK_HOTTEST_MC: (s.UNKNOWN_MC, tank_top_mc + margin_mk),
        s.DUTY: (0, s.DUTIES - 1),
        s.REASON: (0, 39),
        s.WAIT_REASON: (0, 99),
        s.ROW: (0, len(core.rules.ROWS) - 1),
        s.LOOP_LOWEST_MC: (core.coldloop.COLDEST_MC - core.coldloop.LAG_MK, hottest_mc),
        s.LOOP_SEEN_MC: (core.coldloop.COLDEST_MC - core.coldloop.LAG_MK, core.coldloop.WARMEST_MC),
        s.RISE_MS: (0, core.coldloop.RISE_STEP_MS - 1),
        s.AIR_MC: (core.coldloop.COLDEST_MC, core.coldloop.WARMEST_MC),
        s.AIR_UNDER_S: (0, core.alarms.AIR_LIMIT_S),
        s.AIR_OVER_MK: (0, core.readings.HIGHEST_MC[s.OUTDOOR] - core.coldloop.COLDEST_MC),
        s.PLATES_FROM_MC: (core.readings.LOWEST_MC[s.EXCHANGER], core.readings.HIGHEST_MC[s.EXCHANGER]),
        s.PUMPED_ML: (0, s.TIMER_TOP_MS),
        s.PUMPED_REST: (0, 59999),
        s.LOOP_KNOWN: flag,
        s.RADIATOR_STOOD: flag,
        s.VALVE_MS: (0, travel_ms),
        s.VALVE_HOME_MS: (0, travel_ms),
        s.RUNNING_ON: (0, core.sequence.ARMED),
        s.WORN_S: (0, core.sequence.WORN_TOP_S),
        s.EXERCISING: (0, s.MOVERS),
        s.AIR_REASON: (0, core.reasons.FAN_HELD),
        s.AIR_SPENT_MS: timer,
        s.SEASON_MC: (core.readings.LOWEST_MC[s.OUTDOOR], core.readings.HIGHEST_MC[s.OUTDOOR]),
        s.SEASON_S: (0, core.air.DAY_S),
        s.SEASON_REST: (0, core.air.DAY_S - 1),
        s.ROOM_SLOW_MC: (s.UNKNOWN_MC, core.readings.HIGHEST_MC[s.ROOM]),
        s.ROOM_REST: (0, core.air.SLOW_S - 1),
        s.BACK_S: (0, core.air.BACK_LIMIT_S),
        s.AIR_HOT_MS: timer,
        s.FILTER_S: total,
        s.FROZEN_MC: (SMALL_LOW, SMALL_HIGH),
        s.UNWARMED_MC: (SMALL_LOW, SMALL_HIGH),
        s.UNWARMED_ML: (0, s.TIMER_TOP_MS),
        s.TANK_COLDEST_MC: (s.UNKNOWN_MC, tank_top_mc),
        s.NOT_JOINED_MS: (0, d.NOT_JOINED_LIMIT_MS - 1),
        s.FAR_MS: (0, d.NOT_JOINED_LIMIT_MS - 1),
        s.ARRIVED_MC: (s.UNKNOWN_MC, core.readings.HIGHEST_MC[s.LOOP_SUPPLY]),
        s.APART_MK: (core.readings.LOWEST_MC[s.COLLECTOR] - core.readings.HIGHEST_MC[s.LOOP_SUPPLY], hottest_mc + 50000),
        s.FAR_FROM_MC: (s.UNKNOWN_MC, hottest_mc),
        s.FLOWLESS_MS: (0, d.FLOWLESS_LIMIT_MS - 1),
        s.NO_FLOW: (0, 39),
        s.DUMP_FROM_MC: (s.UNKNOWN_MC, hottest_mc),
        s.DUMP_TANK_MC: (s.UNKNOWN_MC, tank_top_mc),
        s.DUMP_BARRED: (0, 39),
        s.DUMP_RETRY_MS: (0, d.RETRY_LIMIT_MS + s.STEP_TOP_MS),
        s.TRACK_LOW_MC: (core.readings.LOWEST_MC[s.COLLECTOR], hottest_mc),
        s.TRACK_HIGH_MC: (core.readings.LOWEST_MC[s.COLLECTOR], hottest_mc),
        s.UNBIDDEN_FLOW: flag,
        s.DRAINS: flag,
        s.EFFECT_PERMILLE: (0, 1000),
        s.EFFECT_REST: (0, d.EFFECT_MS - 1),
        s.HELPLESS_S: (0, core.latches.HELPLESS_S),
        s.FOUL_S: (0, d.FOUL_LIMIT_S),
        s.TOP_FROM_MC: (s.UNKNOWN_MC, core.readings.HIGHEST_MC[s.TANK_HIGH]),
        s.GIVEN_MC: (s.UNKNOWN_MC, core.readings.HIGHEST_MC[s.LOOP_SUPPLY]),
        s.LOW_BY_MK: (0, max(tank_top_mc, core.readings.HIGHEST_MC[s.LOOP_RETURN])),
        s.ALARMS: (0, (1 << core.alarms.ALARM_BITS) - 1),
        s.RETRY_MS: (0, d.RETRY_LIMIT_MS + s.STEP_TOP_MS),
        s.GUARD_COLLECTOR_MS: (0, core.guard.TOP_MS),
        s.GUARD_TANK_MS: (0, core.guard.TOP_MS),
        s.GUARD_TANK_STEPS: (0, core.guard.AGREE + 1),
        s.GUARD_HOLD_MS: (0, core.guard.HOLD_MS),
        s.PLATES_HOT_MS: (0, core.tank.PLATES_COOL_MS),
        s.GUARD_ACTIONS: total,
        s.METER_MS: (0, 999),
        s.METER_SECONDS: (0, s.STEP_TOP_MS // 1000),
        s.STAGNATION_S: total,
        s.HEAT_WH: total,
        s.DUMPED_WH: total,
        s.HEAT_J: (0, 3599),
        s.DUMPED_J: (0, 3599),
        s.METER_ML: (0, 59999),
        s.HEAT_REST: (0, 999),
        s.HOT_MS: (0, core.meter.HOT_HOUR_MS),
        s.SINCE_HOT_S: total,
    }
    for word, bits in enumerate(c.CONDITION_ROWS.words(range(len(c.CONDITION_NAMES)), c.BITS)):
        ranges[s.CONDITIONS + word] = (0, bits)
    timers = [s.DUTY_MS, s.STANDING_MS, s.ARRIVED_MS, s.RUN_ON_MS, s.FROZEN_MS, s.ABOVE_MS, s.BEYOND_MS, s.CROSSED_MS]
    timers += [s.DUMP_IDLE_MS, s.TRACK_MS, s.SCALD_MS, s.STEADY_MS, s.LOST_MS, s.ASTRAY_MS, s.DUMP_HEATS_MS]
    timers += [s.TAKING_MS, s.COOLED_MS, s.STANDS_MS]
    ranges |= dict.fromkeys(timers, timer)
    ranges |= dict.fromkeys((s.AIR_WANTED, s.ROOM_WARM, s.SUMMER), flag)
    for latch in (s.TANK_OVER, s.TANK_FULL, s.STAGNATION, s.CHARGE_HOT, s.CHARGE_WANTED, s.DUMP_WANTED, s.FROST, s.COOLING_WANTED):
        ranges[latch] = flag
    for sensor in range(s.GUARDED):
        for index in (s.GUARD_MC, s.GUARD_TRY_MC):
            ranges[index + sensor] = (core.guard.LOWEST_MC[sensor], core.guard.HIGHEST_MC[sensor])
        ranges[s.GUARD_AGE_MS + sensor] = (0, core.guard.TOP_MS)
        ranges[s.GUARD_TRIES + sensor] = (0, core.guard.AGREE)
    for sensor in range(s.SENSORS):
        ranges[s.VALUE_MC + sensor] = (s.UNKNOWN_MC, core.readings.HIGHEST_MC[sensor])
        ranges[s.STATUS + sensor] = (s.GOOD, s.ABSENT)
        ranges[s.CAUSE + sensor] = (s.CAUSE_NONE, s.CAUSE_FROZEN)
        ranges[s.AGE_MS + sensor] = timer
        ranges[s.CANDIDATE_MC + sensor] = (s.UNKNOWN_MC, core.readings.HIGHEST_MC[sensor])
        ranges[s.CANDIDATE_COUNT + sensor] = (0, core.readings.AGREE)
        ranges[s.STILL_MC + sensor] = (SMALL_LOW, SMALL_HIGH)
        ranges[s.STILL_S + sensor] = (0, core.readings.STILL_LIMIT_S + s.STEP_TOP_MS // 1000)
    for output in range(s.OUTPUTS):
        ranges[s.COMMAND + output] = flag
        ranges[s.OUTPUT_MS + output] = timer
        ranges[s.ON_S + output] = total
        ranges[s.STARTS + output] = total
    for mover in range(s.MOVERS):
        ranges[s.UNMOVED_S + mover] = (0, core.settings.TABLE[core.settings.EXERCISE_AFTER][3] + s.STEP_TOP_MS // 1000)
    for duty in range(s.DUTIES):
        ranges[s.DUTY_S + duty] = total
    return [ranges.get(index) for index in range(s.STATE)]


def limits(core):
    """The lowest and the highest of every index, as two arrays for `outside`."""
    return np.array(state_ranges(core)).T.copy()


def outside(state, limits):
    """The first (index, value) out of range, None when there is none."""
    values = np.frombuffer(state, dtype=np.int32)
    wrong = (values < limits[0]) | (values > limits[1])
    if not wrong.any():
        return None
    index = int(wrong.argmax())
    return index, state[index]
