"""Detects pumps, valves and plant that do not follow their commands.

The evidence is temperatures, and flow where it is read. What is given up is tried again after half
an hour: no false alarm ends the season. docs/sensors.md lists what the fitted sensors cannot tell.
"""

from . import frost, tank
from . import reasons as why
from . import settings as cfg
from . import state as s
from .state import run_timer

# All times and differences below are common practice, chosen so that a year of the simulated
# wash-house raises no false alarm. Three and five minutes are several transits of any pipe in a
# house; half an hour limits retries to two an hour.
NOT_JOINED_LIMIT_MS = 300000
FAR_LIMIT_MS = 180000
FAR_LEAST_MK = 8000
# Glycol that gets warmer by this much is arriving: more than the noise of a chip.
ARRIVING_MK = 2000
# The mean of collector less loop_supply follows two thirds of a step in this time.
APART_MS = 300000
# Beside standing water glycol leaves no hotter than it came: by 0.3 K at most in 1,440 drawn days.
LEAVES_MK = 3000
RETRY_LIMIT_MS = 1800000
# Three minutes of a dump with flow; two kelvin exceed the noise of two sensors.
DUMP_LIMIT_MS = 180000
DUMP_EFFECT_MK = 2000
# Another proof that the dump heats the tank takes less room than this.
AGAIN_ROOM_MK = 10000
# A noisy reading, or one that is held for tank_age, proves nothing: this long it takes.
EVIDENCE_MS = 120000
FLOWLESS_LIMIT_MS = 30000
# Effectiveness on the glycol side: steady after five minutes; fouled after two hours below 30 %.
STEADY_LIMIT_MS = 300000
STEADY_LEAST_MK = 8000
# A lead of 40 K tells five times as much as one of 8 K.
WEIGHT_TOP = 8
FOUL_PERMILLE = 300
CLEAN_PERMILLE = 350
FOUL_LIMIT_S = 7200
# In a year at half the flow a tank's cold end cools glycol below tank_low for 1.8 hours on end, by
# 8 K for 7 minutes.
UNSEEN_MK = 8000
# The error of two sensors. The tank cools no glycol below its own temperature, and in series the
# model's plates are at least four tenths of the way from the tank to the glycol that enters there,
# but for a quarter of an hour of cold draws. Half an hour below a quarter proves the radiator. In
# 163 drawn sound episodes of six days it comes to twenty minutes, over several runs.
PAIR_MK = 1000
COOLED_LEAST_MK = 4000
COOLED_LIMIT_MS = 1800000
# The mean follows a step of the effectiveness by two thirds in this time.
EFFECT_MS = 1280000
# At night a swap looks like this: the "tank" is as cold as the air, and the "collector" is as warm
# as the tank's other sensor, or cooler, as a tank's low end is.
SWAP_AIR_MK = 8000
SWAP_TANK_MK = 25000
SWAP_ABOVE_MK = 5000
SWAP_STILL_MK = 1500


def looks_swapped(state, settings, inputs):
    """Whether collector and tank_low look swapped.

    Then tank_low reads the air, and the collector reads close to tank_high without being warmed by
    the sun.
    """
    if abs(state[s.COLLECTOR_MC] - state[s.FAR_FROM_MC]) > SWAP_STILL_MK:
        return False
    if not s.trusted(state, s.TANK_LOW) or not s.trusted(state, s.TANK_HIGH) or not s.trusted(state, s.OUTDOOR):
        return False
    if abs(state[s.TANK_LOW_MC] - state[s.OUTDOOR_MC]) > SWAP_AIR_MK:
        return False
    return -SWAP_ABOVE_MK <= state[s.TANK_HIGH_MC] - state[s.COLLECTOR_MC] <= SWAP_TANK_MK


def give_up_flow(state, settings, inputs, reason):
    """Give up pumping glycol for half an hour, for this reason.

    After heat that is too weak only charging is given up.
    """
    state[s.NO_FLOW] = reason
    state[s.RETRY_MS] = 0


def astray(state, settings, inputs):
    """Whether hot glycol arrives while the plates stay no warmer than the tank.

    The caller makes sure that it has lasted for minutes, with water standing in the plates.
    """
    if not s.trusted(state, s.LOOP_SUPPLY) or not s.trusted(state, s.EXCHANGER):
        return False
    if state[s.LOOP_SUPPLY_MC] - state[s.TANK_REFERENCE_MC] < settings[cfg.EXCHANGER_LEAD]:
        return False
    return state[s.EXCHANGER_MC] - state[s.TANK_REFERENCE_MC] < settings[cfg.EXCHANGER_LAG]


def waits_for_heat(state, settings, inputs):
    """Whether the tank pump has not joined charging although its delay is over.

    With a trusted loop_supply there is no delay.
    """
    if state[s.DUTY] != s.CHARGING or state[s.COLLECTOR_PUMP_ON] == 0 or state[s.TANK_PUMP_ON] != 0:
        return False
    # Plates that were too hot hold it back as well: that is no fault.
    if tank.plates_wait(state, settings, inputs):
        return False
    return s.trusted(state, s.LOOP_SUPPLY) or state[s.COLLECTOR_PUMP_MS] >= settings[cfg.TANK_PUMP_DELAY]


def missing(state, settings, inputs):
    """Whether glycol has not arrived, by the time its caller gives it.

    Without loop_supply the delay is over, so only cold plates can have held the tank pump back.
    Where they have become nearly as warm as the collector, glycol arrives.
    """
    if s.trusted(state, s.LOOP_SUPPLY):
        return state[s.FAR_MS] >= EVIDENCE_MS
    return state[s.COLLECTOR_MC] - state[s.EXCHANGER_MC] >= FAR_LEAST_MK


def watch_joining(state, settings, inputs):
    """Give up when the tank pump has not joined charging for five minutes.

    The glycol has gone astray, it does not arrive, or the sun is too weak. While it gets warmer it
    is arriving, and the time starts again. Give up as well when it drains the tank for five, or
    for two once that is known.
    """
    waits = waits_for_heat(state, settings, inputs)
    run_timer(state, settings, inputs, s.NOT_JOINED_MS, waits)
    waits = waits and astray(state, settings, inputs) or tank.drained(state, settings, inputs)
    run_timer(state, settings, inputs, s.ASTRAY_MS, waits)
    if state[s.NOT_JOINED_MS] <= inputs[s.IN_DT_MS] or state[s.ARRIVED_MC] == s.UNKNOWN_MC:
        state[s.ARRIVED_MC] = state[s.LOOP_SUPPLY_MC]
    elif state[s.LOOP_SUPPLY_MC] - state[s.ARRIVED_MC] >= ARRIVING_MK:
        state[s.NOT_JOINED_MS] = 0
        state[s.FAR_MS] = 0
    limit = EVIDENCE_MS if state[s.TANK_PUMP_ON] != 0 and state[s.DRAINS] != 0 else NOT_JOINED_LIMIT_MS
    if state[s.NOT_JOINED_MS] < NOT_JOINED_LIMIT_MS and state[s.ASTRAY_MS] < limit:
        return
    state[s.NOT_JOINED_MS] = 0
    if state[s.ASTRAY_MS] >= EVIDENCE_MS:
        if state[s.TANK_PUMP_ON] == 1:
            state[s.FOUL_S] = FOUL_LIMIT_S
            state[s.DRAINS] = 1
        give_up_flow(state, settings, inputs, why.HEAT_ASTRAY)
    elif missing(state, settings, inputs):
        give_up_flow(state, settings, inputs, why.GLYCOL_NOT_ARRIVING)
    else:
        give_up_flow(state, settings, inputs, why.HEAT_TOO_WEAK)
        note_leaving(state, settings, inputs)


def note_leaving(state, settings, inputs):
    """Note that glycol leaves hotter than loop_supply says it came: twice is as good as 8 K."""
    hotter = state[s.LOOP_RETURN_MC] - state[s.LOOP_SUPPLY_MC]
    if s.trusted(state, s.LOOP_SUPPLY) and hotter >= LEAVES_MK and state[s.APART_MK] < FAR_LEAST_MK:
        state[s.APART_MK] += FAR_LEAST_MK // 2


def far_limit_ms(state, settings, inputs):
    """How long arriving glycol may stay far colder than the collector.

    Three minutes, or one round of a slow loop, but five at most: a dead pump must not pass for a
    weak sun.
    """
    round_ms = settings[cfg.LOOP_VOLUME] * 600 // settings[cfg.COLLECTOR_FLOW] * 100
    return max(FAR_LIMIT_MS, min(round_ms, NOT_JOINED_LIMIT_MS))


def watch_apart(state, settings, inputs):
    """Keep a slow mean of collector less loop_supply while both pumps charge.

    A pipe explains a few kelvin of it; the rest is what the two sensors disagree by. While frosty
    glycol arrives it is the slug.
    """
    if frost.water_first(state, settings, inputs) != 0:
        return
    if state[s.STEADY_MS] == 0 or not s.trusted(state, s.LOOP_SUPPLY) or not s.trusted(state, s.COLLECTOR):
        return
    apart = state[s.COLLECTOR_MC] - state[s.LOOP_SUPPLY_MC]
    state[s.APART_MK] += (apart - state[s.APART_MK]) // (APART_MS // inputs[s.IN_DT_MS])


def far(state, settings, inputs):
    """Whether arriving glycol is far colder than the collector while the pump is on.

    Once it has been warm enough for the tank pump, only a difference above the usual one counts.
    """
    if state[s.DUTY] != s.CHARGING or state[s.COLLECTOR_PUMP_ON] == 0:
        return False
    if not s.trusted(state, s.LOOP_SUPPLY) or not s.trusted(state, s.COLLECTOR):
        return False
    apart = state[s.COLLECTOR_MC] - state[s.LOOP_SUPPLY_MC]
    if state[s.TANK_PUMP_ON] != 0:
        apart -= max(state[s.APART_MK], 0)
    return apart >= max(settings[cfg.START_DIFFERENCE], FAR_LEAST_MK)


def watch_far(state, settings, inputs):
    """Give up when pumped glycol has not arrived for minutes, or when the sensors look swapped."""
    runs = far(state, settings, inputs)
    run_timer(state, settings, inputs, s.FAR_MS, runs)
    # A tank sensor stands still, and is no sensor that disagrees with loop_supply while charging.
    if state[s.FAR_MS] <= inputs[s.IN_DT_MS] and abs(state[s.APART_MK]) < FAR_LEAST_MK:
        state[s.FAR_FROM_MC] = state[s.COLLECTOR_MC]
    elif abs(state[s.COLLECTOR_MC] - state[s.FAR_FROM_MC]) > SWAP_STILL_MK:
        state[s.FAR_FROM_MC] = s.UNKNOWN_MC
    if state[s.FAR_MS] < far_limit_ms(state, settings, inputs):
        return
    state[s.FAR_MS] = 0
    if looks_swapped(state, settings, inputs):
        # What the tank read in the collector's place is no offset.
        state[s.APART_MK] = 0
        give_up_flow(state, settings, inputs, why.SENSORS_SWAPPED)
    else:
        give_up_flow(state, settings, inputs, why.GLYCOL_NOT_ARRIVING)


def flow_seen(state, settings, inputs, parts):
    """Whether the flow input shows more than collector_flow / `parts`; a switch shows any flow."""
    if settings[cfg.FLOW_SENSOR] == cfg.FLOW_METER:
        return inputs[s.IN_FLOW_ML_PER_MIN] > settings[cfg.COLLECTOR_FLOW] // parts
    return inputs[s.IN_FLOW_ML_PER_MIN] > 0


def watch_flow(state, settings, inputs):
    """With a trusted flow input, prove missing and unbidden flow instead of inferring them."""
    if settings[cfg.FLOW_SENSOR] == cfg.NO_FLOW_SENSOR or inputs[s.IN_FLOW_CAUSE] != 0:
        state[s.FLOWLESS_MS] = 0
        return
    # Pulses are too short each: they count together.
    if state[s.COLLECTOR_PUMP_ON] != 0:
        flows = flow_seen(state, settings, inputs, 5)
        run_timer(state, settings, inputs, s.FLOWLESS_MS, not flows)
    if state[s.FLOWLESS_MS] >= FLOWLESS_LIMIT_MS:
        state[s.FLOWLESS_MS] = 0
        give_up_flow(state, settings, inputs, why.FLOW_MISSING)
    if state[s.COLLECTOR_PUMP_ON] == 0 and state[s.COLLECTOR_PUMP_MS] >= 2 * FLOWLESS_LIMIT_MS:
        state[s.UNBIDDEN_FLOW] = 1 if flow_seen(state, settings, inputs, 10) else 0


def forget_flow_fault(state, settings, inputs):
    """Try again half an hour after pumping was given up."""
    if state[s.NO_FLOW] == 0:
        return
    state[s.RETRY_MS] += inputs[s.IN_DT_MS]
    if state[s.RETRY_MS] >= RETRY_LIMIT_MS:
        state[s.NO_FLOW] = 0


def bar_dump(state, settings, inputs, reason):
    """Give up dumping for half an hour: the collector may stagnate, the tank may not boil."""
    state[s.DUMP_BARRED] = reason
    state[s.DUMP_RETRY_MS] = 0


def dump_works(state, settings, inputs):
    """Whether glycol leaves heat in the radiator, as far as the sensors can tell.

    It does while the collector stays below its threshold. An offset of a loop sensor can hide it.
    So if charging has not shown them to agree, or if glycol seems to leave hotter than it came, a
    collector that has fallen is enough.
    """
    if state[s.COLLECTOR_MC] < settings[cfg.DUMP_COLLECTOR_START]:
        return True
    if s.trusted(state, s.LOOP_SUPPLY) and s.trusted(state, s.LOOP_RETURN):
        left = state[s.LOOP_SUPPLY_MC] - state[s.LOOP_RETURN_MC]
        if left >= DUMP_EFFECT_MK:
            return True
        if state[s.EFFECT_PERMILLE] >= FOUL_PERMILLE and abs(state[s.APART_MK]) < FAR_LEAST_MK and left > -DUMP_EFFECT_MK:
            return False
    return state[s.COLLECTOR_MC] <= state[s.DUMP_FROM_MC] - DUMP_EFFECT_MK


def dump_fails(state, settings, inputs):
    """Whether a dump has had no effect for three minutes.

    Without both loop sensors, what the radiator cools has to come round to the collector first. To
    give up while the collector nears its limit, or did when the dump began, is to boil: then it
    has to reach the limit.
    """
    works = dump_works(state, settings, inputs)
    run_timer(state, settings, inputs, s.DUMP_IDLE_MS, not works)
    if max(state[s.COLLECTOR_MC], state[s.DUMP_FROM_MC]) >= cfg.near_limit_mc(settings):
        return state[s.STAGNATION] == 1 and state[s.DUMP_IDLE_MS] >= EVIDENCE_MS
    limit = DUMP_LIMIT_MS
    if not s.trusted(state, s.LOOP_SUPPLY) or not s.trusted(state, s.LOOP_RETURN):
        limit += far_limit_ms(state, settings, inputs)
    return state[s.DUMP_IDLE_MS] >= limit


def dump_heats(state, settings, inputs):
    """Whether the tank warmed in a dump with its pump off: by a stuck or leaking valve, a relay.

    Only plates warmer than the tank can heat it.
    """
    if state[s.TANK_PUMP_ON] != 0 or state[s.DUMP_TANK_MC] == s.UNKNOWN_MC:
        return False
    hottest = tank.hottest_seen_mc(state, settings, inputs)
    if s.trusted(state, s.EXCHANGER) and state[s.EXCHANGER_MC] < hottest:
        return False
    return hottest - state[s.DUMP_TANK_MC] >= DUMP_EFFECT_MK


def dump_overheats(state, settings, inputs):
    """Whether a dump that heats the tank may heat it beyond its limit: the plates can tell."""
    return not s.trusted(state, s.EXCHANGER) or state[s.EXCHANGER_MC] >= cfg.tank_limit_mc(settings)


def watch_heating(state, settings, inputs):
    """Give up a dump that heats the tank for minutes; one noisy reading is no beginning.

    Without tank_high nothing is compared: once it is back, the tank would seem to jump.
    """
    if not s.trusted(state, s.TANK_HIGH):
        state[s.DUMP_TANK_MC] = s.UNKNOWN_MC
    elif state[s.DUMP_TANK_MC] == s.UNKNOWN_MC or state[s.COLLECTOR_PUMP_MS] < FLOWLESS_LIMIT_MS:
        state[s.DUMP_TANK_MC] = max(state[s.DUMP_TANK_MC], tank.hottest_seen_mc(state, settings, inputs))
    heats = dump_heats(state, settings, inputs)
    run_timer(state, settings, inputs, s.DUMP_HEATS_MS, heats)
    if state[s.DUMP_HEATS_MS] >= EVIDENCE_MS and dump_overheats(state, settings, inputs):
        bar_dump(state, settings, inputs, why.DUMP_HEATS_TANK)


def watch_dump(state, settings, inputs):
    """Give up a dump that has had no effect for three minutes, or that heats the tank.

    Circulation that only warms a cold loop is not judged. Beside a tank above tank_limit nothing is
    dumped, and hands pump no glycol either.
    """
    if tank.pump_barred(state, settings, inputs):
        bar_dump(state, settings, inputs, why.DUMP_HEATS_TANK)
    if state[s.DUTY] != s.DUMPING or state[s.COLLECTOR_PUMP_ON] == 0 or state[s.REASON] == why.COLD_SLUG_ROUND:
        state[s.DUMP_IDLE_MS] = 0
        state[s.DUMP_HEATS_MS] = 0
        state[s.DUMP_TANK_MC] = s.UNKNOWN_MC
        if state[s.DUMP_BARRED] == 0:
            state[s.DUMP_FROM_MC] = s.UNKNOWN_MC
        return
    if state[s.DUMP_FROM_MC] == s.UNKNOWN_MC:
        state[s.DUMP_FROM_MC] = state[s.COLLECTOR_MC]
    if dump_fails(state, settings, inputs):
        bar_dump(state, settings, inputs, why.RADIATOR_DEAD)
    watch_heating(state, settings, inputs)


def forget_dump_fault(state, settings, inputs):
    """Try again half an hour after dumping was given up, or once the collector nears its limit."""
    if state[s.DUMP_BARRED] == 0:
        return
    state[s.DUMP_RETRY_MS] += inputs[s.IN_DT_MS]
    if state[s.DUMP_RETRY_MS] >= RETRY_LIMIT_MS or last_chance(state, settings, inputs):
        state[s.DUMP_BARRED] = 0


def last_chance(state, settings, inputs):
    """Whether a dump given up before the collector neared its limit is tried again there.

    A tank that seemed to warm needs room; and no plates may have shown that the dump heats it.
    """
    if state[s.STAGNATION] == 1:
        return False
    if state[s.DUMP_BARRED] == why.DUMP_HEATS_TANK:
        room = cfg.tank_limit_mc(settings) - tank.hottest_seen_mc(state, settings, inputs)
        if room < AGAIN_ROOM_MK or s.trusted(state, s.EXCHANGER):
            return False
    return state[s.DUMP_FROM_MC] < cfg.near_limit_mc(settings) and state[s.COLLECTOR_MC] >= cfg.near_limit_mc(settings)


def left_mc(state, settings, inputs):
    """The glycol behind the exchanger, by loop_return or else by the plates; UNKNOWN_MC without.

    In series the plates' sensor sits at the other end: what glycol has lost there is a fifth of it.
    """
    if s.trusted(state, s.LOOP_RETURN):
        return state[s.LOOP_RETURN_MC]
    if settings[cfg.DUMP_TOPOLOGY] != cfg.SERIES or not s.trusted(state, s.EXCHANGER):
        return state[s.EXCHANGER_MC]
    arriving = tank.arriving_mc(state, settings, inputs)
    return arriving - (arriving - state[s.EXCHANGER_MC] + PAIR_MK) * 5


def lead_mk(state, settings, inputs):
    """How much warmer than the tank glycol arrives in steady charging, 0 while unknown."""
    if state[s.STEADY_MS] < STEADY_LIMIT_MS or state[s.TANK_REFERENCE_MC] == s.UNKNOWN_MC:
        return 0
    return tank.arriving_mc(state, settings, inputs) - state[s.TANK_REFERENCE_MC]


def from_cold_end(state, settings, inputs):
    """Whether glycol colder than tank_low may come from the tank's end: slow water leaves it cold.

    Then the plates are as cold. Without their sensor it takes 8 K to rule that out.
    """
    if s.trusted(state, s.EXCHANGER):
        return state[s.LOOP_RETURN_MC] >= state[s.EXCHANGER_MC] - 2 * PAIR_MK
    return state[s.LOOP_RETURN_MC] >= state[s.TANK_REFERENCE_MC] - UNSEEN_MK


def cooled(state, settings, inputs):
    """How surely the radiator has had the heat, in sixths: glycol leaves, or enters, too cold."""
    if settings[cfg.DUMP_TOPOLOGY] == cfg.SERIES and s.trusted(state, s.EXCHANGER):
        above = state[s.EXCHANGER_MC] - state[s.TANK_REFERENCE_MC]
        if above * 4 < lead_mk(state, settings, inputs):
            return 6
    if not s.trusted(state, s.LOOP_RETURN) or state[s.LOOP_RETURN_MC] >= state[s.TANK_REFERENCE_MC] - 2 * PAIR_MK:
        return 0
    return 1 if from_cold_end(state, settings, inputs) else 6


def count_cooled(state, settings, inputs):
    """Count cooled glycol, and begin again with glycol or plates as warm as the tank."""
    sure = cooled(state, settings, inputs)
    if sure == 0:
        if max(state[s.LOOP_RETURN_MC], state[s.EXCHANGER_MC]) >= state[s.TANK_REFERENCE_MC]:
            state[s.COOLED_MS] = 0
    elif state[s.COOLED_MS] < COOLED_LIMIT_MS:
        state[s.COOLED_MS] += inputs[s.IN_DT_MS] * sure // 6


def effect_permille(state, settings, inputs):
    """The exchanger's effectiveness on its glycol side, in thousandths; 0 while unknown."""
    left = left_mc(state, settings, inputs)
    lead = lead_mk(state, settings, inputs)
    if left == s.UNKNOWN_MC or lead < STEADY_LEAST_MK or settings[cfg.EXCHANGER_LEAD] > lead:
        return 0
    effect = (tank.arriving_mc(state, settings, inputs) - left) * 1000 // lead
    if settings[cfg.DUMP_TOPOLOGY] == cfg.SERIES and s.trusted(state, s.EXCHANGER):
        # Cold plates where glycol enters: the radiator has had its heat.
        effect = min(effect, (state[s.EXCHANGER_MC] - state[s.TANK_REFERENCE_MC]) * 800 // lead)
    return max(1, min(effect, 1000))


def should_warm(state, settings, inputs):
    """Whether the water that the glycol has heated has to enter hotter than the tank's top."""
    rise = lead_mk(state, settings, inputs) * state[s.EFFECT_PERMILLE] // 16000
    rise = rise * settings[cfg.COLLECTOR_FLOW] // settings[cfg.TANK_FLOW] * 12
    return state[s.TANK_REFERENCE_MC] + rise - state[s.TANK_HIGH_MC] >= PAIR_MK


def weigh(state, settings, inputs, now):
    """Keep a slow mean of the effectiveness, and count charging that is poor; both by the lead."""
    weight = min(lead_mk(state, settings, inputs) // STEADY_LEAST_MK, WEIGHT_TOP)
    if state[s.EFFECT_PERMILLE] == 0:
        state[s.EFFECT_PERMILLE] = now
    state[s.EFFECT_REST] += (now - state[s.EFFECT_PERMILLE]) * inputs[s.IN_DT_MS] * weight
    state[s.EFFECT_PERMILLE] += state[s.EFFECT_REST] // EFFECT_MS
    state[s.EFFECT_REST] %= EFFECT_MS
    count_poor(state, settings, inputs, weight)


def count_poor(state, settings, inputs, weight):
    """Count charging that is poor, or whose heat does not warm the tank's top."""
    still = tank.top_still(state, settings, inputs)
    if still and should_warm(state, settings, inputs):
        weight += 1
    elif state[s.EFFECT_PERMILLE] >= FOUL_PERMILLE:
        if state[s.EFFECT_PERMILLE] >= CLEAN_PERMILLE and not still:
            state[s.FOUL_S] = 0
            state[s.DRAINS] = 0
        return
    state[s.FOUL_S] = min(state[s.FOUL_S] + state[s.METER_SECONDS] * weight, FOUL_LIMIT_S)


def watch_exchanger(state, settings, inputs):
    """Judge the exchanger in steady charging, unless the radiator has had the heat.

    Its proof takes several runs: each may be short. Glycol or plates as warm as the tank begin it
    again; what lies between proves nothing.
    """
    runs = state[s.DUTY] == s.CHARGING and state[s.COLLECTOR_PUMP_ON] != 0 and state[s.TANK_PUMP_ON] != 0
    run_timer(state, settings, inputs, s.STEADY_MS, runs)
    if lead_mk(state, settings, inputs) >= COOLED_LEAST_MK:
        count_cooled(state, settings, inputs)
    if state[s.COOLED_MS] >= COOLED_LIMIT_MS:
        state[s.FOUL_S] = FOUL_LIMIT_S
    now = effect_permille(state, settings, inputs)
    if now != 0 and state[s.COOLED_MS] == 0:
        weigh(state, settings, inputs, now)


def watch(state, settings, inputs):
    """Look for plant that does not follow, and end pauses that are over."""
    forget_flow_fault(state, settings, inputs)
    forget_dump_fault(state, settings, inputs)
    watch_exchanger(state, settings, inputs)
    watch_apart(state, settings, inputs)
    watch_joining(state, settings, inputs)
    watch_far(state, settings, inputs)
    watch_flow(state, settings, inputs)
    watch_dump(state, settings, inputs)
    tank.watch_unwarmed(state, settings, inputs)
    tank.watch_taking(state, settings, inputs)
