"""Facts with a memory: each latch has two thresholds, and those that protect are set at boot and cleared only by a reading."""

from .coldloop import glycol_sinks
from .settings import (
    AWAY,
    CHARGE_LIMIT,
    CHARGE_LIMIT_RESET,
    COLLECTOR_LIMIT,
    COLLECTOR_MINIMUM,
    COLLECTOR_RESET,
    DUMP_COLLECTOR_START,
    DUMP_COLLECTOR_STOP,
    EXCHANGER_FROST,
    MINIMUM_RUN,
    START_DIFFERENCE,
    STOP_DIFFERENCE,
    STRATIFICATION_MARGIN,
    TANK_FULL_RESET,
    TANK_LIMIT_RESET,
    tank_full_low_mc,
    tank_limit_mc,
)
from .state import (
    CAUSE,
    CAUSE_RANGE,
    CHARGE_HOT,
    CHARGE_WANTED,
    COLLECTOR_MC,
    COLLECTOR_PUMP_MS,
    COLLECTOR_PUMP_ON,
    COLLECTOR_STATUS,
    COOLING_WANTED,
    DUMP_WANTED,
    DUTY,
    DUTY_MS,
    EXCHANGER_MC,
    EXCHANGER_STATUS,
    FROST,
    FROST_GUARD,
    HELD,
    IN_RAW_MC,
    LOOP_SUPPLY_MC,
    LOOP_SUPPLY_STATUS,
    STAGNATION,
    TANK_COLDEST_MC,
    TANK_FULL,
    TANK_HIGH,
    TANK_HIGH_MC,
    TANK_HIGH_STATUS,
    TANK_HOTTEST_MC,
    TANK_LOW,
    TANK_LOW_MC,
    TANK_LOW_STATUS,
    TANK_OVER,
    TANK_REFERENCE_MC,
    UNKNOWN_MC,
)

# The sensor sits on the plates at the end where glycol creeps in with the pump off: where it leaves for the roof, or, behind a
# radiator in series, where it comes from the radiator.
FROST_RESET_MK = 2000
# The tank pump then runs this long at least, for the whole exchanger.
FROST_LEAST_MS = 600000
# A tank whose bottom reads this much hotter than its top has sensors that are exchanged or lie: hot water does not stay below.
INVERSION_MK = 5000
# Night cooling is worth the pumps' power from here on, and ends here. Common practice for any differential.
COOLING_START_MK = 10000
COOLING_STOP_MK = 2000
# Night cooling begins while the bottom reads no more than this above the top, and ends at COOLING_INVERSION_MK: the sensors of a
# mixed tank may be a kelvin apart. Heat that it brings by mistake stays near the top's own temperature.
COOLING_UPRIGHT_MK = 500
COOLING_INVERSION_MK = 1500


def take_reference(state, settings, inputs):
    """tank_low, else tank_high, is what the collector is compared with; the coldest is what nothing may heat by mistake."""
    low = state[TANK_LOW_MC] if state[TANK_LOW_STATUS] <= HELD else UNKNOWN_MC
    high = state[TANK_HIGH_MC] if state[TANK_HIGH_STATUS] <= HELD else UNKNOWN_MC
    state[TANK_REFERENCE_MC] = low if low != UNKNOWN_MC else high
    state[TANK_COLDEST_MC] = min(low, high) if low != UNKNOWN_MC and high != UNKNOWN_MC else max(low, high)


def tank_crossed(state, settings, inputs):
    """Whether the bottom of the tank reads hotter than its top, which water does not allow."""
    if state[TANK_LOW_STATUS] > HELD or state[TANK_HIGH_STATUS] > HELD:
        return False
    return state[TANK_LOW_MC] >= state[TANK_HIGH_MC] + INVERSION_MK


def take_hottest(state, settings, inputs):
    """The hottest trusted tank sensor carries the limits; with the top out of sight the margin stands in for it."""
    high = state[TANK_HIGH_MC] if state[TANK_HIGH_STATUS] <= HELD else UNKNOWN_MC
    if high == UNKNOWN_MC or tank_crossed(state, settings, inputs):
        high = state[TANK_REFERENCE_MC]
        if high != UNKNOWN_MC:
            high += settings[STRATIFICATION_MARGIN]
    state[TANK_HOTTEST_MC] = max(high, state[TANK_REFERENCE_MC])


def off_scale(state, settings, inputs):
    """Whether a tank sensor reads hotter than any tank: no value, but no reason to bring heat, or to take any out."""
    if state[CAUSE + TANK_LOW] == CAUSE_RANGE and inputs[IN_RAW_MC + TANK_LOW] > 0:
        return True
    return state[CAUSE + TANK_HIGH] == CAUSE_RANGE and inputs[IN_RAW_MC + TANK_HIGH] > 0


def latch_over(state, settings, inputs):
    """The tank is over its limit; the memory stays while no tank sensor is trusted."""
    if state[TANK_REFERENCE_MC] == UNKNOWN_MC:
        return
    hottest = state[TANK_HOTTEST_MC]
    limit = tank_limit_mc(settings)
    if hottest >= limit or off_scale(state, settings, inputs):
        state[TANK_OVER] = 1
    elif hottest < limit - settings[TANK_LIMIT_RESET]:
        state[TANK_OVER] = 0


def latch_full(state, settings, inputs):
    """The tank is full: its low end is, or any part is over the limit."""
    if state[TANK_REFERENCE_MC] == UNKNOWN_MC:
        return
    low = state[TANK_REFERENCE_MC]
    if state[TANK_HIGH_STATUS] > HELD:
        low = state[TANK_HOTTEST_MC]
    full = tank_full_low_mc(settings)
    if low >= full or state[TANK_OVER] == 1:
        state[TANK_FULL] = 1
    elif low < full - settings[TANK_FULL_RESET]:
        state[TANK_FULL] = 0


def latch_steam(state, settings, inputs):
    """There may be steam in the collector; while it is unknown it may have boiled."""
    if state[COLLECTOR_STATUS] > HELD or state[COLLECTOR_MC] >= settings[COLLECTOR_LIMIT]:
        state[STAGNATION] = 1
    elif state[COLLECTOR_MC] <= settings[COLLECTOR_RESET]:
        state[STAGNATION] = 0


def ran_enough(state, settings, inputs):
    """Whether the collector pump is off, or has run its minimum."""
    return state[COLLECTOR_PUMP_ON] == 0 or state[COLLECTOR_PUMP_MS] >= settings[MINIMUM_RUN]


def latch_dump(state, settings, inputs):
    """The collector is hot enough to be relieved, just enough."""
    if state[COLLECTOR_STATUS] > HELD:
        return
    if state[COLLECTOR_MC] >= settings[DUMP_COLLECTOR_START]:
        state[DUMP_WANTED] = 1
    elif state[COLLECTOR_MC] <= settings[DUMP_COLLECTOR_STOP] and ran_enough(state, settings, inputs):
        state[DUMP_WANTED] = 0


def latch_hot(state, settings, inputs):
    """Glycol too hot for drinking water: the collector's, or what already arrives at the station."""
    if state[COLLECTOR_STATUS] > HELD:
        return
    hot = state[COLLECTOR_MC]
    if state[LOOP_SUPPLY_STATUS] <= HELD:
        hot = max(hot, state[LOOP_SUPPLY_MC])
    if hot >= settings[CHARGE_LIMIT]:
        state[CHARGE_HOT] = 1
    elif hot < settings[CHARGE_LIMIT] - settings[CHARGE_LIMIT_RESET]:
        state[CHARGE_HOT] = 0


def latch_difference(state, settings, inputs):
    """Heat is worth fetching: from start_difference until stop_difference. Without both temperatures it is not."""
    if state[COLLECTOR_STATUS] > HELD or state[TANK_REFERENCE_MC] == UNKNOWN_MC:
        state[CHARGE_WANTED] = 0
        return
    gain = state[COLLECTOR_MC] - state[TANK_REFERENCE_MC]
    if gain >= settings[START_DIFFERENCE]:
        if state[COLLECTOR_MC] >= settings[COLLECTOR_MINIMUM]:
            state[CHARGE_WANTED] = 1
    elif gain <= settings[STOP_DIFFERENCE] and ran_enough(state, settings, inputs):
        state[CHARGE_WANTED] = 0


def frost_over(state, settings, inputs, frost):
    """Whether the tank pump has run long enough, and the plates are clearly warmer than this frost, or out of sight."""
    if state[DUTY] == FROST_GUARD and state[DUTY_MS] < FROST_LEAST_MS:
        return False
    return state[EXCHANGER_STATUS] > HELD or state[EXCHANGER_MC] >= frost + FROST_RESET_MK


def latch_frost(state, settings, inputs):
    """The exchanger's plates are near frost; a sensor that is lost or not fitted cannot say so."""
    seen = state[EXCHANGER_STATUS] <= HELD and state[EXCHANGER_MC] < settings[EXCHANGER_FROST]
    if seen or glycol_sinks(state, settings, inputs):
        state[FROST] = 1
    elif frost_over(state, settings, inputs, settings[EXCHANGER_FROST]):
        state[FROST] = 0


def inversion_mk(state, settings, inputs):
    """By how much the bottom of the tank reads hotter than the top; 0 when it does not, or only one of them is trusted."""
    return state[TANK_REFERENCE_MC] - state[TANK_COLDEST_MC]


def latch_cooling(state, settings, inputs):
    """Away with a full tank, and the collector is so much colder that the night can take heat out of it.

    A bottom that reads hotter than the top is no tank's: it may be a collector in the sun, exchanged with the one that looks cold.
    Without the top nobody could tell.
    """
    if settings[AWAY] == 0 or state[TANK_FULL] == 0 or off_scale(state, settings, inputs):
        state[COOLING_WANTED] = 0
        return
    if state[COLLECTOR_STATUS] > HELD or state[TANK_HIGH_STATUS] > HELD:
        state[COOLING_WANTED] = 0
        return
    fall = state[TANK_COLDEST_MC] - state[COLLECTOR_MC]
    inversion = inversion_mk(state, settings, inputs)
    if fall >= COOLING_START_MK and inversion <= COOLING_UPRIGHT_MK:
        state[COOLING_WANTED] = 1
    elif (fall <= COOLING_STOP_MK or inversion >= COOLING_INVERSION_MK) and ran_enough(state, settings, inputs):
        state[COOLING_WANTED] = 0


def observe(state, settings, inputs):
    """From judged readings to references and latches."""
    take_reference(state, settings, inputs)
    take_hottest(state, settings, inputs)
    latch_over(state, settings, inputs)
    latch_full(state, settings, inputs)
    latch_steam(state, settings, inputs)
    latch_dump(state, settings, inputs)
    latch_hot(state, settings, inputs)
    latch_difference(state, settings, inputs)
    latch_frost(state, settings, inputs)
    latch_cooling(state, settings, inputs)


def wake(state, settings, inputs):
    """After a reset all protective latches are set."""
    state[TANK_REFERENCE_MC] = UNKNOWN_MC
    state[TANK_HOTTEST_MC] = UNKNOWN_MC
    state[TANK_COLDEST_MC] = UNKNOWN_MC
    state[TANK_OVER] = 1
    state[TANK_FULL] = 1
    state[STAGNATION] = 1
    state[CHARGE_HOT] = 1
