"""The reference rule: what a controller could do that sees the true state of the plant.

It stands beside the firmware in block.py, on a copy of the same plant under the same weather and
the same faults of the plant. It knows neither sensors nor doubts, obeys the limits of the settings,
and is kept as simple as it can be: where it fails, the plant fails and not the controller. The same
rule on the readings believes them all: where that fails as well, they do not tell enough.
"""

from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control.frost import FREEZING_MC
from twinloop.control.readings import FITTED_BY

from ..thermal import parameters as p
from ..thermal import state as th
from ..thermal.jit import kernel
from ..thermal.rows import extremes_c
from ..thermal.sensors import loop_extremes_c, places_c, plate_coldest_c

# Who decides in a run of block.py.
FIRMWARE = 0
TRUTH = 1  # the reference rule, on true temperatures
READINGS = 2  # the reference rule, on what the sensors show

# In millikelvin and millidegrees, all ours: charging, the tank pump, and how far a latch has to
# fall.
START_MK, STOP_MK = 6000, 2000
JOIN_MK = 1000
FALL_MK = 3000
INLET_TOP_MC = 92000
# Pumps stall in slush before glycol is solid.
STIFF_MC = 3000
# A plate without a sensor looks as warm as this.
WARM_MC = 60000


@kernel
def see(plant, values, ambient_c, inputs):
    """Put the truth in the place of the readings.

    tank_high shows the hottest layer, outdoor the coldest glycol, exchanger the coldest plate.
    """
    now_c = places_c(plant, values, ambient_c)
    for sensor in range(s.SENSORS):
        inputs[s.IN_RAW_MC + sensor] = int(now_c[sensor] * 1000.0)
    inputs[s.IN_RAW_MC + s.TANK_HIGH] = int(extremes_c(plant, th.TANK_FIRST, int(values[p.TANK_NODES]))[1] * 1000.0)
    inputs[s.IN_RAW_MC + s.OUTDOOR] = int(loop_extremes_c(plant, values)[0] * 1000.0)
    inputs[s.IN_RAW_MC + s.EXCHANGER] = int(plate_coldest_c(plant, values) * 1000.0)


@kernel
def shows(settings, inputs, sensor):
    """Whether a sensor is fitted and read."""
    fitted = FITTED_BY[sensor] == s.ALWAYS or settings[FITTED_BY[sensor]] != 0
    return fitted and inputs[s.IN_RAW_CAUSE + sensor] == s.CAUSE_NONE


@kernel
def stand_in(settings, inputs, sensor, other_mc):
    """Put another value in the place of a sensor that shows nothing."""
    if not shows(settings, inputs, sensor):
        inputs[s.IN_RAW_MC + sensor] = other_mc


@kernel
def believe(settings, inputs, state):
    """Complete the readings: what is missing is like its neighbour.

    outdoor shows the coldest glycol: as cold as the air while nothing moves. Without the collector
    there may be steam.
    """
    stand_in(settings, inputs, s.COLLECTOR, settings[cfg.COLLECTOR_LIMIT])
    collector = inputs[s.IN_RAW_MC + s.COLLECTOR]
    stand_in(settings, inputs, s.TANK_LOW, inputs[s.IN_RAW_MC + s.TANK_HIGH])
    stand_in(settings, inputs, s.TANK_HIGH, inputs[s.IN_RAW_MC + s.TANK_LOW])
    stand_in(settings, inputs, s.LOOP_SUPPLY, collector)
    stand_in(settings, inputs, s.LOOP_RETURN, collector)
    stand_in(settings, inputs, s.OUTDOOR, collector)
    stand_in(settings, inputs, s.EXCHANGER, WARM_MC)
    coldest = min(collector, inputs[s.IN_RAW_MC + s.LOOP_SUPPLY], inputs[s.IN_RAW_MC + s.LOOP_RETURN])
    if state[s.COLLECTOR_PUMP_ON] == 0:
        coldest = min(coldest, inputs[s.IN_RAW_MC + s.OUTDOOR])
    inputs[s.IN_RAW_MC + s.OUTDOOR] = coldest


@kernel
def follow_valve(settings, inputs, state):
    """Where the valve is by its time, 0 to 1."""
    way = inputs[s.IN_DT_MS] if state[s.DUMP_VALVE_POWER_ON] != 0 else -inputs[s.IN_DT_MS]
    state[s.VALVE_MS] = min(max(state[s.VALVE_MS] + way, 0), settings[cfg.DUMP_TRAVEL])
    return state[s.VALVE_MS] / settings[cfg.DUMP_TRAVEL]


@kernel
def latch(state, index, sets, clears):
    """Set, clear or keep one latch."""
    if sets:
        state[index] = 1
    elif clears:
        state[index] = 0


@kernel
def remember(settings, inputs, state):
    """Update the latches of the rule."""
    collector, low = inputs[s.IN_RAW_MC + s.COLLECTOR], inputs[s.IN_RAW_MC + s.TANK_LOW]
    hottest, inlet = max(low, inputs[s.IN_RAW_MC + s.TANK_HIGH]), inputs[s.IN_RAW_MC + s.LOOP_SUPPLY]
    limit = settings[cfg.TANK_LIMIT] - settings[cfg.TANK_MARGIN]
    latch(state, s.STAGNATION, collector >= settings[cfg.COLLECTOR_LIMIT], collector <= settings[cfg.COLLECTOR_RESET])
    latch(state, s.TANK_OVER, hottest >= limit + JOIN_MK and collector >= low, hottest <= limit)
    full = settings[cfg.TANK_FULL_LOW] - settings[cfg.TANK_MARGIN]
    cool = hottest <= limit - FALL_MK and low < full - settings[cfg.TANK_FULL_RESET]
    latch(state, s.TANK_FULL, hottest >= limit - JOIN_MK or low >= full, cool)
    latch(state, s.DUMP_WANTED, collector >= settings[cfg.DUMP_COLLECTOR_START], collector <= settings[cfg.DUMP_COLLECTOR_STOP])
    hot = max(collector, inlet)
    latch(
        state, s.CHARGE_HOT, hot >= settings[cfg.CHARGE_LIMIT], hot < settings[cfg.CHARGE_LIMIT] - settings[cfg.CHARGE_LIMIT_RESET]
    )
    latch(state, s.CHARGE_WANTED, collector - low >= START_MK, collector - low <= STOP_MK)


@kernel
def choose(settings, inputs, state):
    """The duty of the rule: charge, dump or stand still."""
    topology = settings[cfg.DUMP_TOPOLOGY]
    frosty = inputs[s.IN_RAW_MC + s.OUTDOOR] < settings[cfg.EXCHANGER_FROST]
    # Beside a tank above its limit no glycol moves that could heat it.
    if state[s.STAGNATION] == 1 or state[s.TANK_OVER] == 1 or frosty and topology != cfg.BYPASS:
        return s.IDLE
    charges = state[s.CHARGE_WANTED] == 1 and state[s.TANK_FULL] == 0 and state[s.CHARGE_HOT] == 0
    if charges and not frosty:
        return s.CHARGING
    dumps = state[s.DUMP_WANTED] == 1 or state[s.CHARGE_WANTED] == 1 and (state[s.CHARGE_HOT] == 1 or frosty)
    return s.DUMPING if dumps and topology != cfg.NONE else s.IDLE


@kernel
def blow(settings, inputs, state):
    """The fan of an air heater, where there is one."""
    room = inputs[s.IN_RAW_MC + s.ROOM]
    gain = inputs[s.IN_RAW_MC + s.AIR_COLLECTOR] - room
    latch(state, s.AIR_WANTED, gain >= START_MK, gain <= STOP_MK)
    blows = settings[cfg.AIR_HEATER] != 0 and state[s.AIR_WANTED] == 1 and room < settings[cfg.ROOM_MAXIMUM] - JOIN_MK
    state[s.AIR_REASON] = why.AIR_WARM if blows else why.AIR_COOL
    state[s.COMMAND + s.AIR_FAN] = 1 if blows else 0


@kernel
def stiff(values, settings, inputs):
    """Whether the coldest glycol is near its freezing point, in the plant or by the settings.

    They may state less glycol than there is, and no sensor tells.
    """
    row, rest = divmod(settings[cfg.GLYCOL_MASS_PERCENT], 10)
    told_mc = FREEZING_MC[row] + (FREEZING_MC[row + 1] - FREEZING_MC[row]) * rest / 10.0
    return inputs[s.IN_RAW_MC + s.OUTDOOR] < max(values[p.GLYCOL_FREEZING_C] * 1000.0, told_mc) + STIFF_MC


@kernel
def decide(valve, values, settings, inputs, state):
    """Leave the commands of the rule in the state, as the control core does.

    `valve` is its place, 0 at the radiator, 1 at the exchanger.
    """
    remember(settings, inputs, state)
    duty = s.IDLE if stiff(values, settings, inputs) else choose(settings, inputs, state)
    state[s.DUTY] = duty
    charges = duty == s.CHARGING
    there = settings[cfg.DUMP_TOPOLOGY] == cfg.NONE or valve == (1.0 if charges else 0.0)
    state[s.COMMAND + s.DUMP_VALVE_POWER] = 1 if charges and settings[cfg.DUMP_TOPOLOGY] != cfg.NONE else 0
    state[s.COMMAND + s.COLLECTOR_PUMP] = 1 if duty != s.IDLE and there else 0
    inlet = inputs[s.IN_RAW_MC + s.LOOP_SUPPLY]
    joins = charges and inlet - inputs[s.IN_RAW_MC + s.TANK_LOW] >= JOIN_MK and inlet <= INLET_TOP_MC
    freezes = inputs[s.IN_RAW_MC + s.EXCHANGER] < settings[cfg.EXCHANGER_FROST]
    state[s.COMMAND + s.TANK_PUMP] = 1 if joins or freezes else 0
    blow(settings, inputs, state)
