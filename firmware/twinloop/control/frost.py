"""When glycol may move in frost, and what keeps the exchanger from freezing: the whole rule.

1. Glycol near its freezing point, by collector or air, is never pumped (`glycol_stiff`).
2. Glycol that may be frosty (coldloop.py) must not meet standing drinking water in the exchanger:
   - with a bypass it circulates through the radiator until it is warm;
   - without one it charges only if the tank is warm enough (`tank_too_cold`). The water moves
     first (`water_first`), and once the plates show that it does and is warm enough
     (`water_proven`), the glycol follows in pulses (`water_waited`);
   - while dumping is given up it does neither: a stuck valve may block the way round;
   - through a radiator in series, a dump or night cooling that may bring frost is refused; where
     the collector would boil, a dump that may bring ice (`dump_frosty`);
   - night cooling and exercise wait until the loop is warm;
   - the dump valve has to be at its very end before glycol moves (`valve_end_needed`).
3. Hands and purging may circulate frosty glycol only through a bypass radiator that is not given
   up; glycol too hot for the tank likewise. A frosty radiator in series has to be switched out of
   the way first (`hand_refused`).
4. Plates near frost, or without a bypass frosty glycol that sinks to them while the collector pump
   is off, stop the glycol and run the tank pump at any hour (`latch_frost`), unless charging can
   warm them or a bypass radiator passes them by (`yield_to_the_sun`). Only hard faults, hands and
   upkeep outrank this.

The rows of rules.py carry this out: glycol near freezing, loop may be frosty, a dump may bring
frost into the exchanger, tank too cold for the loop, exchanger near frost, radiator without effect,
dumping heated the tank.
"""

from . import coldloop, rules
from . import conditions as c
from . import settings as cfg
from . import state as s
from .state import run_timer

# Pumps stall in slush before glycol is solid: stay this far above the freezing point.
STIFF_MARGIN_MK = 3000
# Freezing point in millidegrees at 0, 10, .. 60 per cent of propylene glycol by mass.
# source: CoolProp 8.0.0, INCOMP::MPG; the last value makes the line to it right at 55 per cent, the
# highest allowed.
FREEZING_MC = (0, -2860, -7170, -12780, -20560, -32190, -48100)
# Without a bypass the water moves first: a minute warms the plates and shows how warm it is.
WATER_FIRST_MS = 60000
# Then frosty glycol follows in pulses, and the water warms the plates in between.
PULSE_MS = 5000
PULSE_REST_MS = 60000
# Glycol this warm cannot freeze flowing water, and needs no pulses.
NO_ICE_MC = 2000
# Dumped glycol as cold as this does not freeze standing water.
DUMP_ICE_MC = 1000
# The tank pump is proven once it has moved the plates this far; they count as resting half an hour
# after it stopped.
PROVEN_MK = 1500
PLATES_REST_MS = 1800000
# Moving water brings the plates to the tank's temperature, or from a cold bottom to a warm top past
# their own, in less.
STANDS_LIMIT_MS = 1200000
# What the water needs for a pulse of glycol at 0 C, and for each kelvin below. In the model the
# strongest plates then stay above 1 C (tests/host_sim/thermal/test_pulses.py), the shipped ones
# above 2 C. While it charges, a little less will do: the tank cools at first.
NEED_FOOT_MC = 4000
NEED_SLOPE = 3
NEED_HELD_MK = 2000
# The latch clears this far above its threshold. The exchanger's sensor sits on the plates where
# glycol creeps in with the pump off: at the roof-return end, or, with a radiator in series, at the
# radiator's end.
FROST_RESET_MK = 2000
# The tank pump makes plates no warmer than the tank: within the error of two sensors.
THROUGH_MK = 1000
# The tank pump then runs at least this long, to warm the whole exchanger.
FROST_LEAST_MS = 600000


def stiff_mc(settings):
    """Below this glycol is near its freezing point, by the strength that the settings state."""
    percent = settings[cfg.GLYCOL_MASS_PERCENT]
    fall = FREEZING_MC[percent // 10 + 1] - FREEZING_MC[percent // 10]
    return FREEZING_MC[percent // 10] + fall * (percent % 10) // 10 + STIFF_MARGIN_MK


def glycol_stiff(state, settings, inputs):
    """Whether collector or outdoor air is near the glycol's freezing point."""
    limit = stiff_mc(settings)
    if s.trusted(state, s.COLLECTOR) and state[s.COLLECTOR_MC] < limit:
        return True
    return s.trusted(state, s.OUTDOOR) and state[s.OUTDOOR_MC] < limit


def loop_frosty(state, settings, inputs):
    """Whether the outdoor part of the loop may hold glycol below exchanger_frost."""
    return state[s.LOOP_LOWEST_MC] < settings[cfg.EXCHANGER_FROST]


def air_frosty(state, settings, inputs):
    """Whether air may have cooled standing glycol below exchanger_frost; unread, it is colder."""
    return coldloop.air_mc(state, settings, inputs) < settings[cfg.EXCHANGER_FROST]


def dump_frosty(state, settings, inputs):
    """Whether a radiator in series may bring frosty glycol into the exchanger.

    It may be the loop's glycol or the radiator's own. Once the collector is at the dump threshold,
    where it would boil, only glycol that may freeze water is refused.
    """
    if settings[cfg.DUMP_TOPOLOGY] != cfg.SERIES:
        return False
    if state[s.DUMP_WANTED] == 1:
        return coldloop.outdoors_mc(state, settings, inputs) < DUMP_ICE_MC
    return loop_frosty(state, settings, inputs) or air_frosty(state, settings, inputs)


def tank_too_cold(state, settings, inputs):
    """Whether the tank is too cold to meet the loop's coldest glycol with the tank pump running.

    With a bypass the loop warms up without the tank. Otherwise the tank needs water for the loop's
    coldest glycol. The tank pump mixes a warm top into a cold bottom, so the mean of both sensors
    counts. Without tank_low the bottom is unknown: it has no temperature, which is colder than any.
    Without the exchanger's sensor nobody knows whether the water moves. A sun too weak for glycol
    of SUNNY_MC at the station would take pulses without end.
    """
    tank = state[s.TANK_LOW_MC]
    if not loop_frosty(state, settings, inputs) or settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS:
        return False
    if s.trusted(state, s.TANK_HIGH):
        tank = max(tank, (tank + state[s.TANK_HIGH_MC]) // 2)
    if state[s.DUTY] == s.CHARGING:
        tank += NEED_HELD_MK
    elif state[s.LOOP_LOWEST_MC] < NO_ICE_MC and state[s.COLLECTOR_MC] < coldloop.SUNNY_MC + settings[cfg.START_DIFFERENCE]:
        return True
    return not s.trusted(state, s.EXCHANGER) or tank < need_mc(state, settings, inputs)


def need_mc(state, settings, inputs):
    """How warm the water has to be for pulses of the coldest glycol that the loop may hold."""
    return NEED_FOOT_MC - NEED_SLOPE * state[s.LOOP_LOWEST_MC]


def watch_plates(state, settings, inputs):
    """Note the temperature of resting plates, and time a tank pump that does not move it."""
    rested = state[s.PLATES_FROM_MC] == 0 or state[s.OUTPUT_MS + s.TANK_PUMP] >= PLATES_REST_MS
    if rested and state[s.TANK_PUMP_ON] == 0 and s.trusted(state, s.EXCHANGER):
        state[s.PLATES_FROM_MC] = state[s.EXCHANGER_MC]
    if state[s.COLLECTOR_PUMP_ON] != 0:
        keep_proof(state, settings, inputs)
    stands = water_stands(state, settings, inputs)
    run_timer(state, settings, inputs, s.STANDS_MS, stands)


def keep_proof(state, settings, inputs):
    """In a pulse, keep the proof that water moves until the plates rest.

    Later water may be as warm as they were.
    """
    if water_first(state, settings, inputs) == 1 and water_proven(state, settings, inputs):
        state[s.PLATES_FROM_MC] = coldloop.COLDEST_MC


def water_proven(state, settings, inputs):
    """Whether the plates show that water moves, and that it is warm enough for a pulse."""
    if state[s.EXCHANGER_MC] < need_mc(state, settings, inputs):
        return False
    return abs(state[s.EXCHANGER_MC] - state[s.PLATES_FROM_MC]) >= PROVEN_MK


def pulse_ms(state, settings, inputs):
    """How long a pulse may last: twice as long where the plates are twice as warm as they need."""
    warm = state[s.EXCHANGER_MC] >= 2 * need_mc(state, settings, inputs)
    return 2 * PULSE_MS if warm else PULSE_MS


def water_stands(state, settings, inputs):
    """Whether plates of another temperature than the tank keep it although the tank pump runs."""
    if state[s.TANK_PUMP_ON] == 0 or water_first(state, settings, inputs) == 0 or not s.trusted(state, s.EXCHANGER):
        return False
    # A pulse moves the plates as well.
    if state[s.COLLECTOR_PUMP_ON] != 0 or state[s.COLLECTOR_PUMP_MS] < state[s.OUTPUT_MS + s.TANK_PUMP]:
        return False
    moved = abs(state[s.EXCHANGER_MC] - state[s.PLATES_FROM_MC]) >= PROVEN_MK
    return not moved and abs(state[s.TANK_REFERENCE_MC] - state[s.PLATES_FROM_MC]) >= 2 * PROVEN_MK


def valve_end_needed(state, settings, inputs):
    """Whether the dump valve has to be at its very end before glycol moves, whatever its crossover.

    An open crossover would let frosty glycol pass on the way, or the radiator's into a warm loop.
    """
    if rules.holds(state, c.COLD_LOOP):
        return True
    return state[s.DUTY] == s.CHARGING and state[s.RADIATOR_STOOD] == 1 and air_frosty(state, settings, inputs)


def water_first(state, settings, inputs):
    """Whether the tank pump has to run before frosty glycol moves, for want of a way round."""
    if state[s.DUTY] != s.CHARGING or not rules.holds(state, c.COLD_LOOP):
        return 0
    return 0 if rules.holds(state, c.ROUND) else 1


def water_waited(state, settings, inputs):
    """Whether frosty glycol may follow: the tank pump has run long enough where it must."""
    if water_first(state, settings, inputs) == 0:
        return True
    if state[s.COLLECTOR_PUMP_ON] != 0:
        return state[s.COLLECTOR_PUMP_MS] < pulse_ms(state, settings, inputs) or state[s.LOOP_LOWEST_MC] >= NO_ICE_MC
    if inputs[s.IN_DT_MS] > PULSE_MS or state[s.TANK_PUMP_ON] == 0 or state[s.OUTPUT_MS + s.TANK_PUMP] < WATER_FIRST_MS:
        return False
    return state[s.COLLECTOR_PUMP_MS] >= PULSE_REST_MS and water_proven(state, settings, inputs)


def hand_refused(state, settings, inputs):
    """Whether glycol too cold or too hot for the exchanger forbids hands the collector pump."""
    if rules.holds(state, c.STIFF):
        return True
    # A frosty radiator in series has to be out of the way: the valve fully at the exchanger.
    if rules.holds(state, c.COLD_DUMP) and state[s.VALVE_MS] < settings[cfg.DUMP_TRAVEL]:
        return True
    if rules.holds(state, c.COLD_DUMP) and state[s.DUMP_VALVE_POWER_ON] == 0:
        return True
    # Glycol too hot for the tank keeps away from the exchanger by the same way.
    if not rules.holds(state, c.COLD_LOOP) and not rules.holds(state, c.HOT_GLYCOL):
        return False
    at_radiator = state[s.DUMP_VALVE_POWER_ON] == 0 and state[s.VALVE_MS] == 0
    return not (rules.holds(state, c.ROUND) and at_radiator)


def latch_frost(state, settings, inputs):
    """Latch frost at the exchanger. A sensor that is lost or not fitted cannot tell."""
    watch_plates(state, settings, inputs)
    seen = s.trusted(state, s.EXCHANGER) and state[s.EXCHANGER_MC] < settings[cfg.EXCHANGER_FROST]
    if seen or coldloop.glycol_sinks(state, settings, inputs):
        state[s.FROST] = 1
    elif frost_over(state, settings, inputs, settings[cfg.EXCHANGER_FROST]):
        state[s.FROST] = 0


def frost_over(state, settings, inputs, frost):
    """Whether the tank pump has run long enough and no sensor shows plates near `frost`."""
    if state[s.DUTY] == s.FROST_GUARD and state[s.DUTY_MS] < FROST_LEAST_MS:
        return False
    return not s.trusted(state, s.EXCHANGER) or state[s.EXCHANGER_MC] >= frost + FROST_RESET_MK


def warmed_through(state, settings, inputs, frost):
    """Whether the plates are above `frost`, and as warm as a cold tank makes them."""
    if state[s.EXCHANGER_MC] < max(frost, state[s.TANK_REFERENCE_MC] - THROUGH_MK):
        return False
    if state[s.DUTY] == s.FROST_GUARD:
        return state[s.DUTY_MS] >= FROST_LEAST_MS
    return state[s.DUTY] == s.CHARGING or state[s.DUTY] == s.DUMPING


def yield_to_the_sun(state, settings, inputs):
    """Let the sun end a frost that is not near ice, or that only the glycol shows.

    Otherwise a room colder than exchanger_frost would keep the collector pump off on the sunniest
    day. Plates that are really cold prevent this, and so does a tank too cold for the loop, or a
    collector that only minimum_run keeps charging. A hot collector is dumped all the same where a
    bypass radiator passes the plates by: they cool slowly.
    """
    if state[s.FROST] == 0 or state[s.COLLECTOR_MC] <= state[s.TANK_REFERENCE_MC]:
        return
    frost = min(settings[cfg.EXCHANGER_FROST], coldloop.SEEN_FROST_MC)
    yields = frost_over(state, settings, inputs, frost) or warmed_through(state, settings, inputs, frost)
    rules.clear(state, c.FROSTY)
    row = rules.first_row(state, settings, inputs)
    if rules.ROW_DUTIES[row] == s.DUMPING and settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS:
        yields = yields or state[s.DUMP_WANTED] == 1
    elif rules.ROW_DUTIES[row] != s.CHARGING:
        yields = False
    if not yields:
        rules.mark(state, c.FROSTY)
