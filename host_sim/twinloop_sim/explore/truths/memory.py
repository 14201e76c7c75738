"""What the truths remember of earlier steps: commands, times, and limits crossed."""

from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control.tables import Words

from .facts import (
    ALARM_DUMP,
    ALARM_NO_FLOW,
    EARLY_MK,
    MOVING,
    above_limit,
    colder_shown,
    full_in_force,
    limit_in_force,
    on,
    tank_hottest,
    tank_known,
    tank_reference,
    trusted,
)

# One int32 array for each walk.
WORDS = Words()
WAS = WORDS.take(s.OUTPUTS)  # commands in force during this step
WAS_DUTY = WORDS.take()
VALVE_LEAST_MS = WORDS.take()  # the valve is at least and at most this far from the radiator's end
VALVE_MOST_MS = WORDS.take()
PLACED = WORDS.take()  # 1 once the valve must have reached an end
OFF_MS = WORDS.take()  # time since the collector pump stopped
ON_MS = WORDS.take()  # time since the collector pump started
RUN_ON_MS = WORDS.take()  # tank pump alone, which only a run-on explains
STEAM = WORDS.take()  # four latches with two thresholds each, set at boot
OVER = WORDS.take()
FULL = WORDS.take()
HOT = WORDS.take()
COLDEST_MC = WORDS.take()  # coldest glycol reported and not yet pumped away; WARM_MC: none
PUMPED_ML = WORDS.take()  # pumped since then, in whole millilitres; the rest in ml*ms/60000
PUMPED_REST = WORDS.take()
JUDGED = WORDS.take()  # 1 once air and collector have judged the loop, without a bypass
RISE_MS = WORDS.take()  # time since the loop last followed milder weather, without a bypass
SUN_MS = WORDS.take()  # how long glycol from the sun has stood at the station
THROUGH_RADIATOR = WORDS.take()  # 1 while glycol moves through the radiator
FLOWLESS_MS = WORDS.take()  # collector pump on, flow input trusted, no flow
UNMOVED_MS = WORDS.take(s.MOVERS)  # time at rest
NO_FLOW_MS = WORDS.take()  # how long the alarm has said that charging, and dumping, is given up
BARRED_MS = WORDS.take()
GUARD_BEFORE = WORDS.take()  # guard actions at the beginning
GUARD_HELD = WORDS.take()  # 1 if the guard held everything at the end of the last step
AWAKE = WORDS.take()  # 1 from the second step on
UNJOINED_MS = WORDS.take()  # charging with the collector pump on and the tank pump off
UNJOINED_AGO_MS = WORDS.take()  # time since that last lasted for five minutes
ABOVE_MS = WORDS.take()  # a trusted tank sensor above tank_limit beside glycol that nothing shows to be colder
SCALDED_MS = WORDS.take()  # time since glycol at charge_limit was pumped, without any that cooled the exchanger since
TAKING_MS = WORDS.take()  # both pumps charging, and no reading shows that glycol brings heat
TAKING_AGO_MS = WORDS.take()  # time since that was last proven, or water denied the tank's reading
WATER_MS = WORDS.take()  # tank pump on, collector pump off
VAIN_MS = WORDS.take()  # the same, with a collector hardly warmer than what leaves
USELESS_AGO_MS = WORDS.take()  # since the radiator failed or the collector boiled; TOP_MS: never
STARTED_MS = WORDS.take()  # 70 minutes for each start of valve or collector pump, less the time since
MEMORY = WORDS.taken

WARM_MC = 200000
COLDEST_GLYCOL_MC = -50000
TOP_MS = 2000000000
# source: docs/hazards.md and the design
GIVEN_UP_MS = 1800000
JOIN_LIMIT_MS = 300000
# What a start costs, and what is free.
START_MS = 4200000
FREE_MS = 6 * START_MS
TAKING_LIMIT_MS = 300000
# Glycol that leaves by WATER_FAR_MK hotter than it arrives, by loop_return or else by the plates,
# needs two minutes.
MUCH_LIMIT_MS = 120000
# Water alone that shows for 50 s that tank_low reads 10 K too low proves it, too.
WATER_LIMIT_MS = 50000
WATER_FAR_MK = 10000
WARMER_MK = 1000
HARDLY = 8
# The largest doubt, 160 K, fades at 1 mK a second.
DOUBT_TOP_MS = 160000000


def begin(m, state, settings, inputs):
    """Reset the memory for a station that just woke: every limit counts as crossed."""
    for index in range(MEMORY):
        m[index] = 0
    m[VALVE_MOST_MS] = settings[cfg.DUMP_TRAVEL]
    m[STEAM] = 1
    m[OVER] = 1
    m[FULL] = 1
    m[HOT] = 1
    m[COLDEST_MC] = COLDEST_GLYCOL_MC
    m[UNJOINED_AGO_MS] = GIVEN_UP_MS + s.STEP_TOP_MS
    m[SCALDED_MS] = TOP_MS
    m[TAKING_AGO_MS] = TOP_MS
    m[USELESS_AGO_MS] = TOP_MS
    for mover in range(s.MOVERS):
        m[UNMOVED_MS + mover] = state[s.UNMOVED_S + mover] * 1000
    m[GUARD_BEFORE] = state[s.GUARD_ACTIONS]
    m[GUARD_HELD] = 1 if state[s.GUARD_HOLD_MS] > 0 else 0


def longer(m, index, dt_ms, runs):
    """Advance a timer while `runs`; otherwise reset it."""
    m[index] = min(m[index] + dt_ms, TOP_MS) if runs else 0


def remember_movers(m, settings, dt_ms):
    """Follow valve and pumps under the commands that were in force."""
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
        longer(m, UNMOVED_MS + mover, dt_ms, m[WAS + MOVING[mover]] == 0)


def ran_its_minimum(m, settings):
    """Whether the collector pump is off, or has run long enough to be stopped at leisure."""
    return m[WAS + s.COLLECTOR_PUMP] == 0 or m[ON_MS] >= settings[cfg.MINIMUM_RUN]


def remember_limits(m, state, settings):
    """Update the latches with two thresholds; unknown readings change nothing."""
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
        elif hot < settings[cfg.CHARGE_LIMIT] - settings[cfg.CHARGE_LIMIT_RESET] and ran_its_minimum(m, settings):
            m[HOT] = 0
    if tank_known(state):
        if tank_hottest(state, settings) >= limit_in_force(settings) - EARLY_MK:
            m[OVER] = 1
        elif tank_hottest(state, settings) < limit_in_force(settings) - settings[cfg.TANK_LIMIT_RESET]:
            m[OVER] = 0
        if tank_reference(state) >= full_in_force(settings) or m[OVER] == 1:
            m[FULL] = 1
        elif tank_reference(state) < full_in_force(settings) - settings[cfg.TANK_FULL_RESET]:
            m[FULL] = 0


def colder(state, sensor, mc):
    """Whether a sensor is trusted and reads less than this."""
    return trusted(state, sensor) and state[s.VALUE_MC + sensor] < mc


def below(state, mc):
    """Whether a sensor of leaving glycol, or of the tank's top, reads less than this."""
    return colder(state, s.LOOP_RETURN, mc) or colder(state, s.EXCHANGER, mc) or colder(state, s.TANK_HIGH, mc)


def brings_nothing(state, arriving):
    """Whether no reading shows that glycol brings heat.

    Where one of the glycol's two sensors shows it leaving a kelvin hotter, the other has to show
    that an eighth of the lead stays behind.
    """
    hotter = arriving + WARMER_MK
    one = trusted(state, s.LOOP_RETURN) and not colder(state, s.LOOP_RETURN, hotter)
    if one or (trusted(state, s.EXCHANGER) and not colder(state, s.EXCHANGER, hotter)):
        arriving -= max(arriving - tank_reference(state), 0) // HARDLY
    return not below(state, arriving)


def water_denies(m, state):
    """Whether plates in the tank's own water are far warmer than the tank's reading."""
    if m[WATER_MS] < WATER_LIMIT_MS or m[WAS_DUTY] != s.CHARGING or not tank_known(state):
        return False
    if not trusted(state, s.EXCHANGER) or not trusted(state, s.TANK_HIGH):
        return False
    return state[s.EXCHANGER_MC] - tank_reference(state) >= WATER_FAR_MK


def remember_taking(m, state, settings, dt_ms):
    """Time charging in which no sensor shows that it brings heat, and one could."""
    charging = m[WAS + s.COLLECTOR_PUMP] == 1 and m[WAS + s.TANK_PUMP] == 1 and m[WAS_DUTY] == s.CHARGING
    seen = charging and tank_known(state) and (trusted(state, s.LOOP_RETURN) or trusted(state, s.EXCHANGER))
    arriving = state[s.LOOP_SUPPLY_MC] if trusted(state, s.LOOP_SUPPLY) else state[s.COLLECTOR_MC]
    longer(m, TAKING_MS, dt_ms, seen and brings_nothing(state, arriving))
    longer(m, WATER_MS, dt_ms, m[WAS + s.COLLECTOR_PUMP] == 0 and m[WAS + s.TANK_PUMP] == 1)
    leaving = s.LOOP_RETURN if trusted(state, s.LOOP_RETURN) else s.EXCHANGER
    far = arriving + WATER_FAR_MK
    much = m[TAKING_MS] >= MUCH_LIMIT_MS and not colder(state, leaving, far) and not colder(state, s.TANK_HIGH, far)
    longer(m, TAKING_AGO_MS, dt_ms, m[TAKING_MS] < TAKING_LIMIT_MS and not much and not water_denies(m, state))
    vain = m[TAKING_MS] > 0 and not below(state, state[s.COLLECTOR_MC] - settings[cfg.STOP_DIFFERENCE])
    longer(m, VAIN_MS, dt_ms, vain)


def remember_faults(m, settings, inputs, dt_ms):
    """Time flow that the flow input does not see, and a tank pump that did not start."""
    alone = m[WAS + s.COLLECTOR_PUMP] == 1 and m[WAS + s.TANK_PUMP] == 0
    longer(m, UNJOINED_MS, dt_ms, alone and m[WAS_DUTY] == s.CHARGING)
    longer(m, UNJOINED_AGO_MS, dt_ms, m[UNJOINED_MS] < JOIN_LIMIT_MS)
    runs = m[WAS + s.COLLECTOR_PUMP] == 1 and settings[cfg.FLOW_SENSOR] != cfg.NO_FLOW_SENSOR
    dry = inputs[s.IN_FLOW_CAUSE] == 0 and inputs[s.IN_FLOW_ML_PER_MIN] <= 0
    longer(m, FLOWLESS_MS, dt_ms, runs and dry)


def remember_heat(m, state, settings, dt_ms):
    """Time a tank above tank_limit, and the heat that pumped glycol left in the exchanger."""
    longer(m, ABOVE_MS, dt_ms, above_limit(state, settings) and not colder_shown(state))
    scalds = m[WAS + s.COLLECTOR_PUMP] == 1 and m[HOT] == 1
    longer(m, SCALDED_MS, dt_ms, not scalds)
    through = settings[cfg.DUMP_TOPOLOGY] != cfg.BYPASS or m[VALVE_LEAST_MS] == settings[cfg.DUMP_TRAVEL]
    if through and m[WAS + s.COLLECTOR_PUMP] == 1 and m[HOT] == 0 and m[ON_MS] >= settings[cfg.TANK_PUMP_DELAY]:
        m[SCALDED_MS] = TOP_MS


def remember(m, state, settings, inputs):
    """Update everything the truths judge by, except the cold glycol in the loop."""
    dt_ms = inputs[s.IN_DT_MS]
    boils = trusted(state, s.COLLECTOR) and state[s.COLLECTOR_MC] >= settings[cfg.COLLECTOR_LIMIT]
    useless = boils or m[BARRED_MS] > 0 or settings[cfg.DUMP_TOPOLOGY] == cfg.NONE
    m[USELESS_AGO_MS] = 0 if useless else min(m[USELESS_AGO_MS] + dt_ms, TOP_MS)
    remember_movers(m, settings, dt_ms)
    remember_limits(m, state, settings)
    remember_faults(m, settings, inputs, dt_ms)
    remember_heat(m, state, settings, dt_ms)
    remember_taking(m, state, settings, dt_ms)


def keep(m, state, inputs):
    """Store what the next step needs to know about this one."""
    dt_ms = inputs[s.IN_DT_MS]
    longer(m, NO_FLOW_MS, dt_ms, state[s.ALARMS] & ALARM_NO_FLOW != 0)
    longer(m, BARRED_MS, dt_ms, state[s.ALARMS] & ALARM_DUMP != 0 and state[s.DUTY] != s.DUMPING)
    alone = on(state, s.TANK_PUMP) and not on(state, s.COLLECTOR_PUMP) and m[WAS + s.TANK_PUMP] == 1
    duty = state[s.DUTY]
    explained = duty == s.FROST_GUARD or duty == s.HAND or duty == s.EXERCISE or duty == s.CHARGING
    longer(m, RUN_ON_MS, dt_ms, alone and m[WAS + s.COLLECTOR_PUMP] == 0 and not explained)
    m[STARTED_MS] = max(m[STARTED_MS] - dt_ms, 0)
    for output in (s.DUMP_VALVE_POWER, s.COLLECTOR_PUMP):
        if on(state, output) and m[WAS + output] == 0:
            m[STARTED_MS] = min(m[STARTED_MS] + START_MS, TOP_MS - START_MS)
    for output in range(s.OUTPUTS):
        m[WAS + output] = state[s.COMMAND + output]
    m[WAS_DUTY] = duty
    m[AWAKE] = 1
    m[GUARD_HELD] = 1 if state[s.GUARD_HOLD_MS] > 0 else 0
