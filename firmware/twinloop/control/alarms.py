"""The alarms: what a person has to look at.

Each is a bit, with its sentence in reason_texts.py. An alarm lasts as long as what it tells, and
the contact closes on any.
"""

from . import conditions as c
from . import diagnosis, frost, rules, tank
from . import reasons as why
from . import state as s

SCALD_LIMIT_MS = 60000
LOST_LIMIT_MS = 120000
# Doubt about the tank's reference beyond the error of two sensors.
LOW_ALARM_MK = 3000
# Pump and valve then rest for half an hour at a time.
VAIN_ALARM_S = 39600

ALARM_SENSOR = 1 << 0
ALARM_TANK_CROSSED = 1 << 1
ALARM_NO_FLOW = 1 << 2
ALARM_DUMP = 1 << 3
ALARM_FROST = 1 << 4
ALARM_STEAM = 1 << 5
ALARM_UNBIDDEN_FLOW = 1 << 6
ALARM_FOULED = 1 << 7
ALARM_SCALD = 1 << 8
ALARM_GUARD = 1 << 9
ALARM_RESETS = 1 << 10
ALARM_SETTINGS = 1 << 11
ALARM_MEMORY = 1 << 12
ALARM_APART = 1 << 13
ALARM_STIFF = 1 << 14
ALARM_TAKING = 1 << 15
ALARM_STARTS = 1 << 16
ALARM_BEYOND = 1 << 17
ALARM_BITS = 18


def collect_plant_alarms(state, settings, inputs):
    """Set the alarms of sensors and plant."""
    bits = 0
    if state[s.LOST_MS] >= LOST_LIMIT_MS:
        bits |= ALARM_SENSOR
    if tank.crossed(state, settings, inputs):
        bits |= ALARM_TANK_CROSSED
    if state[s.NO_FLOW] != 0 and state[s.NO_FLOW] != why.HEAT_TOO_WEAK:
        bits |= ALARM_NO_FLOW
    elif abs(state[s.APART_MK]) >= diagnosis.FAR_LEAST_MK:
        bits |= ALARM_APART
    if state[s.DUMP_BARRED] != 0 or (state[s.DUTY] == s.DUMPING and state[s.DUMP_HEATS_MS] >= diagnosis.EVIDENCE_MS):
        bits |= ALARM_DUMP
    if state[s.UNBIDDEN_FLOW] == 1 or diagnosis.water_moves(state, settings, inputs):
        bits |= ALARM_UNBIDDEN_FLOW
    if state[s.FOUL_S] >= diagnosis.FOUL_LIMIT_S or state[s.STANDS_MS] >= frost.STANDS_LIMIT_MS:
        bits |= ALARM_FOULED
    if state[s.SCALD_MS] >= SCALD_LIMIT_MS:
        bits |= ALARM_SCALD
    if state[s.LOW_BY_MK] >= LOW_ALARM_MK:
        bits |= ALARM_TAKING
    if state[s.WORN_S] >= VAIN_ALARM_S:
        bits |= ALARM_STARTS
    if state[s.BEYOND_MS] >= diagnosis.EVIDENCE_MS:
        bits |= ALARM_BEYOND
    state[s.ALARMS] |= bits


def collect_station_alarms(state, settings, inputs):
    """Set the alarms of frost, steam, guard and board."""
    bits = 0
    if state[s.FROST] == 1:
        bits |= ALARM_FROST
    if rules.holds(state, c.STIFF) and rules.holds(state, c.WANTED):
        bits |= ALARM_STIFF
    if state[s.STAGNATION] == 1 and s.trusted(state, s.COLLECTOR):
        bits |= ALARM_STEAM
    if state[s.GUARD_HOLD_MS] > 0:
        bits |= ALARM_GUARD
    if inputs[s.IN_RESETS] >= s.RESETS_LIMIT:
        bits |= ALARM_RESETS
    if inputs[s.IN_SETTINGS_LOST] != 0:
        bits |= ALARM_SETTINGS
    if inputs[s.IN_MEMORY_BAD] != 0:
        bits |= ALARM_MEMORY
    state[s.ALARMS] |= bits


def speak(state, settings, inputs):
    """Set the alarms of this step, and the alarm contact.

    This comes after the guard, which does not silence an alarm.
    """
    state[s.ALARMS] = 0
    collect_plant_alarms(state, settings, inputs)
    collect_station_alarms(state, settings, inputs)
    on = 1 if state[s.ALARMS] != 0 else 0
    if state[s.ALARM_ON] != on:
        state[s.COMMAND + s.ALARM] = on
        state[s.OUTPUT_MS + s.ALARM] = 0
