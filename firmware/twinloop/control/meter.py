"""Run time, starts, heat estimate, hours of duty and of stagnation: what the station did, in whole units.

The totals have no top of their own: 31 bits of seconds are 34 years.
"""

from .settings import COLLECTOR_FLOW, COLLECTOR_LIMIT, FLOW_METER, FLOW_SENSOR, GLYCOL_MASS_PERCENT
from .state import (
    CHARGING,
    COLLECTOR_MC,
    COLLECTOR_PUMP_ON,
    COLLECTOR_STATUS,
    COMMAND,
    DUMPED_J,
    DUMPED_WH,
    DUMPING,
    DUTY,
    DUTY_S,
    HEAT_J,
    HEAT_REST,
    HEAT_WH,
    HELD,
    HOT_MS,
    IN_DT_MS,
    IN_FLOW_CAUSE,
    IN_FLOW_ML_PER_MIN,
    LOOP_RETURN_MC,
    LOOP_RETURN_STATUS,
    LOOP_SUPPLY_MC,
    LOOP_SUPPLY_STATUS,
    METER_ML,
    METER_MS,
    METER_SECONDS,
    ON_S,
    OUTPUT_MS,
    OUTPUTS,
    SINCE_HOT_S,
    STAGNATION_S,
    STARTS,
    TANK_HIGH_MC,
    TANK_HIGH_STATUS,
    TANK_LOW_MC,
    TANK_LOW_STATUS,
)

# Heat capacity of a litre of glycol at 60 C in J/K, at 0, 10, .. 60 per cent by mass. Between these: linear.
# source: CoolProp 8.0.0, density times specific heat of INCOMP::MPG, 0.3 .. 0.5 as in the check values; 0 is water at 60 C.
GLYCOL_J_PER_L_K = (4115, 4088, 4043, 3967, 3858, 3722, 3566)


# More than any loop of this size carries; keeps the products below 2^30.
FLOW_TOP = 10000
# source: UK HSE, L8 / HSG274: hot water is stored at 60 C; the hour is common practice for a whole tank.
HOT_MC = 60000
HOT_HOUR_MS = 3600000


def count_outputs(state, settings, inputs):
    """The whole seconds of this step go to every output that was on."""
    for output in range(OUTPUTS):
        if state[COMMAND + output] == 1:
            state[ON_S + output] += state[METER_SECONDS]


def count_time(state, settings, inputs):
    """Whole seconds of this step, for outputs, duty and stagnation as they were during it."""
    state[METER_MS] += inputs[IN_DT_MS]
    state[METER_SECONDS] = state[METER_MS] // 1000
    state[METER_MS] %= 1000
    count_outputs(state, settings, inputs)
    state[DUTY_S + state[DUTY]] += state[METER_SECONDS]
    if state[COLLECTOR_STATUS] <= HELD and state[COLLECTOR_MC] >= settings[COLLECTOR_LIMIT]:
        state[STAGNATION_S] += state[METER_SECONDS]


def capacity_j_per_l_k(state, settings, inputs):
    """Heat capacity of the loop's fluid, between two rows of the table."""
    percent = settings[GLYCOL_MASS_PERCENT]
    left = GLYCOL_J_PER_L_K[percent // 10]
    return left + (GLYCOL_J_PER_L_K[percent // 10 + 1] - left) * (percent % 10) // 10


def volume_ml(state, settings, inputs):
    """Glycol moved in this step, measured or by the bucket's figure, whole millilitres; the rest waits for the next."""
    flow = settings[COLLECTOR_FLOW]
    if settings[FLOW_SENSOR] == FLOW_METER and inputs[IN_FLOW_CAUSE] == 0:
        flow = min(max(inputs[IN_FLOW_ML_PER_MIN], 0), FLOW_TOP)
    part = flow * inputs[IN_DT_MS] + state[METER_ML]
    state[METER_ML] = part % 60000
    return part // 60000


def heat_j(state, settings, inputs):
    """Heat that the glycol left at the station in this step: volume times capacity times supply less return, in joules.

    Bounds: 10 l/min for 60 s is 10,000 ml; the difference is cut at 100 K; every product stays below 2^30.
    """
    fall = min(max(state[LOOP_SUPPLY_MC] - state[LOOP_RETURN_MC], 0), 100000)
    product = volume_ml(state, settings, inputs) * fall + state[HEAT_REST]
    state[HEAT_REST] = product % 1000
    # Millilitres times kelvin; a thousand of them times J/(l K) are joules.
    product = product // 1000
    capacity = capacity_j_per_l_k(state, settings, inputs)
    return product // 1000 * capacity + product % 1000 * capacity // 1000


def count_heat(state, settings, inputs):
    """The heat estimate, while glycol moves and both loop sensors are trusted."""
    if state[COLLECTOR_PUMP_ON] == 0 or state[LOOP_SUPPLY_STATUS] > HELD or state[LOOP_RETURN_STATUS] > HELD:
        return
    if state[DUTY] == CHARGING:
        state[HEAT_J] += heat_j(state, settings, inputs)
        state[HEAT_WH] += state[HEAT_J] // 3600
        state[HEAT_J] %= 3600
    elif state[DUTY] == DUMPING:
        state[DUMPED_J] += heat_j(state, settings, inputs)
        state[DUMPED_WH] += state[DUMPED_J] // 3600
        state[DUMPED_J] %= 3600


def count_hot_hour(state, settings, inputs):
    """Hours since the hottest tank sensor was at or above 60 C for an hour without a break: a reminder about Legionella."""
    state[SINCE_HOT_S] += state[METER_SECONDS]
    hot = state[TANK_HIGH_STATUS] <= HELD and state[TANK_HIGH_MC] >= HOT_MC
    if state[TANK_LOW_STATUS] <= HELD and state[TANK_LOW_MC] >= HOT_MC:
        hot = True
    state[HOT_MS] = min(state[HOT_MS] + inputs[IN_DT_MS], HOT_HOUR_MS) if hot else 0
    if state[HOT_MS] == HOT_HOUR_MS:
        state[SINCE_HOT_S] = 0


def count_starts(state, settings, inputs):
    """An output that was switched on in this very step."""
    for output in range(OUTPUTS):
        if state[COMMAND + output] == 1 and state[OUTPUT_MS + output] == 0:
            state[STARTS + output] += 1
