"""The one state array: every index is named once, here.

All values are integers that fit in 31 bits. The unit is the end of the name: `_MC` millidegrees Celsius, `_MK` a difference in
millikelvin, `_MS` milliseconds, `_S` seconds, `_ML` millilitres, `_WH` watt hours. Timers are elapsed times that stop at
`TIMER_TOP_MS`; nothing here is a timestamp. A snapshot of the station is `bytes(state)`.
"""

# Sensors, in the order of every array that has one entry a sensor.
COLLECTOR = 0
TANK_LOW = 1
TANK_HIGH = 2
LOOP_SUPPLY = 3
LOOP_RETURN = 4
OUTDOOR = 5
TAP = 6
EXCHANGER = 7
SENSORS = 8
SENSOR_NAMES = ("collector", "tank_low", "tank_high", "loop_supply", "loop_return", "outdoor", "tap", "exchanger")

# Outputs, in the order of every array that has one entry an output. The dump valve is named by its power, because "valve on"
# says nothing: powered sends the glycol to the exchanger, without power the spring sends it to the radiator.
COLLECTOR_PUMP = 0
TANK_PUMP = 1
DUMP_VALVE_POWER = 2
ALARM = 3
OUTPUTS = 4
OUTPUT_NAMES = ("collector_pump", "tank_pump", "dump_valve_power", "alarm")
# The first three move water, glycol and heat; the alarm contact only speaks.
MOVERS = 3

# Duties. The numbers are part of the trace and of the link: append, never renumber.
IDLE = 0
CHARGING = 1
DUMPING = 2
STAGNATION_HOLD = 3
FROST_GUARD = 4
NIGHT_COOLING = 5
EXERCISE = 6
FAULT_STOP = 7
MAINTENANCE = 8
HAND = 9
DUTIES = 10
DUTY_NAMES = (
    "idle",
    "charging",
    "dumping",
    "stagnation_hold",
    "frost_guard",
    "night_cooling",
    "exercise",
    "fault_stop",
    "maintenance",
    "hand",
)

# Trust in a reading: a value is used while its status is at most HELD.
GOOD = 0  # read and accepted in this step
HELD = 1  # the last good value, younger than the sensor's age limit
LOST = 2  # older than that: unknown, there is no value
ABSENT = 3  # not fitted

# Why a reading was not accepted. Below 20 the driver says so, from 20 on the core does.
CAUSE_NONE = 0
CAUSE_OPEN = 1
CAUSE_SHORT = 2
CAUSE_SILENT = 3
CAUSE_CRC = 4
CAUSE_POWER_ON = 5
CAUSE_ALL_ZERO = 6
CAUSE_CHIP = 7
CAUSE_NOT_READY = 8
CAUSE_RANGE = 20
CAUSE_RATE = 21
CAUSE_FROZEN = 22

# A lost value is not a number somebody could calculate with by mistake: it is below absolute zero.
UNKNOWN_MC = -300000
# Timers stop here; about 2.3 hours is longer than any limit that is compared with one of them.
TIMER_TOP_MS = 8388607
# One step is at most this long: a longer gap is a gap in knowledge, not a long step.
STEP_TOP_MS = 60000

# -- inputs ----------------------------------------------------------------------------------------------------------------
IN_DT_MS = 0  # 1 .. 60000, time since the last step
IN_RESETS = 1  # watchdog resets since the last full hour without one
IN_RAW_MC = 2  # one a sensor
IN_RAW_CAUSE = IN_RAW_MC + SENSORS  # one a sensor, CAUSE_NONE when the driver trusts the value
IN_FLOW_ML_PER_MIN = IN_RAW_CAUSE + SENSORS  # of the flow meter; a switch gives 0 or anything above
IN_FLOW_CAUSE = IN_FLOW_ML_PER_MIN + 1  # CAUSE_NONE when the flow input can be trusted
IN_HAND_MASK = IN_FLOW_CAUSE + 1  # outputs that somebody holds by hand, as bits; none when 0
IN_HAND_VALUE = IN_HAND_MASK + 1  # what these are to be, as bits
IN_UPKEEP = IN_HAND_VALUE + 1  # UPKEEP_NONE, UPKEEP_MAINTENANCE or UPKEEP_PURGE
IN_SETTINGS_LOST = IN_UPKEEP + 1  # 1 while the settings are defaults because both stored copies were bad
INPUTS = IN_SETTINGS_LOST + 1

UPKEEP_NONE = 0
UPKEEP_MAINTENANCE = 1
UPKEEP_PURGE = 2

# -- readings (readings.py) ------------------------------------------------------------------------------------------------
VALUE_MC = 0  # one a sensor, UNKNOWN_MC when lost
COLLECTOR_MC = VALUE_MC + COLLECTOR
TANK_LOW_MC = VALUE_MC + TANK_LOW
TANK_HIGH_MC = VALUE_MC + TANK_HIGH
LOOP_SUPPLY_MC = VALUE_MC + LOOP_SUPPLY
LOOP_RETURN_MC = VALUE_MC + LOOP_RETURN
OUTDOOR_MC = VALUE_MC + OUTDOOR
TAP_MC = VALUE_MC + TAP
EXCHANGER_MC = VALUE_MC + EXCHANGER
STATUS = VALUE_MC + SENSORS  # one a sensor: GOOD, HELD, LOST, ABSENT
COLLECTOR_STATUS = STATUS + COLLECTOR
TANK_LOW_STATUS = STATUS + TANK_LOW
TANK_HIGH_STATUS = STATUS + TANK_HIGH
LOOP_SUPPLY_STATUS = STATUS + LOOP_SUPPLY
LOOP_RETURN_STATUS = STATUS + LOOP_RETURN
OUTDOOR_STATUS = STATUS + OUTDOOR
TAP_STATUS = STATUS + TAP
EXCHANGER_STATUS = STATUS + EXCHANGER
CAUSE = STATUS + SENSORS  # one a sensor: why the last raw value was refused
AGE_MS = CAUSE + SENSORS  # one a sensor: since the last accepted value
CANDIDATE_MC = AGE_MS + SENSORS  # one a sensor: the last raw value that was in range
CANDIDATE_COUNT = CANDIDATE_MC + SENSORS  # one a sensor: candidates in a row that agree, 0 .. 3
FROZEN_MC = CANDIDATE_COUNT + SENSORS  # raw tank_high while heat passes it and it does not move
FROZEN_MS = FROZEN_MC + 1  # for how long
STILL_MC = FROZEN_MS + 1  # raw collector while it is clearly warmer than the air and does not move
STILL_MS = STILL_MC + 1  # for how long

# -- what the rules derive (rules.py) --------------------------------------------------------------------------------------
TANK_REFERENCE_MC = STILL_MS + 1  # what the collector is compared with: tank_low, else tank_high
TANK_HOTTEST_MC = TANK_REFERENCE_MC + 1  # hottest trusted tank sensor, plus the margin while tank_high is lost
TANK_COLDEST_MC = TANK_HOTTEST_MC + 1  # coldest trusted tank sensor, UNKNOWN_MC without one
CONDITIONS = TANK_COLDEST_MC + 1  # bit set, see rules.py
DUTY = CONDITIONS + 1
REASON = DUTY + 1  # why this duty, see reasons.py
WAIT_REASON = REASON + 1  # why an output of this duty is not on yet, 0 when nothing waits
ROW = WAIT_REASON + 1  # row of the table that decided
DUTY_MS = ROW + 1  # time in this duty
# Latches with two thresholds. After a reset all protective ones are set.
TANK_OVER = DUTY_MS + 1
TANK_FULL = TANK_OVER + 1
STAGNATION = TANK_FULL + 1
CHARGE_HOT = STAGNATION + 1
CHARGE_WANTED = CHARGE_HOT + 1
DUMP_WANTED = CHARGE_WANTED + 1
FROST = DUMP_WANTED + 1
COOLING_WANTED = FROST + 1
# Cold slug: the lowest temperature that the outdoor part of the loop may still hold, and how much was pumped since.
LOOP_LOWEST_MC = COOLING_WANTED + 1
PUMPED_ML = LOOP_LOWEST_MC + 1
PUMPED_REST = PUMPED_ML + 1  # remainder in ml*ms/60000
STANDING_MS = PUMPED_REST + 1  # time with the collector pump off
LOOP_KNOWN = STANDING_MS + 1  # 0 from boot until the outdoor part was once judged
LOOP_SEEN_MC = LOOP_KNOWN + 1  # lowest that a trusted sensor has shown since the loop was last known to be warm
RADIATOR_STOOD = LOOP_SEEN_MC + 1  # 1 while glycol stands in the radiator, which may be as cold as the air
MILD_MS = RADIATOR_STOOD + 1  # time for which collector and air have been mild, without a break

# -- sequence (sequence.py) ------------------------------------------------------------------------------------------------
COMMAND = MILD_MS + 1  # one an output, 0 or 1: what the port is told
COLLECTOR_PUMP_ON = COMMAND + COLLECTOR_PUMP
TANK_PUMP_ON = COMMAND + TANK_PUMP
DUMP_VALVE_POWER_ON = COMMAND + DUMP_VALVE_POWER
ALARM_ON = COMMAND + ALARM
OUTPUT_MS = COMMAND + OUTPUTS  # one an output: time since it last changed
COLLECTOR_PUMP_MS = OUTPUT_MS + COLLECTOR_PUMP
VALVE_MS = OUTPUT_MS + OUTPUTS  # way of the valve: 0 at the radiator, dump_travel at the exchanger
VALVE_HOME_MS = VALVE_MS + 1  # travel still needed before the position is known; dump_travel at boot
RUN_ON_MS = VALVE_HOME_MS + 1  # how long the tank pump has been running on
RUNNING_ON = RUN_ON_MS + 1  # 1 while it does
UNMOVED_S = RUNNING_ON + 1  # one a mover: how long it has not been on
EXERCISING = UNMOVED_S + MOVERS  # the mover whose turn it is, 0 .. 2; MOVERS when none

# -- diagnosis (diagnosis.py) ----------------------------------------------------------------------------------------------
NOT_JOINED_MS = EXERCISING + 1  # collector pump charging, exchanger still cold
FAR_MS = NOT_JOINED_MS + 1  # collector pump charging, collector far above what arrives
FAR_FROM_MC = FAR_MS + 1  # collector when that began
FLOWLESS_MS = FAR_FROM_MC + 1  # collector pump on, flow input says nothing flows
NO_FLOW = FLOWLESS_MS + 1  # reason code while charging is given up, else 0
RETRY_MS = NO_FLOW + 1  # since it was given up
DUMP_FROM_MC = RETRY_MS + 1  # collector when this dump began to flow
DUMP_TANK_MC = DUMP_FROM_MC + 1  # hottest tank sensor at that time
DUMP_IDLE_MS = DUMP_TANK_MC + 1  # how long this dump has flowed without effect
DUMP_BARRED = DUMP_IDLE_MS + 1  # reason code while dumping is given up, else 0
DUMP_RETRY_MS = DUMP_BARRED + 1  # since it was given up
TRACK_MS = DUMP_RETRY_MS + 1  # at rest, and arriving glycol follows the collector
TRACK_LOW_MC = TRACK_MS + 1  # collector's lowest and highest since it does
TRACK_HIGH_MC = TRACK_LOW_MC + 1
UNBIDDEN_FLOW = TRACK_HIGH_MC + 1  # 1: glycol moves though nobody pumps it
SCALD_MS = UNBIDDEN_FLOW + 1  # tap above what the mixing valve should let through
STEADY_MS = SCALD_MS + 1  # both pumps charging without a break
EFFECT_PERMILLE = STEADY_MS + 1  # slow mean of the exchanger's effectiveness, 0 when not known
EFFECT_REST = EFFECT_PERMILLE + 1  # remainder of that mean
FOUL_S = EFFECT_REST + 1  # charging seconds with a poor effectiveness
LOST_MS = FOUL_S + 1  # how long a fitted sensor has been lost
ALARMS = LOST_MS + 1  # bit set, see diagnosis.py

# -- guard (guard.py): its own memory, read by nobody's rule ----------------------------------------------------------------
GUARD_COLLECTOR_MS = ALARMS + 1  # how long the raw collector has been bad or over its limit
GUARD_TANK_MS = GUARD_COLLECTOR_MS + 1  # the same for the tank
GUARD_RAW_MC = GUARD_TANK_MS + 1  # raw tank_low and tank_high of the step before
GUARD_HOLD_MS = GUARD_RAW_MC + 2  # what is left of the pause after an action
GUARD_ACTIONS = GUARD_HOLD_MS + 1  # how often it had to act: each one is a defect of the rules

# -- meter (meter.py) ------------------------------------------------------------------------------------------------------
METER_MS = GUARD_ACTIONS + 1  # 0 .. 999, the part of a second not yet counted
METER_SECONDS = METER_MS + 1  # whole seconds that this step completed
ON_S = METER_SECONDS + 1  # one an output: run time
STARTS = ON_S + OUTPUTS  # one an output
DUTY_S = STARTS + OUTPUTS  # one a duty
STAGNATION_S = DUTY_S + DUTIES  # collector at or above its limit
HEAT_WH = STAGNATION_S + 1  # estimate of the heat that left the glycol at the station while charging
DUMPED_WH = HEAT_WH + 1  # the same while dumping
HEAT_J = DUMPED_WH + 1  # remainder below one watt hour of each of the two
DUMPED_J = HEAT_J + 1
METER_ML = DUMPED_J + 1  # remainder of the metered volume in ml*ms/60000
HEAT_REST = METER_ML + 1  # remainder of volume times difference, ml mK
HOT_MS = HEAT_REST + 1  # the hottest tank sensor at or above 60 C without a break, up to one hour
SINCE_HOT_S = HOT_MS + 1  # since that hour was last full; a reminder, never a promise
STATE = SINCE_HOT_S + 1
