"""Facts with a memory: each latch has two thresholds.

Latches that forbid something are set at boot, and only a reading clears them. The latches of the
tank are in tank.py, that of frost in frost.py.
"""

from . import readings
from . import settings as cfg
from . import state as s
from .frost import latch_frost
from .state import latched
from .tank import (
    COOLING_INVERSION_MK,
    inversion_mk,
    latch_full,
    latch_hot,
    latch_over,
    off_scale,
    pump_barred,
    ran_enough,
    take_hottest,
    take_reference,
    time_above,
    time_beyond,
    time_plates,
)

# Night cooling starts at the first difference, where it is worth the pumps' power, and stops at the
# second. Common practice for any differential.
COOLING_START_MK = 10000
COOLING_STOP_MK = 2000
# A radiator that failed counts as useless for two days: a cloudy one may lie between two hot ones.
HELPLESS_S = 172800
# Another sensor shows a collector at its limit, whose own reads far below: by more than any pipe
# or pocket explains.
ELSEWHERE_MK = 20000
# It may hold steam until that sensor shows no more than water has, too.
WATER_TOP_MC = 95000
# Night cooling starts only while the bottom reads at most this much above the top: heat that it
# brings by mistake then stays near the top's own temperature.
COOLING_UPRIGHT_MK = 500


def shows_steam(state, settings, inputs, sensor):
    """Whether this sensor shows a collector at its limit, or one that has not cooled since.

    It is far above what the collector's own shows.
    """
    shown = readings.shown_mc(state, settings, inputs, sensor)
    if shown < state[s.COLLECTOR_MC] + ELSEWHERE_MK:
        return False
    if state[s.STAGNATION] != 0 and shown >= WATER_TOP_MC:
        return True
    return shown >= settings[cfg.COLLECTOR_LIMIT]


def hot_elsewhere(state, settings, inputs):
    """Whether another sensor shows a collector at its limit, so that the two are exchanged."""
    sensor = s.WATER_SENSORS - 1
    while sensor > s.COLLECTOR and not shows_steam(state, settings, inputs, sensor):
        sensor -= 1
    return sensor > s.COLLECTOR


def latch_steam(state, settings, inputs):
    """Latch possible steam in the collector; an unknown collector may have boiled."""
    lost = not s.trusted(state, s.COLLECTOR) or hot_elsewhere(state, settings, inputs)
    if lost or state[s.COLLECTOR_MC] >= settings[cfg.COLLECTOR_LIMIT]:
        state[s.STAGNATION] = 1
    elif state[s.COLLECTOR_MC] <= settings[cfg.COLLECTOR_RESET]:
        state[s.STAGNATION] = 0


def latch_dump(state, settings, inputs):
    """Latch a collector that is hot enough to dump, and clear it once it has cooled just enough."""
    if not s.trusted(state, s.COLLECTOR):
        return
    if state[s.COLLECTOR_MC] >= settings[cfg.DUMP_COLLECTOR_START]:
        state[s.DUMP_WANTED] = 1
    elif state[s.COLLECTOR_MC] <= settings[cfg.DUMP_COLLECTOR_STOP] and ran_enough(state, settings, inputs):
        state[s.DUMP_WANTED] = 0


def latch_difference(state, settings, inputs):
    """Latch heat worth fetching, from start_difference down to stop_difference.

    Without both temperatures it is not.
    """
    if not s.trusted(state, s.COLLECTOR) or state[s.TANK_REFERENCE_MC] == s.UNKNOWN_MC:
        state[s.CHARGE_WANTED] = 0
        return
    gain = state[s.COLLECTOR_MC] - state[s.TANK_REFERENCE_MC] - state[s.LOW_BY_MK]
    wanted = latched(state[s.CHARGE_WANTED], gain, settings[cfg.START_DIFFERENCE], settings[cfg.STOP_DIFFERENCE])
    if wanted == 1 and state[s.COLLECTOR_MC] >= settings[cfg.COLLECTOR_MINIMUM]:
        state[s.CHARGE_WANTED] = 1
    elif wanted == 0 and ran_enough(state, settings, inputs):
        state[s.CHARGE_WANTED] = 0


def watch_radiator(state, settings, inputs):
    """Time since the radiator was of no use: there is none, it failed, or the collector boiled."""
    boils = s.trusted(state, s.COLLECTOR) and state[s.COLLECTOR_MC] >= settings[cfg.COLLECTOR_LIMIT]
    if boils or state[s.DUMP_BARRED] != 0 or settings[cfg.DUMP_TOPOLOGY] == cfg.NONE:
        state[s.HELPLESS_S] = HELPLESS_S
    else:
        state[s.HELPLESS_S] = max(state[s.HELPLESS_S] - state[s.METER_SECONDS], 0)


def latch_cooling(state, settings, inputs):
    """Latch night cooling: away, no use in a radiator, and the collector much colder than the tank.

    A bottom that reads hotter than the top is not believed: it may be a collector in the sun,
    swapped with the sensor that looks cold. Without tank_high nobody could tell.
    """
    if settings[cfg.AWAY] == 0 or state[s.HELPLESS_S] == 0 or off_scale(state, settings, inputs):
        state[s.COOLING_WANTED] = 0
        return
    if not s.trusted(state, s.COLLECTOR) or not s.trusted(state, s.TANK_HIGH) or pump_barred(state, settings, inputs):
        state[s.COOLING_WANTED] = 0
        return
    fall = max(state[s.COLLECTOR_MC], settings[cfg.AWAY_LIMIT])
    fall = state[s.TANK_COLDEST_MC] - fall
    inversion = inversion_mk(state, settings, inputs)
    if fall >= COOLING_START_MK and inversion <= COOLING_UPRIGHT_MK:
        state[s.COOLING_WANTED] = 1
    elif (fall <= COOLING_STOP_MK or inversion >= COOLING_INVERSION_MK) and ran_enough(state, settings, inputs):
        state[s.COOLING_WANTED] = 0


def observe(state, settings, inputs):
    """Derive references and latches from the judged readings."""
    take_reference(state, settings, inputs)
    take_hottest(state, settings, inputs)
    time_above(state, settings, inputs)
    time_beyond(state, settings, inputs)
    latch_over(state, settings, inputs)
    latch_full(state, settings, inputs)
    latch_steam(state, settings, inputs)
    latch_dump(state, settings, inputs)
    latch_hot(state, settings, inputs)
    time_plates(state, settings, inputs)
    latch_difference(state, settings, inputs)
    latch_frost(state, settings, inputs)
    watch_radiator(state, settings, inputs)
    latch_cooling(state, settings, inputs)


def wake(state, settings, inputs):
    """Forget the tank's temperatures and set every latch that forbids something.

    Summer is none: it saves the fan's power, and its mean of a day needs a day.
    """
    state[s.TANK_REFERENCE_MC] = s.UNKNOWN_MC
    state[s.TANK_HOTTEST_MC] = s.UNKNOWN_MC
    state[s.TANK_COLDEST_MC] = s.UNKNOWN_MC
    state[s.TANK_OVER] = 1
    state[s.TANK_FULL] = 1
    state[s.STAGNATION] = 1
    state[s.CHARGE_HOT] = 1
    state[s.ROOM_WARM] = 1
