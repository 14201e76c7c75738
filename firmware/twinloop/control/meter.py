"""Run time, starts, hours of duty and of stagnation, and a heat estimate, in whole units.

The totals need no upper limit: 31 bits of seconds are 34 years.
"""

from . import settings as cfg
from . import state as s

# Heat capacity of a litre of glycol at 60 C in J/K, at 0, 10, .. 60 per cent by mass, linear in
# between.
# source: CoolProp 8.0.0, density times specific heat of INCOMP::MPG; 0 is water at 60 C.
GLYCOL_J_PER_L_K = (4115, 4088, 4043, 3967, 3858, 3722, 3566)


# More than any loop of this size carries; keeps the products below 2^30.
FLOW_TOP = 10000
# source: UK HSE, L8 / HSG274: hot water is stored at 60 C. The hour is common practice for a whole
# tank.
HOT_MC = 60000
HOT_HOUR_MS = 3600000


def count_outputs(state, settings, inputs):
    """Add this step's whole seconds to every output that was on."""
    for output in range(s.OUTPUTS):
        if state[s.COMMAND + output] != 0:
            state[s.ON_S + output] += state[s.METER_SECONDS]


def count_filter(state, settings, inputs):
    """Add this step's whole seconds to the filter's, while the fan blew."""
    if state[s.AIR_FAN_ON] != 0:
        state[s.FILTER_S] += state[s.METER_SECONDS]


def count_time(state, settings, inputs):
    """Add this step's whole seconds to outputs, duty and stagnation, as they were during it."""
    state[s.METER_MS] += inputs[s.IN_DT_MS]
    state[s.METER_SECONDS] = state[s.METER_MS] // 1000
    state[s.METER_MS] %= 1000
    count_outputs(state, settings, inputs)
    count_filter(state, settings, inputs)
    state[s.DUTY_S + state[s.DUTY]] += state[s.METER_SECONDS]
    if s.trusted(state, s.COLLECTOR) and state[s.COLLECTOR_MC] >= settings[cfg.COLLECTOR_LIMIT]:
        state[s.STAGNATION_S] += state[s.METER_SECONDS]


def capacity_j_per_l_k(state, settings, inputs):
    """Heat capacity of the loop's glycol, interpolated in the table."""
    percent = settings[cfg.GLYCOL_MASS_PERCENT]
    left = GLYCOL_J_PER_L_K[percent // 10]
    return left + (GLYCOL_J_PER_L_K[percent // 10 + 1] - left) * (percent % 10) // 10


def volume_ml(state, settings, inputs):
    """Whole millilitres of glycol moved in this step, from the meter or from collector_flow.

    The remainder waits for the next step.
    """
    flow = settings[cfg.COLLECTOR_FLOW]
    if settings[cfg.FLOW_SENSOR] == cfg.FLOW_METER and inputs[s.IN_FLOW_CAUSE] == 0:
        flow = min(max(inputs[s.IN_FLOW_ML_PER_MIN], 0), FLOW_TOP)
    part = flow * inputs[s.IN_DT_MS] + state[s.METER_ML]
    state[s.METER_ML] = part % 60000
    return part // 60000


def heat_j(state, settings, inputs):
    """Heat that the glycol left at the station in this step, in joules.

    Volume times capacity times supply less return. Bounds: 10 l/min for 60 s is 10,000 ml; the
    difference is cut at 100 K; every product stays below 2^30.
    """
    fall = min(max(state[s.LOOP_SUPPLY_MC] - state[s.LOOP_RETURN_MC], 0), 100000)
    product = volume_ml(state, settings, inputs) * fall + state[s.HEAT_REST]
    state[s.HEAT_REST] = product % 1000
    # Millilitres times kelvin; a thousand of them times J/(l K) are joules.
    product = product // 1000
    capacity = capacity_j_per_l_k(state, settings, inputs)
    return product // 1000 * capacity + product % 1000 * capacity // 1000


def count_heat(state, settings, inputs):
    """Add to the heat estimate while glycol moves and both loop sensors are trusted."""
    if state[s.COLLECTOR_PUMP_ON] == 0 or not s.trusted(state, s.LOOP_SUPPLY) or not s.trusted(state, s.LOOP_RETURN):
        return
    if state[s.DUTY] == s.CHARGING:
        state[s.HEAT_J] += heat_j(state, settings, inputs)
        state[s.HEAT_WH] += state[s.HEAT_J] // 3600
        state[s.HEAT_J] %= 3600
    elif state[s.DUTY] == s.DUMPING:
        state[s.DUMPED_J] += heat_j(state, settings, inputs)
        state[s.DUMPED_WH] += state[s.DUMPED_J] // 3600
        state[s.DUMPED_J] %= 3600


def count_hot_hour(state, settings, inputs):
    """Count the seconds since the tank was last hot for an hour: a reminder about Legionella.

    Hot means its hottest sensor at or above 60 C without a break.
    """
    state[s.SINCE_HOT_S] += state[s.METER_SECONDS]
    hot = s.trusted(state, s.TANK_HIGH) and state[s.TANK_HIGH_MC] >= HOT_MC
    if s.trusted(state, s.TANK_LOW) and state[s.TANK_LOW_MC] >= HOT_MC:
        hot = True
    state[s.HOT_MS] = min(state[s.HOT_MS] + inputs[s.IN_DT_MS], HOT_HOUR_MS) if hot else 0
    if state[s.HOT_MS] == HOT_HOUR_MS:
        state[s.SINCE_HOT_S] = 0


def count_starts(state, settings, inputs):
    """Count the outputs that were switched on in this step."""
    for output in range(s.OUTPUTS):
        if state[s.COMMAND + output] != 0 and state[s.OUTPUT_MS + output] == 0:
            state[s.STARTS + output] += 1
