"""Actuators and plant that lie: told from temperatures, or a flow input, that do not follow the commands.

What is given up rests for half an hour and is tried again, so that nothing here ends the season by mistake. What cannot be told
from the fitted sensors is listed in docs/sensors.md.
"""

from .latches import tank_crossed
from .reasons import (
    COLD_SLUG_REFUSED,
    COLD_SLUG_ROUND,
    DUMP_HEATS_TANK,
    FLOW_MISSING,
    GLYCOL_NOT_ARRIVING,
    HEAT_ASTRAY,
    HEAT_TOO_WEAK,
    RADIATOR_DEAD,
    SENSORS_SWAPPED,
)
from .settings import (
    BYPASS,
    COLLECTOR_FLOW,
    DUMP_TOPOLOGY,
    EXCHANGER_LAG,
    EXCHANGER_LEAD,
    FLOW_METER,
    FLOW_SENSOR,
    LOOP_VOLUME,
    NO_FLOW_SENSOR,
    START_DIFFERENCE,
    TANK_PUMP_DELAY,
)
from .state import (
    ALARM,
    ALARM_ON,
    ALARMS,
    CHARGING,
    COLLECTOR_MC,
    COLLECTOR_PUMP_MS,
    COLLECTOR_PUMP_ON,
    COLLECTOR_STATUS,
    COMMAND,
    DUMP_BARRED,
    DUMP_FROM_MC,
    DUMP_IDLE_MS,
    DUMP_RETRY_MS,
    DUMP_TANK_MC,
    DUMPING,
    DUTY,
    EFFECT_PERMILLE,
    EFFECT_REST,
    EXCHANGER_MC,
    EXCHANGER_STATUS,
    FAR_FROM_MC,
    FAR_MS,
    FLOWLESS_MS,
    FOUL_S,
    FROST,
    GUARD_HOLD_MS,
    HELD,
    IN_DT_MS,
    IN_FLOW_CAUSE,
    IN_FLOW_ML_PER_MIN,
    IN_RESETS,
    IN_SETTINGS_LOST,
    LOOP_RETURN_MC,
    LOOP_RETURN_STATUS,
    LOOP_SUPPLY_MC,
    LOOP_SUPPLY_STATUS,
    LOST,
    LOST_MS,
    METER_SECONDS,
    NO_FLOW,
    NOT_JOINED_MS,
    OUTDOOR_MC,
    OUTDOOR_STATUS,
    OUTPUT_MS,
    REASON,
    RETRY_MS,
    SCALD_MS,
    SENSORS,
    STAGNATION,
    STANDING_MS,
    STATUS,
    STEADY_MS,
    TANK_HIGH_MC,
    TANK_HIGH_STATUS,
    TANK_LOW_MC,
    TANK_LOW_STATUS,
    TANK_PUMP_ON,
    TANK_REFERENCE_MC,
    TAP_MC,
    TAP_STATUS,
    TIMER_TOP_MS,
    TRACK_HIGH_MC,
    TRACK_LOW_MC,
    TRACK_MS,
    UNBIDDEN_FLOW,
    UNKNOWN_MC,
)

# All times and differences below are common practice, chosen so that a year of the simulated wash-house raises no false alarm.
# Three and five minutes are several transits of any pipe that a house has; half an hour keeps retries at two an hour.
NOT_JOINED_LIMIT_MS = 300000
FAR_LIMIT_MS = 180000
FAR_LEAST_MK = 8000
RETRY_LIMIT_MS = 1800000
# Three minutes of a dump that flows; two kelvin are beyond two sensors' noise.
DUMP_LIMIT_MS = 180000
DUMP_EFFECT_MK = 2000
FLOWLESS_LIMIT_MS = 30000
# Without a pump: two hours until pipes have cooled, then one hour in which arriving glycol follows a collector that moves by 12 K.
TRACK_FROM_MS = 7200000
TRACK_LIMIT_MS = 3600000
TRACK_NEAR_MK = 3000
TRACK_RANGE_MK = 12000
TRACK_APART_MK = 15000
# 3 K above the 49 C that a mixing valve is set to at most.
SCALD_MC = 52000
SCALD_LIMIT_MS = 60000
# Effectiveness of the exchanger, glycol side: steady after five minutes; two hours under a third are plates to be cleaned.
STEADY_LIMIT_MS = 300000
STEADY_LEAST_MK = 8000
FOUL_PERMILLE = 300
CLEAN_PERMILLE = 350
FOUL_LIMIT_S = 7200
EFFECT_SHARE = 256
LOST_LIMIT_MS = 120000
# A swap looks like this at night: the "tank" is as cold as the air, the "collector" as warm as the tank's other sensor or cooler,
# as a tank's low end is.
SWAP_AIR_MK = 8000
SWAP_TANK_MK = 25000
SWAP_ABOVE_MK = 5000
SWAP_STILL_MK = 1500

ALARM_SENSOR = 1 << 0
ALARM_TANK_CROSSED = 1 << 1
ALARM_NO_FLOW = 1 << 2
ALARM_DUMP = 1 << 3
ALARM_FROST = 1 << 4
ALARM_STEAM = 1 << 5
ALARM_UNBIDDEN_FLOW = 1 << 6
ALARM_FOULED = 1 << 7
ALARM_SCALD = 1 << 8
ALARM_GUARD = 1 << 9
ALARM_RESETS = 1 << 10
ALARM_SETTINGS = 1 << 11
ALARM_BITS = 12


def run_timer(state, settings, inputs, index, runs):
    """A timer that runs while something is so and starts again when it is not."""
    state[index] = min(state[index] + inputs[IN_DT_MS], TIMER_TOP_MS) if runs else 0


def looks_swapped(state, settings, inputs):
    """Whether tank_low reads the air and the collector reads the tank: near its other sensor, and not warmed by the sun."""
    if abs(state[COLLECTOR_MC] - state[FAR_FROM_MC]) > SWAP_STILL_MK:
        return False
    if state[TANK_LOW_STATUS] > HELD or state[TANK_HIGH_STATUS] > HELD or state[OUTDOOR_STATUS] > HELD:
        return False
    if abs(state[TANK_LOW_MC] - state[OUTDOOR_MC]) > SWAP_AIR_MK:
        return False
    return -SWAP_ABOVE_MK <= state[TANK_HIGH_MC] - state[COLLECTOR_MC] <= SWAP_TANK_MK


def give_up_flow(state, settings, inputs, reason):
    """Charging rests for half an hour, for this reason."""
    state[NO_FLOW] = reason
    state[RETRY_MS] = 0


def astray(state, settings, inputs):
    """Whether hot glycol has arrived for minutes and the plates, with water standing in them, are no warmer than the tank."""
    if state[LOOP_SUPPLY_STATUS] > HELD or state[EXCHANGER_STATUS] > HELD:
        return False
    if state[LOOP_SUPPLY_MC] - state[TANK_REFERENCE_MC] < settings[EXCHANGER_LEAD]:
        return False
    return state[EXCHANGER_MC] - state[TANK_REFERENCE_MC] < settings[EXCHANGER_LAG]


def waits_for_heat(state, settings, inputs):
    """Whether glycol is pumped, the tank pump has not joined, and not only because its time has not come."""
    if state[DUTY] != CHARGING or state[COLLECTOR_PUMP_ON] == 0 or state[TANK_PUMP_ON] == 1:
        return False
    return state[LOOP_SUPPLY_STATUS] <= HELD or state[COLLECTOR_PUMP_MS] >= settings[TANK_PUMP_DELAY]


def watch_joining(state, settings, inputs):
    """Glycol is pumped and the tank pump has not joined: it goes astray, or the sun is too weak. No flow is watch_far's."""
    waits = waits_for_heat(state, settings, inputs)
    run_timer(state, settings, inputs, NOT_JOINED_MS, waits)
    if state[NOT_JOINED_MS] < NOT_JOINED_LIMIT_MS:
        return
    state[NOT_JOINED_MS] = 0
    if astray(state, settings, inputs):
        give_up_flow(state, settings, inputs, HEAT_ASTRAY)
    elif state[LOOP_SUPPLY_STATUS] > HELD or far(state, settings, inputs):
        # Without that sensor its time had come, so only cold plates can have kept the tank pump from joining.
        give_up_flow(state, settings, inputs, GLYCOL_NOT_ARRIVING)
    else:
        give_up_flow(state, settings, inputs, HEAT_TOO_WEAK)


def frosty_tank(state, settings, inputs):
    """Whether charging is refused because tank_low reads below 0 C, which may be a sensor that hangs outdoors."""
    if state[REASON] != COLD_SLUG_REFUSED or state[TANK_LOW_STATUS] > HELD:
        return False
    return state[TANK_LOW_MC] < 0


def far_limit_ms(state, settings, inputs):
    """How long what arrives may be far colder: three minutes, or the time of one round of a slow loop.

    After five it is given up in any case: a dead pump must not pass for a weak sun.
    """
    round_ms = settings[LOOP_VOLUME] * 600 // settings[COLLECTOR_FLOW] * 100
    return max(FAR_LIMIT_MS, min(round_ms, NOT_JOINED_LIMIT_MS))


def far(state, settings, inputs):
    """Whether what arrives is far colder than what leaves the collector, with the pump on."""
    if state[DUTY] != CHARGING or state[COLLECTOR_PUMP_ON] == 0:
        return frosty_tank(state, settings, inputs)
    if state[LOOP_SUPPLY_STATUS] > HELD or state[COLLECTOR_STATUS] > HELD:
        return False
    return state[COLLECTOR_MC] - state[LOOP_SUPPLY_MC] >= max(settings[START_DIFFERENCE], FAR_LEAST_MK)


def watch_far(state, settings, inputs):
    """Glycol is pumped for minutes and does not arrive, or may not be: no flow, or the collector's sensor is elsewhere."""
    runs = far(state, settings, inputs)
    run_timer(state, settings, inputs, FAR_MS, runs)
    if state[FAR_MS] <= inputs[IN_DT_MS]:
        state[FAR_FROM_MC] = state[COLLECTOR_MC]
    if state[FAR_MS] < far_limit_ms(state, settings, inputs):
        return
    state[FAR_MS] = 0
    if looks_swapped(state, settings, inputs):
        give_up_flow(state, settings, inputs, SENSORS_SWAPPED)
    elif state[DUTY] == CHARGING:
        give_up_flow(state, settings, inputs, GLYCOL_NOT_ARRIVING)


def flow_seen(state, settings, inputs, parts):
    """Whether the flow input shows more than one part in `parts` of collector_flow; a switch shows it with anything above 0."""
    if settings[FLOW_SENSOR] == FLOW_METER:
        return inputs[IN_FLOW_ML_PER_MIN] > settings[COLLECTOR_FLOW] // parts
    return inputs[IN_FLOW_ML_PER_MIN] > 0


def watch_flow(state, settings, inputs):
    """With a flow input that can be trusted, no flow and unbidden flow are proven, not inferred."""
    if settings[FLOW_SENSOR] == NO_FLOW_SENSOR or inputs[IN_FLOW_CAUSE] != 0:
        state[FLOWLESS_MS] = 0
        return
    flows = flow_seen(state, settings, inputs, 5)
    if state[COLLECTOR_PUMP_ON] == 0:
        flows = True
    run_timer(state, settings, inputs, FLOWLESS_MS, not flows)
    if state[FLOWLESS_MS] >= FLOWLESS_LIMIT_MS:
        state[FLOWLESS_MS] = 0
        give_up_flow(state, settings, inputs, FLOW_MISSING)
    if state[COLLECTOR_PUMP_ON] == 0 and state[COLLECTOR_PUMP_MS] >= 2 * FLOWLESS_LIMIT_MS:
        state[UNBIDDEN_FLOW] = 1 if flow_seen(state, settings, inputs, 10) else 0


def forget_flow_fault(state, settings, inputs):
    """Half an hour later charging is tried again."""
    if state[NO_FLOW] == 0:
        return
    state[RETRY_MS] += inputs[IN_DT_MS]
    if state[RETRY_MS] >= RETRY_LIMIT_MS:
        state[NO_FLOW] = 0


def bar_dump(state, settings, inputs, reason):
    """Dumping rests for half an hour, for this reason: the collector may stagnate, the tank may not boil."""
    state[DUMP_BARRED] = reason
    state[DUMP_RETRY_MS] = 0


def dump_works(state, settings, inputs):
    """Whether the glycol that flows through the radiator leaves heat there, as far as anybody can see."""
    if state[LOOP_SUPPLY_STATUS] <= HELD and state[LOOP_RETURN_STATUS] <= HELD:
        return state[LOOP_SUPPLY_MC] - state[LOOP_RETURN_MC] >= DUMP_EFFECT_MK
    return state[COLLECTOR_MC] <= state[DUMP_FROM_MC] - DUMP_EFFECT_MK


def tank_seen_mc(state, settings, inputs):
    """The hottest tank sensor that is trusted, without any margin; UNKNOWN_MC without one."""
    high = state[TANK_HIGH_MC] if state[TANK_HIGH_STATUS] <= HELD else UNKNOWN_MC
    return max(high, state[TANK_REFERENCE_MC])


def dump_heats(state, settings, inputs):
    """Whether the tank has warmed while glycol went round the radiator and the tank pump was off: with a bypass it cannot."""
    if settings[DUMP_TOPOLOGY] != BYPASS or state[TANK_PUMP_ON] == 1 or state[DUMP_TANK_MC] == UNKNOWN_MC:
        return False
    return tank_seen_mc(state, settings, inputs) - state[DUMP_TANK_MC] >= DUMP_EFFECT_MK


def watch_dump(state, settings, inputs):
    """A dump without effect for three minutes, or one that heats the tank."""
    if state[DUTY] != DUMPING or state[COLLECTOR_PUMP_ON] == 0 or state[REASON] == COLD_SLUG_ROUND:
        state[DUMP_IDLE_MS] = 0
        state[DUMP_FROM_MC] = UNKNOWN_MC
        return
    if state[DUMP_FROM_MC] == UNKNOWN_MC:
        state[DUMP_FROM_MC] = state[COLLECTOR_MC]
        state[DUMP_TANK_MC] = tank_seen_mc(state, settings, inputs)
    works = dump_works(state, settings, inputs)
    run_timer(state, settings, inputs, DUMP_IDLE_MS, not works)
    if state[DUMP_IDLE_MS] >= DUMP_LIMIT_MS:
        bar_dump(state, settings, inputs, RADIATOR_DEAD)
    if dump_heats(state, settings, inputs):
        bar_dump(state, settings, inputs, DUMP_HEATS_TANK)


def forget_dump_fault(state, settings, inputs):
    """Half an hour later dumping is tried again."""
    if state[DUMP_BARRED] == 0:
        return
    state[DUMP_RETRY_MS] += inputs[IN_DT_MS]
    if state[DUMP_RETRY_MS] >= RETRY_LIMIT_MS:
        state[DUMP_BARRED] = 0


def tracks(state, settings, inputs):
    """Whether, long after the pump stopped, what arrives is as warm or cold as the collector."""
    if state[STANDING_MS] < TRACK_FROM_MS:
        return False
    if state[LOOP_SUPPLY_STATUS] > HELD or state[COLLECTOR_STATUS] > HELD:
        return False
    return abs(state[LOOP_SUPPLY_MC] - state[COLLECTOR_MC]) <= TRACK_NEAR_MK


def watch_unbidden(state, settings, inputs):
    """Glycol that moves without its pump: a welded relay by day or night, or buoyancy through a leaking check valve."""
    if not tracks(state, settings, inputs):
        state[TRACK_MS] = 0
        if state[STANDING_MS] >= TRACK_FROM_MS and settings[FLOW_SENSOR] == NO_FLOW_SENSOR:
            apart = state[LOOP_SUPPLY_STATUS] <= HELD and state[COLLECTOR_STATUS] <= HELD
            if apart and abs(state[LOOP_SUPPLY_MC] - state[COLLECTOR_MC]) >= TRACK_APART_MK:
                state[UNBIDDEN_FLOW] = 0
        return
    if state[TRACK_MS] == 0:
        state[TRACK_LOW_MC] = state[COLLECTOR_MC]
        state[TRACK_HIGH_MC] = state[COLLECTOR_MC]
    run_timer(state, settings, inputs, TRACK_MS, True)
    state[TRACK_LOW_MC] = min(state[TRACK_LOW_MC], state[COLLECTOR_MC])
    state[TRACK_HIGH_MC] = max(state[TRACK_HIGH_MC], state[COLLECTOR_MC])
    moved = state[TRACK_HIGH_MC] - state[TRACK_LOW_MC] >= TRACK_RANGE_MK
    if moved and state[TRACK_MS] >= TRACK_LIMIT_MS:
        state[UNBIDDEN_FLOW] = 1


def watch_tap(state, settings, inputs):
    """Water at the taps hotter than a mixing valve lets through."""
    scalds = state[TAP_STATUS] <= HELD and state[TAP_MC] >= SCALD_MC
    run_timer(state, settings, inputs, SCALD_MS, scalds)


def effect_permille(state, settings, inputs):
    """Effectiveness of the exchanger on its glycol side, in thousandths; 0 when it cannot be told now."""
    if state[STEADY_MS] < STEADY_LIMIT_MS or state[LOOP_SUPPLY_STATUS] > HELD or state[LOOP_RETURN_STATUS] > HELD:
        return 0
    lead = state[LOOP_SUPPLY_MC] - state[TANK_REFERENCE_MC]
    if state[TANK_REFERENCE_MC] == UNKNOWN_MC or lead < STEADY_LEAST_MK or settings[EXCHANGER_LEAD] > lead:
        return 0
    # Plates that pass nothing have the least effectiveness, not an unknown one.
    return max(1, min((state[LOOP_SUPPLY_MC] - state[LOOP_RETURN_MC]) * 1000 // lead, 1000))


def watch_exchanger(state, settings, inputs):
    """A slow mean of the effectiveness; poor for hours of charging, the plates are fouled."""
    steady = state[DUTY] == CHARGING and state[COLLECTOR_PUMP_ON] == 1 and state[TANK_PUMP_ON] == 1
    run_timer(state, settings, inputs, STEADY_MS, steady)
    now = effect_permille(state, settings, inputs)
    if now == 0:
        return
    if state[EFFECT_PERMILLE] == 0:
        state[EFFECT_PERMILLE] = now
    state[EFFECT_REST] += now - state[EFFECT_PERMILLE]
    state[EFFECT_PERMILLE] += state[EFFECT_REST] // EFFECT_SHARE
    state[EFFECT_REST] %= EFFECT_SHARE
    if state[EFFECT_PERMILLE] >= CLEAN_PERMILLE:
        state[FOUL_S] = 0
    elif state[EFFECT_PERMILLE] < FOUL_PERMILLE and state[FOUL_S] < FOUL_LIMIT_S:
        state[FOUL_S] += state[METER_SECONDS]


def sensor_lost(state, settings, inputs):
    """Whether a fitted sensor, or a fitted flow input, is lost."""
    if settings[FLOW_SENSOR] != NO_FLOW_SENSOR and inputs[IN_FLOW_CAUSE] != 0:
        return True
    for index in range(STATUS, STATUS + SENSORS):
        if state[index] == LOST:
            return True
    return False


def collect_plant_alarms(state, settings, inputs):
    """Alarms of sensors and plant."""
    bits = 0
    if state[LOST_MS] >= LOST_LIMIT_MS:
        bits |= ALARM_SENSOR
    if tank_crossed(state, settings, inputs):
        bits |= ALARM_TANK_CROSSED
    if state[NO_FLOW] != 0 and state[NO_FLOW] != HEAT_TOO_WEAK:
        bits |= ALARM_NO_FLOW
    if state[DUMP_BARRED] != 0:
        bits |= ALARM_DUMP
    if state[UNBIDDEN_FLOW] == 1:
        bits |= ALARM_UNBIDDEN_FLOW
    if state[FOUL_S] >= FOUL_LIMIT_S:
        bits |= ALARM_FOULED
    if state[SCALD_MS] >= SCALD_LIMIT_MS:
        bits |= ALARM_SCALD
    state[ALARMS] |= bits


def collect_station_alarms(state, settings, inputs):
    """Alarms of frost, steam, guard and board."""
    bits = 0
    if state[FROST] == 1:
        bits |= ALARM_FROST
    if state[STAGNATION] == 1 and state[COLLECTOR_STATUS] <= HELD:
        bits |= ALARM_STEAM
    if state[GUARD_HOLD_MS] > 0:
        bits |= ALARM_GUARD
    if inputs[IN_RESETS] >= 3:
        bits |= ALARM_RESETS
    if inputs[IN_SETTINGS_LOST] != 0:
        bits |= ALARM_SETTINGS
    state[ALARMS] |= bits


def watch(state, settings, inputs):
    """Look for plant that does not follow, and end what was given up long enough ago."""
    forget_flow_fault(state, settings, inputs)
    forget_dump_fault(state, settings, inputs)
    watch_joining(state, settings, inputs)
    watch_far(state, settings, inputs)
    watch_flow(state, settings, inputs)
    watch_dump(state, settings, inputs)
    watch_unbidden(state, settings, inputs)
    watch_tap(state, settings, inputs)
    watch_exchanger(state, settings, inputs)
    lost = sensor_lost(state, settings, inputs)
    run_timer(state, settings, inputs, LOST_MS, lost)


def speak(state, settings, inputs):
    """All alarms of this step, and the contact that says that there is one; after the guard, which does not silence it."""
    state[ALARMS] = 0
    collect_plant_alarms(state, settings, inputs)
    collect_station_alarms(state, settings, inputs)
    on = 1 if state[ALARMS] != 0 else 0
    if state[ALARM_ON] != on:
        state[COMMAND + ALARM] = on
        state[OUTPUT_MS + ALARM] = 0
