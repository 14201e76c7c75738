"""The one table: what the station does, and why. Read it top to bottom; the first row whose conditions all hold decides.

Theory. The rules see no raw reading and no clock. `observe` turns the judged readings into *conditions*, one bit each. A condition
with two thresholds is a latch; those that protect are set at boot and have to be cleared by a reading. `decide` takes the first row
of `ROWS` whose conditions are all there; the last row has none, so there always is one. What the duty means for the relays, and in
which order they move, is in sequence.py.

Order of the rows is order of rank: faults, then the unknown valve, steam, tank limits, the charge limit, the cold slug, charging,
dumping, idle. A row is refused by a row above it, never by a hidden exception.
"""

from . import reasons as why
from .settings import (
    BYPASS,
    CHARGE_LIMIT,
    CHARGE_LIMIT_RESET,
    COLLECTOR_FLOW,
    COLLECTOR_LIMIT,
    COLLECTOR_MINIMUM,
    COLLECTOR_RESET,
    DUMP_COLLECTOR_START,
    DUMP_COLLECTOR_STOP,
    DUMP_TOPOLOGY,
    EXCHANGER_FROST,
    LOOP_VOLUME,
    MINIMUM_RUN,
    NONE,
    OUTDOOR_FITTED,
    START_DIFFERENCE,
    STOP_DIFFERENCE,
    STRATIFICATION_MARGIN,
    TANK_FULL_LOW,
    TANK_FULL_RESET,
    TANK_LIMIT,
    TANK_LIMIT_RESET,
)
from .state import (
    CHARGE_HOT,
    CHARGE_WANTED,
    CHARGING,
    COLLECTOR_MC,
    COLLECTOR_PUMP_MS,
    COLLECTOR_PUMP_ON,
    COLLECTOR_STATUS,
    CONDITIONS,
    DUMP_WANTED,
    DUMPING,
    DUTY,
    DUTY_MS,
    FAULT_STOP,
    GUARD_HOLD_MS,
    HELD,
    IDLE,
    IN_DT_MS,
    IN_RESETS,
    LOOP_KNOWN,
    LOOP_LOWEST_MC,
    LOOP_SUPPLY_MC,
    LOOP_SUPPLY_STATUS,
    NO_FLOW,
    OUTDOOR_MC,
    OUTDOOR_STATUS,
    PUMPED_ML,
    PUMPED_REST,
    REASON,
    ROW,
    STAGNATION,
    STAGNATION_HOLD,
    STANDING_MS,
    TANK_FULL,
    TANK_HIGH_MC,
    TANK_HIGH_STATUS,
    TANK_HOTTEST_MC,
    TANK_LOW_MC,
    TANK_LOW_STATUS,
    TANK_OVER,
    TANK_REFERENCE_MC,
    TIMER_TOP_MS,
    UNKNOWN_MC,
    VALVE_HOME_MS,
)

RESETS = 1 << 0  # three watchdog resets without a full hour between them
GUARD_HELD = 1 << 1  # the guard had to act a moment ago
COLLECTOR_LOST = 1 << 2  # no trusted collector reading
NOT_ARRIVING = 1 << 3  # glycol was pumped for minutes and did not arrive
VALVE_UNKNOWN = 1 << 4  # the dump valve is on its way home after a reset
HOT_STEAM = 1 << 5  # latch: collector_limit, collector_reset
TANK_LOST = 1 << 6  # neither tank sensor is trusted
FULL = 1 << 7  # latch: the tank is full or over its limit
HOT_GLYCOL = 1 << 8  # latch: charge_limit
COLD_LOOP = 1 << 9  # the outdoor part of the loop may hold glycol below exchanger_frost
TANK_COOL = 1 << 10  # the tank is too cold to meet that glycol in the exchanger
WANTED = 1 << 11  # latch: start_difference, stop_difference
DUMP = 1 << 12  # latch: dump_collector_start, dump_collector_stop
RADIATOR = 1 << 13  # there is one
ROUND = 1 << 14  # the glycol can go round without touching the exchanger
COOL = 1 << 15  # collector below collector_minimum

CONDITION_NAMES = (
    "three resets in an hour",
    "the guard acted",
    "collector unknown",
    "glycol does not arrive",
    "dump valve not home yet",
    "steam possible",
    "both tank sensors unknown",
    "tank full",
    "glycol too hot to charge",
    "loop may be frosty",
    "tank too cold for that",
    "collector warmer than the tank",
    "collector at the dump threshold",
    "radiator fitted",
    "radiator bypasses the exchanger",
    "collector cool",
)

# conditions that must all hold, duty, reason
ROWS = (
    (RESETS, FAULT_STOP, why.RESET_STORM),
    (GUARD_HELD, FAULT_STOP, why.GUARD_ACTED),
    (COLLECTOR_LOST, FAULT_STOP, why.COLLECTOR_UNKNOWN),
    (NOT_ARRIVING, FAULT_STOP, why.GLYCOL_NOT_ARRIVING),
    (VALVE_UNKNOWN, IDLE, why.VALVE_HOMING),
    (HOT_STEAM, STAGNATION_HOLD, why.STEAM),
    (TANK_LOST | DUMP | RADIATOR, DUMPING, why.TANK_UNKNOWN_DUMP),
    (TANK_LOST, IDLE, why.TANK_UNKNOWN),
    (FULL | DUMP | RADIATOR, DUMPING, why.TANK_FULL_DUMP),
    (FULL | WANTED, IDLE, why.TANK_FULL_REFUSED),
    (HOT_GLYCOL | WANTED | RADIATOR, DUMPING, why.CHARGE_LIMIT_DUMP),
    (HOT_GLYCOL | WANTED, IDLE, why.CHARGE_LIMIT_REFUSED),
    (COLD_LOOP | WANTED | ROUND, DUMPING, why.COLD_SLUG_ROUND),
    (COLD_LOOP | WANTED | TANK_COOL, IDLE, why.COLD_SLUG_REFUSED),
    (WANTED, CHARGING, why.DIFFERENCE),
    (DUMP | RADIATOR, DUMPING, why.COLLECTOR_HOT_DUMP),
    (COOL, IDLE, why.COLLECTOR_COOL),
    (0, IDLE, why.NO_DIFFERENCE),
)

RESETS_LIMIT = 3
# Ten minutes outdoors without flow do not cool an insulated pipe from use to frost; an uninsulated one is not modelled as safe and
# must be set colder by hand. Common practice.
STANDING_LIMIT_MS = 600000
# What an unknown loop may hold, and how far an outdoor pipe may lag behind air and collector after a night nobody watched.
COLDEST_MC = -50000
LAG_MK = 15000


def take_reference(state, settings, inputs):
    """tank_low, else tank_high, is what the collector is compared with; the hottest of both carries the limits."""
    low = state[TANK_LOW_MC] if state[TANK_LOW_STATUS] <= HELD else UNKNOWN_MC
    high = state[TANK_HIGH_MC] if state[TANK_HIGH_STATUS] <= HELD else UNKNOWN_MC
    state[TANK_REFERENCE_MC] = low if low != UNKNOWN_MC else high
    if high == UNKNOWN_MC and low != UNKNOWN_MC:
        # The top is out of sight: it may be this much warmer than the bottom.
        state[TANK_HOTTEST_MC] = low + settings[STRATIFICATION_MARGIN]
    else:
        state[TANK_HOTTEST_MC] = max(low, high)


def latch_over(state, settings, inputs):
    """The tank is over its limit; the memory stays while no tank sensor is trusted."""
    if state[TANK_REFERENCE_MC] == UNKNOWN_MC:
        return
    hottest = state[TANK_HOTTEST_MC]
    if hottest >= settings[TANK_LIMIT]:
        state[TANK_OVER] = 1
    elif hottest < settings[TANK_LIMIT] - settings[TANK_LIMIT_RESET]:
        state[TANK_OVER] = 0


def latch_full(state, settings, inputs):
    """The tank is full: its low end is, or any part is over the limit."""
    if state[TANK_REFERENCE_MC] == UNKNOWN_MC:
        return
    low = state[TANK_REFERENCE_MC]
    if state[TANK_HIGH_STATUS] > HELD:
        low = state[TANK_HOTTEST_MC]
    if low >= settings[TANK_FULL_LOW] or state[TANK_OVER] == 1:
        state[TANK_FULL] = 1
    elif low < settings[TANK_FULL_LOW] - settings[TANK_FULL_RESET]:
        state[TANK_FULL] = 0


def latch_steam(state, settings, inputs):
    """There may be steam in the collector; the memory stays while it is unknown."""
    if state[COLLECTOR_STATUS] > HELD:
        return
    if state[COLLECTOR_MC] >= settings[COLLECTOR_LIMIT]:
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


def fold_lowest(state, settings, inputs, seen):
    """A temperature that the outdoor part of the loop may hold; a frosty one starts the pumped volume again."""
    if seen < settings[EXCHANGER_FROST]:
        state[PUMPED_ML] = 0
    if seen < state[LOOP_LOWEST_MC]:
        state[LOOP_LOWEST_MC] = seen


def fold_outdoor(state, settings, inputs):
    """What lies outdoors may be as cold as the air, or as anything when the outdoor sensor is fitted and lost."""
    if settings[OUTDOOR_FITTED] == 0:
        return
    if state[OUTDOOR_STATUS] <= HELD:
        fold_lowest(state, settings, inputs, state[OUTDOOR_MC])
    else:
        state[LOOP_KNOWN] = 0
        fold_lowest(state, settings, inputs, COLDEST_MC)


def know_loop(state, settings, inputs):
    """Without a way round the exchanger an unknown loop can never be flushed: judge it once from air and collector, less a lag."""
    if state[LOOP_KNOWN] == 1 or settings[DUMP_TOPOLOGY] == BYPASS:
        return
    if state[COLLECTOR_STATUS] <= HELD and state[OUTDOOR_STATUS] <= HELD:
        state[LOOP_LOWEST_MC] = min(state[COLLECTOR_MC], state[OUTDOOR_MC]) - LAG_MK
        state[LOOP_KNOWN] = 1


def count_pumped(state, settings, inputs):
    """Pumped glycol since the last frosty sign; once round and half as much again, the loop is as warm as its sensors say."""
    state[STANDING_MS] = 0
    part = settings[COLLECTOR_FLOW] * inputs[IN_DT_MS] + state[PUMPED_REST]
    state[PUMPED_ML] = min(state[PUMPED_ML] + part // 60000, TIMER_TOP_MS)
    state[PUMPED_REST] = part % 60000
    # Half as much again: cold glycol is thick and flows slower than the bucket showed.
    if state[PUMPED_ML] * 2 < settings[LOOP_VOLUME] * 3 or state[COLLECTOR_STATUS] > HELD:
        return
    state[LOOP_LOWEST_MC] = state[COLLECTOR_MC]
    if state[LOOP_SUPPLY_STATUS] <= HELD:
        state[LOOP_LOWEST_MC] = min(state[LOOP_LOWEST_MC], state[LOOP_SUPPLY_MC])
    state[LOOP_KNOWN] = 1


def track_loop(state, settings, inputs):
    """Follow how cold the glycol outdoors may be. Only pumped volume makes it warmer."""
    know_loop(state, settings, inputs)
    if state[COLLECTOR_STATUS] > HELD:
        state[LOOP_KNOWN] = 0
        fold_lowest(state, settings, inputs, COLDEST_MC)
    else:
        fold_lowest(state, settings, inputs, state[COLLECTOR_MC])
    if state[COLLECTOR_PUMP_ON] == 1:
        # The radiator stood outdoors: with the first glycol through it, its content is in the loop.
        if state[DUTY] == DUMPING and state[COLLECTOR_PUMP_MS] <= inputs[IN_DT_MS]:
            fold_outdoor(state, settings, inputs)
        count_pumped(state, settings, inputs)
        return
    state[STANDING_MS] = min(state[STANDING_MS] + inputs[IN_DT_MS], TIMER_TOP_MS)
    if state[STANDING_MS] >= STANDING_LIMIT_MS:
        fold_outdoor(state, settings, inputs)


def tank_too_cold(state, settings, inputs):
    """Whether the tank is too cold to meet the coldest glycol of the loop in the exchanger with its pump running.

    Four kelvin of tank for each kelvin of glycol below exchanger_frost, above 10 C. Own estimate with a counterflow effectiveness
    of 0.75 and equal flows: water leaves the plates above +5 C at any glycol down to -15 C.
    """
    short = settings[EXCHANGER_FROST] - state[LOOP_LOWEST_MC]
    return short > 0 and state[TANK_REFERENCE_MC] < 10000 + 4 * short


def collect_faults(state, settings, inputs):
    """Conditions that stop or bar everything."""
    have = 0
    if inputs[IN_RESETS] >= RESETS_LIMIT:
        have |= RESETS
    if state[GUARD_HOLD_MS] > 0:
        have |= GUARD_HELD
    if state[COLLECTOR_STATUS] > HELD:
        have |= COLLECTOR_LOST
    if state[NO_FLOW] == 1:
        have |= NOT_ARRIVING
    if state[VALVE_HOME_MS] > 0:
        have |= VALVE_UNKNOWN
    if state[STAGNATION] == 1:
        have |= HOT_STEAM
    if state[TANK_REFERENCE_MC] == UNKNOWN_MC:
        have |= TANK_LOST
    state[CONDITIONS] |= have


def collect_plant(state, settings, inputs):
    """Conditions of the plant as it is built and of the loop as it is."""
    have = 0
    if settings[DUMP_TOPOLOGY] != NONE:
        have |= RADIATOR
    if settings[DUMP_TOPOLOGY] == BYPASS:
        have |= ROUND
    if state[LOOP_LOWEST_MC] < settings[EXCHANGER_FROST]:
        have |= COLD_LOOP
    if tank_too_cold(state, settings, inputs):
        have |= TANK_COOL
    state[CONDITIONS] |= have


def collect_sun(state, settings, inputs):
    """Conditions of the heat that is there and of the room for it."""
    have = 0
    if state[TANK_FULL] == 1:
        have |= FULL
    if state[CHARGE_HOT] == 1:
        have |= HOT_GLYCOL
    if state[CHARGE_WANTED] == 1:
        have |= WANTED
    if state[DUMP_WANTED] == 1:
        have |= DUMP
    if state[COLLECTOR_MC] < settings[COLLECTOR_MINIMUM]:
        have |= COOL
    state[CONDITIONS] |= have


def observe(state, settings, inputs):
    """From judged readings to latches and conditions."""
    take_reference(state, settings, inputs)
    latch_over(state, settings, inputs)
    latch_full(state, settings, inputs)
    latch_steam(state, settings, inputs)
    latch_dump(state, settings, inputs)
    latch_hot(state, settings, inputs)
    latch_difference(state, settings, inputs)
    track_loop(state, settings, inputs)


def decide(state, settings, inputs):
    """Take the first row whose conditions all hold."""
    state[CONDITIONS] = 0
    collect_faults(state, settings, inputs)
    collect_plant(state, settings, inputs)
    collect_sun(state, settings, inputs)
    row = 0
    while state[CONDITIONS] & ROWS[row][0] != ROWS[row][0]:
        row += 1
    if ROWS[row][1] != state[DUTY]:
        state[DUTY_MS] = 0
    state[ROW] = row
    state[DUTY] = ROWS[row][1]
    state[REASON] = ROWS[row][2]


def wake(state, settings, inputs):
    """After a reset all protective latches are set and the loop is unknown."""
    state[TANK_REFERENCE_MC] = UNKNOWN_MC
    state[TANK_HOTTEST_MC] = UNKNOWN_MC
    state[TANK_OVER] = 1
    state[TANK_FULL] = 1
    state[STAGNATION] = 1
    state[CHARGE_HOT] = 1
    state[LOOP_LOWEST_MC] = COLDEST_MC
