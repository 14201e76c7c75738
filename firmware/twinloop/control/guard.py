"""The last gate before the relays: it starts from raw readings and should never have to act.

It shares no code with the rules, so that a mistake there is not repeated here. It waits as long as
the rules may use a held reading, plus a margin. Each time it acts counts as a defect of the rules.
"""

from . import settings as cfg
from . import state as s

# Margin: three steps of five seconds, which the readings need to believe a jump. Pause after an
# action: ten minutes.
MARGIN_MS = 15000
HOLD_MS = 600000
TOP_MS = 4000000
# What a sensor pocket in a tank can read at all. From one step to the next it does not jump by more
# than five kelvin.
POSSIBLE_LOW_MC = -5000
POSSIBLE_TOP_MC = 115000
JUMP_MK = 5000


def measure_collector(state, settings, inputs):
    """Time a raw collector reading that is bad or at its limit."""
    good = inputs[s.IN_RAW_CAUSE + s.COLLECTOR] == 0 and inputs[s.IN_RAW_MC + s.COLLECTOR] < settings[cfg.COLLECTOR_LIMIT]
    state[s.GUARD_COLLECTOR_MS] = 0 if good else min(state[s.GUARD_COLLECTOR_MS] + inputs[s.IN_DT_MS], TOP_MS)


def seen(state, settings, inputs, sensor):
    """Whether a raw tank reading is good for its driver and possible for water in a tank."""
    return inputs[s.IN_RAW_CAUSE + sensor] == 0 and POSSIBLE_LOW_MC <= inputs[s.IN_RAW_MC + sensor] <= POSSIBLE_TOP_MC


def over(state, settings, inputs, sensor):
    """Whether a raw tank reading is more than 1 K over tank_limit; the rules act at the limit.

    A reading that jumps says nothing.
    """
    memory = s.GUARD_LOW_MC if sensor == s.TANK_LOW else s.GUARD_HIGH_MC
    last = state[memory]
    if not seen(state, settings, inputs, sensor):
        state[memory] = 0
        return False
    state[memory] = inputs[s.IN_RAW_MC + sensor]
    if abs(inputs[s.IN_RAW_MC + sensor] - last) > JUMP_MK:
        return False
    return inputs[s.IN_RAW_MC + sensor] > settings[cfg.TANK_LIMIT] + 1000


def measure_tank(state, settings, inputs):
    """Time a tank without a possible raw reading, or with one over the limit."""
    bad = over(state, settings, inputs, s.TANK_LOW)
    if over(state, settings, inputs, s.TANK_HIGH):
        bad = True
    if not seen(state, settings, inputs, s.TANK_LOW) and not seen(state, settings, inputs, s.TANK_HIGH):
        bad = True
    state[s.GUARD_TANK_MS] = min(state[s.GUARD_TANK_MS] + inputs[s.IN_DT_MS], TOP_MS) if bad else 0


def chills(state, settings, inputs):
    """Whether raw loop_supply is below both raw tank readings: pumping then only removes heat."""
    if inputs[s.IN_RAW_CAUSE + s.LOOP_SUPPLY] != 0:
        return False
    if not seen(state, settings, inputs, s.TANK_LOW) or not seen(state, settings, inputs, s.TANK_HIGH):
        return False
    return inputs[s.IN_RAW_MC + s.LOOP_SUPPLY] < min(inputs[s.IN_RAW_MC + s.TANK_LOW], inputs[s.IN_RAW_MC + s.TANK_HIGH])


def must_act(state, settings, inputs):
    """Whether a command has to be stopped."""
    if state[s.COMMAND + s.COLLECTOR_PUMP] == 0:
        return 0
    if state[s.GUARD_COLLECTOR_MS] > settings[cfg.COLLECTOR_AGE] + MARGIN_MS:
        return 1
    heating = state[s.COMMAND + s.TANK_PUMP] != 0 and not chills(state, settings, inputs)
    return 1 if heating and state[s.GUARD_TANK_MS] > settings[cfg.TANK_AGE] + MARGIN_MS else 0


def release_all(state, settings, inputs):
    """Put the pumps and the valve in their safe state, which is without power."""
    for mover in range(s.MOVERS):
        output = s.MOVING[mover]
        if state[s.COMMAND + output] != 0:
            state[s.COMMAND + output] = 0
            state[s.OUTPUT_MS + output] = 0


def gate(state, settings, inputs):
    """Stop the pumps and the valve when a command is not allowed, and for ten minutes after."""
    measure_collector(state, settings, inputs)
    measure_tank(state, settings, inputs)
    state[s.GUARD_HOLD_MS] = max(state[s.GUARD_HOLD_MS] - inputs[s.IN_DT_MS], 0)
    if must_act(state, settings, inputs) == 1:
        state[s.GUARD_ACTIONS] += 1
        state[s.GUARD_HOLD_MS] = HOLD_MS
    if state[s.GUARD_HOLD_MS] > 0:
        release_all(state, settings, inputs)
