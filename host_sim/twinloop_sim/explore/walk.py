"""The walk: every letter of an alphabet from every new state, every step judged.

core.py copies this file and puts in the compiled control step and truths. The original runs
interpreted; a test compares the two.
"""

from typing import NamedTuple

import numpy as np
from twinloop.control import air, alarms, diagnosis, frost
from twinloop.control import coldloop as cold
from twinloop.control import conditions as c
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control.station import step
from twinloop.control.tables import Words

from ..engine.bare import bare
from ..thermal.rows import copy
from .truths import broken

# -- what a walk has seen: one int64 array -------------------------------------------------------
WORDS = Words()
ROWS_SEEN = WORDS.take(64)  # times each row of the table decided
REASONS_SEEN = WORDS.take(64)  # times of each reason
WAITS_SEEN = WORDS.take(64)  # and wait reason
EDGES_SEEN = WORDS.take(s.DUTIES * s.DUTIES)  # duty before * DUTIES + duty after
AIR_SEEN = WORDS.take(80)  # and reason of the fan
ALARMS_SEEN = WORDS.take(32)  # of each alarm bit
# ((sensor * SENSORS + other) * 4 + status) * 4 + status of the other
PAIRS_SEEN = WORDS.take(s.SENSORS * s.SENSORS * 16)
LATCHES_SET = WORDS.take(32)  # times each latch of latch_bits was set, and cleared
LATCHES_CLEARED = WORDS.take(32)
CAUSES_SEEN = WORDS.take(s.SENSORS * 32)  # sensor * 32 + cause
TRUTHS_BROKEN = WORDS.take(64)  # times each truth broke
BROKEN_BY = WORDS.take(3 * 64)  # state, letter and step of the first break of each truth
STEPS = WORDS.take()
TRANSITIONS = WORDS.take()
SEEN = WORDS.taken

LATCH_NAMES = (
    "tank_over",
    "tank_full",
    "stagnation",
    "charge_hot",
    "charge_wanted",
    "dump_wanted",
    "frost",
    "cooling_wanted",
    "loop_known",
    "unbidden_flow",
    "glycol_not_arriving",
    "flow_missing",
    "heat_astray",
    "sensors_swapped",
    "radiator_dead",
    "dump_heats_tank",
    "running_on",
    "exercising",
    "loop_cold",
    "valve_away",
    "heat_too_weak",
    "radiator_stood",
)


class Letters(NamedTuple):
    """An alphabet: what each letter overwrites, for how many steps it holds, and its flicker."""

    values: np.ndarray  # int32 (letters, INPUTS)
    masks: np.ndarray  # the same: 1 where the letter overwrites
    steps: np.ndarray  # int32 of letters, as is the flicker
    dither_mk: np.ndarray


class Reached(NamedTuple):
    """The states that a walk has reached, one a row, and the keys of all of them."""

    states: np.ndarray  # int32, as are all but the keys
    memories: np.ndarray
    helds: np.ndarray  # inputs
    parents: np.ndarray  # row of the state that this one was reached from
    letters: np.ndarray  # and by which letter
    table: np.ndarray  # uint64, some times longer


def times(value, limit):
    """0, 1 or 2: a timer is stopped, running, or has run out."""
    return 0 if value == 0 else 1 if value < limit else 2


def mix(key, value):
    """Mix a value into a key (splitmix64's finaliser)."""
    key = (key ^ np.uint64(value)) * np.uint64(0xBF58476D1CE4E5B9)
    key = (key ^ (key >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return key ^ (key >> np.uint64(31))


def holds(state, condition):
    """1 while a condition is set, else 0."""
    return state[s.CONDITIONS + condition // c.BITS] >> condition % c.BITS & 1


def latch_bits(state, settings):
    """All latches as a bit set, in the order of LATCH_NAMES."""
    bits = 0
    for index in range(8):
        bits |= state[s.TANK_OVER + index] << index
    bits |= state[s.LOOP_KNOWN] << 8 | state[s.UNBIDDEN_FLOW] << 9
    bits |= holds(state, c.NOT_ARRIVING) << 10
    bits |= holds(state, c.FLOWLESS) << 11
    bits |= holds(state, c.ASTRAY) << 12
    bits |= holds(state, c.SWAPPED) << 13
    bits |= holds(state, c.DEAD) << 14
    bits |= holds(state, c.HEATING) << 15
    bits |= (1 if state[s.RUNNING_ON] == 1 else 0) << 16
    bits |= (1 if state[s.EXERCISING] < s.MOVERS else 0) << 17
    bits |= holds(state, c.COLD_LOOP) << 18
    bits |= (1 if state[s.VALVE_MS] > 0 else 0) << 19
    bits |= holds(state, c.PAUSED) << 20 | state[s.RADIATOR_STOOD] << 21
    return bits


def status_bits(state):
    """The status of every sensor, two bits each."""
    bits = 0
    for sensor in range(s.SENSORS):
        bits |= state[s.STATUS + sensor] << (2 * sensor)
    return bits


def lost_bits(state):
    """Sensors without a value, one bit each; rules do not tell good from held."""
    bits = 0
    for sensor in range(s.SENSORS):
        if state[s.STATUS + sensor] > s.HELD:
            bits |= 1 << sensor
    return bits


def output_key(state, settings):
    """Commands, valve travel, run-on, and the timers that commands wait for."""
    pump_ms = state[s.COLLECTOR_PUMP_MS]
    if state[s.COLLECTOR_PUMP_ON] != 0:
        word = 4 + (pump_ms >= settings[cfg.MINIMUM_RUN]) * 2 + (pump_ms >= settings[cfg.TANK_PUMP_DELAY])
    else:
        word = 0 + (pump_ms >= settings[cfg.MINIMUM_REST])
    word = word * 3 + times(state[s.VALVE_MS], settings[cfg.DUMP_TRAVEL])
    word = word * 2 + (state[s.VALVE_HOME_MS] > 0)
    word = word * 3 + state[s.RUNNING_ON]
    word = word * (s.MOVERS + 1) + state[s.EXERCISING]
    for output in s.MOVING:
        word = word * 2 + state[s.COMMAND + output]
    return word


def loop_key(state, settings):
    """How far a cold loop is from counting as warm, and whether water moves first."""
    word = 1 if state[s.STANDING_MS] >= cold.STANDING_LIMIT_MS else 0
    if holds(state, c.COLD_LOOP) == 0:
        return word
    word = word * 2 + (state[s.PUMPED_ML] >= settings[cfg.LOOP_VOLUME])
    word = word * 2 + (state[s.OUTPUT_MS + s.TANK_PUMP] >= frost.WATER_FIRST_MS)
    word = word * 2 + (state[s.COLLECTOR_PUMP_ON] == 0 and state[s.COLLECTOR_PUMP_MS] >= frost.PULSE_REST_MS)
    word = word * 2 + (abs(state[s.EXCHANGER_MC] - state[s.PLATES_FROM_MC]) >= frost.PROVEN_MK)
    return word * 3 + times(state[s.ARRIVED_MS], cold.ARRIVED_LIMIT_MS) + 2


def doubt_key(state, settings):
    word = 0
    for timer in (s.NOT_JOINED_MS, s.FAR_MS, s.FLOWLESS_MS, s.DUMP_IDLE_MS):
        word = word * 2 + (state[timer] > 0)
    word = word * 2 + (state[s.STEADY_MS] >= diagnosis.STEADY_LIMIT_MS)
    word = word * 2 + (state[s.LOW_BY_MK] > 0)
    word = word * 3 + times(state[s.FOUL_S], diagnosis.FOUL_LIMIT_S)
    word = word * 2 + state[s.DRAINS]
    word = word * 3 + times(state[s.TRACK_MS], alarms.TRACK_LIMIT_MS)
    wide = state[s.TRACK_MS] > 0 and state[s.TRACK_HIGH_MC] - state[s.TRACK_LOW_MC] >= alarms.TRACK_RANGE_MK
    return word * 2 + (1 if wide else 0)


def air_key(state, settings):
    """What the fan does and why, and how its timers stand."""
    word = state[s.AIR_REASON] * 16 + state[s.AIR_WANTED] * 8 + state[s.ROOM_WARM] * 4 + state[s.SUMMER] * 2
    word = word + (state[s.OUTPUT_MS + s.AIR_FAN] >= air.FAN_REST_MS)
    word = word * 2 + (state[s.UNMOVED_S + s.FAN_MOVER] >= settings[cfg.EXERCISE_AFTER])
    return word * 3 + times(state[s.BACK_S], air.BACK_LIMIT_S)


def key_of(state, settings):
    """The abstract state as 64 bits: states with the same key are one to the walk."""
    key = mix(np.uint64(1), state[s.ROW])
    key = mix(key, state[s.WAIT_REASON])
    for word in range(s.CONDITIONS, s.CONDITIONS + c.CONDITION_WORDS):
        key = mix(key, state[word])
    key = mix(key, latch_bits(state, settings))
    key = mix(key, lost_bits(state))
    key = mix(key, output_key(state, settings))
    if settings[cfg.AIR_HEATER] != 0:
        key = mix(key, air_key(state, settings))
    key = mix(key, loop_key(state, settings))
    return mix(key, doubt_key(state, settings)) | np.uint64(1)


def is_new(table, key):
    """Add a key to those seen (open addressing); returns whether it is new."""
    place = np.int64(key >> np.uint64(20)) % table.shape[0]
    while table[place] != 0:
        if table[place] == key:
            return False
        place = (place + 1) % table.shape[0]
    table[place] = key
    return True


def note_latches(seen, before, now):
    """Count the latches that this step set or cleared."""
    for latch in range(len(LATCH_NAMES)):
        if (now & ~before) >> latch & 1:
            seen[LATCHES_SET + latch] += 1
        if (before & ~now) >> latch & 1:
            seen[LATCHES_CLEARED + latch] += 1


def note_trust(seen, state):
    """Count every pair of sensor states and every cause."""
    for sensor in range(s.SENSORS):
        seen[CAUSES_SEEN + sensor * 32 + state[s.CAUSE + sensor]] += 1
        for other in range(sensor + 1, s.SENSORS):
            pair = (sensor * s.SENSORS + other) * 16 + state[s.STATUS + sensor] * 4 + state[s.STATUS + other]
            seen[PAIRS_SEEN + pair] += 1


def note(seen, state, duty_before):
    """Count this step's row, reason, edge and alarms."""
    seen[STEPS] += 1
    seen[ROWS_SEEN + state[s.ROW]] += 1
    seen[REASONS_SEEN + state[s.REASON]] += 1
    seen[WAITS_SEEN + state[s.WAIT_REASON]] += 1
    seen[AIR_SEEN + state[s.AIR_REASON]] += 1
    seen[EDGES_SEEN + duty_before * s.DUTIES + state[s.DUTY]] += 1
    if state[s.ALARMS] != 0:
        for bit in range(alarms.ALARM_BITS):
            if state[s.ALARMS] >> bit & 1:
                seen[ALARMS_SEEN + bit] += 1


def blame(seen, bits, parent, letter, count):
    """Note where each broken truth broke first."""
    for truth in range(64):
        if bits >> truth & 1:
            if seen[TRUTHS_BROKEN + truth] == 0:
                seen[BROKEN_BY + 3 * truth] = parent
                seen[BROKEN_BY + 3 * truth + 1] = letter
                seen[BROKEN_BY + 3 * truth + 2] = count
            seen[TRUTHS_BROKEN + truth] += 1


def overwrite(held, values, masks):
    """Apply a letter; inputs it does not mask keep their values."""
    for index in range(s.INPUTS):
        if masks[index]:
            held[index] = values[index]


def dithered(inputs, held, dither_mk, count):
    """The inputs of one step: those held, with a live chip's flicker in every second step."""
    for index in range(s.INPUTS):
        inputs[index] = held[index]
    if count & 1:
        for sensor in range(s.SENSORS):
            inputs[s.IN_RAW_MC + sensor] += dither_mk


def spell(state, m, held, settings, letters, letter, seen):
    """Run one letter from one state, in place, and judge and note each step.

    Args: `state`, `m` and `settings` are bare.

    Returns: the truths that broke, 0 for none, and the step in which they did.
    """
    inputs = np.zeros(s.INPUTS, dtype=np.int32)
    overwrite(held, letters.values[letter], letters.masks[letter])
    latches = latch_bits(state, settings)
    trust = -1
    for count in range(letters.steps[letter]):
        dithered(inputs, held, letters.dither_mk[letter], count)
        duty_before = state[s.DUTY]
        # Taken in the loop: a bare row does not keep its array alive.
        given = bare(inputs, "inputs")
        step(state, settings, given)
        bits = broken(m, state, settings, given)
        note(seen, state, duty_before)
        now = latch_bits(state, settings)
        if now != latches:
            note_latches(seen, latches, now)
            latches = now
        now = status_bits(state)
        if now != trust:
            note_trust(seen, state)
            trust = now
        if bits != 0:
            return bits, count
    return 0, 0


def walk(settings, letters, reached, seen, filled):
    """Walk breadth first from the first `filled` states until nothing is new or arrays are full.

    Adds to `seen` (int64 of SEEN); returns the number of states, and how many were expanded.
    """
    head = 0
    state = np.zeros(s.STATE, dtype=np.int32)
    m = np.zeros(reached.memories.shape[1], dtype=np.int32)
    held = np.zeros(s.INPUTS, dtype=np.int32)
    while head < filled:
        for letter in range(letters.steps.shape[0]):
            if filled == reached.states.shape[0]:
                return filled, head
            copy(state, reached.states[head])
            copy(m, reached.memories[head])
            copy(held, reached.helds[head])
            now, known = bare(state, "state"), bare(settings, "settings")
            bits, count = spell(now, bare(m, "memory"), held, known, letters, letter, seen)
            seen[TRANSITIONS] += 1
            if bits != 0:
                blame(seen, bits, head, letter, count)
            elif is_new(reached.table, key_of(now, known)):
                copy(reached.states[filled], state)
                copy(reached.memories[filled], m)
                copy(reached.helds[filled], held)
                reached.parents[filled] = head
                reached.letters[filled] = letter
                filled += 1
        head += 1
    return filled, head


def replay(settings, state, m, rows, counts):
    """Run each row for its count of steps; returns the first broken truths and step, or 0, -1."""
    inputs = np.zeros(s.INPUTS, dtype=np.int32)
    now, known, memory, given = bare(state, "state"), bare(settings, "settings"), bare(m, "memory"), bare(inputs, "inputs")
    done = 0
    for k in range(rows.shape[0]):
        for _ in range(counts[k]):
            copy(inputs, rows[k])
            step(now, known, given)
            bits = broken(memory, now, known, given)
            if bits != 0:
                return bits, done
            done += 1
    return 0, -1
