"""The one state array; every index is named once, here.

All values are integers that fit in 31 bits. A name ends with its unit: `_MC` millidegrees Celsius,
`_MK` a difference in millikelvin, `_MS` milliseconds, `_S` seconds, `_ML` millilitres, `_WH` watt
hours. Timers are elapsed times that stop at `TIMER_TOP_MS`; there are no timestamps. `bytes(state)`
is a snapshot of the station.
"""

from . import settings as cfg
from .conditions import CONDITION_WORDS
from .tables import Table, Words

# Sensors, in the order of every array with one entry per sensor.
# Range: what the place can reach. 240 C is above the stagnation of a flat plate; an evacuated tube
# at 257 C reads "range", which stops the pump as well.
# Fastest credible change, in K/s: a hot slug that reaches a pocket (common practice).
# Steps of the chip: DS18B20 datasheet, table 1; MAX31865 with a Pt1000 and a 4 kOhm reference,
# computed (0.031 K).
# `fitted_by`: the setting that says whether the sensor is fitted.
ALWAYS = -1
SENSOR_ROWS = Table("name", "lowest_mc", "highest_mc", "fastest_mk_per_ms", "chip_steps_per_k", "fitted_by")
COLLECTOR = SENSOR_ROWS.add("collector", -50000, 240000, 10, 32, ALWAYS)
TANK_LOW = SENSOR_ROWS.add("tank_low", 0, 115000, 1, 16, ALWAYS)
TANK_HIGH = SENSOR_ROWS.add("tank_high", 0, 115000, 1, 16, ALWAYS)
LOOP_SUPPLY = SENSOR_ROWS.add("loop_supply", -50000, 160000, 5, 16, cfg.LOOP_SUPPLY_FITTED)
LOOP_RETURN = SENSOR_ROWS.add("loop_return", -50000, 160000, 5, 16, cfg.LOOP_RETURN_FITTED)
OUTDOOR = SENSOR_ROWS.add("outdoor", -50000, 65000, 1, 16, cfg.OUTDOOR_FITTED)
TAP = SENSOR_ROWS.add("tap", -5000, 115000, 5, 16, cfg.TAP_FITTED)
EXCHANGER = SENSOR_ROWS.add("exchanger", -50000, 160000, 5, 16, cfg.EXCHANGER_FITTED)
# Those of the water side come first.
WATER_SENSORS = len(SENSOR_ROWS.rows)
AIR_COLLECTOR = SENSOR_ROWS.add("air_collector", -50000, 200000, 10, 16, cfg.AIR_HEATER)
ROOM = SENSOR_ROWS.add("room", -20000, 60000, 1, 16, cfg.AIR_HEATER)
SENSOR_NAMES = SENSOR_ROWS.column("name")
SENSORS = len(SENSOR_NAMES)

# Outputs, in the order of every array with one entry per output. A mover moves glycol, water or
# heat; a signal only informs. Without power every output is safe. The dump valve is named for its
# power, because "valve on" says nothing: with power it sends the glycol to the exchanger, without
# power its spring sends it to the radiator. The alarm's contact closes on alarm; a board's data may
# say that it closes without power, too (ALARM_RESTS): then its relay has power while all is well.
MOVER = 0
SIGNAL = 1
OUTPUT_ROWS = Table("name", "kind", "contact", "load")
COLLECTOR_PUMP = OUTPUT_ROWS.add("collector_pump", MOVER, "normally open", "collector pump: off when the controller is dead")
TANK_PUMP = OUTPUT_ROWS.add("tank_pump", MOVER, "normally open", "tank pump, behind the cut-out: off when the controller is dead")
DUMP_VALVE_POWER = OUTPUT_ROWS.add(
    "dump_valve_power", MOVER, "normally open", "dump valve, behind the cut-out: its spring turns it to the radiator"
)
ALARM = OUTPUT_ROWS.add("alarm", SIGNAL, "normally open, potential-free", "alarm: closes on alarm; a dead controller is silent")
AIR_FAN = OUTPUT_ROWS.add("air_fan", MOVER, "normally open", "fan of the air heater: off when the controller is dead")
OUTPUT_NAMES = OUTPUT_ROWS.column("name")
OUTPUTS = len(OUTPUT_NAMES)
# The movers, in the order of every array with one entry per mover.
MOVING = OUTPUT_ROWS.where("kind", MOVER)
MOVERS = len(MOVING)
VALVE_MOVER = MOVING.index(DUMP_VALVE_POWER)
FAN_MOVER = MOVING.index(AIR_FAN)

# Duties. The numbers are part of the trace and of the link: append, never renumber.
DUTY_ROWS = Table("name")
IDLE = DUTY_ROWS.add("idle")
CHARGING = DUTY_ROWS.add("charging")
DUMPING = DUTY_ROWS.add("dumping")
STAGNATION_HOLD = DUTY_ROWS.add("stagnation_hold")
FROST_GUARD = DUTY_ROWS.add("frost_guard")
NIGHT_COOLING = DUTY_ROWS.add("night_cooling")
EXERCISE = DUTY_ROWS.add("exercise")
FAULT_STOP = DUTY_ROWS.add("fault_stop")
MAINTENANCE = DUTY_ROWS.add("maintenance")
HAND = DUTY_ROWS.add("hand")
DUTY_NAMES = DUTY_ROWS.column("name")
DUTIES = len(DUTY_NAMES)

# Trust in a reading: it has a value up to status HELD.
GOOD = 0  # read and accepted in this step
HELD = 1  # the last good value, younger than the sensor's age limit
LOST = 2  # older than that: there is no value
ABSENT = 3  # not fitted

# Why a reading was refused: below 20 the driver says so, from 20 on the core does.
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

# A lost value is below absolute zero, so that it cannot pass for a temperature.
UNKNOWN_MC = -300000
# Timers stop here: 2.3 hours is longer than any limit that they are compared with.
TIMER_TOP_MS = 8388607
# The longest step: a longer gap is a gap in knowledge, not a long step.
STEP_TOP_MS = 60000

# This many starts that count are a fault stop: the port's loop says which do, and for how long.
RESETS_LIMIT = 3

# -- inputs ----------------------------------------------------------------------------------------
INPUT_WORDS = Words()
IN_DT_MS = INPUT_WORDS.take()  # 1 .. 60000, time since the last step
IN_RESETS = INPUT_WORDS.take()  # starts that nobody planned, without a sound hour between them
IN_RAW_MC = INPUT_WORDS.take(SENSORS)  # one per sensor
IN_RAW_CAUSE = INPUT_WORDS.take(SENSORS)  # one per sensor, CAUSE_NONE when the driver trusts the value
IN_FLOW_ML_PER_MIN = INPUT_WORDS.take()  # from the flow meter; a switch gives 0 or anything above
IN_FLOW_CAUSE = INPUT_WORDS.take()  # CAUSE_NONE when the flow input can be trusted
IN_HAND_MASK = INPUT_WORDS.take()  # outputs held by hand, as bits
IN_HAND_VALUE = INPUT_WORDS.take()  # the level each of them is held at, as bits
IN_UPKEEP = INPUT_WORDS.take()  # UPKEEP_NONE, UPKEEP_MAINTENANCE or UPKEEP_PURGE
IN_SETTINGS_LOST = INPUT_WORDS.take()  # 1 while defaults are in force because what is stored cannot be used
IN_MEMORY_BAD = INPUT_WORDS.take()  # 1 while the board's flash refuses to be written
INPUTS = INPUT_WORDS.taken

UPKEEP_NONE = 0
UPKEEP_MAINTENANCE = 1
UPKEEP_PURGE = 2

# -- readings (readings.py) ------------------------------------------------------------------------
STATE_WORDS = Words()
VALUE_MC = STATE_WORDS.take(SENSORS)  # one per sensor, UNKNOWN_MC when lost
COLLECTOR_MC = VALUE_MC + COLLECTOR
TANK_LOW_MC = VALUE_MC + TANK_LOW
TANK_HIGH_MC = VALUE_MC + TANK_HIGH
LOOP_SUPPLY_MC = VALUE_MC + LOOP_SUPPLY
LOOP_RETURN_MC = VALUE_MC + LOOP_RETURN
OUTDOOR_MC = VALUE_MC + OUTDOOR
TAP_MC = VALUE_MC + TAP
EXCHANGER_MC = VALUE_MC + EXCHANGER
AIR_COLLECTOR_MC = VALUE_MC + AIR_COLLECTOR
ROOM_MC = VALUE_MC + ROOM
STATUS = STATE_WORDS.take(SENSORS)  # one per sensor: GOOD, HELD, LOST, ABSENT
COLLECTOR_STATUS = STATUS + COLLECTOR
TANK_LOW_STATUS = STATUS + TANK_LOW
TANK_HIGH_STATUS = STATUS + TANK_HIGH
LOOP_SUPPLY_STATUS = STATUS + LOOP_SUPPLY
LOOP_RETURN_STATUS = STATUS + LOOP_RETURN
OUTDOOR_STATUS = STATUS + OUTDOOR
TAP_STATUS = STATUS + TAP
EXCHANGER_STATUS = STATUS + EXCHANGER
AIR_COLLECTOR_STATUS = STATUS + AIR_COLLECTOR
ROOM_STATUS = STATUS + ROOM
CAUSE = STATE_WORDS.take(SENSORS)  # one per sensor: why the last raw value was refused
AGE_MS = STATE_WORDS.take(SENSORS)  # one per sensor: time since the last accepted value
CANDIDATE_MC = STATE_WORDS.take(SENSORS)  # one per sensor: the last raw value that was in range
CANDIDATE_COUNT = STATE_WORDS.take(SENSORS)  # one per sensor: of them in a row, those away from the value that agree, 0 .. 3
FROZEN_MC = STATE_WORDS.take()  # raw tank_high when it last moved
FROZEN_MS = STATE_WORDS.take()  # how long heat has passed it since then
STILL_MC = STATE_WORDS.take(SENSORS)  # one per sensor: the raw value when it last moved
STILL_S = STATE_WORDS.take(SENSORS)  # one per sensor: how long it has stood still since then

# -- what the rules go by (tank.py, latches.py, coldloop.py) and decide (rules.py) -----------------
TANK_REFERENCE_MC = STATE_WORDS.take()  # what the collector is compared with: tank_low, or tank_high without it
TANK_HOTTEST_MC = STATE_WORDS.take()  # hottest trusted tank sensor, or tank_low with a margin for tank_high
CROSSED_MS = STATE_WORDS.take()  # how long tank_high has to agree yet: it read colder than tank_low
TANK_COLDEST_MC = STATE_WORDS.take()  # coldest trusted tank sensor, UNKNOWN_MC without one
CONDITIONS = STATE_WORDS.take(CONDITION_WORDS)  # bit set, see conditions.py
DUTY = STATE_WORDS.take()
REASON = STATE_WORDS.take()  # why this duty, see reasons.py
WAIT_REASON = STATE_WORDS.take()  # why an output of this duty is not on yet, 0 when nothing waits
ROW = STATE_WORDS.take()  # the row of the table that decided
DUTY_MS = STATE_WORDS.take()  # time in this duty
# Latches with two thresholds. After a reset those that forbid something are set.
TANK_OVER = STATE_WORDS.take()
TANK_FULL = STATE_WORDS.take()
STAGNATION = STATE_WORDS.take()
CHARGE_HOT = STATE_WORDS.take()
CHARGE_WANTED = STATE_WORDS.take()
DUMP_WANTED = STATE_WORDS.take()
FROST = STATE_WORDS.take()
COOLING_WANTED = STATE_WORDS.take()
ABOVE_MS = STATE_WORDS.take()  # how long a trusted tank sensor has been above tank_limit
GIVEN_MC = STATE_WORDS.take()  # the hottest that this charging can have made the tank
BEYOND_MS = STATE_WORDS.take()  # how long a tank sensor has read hotter than that
PLATES_HOT_MS = STATE_WORDS.take()  # how long the exchanger may still hold water too hot for the tank
# Cold slug: the lowest temperature that the outdoor loop may hold, and the volume pumped since.
LOOP_LOWEST_MC = STATE_WORDS.take()
PUMPED_ML = STATE_WORDS.take()
PUMPED_REST = STATE_WORDS.take()  # remainder, in 1/60000 ml
STANDING_MS = STATE_WORDS.take()  # time with the collector pump off
LOOP_KNOWN = STATE_WORDS.take()  # 0 from boot, or from a lost sensor, until the outdoor loop is judged or exchanged
LOOP_SEEN_MC = STATE_WORDS.take()  # lowest trusted reading since the loop was last known to be warm
RADIATOR_STOOD = STATE_WORDS.take()  # 1 while glycol stands in the radiator, which may be as cold as the air
RISE_MS = STATE_WORDS.take()  # time since the loop last took a step towards air and collector
AIR_MC = STATE_WORDS.take()  # outdoor, less what rose faster than air does
AIR_UNDER_S = STATE_WORDS.take()  # how long the collector has been clearly warmer than the outdoor sensor
AIR_OVER_MK = STATE_WORDS.take()  # how far the outdoor sensor has read above a dark collector
ARRIVED_MS = STATE_WORDS.take()  # how long the sun's glycol has stood at the station
PLATES_FROM_MC = STATE_WORDS.take()  # the plates before the tank pump started, 0 while unknown
STANDS_MS = STATE_WORDS.take()  # how long it has run since then ahead of frosty glycol without moving them

# -- sequence (sequence.py) ------------------------------------------------------------------------
COMMAND = STATE_WORDS.take(OUTPUTS)  # one per output, 0 or 1: the command to the port
COLLECTOR_PUMP_ON = COMMAND + COLLECTOR_PUMP
TANK_PUMP_ON = COMMAND + TANK_PUMP
DUMP_VALVE_POWER_ON = COMMAND + DUMP_VALVE_POWER
ALARM_ON = COMMAND + ALARM
AIR_FAN_ON = COMMAND + AIR_FAN
OUTPUT_MS = STATE_WORDS.take(OUTPUTS)  # one per output: time since it last changed
COLLECTOR_PUMP_MS = OUTPUT_MS + COLLECTOR_PUMP
VALVE_MS = STATE_WORDS.take()  # how far the valve has come: 0 at the radiator, dump_travel at the exchanger
VALVE_HOME_MS = STATE_WORDS.take()  # travel still needed before the position is known; dump_travel at boot
RUN_ON_MS = STATE_WORDS.take()  # time since the run-on began
RUNNING_ON = STATE_WORDS.take()  # 1 in a run-on, ARMED (sequence.py) while one will follow
WORN_S = STATE_WORDS.take()  # 70 minutes for each start of valve or collector pump, less what is paid off
UNMOVED_S = STATE_WORDS.take(MOVERS)  # one per mover: how long it has been off, up to the longest exercise_after
EXERCISING = STATE_WORDS.take()  # place in MOVING of the mover being exercised; MOVERS when none

# -- air heater (air.py) ---------------------------------------------------------------------------
AIR_REASON = STATE_WORDS.take()  # why its fan runs or rests, 0 without an air heater
AIR_WANTED = STATE_WORDS.take()  # latch: its collector is warmer than the room
ROOM_WARM = STATE_WORDS.take()  # latch: the room is warm enough
ROOM_SLOW_MC = STATE_WORDS.take()  # slow mean of room, UNKNOWN_MC while it is lost
ROOM_REST = STATE_WORDS.take()  # remainder of that mean, in mK s
AIR_SPENT_MS = STATE_WORDS.take()  # how long its collector has not been worth the fan's power
SUMMER = STATE_WORDS.take()  # latch: the mean of a day outdoors is above summer_above
SEASON_S = STATE_WORDS.take()  # the time that this mean is of, up to a day
SEASON_MC = STATE_WORDS.take()  # slow mean of outdoor
SEASON_REST = STATE_WORDS.take()  # remainder of that mean, in mK s
BACK_S = STATE_WORDS.take()  # how long the resting collector has been nearly as warm as the room, in far colder air
AIR_HOT_MS = STATE_WORDS.take()  # how long its collector has stayed hot although the fan runs

# -- diagnosis (diagnosis.py, alarms.py) -----------------------------------------------------------
NOT_JOINED_MS = STATE_WORDS.take()  # collector pump charging, and the tank pump has not joined
ARRIVED_MC = STATE_WORDS.take()  # loop_supply when that began, or since it last got warmer
ASTRAY_MS = STATE_WORDS.take()  # the same, with hot glycol and cold plates
FAR_MS = STATE_WORDS.take()  # collector pump charging, and arriving glycol far colder than the collector
FAR_FROM_MC = STATE_WORDS.take()  # collector when that began, UNKNOWN_MC once it has moved since
APART_MK = STATE_WORDS.take()  # slow mean of collector less loop_supply while both pumps charge
FLOWLESS_MS = STATE_WORDS.take()  # collector pump on, and the flow input sees no flow
NO_FLOW = STATE_WORDS.take()  # reason code while pumping or charging is given up, 0 otherwise
RETRY_MS = STATE_WORDS.take()  # time since then
DUMP_FROM_MC = STATE_WORDS.take()  # collector when glycol began to flow in this dump
DUMP_TANK_MC = STATE_WORDS.take()  # hottest tank sensor at that moment, UNKNOWN_MC without tank_high
DUMP_IDLE_MS = STATE_WORDS.take()  # how long this dump has flowed without effect
DUMP_HEATS_MS = STATE_WORDS.take()  # how long the tank has been 2 K warmer than that
DUMP_BARRED = STATE_WORDS.take()  # reason code while dumping is given up, 0 otherwise
DUMP_RETRY_MS = STATE_WORDS.take()  # time since then
HELPLESS_S = STATE_WORDS.take()  # how long the nights shall still do what the radiator could not
TRACK_MS = STATE_WORDS.take()  # pump long off, and arriving glycol as warm as the collector
TRACK_LOW_MC = STATE_WORDS.take()  # lowest and highest collector in that time
TRACK_HIGH_MC = STATE_WORDS.take()
UNBIDDEN_FLOW = STATE_WORDS.take()  # 1: glycol moves although its pump is off
SCALD_MS = STATE_WORDS.take()  # tap above what the mixing valve should let through
STEADY_MS = STATE_WORDS.take()  # both pumps charging without a break
EFFECT_PERMILLE = STATE_WORDS.take()  # slow mean of the exchanger's effectiveness, 0 while unknown
EFFECT_REST = STATE_WORDS.take()  # remainder of that mean, in thousandths times ms
FOUL_S = STATE_WORDS.take()  # charging seconds with a poor effectiveness, or beside a top that it does not warm
DRAINS = STATE_WORDS.take()  # 1: a radiator in series took the tank's heat, and no charging since was good
TOP_FROM_MC = STATE_WORDS.take()  # the lowest tank_high since those began
COOLED_MS = STATE_WORDS.take()  # how long steady charging has been too cold: the radiator had the heat
TAKING_MS = STATE_WORDS.take()  # both pumps charging, and glycol leaves no colder than it arrives
LOW_BY_MK = STATE_WORDS.take()  # how far the reference proved to read below the tank's water
UNWARMED_MC = STATE_WORDS.take()  # raw tank_low when it last moved by some kelvin
UNWARMED_ML = STATE_WORDS.take()  # water that charging has moved since then, with a clear lead
LOST_MS = STATE_WORDS.take()  # how long a fitted sensor has been lost
ALARMS = STATE_WORDS.take()  # bit set, see alarms.py

# -- guard (guard.py): its own memory; the rules see only whether it is holding -------------------
GUARDED = LOOP_SUPPLY + 1  # it listens to the first sensors: collector, tank_low, tank_high, loop_supply
GUARD_MC = STATE_WORDS.take(GUARDED)  # one per sensor: the last raw value that it believed
GUARD_AGE_MS = STATE_WORDS.take(GUARDED)  # one per sensor: time since then
GUARD_TRY_MC = STATE_WORDS.take(GUARDED)  # one per sensor: the last raw value that was possible
GUARD_TRIES = STATE_WORDS.take(GUARDED)  # one per sensor: such values in a row that agree, 0 .. 3
GUARD_COLLECTOR_MS = STATE_WORDS.take()  # how long the collector has been at its limit
GUARD_TANK_MS = STATE_WORDS.take()  # how long a tank sensor has been over the limit without colder glycol
GUARD_TANK_STEPS = STATE_WORDS.take()  # in how many steps, 0 .. 4
GUARD_HOLD_MS = STATE_WORDS.take()  # remaining pause after an action
GUARD_ACTIONS = STATE_WORDS.take()  # how often it had to act: each time is a defect of the rules

# -- meter (meter.py) ------------------------------------------------------------------------------
METER_MS = STATE_WORDS.take()  # 0 .. 999, the part of a second not yet counted
METER_SECONDS = STATE_WORDS.take()  # whole seconds that this step completed
ON_S = STATE_WORDS.take(OUTPUTS)  # one per output: run time
STARTS = STATE_WORDS.take(OUTPUTS)  # one per output
DUTY_S = STATE_WORDS.take(DUTIES)  # one per duty
STAGNATION_S = STATE_WORDS.take()  # collector at or above its limit
HEAT_WH = STATE_WORDS.take()  # estimate of the heat that left the glycol at the station while charging
DUMPED_WH = STATE_WORDS.take()  # the same while dumping
HEAT_J = STATE_WORDS.take()  # remainder of each of the two, below one watt hour
DUMPED_J = STATE_WORDS.take()
METER_ML = STATE_WORDS.take()  # remainder of the metered volume, in 1/60000 ml
HEAT_REST = STATE_WORDS.take()  # remainder of volume times difference, in ml mK
HOT_MS = STATE_WORDS.take()  # the hottest tank sensor at or above 60 C without a break, up to one hour
SINCE_HOT_S = STATE_WORDS.take()  # since that hour was last full: a reminder, never a promise
FILTER_S = STATE_WORDS.take()  # the fan's run time since the filter was last new
STATE = STATE_WORDS.taken


def trusted(state, sensor):
    """Whether a sensor has a value: read in this step, or held and young enough."""
    return state[STATUS + sensor] <= HELD


def latched(was, measured, start, stop):
    """The differential rule: 1 from start on, 0 down from stop, and as it was between them."""
    if measured >= start:
        return 1
    return was if measured > stop else 0


def run_timer(state, settings, inputs, index, runs):
    """Run a timer while `runs` is true; otherwise set it back to 0."""
    state[index] = min(state[index] + inputs[IN_DT_MS], TIMER_TOP_MS) if runs else 0
