"""The inner loop of `storm`: plant and firmware in lock step, with faults in their real place.

A fault is one row of the `schedule` array. `series` holds what was drawn for it beforehand, a value
for each step. Sensor faults and people act on the inputs after `sense`, relay faults on the
commands between firmware and plant, the others on live plant values, on the valve, or on time.
compiled.py copies this file and puts in the compiled `step` and `wake`.
"""

from typing import NamedTuple

import numpy as np
from twinloop.control import state as s
from twinloop.control.station import step, wake

from ..engine.bare import bare
from ..engine.block import note_row, sense
from ..thermal import parameters as p
from ..thermal import state as th
from ..thermal.jit import kernel
from ..thermal.plant import advance
from ..thermal.rows import clear, copy
from .reference import FIRMWARE, TRUTH, believe, decide, follow_valve, see

# Columns of the schedule, float64 (faults, SCHEDULE).
KIND = 0
TARGET = 1  # sensor, output or index of a plant value
SIZE = 2
BEGIN = 3  # first step
END = 4  # first step without it
SCHEDULE = 5

# Kinds: sensors first, then relays, plant and time.
CAUSE = 0  # the driver reports the cause SIZE wherever the series is above 0
STUCK = 1  # the raw value of the first step
ADDED = 2  # the series in K is added to the raw value
SWAPPED = 3  # TARGET and SIZE are swapped
FLOW_LOST = 4  # the flow input reports the cause SIZE
FLOW_STUCK = 5  # the flow input keeps its value
BUS_LOST = 6  # the driver reports the cause SIZE for every sensor from TARGET on
MIXED = 7  # reads the part SIZE of its place, the rest of the surroundings in the series
HELD = 8  # hands hold outputs: the series is HELD_BY times their bits, plus the bits of those held on
UPKEEP = 9  # somebody purges or maintains, as SIZE says
LAST_OF_INPUTS = 9
RELAY = 10  # the plant gets SIZE instead of the command
SCALED = 20  # a plant value times SIZE
REPLACED = 21  # a plant value is SIZE
VALVE_HELD = 22  # the dump valve sticks at the position SIZE when it reaches it
NO_POWER = 30  # everything off wherever the series is above 0; the station wakes after that
RESETS = 31  # the watchdog resets the board wherever the series is above 0
SAGS = 32  # starting a mover while SIZE of them run takes the power away for a step; noted in the series
WORLD = 40  # acts beforehand, on the drive table, the settings, or the running station

HELD_BY = 8

# Tallies, int64 of TALLIES, kept from one call to the next.
GUARD_ACTIONS = 0
GUARD_FIRST_STEP = 1
RESET_COUNT = 2
UPTIME_MS = 3
MOVED = 4  # whether something has moved since the start: 1 until an hour after that, then 2
DUE_MS = 5  # the uptime at which a rest ends, or at which earlier starts are forgiven
TALLIES = 6

# Stop checking a fault that was felt in this many steps: each check costs a step of the plant.
FELT_ENOUGH = 12
# Two plants that differ by less than this in every entry count as the same.
FELT_LEAST = 1e-6
# A sound hour forgives earlier starts, and the first rest is as long, as in loop.py.
FORGIVEN_MS = 3600000
# A stuck valve takes this long.
NEVER_S = np.inf


class Faults(NamedTuple):
    """The faults of an episode and their effect.

    `schedule` (float64 (faults, SCHEDULE)), `series` (float64 (faults, steps of the episode)),
    `memory` (float64 of faults, NaN at the beginning), `felt` (int64 of faults, added to: steps in
    which each changed something), `tallies` (int64 of TALLIES, added to), `rule` (who decides, see
    reference.py).
    """

    schedule: np.ndarray
    series: np.ndarray
    memory: np.ndarray
    felt: np.ndarray
    tallies: np.ndarray
    rule: int = FIRMWARE


class Trial(NamedTuple):
    """Scratch for a step that is repeated without one of its faults."""

    before: np.ndarray
    plant: np.ndarray
    values: np.ndarray
    flux: np.ndarray


@kernel
def active(schedule, fault, k):
    return schedule[fault, BEGIN] <= k < schedule[fault, END]


@kernel
def upset_one(schedule, series, memory, fault, k, inputs):
    """Let one fault of a sensor, or one person, act on the firmware's inputs."""
    kind, target, size = int(schedule[fault, KIND]), int(schedule[fault, TARGET]), schedule[fault, SIZE]
    if kind == CAUSE:
        if series[fault, k] > 0.0:
            inputs[s.IN_RAW_CAUSE + target] = int(size)
    elif kind == BUS_LOST:
        for sensor in range(target, s.SENSORS):
            inputs[s.IN_RAW_CAUSE + sensor] = int(size)
    elif kind == STUCK:
        if memory[fault] != memory[fault]:
            memory[fault] = inputs[s.IN_RAW_MC + target]
        inputs[s.IN_RAW_MC + target] = int(memory[fault])
    elif kind == ADDED:
        inputs[s.IN_RAW_MC + target] += int(series[fault, k] * 1000.0)
    elif kind == SWAPPED:
        other = int(size)
        kept = inputs[s.IN_RAW_MC + target]
        inputs[s.IN_RAW_MC + target] = inputs[s.IN_RAW_MC + other]
        inputs[s.IN_RAW_MC + other] = kept
        kept = inputs[s.IN_RAW_CAUSE + target]
        inputs[s.IN_RAW_CAUSE + target] = inputs[s.IN_RAW_CAUSE + other]
        inputs[s.IN_RAW_CAUSE + other] = kept
    elif kind == MIXED:
        around_mc = series[fault, k] * 1000.0
        inputs[s.IN_RAW_MC + target] = int(around_mc + (inputs[s.IN_RAW_MC + target] - around_mc) * size)
    elif kind == HELD:
        inputs[s.IN_HAND_MASK] = int(series[fault, k]) // HELD_BY
        inputs[s.IN_HAND_VALUE] = int(series[fault, k]) % HELD_BY
    elif kind == UPKEEP:
        inputs[s.IN_UPKEEP] = int(size)
    elif kind == FLOW_LOST:
        inputs[s.IN_FLOW_CAUSE] = int(size)
    elif kind == FLOW_STUCK:
        if memory[fault] != memory[fault]:
            memory[fault] = inputs[s.IN_FLOW_ML_PER_MIN]
        inputs[s.IN_FLOW_ML_PER_MIN] = int(memory[fault])


@kernel
def upset_inputs(schedule, series, memory, felt, k, inputs, before):
    """Let every fault of sensors and every person of step k act, what sticks after all the others.

    A reading that sticks shows no noise. A fault that changes an input is felt.
    """
    inputs[s.IN_HAND_MASK] = inputs[s.IN_HAND_VALUE] = inputs[s.IN_UPKEEP] = 0
    count = schedule.shape[0]
    for turn in range(2 * count):
        fault = turn % count
        kind = int(schedule[fault, KIND])
        if kind > LAST_OF_INPUTS or (kind == STUCK) != (turn >= count) or not active(schedule, fault, k):
            continue
        copy(before, inputs)
        upset_one(schedule, series, memory, fault, k, inputs)
        for index in range(s.INPUTS):
            if inputs[index] != before[index]:
                felt[fault] += 1
                break


@kernel
def upset_commands(schedule, felt, k, command):
    """Replace the commands by what the relays really do."""
    for fault in range(schedule.shape[0]):
        if int(schedule[fault, KIND]) != RELAY or not active(schedule, fault, k):
            continue
        target, really = int(schedule[fault, TARGET]), int(schedule[fault, SIZE])
        if command[target] != really:
            felt[fault] += 1
        command[target] = really


@kernel
def upset_values(schedule, memory, values, live, k, without):
    """Write the plant values of step k to `live`, without one fault; returns how many act."""
    copy(live, values)
    count = 0
    for fault in range(schedule.shape[0]):
        kind, target = int(schedule[fault, KIND]), int(schedule[fault, TARGET])
        if kind < SCALED or kind > VALVE_HELD or not active(schedule, fault, k):
            continue
        count += 1
        if fault == without:
            continue
        if kind == SCALED:
            live[target] *= schedule[fault, SIZE]
        elif kind == REPLACED:
            live[target] = schedule[fault, SIZE]
        elif memory[fault] >= 0.0:
            live[p.DUMP_TRAVEL_S] = NEVER_S
    return count


@kernel
def catch_valve(schedule, memory, plant, was, k):
    """Hold a sticking valve where it reaches its place; `was` is its position before this step."""
    for fault in range(schedule.shape[0]):
        if int(schedule[fault, KIND]) != VALVE_HELD or not active(schedule, fault, k) or memory[fault] >= 0.0:
            continue
        place, now = schedule[fault, SIZE], plant[th.VALVE_POSITION]
        if (was - place) * (now - place) <= 0.0:
            plant[th.VALVE_POSITION] = place
            memory[fault] = place


@kernel
def differs(plant, other):
    farthest = 0.0
    for index in range(plant.shape[0]):
        farthest = max(farthest, abs(plant[index] - other[index]))
    return farthest > FELT_LEAST


@kernel
def feel_values(faults, rig, trial, drive, k, dt_s):
    """Count a plant fault as felt when the same step without it ends in another plant."""
    schedule, memory, felt = faults.schedule, faults.memory, faults.felt
    for fault in range(schedule.shape[0]):
        kind = int(schedule[fault, KIND])
        if kind < SCALED or kind > VALVE_HELD or not active(schedule, fault, k) or felt[fault] >= FELT_ENOUGH:
            continue
        upset_values(schedule, memory, rig.values, trial.values, k, fault)
        copy(trial.plant, trial.before)
        plant, values, flux = bare(trial.plant, "plant"), bare(trial.values, "values"), bare(trial.flux, "flux")
        advance(plant, values, drive, bare(rig.command, "command"), flux, dt_s)
        if differs(rig.plant, trial.plant):
            felt[fault] += 1


@kernel
def sense_resets(schedule, series, felt, k):
    """Whether the watchdog bites in step k."""
    bites = False
    for fault in range(schedule.shape[0]):
        if int(schedule[fault, KIND]) == RESETS and active(schedule, fault, k) and series[fault, k] > 0.0:
            felt[fault] += 1
            bites = True
    return bites


@kernel
def powerless(schedule, series, felt, k):
    """Whether there is no power in step k."""
    cut = False
    for fault in range(schedule.shape[0]):
        kind = int(schedule[fault, KIND])
        if kind in (NO_POWER, SAGS) and series[fault, k] > 0.0:
            felt[fault] += 1
            cut = True
    return cut


@kernel
def starts(command, was):
    """How many movers run, if one of them has just started; otherwise 0."""
    running, new = 0, 0
    for mover in range(s.MOVERS):
        output = s.MOVING[mover]
        running += 1 if command[output] != 0 else 0
        new += 1 if command[output] != 0 and was[output] == 0 else 0
    return running if new > 0 else 0


@kernel
def sag(schedule, series, k, command, was):
    """Take the power away in step k + 1 where the load of a start is too much for the supply.

    `was` holds the commands of the step before. A supply that breaks down moves nothing.
    """
    load = starts(command, was)
    copy(was, command)
    for fault in range(schedule.shape[0]):
        if int(schedule[fault, KIND]) != SAGS or not active(schedule, fault, k) or not active(schedule, fault, k + 1):
            continue
        if load >= max(schedule[fault, SIZE], 1.0):
            series[fault, k + 1] = 1.0
            clear(command)


@kernel
def count_guard(state, tallies, seen, k):
    """Add the guard's actions since `seen`; returns the guard's count, which waking resets."""
    now = state[s.GUARD_ACTIONS]
    if now > seen:
        if tallies[GUARD_ACTIONS] == 0:
            tallies[GUARD_FIRST_STEP] = k
        tallies[GUARD_ACTIONS] += now - seen
    return now


@kernel
def count_time(tallies, dt_ms):
    """Add a step to the time since the last start; a sound hour forgives earlier ones."""
    tallies[UPTIME_MS] += dt_ms
    if tallies[DUE_MS] == 0 or tallies[UPTIME_MS] < tallies[DUE_MS]:
        return
    tallies[DUE_MS] = 0
    if tallies[MOVED] == 1 or tallies[RESET_COUNT] < s.RESETS_LIMIT:
        tallies[RESET_COUNT] = 0
        tallies[MOVED] *= 2


@kernel
def count_wake(tallies, by_power):
    """Count a start after a run that moved something, and any by the watchdog up to the limit."""
    if tallies[MOVED] == 1 or (not by_power and tallies[RESET_COUNT] < s.RESETS_LIMIT):
        tallies[RESET_COUNT] += 1
    tallies[MOVED] = 0
    tallies[UPTIME_MS] = 0
    tallies[DUE_MS] = FORGIVEN_MS << max(0, min(tallies[RESET_COUNT] - s.RESETS_LIMIT, 2))


@kernel
def count_move(tallies, moves):
    """Note that something moves for the first time since the start."""
    if moves and tallies[MOVED] == 0:
        tallies[MOVED] = 1
        tallies[DUE_MS] = tallies[UPTIME_MS] + FORGIVEN_MS


@kernel
def resets_told(tallies):
    """The count in force: after its rest the station may try."""
    if tallies[MOVED] == 0 and tallies[DUE_MS] > 0:
        return tallies[RESET_COUNT]
    return min(tallies[RESET_COUNT], s.RESETS_LIMIT - 1)


@kernel
def moves_something(command, first):
    """Whether a mover is commanded on; `first` is the place of the first output."""
    on = 0
    for mover in range(s.MOVERS):
        on += command[first + s.MOVING[mover]]
    return on != 0


@kernel
def resets_in_force(unpowered, bitten, moves, dt_ms):
    """The board's count of starts in each step, as it tells the control core."""
    tallies, found = np.zeros(TALLIES, dtype=np.int64), np.zeros(len(moves), dtype=np.int64)
    was_cut = False
    for k in range(len(moves)):
        count_time(tallies, dt_ms)
        if unpowered[k] or was_cut or bitten[k]:
            count_wake(tallies, unpowered[k] or was_cut)
        was_cut = unpowered[k]
        found[k] = resets_told(tallies)
        count_move(tallies, moves[k])
    return found


@kernel
def refer(plant, values, ambient_c, rule, settings, inputs, state):
    """One decision of the reference rule; it rests while somebody holds or maintains something."""
    if rule == TRUTH:
        see(plant, values, ambient_c, inputs)
        decide(plant[th.VALVE_POSITION], values, settings, inputs, state)
    else:
        believe(settings, inputs, state)
        decide(follow_valve(settings, inputs, state), values, settings, inputs, state)
    if inputs[s.IN_HAND_MASK] != 0 or inputs[s.IN_UPKEEP] != 0:
        for output in range(s.OUTPUTS):
            state[s.COMMAND + output] = 0


def run_storm_block(rig, faults, first, drive, dt_ms, rows):
    """Run block.run_block with the faults of an episode; `first` is the episode's step of row 0."""
    # Once, before the loop: each access to a member of a tuple counts a reference.
    schedule, series, memory = faults.schedule, faults.series, faults.memory
    felt, tallies, rule = faults.felt, faults.tallies, faults.rule
    plant, values, flux, command = rig.plant, rig.values, rig.flux, rig.command
    state, settings, inputs = rig.state, rig.settings, rig.inputs
    chips, felt_c = rig.chips, rig.felt_c
    live = values.copy()
    before = plant.copy()
    trial = Trial(before, plant.copy(), values.copy(), flux.copy())
    inputs_before, was = inputs.copy(), command.copy()
    here, built, told, sums = bare(plant, "plant"), bare(values, "values"), bare(command, "command"), bare(flux, "flux")
    seen = state[s.GUARD_ACTIONS]
    was_cut = False
    for output in range(s.OUTPUTS):
        was[output] = state[s.COMMAND + output]
    for i in range(rows.shape[0]):
        k = first + i
        cut = powerless(schedule, series, felt, k)
        bites = sense_resets(schedule, series, felt, k)
        count_time(tallies, dt_ms)
        if cut or was_cut or bites:
            wake(state, settings, inputs)
            count_wake(tallies, cut or was_cut)
            seen = 0
        was_cut = cut
        if not cut and not bites:
            sense(here, built, chips, felt_c, settings, inputs)
            upset_inputs(schedule, series, memory, felt, k, inputs, inputs_before)
            inputs[s.IN_DT_MS] = dt_ms
            inputs[s.IN_RESETS] = resets_told(tallies)
            if rule == FIRMWARE:
                step(state, settings, inputs)
            else:
                refer(here, built, drive[i, th.DRIVE_AMBIENT_C], rule, settings, inputs, state)
            count_move(tallies, moves_something(state, s.COMMAND))
        seen = count_guard(state, tallies, seen, k)
        for output in range(s.OUTPUTS):
            command[output] = state[s.COMMAND + output]
        upset_commands(schedule, felt, k, command)
        if cut:
            clear(command)
        sag(schedule, series, k, command, was)
        now, row = bare(drive[i], "drive"), bare(rows[i], "trace")
        note_row(here, built, now, bare(state, "state"), sums, row)
        if upset_values(schedule, memory, values, live, k, -1) == 0:
            advance(here, built, now, told, sums, dt_ms / 1000.0)
            continue
        copy(before, plant)
        advance(here, bare(live, "values"), now, told, sums, dt_ms / 1000.0)
        catch_valve(schedule, memory, plant, before[th.VALVE_POSITION], k)
        feel_values(faults, rig, trial, now, k, dt_ms / 1000.0)
