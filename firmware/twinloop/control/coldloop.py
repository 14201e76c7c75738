"""How cold the glycol outdoors may be; frost.py says what follows from it.

A sensor sees a frosty slug too late. So the core remembers the lowest temperature that collector or
outdoor air has shown since the glycol was last fully exchanged. Pumped volume makes the loop warm
again. Where no bypass can flush it, it also follows the weather slowly, and counts as exchanged
once glycol from the sun stands at the station. After a reset, or once a sensor that this needs is
lost, the loop counts as frosty.
"""

from . import readings
from . import settings as cfg
from . import state as s
from .state import run_timer

# Ten minutes without flow do not cool an insulated outdoor pipe from use to frost (common
# practice). Uninsulated pipes are not covered.
STANDING_LIMIT_MS = 600000
# Readings at the station are near ice below this, or below exchanger_frost if that is lower.
SEEN_FROST_MC = 4000
# Water at the top of a tank, or at a tap, is never this cold.
ICE_MC = 1000
# What an unknown loop may hold.
COLDEST_MC = -50000
# The pumped volume is counted up to here, far above the volume of any loop.
PUMPED_TOP_ML = 8388607
# Nothing frosty was seen: hotter than any loop gets.
WARMEST_MC = 240000
# How far an outdoor pipe may lag behind air and collector after a night nobody watched.
LAG_MK = 15000
# Without a bypass the loop follows milder weather with a time constant of 90 min, and at rest
# colder weather with one of 10 min: one part in RISE_PARTS or FALL_PARTS every RISE_STEP_MS. An
# insulated pipe needs 45 min (0.67 kJ/(m K) against 0.25 W/(m K)). A bare one needs 7 min, and in
# 96 simulated days of clouds and frost no plate fell below 3 C beside it.
RISE_STEP_MS = 60000
RISE_PARTS = 90
FALL_PARTS = 10
# After an hour of rest no pipe is warmer than the air.
PIPES_COOL_MS = 3600000
# Radiation keeps a dark collector this much colder than pipes and air. What the outdoor sensor
# reads above that counts as its error, and is forgiven by 6 K a day; while the collector is dark,
# within two hours as far as it shows no error.
NIGHT_MK = 3000
AIR_OVER_FALL_MK = 4
AIR_OVER_PARTS = 120
# Air changes by 9 K an hour at most. A sensor that has got this much warmer sits somewhere else: it
# is followed again once it is back, or once a dark collector agrees.
AIR_RISE_MK = 150
AIR_JUMP_MK = 8000
# The error of a sensor that nobody has watched at night. Also how much colder a sunny hour may be
# than the dark ones of the day before it: in three typical years none of 400 W/m2 was by 4 K.
AIR_DOUBT_MK = 5000
# In frost nothing indoors is this warm after a night: it comes from the sun, and has to stay so.
SUNNY_MC = 30000
ARRIVED_LIMIT_MS = 30000
# Once both pumps have charged for this long, loop_return shows what leaves the plates.
LEAVES_MS = 120000
# No collector heats glycol that is pumped by as much. One that reads more is not in the loop.
GAIN_TOP_MK = 30000


def fold_lowest(state, settings, inputs, seen):
    """Note a temperature the outdoor loop may hold; a frosty one restarts the pumped volume."""
    if seen < settings[cfg.EXCHANGER_FROST]:
        state[s.PUMPED_ML] = 0
    state[s.LOOP_LOWEST_MC] = min(state[s.LOOP_LOWEST_MC], seen)
    if seen != COLDEST_MC:
        state[s.LOOP_SEEN_MC] = min(state[s.LOOP_SEEN_MC], seen)


def air_mc(state, settings, inputs):
    """The outdoor reading, less what the collector has shown it to be too high at night.

    It falls at once, but rises as air does.
    """
    return max(min(state[s.OUTDOOR_MC], state[s.AIR_MC]) - state[s.AIR_OVER_MK], COLDEST_MC)


def outdoors_mc(state, settings, inputs):
    """How cold pipes and radiator in series may be, for a dump.

    While nobody reads the air, it is not much colder than it was, or than the collector has been
    since. After a reset nobody knows how it was.
    """
    if s.trusted(state, s.OUTDOOR):
        return min(state[s.LOOP_LOWEST_MC], air_mc(state, settings, inputs))
    if state[s.AIR_MC] == WARMEST_MC:
        return COLDEST_MC
    return min(state[s.LOOP_SEEN_MC], state[s.AIR_MC] - state[s.AIR_OVER_MK] - AIR_DOUBT_MK)


def icy(state, settings, inputs, sensor):
    """Whether a place of warm water shows ice: then the sensor sits in the collector."""
    shown = readings.shown_mc(state, settings, inputs, sensor)
    return s.UNKNOWN_MC < shown < ICE_MC


def pipes_mc(state, settings, inputs):
    """How cold the collector says that the pipes may be.

    Where no air contradicts a collector that is exchanged with warm water, they may be as cold as
    can be.
    """
    alone = settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS and not s.trusted(state, s.OUTDOOR)
    if alone and (icy(state, settings, inputs, s.TANK_HIGH) or icy(state, settings, inputs, s.TAP)):
        return COLDEST_MC
    return state[s.COLLECTOR_MC] + (0 if settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS else NIGHT_MK)


def fold_outdoor(state, settings, inputs):
    """Note glycol outdoors as cold as the air, or as cold as can be while the air is unknown."""
    if s.trusted(state, s.OUTDOOR):
        fold_lowest(state, settings, inputs, air_mc(state, settings, inputs))
    else:
        state[s.LOOP_KNOWN] = 0
        fold_lowest(state, settings, inputs, COLDEST_MC)


def flush_radiator(state, settings, inputs):
    """Note the radiator's content when the first glycol after a stop carries it into the loop.

    The radiator is small and outdoors, so its content may be as cold as the air.
    """
    if settings[cfg.DUMP_TOPOLOGY] == cfg.NONE:
        return
    if state[s.COLLECTOR_PUMP_ON] == 0 or state[s.VALVE_MS] >= settings[cfg.DUMP_TRAVEL]:
        state[s.RADIATOR_STOOD] = 1
        return
    if state[s.RADIATOR_STOOD] == 1:
        fold_outdoor(state, settings, inputs)
    state[s.RADIATOR_STOOD] = 0


def know_loop(state, settings, inputs):
    """Judge an unknown loop once from collector and air, less a lag, where no bypass can flush it.

    What was seen while it was unknown is not forgotten.
    """
    if state[s.LOOP_KNOWN] == 1 or settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS:
        return
    if s.trusted(state, s.COLLECTOR) and s.trusted(state, s.OUTDOOR):
        now = min(state[s.COLLECTOR_MC], state[s.OUTDOOR_MC]) - LAG_MK
        state[s.LOOP_LOWEST_MC] = min(state[s.LOOP_SEEN_MC], now)
        state[s.LOOP_KNOWN] = 1


def judge_air(state, settings, inputs):
    """Follow the outdoor sensor as air changes in a minute, and let a dark collector judge it."""
    state[s.AIR_MC] = min(state[s.AIR_MC], state[s.OUTDOOR_MC] + AIR_JUMP_MK)
    fall = state[s.AIR_MC] - state[s.OUTDOOR_MC]
    if fall > -AIR_JUMP_MK or 0 <= state[s.OUTDOOR_MC] - state[s.COLLECTOR_MC] <= NIGHT_MK:
        fall = max(min(fall, AIR_RISE_MK), -AIR_RISE_MK)
        state[s.AIR_MC] -= fall
    over = min(state[s.OUTDOOR_MC], state[s.AIR_MC]) - state[s.COLLECTOR_MC] - NIGHT_MK
    fall = AIR_OVER_FALL_MK
    if over > -NIGHT_MK:
        fall = max((state[s.AIR_OVER_MK] - over) // AIR_OVER_PARTS, fall)
    state[s.AIR_OVER_MK] = max(over, state[s.AIR_OVER_MK] - fall, 0)


def rise(state, settings, inputs):
    """Let a loop without a bypass follow air and collector, and judge the outdoor sensor.

    Glycol that moves does not cool to the air.
    """
    if settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS or not s.trusted(state, s.COLLECTOR):
        return
    state[s.RISE_MS] += inputs[s.IN_DT_MS]
    if state[s.RISE_MS] < RISE_STEP_MS:
        return
    state[s.RISE_MS] = 0
    if not s.trusted(state, s.OUTDOOR):
        if state[s.AIR_MC] != WARMEST_MC:
            state[s.AIR_MC] = min(state[s.AIR_MC], state[s.COLLECTOR_MC])
        return
    judge_air(state, settings, inputs)
    way = min(pipes_mc(state, settings, inputs), air_mc(state, settings, inputs)) - state[s.LOOP_LOWEST_MC]
    if way >= 0:
        state[s.LOOP_LOWEST_MC] += way // RISE_PARTS
    elif state[s.COLLECTOR_PUMP_ON] == 0:
        state[s.LOOP_LOWEST_MC] += way // FALL_PARTS


def sun_arrived(state, settings, inputs):
    """Whether the slug has passed: in charging, glycol from the sun stands at the station.

    Three eighths of the loop have been pumped since the last frosty sign.
    """
    warm = s.trusted(state, s.LOOP_SUPPLY) and state[s.LOOP_SUPPLY_MC] >= SUNNY_MC
    if state[s.DUTY] != s.CHARGING or state[s.PUMPED_ML] * 8 < settings[cfg.LOOP_VOLUME] * 3:
        warm = False
    run_timer(state, settings, inputs, s.ARRIVED_MS, warm)
    return state[s.ARRIVED_MS] >= ARRIVED_LIMIT_MS


def count_pumped(state, settings, inputs):
    """Count glycol pumped since the last frosty sign, until it has exchanged the loop."""
    state[s.STANDING_MS] = 0
    part = settings[cfg.COLLECTOR_FLOW] * inputs[s.IN_DT_MS] + state[s.PUMPED_REST]
    state[s.PUMPED_ML] = min(state[s.PUMPED_ML] + part // 60000, PUMPED_TOP_ML)
    state[s.PUMPED_REST] = part % 60000
    # Half a loop extra: cold glycol is thick and flows slower than the bucket test showed.
    if state[s.PUMPED_ML] * 2 < settings[cfg.LOOP_VOLUME] * 3:
        return
    note_warm(state, settings, inputs)


def note_warm(state, settings, inputs):
    """Note an exchanged loop: it is as warm as collector and loop_supply say.

    Without loop_supply, glycol that leaves for the roof may show that the collector is not in it.
    """
    if not s.trusted(state, s.COLLECTOR):
        return
    state[s.LOOP_LOWEST_MC] = state[s.COLLECTOR_MC]
    if s.trusted(state, s.LOOP_SUPPLY):
        state[s.LOOP_LOWEST_MC] = min(state[s.LOOP_LOWEST_MC], state[s.LOOP_SUPPLY_MC])
    elif s.trusted(state, s.LOOP_RETURN) and state[s.LOOP_RETURN_MC] + GAIN_TOP_MK < state[s.COLLECTOR_MC]:
        state[s.LOOP_LOWEST_MC] = state[s.LOOP_RETURN_MC]
    state[s.LOOP_SEEN_MC] = state[s.LOOP_LOWEST_MC]
    state[s.LOOP_KNOWN] = 1


def at_station_mc(state, settings, inputs):
    """The coldest trusted reading of glycol at the station, WARMEST_MC without one."""
    coldest = WARMEST_MC
    if s.trusted(state, s.LOOP_RETURN):
        coldest = state[s.LOOP_RETURN_MC]
    if s.trusted(state, s.LOOP_SUPPLY):
        coldest = min(coldest, state[s.LOOP_SUPPLY_MC])
    return coldest


def glycol_sinks(state, settings, inputs):
    """Whether frosty glycol sinks to the exchanger while the pump is off.

    It comes through a leaking check valve, from either side. With a bypass the dump valve at rest
    keeps that way shut. Readings at the station need less margin than unseen glycol outdoors: a
    high exchanger_frost must not call a cool plant room frosty.
    """
    if settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS or state[s.COLLECTOR_PUMP_ON] != 0 or state[s.DUTY] == s.CHARGING:
        return False
    return at_station_mc(state, settings, inputs) < min(settings[cfg.EXCHANGER_FROST], SEEN_FROST_MC)


def leaves_frosty(state, settings, inputs):
    """Whether glycol leaves plates that nobody reads near ice: then no water warms it there."""
    if state[s.STEADY_MS] < LEAVES_MS or s.trusted(state, s.EXCHANGER):
        return False
    return at_station_mc(state, settings, inputs) < SEEN_FROST_MC


def note_left(state, settings, inputs):
    """Note what the pump left in the pipes: as cold as collector, station or the tank's bottom.

    It left the exchanger no colder than the water that entered it.
    """
    left = min(at_station_mc(state, settings, inputs), state[s.TANK_LOW_MC], state[s.COLLECTOR_MC])
    state[s.LOOP_LOWEST_MC] = min(state[s.LOOP_LOWEST_MC], left)


def left_known(state, settings, inputs):
    """Whether the sensors tell what a pump has left in pipes that no bypass can flush."""
    if settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS:
        return False
    return s.trusted(state, s.TANK_LOW) and s.trusted(state, s.COLLECTOR)


def cools_slowly(state, settings, inputs):
    """Whether resting pipes are known to have been warm, and cool down to the air in an hour."""
    known = left_known(state, settings, inputs) and s.trusted(state, s.OUTDOOR)
    return known and state[s.STANDING_MS] < PIPES_COOL_MS


def air_told(state, settings, inputs):
    """Whether standing pipes need no look at the air: it was read less than ten minutes ago.

    Without an outdoor sensor the collector speaks for them: at night it is colder than the air.
    """
    if settings[cfg.OUTDOOR_FITTED] == 0:
        return True
    return not s.trusted(state, s.OUTDOOR) and state[s.AGE_MS + s.OUTDOOR] < STANDING_LIMIT_MS


def track_loop(state, settings, inputs):
    """Follow how cold the glycol outdoors may be."""
    know_loop(state, settings, inputs)
    rise(state, settings, inputs)
    if not s.trusted(state, s.COLLECTOR):
        state[s.LOOP_KNOWN] = 0
        fold_lowest(state, settings, inputs, COLDEST_MC)
    else:
        fold_lowest(state, settings, inputs, pipes_mc(state, settings, inputs))
    if glycol_sinks(state, settings, inputs) or leaves_frosty(state, settings, inputs):
        fold_lowest(state, settings, inputs, at_station_mc(state, settings, inputs))
    flush_radiator(state, settings, inputs)
    if sun_arrived(state, settings, inputs):
        note_warm(state, settings, inputs)
    if state[s.COLLECTOR_PUMP_ON] != 0:
        count_pumped(state, settings, inputs)
        return
    if state[s.STANDING_MS] == 0 and left_known(state, settings, inputs):
        note_left(state, settings, inputs)
    state[s.STANDING_MS] = min(state[s.STANDING_MS] + inputs[s.IN_DT_MS], s.TIMER_TOP_MS)
    if state[s.STANDING_MS] < STANDING_LIMIT_MS or air_told(state, settings, inputs):
        return
    if not cools_slowly(state, settings, inputs):
        fold_outdoor(state, settings, inputs)
    elif state[s.LOOP_LOWEST_MC] < settings[cfg.EXCHANGER_FROST]:
        state[s.PUMPED_ML] = 0


def wake(state, settings, inputs):
    """After a reset the loop is unknown."""
    state[s.LOOP_LOWEST_MC] = COLDEST_MC
    state[s.LOOP_SEEN_MC] = WARMEST_MC
    state[s.RADIATOR_STOOD] = 1
    state[s.LOOP_KNOWN] = 0
    state[s.AIR_MC] = WARMEST_MC
    state[s.AIR_OVER_MK] = AIR_DOUBT_MK if settings[cfg.DUMP_TOPOLOGY] != cfg.BYPASS else 0
