"""When the tank may take heat: the whole rule.

1. Some tank sensor is trusted, the hottest one is half a kelvin or more below tank_limit
   (`latch_over`), and none reads beyond what a tank can reach (`off_scale`). The tank is full
   before that when its bottom is warm (`latch_full`), unless frost bars the dump (`has_room`).
   With tank_high lost, or the bottom hotter than the top, a margin stands in for it
   (`take_hottest`).
2. Glycol too hot for drinking water is dumped first (`latch_hot`). Without a usable radiator, or
   with a frosty one in series, it stays put.
3. Beside a trusted tank sensor above tank_limit no collector pump runs, in any duty, unless the
   sensors show that the glycol is colder than the tank (`pump_barred`): a valve, a check valve or a
   relay may carry its heat into the tank although the tank pump is off.
4. In charging, the tank pump runs only while the glycol at the exchanger is trusted or timed to be
   warmer than the tank (`glycol_warm`), or ahead of frosty glycol (frost.py). Glycol hotter than
   the collector reads waits until loop_supply has followed it (`untold`). In night cooling the
   glycol has to be colder than all of the tank (`glycol_cold`): beyond a limit heat may only leave.
5. In run-on, frost guard and exercise the tank pump runs while the collector pump is off. Exercise
   waits while the tank is full.
6. Hands and purging may not run both pumps while the tank is over its limit or unknown, or the
   glycol too hot, nor the tank pump while the exchanger may hold water too hot for the tank
   (`hand_refused`). Glycol too hot for it they may only circulate through a bypass radiator
   (frost.py). Purging also stops both pumps from a collector of 60 C on.
7. Charging that takes heat out of the tank ends, and more is asked of the collector for hours
   (`watch_taking`).

The rows of rules.py carry this out: tank full, both tank sensors unknown, glycol too hot to charge.
The guard judges again, by itself and from raw readings.
"""

from . import conditions as c
from . import rules
from . import settings as cfg
from . import state as s
from .state import run_timer

# Hot water rises: a bottom this much hotter than the top means swapped or wrong sensors.
INVERSION_MK = 5000
# An exchanged tank_high shows warm glycol in charging. So the margin stays until the two have
# agreed for this long without glycol moving: then an insulated pipe has become 10 K colder. Each
# step of disagreement counts for so many.
AGREED_MS = 900000
CROSSED_STEPS = 8
# The sensors of a mixed tank may differ by a kelvin. Beyond this, night cooling must not move
# water.
COOLING_INVERSION_MK = 1500
# Charging ends this far below tank_limit: what a run-on still brings stays under it.
EARLY_MK = 500
# To begin with, a full tank that may take heat all the same has to be this far below its limit.
ROOM_MK = 3000
# From this difference on, glycol counts as colder than the tank.
COLDER_MK = 1000
# What stood in the pipes has passed after tank_pump_delay, which may be set far longer than that.
STOOD_MS = 120000
WARMER_MK = 1000
# In charging no tank sensor reads hotter than the glycol that came, or than it began. In a year of
# the simulated wash-house none did by more than 0.1 K.
BEYOND_MK = 4000
# Water that enters hotter than the top warms it: by this much within the hours of a proof.
WARMED_MK = 500
# In two hours the water in insulated plates cools from collector_limit to charge_limit (16 kJ/K
# against 1 W/K). Their sensor follows them within a minute.
PLATES_COOL_MS = 7200000
PLATES_LAG_MS = 60000
# Until cooler glycol has flowed through, the plates' hot end may be this much hotter than their
# sensor: by 8.4 K once, in 9,000 simulated days of exchanged collectors.
PLATES_END_MK = 10000
# Doubt about the tank's reference fades by 3.6 K an hour. Water that runs alone for most of a
# minute shows its own temperature: in the simulated Januaries within 6 K of the reference.
TAKING_LIMIT_MS = 300000
# Glycol that leaves by DENIES_MK hotter than it arrives needs less time to prove it.
PROOF_MS = 120000
# The error of two sensors; from this lead on plates at the tank's temperature tell as much.
DRAINED_MK = 2000
DRAINED_LEAD_MK = 8000
# No more than this part of the lead, 1 to HARDLY, is hardly any heat.
HARDLY = 8
# A doubt fades by this much a second.
LOW_FADES_MK = 1
# In 244 drawn sound episodes charging moves 373 l at most without moving tank_low by this much; in
# a tank of 1,000 l at 10 l/min 579 l.
MOVED_MK = 2000
# What lags by a minute and rises by less than 2 K in this time is within 5 K of its glycol.
SETTLED_MS = 30000
# Glycol that reads hotter by so much at once will read hotter than the collector where it is within
# this of it.
FAST_MK = 20000
UNTOLD_MK = 10000
ALONE_MS = 50000
DENIES_MK = 10000


def take_reference(state, settings, inputs):
    """Find what the collector is compared with, and the coldest trusted tank temperature.

    The reference is tank_low, or tank_high without it.
    """
    low = state[s.TANK_LOW_MC] if s.trusted(state, s.TANK_LOW) else s.UNKNOWN_MC
    high = state[s.TANK_HIGH_MC] if s.trusted(state, s.TANK_HIGH) else s.UNKNOWN_MC
    state[s.TANK_REFERENCE_MC] = low if low != s.UNKNOWN_MC else high
    state[s.TANK_COLDEST_MC] = min(low, high) if low != s.UNKNOWN_MC and high != s.UNKNOWN_MC else max(low, high)


def crossed(state, settings, inputs):
    """Whether the tank's bottom reads hotter than its top, which water does not allow."""
    if not s.trusted(state, s.TANK_LOW) or not s.trusted(state, s.TANK_HIGH):
        return False
    return state[s.TANK_LOW_MC] >= state[s.TANK_HIGH_MC] + INVERSION_MK


def time_crossed(state, settings, inputs):
    """Time how long a bottom that reads hotter than its top is remembered."""
    if crossed(state, settings, inputs):
        state[s.CROSSED_MS] = min(state[s.CROSSED_MS] + inputs[s.IN_DT_MS] * CROSSED_STEPS, AGREED_MS)
    elif state[s.COLLECTOR_PUMP_ON] == 0:
        state[s.CROSSED_MS] = max(state[s.CROSSED_MS] - inputs[s.IN_DT_MS], 0)


def inversion_mk(state, settings, inputs):
    """How much hotter the bottom reads than the top; 0 if it does not, or without both sensors."""
    return state[s.TANK_REFERENCE_MC] - state[s.TANK_COLDEST_MC]


def take_hottest(state, settings, inputs):
    """Find the temperature that the limits act on: the hottest trusted tank sensor.

    A margin on the bottom stands in for a tank_high that is lost, or has read colder than it.
    """
    time_crossed(state, settings, inputs)
    hottest = hottest_seen_mc(state, settings, inputs)
    if state[s.TANK_REFERENCE_MC] != s.UNKNOWN_MC and (state[s.CROSSED_MS] > 0 or not s.trusted(state, s.TANK_HIGH)):
        hottest = max(hottest, state[s.TANK_REFERENCE_MC] + settings[cfg.STRATIFICATION_MARGIN])
    state[s.TANK_HOTTEST_MC] = hottest


def hottest_seen_mc(state, settings, inputs):
    """The hottest trusted tank sensor, without a margin; UNKNOWN_MC if there is none."""
    high = state[s.TANK_HIGH_MC] if s.trusted(state, s.TANK_HIGH) else s.UNKNOWN_MC
    return max(high, state[s.TANK_REFERENCE_MC])


def off_scale(state, settings, inputs):
    """Whether a tank sensor reads hotter than any tank can be: no value, but no time to heat."""
    if state[s.CAUSE + s.TANK_LOW] == s.CAUSE_RANGE and inputs[s.IN_RAW_MC + s.TANK_LOW] > 0:
        return True
    return state[s.CAUSE + s.TANK_HIGH] == s.CAUSE_RANGE and inputs[s.IN_RAW_MC + s.TANK_HIGH] > 0


def above_limit(state, settings, inputs):
    """Whether a trusted tank sensor is above tank_limit."""
    return hottest_seen_mc(state, settings, inputs) > cfg.tank_limit_mc(settings)


def time_above(state, settings, inputs):
    """Time a tank sensor above tank_limit: one noisy reading is no evidence.

    One that is lost counts as above it until a reading shows otherwise.
    """
    if not s.trusted(state, s.TANK_LOW) or not s.trusted(state, s.TANK_HIGH):
        state[s.ABOVE_MS] = s.TIMER_TOP_MS
    elif above_limit(state, settings, inputs):
        state[s.ABOVE_MS] = min(state[s.ABOVE_MS] + inputs[s.IN_DT_MS], s.TIMER_TOP_MS)
    else:
        state[s.ABOVE_MS] = 0


def time_beyond(state, settings, inputs):
    """Time a tank sensor that gets hotter than the glycol that heats it: one of them is wrong."""
    seen = hottest_seen_mc(state, settings, inputs)
    known = s.trusted(state, s.TANK_LOW) and s.trusted(state, s.TANK_HIGH) and s.trusted(state, s.LOOP_SUPPLY)
    given = max(state[s.GIVEN_MC], state[s.LOOP_SUPPLY_MC])
    state[s.GIVEN_MC] = given if known and state[s.DUTY] == s.CHARGING else seen
    beyond = seen > state[s.GIVEN_MC] + BEYOND_MK
    state[s.BEYOND_MS] = min(state[s.BEYOND_MS] + inputs[s.IN_DT_MS], s.TIMER_TOP_MS) if beyond else 0


def top_still(state, settings, inputs):
    """Whether the top is no warmer than when charging began to look poor."""
    top = state[s.TANK_HIGH_MC]
    if state[s.FOUL_S] == 0 or top < state[s.TOP_FROM_MC]:
        state[s.TOP_FROM_MC] = top
    return s.trusted(state, s.TANK_HIGH) and top < state[s.TOP_FROM_MC] + WARMED_MK


def latch_over(state, settings, inputs):
    """Latch a tank at its limit; the latch keeps its state while no tank sensor is trusted."""
    if state[s.TANK_REFERENCE_MC] == s.UNKNOWN_MC:
        return
    hottest = state[s.TANK_HOTTEST_MC]
    limit = cfg.tank_limit_mc(settings) - EARLY_MK
    if hottest >= limit or off_scale(state, settings, inputs):
        state[s.TANK_OVER] = 1
    elif hottest < cfg.tank_limit_mc(settings) - settings[cfg.TANK_LIMIT_RESET]:
        state[s.TANK_OVER] = 0


def latch_full(state, settings, inputs):
    """Latch a full tank: its bottom is warm, or any part is over the limit."""
    if state[s.TANK_REFERENCE_MC] == s.UNKNOWN_MC:
        return
    low = state[s.TANK_REFERENCE_MC]
    if not s.trusted(state, s.TANK_HIGH):
        low = state[s.TANK_HOTTEST_MC]
    full = cfg.tank_full_low_mc(settings)
    if low >= full or state[s.TANK_OVER] == 1:
        state[s.TANK_FULL] = 1
    elif low < full - settings[cfg.TANK_FULL_RESET]:
        state[s.TANK_FULL] = 0


def has_room(state, settings, inputs):
    """Whether a full tank takes heat up to its limit, because frost bars the dump."""
    if state[s.CHARGE_WANTED] == 0 or not rules.holds(state, c.COLD_DUMP) or off_scale(state, settings, inputs):
        return False
    room = EARLY_MK if state[s.DUTY] == s.CHARGING else ROOM_MK
    return state[s.TANK_HOTTEST_MC] < cfg.tank_limit_mc(settings) - room


def ran_enough(state, settings, inputs):
    """Whether the collector pump is off, or has run for minimum_run."""
    return state[s.COLLECTOR_PUMP_ON] == 0 or state[s.COLLECTOR_PUMP_MS] >= settings[cfg.MINIMUM_RUN]


def latch_hot(state, settings, inputs):
    """Latch glycol too hot for drinking water, in the collector or already at the station.

    A dump that it began goes on for minimum_run.
    """
    if not s.trusted(state, s.COLLECTOR):
        return
    hot = state[s.COLLECTOR_MC]
    if s.trusted(state, s.LOOP_SUPPLY):
        hot = max(hot, state[s.LOOP_SUPPLY_MC])
    if hot >= settings[cfg.CHARGE_LIMIT]:
        state[s.CHARGE_HOT] = 1
    elif hot < settings[cfg.CHARGE_LIMIT] - settings[cfg.CHARGE_LIMIT_RESET] and ran_enough(state, settings, inputs):
        state[s.CHARGE_HOT] = 0


def time_plates(state, settings, inputs):
    """Follow how long the exchanger may still hold water too hot for the tank.

    Glycol that is too hot may have reached it wherever the dump valve was told to be. Cooler glycol
    that has flowed through takes that heat away.
    """
    state[s.PLATES_HOT_MS] = max(state[s.PLATES_HOT_MS] - inputs[s.IN_DT_MS], 0)
    if state[s.COLLECTOR_PUMP_ON] == 0:
        return
    if state[s.CHARGE_HOT] == 1:
        state[s.PLATES_HOT_MS] = PLATES_COOL_MS
        return
    through = state[s.VALVE_MS] > 0 or settings[cfg.DUMP_TOPOLOGY] != cfg.BYPASS
    if through and timed_through(state, settings, inputs):
        state[s.PLATES_HOT_MS] = 0


def plates_hot(state, settings, inputs):
    """Whether water that stands in the exchanger may be too hot for the tank.

    Its sensor tells, once it has had time to follow. Without it hot glycol has to be long ago.
    """
    if state[s.TANK_PUMP_ON] != 0:
        return False
    if not s.trusted(state, s.EXCHANGER):
        return state[s.PLATES_HOT_MS] > 0 or state[s.CHARGE_HOT] == 1
    if state[s.PLATES_HOT_MS] > PLATES_COOL_MS - PLATES_LAG_MS:
        return True
    end = PLATES_END_MK if state[s.PLATES_HOT_MS] > 0 else 0
    return state[s.EXCHANGER_MC] + end >= settings[cfg.CHARGE_LIMIT]


def plates_wait(state, settings, inputs):
    """Whether charging waits for plates that may be too hot.

    Glycol that is not too hot soon cools them, whatever a wrong sensor says.
    """
    return state[s.PLATES_HOT_MS] > 0 and plates_hot(state, settings, inputs)


def plates_cold(state, settings, inputs):
    """Whether the exchanger's sensor shows that nothing warm has arrived.

    Only standing water is judged.
    """
    if state[s.TANK_PUMP_ON] != 0 or not s.trusted(state, s.EXCHANGER):
        return False
    return state[s.EXCHANGER_MC] - state[s.TANK_REFERENCE_MC] < settings[cfg.EXCHANGER_LAG]


def timed_through(state, settings, inputs):
    """Whether glycol has flowed to the exchanger for tank_pump_delay."""
    if state[s.COLLECTOR_PUMP_MS] < settings[cfg.TANK_PUMP_DELAY]:
        return False
    if settings[cfg.DUMP_TOPOLOGY] == cfg.NONE:
        return True
    return state[s.OUTPUT_MS + s.DUMP_VALVE_POWER] >= settings[cfg.DUMP_TRAVEL] + settings[cfg.TANK_PUMP_DELAY]


def from_the_pipes(state, settings, inputs):
    """Whether arriving glycol may have stood in the pipes: it tells nothing of the collector.

    Glycol that gets warmer comes from the sun, and what is warmer than the top can only bring heat.
    """
    least = min(state[s.TANK_HIGH_MC], state[s.ARRIVED_MC] + WARMER_MK)
    return state[s.LOOP_SUPPLY_MC] < least and state[s.COLLECTOR_PUMP_MS] < min(settings[cfg.TANK_PUMP_DELAY], STOOD_MS)


def untold(state, settings, inputs):
    """Whether arriving glycol reads hotter than the collector, or soon will, and still gets hotter.

    The collector's sensor has not told how hot it will be, and that of loop_supply lags.
    """
    ahead = UNTOLD_MK if state[s.LOOP_SUPPLY_MC] - state[s.ARRIVED_MC] >= FAST_MK else 0
    return state[s.NOT_JOINED_MS] < SETTLED_MS and state[s.LOOP_SUPPLY_MC] + ahead > state[s.COLLECTOR_MC]


def glycol_warm(state, settings, inputs):
    """Whether the glycol at the exchanger is trusted or timed to be warmer than the tank."""
    if state[s.COLLECTOR_PUMP_ON] == 0 or state[s.TANK_REFERENCE_MC] == s.UNKNOWN_MC:
        return 0
    if plates_cold(state, settings, inputs):
        return 0
    if plates_wait(state, settings, inputs):
        return 0
    if not s.trusted(state, s.LOOP_SUPPLY):
        return 1 if timed_through(state, settings, inputs) else 0
    if state[s.TANK_PUMP_ON] == 0 and (from_the_pipes(state, settings, inputs) or untold(state, settings, inputs)):
        return 0
    lead = settings[cfg.EXCHANGER_LAG] if state[s.TANK_PUMP_ON] != 0 else settings[cfg.EXCHANGER_LEAD]
    return 1 if state[s.LOOP_SUPPLY_MC] - state[s.TANK_REFERENCE_MC] - state[s.LOW_BY_MK] >= lead else 0


def glycol_cold(state, settings, inputs):
    """Whether the glycol at the exchanger can only take heat out of the tank.

    It has had time to arrive, and collector and loop_supply are colder than all of the tank.
    """
    if state[s.COLLECTOR_PUMP_ON] == 0 or state[s.TANK_COLDEST_MC] == s.UNKNOWN_MC:
        return 0
    if not timed_through(state, settings, inputs):
        return 0
    # While minimum_run keeps the collector pump on beside an inverted tank, nothing may reach the
    # water.
    if inversion_mk(state, settings, inputs) >= COOLING_INVERSION_MK:
        return 0
    arriving = state[s.COLLECTOR_MC]
    if s.trusted(state, s.LOOP_SUPPLY):
        arriving = max(arriving, state[s.LOOP_SUPPLY_MC])
    return 1 if arriving <= state[s.TANK_COLDEST_MC] - COLDER_MK else 0


def pump_barred(state, settings, inputs):
    """Whether glycol must not move: the tank is above tank_limit, and nothing shows colder glycol.

    That takes collector, loop_supply and both tank sensors, the bottom no hotter than the top: it
    may be the collector's heat that it reads. A healthy station dumps with its tank at the limit at
    most.
    """
    if state[s.ABOVE_MS] < settings[cfg.TANK_AGE] or not above_limit(state, settings, inputs):
        return False
    if not s.trusted(state, s.LOOP_SUPPLY) or inversion_mk(state, settings, inputs) >= COOLING_INVERSION_MK:
        return True
    # A lost tank sensor is colder than any glycol.
    coldest = min(state[s.TANK_LOW_MC], state[s.TANK_HIGH_MC])
    return max(state[s.COLLECTOR_MC], state[s.LOOP_SUPPLY_MC]) > coldest - COLDER_MK


def hand_refused(state, settings, inputs):
    """Whether a limit forbids hands the tank pump: glycol that moves or hot plates can add heat."""
    if plates_hot(state, settings, inputs):
        return True
    if state[s.COLLECTOR_PUMP_ON] == 0:
        return False
    return state[s.TANK_OVER] == 1 or rules.holds(state, c.TANK_LOST) or rules.holds(state, c.HOT_GLYCOL)


def arriving_mc(state, settings, inputs):
    """The glycol that reaches the station, by loop_supply or else by the collector."""
    return state[s.LOOP_SUPPLY_MC] if s.trusted(state, s.LOOP_SUPPLY) else state[s.COLLECTOR_MC]


def leaving_mc(state, settings, inputs):
    """The coldest of leaving glycol and the tank's top, if trusted; UNKNOWN_MC without glycol."""
    leaving = state[s.LOOP_RETURN_MC] if s.trusted(state, s.LOOP_RETURN) else state[s.EXCHANGER_MC]
    if s.trusted(state, s.EXCHANGER):
        leaving = min(leaving, state[s.EXCHANGER_MC])
    return under_top(state, leaving)


def under_top(state, value_mc):
    """A temperature of the tank's water, or its top where that is colder."""
    return min(value_mc, state[s.TANK_HIGH_MC]) if s.trusted(state, s.TANK_HIGH) else value_mc


def takes_heat(state, settings, inputs):
    """Whether glycol leaves the exchanger no colder than it arrives while both pumps charge.

    If only one sensor says so, the other has to show that hardly any heat is left behind.
    """
    if state[s.STEADY_MS] == 0 or state[s.TANK_REFERENCE_MC] == s.UNKNOWN_MC:
        return False
    arriving = arriving_mc(state, settings, inputs)
    if max(state[s.LOOP_RETURN_MC], state[s.EXCHANGER_MC]) >= arriving + WARMER_MK:
        arriving -= max(arriving - state[s.TANK_REFERENCE_MC], 0) // HARDLY
    return arriving <= leaving_mc(state, settings, inputs)


def drained(state, settings, inputs):
    """Whether a radiator in series has cooled glycol below the tank, which then loses heat to it.

    The plates' sensor sits where the glycol enters.
    """
    if settings[cfg.DUMP_TOPOLOGY] != cfg.SERIES or state[s.STEADY_MS] == 0 or not s.trusted(state, s.EXCHANGER):
        return False
    lead = arriving_mc(state, settings, inputs) - state[s.TANK_REFERENCE_MC]
    colder = state[s.TANK_REFERENCE_MC] - state[s.EXCHANGER_MC]
    return lead > 0 and colder > (0 if lead >= DRAINED_LEAD_MK else DRAINED_MK)


def water_denies(state, settings, inputs):
    """Whether water alone has kept the plates far above the reference for most of a minute.

    Plates above the tank's top are warm from glycol. A top that nobody reads is colder than any.
    """
    if state[s.DUTY] != s.CHARGING or state[s.COLLECTOR_PUMP_ON] != 0 or state[s.TANK_PUMP_ON] == 0:
        return False
    if min(state[s.OUTPUT_MS + s.TANK_PUMP], state[s.COLLECTOR_PUMP_MS]) < ALONE_MS:
        return False
    return DENIES_MK + state[s.TANK_REFERENCE_MC] <= state[s.EXCHANGER_MC] <= state[s.TANK_HIGH_MC]


def doubt(state, settings, inputs, water_mc):
    """Note how far the reference reads below what the tank's water proved to be."""
    state[s.LOW_BY_MK] = max(state[s.LOW_BY_MK], water_mc - state[s.TANK_REFERENCE_MC])


def limit_doubt(state, settings, inputs):
    """No water is warmer than the tank's top."""
    if s.trusted(state, s.TANK_HIGH):
        above = max(state[s.TANK_HIGH_MC] - state[s.TANK_REFERENCE_MC], 0)
        state[s.LOW_BY_MK] = min(state[s.LOW_BY_MK], above)


def taking_limit_ms(state, settings, inputs):
    """How long it takes to prove that charging takes heat out: less, where it is much.

    The plates' sensor sits where cooler glycol enters: loop_return shows better how much.
    """
    leaving = state[s.LOOP_RETURN_MC] if s.trusted(state, s.LOOP_RETURN) else state[s.EXCHANGER_MC]
    taken = under_top(state, leaving) - arriving_mc(state, settings, inputs)
    return PROOF_MS if taken >= DENIES_MK else TAKING_LIMIT_MS


def leaves_hot(state, settings, inputs):
    """Whether glycol leaves hotter than all of the tank's water, and hardly colder than it came."""
    if not s.trusted(state, s.TANK_HIGH) or state[s.LOOP_RETURN_MC] < state[s.TANK_HIGH_MC] + WARMER_MK:
        return False
    arriving = arriving_mc(state, settings, inputs)
    return (arriving - state[s.LOOP_RETURN_MC]) * HARDLY <= arriving - state[s.TANK_REFERENCE_MC]


def watch_unwarmed(state, settings, inputs):
    """Measure the water that charging moves without moving raw tank_low.

    Only where no sensor sees how much heat the glycol leaves behind, or one has raised a doubt.
    """
    # A driver may show anything.
    raw = max(min(inputs[s.IN_RAW_MC + s.TANK_LOW], -s.UNKNOWN_MC), s.UNKNOWN_MC)
    if inputs[s.IN_RAW_CAUSE + s.TANK_LOW] != s.CAUSE_NONE:
        return
    if abs(raw - state[s.UNWARMED_MC]) >= MOVED_MK or leaves_hot(state, settings, inputs):
        state[s.UNWARMED_MC] = raw
        state[s.UNWARMED_ML] = 0
    if state[s.LOW_BY_MK] == 0 and leaving_mc(state, settings, inputs) != s.UNKNOWN_MC:
        return
    if state[s.STEADY_MS] > 0 and arriving_mc(state, settings, inputs) - raw >= DRAINED_LEAD_MK:
        moved = state[s.METER_SECONDS] * settings[cfg.TANK_FLOW] // 60
        state[s.UNWARMED_ML] = min(state[s.UNWARMED_ML] + moved, s.TIMER_TOP_MS)


def watch_taking(state, settings, inputs):
    """Ask more of the collector, for hours, once charging has taken heat out of the tank."""
    taking = takes_heat(state, settings, inputs)
    run_timer(state, settings, inputs, s.TAKING_MS, taking)
    if state[s.TANK_REFERENCE_MC] == s.UNKNOWN_MC:
        return
    state[s.LOW_BY_MK] = max(state[s.LOW_BY_MK] - LOW_FADES_MK * state[s.METER_SECONDS], 0)
    if state[s.TAKING_MS] >= taking_limit_ms(state, settings, inputs):
        water_mc = max(leaving_mc(state, settings, inputs), arriving_mc(state, settings, inputs))
        doubt(state, settings, inputs, water_mc)
    if water_denies(state, settings, inputs):
        doubt(state, settings, inputs, state[s.COLLECTOR_MC])
    limit_doubt(state, settings, inputs)
