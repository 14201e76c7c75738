"""Every setting with its limits and default, and the rules between settings.

A setting's code is its row number and its place in the settings array: append, never renumber.
Values are integers in the unit given: `mC` millidegrees Celsius, `mK` millikelvin, `ms`, `s`, `ml`,
`ml/min`, `kPa` (gauge), `m`, `%` (mass per cent), `h` or `choice`.
"""

from .tables import Table

BYPASS = 0
SERIES = 1
NONE = 2
TOPOLOGY_NAMES = ("bypass", "series", "none")
CLOSED = 0
OPEN = 1
CROSSOVER_NAMES = ("closed", "open")
NO_YES = ("no", "yes")
NO_FLOW_SENSOR = 0
FLOW_SWITCH = 1
FLOW_METER = 2
FLOW_SENSOR_NAMES = ("none", "switch", "meter")
PUSHES = 0
DRAWS = 1
FAN_PLACE_NAMES = ("pushes", "draws")

# A change is taken up in the running step, or the station starts cold: where its state holds what
# was measured or timed by the old value (the way of the valve, the glycol pumped, what is fitted).
RUNNING = 0
COLD = 1

ROWS = Table("name", "unit", "lowest", "highest", "default", "change", "why")
START_DIFFERENCE = ROWS.add(
    "start_difference", "mK", 4000, 20000, 8000, RUNNING, "collector above tank_low to start (common practice 4-11 K)"
)
STOP_DIFFERENCE = ROWS.add("stop_difference", "mK", 2000, 15000, 3000, RUNNING, "charging ends at this (common practice 2-5 K)")
COLLECTOR_MINIMUM = ROWS.add(
    "collector_minimum", "mC", 0, 60000, 20000, RUNNING, "no start below: a cold draw at night is no reason to pump"
)
TANK_LIMIT = ROWS.add(
    "tank_limit", "mC", 40000, 85000, 75000, RUNNING, "no more heat once the hottest tank sensor is 0.5 K below this"
)
TANK_LIMIT_RESET = ROWS.add("tank_limit_reset", "mK", 2000, 20000, 5000, RUNNING, "this far below tank_limit, heat is taken again")
TANK_FULL_LOW = ROWS.add("tank_full_low", "mC", 30000, 85000, 67000, RUNNING, "the tank is full when tank_low reads this")
TANK_FULL_RESET = ROWS.add(
    "tank_full_reset", "mK", 2000, 20000, 7000, RUNNING, "this far below tank_full_low, the tank is no longer full"
)
STRATIFICATION_MARGIN = ROWS.add(
    "stratification_margin", "mK", 5000, 40000, 20000, RUNNING, "tank_high lost: the top may be this much above tank_low"
)
DUMP_COLLECTOR_START = ROWS.add(
    "dump_collector_start", "mC", 60000, 130000, 95000, RUNNING, "from here on, heat that cannot be charged is dumped"
)
DUMP_COLLECTOR_STOP = ROWS.add("dump_collector_stop", "mC", 40000, 120000, 80000, RUNNING, "dumping stops here: just enough")
COLLECTOR_LIMIT = ROWS.add("collector_limit", "mC", 90000, 150000, 120000, RUNNING, "above: do not pump, there may be steam")
COLLECTOR_RESET = ROWS.add("collector_reset", "mC", 70000, 140000, 105000, RUNNING, "pump again below this")
CHARGE_LIMIT = ROWS.add("charge_limit", "mC", 60000, 92000, 90000, RUNNING, "glycol hotter than this is dumped first")
CHARGE_LIMIT_RESET = ROWS.add(
    "charge_limit_reset", "mK", 5000, 40000, 15000, RUNNING, "this far below charge_limit, charging resumes"
)
MINIMUM_RUN = ROWS.add("minimum_run", "ms", 0, 600000, 90000, RUNNING, "against short cycling; a safety stop ignores it")
MINIMUM_REST = ROWS.add("minimum_rest", "ms", 0, 600000, 60000, RUNNING, "against short cycling; counts from boot")
EXCHANGER_LEAD = ROWS.add(
    "exchanger_lead", "mK", 2000, 10000, 3000, RUNNING, "loop_supply above the tank for the tank pump to join"
)
EXCHANGER_LAG = ROWS.add("exchanger_lag", "mK", 500, 8000, 1000, RUNNING, "loop_supply above the tank at which it stops")
TANK_PUMP_DELAY = ROWS.add(
    "tank_pump_delay", "ms", 10000, 600000, 60000, RUNNING, "without loop_supply it joins after this: the pipe's transit time"
)
TANK_RUN_ON_DIFFERENCE = ROWS.add(
    "tank_run_on_difference", "mK", 500, 10000, 2000, RUNNING, "the tank pump runs on until loop_supply is this close"
)
TANK_RUN_ON_TIME = ROWS.add("tank_run_on_time", "ms", 0, 600000, 180000, RUNNING, "longest run-on of the tank pump")
EXCHANGER_FROST = ROWS.add("exchanger_frost", "mC", 3000, 10000, 4000, COLD, "glycol colder than this must not meet drinking water")
LOOP_VOLUME = ROWS.add(
    "loop_volume", "ml", 1000, 100000, 10000, COLD, "glycol in collector, pipes and radiator: what a cold slug can be"
)
COLLECTOR_FLOW = ROWS.add("collector_flow", "ml/min", 500, 10000, 4500, COLD, "glycol flow with the pump on (bucket and watch)")
TANK_FLOW = ROWS.add("tank_flow", "ml/min", 500, 10000, 4000, RUNNING, "drinking-water flow with the pump on")
GLYCOL_MASS_PERCENT = ROWS.add("glycol_mass_percent", "%", 0, 55, 40, RUNNING, "propylene glycol by mass")
DUMP_TOPOLOGY = ROWS.add("dump_topology", "choice", 0, 2, BYPASS, COLD, "radiator instead of the exchanger, before it, or none")
DUMP_TRAVEL = ROWS.add("dump_travel", "ms", 1000, 300000, 120000, COLD, "time of the dump valve from end to end")
DUMP_CROSSOVER = ROWS.add(
    "dump_crossover", "choice", 0, 1, CLOSED, COLD, "closed: no flow while the dump valve is between its ends"
)
COLLECTOR_AGE = ROWS.add("collector_age", "ms", 10000, 60000, 15000, RUNNING, "a collector reading older than this is unknown")
TANK_AGE = ROWS.add("tank_age", "ms", 10000, 300000, 60000, RUNNING, "any other reading older than this is unknown")
LOOP_PRESSURE = ROWS.add("loop_pressure", "kPa", 50, 600, 250, RUNNING, "cold gauge pressure at the station")
COLLECTOR_HEIGHT = ROWS.add("collector_height", "m", 0, 30, 5, RUNNING, "collector above the station's pressure gauge")
ALTITUDE = ROWS.add("altitude", "m", 0, 4000, 270, RUNNING, "of the site above the sea")
LOOP_SUPPLY_FITTED = ROWS.add(
    "loop_supply_fitted", "choice", 0, 1, 1, COLD, "glycol arriving at the station, ahead of the dump valve"
)
LOOP_RETURN_FITTED = ROWS.add("loop_return_fitted", "choice", 0, 1, 1, COLD, "glycol leaving for the roof")
OUTDOOR_FITTED = ROWS.add("outdoor_fitted", "choice", 0, 1, 1, COLD, "outdoor air, in the shade")
TAP_FITTED = ROWS.add("tap_fitted", "choice", 0, 1, 1, COLD, "after the tankless heater")
EXCHANGER_FITTED = ROWS.add(
    "exchanger_fitted",
    "choice",
    0,
    1,
    1,
    COLD,
    "on the plates, roof-return end; in series the radiator's end: frost protection needs it",
)
FLOW_SENSOR = ROWS.add("flow_sensor", "choice", 0, 2, NO_FLOW_SENSOR, COLD, "in the roof loop: none, a switch, or a meter")
AWAY = ROWS.add("away", "choice", 0, 1, 0, RUNNING, "nobody draws water: nights may cool the tank, where no radiator works")
AWAY_LIMIT = ROWS.add("away_limit", "mC", 30000, 75000, 45000, RUNNING, "while away, nights cool the tank down to this")
EXERCISE_AFTER = ROWS.add(
    "exercise_after", "s", 3600, 1209600, 259200, RUNNING, "a pump or valve that has stood this long is exercised"
)
EXERCISE_FOR = ROWS.add("exercise_for", "ms", 1000, 60000, 10000, RUNNING, "how long it is exercised")
TANK_MARGIN = ROWS.add("tank_margin", "mK", 0, 20000, 0, RUNNING, "tank sensors strapped on read this much less than the water")
AIR_HEATER = ROWS.add("air_heater", "choice", 0, 1, 0, COLD, "a solar air heater: sensors air_collector and room, and a fan")
AIR_START_DIFFERENCE = ROWS.add(
    "air_start_difference", "mK", 3000, 30000, 10000, RUNNING, "air_collector above room for the fan to start"
)
AIR_STOP_DIFFERENCE = ROWS.add("air_stop_difference", "mK", 1000, 20000, 4000, RUNNING, "the fan has no more to fetch at this")
AIR_RUN_ON = ROWS.add("air_run_on", "ms", 0, 600000, 120000, RUNNING, "so long the fan still fetches the collector's last heat")
ROOM_MAXIMUM = ROWS.add("room_maximum", "mC", 10000, 40000, 24000, RUNNING, "the room is warm enough a kelvin below this")
ROOM_MINIMUM = ROWS.add(
    "room_minimum", "mC", 0, 30000, 5000, RUNNING, "a colder room takes any heat: 1 K above air_stop_difference will do"
)
SUMMER_ABOVE = ROWS.add(
    "summer_above", "mC", 5000, 40000, 18000, RUNNING, "a day's mean of outdoor above this is summer: the fan rests"
)
FAN_PLACE = ROWS.add("fan_place", "choice", 0, 1, PUSHES, RUNNING, "ahead of the air collector (pushes) or behind it (draws)")
FAN_LIMIT = ROWS.add("fan_limit", "mC", 40000, 120000, 70000, RUNNING, "a fan that draws does not start in hotter air")
FILTER_AFTER = ROWS.add("filter_after", "h", 0, 20000, 2000, RUNNING, "fan hours until the filter is due; 0: no reminder")
# Name, unit, lowest, highest, default, why.
TABLE = tuple([row[:5] + row[6:] for row in ROWS.rows])
SETTINGS = len(TABLE)
LOWEST = ROWS.column("lowest")
HIGHEST = ROWS.column("highest")
DEFAULTS = ROWS.column("default")
COLD_CODES = ROWS.where("change", COLD)

# The rules that a set of settings can break; their sentences are in reason_texts.py. 0 is a good
# set.
RULE_OK = 0
RULE_STOP_UNDER_START = 1
RULE_FULL_UNDER_LIMIT = 2
RULE_DUMP_STOP_UNDER_START = 3
RULE_DUMP_UNDER_COLLECTOR_LIMIT = 4
RULE_RESET_UNDER_COLLECTOR_LIMIT = 5
RULE_BOILING = 6
RULE_LAG_UNDER_LEAD = 7
RULE_CHARGE_RESET_ABOVE_TANK = 8
RULE_OUTDOOR_NEEDED = 9
RULE_AWAY_UNDER_LIMIT = 10
RULE_DELAY_COVERS_TRANSIT = 11
RULE_TANK_ABOVE_FROST = 12
RULE_AIR_STOP_UNDER_START = 13
RULE_ROOM_MINIMUM_UNDER_MAXIMUM = 14
RULE_RANGE = 100  # plus the code of the setting that is out of its range

# Water's boiling point in millidegrees Celsius against absolute pressure in kPa.
# source: CoolProp 8.0.0 (IAPWS-95), saturation temperature of water, rounded down to 10 mK. Glycol
# mixtures boil a few kelvin higher, so water is the safe side.
BOILING_KPA = (50, 75, 101, 125, 150, 200, 250, 300, 400, 500, 600, 800)
BOILING_MC = (81310, 91750, 99880, 105960, 111340, 120200, 127400, 133510, 143600, 151820, 158820, 170390)


def boiling_mc(settings):
    """Boiling point of water at the collector, in millidegrees.

    It follows from loop_pressure, collector_height and altitude, linear between tabulated points.
    That lies under the true (concave) curve: the safe side.
    """
    # 101 kPa at sea level less 12 kPa a kilometre, rounded up, lies under the standard atmosphere
    # everywhere up to 4 km. Gauge pressure falls by 11 kPa per metre of height (cold glycol of 55
    # per cent: 10.5, rounded to the safe side).
    kpa = settings[LOOP_PRESSURE] + 101 - (settings[ALTITUDE] * 12 + 999) // 1000 - settings[COLLECTOR_HEIGHT] * 11
    if kpa <= BOILING_KPA[0]:
        return BOILING_MC[0]
    for k in range(1, len(BOILING_KPA)):
        if kpa <= BOILING_KPA[k]:
            low = BOILING_KPA[k - 1]
            rise = BOILING_MC[k] - BOILING_MC[k - 1]
            return BOILING_MC[k - 1] + rise * (kpa - low) // (BOILING_KPA[k] - low)
    return BOILING_MC[len(BOILING_MC) - 1]


def load_defaults(settings):
    """Fill the settings array with every default."""
    for code in range(SETTINGS):
        settings[code] = DEFAULTS[code]


def broken_rule(settings):
    """The first rule that this set of settings breaks, RULE_OK if none.

    A set is accepted or refused as a whole.
    """
    for code in range(SETTINGS):
        if settings[code] < LOWEST[code] or settings[code] > HIGHEST[code]:
            return RULE_RANGE + code
    if settings[STOP_DIFFERENCE] > settings[START_DIFFERENCE] - 2000:
        return RULE_STOP_UNDER_START
    if settings[TANK_FULL_LOW] > settings[TANK_LIMIT]:
        return RULE_FULL_UNDER_LIMIT
    if settings[DUMP_COLLECTOR_STOP] > settings[DUMP_COLLECTOR_START] - 5000:
        return RULE_DUMP_STOP_UNDER_START
    if settings[DUMP_COLLECTOR_START] > settings[COLLECTOR_LIMIT] - 15000:
        return RULE_DUMP_UNDER_COLLECTOR_LIMIT
    if settings[COLLECTOR_RESET] > settings[COLLECTOR_LIMIT] - 5000:
        return RULE_RESET_UNDER_COLLECTOR_LIMIT
    if settings[COLLECTOR_LIMIT] > boiling_mc(settings) - 5000:
        return RULE_BOILING
    if settings[EXCHANGER_LAG] > settings[EXCHANGER_LEAD] - 1000:
        return RULE_LAG_UNDER_LEAD
    if settings[CHARGE_LIMIT] - settings[CHARGE_LIMIT_RESET] < settings[TANK_LIMIT] - settings[TANK_LIMIT_RESET]:
        return RULE_CHARGE_RESET_ABOVE_TANK
    if settings[DUMP_TOPOLOGY] != BYPASS and settings[OUTDOOR_FITTED] == 0:
        return RULE_OUTDOOR_NEEDED
    if settings[AWAY_LIMIT] > settings[TANK_LIMIT]:
        return RULE_AWAY_UNDER_LIMIT
    # A quarter of the loop stands for the way from the collector to the exchanger.
    if settings[TANK_PUMP_DELAY] < settings[LOOP_VOLUME] * 150 // settings[COLLECTOR_FLOW] * 100:
        return RULE_DELAY_COVERS_TRANSIT
    # The lowest figure that may have to clear a latch of the tank, with tank_high lost.
    least = min(tank_limit_mc(settings) - settings[TANK_LIMIT_RESET], tank_full_low_mc(settings) - settings[TANK_FULL_RESET])
    if least < settings[STRATIFICATION_MARGIN]:
        return RULE_TANK_ABOVE_FROST
    if settings[AIR_STOP_DIFFERENCE] > settings[AIR_START_DIFFERENCE] - 2000:
        return RULE_AIR_STOP_UNDER_START
    if settings[ROOM_MINIMUM] > settings[ROOM_MAXIMUM] - 2000:
        return RULE_ROOM_MINIMUM_UNDER_MAXIMUM
    return RULE_OK


def tank_limit_mc(settings):
    """What the hottest tank sensor reads when the water is at tank_limit."""
    return settings[TANK_LIMIT] - settings[TANK_MARGIN]


def near_limit_mc(settings):
    """From where on a collector nears its limit: half way from the dump threshold."""
    return (settings[DUMP_COLLECTOR_START] + settings[COLLECTOR_LIMIT]) // 2


def tank_full_low_mc(settings):
    """What tank_low reads when the water around it is at tank_full_low."""
    return settings[TANK_FULL_LOW] - settings[TANK_MARGIN]
