"""A hot collector: steam, the radiator, the charge limit."""

from .common import BOTH_PUMPS, COLLECTOR_GONE, FLUSHED, LONG_CHARGING, OFF, TO_RADIATOR, idle, sequence

FULL_DUMP = {**TO_RADIATOR, "reason": "TANK_FULL_DUMP"}
HOLD = {**OFF, "duty": "stagnation_hold", "reason": "STEAM"}
CHARGE_DUMP = {"duty": "dumping", "reason": "CHARGE_LIMIT_DUMP"}
# A full tank, before the collector gets hot.
TANK_FULL = [
    *FLUSHED,
    ["ramp", "tank_low", 70000, 1000, OFF],
    ["set", {"tank_high": 70000}],
    ["keep", 15000, OFF],
]

STEAM = sequence(
    "collector_limit",
    [
        *TANK_FULL,
        ["set", {"loop_supply": 60000}],
        ["ramp", "collector", 95000, 5000, {"tank_pump": 0}],
        ["phase", "hot, pumping through the radiator"],
        ["keep", 5000, FULL_DUMP],
        ["phase", "between, still pumping"],
        ["ramp", "collector", 119999, 5000, FULL_DUMP],
        ["keep", 30000, FULL_DUMP],
        ["phase", "steam, off"],
        ["set", {"collector": 120000}],
        ["becomes", 5000, 5000, HOLD],
        ["phase", "between, stays off"],
        ["ramp", "collector", 105001, 5000, HOLD],
        ["keep", 120000, HOLD],
        ["phase", "cooler, on again"],
        ["set", {"collector": 105000}],
        ["becomes", 5000, 5000, FULL_DUMP],
        ["keep", 30000, FULL_DUMP],
        ["phase", "break the sensor"],
        ["break", "collector", "CAUSE_OPEN"],
        ["keep", 15000, FULL_DUMP],
        ["becomes", 5000, 5000, COLLECTOR_GONE],
        ["phase", "restore"],
        ["restore", "collector"],
        ["keep", 10000, COLLECTOR_GONE],
        ["becomes", 5000, 60000, FULL_DUMP],
        ["phase", "steam, lost, back in the band: stays off"],
        ["set", {"collector": 125000}],
        ["becomes", 5000, 5000, HOLD],
        ["break", "collector", "CAUSE_OPEN"],
        ["becomes", 20000, 20000, COLLECTOR_GONE],
        ["set", {"collector": 110000}],
        ["becomes", 15000, 15000, HOLD],
        ["keep", 120000, HOLD],
    ],
)

STEAM_CHARGING = sequence(
    "collector_limit_in_the_middle_of_charging",
    [
        *LONG_CHARGING,
        ["phase", "steam, off, the tank pump empties the exchanger"],
        ["ramp", "collector", 119999, 10000, {}],
        ["set", {"collector": 130000}],
        ["becomes", 5000, 5000, {"duty": "stagnation_hold", "collector_pump": 0, "dump_valve_power": 0}],
        ["keep", 300000, {"collector_pump": 0}],
        ["expect", HOLD],
    ],
)

DUMP = sequence(
    "dump_with_a_full_tank",
    [
        *TANK_FULL,
        ["phase", "cold, off"],
        ["keep", 30000, OFF],
        ["phase", "between, still off"],
        ["ramp", "collector", 94999, 5000, OFF],
        ["keep", 60000, idle("TANK_FULL_REFUSED")],
        ["phase", "hot, on"],
        ["set", {"collector": 95000}],
        ["becomes", 5000, 5000, FULL_DUMP],
        ["phase", "between, stays on"],
        ["ramp", "collector", 80001, 5000, FULL_DUMP],
        ["keep", 120000, FULL_DUMP],
        ["phase", "cold, off"],
        ["set", {"collector": 80000}],
        ["becomes", 5000, 5000, idle("TANK_FULL_REFUSED")],
        ["keep", 60000, OFF],
        ["phase", "hot and at once cold again: the minimum run is kept"],
        ["set", {"collector": 95000}],
        ["becomes", 5000, 5000, FULL_DUMP],
        ["set", {"collector": 75000}],
        ["keep", 75000, FULL_DUMP],
        ["break", "collector", "CAUSE_CRC"],
        ["keep", 10000, FULL_DUMP],
        ["becomes", 5000, 5000, idle("TANK_FULL_REFUSED", COLLECTOR_STATUS="HELD")],
    ],
)

NO_RADIATOR = sequence(
    "a_full_tank_without_a_radiator",
    [
        [
            "set",
            {
                "collector": 30000,
                "tank_low": 70000,
                "tank_high": 70000,
                "loop_supply": 30000,
                "loop_return": 30000,
                "outdoor": 30000,
            },
        ],
        ["keep", 60000, OFF],
        ["phase", "hot, off: the collector may stagnate"],
        ["ramp", "collector", 119000, 5000, OFF],
        ["keep", 60000, idle("TANK_FULL_REFUSED")],
        ["phase", "steam"],
        ["set", {"collector": 120000}],
        ["becomes", 5000, 5000, HOLD],
        ["phase", "both tank sensors lost, hot: off"],
        ["set", {"collector": 100000}],
        ["break", "tank_low", "CAUSE_OPEN"],
        ["break", "tank_high", "CAUSE_OPEN"],
        ["becomes", 65000, 65000, idle("TANK_UNKNOWN")],
    ],
    dump_topology=2,
)

# The tank is not full, but too warm for start_difference, and the collector reaches its dump
# threshold.
NEEDLESS = sequence(
    "hot_collector_and_nothing_wanted",
    [
        *FLUSHED,
        ["ramp", "tank_low", 45000, 1000, OFF],
        ["set", {"tank_high": 45000}],
        ["keep", 15000, OFF],
        ["phase", "between, still off"],
        ["ramp", "collector", 59999, 5000, OFF],
        ["keep", 30000, idle("NO_DIFFERENCE")],
        ["phase", "hot, on"],
        ["set", {"collector": 60000}],
        ["becomes", 5000, 5000, {**TO_RADIATOR, "reason": "COLLECTOR_HOT_DUMP"}],
        ["keep", 90000, TO_RADIATOR],
        ["phase", "between, stays on"],
        ["ramp", "collector", 40001, 5000, TO_RADIATOR],
        ["phase", "cold, off"],
        ["set", {"collector": 40000}],
        ["becomes", 5000, 5000, idle("NO_DIFFERENCE")],
    ],
    start_difference=17000,
    dump_collector_start=60000,
    dump_collector_stop=40000,
)

CHARGE_LIMIT = sequence(
    "charge_limit",
    [
        *LONG_CHARGING,
        ["phase", "hot, charging"],
        ["ramp", "collector", 89999, 5000, BOTH_PUMPS],
        ["keep", 30000, BOTH_PUMPS],
        ["phase", "too hot, to the radiator once the valve is there"],
        ["set", {"collector": 90000}],
        ["becomes", 5000, 5000, {**CHARGE_DUMP, "collector_pump": 0, "dump_valve_power": 0}],
        ["becomes", 185000, 185000, {**CHARGE_DUMP, **TO_RADIATOR}],
        ["phase", "between, still to the radiator"],
        ["ramp", "collector", 75000, 5000, CHARGE_DUMP],
        ["keep", 60000, {**CHARGE_DUMP, **TO_RADIATOR}],
        ["phase", "cooler, charging again"],
        ["set", {"collector": 74999}],
        ["becomes", 5000, 5000, {"duty": "charging", "reason": "DIFFERENCE"}],
        ["becomes", 100000, 130000, BOTH_PUMPS],
        ["phase", "glycol that arrives counts as well"],
        ["set", {"loop_supply": 89999, "collector": 80000}],
        ["keep", 60000, BOTH_PUMPS],
        ["break", "collector", "CAUSE_CRC"],
        ["set", {"loop_supply": 90000}],
        ["becomes", 5000, 5000, {**CHARGE_DUMP, "COLLECTOR_STATUS": "HELD"}],
        ["set", {"loop_supply": 75000, "collector": 74999}],
        ["keep", 60000, CHARGE_DUMP],
        ["phase", "break the sensor at the station: its held value, then the collector alone"],
        ["break", "loop_supply", "CAUSE_CRC"],
        ["keep", 60000, {**CHARGE_DUMP, "LOOP_SUPPLY_STATUS": "HELD"}],
        ["becomes", 5000, 5000, {"duty": "charging", "LOOP_SUPPLY_STATUS": "LOST"}],
        ["ramp", "collector", 89999, 5000, {"duty": "charging"}],
        ["set", {"collector": 90000}],
        ["becomes", 5000, 5000, CHARGE_DUMP],
        ["phase", "restore"],
        ["set", {"loop_supply": 80000, "collector": 74999}],
        ["becomes", 5000, 5000, {"duty": "charging"}],
        ["keep", 60000, {"duty": "charging"}],
        ["set", {"loop_supply": 90000}],
        ["becomes", 5000, 5000, CHARGE_DUMP],
        ["phase", "too hot and the collector lost: no pump; restored in the band: still too hot"],
        ["break", "collector", "CAUSE_OPEN"],
        ["becomes", 20000, 20000, COLLECTOR_GONE],
        ["set", {"collector": 80000, "loop_supply": 70000}],
        ["becomes", 15000, 15000, CHARGE_DUMP],
    ],
)

CHARGE_LIMIT_BARE = sequence(
    "charge_limit_without_a_radiator",
    [
        [
            "set",
            {
                "collector": 60000,
                "tank_low": 20000,
                "tank_high": 25000,
                "loop_supply": 55000,
                "loop_return": 40000,
                "outdoor": 25000,
            },
        ],
        ["becomes", 5000, 70000, {"duty": "charging", "collector_pump": 1, "tank_pump": 1}],
        ["keep", 90000, {"collector_pump": 1}],
        ["phase", "hot, charging"],
        ["ramp", "collector", 89999, 5000, {"collector_pump": 1}],
        ["phase", "too hot, off"],
        ["set", {"collector": 90000}],
        ["becomes", 5000, 5000, {"duty": "idle", "reason": "CHARGE_LIMIT_REFUSED", "collector_pump": 0}],
        ["keep", 180000, {"collector_pump": 0}],
        ["expect", idle("CHARGE_LIMIT_REFUSED")],
        ["phase", "between, stays off"],
        ["ramp", "collector", 75000, 5000, idle("CHARGE_LIMIT_REFUSED")],
        ["keep", 60000, idle("CHARGE_LIMIT_REFUSED")],
        ["phase", "cooler, on again"],
        ["set", {"collector": 74999}],
        ["becomes", 5000, 5000, {"duty": "charging"}],
    ],
    dump_topology=2,
)

# A dump that was under way resumes when the sensor recovers within the hysteresis band.
DUMP_LOST = sequence(
    "a_dump_goes_on_after_a_lost_collector",
    [
        *TANK_FULL,
        ["ramp", "collector", 95000, 5000, {}],
        ["becomes", 5000, 90000, FULL_DUMP],
        ["ramp", "collector", 85000, 5000, FULL_DUMP],
        ["phase", "break the sensor"],
        ["break", "collector", "CAUSE_OPEN"],
        ["becomes", 20000, 20000, COLLECTOR_GONE],
        ["keep", 120000, COLLECTOR_GONE],
        ["phase", "restore in the band"],
        ["restore", "collector"],
        ["becomes", 15000, 15000, FULL_DUMP],
    ],
)

SEQUENCES = [STEAM, STEAM_CHARGING, DUMP, DUMP_LOST, NO_RADIATOR, NEEDLESS, CHARGE_LIMIT, CHARGE_LIMIT_BARE]
