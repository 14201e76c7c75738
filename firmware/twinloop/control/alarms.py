"""The alarms: what a person has to look at.

Each is a bit, with its sentence in reason_texts.py. An alarm lasts as long as what it tells, and
the contact closes on any. What nothing but an alarm follows from is watched here as well.
"""

from . import air, diagnosis, frost, readings, rules, tank
from . import conditions as c
from . import reasons as why
from . import settings as cfg
from . import state as s
from .state import run_timer

# Flow without a pump: the pipes cool for two hours; then glycol follows the collector for one.
TRACK_FROM_MS = 7200000
TRACK_LIMIT_MS = 3600000
TRACK_NEAR_MK = 3000
TRACK_RANGE_MK = 12000
TRACK_APART_MK = 15000
# 3 K above 49 C, the highest setting of a mixing valve.
SCALD_MC = 52000
SCALD_LIMIT_MS = 60000
LOST_LIMIT_MS = 120000
# In eight hours standing plates are as cold as the room, in twelve within 5 K of the glycol beside
# them. Those that stay as warm as the tank get its water.
PLATES_COLD_S = 28800
PLATES_ROOM_S = 43200
PLATES_OVER_MK = 6000
PLATES_NEAR_MK = 3000
# Doubt about the tank's reference beyond the error of two sensors.
LOW_ALARM_MK = 3000
# Every night a collector cools down to the air: in 276 drawn sound episodes it was 4 K warmer for
# 18 hours at most. A clear sky cooled it by 12 K below at most, 9 K of it beyond NIGHT_MK.
AIR_NEAR_MK = 4000
AIR_LIMIT_S = 79200
AIR_OVER_ALARM_MK = 10000
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
ALARM_BACK = 1 << 18
ALARM_FAN = 1 << 19
ALARM_BITS = 20


def tracks(state, settings, inputs):
    """Whether arriving glycol is as warm as the collector long after the pump stopped."""
    if state[s.STANDING_MS] < TRACK_FROM_MS:
        return False
    if not s.trusted(state, s.LOOP_SUPPLY) or not s.trusted(state, s.COLLECTOR):
        return False
    return abs(state[s.LOOP_SUPPLY_MC] - state[s.COLLECTOR_MC]) <= TRACK_NEAR_MK


def watch_unbidden(state, settings, inputs):
    """Detect glycol that moves without its pump.

    It may be a welded relay, by day or night, or buoyancy through a leaking check valve.
    """
    if not tracks(state, settings, inputs):
        state[s.TRACK_MS] = 0
        if state[s.STANDING_MS] >= TRACK_FROM_MS and settings[cfg.FLOW_SENSOR] == cfg.NO_FLOW_SENSOR:
            apart = s.trusted(state, s.LOOP_SUPPLY) and s.trusted(state, s.COLLECTOR)
            if apart and abs(state[s.LOOP_SUPPLY_MC] - state[s.COLLECTOR_MC]) >= TRACK_APART_MK:
                state[s.UNBIDDEN_FLOW] = 0
        return
    if state[s.TRACK_MS] == 0:
        state[s.TRACK_LOW_MC] = state[s.COLLECTOR_MC]
        state[s.TRACK_HIGH_MC] = state[s.COLLECTOR_MC]
    run_timer(state, settings, inputs, s.TRACK_MS, True)
    state[s.TRACK_LOW_MC] = min(state[s.TRACK_LOW_MC], state[s.COLLECTOR_MC])
    state[s.TRACK_HIGH_MC] = max(state[s.TRACK_HIGH_MC], state[s.COLLECTOR_MC])
    moved = state[s.TRACK_HIGH_MC] - state[s.TRACK_LOW_MC] >= TRACK_RANGE_MK
    if moved and state[s.TRACK_MS] >= TRACK_LIMIT_MS:
        state[s.UNBIDDEN_FLOW] = 1


def watch_tap(state, settings, inputs):
    """Time tap water that is hotter than a mixing valve lets through."""
    scalds = s.trusted(state, s.TAP) and state[s.TAP_MC] >= SCALD_MC
    run_timer(state, settings, inputs, s.SCALD_MS, scalds)


def water_moves(state, settings, inputs):
    """Whether the tank's water warms or cools the plates hours after both pumps stopped."""
    rest_s = min(state[s.UNMOVED_S + s.COLLECTOR_PUMP], state[s.UNMOVED_S + s.TANK_PUMP])
    if rest_s < PLATES_COLD_S or not s.trusted(state, s.EXCHANGER):
        return False
    if state[s.EXCHANGER_MC] < state[s.TANK_COLDEST_MC] - PLATES_NEAR_MK:
        return False
    if state[s.EXCHANGER_MC] >= readings.INDOORS_MC:
        return True
    beside = state[s.LOOP_SUPPLY_MC] if s.trusted(state, s.LOOP_SUPPLY) else state[s.LOOP_RETURN_MC]
    if rest_s < PLATES_ROOM_S or beside == s.UNKNOWN_MC:
        return False
    return abs(state[s.EXCHANGER_MC] - beside) >= PLATES_OVER_MK


def watch_air(state, settings, inputs):
    """Time a collector that no night cools down to what the outdoor sensor reads."""
    near = not s.trusted(state, s.OUTDOOR) or state[s.DUTY] == s.NIGHT_COOLING
    near = near or state[s.COLLECTOR_MC] - state[s.OUTDOOR_MC] < AIR_NEAR_MK
    state[s.AIR_UNDER_S] = 0 if near else min(state[s.AIR_UNDER_S] + state[s.METER_SECONDS], AIR_LIMIT_S)


def notice(state, settings, inputs):
    """Time what stops nothing: flow that nobody asked for, a tap that scalds, sensors."""
    watch_unbidden(state, settings, inputs)
    watch_tap(state, settings, inputs)
    watch_air(state, settings, inputs)
    lost = readings.sensor_lost(state, settings, inputs)
    run_timer(state, settings, inputs, s.LOST_MS, lost)


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
    if state[s.AIR_UNDER_S] >= AIR_LIMIT_S or state[s.AIR_OVER_MK] >= AIR_OVER_ALARM_MK:
        bits |= ALARM_APART
    if state[s.DUMP_BARRED] != 0 or (state[s.DUTY] == s.DUMPING and state[s.DUMP_HEATS_MS] >= diagnosis.EVIDENCE_MS):
        bits |= ALARM_DUMP
    if state[s.UNBIDDEN_FLOW] == 1 or water_moves(state, settings, inputs):
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
    if state[s.BACK_S] >= air.BACK_LIMIT_S:
        bits |= ALARM_BACK
    if state[s.AIR_HOT_MS] >= air.HOT_LIMIT_MS:
        bits |= ALARM_FAN
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
