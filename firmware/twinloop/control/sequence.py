"""From a duty to relays: which move, in which order, and what they wait for.

The collector pump never pushes against a moving valve that blocks, rests between runs, and stops before the tank pump does; the
tank pump joins when the glycol that arrives is warmer than the tank, and runs on to fetch what is left in the exchanger. Hands and
purging may ask for any output, and the limits that protect stay in force for them.
"""

from .latches import COOLING_INVERSION_MK, inversion_mk
from .reasons import (
    PURGING,
    WAIT_COLD_GLYCOL,
    WAIT_EXCHANGER,
    WAIT_LIMIT,
    WAIT_NOTHING,
    WAIT_REST,
    WAIT_RUN_ON,
    WAIT_TANK_PUMP_FIRST,
    WAIT_VALVE,
)
from .rules import COLD_DUMP, COLD_LOOP, COLLECTOR_LOST, HOT_GLYCOL, HOT_STEAM, ROUND, STIFF, TANK_LOST
from .settings import (
    CLOSED,
    DUMP_CROSSOVER,
    DUMP_TOPOLOGY,
    DUMP_TRAVEL,
    EXCHANGER_LAG,
    EXCHANGER_LEAD,
    EXERCISE_AFTER,
    EXERCISE_FOR,
    MINIMUM_REST,
    NONE,
    SERIES,
    TANK_PUMP_DELAY,
    TANK_RUN_ON_DIFFERENCE,
    TANK_RUN_ON_TIME,
)
from .state import (
    CHARGING,
    COLLECTOR_MC,
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
    EXCHANGER_MC,
    EXCHANGER_STATUS,
    EXERCISE,
    EXERCISING,
    FAULT_STOP,
    FROST_GUARD,
    HAND,
    HELD,
    IN_DT_MS,
    IN_HAND_MASK,
    IN_HAND_VALUE,
    LOOP_SUPPLY_MC,
    LOOP_SUPPLY_STATUS,
    MAINTENANCE,
    METER_SECONDS,
    MOVERS,
    NIGHT_COOLING,
    OUTPUT_MS,
    OUTPUTS,
    REASON,
    RUN_ON_MS,
    RUNNING_ON,
    TANK_COLDEST_MC,
    TANK_OVER,
    TANK_PUMP,
    TANK_PUMP_ON,
    TANK_REFERENCE_MC,
    TIMER_TOP_MS,
    UNKNOWN_MC,
    UNMOVED_S,
    VALVE_HOME_MS,
    VALVE_MS,
    WAIT_REASON,
)

# With a frosty loop and no way round, the water moves before the glycol does: half a minute exchanges the exchanger's water.
WATER_FIRST_MS = 30000
# Glycol counts as colder than the tank from this difference on.
COLDER_MK = 1000
# Purging: five minutes through the radiator, where the valve rests, five through the exchanger, and only while nothing can scald.
PURGE_HALF_MS = 300000
PURGE_TOP_MC = 60000
# RUNNING_ON while the tank pump is on in charging: it will have to run on.
ARMED = 2


def age(state, settings, inputs, index):
    """Let one timer run on."""
    state[index] = min(state[index] + inputs[IN_DT_MS], TIMER_TOP_MS)


def rest_movers(state, settings, inputs):
    """How long each pump and the valve has not been on; after METER_SECONDS was counted for this step."""
    for output in range(MOVERS):
        if state[COMMAND + output] == 1:
            state[UNMOVED_S + output] = 0
        elif state[UNMOVED_S + output] < settings[EXERCISE_AFTER]:
            state[UNMOVED_S + output] += state[METER_SECONDS]
    if settings[DUMP_TOPOLOGY] == NONE:
        state[UNMOVED_S + DUMP_VALVE_POWER] = 0


def move_valve(state, settings, inputs):
    """How far the valve has come; while its position is unknown, power takes it further from home."""
    if settings[DUMP_TOPOLOGY] == NONE:
        state[VALVE_HOME_MS] = 0
        state[VALVE_MS] = 0
    elif state[DUMP_VALVE_POWER_ON] == 0:
        state[VALVE_MS] = max(state[VALVE_MS] - inputs[IN_DT_MS], 0)
        state[VALVE_HOME_MS] = max(state[VALVE_HOME_MS] - inputs[IN_DT_MS], 0)
    else:
        state[VALVE_MS] = min(state[VALVE_MS] + inputs[IN_DT_MS], settings[DUMP_TRAVEL])
        if state[VALVE_HOME_MS] > 0:
            state[VALVE_HOME_MS] = min(state[VALVE_HOME_MS] + inputs[IN_DT_MS], settings[DUMP_TRAVEL])


def pass_time(state, settings, inputs):
    """Timers and the valve's way since the last step, under the commands that were in force."""
    for index in range(OUTPUT_MS, OUTPUT_MS + OUTPUTS):
        age(state, settings, inputs, index)
    age(state, settings, inputs, DUTY_MS)
    age(state, settings, inputs, RUN_ON_MS)
    rest_movers(state, settings, inputs)
    move_valve(state, settings, inputs)


def put(state, settings, inputs, output, on):
    """Command one output; a change restarts its timer."""
    if state[COMMAND + output] != on:
        state[COMMAND + output] = on
        state[OUTPUT_MS + output] = 0


def held(state, settings, inputs, output):
    """What hands, or purging, ask of an output."""
    if state[REASON] != PURGING:
        return (inputs[IN_HAND_MASK] & inputs[IN_HAND_VALUE]) >> output & 1
    if output == DUMP_VALVE_POWER:
        return state[DUTY_MS] // PURGE_HALF_MS % 2
    return 1 if state[COLLECTOR_MC] < PURGE_TOP_MC else 0


def valve_wanted(state, settings, inputs):
    """Whether this duty wants power on the dump valve: the glycol goes to the exchanger, and not through the radiator."""
    if settings[DUMP_TOPOLOGY] == NONE:
        return 0
    if state[DUTY] == HAND:
        return held(state, settings, inputs, DUMP_VALVE_POWER)
    if state[DUTY] == EXERCISE:
        return 1 if state[EXERCISING] == DUMP_VALVE_POWER else 0
    if state[DUTY] == NIGHT_COOLING:
        # In series the radiator on the way to the exchanger helps to cool.
        return 0 if settings[DUMP_TOPOLOGY] == SERIES else 1
    return 1 if state[DUTY] == CHARGING else 0


def path_open(state, settings, inputs):
    """Whether the glycol's way for this duty is there: frosty glycol waits for the valve's very end with any valve."""
    if settings[DUMP_TOPOLOGY] == NONE:
        return 1
    if state[VALVE_HOME_MS] > 0:
        return 0
    if settings[DUMP_CROSSOVER] != CLOSED and state[CONDITIONS] & (COLD_LOOP | COLD_DUMP) == 0:
        return 1
    if state[DUMP_VALVE_POWER_ON] == 1:
        return 1 if state[VALVE_MS] == settings[DUMP_TRAVEL] else 0
    return 1 if state[VALVE_MS] == 0 else 0


def water_first(state, settings, inputs):
    """Whether the tank pump has to run before frosty glycol may move: there is no way round the exchanger."""
    frosty = state[CONDITIONS] & COLD_LOOP != 0 and state[CONDITIONS] & ROUND == 0
    return 1 if frosty and state[DUTY] == CHARGING else 0


def water_waited(state, settings, inputs):
    """Whether the tank pump has run long enough for frosty glycol to follow, where it has to."""
    if water_first(state, settings, inputs) == 0:
        return True
    return state[TANK_PUMP_ON] == 1 and state[OUTPUT_MS + TANK_PUMP] >= WATER_FIRST_MS


def plates_cold(state, settings, inputs):
    """Whether the exchanger's own sensor says that nothing warm is there yet; before the tank pump joins, its water stands."""
    if state[TANK_PUMP_ON] == 1 or state[EXCHANGER_STATUS] > HELD:
        return False
    return state[EXCHANGER_MC] - state[TANK_REFERENCE_MC] < settings[EXCHANGER_LAG]


def timed_through(state, settings, inputs):
    """Whether glycol has flowed the way to the exchanger for tank_pump_delay."""
    if state[COLLECTOR_PUMP_MS] < settings[TANK_PUMP_DELAY]:
        return False
    if settings[DUMP_TOPOLOGY] == NONE:
        return True
    return state[OUTPUT_MS + DUMP_VALVE_POWER] >= settings[DUMP_TRAVEL] + settings[TANK_PUMP_DELAY]


def glycol_warm(state, settings, inputs):
    """Whether the glycol at the exchanger is trusted or timed to be warmer than the tank."""
    if state[COLLECTOR_PUMP_ON] == 0 or state[TANK_REFERENCE_MC] == UNKNOWN_MC:
        return 0
    if plates_cold(state, settings, inputs):
        return 0
    if state[LOOP_SUPPLY_STATUS] > HELD:
        return 1 if timed_through(state, settings, inputs) else 0
    lead = settings[EXCHANGER_LAG] if state[TANK_PUMP_ON] == 1 else settings[EXCHANGER_LEAD]
    return 1 if state[LOOP_SUPPLY_MC] - state[TANK_REFERENCE_MC] >= lead else 0


def glycol_cold(state, settings, inputs):
    """Whether the glycol at the exchanger is trusted or timed to be colder than all of the tank: heat can only leave."""
    if state[COLLECTOR_PUMP_ON] == 0 or state[TANK_COLDEST_MC] == UNKNOWN_MC:
        return 0
    if not timed_through(state, settings, inputs):
        return 0
    # While the minimum run keeps the collector pump on beside a tank that is upside down, nothing may reach the water.
    if inversion_mk(state, settings, inputs) >= COOLING_INVERSION_MK:
        return 0
    arriving = state[COLLECTOR_MC]
    if state[LOOP_SUPPLY_STATUS] <= HELD:
        arriving = max(arriving, state[LOOP_SUPPLY_MC])
    return 1 if arriving <= state[TANK_COLDEST_MC] - COLDER_MK else 0


def run_on_over(state, settings, inputs):
    """Whether nothing is left to fetch from the exchanger, or nobody can tell."""
    if state[RUN_ON_MS] >= settings[TANK_RUN_ON_TIME]:
        return 1
    if state[DUTY] == FAULT_STOP or state[DUTY] == MAINTENANCE:
        return 1
    if state[TANK_REFERENCE_MC] == UNKNOWN_MC:
        return 1
    if state[LOOP_SUPPLY_STATUS] > HELD:
        return 0
    left = state[LOOP_SUPPLY_MC] - state[TANK_REFERENCE_MC]
    return 1 if left <= settings[TANK_RUN_ON_DIFFERENCE] else 0


def run_on(state, settings, inputs):
    """After charging, and only then: the tank pump fetches what is left in the exchanger."""
    if state[RUNNING_ON] == ARMED:
        state[RUNNING_ON] = 1
        state[RUN_ON_MS] = 0
    if state[RUNNING_ON] == 1 and run_on_over(state, settings, inputs) == 1:
        state[RUNNING_ON] = 0
    return state[RUNNING_ON]


def hand_pump_refused(state, settings, inputs):
    """Whether a limit forbids the collector pump to whoever asks for it."""
    if state[CONDITIONS] & (COLLECTOR_LOST | HOT_STEAM | STIFF) != 0:
        return True
    # A frosty radiator ahead of the exchanger has to be out of the way.
    if state[CONDITIONS] & COLD_DUMP != 0 and (state[DUMP_VALVE_POWER_ON] == 0 or state[VALVE_MS] < settings[DUMP_TRAVEL]):
        return True
    # Frosty glycol may go round through the radiator, nowhere else.
    frosty = state[CONDITIONS] & COLD_LOOP != 0
    return frosty and (state[CONDITIONS] & ROUND == 0 or state[DUMP_VALVE_POWER_ON] == 1 or state[VALVE_MS] > 0)


def hand_tank_refused(state, settings, inputs):
    """Whether a limit forbids the tank pump to whoever asks for it: only with glycol moving can it add heat."""
    if state[COLLECTOR_PUMP_ON] == 0:
        return False
    return state[TANK_OVER] == 1 or state[CONDITIONS] & (TANK_LOST | HOT_GLYCOL) != 0


def hand_wait(state, settings, inputs):
    """What the collector pump that hands ask for waits for."""
    if hand_pump_refused(state, settings, inputs):
        return WAIT_LIMIT
    return WAIT_NOTHING if path_open(state, settings, inputs) == 1 else WAIT_VALVE


def pump_wait(state, settings, inputs):
    """What the collector pump of a station's own duty waits for."""
    if path_open(state, settings, inputs) == 0:
        return WAIT_VALVE
    if state[COLLECTOR_PUMP_ON] == 0 and state[COLLECTOR_PUMP_MS] < settings[MINIMUM_REST]:
        return WAIT_REST
    if state[RUNNING_ON] == 1 and state[DUTY] != CHARGING:
        return WAIT_RUN_ON
    return WAIT_NOTHING if water_waited(state, settings, inputs) else WAIT_TANK_PUMP_FIRST


def pump_wanted(state, settings, inputs):
    """Whether this duty wants the collector pump."""
    if state[DUTY] == HAND:
        return held(state, settings, inputs, COLLECTOR_PUMP)
    if state[DUTY] == EXERCISE:
        return 1 if state[EXERCISING] == COLLECTOR_PUMP else 0
    return 1 if state[DUTY] == CHARGING or state[DUTY] == DUMPING or state[DUTY] == NIGHT_COOLING else 0


def move_collector_pump(state, settings, inputs):
    """On when it is wanted and nothing is waited for."""
    if pump_wanted(state, settings, inputs) == 0:
        put(state, settings, inputs, COLLECTOR_PUMP, 0)
        return
    if state[DUTY] == HAND:
        state[WAIT_REASON] = hand_wait(state, settings, inputs)
    else:
        state[WAIT_REASON] = pump_wait(state, settings, inputs)
    put(state, settings, inputs, COLLECTOR_PUMP, 1 if state[WAIT_REASON] == WAIT_NOTHING else 0)


def join_charging(state, settings, inputs):
    """The tank pump of charging."""
    on = glycol_warm(state, settings, inputs) | water_first(state, settings, inputs)
    if on == 0 and state[WAIT_REASON] == WAIT_NOTHING:
        state[WAIT_REASON] = WAIT_EXCHANGER
    state[RUNNING_ON] = ARMED if on == 1 else 0
    return on


def join_cooling(state, settings, inputs):
    """The tank pump of night cooling."""
    on = glycol_cold(state, settings, inputs)
    if on == 0 and state[WAIT_REASON] == WAIT_NOTHING:
        state[WAIT_REASON] = WAIT_COLD_GLYCOL
    return on


def join_hand(state, settings, inputs):
    """The tank pump that hands ask for."""
    on = held(state, settings, inputs, TANK_PUMP)
    if on == 1 and hand_tank_refused(state, settings, inputs):
        state[WAIT_REASON] = WAIT_LIMIT
        return 0
    return on


def tank_pump_wanted(state, settings, inputs):
    """Whether the tank pump is to be on in this duty."""
    if state[DUTY] == CHARGING:
        return join_charging(state, settings, inputs)
    on = run_on(state, settings, inputs)
    if state[DUTY] == FROST_GUARD:
        return 1
    if state[DUTY] == NIGHT_COOLING:
        return join_cooling(state, settings, inputs)
    if state[DUTY] == HAND:
        return join_hand(state, settings, inputs)
    if state[DUTY] == EXERCISE and state[EXERCISING] == TANK_PUMP:
        return 1
    return on


def choose_turn(state, settings, inputs):
    """Exercise: whose turn it is; one mover at a time, for exercise_for each."""
    if state[DUTY] != EXERCISE:
        state[EXERCISING] = MOVERS
        return
    if state[EXERCISING] < MOVERS:
        moved = state[COMMAND + state[EXERCISING]] == 1
        if moved and state[OUTPUT_MS + state[EXERCISING]] >= settings[EXERCISE_FOR]:
            state[EXERCISING] = MOVERS
        return
    for output in range(MOVERS):
        if state[UNMOVED_S + output] >= settings[EXERCISE_AFTER]:
            state[EXERCISING] = output


def move_outputs(state, settings, inputs):
    """Valve first, then the pumps, collector before tank: what stops, stops in that order."""
    state[WAIT_REASON] = WAIT_NOTHING
    choose_turn(state, settings, inputs)
    on = valve_wanted(state, settings, inputs)
    put(state, settings, inputs, DUMP_VALVE_POWER, on)
    if state[RUNNING_ON] == ARMED and state[DUTY] != CHARGING:
        # The end of charging: the run-on has to be known before the collector pump may ask for it.
        run_on(state, settings, inputs)
    move_collector_pump(state, settings, inputs)
    on = tank_pump_wanted(state, settings, inputs)
    put(state, settings, inputs, TANK_PUMP, on)


def wake(state, settings, inputs):
    """After a reset: outputs off, rest counts from now, the valve has its whole way home before it."""
    state[VALVE_HOME_MS] = settings[DUMP_TRAVEL]
    state[VALVE_MS] = settings[DUMP_TRAVEL]
    state[EXERCISING] = MOVERS
