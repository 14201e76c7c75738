"""Pumps and alarm, whichever row decides."""

from twinloop.control import settings as cfg
from twinloop.control import state as s

from . import memory as mem
from .facts import collector_at, on

# The design of pulses: the plates get warm in between.
PULSE_REST_MS = 60000


def wakes_protected(m, state, settings, inputs):
    """After a reset every protective latch is set, the loop counts as cold, no glycol moves."""
    if m[mem.AWAKE] == 1:
        return False
    latched = state[s.TANK_OVER] & state[s.TANK_FULL] & state[s.STAGNATION] & state[s.CHARGE_HOT] & state[s.ROOM_WARM]
    cold = state[s.LOOP_LOWEST_MC] < settings[cfg.EXCHANGER_FROST]
    return latched == 0 or not cold or on(state, s.COLLECTOR_PUMP)


def pump_of_duty(m, state, settings, inputs):
    """Pumps run only in duties that need them, both together only where heat may pass."""
    if not on(state, s.COLLECTOR_PUMP):
        return False
    duty = state[s.DUTY]
    if on(state, s.TANK_PUMP) and (duty == s.DUMPING or duty == s.EXERCISE):
        return True
    return duty != s.CHARGING and duty != s.DUMPING and duty != s.NIGHT_COOLING and duty != s.EXERCISE and duty != s.HAND


def rest_kept(m, state, settings, inputs):
    """The station starts the collector pump only after minimum_rest, unless hot or in pulses."""
    # From half way between dump_collector_start and collector_limit it need not wait.
    if collector_at(state, (settings[cfg.DUMP_COLLECTOR_START] + settings[cfg.COLLECTOR_LIMIT]) // 2):
        return False
    starts = on(state, s.COLLECTOR_PUMP) and m[mem.WAS + s.COLLECTOR_PUMP] == 0
    # Without a bypass, pulses of frosty glycol rest for a minute.
    rest = settings[cfg.MINIMUM_REST]
    pulses = state[s.DUTY] == s.CHARGING and settings[cfg.DUMP_TOPOLOGY] != cfg.BYPASS
    if pulses and state[s.LOOP_LOWEST_MC] < settings[cfg.EXCHANGER_FROST]:
        rest = min(rest, PULSE_REST_MS)
    return starts and state[s.DUTY] != s.HAND and m[mem.OFF_MS] < rest


def run_on_bounded(m, state, settings, inputs):
    """The tank pump alone runs on no longer than tank_run_on_time."""
    run_on_ms = m[mem.RUN_ON_MS]
    return run_on_ms >= settings[cfg.TANK_RUN_ON_TIME] + s.STEP_TOP_MS and on(state, s.TANK_PUMP) and run_on_ms > 0


def alarm_output(m, state, settings, inputs):
    """The alarm contact is on exactly while an alarm bit is set."""
    return on(state, s.ALARM) != (state[s.ALARMS] != 0)


TRUTHS = (wakes_protected, pump_of_duty, rest_kept, run_on_bounded, alarm_output)
