"""From a duty to relays: which move, in which order, and what they wait for.

The collector pump never pushes against a moving valve that blocks, rests between runs, and stops before the tank pump does; the
tank pump joins when the glycol that arrives is warmer than the tank, and runs on to fetch what is left in the exchanger.
"""

from .reasons import WAIT_EXCHANGER, WAIT_NOTHING, WAIT_REST, WAIT_RUN_ON, WAIT_TANK_PUMP_FIRST, WAIT_VALVE
from .rules import COLD_LOOP, ROUND
from .settings import (
    CLOSED,
    DUMP_CROSSOVER,
    DUMP_TOPOLOGY,
    DUMP_TRAVEL,
    EXCHANGER_LAG,
    EXCHANGER_LEAD,
    MINIMUM_REST,
    NONE,
    TANK_PUMP_DELAY,
    TANK_RUN_ON_DIFFERENCE,
    TANK_RUN_ON_TIME,
)
from .state import (
    CHARGING,
    COLLECTOR_PUMP,
    COLLECTOR_PUMP_MS,
    COLLECTOR_PUMP_ON,
    COMMAND,
    CONDITIONS,
    DUMP_VALVE_POWER,
    DUMP_VALVE_POWER_ON,
    DUMPING,
    DUTY,
    DUTY_MS,
    FAULT_STOP,
    HELD,
    IN_DT_MS,
    LOOP_SUPPLY_MC,
    LOOP_SUPPLY_STATUS,
    OUTPUT_MS,
    OUTPUTS,
    RUN_ON_MS,
    RUNNING_ON,
    TANK_PUMP,
    TANK_PUMP_ON,
    TANK_REFERENCE_MC,
    TIMER_TOP_MS,
    UNKNOWN_MC,
    VALVE_HOME_MS,
    VALVE_MS,
    WAIT_REASON,
)

# With a frosty loop and no way round, the water moves before the glycol does: half a minute exchanges the exchanger's water.
WATER_FIRST_MS = 30000


def age(state, settings, inputs, index):
    """Let one timer run on."""
    state[index] = min(state[index] + inputs[IN_DT_MS], TIMER_TOP_MS)


def pass_time(state, settings, inputs):
    """Timers and the valve's way since the last step, under the commands that were in force."""
    for index in range(OUTPUT_MS, OUTPUT_MS + OUTPUTS):
        age(state, settings, inputs, index)
    age(state, settings, inputs, DUTY_MS)
    age(state, settings, inputs, RUN_ON_MS)
    if settings[DUMP_TOPOLOGY] == NONE:
        state[VALVE_HOME_MS] = 0
        state[VALVE_MS] = 0
    elif state[DUMP_VALVE_POWER_ON] == 1:
        state[VALVE_MS] = min(state[VALVE_MS] + inputs[IN_DT_MS], settings[DUMP_TRAVEL])
    else:
        state[VALVE_MS] = max(state[VALVE_MS] - inputs[IN_DT_MS], 0)
        state[VALVE_HOME_MS] = max(state[VALVE_HOME_MS] - inputs[IN_DT_MS], 0)


def put(state, settings, inputs, output, on):
    """Command one output; a change restarts its timer."""
    if state[COMMAND + output] != on:
        state[COMMAND + output] = on
        state[OUTPUT_MS + output] = 0


def path_open(state, settings, inputs):
    """Whether the glycol's way for this duty is there."""
    if settings[DUMP_TOPOLOGY] == NONE or settings[DUMP_CROSSOVER] != CLOSED:
        return 1
    if state[DUTY] == CHARGING:
        return 1 if state[VALVE_MS] == settings[DUMP_TRAVEL] else 0
    return 1 if state[VALVE_MS] == 0 else 0


def water_first(state, settings, inputs):
    """Whether the tank pump has to run before frosty glycol may move: there is no way round the exchanger."""
    frosty = state[CONDITIONS] & COLD_LOOP != 0 and state[CONDITIONS] & ROUND == 0
    return 1 if frosty and state[DUTY] == CHARGING else 0


def glycol_warm(state, settings, inputs):
    """Whether the glycol at the exchanger is trusted or timed to be warmer than the tank."""
    if state[COLLECTOR_PUMP_ON] == 0 or state[TANK_REFERENCE_MC] == UNKNOWN_MC:
        return 0
    if state[LOOP_SUPPLY_STATUS] > HELD:
        return 1 if state[COLLECTOR_PUMP_MS] >= settings[TANK_PUMP_DELAY] else 0
    lead = settings[EXCHANGER_LAG] if state[TANK_PUMP_ON] == 1 else settings[EXCHANGER_LEAD]
    return 1 if state[LOOP_SUPPLY_MC] - state[TANK_REFERENCE_MC] >= lead else 0


def run_on_over(state, settings, inputs):
    """Whether nothing is left to fetch from the exchanger, or nobody can tell."""
    if state[RUN_ON_MS] >= settings[TANK_RUN_ON_TIME] or state[DUTY] == FAULT_STOP:
        return 1
    if state[TANK_REFERENCE_MC] == UNKNOWN_MC:
        return 1
    if state[LOOP_SUPPLY_STATUS] > HELD:
        return 0
    left = state[LOOP_SUPPLY_MC] - state[TANK_REFERENCE_MC]
    return 1 if left <= settings[TANK_RUN_ON_DIFFERENCE] else 0


def move_valve(state, settings, inputs):
    """Power only while charging: at rest the spring keeps the way to the radiator."""
    charging = state[DUTY] == CHARGING and settings[DUMP_TOPOLOGY] != NONE
    put(state, settings, inputs, DUMP_VALVE_POWER, 1 if charging else 0)


def collector_wait(state, settings, inputs):
    """What the collector pump of this duty waits for."""
    if path_open(state, settings, inputs) == 0:
        return WAIT_VALVE
    if state[COLLECTOR_PUMP_ON] == 0 and state[COLLECTOR_PUMP_MS] < settings[MINIMUM_REST]:
        return WAIT_REST
    if state[RUNNING_ON] == 1 and state[DUTY] == DUMPING:
        return WAIT_RUN_ON
    if water_first(state, settings, inputs) == 1 and (state[TANK_PUMP_ON] == 0 or state[OUTPUT_MS + TANK_PUMP] < WATER_FIRST_MS):
        return WAIT_TANK_PUMP_FIRST
    return WAIT_NOTHING


def move_collector_pump(state, settings, inputs):
    """On in charging and dumping, once nothing is waited for."""
    if state[DUTY] != CHARGING and state[DUTY] != DUMPING:
        put(state, settings, inputs, COLLECTOR_PUMP, 0)
        return
    state[WAIT_REASON] = collector_wait(state, settings, inputs)
    put(state, settings, inputs, COLLECTOR_PUMP, 1 if state[WAIT_REASON] == WAIT_NOTHING else 0)


def move_tank_pump(state, settings, inputs):
    """Join while charging, run on after it."""
    if state[DUTY] == CHARGING:
        state[RUNNING_ON] = 0
        on = glycol_warm(state, settings, inputs) | water_first(state, settings, inputs)
        if on == 0 and state[WAIT_REASON] == WAIT_NOTHING:
            state[WAIT_REASON] = WAIT_EXCHANGER
        put(state, settings, inputs, TANK_PUMP, on)
        return
    if state[TANK_PUMP_ON] == 1 and state[RUNNING_ON] == 0:
        state[RUNNING_ON] = 1
        state[RUN_ON_MS] = 0
    if state[RUNNING_ON] == 1 and run_on_over(state, settings, inputs) == 1:
        state[RUNNING_ON] = 0
    put(state, settings, inputs, TANK_PUMP, state[RUNNING_ON])


def move_outputs(state, settings, inputs):
    """Valve first, then the pumps, collector before tank: what stops, stops in that order too."""
    state[WAIT_REASON] = WAIT_NOTHING
    move_valve(state, settings, inputs)
    if state[DUTY] != CHARGING:
        move_tank_pump(state, settings, inputs)
    move_collector_pump(state, settings, inputs)
    if state[DUTY] == CHARGING:
        move_tank_pump(state, settings, inputs)


def wake(state, settings, inputs):
    """After a reset: outputs off, rest counts from now, the valve has its whole way home before it."""
    state[VALVE_HOME_MS] = settings[DUMP_TRAVEL]
    state[VALVE_MS] = settings[DUMP_TRAVEL]
