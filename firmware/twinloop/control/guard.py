"""The last gate before the relays: it starts from raw readings and should never have to act.

It shares no code with the rules, so that a mistake there is not repeated here. A reading counts for
as long as the rules may hold it, however many bad ones follow, and a jump says nothing until it is
repeated twice. Before the guard acts it waits that time once more, plus a margin, so that a single
reading never makes it act. Each time it acts counts as a defect of the rules.
"""

from . import settings as cfg
from . import state as s

# Margin: three steps of five seconds, which the readings need to believe a jump. Pause after an
# action: ten minutes.
MARGIN_MS = 15000
HOLD_MS = 600000
TOP_MS = 4000000
# Of the sensors that the guard listens to, the first of the table: what each can read at all, and
# how fast it can change, in K/s. Five kelvin more are no jump.
LOWEST_MC = (-50000, 0, 0, -50000)
HIGHEST_MC = (240000, 115000, 115000, 160000)
FASTEST_MK_PER_MS = (10, 1, 1, 5)
JUMP_MK = 5000
AGREE = 3


def age_limit_ms(state, settings, inputs, sensor):
    """How long the rules may hold a reading of this sensor."""
    return settings[cfg.COLLECTOR_AGE] if sensor == s.COLLECTOR else settings[cfg.TANK_AGE]


def known(state, settings, inputs, sensor):
    """Whether the sensor's last believed reading still counts."""
    return state[s.GUARD_AGE_MS + sensor] <= age_limit_ms(state, settings, inputs, sensor)


def possible(state, settings, inputs, sensor):
    """Whether a raw reading is good for its driver, and possible at its place."""
    if inputs[s.IN_RAW_CAUSE + sensor] != 0 or inputs[s.IN_RAW_MC + sensor] < LOWEST_MC[sensor]:
        return False
    return inputs[s.IN_RAW_MC + sensor] <= HIGHEST_MC[sensor]


def reach_mk(state, settings, inputs, sensor):
    """How far from the last reading the next one is no jump."""
    return JUMP_MK + FASTEST_MK_PER_MS[sensor] * inputs[s.IN_DT_MS]


def count_agreeing(state, settings, inputs, sensor):
    """Count possible readings in a row that agree, up to the third."""
    jump_mk = abs(inputs[s.IN_RAW_MC + sensor] - state[s.GUARD_TRY_MC + sensor])
    if jump_mk > reach_mk(state, settings, inputs, sensor):
        state[s.GUARD_TRIES + sensor] = 0
    state[s.GUARD_TRIES + sensor] = min(state[s.GUARD_TRIES + sensor] + 1, AGREE)
    state[s.GUARD_TRY_MC + sensor] = inputs[s.IN_RAW_MC + sensor]


def believable(state, settings, inputs, sensor):
    """Whether a possible reading is the third to agree, or near the last believed one."""
    if state[s.GUARD_TRIES + sensor] >= AGREE:
        return True
    if not known(state, settings, inputs, sensor):
        return False
    jump_mk = abs(inputs[s.IN_RAW_MC + sensor] - state[s.GUARD_MC + sensor])
    return jump_mk <= reach_mk(state, settings, inputs, sensor)


def listen(state, settings, inputs, sensor):
    """Remember a reading that can be believed; any other only lets the last one age."""
    if possible(state, settings, inputs, sensor):
        count_agreeing(state, settings, inputs, sensor)
        if believable(state, settings, inputs, sensor):
            state[s.GUARD_MC + sensor] = inputs[s.IN_RAW_MC + sensor]
            state[s.GUARD_AGE_MS + sensor] = 0
            return
    elif inputs[s.IN_RAW_CAUSE + sensor] != s.CAUSE_NOT_READY:
        state[s.GUARD_TRIES + sensor] = 0
    run(state, inputs, s.GUARD_AGE_MS + sensor, True)


def run(state, inputs, index, runs):
    """Run a timer while `runs` is true; otherwise set it back to 0."""
    state[index] = min(state[index] + inputs[s.IN_DT_MS], TOP_MS) if runs else 0


def steams(state, settings, inputs):
    """Whether the collector is at its limit."""
    return known(state, settings, inputs, s.COLLECTOR) and state[s.GUARD_MC + s.COLLECTOR] >= settings[cfg.COLLECTOR_LIMIT]


def over(state, settings, inputs, sensor):
    """Whether a tank sensor is over tank_limit."""
    return (
        known(state, settings, inputs, sensor) and state[s.GUARD_MC + sensor] > settings[cfg.TANK_LIMIT] - settings[cfg.TANK_MARGIN]
    )


def chills(state, settings, inputs):
    """Whether loop_supply is below both tank sensors: pumping then only removes heat."""
    if not known(state, settings, inputs, s.LOOP_SUPPLY):
        return False
    if not known(state, settings, inputs, s.TANK_LOW) or not known(state, settings, inputs, s.TANK_HIGH):
        return False
    return state[s.GUARD_MC + s.LOOP_SUPPLY] < min(state[s.GUARD_MC + s.TANK_LOW], state[s.GUARD_MC + s.TANK_HIGH])


def measure_collector(state, settings, inputs):
    """Time a collector at its limit."""
    hot = steams(state, settings, inputs)
    run(state, inputs, s.GUARD_COLLECTOR_MS, hot)


def measure_tank(state, settings, inputs):
    """Time a tank over its limit beside glycol that is not colder."""
    hot = over(state, settings, inputs, s.TANK_LOW)
    if over(state, settings, inputs, s.TANK_HIGH):
        hot = True
    if chills(state, settings, inputs):
        hot = False
    state[s.GUARD_TANK_STEPS] = min(state[s.GUARD_TANK_STEPS] + 1, AGREE + 1) if hot else 0
    run(state, inputs, s.GUARD_TANK_MS, hot)
    # What the guard believes at once may take the rules three steps: however long, they count five
    # seconds each.
    if state[s.GUARD_TANK_STEPS] <= AGREE:
        state[s.GUARD_TANK_MS] = min(state[s.GUARD_TANK_MS], state[s.GUARD_TANK_STEPS] * MARGIN_MS // AGREE)


def unseen_ms(state, settings, inputs):
    """How long there has been no tank reading to believe."""
    return min(state[s.GUARD_AGE_MS + s.TANK_LOW], state[s.GUARD_AGE_MS + s.TANK_HIGH])


def must_act(state, settings, inputs):
    """Whether a command has to be stopped."""
    if state[s.COMMAND + s.COLLECTOR_PUMP] == 0:
        return 0
    bad_ms = max(state[s.GUARD_COLLECTOR_MS], state[s.GUARD_AGE_MS + s.COLLECTOR])
    if bad_ms > settings[cfg.COLLECTOR_AGE] + MARGIN_MS:
        return 1
    # Valves leak and relays weld: over the limit even a tank pump that is off is no excuse.
    bad_ms = state[s.GUARD_TANK_MS]
    if state[s.COMMAND + s.TANK_PUMP] != 0:
        bad_ms = max(bad_ms, unseen_ms(state, settings, inputs))
    return 1 if bad_ms > settings[cfg.TANK_AGE] + MARGIN_MS else 0


def release_all(state, settings, inputs):
    """Put the pumps and the valve in their safe state, which is without power."""
    for mover in range(s.MOVERS):
        output = s.MOVING[mover]
        if state[s.COMMAND + output] != 0:
            state[s.COMMAND + output] = 0
            state[s.OUTPUT_MS + output] = 0


def gate(state, settings, inputs):
    """Stop the pumps and the valve when a command is not allowed, and for ten minutes after."""
    for sensor in range(s.GUARDED):
        listen(state, settings, inputs, sensor)
    measure_collector(state, settings, inputs)
    measure_tank(state, settings, inputs)
    state[s.GUARD_HOLD_MS] = max(state[s.GUARD_HOLD_MS] - inputs[s.IN_DT_MS], 0)
    if must_act(state, settings, inputs) == 1:
        state[s.GUARD_ACTIONS] += 1
        state[s.GUARD_HOLD_MS] = HOLD_MS
    if state[s.GUARD_HOLD_MS] > 0:
        release_all(state, settings, inputs)
