"""From a duty to relays: which ones move, in which order, and what they wait for.

The collector pump never works against a moving valve that blocks. It rests between runs and stops
before the tank pump. The tank pump joins when the arriving glycol is warmer than the tank, and runs
on to fetch the heat left in the exchanger. Hands and purging may ask for the pumps and the valve;
the limits that protect still apply.
"""

from . import conditions as c
from . import frost, rules, tank
from . import reasons as why
from . import settings as cfg
from . import state as s

# Purging alternates: five minutes through the radiator, where the valve rests, and five through the
# exchanger. The pumps run only while nothing can scald.
PURGE_HALF_MS = 300000
PURGE_TOP_MC = 60000
# How long a mover has been off is counted up to the longest exercise_after.
UNMOVED_TOP_S = 1209600
# A start costs 70 minutes. Time pays it off, and so do two minutes of glycol that brings heat to
# the tank or a cold loop; the first half minute does not count. A dump pays less: a fault may make
# a station dump all day. A debt of more than seven hours lengthens the rest, up to an hour: at most
# 33 starts a day bring nothing.
START_S = 4200
USEFUL = 35
VAIN_MS = 30000
PAYS_MS = 150000
FREE_S = 25200
WORN_TOP_S = 54000
REST_MS_PER_S = 125
# A pulse of frosty glycol costs 1000 s. Pulses alone lengthen the rest to nine minutes
# at most: standing glycol begins to count as frosty again after ten.
PULSE_S = 1000
PULSES_TOP_S = 30000
# A tank pump that stops in charging rests for less than it takes to give up a weak sun (five
# minutes).
JOIN_REST_MS = 240000
# RUNNING_ON while the tank pump runs in charging: a run-on will follow.
ARMED = 2


def age(state, settings, inputs, index):
    """Advance one timer."""
    state[index] = min(state[index] + inputs[s.IN_DT_MS], s.TIMER_TOP_MS)


def rest_movers(state, settings, inputs):
    """Count how long each pump and the valve has been off; METER_SECONDS come first."""
    for mover in range(s.MOVERS):
        if state[s.COMMAND + s.MOVING[mover]] != 0:
            state[s.UNMOVED_S + mover] = 0
        elif state[s.UNMOVED_S + mover] < UNMOVED_TOP_S:
            state[s.UNMOVED_S + mover] += state[s.METER_SECONDS]
    if settings[cfg.DUMP_TOPOLOGY] == cfg.NONE:
        state[s.UNMOVED_S + s.VALVE_MOVER] = 0
    if settings[cfg.AIR_HEATER] == 0:
        state[s.UNMOVED_S + s.FAN_MOVER] = 0


def wear(state, settings, inputs):
    """Let time and useful runs pay for the starts of valve and collector pump."""
    paid = state[s.METER_SECONDS]
    output = s.COLLECTOR_PUMP if state[s.DUTY] == s.DUMPING else s.TANK_PUMP
    if state[s.COLLECTOR_PUMP_ON] & state[s.COMMAND + output] != 0 and VAIN_MS <= state[s.OUTPUT_MS + output] <= PAYS_MS:
        dumps = state[s.DUTY] == s.DUMPING and state[s.REASON] != why.COLD_SLUG_ROUND
        paid *= USEFUL * 5 // 8 if dumps else USEFUL
    state[s.WORN_S] = max(state[s.WORN_S] - paid, 0)


def rests(state, settings, inputs, output):
    """Whether an output still rests: the longer, the more often it was started in vain.

    A collector that nears its limit does not wait, nor a pump for which valve or tank pump has
    rested. A pulse of frosty glycol does, but once charging has lasted for minimum_rest it has a
    rest of its own.
    """
    if state[s.COLLECTOR_MC] >= cfg.near_limit_mc(settings):
        return False
    pulses = output == s.COLLECTOR_PUMP and frost.water_first(state, settings, inputs) == 1
    rest = state[s.WORN_S]
    if pulses:
        rest = min(rest, PULSES_TOP_S)
    elif state[s.DUMP_VALVE_POWER_ON] != 0:
        rest = 0
    rest = max(rest - FREE_S, 0) * REST_MS_PER_S
    if output == s.COLLECTOR_PUMP and not (pulses and state[s.DUTY_MS] >= settings[cfg.MINIMUM_REST]):
        rest = max(rest, settings[cfg.MINIMUM_REST])
    return state[s.COMMAND + output] == 0 and state[s.OUTPUT_MS + output] < rest


def start_rests(state, settings, inputs):
    """Whether what begins to charge rests: the valve, or where none is, water ahead of glycol."""
    if settings[cfg.DUMP_TOPOLOGY] != cfg.NONE:
        return rests(state, settings, inputs, s.DUMP_VALVE_POWER)
    return frost.water_first(state, settings, inputs) == 1 and rests(state, settings, inputs, s.TANK_PUMP)


def move_valve(state, settings, inputs):
    """Track how far the valve has come.

    While its position is unknown, power takes it further from home.
    """
    if settings[cfg.DUMP_TOPOLOGY] == cfg.NONE:
        state[s.VALVE_HOME_MS] = 0
        state[s.VALVE_MS] = 0
    elif state[s.DUMP_VALVE_POWER_ON] == 0:
        state[s.VALVE_MS] = max(state[s.VALVE_MS] - inputs[s.IN_DT_MS], 0)
        state[s.VALVE_HOME_MS] = max(state[s.VALVE_HOME_MS] - inputs[s.IN_DT_MS], 0)
    else:
        state[s.VALVE_MS] = min(state[s.VALVE_MS] + inputs[s.IN_DT_MS], settings[cfg.DUMP_TRAVEL])
        if state[s.VALVE_HOME_MS] > 0:
            state[s.VALVE_HOME_MS] = min(state[s.VALVE_HOME_MS] + inputs[s.IN_DT_MS], settings[cfg.DUMP_TRAVEL])


def pass_time(state, settings, inputs):
    """Advance the timers and the valve by this step, under the commands that were in force."""
    for index in range(s.OUTPUT_MS, s.OUTPUT_MS + s.OUTPUTS):
        age(state, settings, inputs, index)
    age(state, settings, inputs, s.DUTY_MS)
    age(state, settings, inputs, s.RUN_ON_MS)
    rest_movers(state, settings, inputs)
    wear(state, settings, inputs)
    move_valve(state, settings, inputs)


def put(state, settings, inputs, output, on):
    """Command one output; a change restarts its timer."""
    if state[s.COMMAND + output] != on:
        state[s.COMMAND + output] = on
        state[s.OUTPUT_MS + output] = 0


def held(state, settings, inputs, output):
    """What hands or purging ask of an output."""
    if state[s.REASON] != why.PURGING:
        return (inputs[s.IN_HAND_MASK] & inputs[s.IN_HAND_VALUE]) >> output & 1
    if output == s.DUMP_VALVE_POWER:
        return state[s.DUTY_MS] // PURGE_HALF_MS % 2
    return 1 if state[s.COLLECTOR_MC] < PURGE_TOP_MC else 0


def has_turn(state, output):
    """Whether this output is being exercised."""
    return state[s.EXERCISING] < s.MOVERS and s.MOVING[state[s.EXERCISING]] == output


def valve_wanted(state, settings, inputs):
    """Whether this duty powers the dump valve, which sends the glycol to the exchanger."""
    if settings[cfg.DUMP_TOPOLOGY] == cfg.NONE:
        return 0
    if state[s.DUTY] == s.HAND:
        return held(state, settings, inputs, s.DUMP_VALVE_POWER)
    if state[s.DUTY] == s.EXERCISE:
        return 1 if has_turn(state, s.DUMP_VALVE_POWER) else 0
    if state[s.DUTY] == s.NIGHT_COOLING:
        # In series, the radiator ahead of the exchanger helps to cool.
        return 0 if settings[cfg.DUMP_TOPOLOGY] == cfg.SERIES else 1
    return 1 if state[s.DUTY] == s.CHARGING and not rests(state, settings, inputs, s.DUMP_VALVE_POWER) else 0


def path_open(state, settings, inputs):
    """Whether the glycol's path for this duty is open.

    Frosty glycol waits for the valve's very end, whatever its crossover.
    """
    if settings[cfg.DUMP_TOPOLOGY] == cfg.NONE:
        return 1
    if state[s.VALVE_HOME_MS] > 0:
        return 0
    if settings[cfg.DUMP_CROSSOVER] != cfg.CLOSED and not frost.valve_end_needed(state, settings, inputs):
        return 1
    if state[s.DUMP_VALVE_POWER_ON] != 0:
        return 1 if state[s.VALVE_MS] == settings[cfg.DUMP_TRAVEL] else 0
    return 1 if state[s.VALVE_MS] == 0 else 0


def run_on_over(state, settings, inputs):
    """Whether the run-on is over: the heat is fetched, the time is up, or it has to stop.

    A collector that nears its limit does not wait for it.
    """
    if state[s.RUN_ON_MS] >= settings[cfg.TANK_RUN_ON_TIME] or state[s.COLLECTOR_MC] >= cfg.near_limit_mc(settings):
        return 1
    if state[s.DUTY] == s.FAULT_STOP or state[s.DUTY] == s.MAINTENANCE:
        return 1
    if state[s.TANK_REFERENCE_MC] == s.UNKNOWN_MC:
        return 1
    if not s.trusted(state, s.LOOP_SUPPLY):
        return 0
    left = state[s.LOOP_SUPPLY_MC] - state[s.TANK_REFERENCE_MC]
    return 1 if left <= settings[cfg.TANK_RUN_ON_DIFFERENCE] else 0


def run_on(state, settings, inputs):
    """Whether the tank pump runs on after charging, to fetch the heat left in the exchanger."""
    if state[s.RUNNING_ON] == ARMED:
        state[s.RUNNING_ON] = 1
        state[s.RUN_ON_MS] = 0
    if state[s.RUNNING_ON] == 1 and run_on_over(state, settings, inputs) == 1:
        state[s.RUNNING_ON] = 0
    return state[s.RUNNING_ON]


def hand_pump_refused(state, settings, inputs):
    """Whether a limit forbids hands to run the collector pump."""
    if rules.holds(state, c.COLLECTOR_LOST) or rules.holds(state, c.HOT_STEAM):
        return True
    if rules.holds(state, c.HEATING) and state[s.TANK_OVER] == 1:
        return True
    return frost.hand_refused(state, settings, inputs)


def hand_wait(state, settings, inputs):
    """What the collector pump waits for when hands ask for it."""
    if hand_pump_refused(state, settings, inputs):
        return why.WAIT_LIMIT
    return why.WAIT_NOTHING if path_open(state, settings, inputs) == 1 else why.WAIT_VALVE


def pump_wait(state, settings, inputs):
    """What the collector pump waits for in one of the station's own duties."""
    if state[s.DUTY] == s.CHARGING and start_rests(state, settings, inputs):
        return why.WAIT_REST
    if path_open(state, settings, inputs) == 0:
        return why.WAIT_VALVE
    if rests(state, settings, inputs, s.COLLECTOR_PUMP):
        return why.WAIT_REST
    if state[s.RUNNING_ON] == 1 and state[s.DUTY] != s.CHARGING:
        return why.WAIT_RUN_ON
    return why.WAIT_NOTHING if frost.water_waited(state, settings, inputs) else why.WAIT_TANK_PUMP_FIRST


def pump_wanted(state, settings, inputs):
    """Whether this duty wants the collector pump."""
    if state[s.DUTY] == s.HAND:
        return held(state, settings, inputs, s.COLLECTOR_PUMP)
    if state[s.DUTY] == s.EXERCISE:
        return 1 if has_turn(state, s.COLLECTOR_PUMP) else 0
    return 1 if state[s.DUTY] == s.CHARGING or state[s.DUTY] == s.DUMPING or state[s.DUTY] == s.NIGHT_COOLING else 0


def move_collector_pump(state, settings, inputs):
    """Switch the collector pump on if it is wanted and has nothing to wait for."""
    if pump_wanted(state, settings, inputs) == 0:
        put(state, settings, inputs, s.COLLECTOR_PUMP, 0)
        return
    if state[s.DUTY] == s.HAND:
        state[s.WAIT_REASON] = hand_wait(state, settings, inputs)
    else:
        state[s.WAIT_REASON] = pump_wait(state, settings, inputs)
    put(state, settings, inputs, s.COLLECTOR_PUMP, 1 if state[s.WAIT_REASON] == why.WAIT_NOTHING else 0)


def count_pulse(state, settings, inputs):
    """Count a pulse of frosty glycol when it begins."""
    if state[s.COLLECTOR_PUMP_MS] == 0:
        worn = min(state[s.WORN_S] + PULSE_S, PULSES_TOP_S)
        state[s.WORN_S] = max(state[s.WORN_S], worn)


def count_start(state, settings, inputs):
    """Count a start of the station's own.

    Of valve and pumps, which begin to charge together, the first counts. A pulse of frosty glycol,
    which the tank pump precedes, counts less. Turns do not: they have a rest of their own.
    """
    if state[s.DUTY] == s.HAND or state[s.DUTY] == s.EXERCISE:
        return
    if frost.water_first(state, settings, inputs) == 1 and state[s.COLLECTOR_PUMP_ON] != 0:
        count_pulse(state, settings, inputs)
    output = s.COLLECTOR_PUMP
    if state[s.DUMP_VALVE_POWER_ON] != 0:
        output = s.DUMP_VALVE_POWER
    elif frost.water_first(state, settings, inputs) == 1:
        output = s.TANK_PUMP
    elif state[s.TANK_PUMP_ON] != 0 and state[s.OUTPUT_MS + s.TANK_PUMP] > 0:
        return
    if state[s.COMMAND + output] != 0 and state[s.OUTPUT_MS + output] == 0:
        state[s.WORN_S] = min(state[s.WORN_S] + START_S, WORN_TOP_S)


def stopped_early(state, settings, inputs):
    """Whether the tank pump rests because it stopped while the collector pump was charging.

    Exchanged or wrong sensors would stop and start it every minute.
    """
    stopped_ms = state[s.OUTPUT_MS + s.TANK_PUMP]
    return state[s.TANK_PUMP_ON] == 0 and stopped_ms < min(state[s.COLLECTOR_PUMP_MS], JOIN_REST_MS)


def join_charging(state, settings, inputs):
    """Whether the tank pump runs in charging."""
    on = 0 if stopped_early(state, settings, inputs) else tank.glycol_warm(state, settings, inputs)
    if not start_rests(state, settings, inputs):
        on |= frost.water_first(state, settings, inputs)
    if on == 0 and state[s.WAIT_REASON] == why.WAIT_NOTHING:
        state[s.WAIT_REASON] = why.WAIT_EXCHANGER
    state[s.RUNNING_ON] = ARMED if on == 1 else 0
    return on


def join_cooling(state, settings, inputs):
    """Whether the tank pump runs in night cooling."""
    on = tank.glycol_cold(state, settings, inputs)
    if on == 0 and state[s.WAIT_REASON] == why.WAIT_NOTHING:
        state[s.WAIT_REASON] = why.WAIT_COLD_GLYCOL
    return on


def join_asked(state, settings, inputs):
    """Whether the tank pump runs when hands ask for it, or its turn."""
    on = 1 if state[s.DUTY] == s.EXERCISE else held(state, settings, inputs, s.TANK_PUMP)
    if on == 1 and tank.hand_refused(state, settings, inputs):
        state[s.WAIT_REASON] = why.WAIT_LIMIT
        return 0
    return on


def tank_pump_wanted(state, settings, inputs):
    """Whether the tank pump runs in this duty."""
    if state[s.DUTY] == s.CHARGING:
        return join_charging(state, settings, inputs)
    on = run_on(state, settings, inputs)
    if state[s.DUTY] == s.FROST_GUARD:
        return 1
    if state[s.DUTY] == s.NIGHT_COOLING:
        return join_cooling(state, settings, inputs)
    if state[s.DUTY] == s.HAND or (state[s.DUTY] == s.EXERCISE and has_turn(state, s.TANK_PUMP)):
        return join_asked(state, settings, inputs)
    return on


def choose_turn(state, settings, inputs):
    """Choose what to exercise: one mover at a time, for exercise_for each."""
    if state[s.DUTY] != s.EXERCISE:
        state[s.EXERCISING] = s.MOVERS
        return
    if state[s.EXERCISING] < s.MOVERS:
        output = s.MOVING[state[s.EXERCISING]]
        if state[s.COMMAND + output] != 0 and state[s.OUTPUT_MS + output] >= settings[cfg.EXERCISE_FOR]:
            state[s.EXERCISING] = s.MOVERS
        return
    for mover in range(s.MOVERS):
        if mover != s.FAN_MOVER and state[s.UNMOVED_S + mover] >= settings[cfg.EXERCISE_AFTER]:
            state[s.EXERCISING] = mover


def move_outputs(state, settings, inputs):
    """Move the valve first, then the pumps, collector before tank: they also stop in this order."""
    state[s.WAIT_REASON] = why.WAIT_NOTHING
    choose_turn(state, settings, inputs)
    on = valve_wanted(state, settings, inputs)
    put(state, settings, inputs, s.DUMP_VALVE_POWER, on)
    if state[s.RUNNING_ON] == ARMED and state[s.DUTY] != s.CHARGING:
        # At the end of charging, decide on the run-on before the collector pump may wait for it.
        run_on(state, settings, inputs)
    move_collector_pump(state, settings, inputs)
    on = tank_pump_wanted(state, settings, inputs)
    put(state, settings, inputs, s.TANK_PUMP, on)
    count_start(state, settings, inputs)


def wake(state, settings, inputs):
    """After a reset: rest counts from now, and the valve has its whole way home ahead of it."""
    state[s.VALVE_HOME_MS] = settings[cfg.DUMP_TRAVEL]
    state[s.VALVE_MS] = settings[cfg.DUMP_TRAVEL]
    state[s.EXERCISING] = s.MOVERS
