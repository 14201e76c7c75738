"""When glycol may move in frost, and what keeps the exchanger from freezing. The whole rule is here.

1. Glycol near its freezing point is never pumped (`glycol_stiff`).
2. Glycol that may be frosty (coldloop.py) must not meet standing drinking water in the exchanger:
   - with a bypass it goes round through the radiator until it is warm;
   - without one it moves only if the tank is warm enough (`tank_too_cold`), and the water moves first (`water_first`);
   - behind a radiator in series, a dump that may bring frost is refused (`dump_frosty`);
   - either way the valve has to be at its very end (`valve_end_needed`).
3. Hands may send it round through the radiator, and nowhere else (`hand_refused`).
4. With the pumps off, plates near frost run the tank pump (`latch_frost`), unless the sun can warm them (`yield_to_the_sun`).

The rows of rules.py carry these out: glycol near freezing, loop may be frosty, tank too cold for the loop, exchanger near frost.
"""

from . import coldloop, rules
from . import conditions as c
from . import settings as cfg
from . import state as s

# Pumps stall in slush before glycol is solid: stay this far above the freezing point.
STIFF_MARGIN_MK = 3000
# Freezing point in millidegrees at 0, 10, .. 60 per cent of propylene glycol by mass.
# source: CoolProp 8.0.0, INCOMP::MPG; the last row is chosen so that the line to it is right at 55 per cent, the highest allowed.
FREEZING_MC = (0, -2860, -7170, -12780, -20560, -32190, -48100)
# Without a way round, the water moves first: half a minute exchanges the exchanger's water.
WATER_FIRST_MS = 30000
# The exchanger's sensor sits on the plates at the end where glycol creeps in with the pump off: where it leaves for the roof, or,
# behind a radiator in series, where it comes from the radiator.
FROST_RESET_MK = 2000
# The tank pump then runs at least this long, for the whole exchanger.
FROST_LEAST_MS = 600000


def glycol_stiff(state, settings, inputs):
    """Whether glycol is near its freezing point anywhere that a sensor shows."""
    percent = settings[cfg.GLYCOL_MASS_PERCENT]
    limit = FREEZING_MC[percent // 10 + 1] - FREEZING_MC[percent // 10]
    limit = FREEZING_MC[percent // 10] + limit * (percent % 10) // 10 + STIFF_MARGIN_MK
    if s.trusted(state, s.COLLECTOR) and state[s.COLLECTOR_MC] < limit:
        return True
    return s.trusted(state, s.OUTDOOR) and state[s.OUTDOOR_MC] < limit


def loop_frosty(state, settings, inputs):
    """Whether the outdoor part of the loop may hold glycol below exchanger_frost."""
    return state[s.LOOP_LOWEST_MC] < settings[cfg.EXCHANGER_FROST]


def dump_frosty(state, settings, inputs):
    """Whether a radiator in series may bring frosty glycol into the exchanger, the loop's or its own."""
    if settings[cfg.DUMP_TOPOLOGY] != cfg.SERIES:
        return False
    if loop_frosty(state, settings, inputs) or not s.trusted(state, s.OUTDOOR):
        return True
    return state[s.OUTDOOR_MC] < settings[cfg.EXCHANGER_FROST]


def tank_too_cold(state, settings, inputs):
    """Whether the tank is too cold to meet the loop's coldest glycol in the exchanger, tank pump running.

    A tank_low below 0 C is always too cold: the tank is about to freeze, or the sensor hangs outdoors. With a bypass the loop gets
    warm without the tank. Otherwise it takes 10 C and five kelvin of tank for each kelvin of glycol below exchanger_frost: with a
    counterflow effectiveness of 0.72 and equal films the coldest plate, halfway between glycol and leaving water, then stays above
    0 C down to glycol of -8 C; below that no tank is warm enough. Without tank_low the water's temperature is not known.
    """
    if s.trusted(state, s.TANK_LOW) and state[s.TANK_LOW_MC] < 0:
        return True
    short = settings[cfg.EXCHANGER_FROST] - state[s.LOOP_LOWEST_MC]
    if short <= 0 or settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS:
        return False
    return not s.trusted(state, s.TANK_LOW) or state[s.TANK_LOW_MC] < 10000 + 5 * short


def valve_end_needed(state, settings, inputs):
    """Whether the dump valve has to be at its very end before glycol moves, whatever its crossover."""
    return rules.holds(state, c.COLD_LOOP) or rules.holds(state, c.COLD_DUMP)


def water_first(state, settings, inputs):
    """Whether the tank pump has to run before frosty glycol may move: there is no way round the exchanger."""
    if state[s.DUTY] != s.CHARGING or not rules.holds(state, c.COLD_LOOP):
        return 0
    return 0 if rules.holds(state, c.ROUND) else 1


def water_waited(state, settings, inputs):
    """Whether the tank pump has run long enough for frosty glycol to follow, where it has to."""
    if water_first(state, settings, inputs) == 0:
        return True
    return state[s.TANK_PUMP_ON] != 0 and state[s.OUTPUT_MS + s.TANK_PUMP] >= WATER_FIRST_MS


def hand_refused(state, settings, inputs):
    """Whether frost forbids the collector pump to hands."""
    if rules.holds(state, c.STIFF):
        return True
    # A frosty radiator in series has to be out of the way.
    if rules.holds(state, c.COLD_DUMP) and state[s.VALVE_MS] < settings[cfg.DUMP_TRAVEL]:
        return True
    if rules.holds(state, c.COLD_DUMP) and state[s.DUMP_VALVE_POWER_ON] == 0:
        return True
    if not rules.holds(state, c.COLD_LOOP):
        return False
    at_radiator = state[s.DUMP_VALVE_POWER_ON] == 0 and state[s.VALVE_MS] == 0
    return not (rules.holds(state, c.ROUND) and at_radiator)


def latch_frost(state, settings, inputs):
    """Latch plates near frost. A sensor that is lost or not fitted cannot tell."""
    seen = s.trusted(state, s.EXCHANGER) and state[s.EXCHANGER_MC] < settings[cfg.EXCHANGER_FROST]
    if seen or coldloop.glycol_sinks(state, settings, inputs):
        state[s.FROST] = 1
    elif frost_over(state, settings, inputs, settings[cfg.EXCHANGER_FROST]):
        state[s.FROST] = 0


def frost_over(state, settings, inputs, frost):
    """Whether the tank pump has run long enough and the plates are clearly above `frost`, or cannot be seen."""
    if state[s.DUTY] == s.FROST_GUARD and state[s.DUTY_MS] < FROST_LEAST_MS:
        return False
    return not s.trusted(state, s.EXCHANGER) or state[s.EXCHANGER_MC] >= frost + FROST_RESET_MK


def yield_to_the_sun(state, settings, inputs):
    """Let charging end a frost that is not near ice, or that only the glycol shows.

    Otherwise a room colder than exchanger_frost would keep the pump off on the sunniest day. Plates that are really cold bar it,
    and so does a tank that is too cold for the loop.
    """
    frost = min(settings[cfg.EXCHANGER_FROST], coldloop.SEEN_FROST_MC)
    if state[s.FROST] == 0 or not frost_over(state, settings, inputs, frost):
        return
    rules.clear(state, c.FROSTY)
    row = rules.first_row(state, settings, inputs)
    if rules.ROW_DUTIES[row] != s.CHARGING:
        rules.mark(state, c.FROSTY)
