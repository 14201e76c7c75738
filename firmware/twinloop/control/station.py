"""One step of the station, and how it wakes: the order in which the core works."""

from . import air, alarms, coldloop, collect, diagnosis, guard, latches, meter, readings, rules, sequence
from . import state as s


def bound_time(state, settings, inputs):
    """Bound a step to between 1 ms and 60 s.

    A longer gap is a gap in knowledge: no reading and no history of the loop survives it.
    """
    if inputs[s.IN_DT_MS] > s.STEP_TOP_MS:
        readings.forget_all(state, settings, inputs)
        coldloop.wake(state, settings, inputs)
    inputs[s.IN_DT_MS] = max(1, min(inputs[s.IN_DT_MS], s.STEP_TOP_MS))


def step(state, settings, inputs):
    """Judge the raw inputs of one step and leave the commands in the state."""
    bound_time(state, settings, inputs)
    meter.count_time(state, settings, inputs)
    meter.count_heat(state, settings, inputs)
    meter.count_hot_hour(state, settings, inputs)
    sequence.pass_time(state, settings, inputs)
    readings.judge_all(state, settings, inputs)
    latches.observe(state, settings, inputs)
    coldloop.track_loop(state, settings, inputs)
    diagnosis.watch(state, settings, inputs)
    alarms.notice(state, settings, inputs)
    collect.collect(state, settings, inputs)
    rules.decide(state, settings, inputs)
    sequence.move_outputs(state, settings, inputs)
    air.move_fan(state, settings, inputs)
    guard.gate(state, settings, inputs)
    alarms.speak(state, settings, inputs)
    meter.count_starts(state, settings, inputs)


def wake(state, settings, inputs):
    """The state after a reset: nothing known, everything off; the totals of the meter stay.

    Every latch that forbids something is set.
    """
    for index in range(s.METER_MS):
        state[index] = 0
    readings.forget_all(state, settings, inputs)
    latches.wake(state, settings, inputs)
    coldloop.wake(state, settings, inputs)
    sequence.wake(state, settings, inputs)


def clear_meter(state, settings, inputs):
    """Set every total of the meter to 0."""
    for index in range(s.METER_MS, s.STATE):
        state[index] = 0
