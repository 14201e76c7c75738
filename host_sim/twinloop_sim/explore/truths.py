"""What must be true after every step, whatever the inputs were: written from the design page, not from the table of the rules.

Each truth is a function that says whether it is broken. It sees the readings, commands and alarms in the state, the settings, the
inputs of the step, and a memory of its own that follows the commands: where the valve can be, what was pumped, which limit was
crossed and not yet left. Where the core is stricter than the design asks, the truth asks for what the design does.

The file is compiled together with the walk; `broken` returns a bit set in the order of TRUTHS.
"""

import numpy as np
from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s

# -- memory: one int32 array a walk of its own ---------------------------------------------------------------------------------
WAS = 0  # commands of the movers that were in force during this step
WAS_DUTY = 3
VALVE_LEAST_MS = 4  # the valve is at least and at most this far from the radiator's end
VALVE_MOST_MS = 5
PLACED = 6  # 1 once it must have been at one of its ends
OFF_MS = 7  # collector pump off since
ON_MS = 8  # collector pump on since
RUN_ON_MS = 9  # tank pump alone, and nothing but a run-on explains it
STEAM = 10  # four latches with two thresholds, set at boot
OVER = 11
FULL = 12
HOT = 13
COLDEST_MC = 14  # coldest glycol that a trusted sensor told of and that was not yet pumped away; WARM_MC when none
PUMPED_ML = 15  # since then, whole millilitres and the rest in ml*ms/60000
PUMPED_REST = 16
JUDGED = 17  # 1 once the loop was judged from air and collector, where nothing leads round the exchanger
MILD_MS = 18  # collector and air above exchanger_frost without a break
THROUGH_RADIATOR = 19  # 1 while glycol moves through the radiator
FLOWLESS_MS = 20  # collector pump on, flow input trusted, no flow
UNMOVED_MS = 21  # one a mover
NO_FLOW_MS = 24  # for how long the alarm has said that charging, and that dumping, is given up
BARRED_MS = 25
GUARD_BEFORE = 26  # guard actions at the beginning
GUARD_HELD = 27  # 1 when the guard held everything at the end of the last step
AWAKE = 28  # 1 from the second step on
UNJOINED_MS = 29  # collector pump on in charging, without the tank pump
UNJOINED_AGO_MS = 30  # since that had lasted for five minutes
MEMORY = 31

WARM_MC = 200000
COLDEST_GLYCOL_MC = -50000
TOP_MS = 2000000000
# What the design page and docs/hazards.md state as figures.
STANDING_LIMIT_MS = 600000
LAG_MC = 10000
MILD_LIMIT_MS = 7200000
GIVEN_UP_MS = 1800000
JOIN_LIMIT_MS = 300000
TABLE_FOOT_MC = 10000
TABLE_SLOPE = 4
COOLING_START_MK = 10000
# A pump that its own flow input proves useless stops after half a minute; one step of a minute comes on top.
FLOWLESS_TOP_MS = 90000
ALARM_NO_FLOW = 1 << 2
ALARM_DUMP = 1 << 3
ALARM_FROST = 1 << 4
# Freezing point in millidegrees at 0, 10, .. 60 per cent of propylene glycol by mass: handbook figures, rounded to whole degrees
# downwards, and without the margin that the core adds.
FREEZING_MC = (0, -3000, -8000, -13000, -21000, -33000, -50000)
BIT_TOP = (1 << 30) - 1

# first index, how many, lowest, highest
RANGES = (
    (s.VALUE_MC, s.SENSORS, s.UNKNOWN_MC, 240000),
    (s.STATUS, s.SENSORS, s.GOOD, s.ABSENT),
    (s.CAUSE, s.SENSORS, 0, s.CAUSE_FROZEN),
    (s.CANDIDATE_MC, s.SENSORS, s.UNKNOWN_MC, 240000),
    (s.CANDIDATE_COUNT, s.SENSORS, 0, 3),
    (s.TANK_REFERENCE_MC, 1, s.UNKNOWN_MC, 115000),
    (s.TANK_HOTTEST_MC, 1, s.UNKNOWN_MC, 155000),
    (s.TANK_COLDEST_MC, 1, s.UNKNOWN_MC, 115000),
    (s.CONDITIONS, 1, 0, BIT_TOP),
    (s.DUTY, 1, 0, s.DUTIES - 1),
    (s.REASON, 1, 1, 39),
    (s.WAIT_REASON, 1, 0, 63),
    (s.LOOP_LOWEST_MC, 1, -65000, 240000),
    (s.LOOP_SEEN_MC, 1, -50000, 240000),
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
    (s.DUMP_FROM_MC, 1, s.UNKNOWN_MC, 240000),
    (s.DUMP_TANK_MC, 1, s.UNKNOWN_MC, 155000),
    (s.UNBIDDEN_FLOW, 1, 0, 1),
    (s.FOUL_S, 1, 0, 7260),
    (s.ALARMS, 1, 0, (1 << 12) - 1),
    (s.METER_MS, 1, 0, 999),
    (s.METER_SECONDS, 1, 0, 60),
    (s.ON_S, s.OUTPUTS, 0, BIT_TOP),
    (s.STARTS, s.OUTPUTS, 0, BIT_TOP),
    (s.DUTY_S, s.DUTIES, 0, BIT_TOP),
    (s.HEAT_WH, 1, 0, BIT_TOP),
    (s.DUMPED_WH, 1, 0, BIT_TOP),
    (s.SINCE_HOT_S, 1, 0, BIT_TOP),
    *((latch, 1, 0, 1) for latch in (s.TANK_OVER, s.TANK_FULL, s.STAGNATION, s.CHARGE_HOT)),
    *((latch, 1, 0, 1) for latch in (s.CHARGE_WANTED, s.DUMP_WANTED, s.FROST, s.COOLING_WANTED)),
    *((timer, s.SENSORS, 0, s.TIMER_TOP_MS) for timer in (s.AGE_MS,)),
    *((timer, s.OUTPUTS, 0, s.TIMER_TOP_MS) for timer in (s.OUTPUT_MS,)),
    *(
        (timer, 1, 0, s.TIMER_TOP_MS)
        for timer in (s.FROZEN_MS, s.STILL_MS, s.DUTY_MS, s.STANDING_MS, s.MILD_MS, s.RUN_ON_MS, s.RETRY_MS)
    ),
    *((timer, 1, 0, s.TIMER_TOP_MS) for timer in (s.NOT_JOINED_MS, s.FAR_MS, s.FLOWLESS_MS, s.DUMP_IDLE_MS, s.DUMP_RETRY_MS)),
    *((timer, 1, 0, s.TIMER_TOP_MS) for timer in (s.TRACK_MS, s.SCALD_MS, s.STEADY_MS, s.LOST_MS, s.HOT_MS)),
    *((timer, 1, 0, s.TIMER_TOP_MS) for timer in (s.GUARD_COLLECTOR_MS, s.GUARD_TANK_MS, s.GUARD_HOLD_MS)),
)


def range_tables():
    """Lowest and highest value of every index of the state; what RANGES does not name has 31 bits."""
    lowest = np.full(s.STATE, -BIT_TOP - 1, dtype=np.int32)
    highest = np.full(s.STATE, BIT_TOP, dtype=np.int32)
    for first, count, low, high in RANGES:
        lowest[first : first + count] = low
        highest[first : first + count] = high
    return lowest, highest


LOWEST, HIGHEST = range_tables()

# Which duty each reason belongs to, by the sentence of the reason.
DUTY_OF_REASON = np.full(64, -1, dtype=np.int32)
for _reason, _duty in (
    (why.NO_DIFFERENCE, s.IDLE),
    (why.COLLECTOR_COOL, s.IDLE),
    (why.DIFFERENCE, s.CHARGING),
    (why.TANK_FULL_REFUSED, s.IDLE),
    (why.TANK_FULL_DUMP, s.DUMPING),
    (why.CHARGE_LIMIT_DUMP, s.DUMPING),
    (why.CHARGE_LIMIT_REFUSED, s.IDLE),
    (why.COLD_SLUG_ROUND, s.DUMPING),
    (why.COLD_SLUG_REFUSED, s.IDLE),
    (why.STEAM, s.STAGNATION_HOLD),
    (why.COLLECTOR_UNKNOWN, s.FAULT_STOP),
    (why.TANK_UNKNOWN, s.IDLE),
    (why.TANK_UNKNOWN_DUMP, s.DUMPING),
    (why.GLYCOL_NOT_ARRIVING, s.FAULT_STOP),
    (why.GUARD_ACTED, s.FAULT_STOP),
    (why.RESET_STORM, s.FAULT_STOP),
    (why.VALVE_HOMING, s.IDLE),
    (why.COLLECTOR_HOT_DUMP, s.DUMPING),
    (why.EXCHANGER_FROST, s.FROST_GUARD),
    (why.GLYCOL_STIFF, s.IDLE),
    (why.RADIATOR_DEAD, s.IDLE),
    (why.DUMP_HEATS_TANK, s.IDLE),
    (why.HEAT_ASTRAY, s.FAULT_STOP),
    (why.SENSORS_SWAPPED, s.FAULT_STOP),
    (why.FLOW_MISSING, s.FAULT_STOP),
    (why.HAND_HELD, s.HAND),
    (why.UNDER_MAINTENANCE, s.MAINTENANCE),
    (why.PURGING, s.HAND),
    (why.NIGHT_COOLING_AWAY, s.NIGHT_COOLING),
    (why.TURN, s.EXERCISE),
    (why.TURN_POSTPONED_COLD, s.IDLE),
    (why.TURN_POSTPONED_HOT, s.IDLE),
    (why.COLD_SLUG_SERIES, s.IDLE),
    (why.HEAT_TOO_WEAK, s.IDLE),
    (why.HEAT_TOO_WEAK_DUMP, s.DUMPING),
):
    DUTY_OF_REASON[_reason] = _duty


# -- what a reader of the design page would call these things -------------------------------------------------------------------


def trusted(state, sensor):
    """Whether there is a value."""
    return state[s.STATUS + sensor] <= s.HELD


def collector_at(state, limit_mc):
    """Whether the collector is trusted and at least this hot."""
    return trusted(state, s.COLLECTOR) and state[s.COLLECTOR_MC] >= limit_mc


def tank_known(state):
    """Whether some tank sensor is trusted."""
    return trusted(state, s.TANK_LOW) or trusted(state, s.TANK_HIGH)


def tank_reference(state):
    """tank_low, or tank_high in its place."""
    return state[s.TANK_LOW_MC] if trusted(state, s.TANK_LOW) else state[s.TANK_HIGH_MC]


def tank_hottest(state, settings):
    """The hottest that the tank may be by its trusted sensors."""
    if not trusted(state, s.TANK_HIGH):
        return state[s.TANK_LOW_MC] + settings[cfg.STRATIFICATION_MARGIN]
    return max(tank_reference(state), state[s.TANK_HIGH_MC])


def tank_coldest(state):
    """The coldest trusted tank sensor."""
    if trusted(state, s.TANK_LOW) and trusted(state, s.TANK_HIGH):
        return min(state[s.TANK_LOW_MC], state[s.TANK_HIGH_MC])
    return tank_reference(state)


def limit_in_force(settings):
    """tank_limit, or away_limit on an absence."""
    return settings[cfg.AWAY_LIMIT] if settings[cfg.AWAY] == 1 else settings[cfg.TANK_LIMIT]


def full_in_force(settings):
    """tank_full_low; on an absence it drops with the limit."""
    return settings[cfg.TANK_FULL_LOW] - (settings[cfg.TANK_LIMIT] - limit_in_force(settings))


def gain(state):
    """Collector above the tank's reference; both trusted."""
    return state[s.COLLECTOR_MC] - tank_reference(state)


def freezing_point(settings):
    """Of the glycol in the loop."""
    tens = settings[cfg.GLYCOL_MASS_PERCENT] // 10
    fall = FREEZING_MC[tens + 1] - FREEZING_MC[tens]
    return FREEZING_MC[tens] + fall * (settings[cfg.GLYCOL_MASS_PERCENT] % 10) // 10


def on(state, output):
    """Whether an output is commanded on."""
    return state[s.COMMAND + output] == 1


def both_pumps(state):
    """Whether heat can pass the exchanger."""
    return on(state, s.COLLECTOR_PUMP) and on(state, s.TANK_PUMP)


def too_weak(state):
    """Whether charging rests because what arrived was too weak."""
    return state[s.REASON] == why.HEAT_TOO_WEAK or state[s.REASON] == why.HEAT_TOO_WEAK_DUMP


def loop_cold(m, settings):
    """Whether glycol colder than exchanger_frost may still be outdoors."""
    return m[COLDEST_MC] < settings[cfg.EXCHANGER_FROST]


def reason_of_low_rank(state):
    """Whether the station says that nothing is to be done, or does what ranks lowest."""
    reason = state[s.REASON]
    if reason == why.NO_DIFFERENCE or reason == why.COLLECTOR_COOL:
        return True
    return reason == why.TURN or reason == why.TURN_POSTPONED_COLD or reason == why.TURN_POSTPONED_HOT


# -- memory ---------------------------------------------------------------------------------------------------------------------


def begin(m, state, settings, inputs):
    """The memory of a station that just woke: nothing known, every limit assumed to have been crossed."""
    for index in range(MEMORY):
        m[index] = 0
    m[VALVE_MOST_MS] = settings[cfg.DUMP_TRAVEL]
    m[STEAM] = 1
    m[OVER] = 1
    m[FULL] = 1
    m[HOT] = 1
    m[COLDEST_MC] = COLDEST_GLYCOL_MC
    m[UNJOINED_AGO_MS] = GIVEN_UP_MS + s.STEP_TOP_MS
    for mover in range(s.MOVERS):
        m[UNMOVED_MS + mover] = state[s.UNMOVED_S + mover] * 1000
    m[GUARD_BEFORE] = state[s.GUARD_ACTIONS]
    m[GUARD_HELD] = 1 if state[s.GUARD_HOLD_MS] > 0 else 0


def longer(m, index, dt_ms, runs):
    """A time that grows while something is so."""
    m[index] = min(m[index] + dt_ms, TOP_MS) if runs else 0


def remember_movers(m, settings, dt_ms):
    """Valve, pump and rest under the commands that were in force."""
    travel = settings[cfg.DUMP_TRAVEL]
    way = dt_ms if m[WAS + s.DUMP_VALVE_POWER] == 1 else -dt_ms
    m[VALVE_LEAST_MS] = min(max(m[VALVE_LEAST_MS] + way, 0), travel)
    m[VALVE_MOST_MS] = min(max(m[VALVE_MOST_MS] + way, 0), travel)
    if m[VALVE_MOST_MS] == m[VALVE_LEAST_MS]:
        m[PLACED] = 1
    pumped = m[WAS + s.COLLECTOR_PUMP] == 1
    longer(m, OFF_MS, dt_ms, not pumped)
    longer(m, ON_MS, dt_ms, pumped)
    for mover in range(s.MOVERS):
        longer(m, UNMOVED_MS + mover, dt_ms, m[WAS + mover] == 0)


def remember_limits(m, state, settings):
    """The latches with two thresholds; unknown readings change nothing."""
    if trusted(state, s.COLLECTOR):
        if state[s.COLLECTOR_MC] >= settings[cfg.COLLECTOR_LIMIT]:
            m[STEAM] = 1
        elif state[s.COLLECTOR_MC] <= settings[cfg.COLLECTOR_RESET]:
            m[STEAM] = 0
        hot = state[s.COLLECTOR_MC]
        if trusted(state, s.LOOP_SUPPLY):
            hot = max(hot, state[s.LOOP_SUPPLY_MC])
        if hot >= settings[cfg.CHARGE_LIMIT]:
            m[HOT] = 1
        elif hot < settings[cfg.CHARGE_LIMIT] - settings[cfg.CHARGE_LIMIT_RESET]:
            m[HOT] = 0
    if tank_known(state):
        if tank_hottest(state, settings) >= limit_in_force(settings):
            m[OVER] = 1
        elif tank_hottest(state, settings) < limit_in_force(settings) - settings[cfg.TANK_LIMIT_RESET]:
            m[OVER] = 0
        if tank_reference(state) >= full_in_force(settings) or m[OVER] == 1:
            m[FULL] = 1
        elif tank_reference(state) < full_in_force(settings) - settings[cfg.TANK_FULL_RESET]:
            m[FULL] = 0


def remember_frosty(m, settings, seen_mc):
    """Glycol of this temperature may be in the outdoor part of the loop from now on."""
    if seen_mc < settings[cfg.EXCHANGER_FROST]:
        m[PUMPED_ML] = 0
        m[COLDEST_MC] = min(m[COLDEST_MC], seen_mc)


def remember_air(m, state, settings):
    """What stood outdoors is as cold as the air; a fitted sensor that is lost can mean any air."""
    if settings[cfg.OUTDOOR_FITTED] == 1:
        remember_frosty(m, settings, state[s.OUTDOOR_MC] if trusted(state, s.OUTDOOR) else COLDEST_GLYCOL_MC)
        if not trusted(state, s.OUTDOOR):
            m[JUDGED] = 0


def remember_radiator(m, state, settings):
    """The radiator's content is a slug of its own as soon as glycol moves through it; an open crossover lets it on the way."""
    away = m[WAS + s.DUMP_VALVE_POWER] == 1 and (
        settings[cfg.DUMP_CROSSOVER] == cfg.CLOSED or m[VALVE_MOST_MS] == settings[cfg.DUMP_TRAVEL]
    )
    through = m[WAS + s.COLLECTOR_PUMP] == 1 and not away and settings[cfg.DUMP_TOPOLOGY] != cfg.NONE
    if through and m[THROUGH_RADIATOR] == 0:
        remember_air(m, state, settings)
    m[THROUGH_RADIATOR] = 1 if through else 0


def judge_loop(m, state, settings, dt_ms):
    """Where nothing leads round the exchanger: once from collector and air less a lag, later by two hours of mild weather."""
    if settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS or not trusted(state, s.COLLECTOR) or not trusted(state, s.OUTDOOR):
        m[MILD_MS] = 0
        return
    mildest = min(state[s.COLLECTOR_MC], state[s.OUTDOOR_MC])
    if m[JUDGED] == 0:
        m[JUDGED] = 1
        m[COLDEST_MC] = mildest - LAG_MC
    longer(m, MILD_MS, dt_ms, mildest >= settings[cfg.EXCHANGER_FROST])
    if m[MILD_MS] >= MILD_LIMIT_MS:
        m[COLDEST_MC] = WARM_MC


def remember_loop(m, state, settings, dt_ms):
    """How cold the glycol outdoors may be: from readings, cleared by a loop volume pumped since the last frosty one."""
    judge_loop(m, state, settings, dt_ms)
    if not trusted(state, s.COLLECTOR):
        m[JUDGED] = 0
        remember_frosty(m, settings, COLDEST_GLYCOL_MC)
    else:
        remember_frosty(m, settings, state[s.COLLECTOR_MC])
    remember_radiator(m, state, settings)
    if m[WAS + s.COLLECTOR_PUMP] == 0:
        if m[OFF_MS] >= STANDING_LIMIT_MS:
            remember_air(m, state, settings)
        return
    part = settings[cfg.COLLECTOR_FLOW] * dt_ms + m[PUMPED_REST]
    m[PUMPED_ML] = min(m[PUMPED_ML] + part // 60000, TOP_MS)
    m[PUMPED_REST] = part % 60000
    if m[PUMPED_ML] >= settings[cfg.LOOP_VOLUME] and trusted(state, s.COLLECTOR):
        m[COLDEST_MC] = WARM_MC
        m[JUDGED] = 1


def remember_faults(m, state, settings, inputs, dt_ms):
    """Flow that the flow input does not see, and a tank pump that did not join."""
    alone = m[WAS + s.COLLECTOR_PUMP] == 1 and m[WAS + s.TANK_PUMP] == 0
    longer(m, UNJOINED_MS, dt_ms, alone and m[WAS_DUTY] == s.CHARGING)
    longer(m, UNJOINED_AGO_MS, dt_ms, m[UNJOINED_MS] < JOIN_LIMIT_MS)
    runs = m[WAS + s.COLLECTOR_PUMP] == 1 and settings[cfg.FLOW_SENSOR] != cfg.NO_FLOW_SENSOR
    dry = inputs[s.IN_FLOW_CAUSE] == 0 and inputs[s.IN_FLOW_ML_PER_MIN] <= 0
    longer(m, FLOWLESS_MS, dt_ms, runs and dry)


def remember(m, state, settings, inputs):
    """Everything before the truths are judged."""
    dt_ms = inputs[s.IN_DT_MS]
    remember_movers(m, settings, dt_ms)
    remember_limits(m, state, settings)
    remember_loop(m, state, settings, dt_ms)
    remember_faults(m, state, settings, inputs, dt_ms)


def keep(m, state, settings, inputs):
    """Everything that the next step has to know of this one."""
    dt_ms = inputs[s.IN_DT_MS]
    longer(m, NO_FLOW_MS, dt_ms, state[s.ALARMS] & ALARM_NO_FLOW != 0)
    longer(m, BARRED_MS, dt_ms, state[s.ALARMS] & ALARM_DUMP != 0)
    alone = on(state, s.TANK_PUMP) and not on(state, s.COLLECTOR_PUMP) and m[WAS + s.TANK_PUMP] == 1
    duty = state[s.DUTY]
    explained = duty == s.FROST_GUARD or duty == s.HAND or duty == s.EXERCISE or duty == s.CHARGING
    longer(m, RUN_ON_MS, dt_ms, alone and m[WAS + s.COLLECTOR_PUMP] == 0 and not explained)
    for mover in range(s.MOVERS):
        m[WAS + mover] = state[s.COMMAND + mover]
    m[WAS_DUTY] = duty
    m[AWAKE] = 1
    m[GUARD_HELD] = 1 if state[s.GUARD_HOLD_MS] > 0 else 0


# -- the truths -----------------------------------------------------------------------------------------------------------------


def wakes_protected(m, state, settings, inputs):
    """In the first step after a reset every protective latch is set, the loop cold, and nothing moves."""
    if m[AWAKE] == 1:
        return False
    latched = state[s.TANK_OVER] & state[s.TANK_FULL] & state[s.STAGNATION] & state[s.CHARGE_HOT]
    cold = state[s.LOOP_LOWEST_MC] < settings[cfg.EXCHANGER_FROST]
    return latched == 0 or not cold or on(state, s.COLLECTOR_PUMP)


def collector_limit(m, state, settings, inputs):
    """The collector pump is never commanded while the collector reads at or above collector_limit."""
    return on(state, s.COLLECTOR_PUMP) and collector_at(state, settings[cfg.COLLECTOR_LIMIT])


def collector_unknown(m, state, settings, inputs):
    """The collector pump is never commanded while the collector's reading is lost."""
    return on(state, s.COLLECTOR_PUMP) and not trusted(state, s.COLLECTOR)


def collector_lost_stops(m, state, settings, inputs):
    """A lost collector reading ends in fault_stop and says so, unless frost, hands or upkeep rank above."""
    if trusted(state, s.COLLECTOR) or somebody_in_charge(m, state, inputs) or state[s.DUTY] == s.FROST_GUARD:
        return False
    return state[s.DUTY] != s.FAULT_STOP or state[s.REASON] != why.COLLECTOR_UNKNOWN


def steam_memory(m, state, settings, inputs):
    """After a reset, and after collector_limit, the collector pump waits until collector_reset was read."""
    return on(state, s.COLLECTOR_PUMP) and m[STEAM] == 1


def valve_home_first(m, state, settings, inputs):
    """With a dump valve no collector pump runs before the valve was driven to an end after a reset."""
    return on(state, s.COLLECTOR_PUMP) and settings[cfg.DUMP_TOPOLOGY] != cfg.NONE and m[PLACED] == 0


def valve_goes_home(m, state, settings, inputs):
    """After a reset the dump valve is driven home before the station's own duties move it."""
    return on(state, s.DUMP_VALVE_POWER) and m[PLACED] == 0 and state[s.DUTY] != s.HAND


def valve_between_ends(m, state, settings, inputs):
    """With a closed crossover the collector pump is off while the valve is between its ends."""
    if settings[cfg.DUMP_TOPOLOGY] == cfg.NONE or settings[cfg.DUMP_CROSSOVER] == cfg.OPEN or not on(state, s.COLLECTOR_PUMP):
        return False
    if on(state, s.DUMP_VALVE_POWER):
        return m[VALVE_LEAST_MS] < settings[cfg.DUMP_TRAVEL]
    return m[VALVE_MOST_MS] > 0


def tank_unknown(m, state, settings, inputs):
    """Both pumps run together only while some tank sensor is trusted."""
    return both_pumps(state) and not tank_known(state)


def tank_limit(m, state, settings, inputs):
    """Both pumps run together only while the hottest trusted tank sensor is below the limit in force."""
    if not both_pumps(state) or not tank_known(state) or state[s.DUTY] == s.NIGHT_COOLING:
        return False
    return m[OVER] == 1


def cooling_colder(m, state, settings, inputs):
    """Night cooling moves the tank's water only against glycol colder than its coldest trusted sensor."""
    if state[s.DUTY] != s.NIGHT_COOLING or not both_pumps(state):
        return False
    warmest = state[s.COLLECTOR_MC]
    if trusted(state, s.LOOP_SUPPLY):
        warmest = max(warmest, state[s.LOOP_SUPPLY_MC])
    return not trusted(state, s.COLLECTOR) or not tank_known(state) or warmest >= tank_coldest(state)


def charge_limit(m, state, settings, inputs):
    """Both pumps bring heat to the tank only while the glycol is below charge_limit, and after it below its reset."""
    # Night cooling has a truth of its own: its glycol is colder than the tank, whatever the latch of an evening says.
    return both_pumps(state) and m[HOT] == 1 and state[s.DUTY] != s.NIGHT_COOLING


def exchanger_warm(m, state, settings, inputs):
    """In charging the tank pump runs only while glycol trusted or timed to be warmer than the tank arrives."""
    if state[s.DUTY] != s.CHARGING or not both_pumps(state) or water_moves_first(m, state, settings):
        return False
    if trusted(state, s.LOOP_SUPPLY):
        return state[s.LOOP_SUPPLY_MC] <= tank_reference(state)
    return m[ON_MS] < settings[cfg.TANK_PUMP_DELAY]


def water_moves_first(m, state, settings):
    """Whether the water has to move before the glycol may: by the core's own, stricter latch."""
    around = settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS and state[s.ALARMS] & ALARM_DUMP == 0
    return not around and state[s.LOOP_LOWEST_MC] < settings[cfg.EXCHANGER_FROST]


def tank_full(m, state, settings, inputs):
    """A full tank is not charged, and is full until both of its figures are below their resets."""
    return state[s.DUTY] == s.CHARGING and tank_known(state) and m[FULL] == 1


def run_on_bounded(m, state, settings, inputs):
    """The tank pump alone runs on no longer than tank_run_on_time."""
    return m[RUN_ON_MS] >= settings[cfg.TANK_RUN_ON_TIME] + s.STEP_TOP_MS and on(state, s.TANK_PUMP) and m[RUN_ON_MS] > 0


def rest_kept(m, state, settings, inputs):
    """The collector pump starts by itself only after minimum_rest."""
    starts = on(state, s.COLLECTOR_PUMP) and m[WAS + s.COLLECTOR_PUMP] == 0
    return starts and state[s.DUTY] != s.HAND and m[OFF_MS] < settings[cfg.MINIMUM_REST]


def run_kept(m, state, settings, inputs):
    """Charging ends for want of a difference only after minimum_run."""
    stops = m[WAS + s.COLLECTOR_PUMP] == 1 and m[WAS_DUTY] == s.CHARGING and not on(state, s.COLLECTOR_PUMP)
    short = m[ON_MS] < settings[cfg.MINIMUM_RUN]
    return stops and short and (state[s.REASON] == why.NO_DIFFERENCE or state[s.REASON] == why.COLLECTOR_COOL)


def safe_stop(m, state, settings, inputs):
    """In fault_stop and maintenance every output that moves something is in its safe state."""
    if state[s.DUTY] != s.FAULT_STOP and state[s.DUTY] != s.MAINTENANCE:
        return False
    return on(state, s.COLLECTOR_PUMP) or on(state, s.TANK_PUMP) or on(state, s.DUMP_VALVE_POWER)


def pump_of_duty(m, state, settings, inputs):
    """The collector pump runs only in a duty that moves glycol, and with the tank pump only where heat may pass."""
    if not on(state, s.COLLECTOR_PUMP):
        return False
    duty = state[s.DUTY]
    if on(state, s.TANK_PUMP) and (duty == s.DUMPING or duty == s.EXERCISE):
        return True
    return duty != s.CHARGING and duty != s.DUMPING and duty != s.NIGHT_COOLING and duty != s.EXERCISE and duty != s.HAND


def valve_of_duty(m, state, settings, inputs):
    """The dump valve has power when the duty sends glycol to the exchanger, and at no other time."""
    duty = state[s.DUTY]
    powered = on(state, s.DUMP_VALVE_POWER)
    if settings[cfg.DUMP_TOPOLOGY] == cfg.NONE:
        return powered
    if duty == s.CHARGING:
        return not powered
    if duty == s.NIGHT_COOLING:
        return powered != (settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS)
    return powered and duty != s.EXERCISE and duty != s.HAND


def frost_guard(m, state, settings, inputs):
    """An exchanger below exchanger_frost runs the tank pump at any hour, with the collector pump off."""
    if state[s.DUTY] == s.FROST_GUARD:
        return not on(state, s.TANK_PUMP) or on(state, s.COLLECTOR_PUMP)
    frosty = trusted(state, s.EXCHANGER) and state[s.EXCHANGER_MC] < settings[cfg.EXCHANGER_FROST]
    return frosty and not somebody_in_charge(m, state, inputs)


def hard_fault(m, state, inputs):
    """Whether resets or the guard stop everything; the guard lets go at the end of a step."""
    return inputs[s.IN_RESETS] >= 3 or state[s.GUARD_HOLD_MS] > 0 or m[GUARD_HELD] == 1


def somebody_in_charge(m, state, inputs):
    """Whether resets, the guard, upkeep or hands rank above everything that the station would do by itself."""
    if hard_fault(m, state, inputs):
        return True
    return inputs[s.IN_UPKEEP] != s.UPKEEP_NONE or inputs[s.IN_HAND_MASK] != 0


def frost_alarm(m, state, settings, inputs):
    """An exchanger below exchanger_frost raises the alarm in every duty."""
    frosty = trusted(state, s.EXCHANGER) and state[s.EXCHANGER_MC] < settings[cfg.EXCHANGER_FROST]
    return frosty and (state[s.ALARMS] & ALARM_FROST == 0 or not on(state, s.ALARM))


def alarm_output(m, state, settings, inputs):
    """The alarm contact speaks exactly while an alarm bit is set."""
    return on(state, s.ALARM) != (state[s.ALARMS] != 0)


def exercise_allowed(m, state, settings, inputs):
    """Exercise is not while the loop is cold, the tank full, or collector or tank unknown."""
    if state[s.DUTY] != s.EXERCISE:
        return False
    if not trusted(state, s.COLLECTOR) or not tank_known(state):
        return True
    return m[FULL] == 1 or loop_cold(m, settings)


def slug_past_the_exchanger(m, state, settings, inputs):
    """With a bypass and a cold loop the collector pump runs with the dump valve at the radiator only."""
    if settings[cfg.DUMP_TOPOLOGY] != cfg.BYPASS or not on(state, s.COLLECTOR_PUMP):
        return False
    return loop_cold(m, settings) and on(state, s.DUMP_VALVE_POWER)


def slug_meets_warm_water(m, state, settings, inputs):
    """Without a bypass and with a cold loop the collector pump runs only after the tank pump and with a warm tank."""
    if settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS or not on(state, s.COLLECTOR_PUMP) or not loop_cold(m, settings):
        return False
    if m[WAS + s.TANK_PUMP] == 0 or not on(state, s.TANK_PUMP) or not tank_known(state):
        return True
    short = settings[cfg.EXCHANGER_FROST] - m[COLDEST_MC]
    return tank_reference(state) < TABLE_FOOT_MC + TABLE_SLOPE * short


def radiator_slug(m, state, settings, inputs):
    """With the radiator ahead of the exchanger no glycol moves through it while its air is below exchanger_frost or unknown."""
    if settings[cfg.DUMP_TOPOLOGY] != cfg.SERIES or not on(state, s.COLLECTOR_PUMP) or on(state, s.DUMP_VALVE_POWER):
        return False
    return not trusted(state, s.OUTDOOR) or state[s.OUTDOOR_MC] < settings[cfg.EXCHANGER_FROST]


def glycol_freezes(m, state, settings, inputs):
    """The collector pump is off while a trusted sensor tells of glycol below its freezing point."""
    if not on(state, s.COLLECTOR_PUMP):
        return False
    limit = freezing_point(settings)
    if trusted(state, s.COLLECTOR) and state[s.COLLECTOR_MC] < limit:
        return True
    return trusted(state, s.OUTDOOR) and state[s.OUTDOOR_MC] < limit


def values_in_range(m, state, settings, inputs):
    """Every value of the state stays in its stated range and in 31 bits."""
    # Without an early end, so that the compiler can look at several values at once.
    outside = 0
    for index in range(s.STATE):
        outside += (state[index] < LOWEST[index]) + (state[index] > HIGHEST[index])
    return outside > 0


def guard_idle(m, state, settings, inputs):
    """The guard never has to act."""
    return state[s.GUARD_ACTIONS] != m[GUARD_BEFORE]


def resets_stop(m, state, settings, inputs):
    """Three resets within an hour end in fault_stop with that reason."""
    return inputs[s.IN_RESETS] >= 3 and (state[s.DUTY] != s.FAULT_STOP or state[s.REASON] != why.RESET_STORM)


def guard_stops(m, state, settings, inputs):
    """After the guard had to act everything stands still for ten minutes."""
    if state[s.GUARD_HOLD_MS] > 0 and (on(state, s.COLLECTOR_PUMP) or on(state, s.TANK_PUMP) or on(state, s.DUMP_VALVE_POWER)):
        return True
    return m[GUARD_HELD] == 1 and inputs[s.IN_RESETS] < 3 and state[s.REASON] != why.GUARD_ACTED


def person_obeyed(m, state, settings, inputs):
    """Maintenance, hands and purging, in this order, outrank what the station would do by itself."""
    if hard_fault(m, state, inputs):
        return False
    if inputs[s.IN_UPKEEP] == s.UPKEEP_MAINTENANCE:
        return state[s.REASON] != why.UNDER_MAINTENANCE
    if inputs[s.IN_HAND_MASK] != 0:
        return state[s.REASON] != why.HAND_HELD
    return inputs[s.IN_UPKEEP] == s.UPKEEP_PURGE and state[s.REASON] != why.PURGING


def given_up_rests(m, state, settings, inputs):
    """While the alarm says that charging or dumping was given up, it rests."""
    if state[s.DUTY] == s.HAND:
        return False
    if state[s.ALARMS] & ALARM_NO_FLOW != 0 and on(state, s.COLLECTOR_PUMP):
        return True
    return state[s.ALARMS] & ALARM_DUMP != 0 and state[s.DUTY] == s.DUMPING


def twice_an_hour(m, state, settings, inputs):
    """What was given up is tried at most twice an hour."""
    if 0 < m[NO_FLOW_MS] < GIVEN_UP_MS - s.STEP_TOP_MS and state[s.ALARMS] & ALARM_NO_FLOW == 0:
        return True
    return 0 < m[BARRED_MS] < GIVEN_UP_MS - s.STEP_TOP_MS and state[s.ALARMS] & ALARM_DUMP == 0


def weak_heat_rests(m, state, settings, inputs):
    """Charging that was given up for weak heat rests: after five minutes without the tank pump, and for half an hour."""
    if state[s.NO_FLOW] == why.HEAT_TOO_WEAK and state[s.DUTY] == s.CHARGING:
        return True
    return too_weak(state) and m[UNJOINED_AGO_MS] > GIVEN_UP_MS


def flow_proven(m, state, settings, inputs):
    """A collector pump that a trusted flow input shows to move nothing stops within a minute and a half."""
    return m[FLOWLESS_MS] >= FLOWLESS_TOP_MS and on(state, s.COLLECTOR_PUMP) and state[s.DUTY] != s.HAND


def relief(m, state, settings, inputs):
    """A collector at dump_collector_start is charged from or dumped, unless something of higher rank stands against it."""
    if settings[cfg.DUMP_TOPOLOGY] == cfg.NONE or state[s.ALARMS] & ALARM_DUMP != 0:
        return False
    if not collector_at(state, settings[cfg.DUMP_COLLECTOR_START]):
        return False
    reason = state[s.REASON]
    refused = reason == why.TANK_FULL_REFUSED or reason == why.TANK_UNKNOWN or reason == why.CHARGE_LIMIT_REFUSED
    return refused or reason == why.HEAT_TOO_WEAK or reason_of_low_rank(state)


def relief_refusal_said(m, state, settings, inputs):
    """A hot collector, a full tank and a dump that was given up: the reason says so."""
    if state[s.ALARMS] & ALARM_DUMP == 0 or m[FULL] == 0 or not tank_known(state):
        return False
    if not collector_at(state, settings[cfg.DUMP_COLLECTOR_START]):
        return False
    return state[s.REASON] == why.TANK_FULL_REFUSED or reason_of_low_rank(state)


def heat_fetched(m, state, settings, inputs):
    """Heat worth fetching is fetched, or refused with a reason that stands against it."""
    if not trusted(state, s.COLLECTOR) or not tank_known(state):
        return False
    worth = gain(state) >= settings[cfg.START_DIFFERENCE] and state[s.COLLECTOR_MC] >= settings[cfg.COLLECTOR_MINIMUM]
    return worth and (reason_of_low_rank(state) or state[s.REASON] == why.COLLECTOR_HOT_DUMP)


def off_scale(state, inputs):
    """Whether the driver trusts a tank sensor that reads above the 115 C of its range."""
    for sensor in (s.TANK_LOW, s.TANK_HIGH):
        if state[s.CAUSE + sensor] == s.CAUSE_RANGE and inputs[s.IN_RAW_MC + sensor] > 115000:
            return True
    return False


def off_scale_bars(m, state, settings, inputs):
    """A tank sensor that reads hotter than any tank bars charging and night cooling."""
    barred = state[s.DUTY] == s.CHARGING or state[s.DUTY] == s.NIGHT_COOLING
    return barred and tank_known(state) and off_scale(state, inputs)


def upside_down(state):
    """Whether both ends of the tank are trusted and the bottom reads hotter than the top by a kelvin and a half, or more."""
    if not trusted(state, s.TANK_LOW) or not trusted(state, s.TANK_HIGH):
        return False
    return state[s.TANK_LOW_MC] - state[s.TANK_HIGH_MC] >= 1500


def upside_down_bars(m, state, settings, inputs):
    """Night cooling moves no water beside a tank that reads upside down, or while its top is unknown."""
    cools = state[s.DUTY] == s.NIGHT_COOLING and state[s.COMMAND + s.TANK_PUMP] == 1
    return cools and (upside_down(state) or not trusted(state, s.TANK_HIGH))


def night_used(m, state, settings, inputs):
    """Away with a full tank and a cold night, nothing of lower rank is done instead of night cooling."""
    if settings[cfg.AWAY] == 0 or m[FULL] == 0 or not trusted(state, s.COLLECTOR) or not tank_known(state):
        return False
    # A tank sensor that reads hotter than any tank, or a bottom hotter than its top, may hang on the roof; cooling that has ended
    # waits until they differ by half a kelvin at most.
    if off_scale(state, inputs) or not trusted(state, s.TANK_HIGH):
        return False
    if trusted(state, s.TANK_LOW) and state[s.TANK_LOW_MC] - state[s.TANK_HIGH_MC] > 500:
        return False
    return tank_coldest(state) - state[s.COLLECTOR_MC] >= COOLING_START_MK and reason_of_low_rank(state)


def turn_taken(m, state, settings, inputs):
    """A pump or valve that has not moved for exercise_after gets its turn, or a reason says why not."""
    if state[s.REASON] != why.NO_DIFFERENCE and state[s.REASON] != why.COLLECTOR_COOL:
        return False
    for mover in range(s.MOVERS):
        fitted = mover != s.DUMP_VALVE_POWER or settings[cfg.DUMP_TOPOLOGY] != cfg.NONE
        if fitted and m[UNMOVED_MS + mover] >= settings[cfg.EXERCISE_AFTER] * 1000 + s.STEP_TOP_MS:
            return True
    return False


def reason_of_duty(m, state, settings, inputs):
    """Every duty has a reason that belongs to it."""
    return DUTY_OF_REASON[state[s.REASON]] != state[s.DUTY]


def reason_is_so(m, state, settings, inputs):
    """A reason that states a fact states a true one."""
    reason = state[s.REASON]
    if reason == why.COLLECTOR_UNKNOWN:
        return trusted(state, s.COLLECTOR)
    if reason == why.TANK_UNKNOWN or reason == why.TANK_UNKNOWN_DUMP:
        return tank_known(state)
    if reason == why.CHARGE_LIMIT_REFUSED:
        return settings[cfg.DUMP_TOPOLOGY] != cfg.NONE and state[s.ALARMS] & ALARM_DUMP == 0
    if reason == why.RADIATOR_DEAD or reason == why.DUMP_HEATS_TANK:
        return state[s.ALARMS] & ALARM_DUMP == 0
    if reason_of_low_rank(state) or reason == why.DIFFERENCE:
        return comparison_wrong(m, state, settings)
    return False


def comparison_wrong(m, state, settings):
    """Whether a reason that compares collector and tank does so without them, or against what they read."""
    if not trusted(state, s.COLLECTOR) or not tank_known(state):
        return True
    if state[s.REASON] == why.COLLECTOR_COOL:
        return state[s.COLLECTOR_MC] >= settings[cfg.COLLECTOR_MINIMUM]
    if state[s.REASON] == why.NO_DIFFERENCE:
        return gain(state) >= settings[cfg.START_DIFFERENCE]
    return False


# In the order of the bits of `broken`.
TRUTHS = (
    wakes_protected,
    collector_limit,
    collector_unknown,
    collector_lost_stops,
    steam_memory,
    valve_home_first,
    valve_goes_home,
    valve_between_ends,
    tank_unknown,
    tank_limit,
    cooling_colder,
    charge_limit,
    exchanger_warm,
    tank_full,
    run_on_bounded,
    rest_kept,
    run_kept,
    safe_stop,
    pump_of_duty,
    valve_of_duty,
    frost_guard,
    frost_alarm,
    alarm_output,
    exercise_allowed,
    slug_past_the_exchanger,
    slug_meets_warm_water,
    radiator_slug,
    glycol_freezes,
    values_in_range,
    guard_idle,
    resets_stop,
    guard_stops,
    person_obeyed,
    given_up_rests,
    twice_an_hour,
    weak_heat_rests,
    flow_proven,
    relief,
    relief_refusal_said,
    heat_fetched,
    night_used,
    off_scale_bars,
    upside_down_bars,
    turn_taken,
    reason_of_duty,
    reason_is_so,
)


def single(truth):
    """A truth as a function that returns a bit."""

    def one(m, state, settings, inputs):
        return 1 if truth(m, state, settings, inputs) else 0

    return one


def joined(left, right, count):
    """Two functions that return bits as one; `count` is how many bits the left one has."""

    def both(m, state, settings, inputs):
        return left(m, state, settings, inputs) | right(m, state, settings, inputs) << count

    return both


def judged(m, state, settings, inputs):
    """Which truths are broken, as bits; core.py puts the same functions, compiled into one, in its place."""
    bits = 0
    for index in range(len(TRUTHS)):
        if TRUTHS[index](m, state, settings, inputs):
            bits |= 1 << index
    return bits


def broken(m, state, settings, inputs):
    """Which truths this step broke, as bits in the order of TRUTHS; carries the memory on."""
    remember(m, state, settings, inputs)
    bits = judged(m, state, settings, inputs)
    keep(m, state, settings, inputs)
    return bits


def names_of(bits):
    """Names of the truths in a bit set."""
    return [truth.__name__ for index, truth in enumerate(TRUTHS) if int(bits) >> index & 1]
