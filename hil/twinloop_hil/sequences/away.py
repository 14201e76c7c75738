"""An absence: where no radiator takes the heat, a cold night cools the tank."""

from .collector import TANK_FULL
from .common import BOTH_PUMPS, DARK, FLUSHED, LONG_CHARGING, MILD, OFF, idle, sequence

COOLING = {"duty": "night_cooling", "reason": "NIGHT_COOLING_AWAY"}
BOTH_COOL = {**COOLING, "collector_pump": 1, "tank_pump": 1, "wait": "WAIT_NOTHING"}
WAITING = {**COOLING, "collector_pump": 1, "tank_pump": 0, "wait": "WAIT_COLD_GLYCOL"}
# 62 C at the top of the tank, 56 C at its bottom, warmed by the sun before the night.
WARM = [
    ["ramp", "collector", 48000, 5000, {}],
    ["ramp", "tank_high", 61000, 1000, {}],
    ["ramp", "tank_low", 56000, 1000, {}],
    ["set", {"tank_high": 62000}],
]
# The collector boiled on the day before.
BOILED = [["ramp", "collector", 120000, 5000, {}], ["keep", 5000, {"duty": "stagnation_hold"}]]
FULL = [*FLUSHED, *BOILED, *WARM]
BYPASS = sequence(
    "night_cooling",
    [
        *FULL,
        ["set", {**DARK, "collector": 46001}],
        ["keep", 300000, {}],
        ["phase", "too warm a night, off"],
        ["keep", 120000, idle("NO_DIFFERENCE")],
        ["phase", "cold, on"],
        ["set", {"collector": 46000}],
        ["becomes", 5000, 5000, {**COOLING, "collector_pump": 0, "dump_valve_power": 1, "wait": "WAIT_VALVE"}],
        ["becomes", 115000, 125000, {**WAITING, "dump_valve_power": 1}],
        ["keep", 55000, WAITING],
        ["becomes", 5000, 5000, {**BOTH_COOL, "dump_valve_power": 1}],
        ["phase", "what arrives is not colder than all of the tank: the tank pump waits"],
        ["jump", {"loop_supply": 55001}],
        ["keep", 10000, BOTH_COOL],
        ["becomes", 5000, 5000, WAITING],
        ["keep", 60000, WAITING],
        ["set", {"loop_supply": 55000}],
        ["becomes", 5000, 5000, BOTH_COOL],
        ["phase", "between, stays on"],
        ["ramp", "collector", 53999, 1000, BOTH_COOL],
        ["keep", 120000, BOTH_COOL],
        ["phase", "too warm, off"],
        ["set", {"collector": 54000}],
        ["becomes", 5000, 5000, idle("NO_DIFFERENCE")],
        ["phase", "cold again, on; break one sensor of the tank: the other is the coldest"],
        ["set", {"collector": 40000, "loop_supply": 40000}],
        ["becomes", 5000, 300000, BOTH_COOL],
        ["break", "tank_low", "CAUSE_CRC"],
        ["keep", 120000, BOTH_COOL],
        ["set", {"loop_supply": 61001}],
        ["becomes", 5000, 15000, WAITING],
        ["set", {"loop_supply": 61000}],
        ["becomes", 5000, 5000, BOTH_COOL],
        ["phase", "break the other too: nobody knows what is colder"],
        ["break", "tank_high", "CAUSE_CRC"],
        ["keep", 60000, BOTH_COOL],
        ["becomes", 5000, 5000, idle("TANK_UNKNOWN")],
        ["phase", "restore"],
        ["restore", "tank_low"],
        ["restore", "tank_high"],
        ["jump", {"loop_supply": 40000}],
        ["becomes", 15000, 15000, COOLING],
        ["becomes", 5000, 300000, BOTH_COOL],
        ["keep", 90000, BOTH_COOL],
        ["phase", "still warm, on"],
        ["set", {"collector": 30000, "loop_supply": 30000}],
        ["ramp", "tank_low", 47001, 1000, {**COOLING, "collector_pump": 1}],
        ["keep", 30000, BOTH_COOL],
        ["phase", "cool enough, off"],
        ["set", {"tank_low": 47000}],
        ["becomes", 5000, 5000, idle("NO_DIFFERENCE")],
        ["phase", "a little warmer, stays off"],
        ["ramp", "tank_low", 54999, 1000, OFF],
        ["keep", 60000, OFF],
        ["phase", "warm again, on"],
        ["set", {"tank_low": 55000}],
        ["becomes", 5000, 5000, COOLING],
    ],
    away=1,
)

# A radiator that works is left to do its work.
WORKING = sequence(
    "no_night_cooling_beside_a_radiator_that_works",
    [
        *FLUSHED,
        *WARM,
        ["phase", "it has not failed, off"],
        ["set", {**DARK, "collector": 40000}],
        ["keep", 300000, OFF],
        ["phase", "the collector boiled, on"],
        ["ramp", "collector", 120000, 5000, {}],
        ["keep", 5000, {"duty": "stagnation_hold"}],
        ["ramp", "collector", 40000, 5000, {}],
        ["becomes", 0, 60000, COOLING],
        ["becomes", 5000, 300000, BOTH_COOL],
    ],
    away=1,
)

# The collector never boils here.
GIVEN_UP = sequence(
    "night_cooling_after_a_dump_without_effect",
    [
        *TANK_FULL,
        ["set", {"loop_supply": 90000, "loop_return": 89000}],
        ["ramp", "collector", 100000, 5000, {}],
        ["becomes", 175000, 200000, idle("RADIATOR_DEAD")],
        ["phase", "given up, on in the night"],
        ["set", {"loop_supply": 40000, "loop_return": 40000}],
        ["ramp", "collector", 40000, 5000, {}],
        ["becomes", 0, 120000, COOLING],
        ["phase", "still on when the dump may be tried again"],
        ["becomes", 5000, 300000, BOTH_COOL],
        ["keep", 1800000, BOTH_COOL],
        ["expect", {"DUMP_BARRED": 0}],
    ],
    away=1,
)

WITHOUT_RADIATOR = sequence(
    "night_cooling_without_a_radiator",
    [
        ["set", {**MILD, "collector": 25000, "outdoor": 25000}],
        ["keep", 180000, OFF],
        ["ramp", "tank_high", 61000, 1000, OFF],
        ["ramp", "tank_low", 54000, 1000, OFF],
        ["phase", "a cold night, on"],
        ["set", {"tank_low": 55000}],
        ["becomes", 5000, 5000, COOLING],
        ["becomes", 5000, 300000, {**BOTH_COOL, "dump_valve_power": 0}],
    ],
    away=1,
    dump_topology=2,
)

MINIMUM_RUN = sequence(
    "night_cooling_keeps_the_minimum_run",
    [
        *FULL,
        ["set", {**DARK, "collector": 40000}],
        ["becomes", 5000, 400000, {**COOLING, "collector_pump": 1}],
        ["phase", "warm at once again: stays on"],
        ["set", {"collector": 55001}],
        ["keep", 85000, {**COOLING, "collector_pump": 1, "tank_pump": 0}],
        ["phase", "run enough, off"],
        ["becomes", 5000, 5000, OFF],
    ],
    away=1,
)

FROST = sequence(
    "night_cooling_is_refused_in_frost",
    [
        *FULL,
        ["set", {**DARK, "collector": 15000}],
        ["becomes", 5000, 500000, BOTH_COOL],
        ["phase", "not frosty, on"],
        ["ramp", "collector", 4000, 1000, BOTH_COOL],
        ["keep", 60000, BOTH_COOL],
        ["phase", "frosty, off"],
        ["set", {"collector": 3999}],
        ["becomes", 5000, 5000, idle("COLD_SLUG_REFUSED")],
        ["phase", "warmer, still off: the loop has not gone round"],
        ["set", {"collector": 15000}],
        ["keep", 600000, idle("COLD_SLUG_REFUSED")],
    ],
    away=1,
)

LOST = sequence(
    "night_cooling_ends_with_a_lost_collector",
    [
        *FULL,
        ["set", {**DARK, "collector": 15000}],
        ["becomes", 5000, 500000, BOTH_COOL],
        ["phase", "break the collector"],
        ["break", "collector", "CAUSE_OPEN"],
        ["keep", 15000, BOTH_COOL],
        ["becomes", 5000, 5000, {**OFF, "duty": "fault_stop", "COOLING_WANTED": 0}],
    ],
    away=1,
)

# With swapped sensors of roof and tank, night cooling would pump all day.
OFF_SCALE = sequence(
    "night_cooling_ends_with_a_tank_sensor_off_its_scale",
    [
        *FULL,
        ["set", {**DARK, "collector": 15000}],
        ["becomes", 5000, 500000, BOTH_COOL],
        ["phase", "off its scale, off"],
        ["set", {"tank_low": 115001}],
        ["becomes", 5000, 100000, {"collector_pump": 0, "COOLING_WANTED": 0}],
        ["keep", 600000, {"collector_pump": 0}],
    ],
    away=1,
)

# tank_low on the sunny roof, the collector sensor in the tank: cooling would charge a full tank.
INVERTED = sequence(
    "night_cooling_ends_with_a_bottom_hotter_than_the_top",
    [
        *FULL,
        ["set", {**DARK, "collector": 15000}],
        ["becomes", 5000, 500000, BOTH_COOL],
        ["keep", 600000, BOTH_COOL],
        ["phase", "as two sensors of a mixed tank may differ: on"],
        ["ramp", "tank_low", 63499, 1000, BOTH_COOL],
        ["keep", 60000, BOTH_COOL],
        ["phase", "by a kelvin and a half: off"],
        ["set", {"tank_low": 63500}],
        ["becomes", 5000, 5000, {**OFF, "COOLING_WANTED": 0}],
        ["phase", "still hotter by more than half a kelvin: stays off"],
        ["set", {"tank_low": 62501}],
        ["keep", 600000, {"duty": "idle", "collector_pump": 0, "COOLING_WANTED": 0}],
        ["phase", "by half a kelvin: on again"],
        ["set", {"tank_low": 62500}],
        ["becomes", 5000, 5000, COOLING],
        ["becomes", 5000, 300000, BOTH_COOL],
        ["phase", "upside down at once again: the water stands, the glycol goes round for its minimum run"],
        ["set", {"tank_low": 63500}],
        ["becomes", 5000, 5000, {**COOLING, "collector_pump": 1, "tank_pump": 0}],
        ["becomes", 5000, 600000, {**OFF, "COOLING_WANTED": 0}],
        ["phase", "the top lost: nobody can tell, off"],
        ["set", {"tank_low": 56000}],
        ["becomes", 5000, 400000, BOTH_COOL],
        ["break", "tank_high", "CAUSE_CRC"],
        ["keep", 60000, BOTH_COOL],
        ["becomes", 5000, 5000, {**OFF, "COOLING_WANTED": 0}],
    ],
    away=1,
    minimum_run=600000,
)

BLIND = sequence(
    "night_cooling_without_loop_supply",
    [
        *FULL,
        ["keep", 300000, {}],
        ["set", {**DARK, "collector": 46000}],
        ["becomes", 5000, 400000, {**COOLING, "collector_pump": 1}],
        ["phase", "its time, and then the collector tells"],
        ["keep", 55000, WAITING],
        ["becomes", 5000, 5000, BOTH_COOL],
        ["set", {"collector": 53999}],
        ["keep", 60000, BOTH_COOL],
    ],
    away=1,
    loop_supply_fitted=0,
)

# In series the radiator's cooling reaches the tank as well, so the valve stays without power.
SERIES = sequence(
    "night_cooling_in_series",
    [
        ["set", {**MILD, "collector": 25000, "outdoor": 25000}],
        ["keep", 180000, OFF],
        ["ramp", "collector", 120000, 5000, {}],
        ["keep", 5000, {"duty": "stagnation_hold"}],
        ["ramp", "collector", 25000, 5000, {}],
        ["keep", 180000, {}],
        ["ramp", "tank_high", 61000, 1000, {}],
        ["ramp", "tank_low", 54000, 1000, {}],
        ["phase", "cold, on, through the radiator"],
        ["set", {"tank_low": 56500}],
        ["becomes", 0, 300000, {**BOTH_COOL, "dump_valve_power": 0}],
        ["keep", 240000, {**BOTH_COOL, "dump_valve_power": 0}],
        ["ramp", "loop_return", 3500, 1000, {**BOTH_COOL, "dump_valve_power": 0}],
        ["keep", 60000, {**BOTH_COOL, "dump_valve_power": 0, "alarm": 0}],
        ["ramp", "loop_return", 12000, 1000, {**BOTH_COOL, "dump_valve_power": 0}],
        ["phase", "frost outdoors: the radiator may hold it, off"],
        # The sensor may show the air 5 K too warm.
        ["ramp", "outdoor", 9000, 1000, {**BOTH_COOL, "dump_valve_power": 0}],
        ["keep", 60000, BOTH_COOL],
        ["set", {"outdoor": 8500}],
        ["becomes", 5000, 5000, idle("COLD_SLUG_SERIES")],
        ["phase", "break the sensor of the air: still off, and off when it is unknown"],
        ["break", "outdoor", "CAUSE_CRC"],
        ["keep", 60000, idle("COLD_SLUG_SERIES")],
        ["keep", 60000, {**OFF, "duty": "idle", "OUTDOOR_STATUS": "LOST"}],
    ],
    dump_topology=1,
    away=1,
)

AT_HOME = sequence(
    "no_night_cooling_at_home",
    [
        *FLUSHED,
        *BOILED,
        ["ramp", "collector", 15000, 5000, {}],
        ["ramp", "tank_high", 75000, 1000, {}],
        ["ramp", "tank_low", 70500, 1000, {}],
        ["keep", 60000, {}],
        ["phase", "a full tank and a cold night, off"],
        ["keep", 600000, idle("COLLECTOR_COOL", TANK_FULL=1)],
    ],
)

STRONG = [
    ["set", {"collector": 70000, "loop_supply": 55000}],
    ["keep", 10000, BOTH_PUMPS],
    ["set", {"loop_supply": 69000, "loop_return": 50000}],
]
LIMITS = sequence(
    "an_absence_leaves_the_tank_limits",
    [
        *LONG_CHARGING,
        *STRONG,
        ["phase", "above away_limit, still on"],
        ["ramp", "tank_high", 69000, 1000, BOTH_PUMPS],
        ["ramp", "tank_low", 50000, 1000, BOTH_PUMPS],
        ["keep", 60000, BOTH_PUMPS],
    ],
    away=1,
)
