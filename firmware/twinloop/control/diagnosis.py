"""Actuators and plant that lie: told from temperatures that do not follow the commands."""

from .settings import START_DIFFERENCE
from .state import (
    CHARGE_WANTED,
    CHARGING,
    COLLECTOR_MC,
    COLLECTOR_PUMP_ON,
    COLLECTOR_STATUS,
    DUTY,
    HELD,
    IN_DT_MS,
    LOOP_SUPPLY_MC,
    LOOP_SUPPLY_STATUS,
    NO_FLOW,
    NOT_JOINED_MS,
    RETRY_MS,
    TANK_PUMP_ON,
)

# Five minutes is several transits of any pipe that a house has; half an hour keeps retries at two an hour. Common practice.
NOT_JOINED_LIMIT_MS = 300000
RETRY_LIMIT_MS = 1800000


def watch_arrival(state, settings, inputs):
    """Glycol is pumped and the tank pump has not joined: either nothing flows, or the sun is too weak to be worth it."""
    if state[DUTY] != CHARGING or state[COLLECTOR_PUMP_ON] == 0 or state[TANK_PUMP_ON] == 1:
        state[NOT_JOINED_MS] = 0
        return
    state[NOT_JOINED_MS] += inputs[IN_DT_MS]
    if state[NOT_JOINED_MS] < NOT_JOINED_LIMIT_MS:
        return
    state[NOT_JOINED_MS] = 0
    # Only loop_supply can keep the tank pump from joining that long. If what arrives is nearly as warm as what leaves the
    # collector, then it does flow.
    if state[LOOP_SUPPLY_STATUS] > HELD or state[COLLECTOR_STATUS] > HELD:
        return
    if state[COLLECTOR_MC] - state[LOOP_SUPPLY_MC] >= settings[START_DIFFERENCE]:
        state[NO_FLOW] = 1
        state[RETRY_MS] = 0
    else:
        state[CHARGE_WANTED] = 0


def watch(state, settings, inputs):
    """Look for plant that does not follow, and end what was given up long enough ago."""
    if state[NO_FLOW] == 1:
        state[RETRY_MS] += inputs[IN_DT_MS]
        if state[RETRY_MS] >= RETRY_LIMIT_MS:
            state[NO_FLOW] = 0
    watch_arrival(state, settings, inputs)
