"""Tank limits: tank_limit on the hottest sensor, tank_full_low, and limits with lost sensors."""

from .common import BOTH_PUMPS, FLUSHED, LONG_CHARGING, OFF, TO_RADIATOR, idle, sequence

FULL = idle("TANK_FULL_REFUSED")
# The tank pump runs on, so only the collector pump shows the first step of a refusal.
STOPPED = {"duty": "idle", "reason": "TANK_FULL_REFUSED", "collector_pump": 0, "dump_valve_power": 0}
NO_TANK = {**OFF, "duty": "idle", "reason": "TANK_UNKNOWN", "TANK_LOW_STATUS": "LOST", "TANK_HIGH_STATUS": "LOST"}
# The sun is hotter than the tank in all these sequences, and below the charge limit.
STRONG = [["set", {"collector": 80000, "loop_supply": 55000}], ["keep", 10000, BOTH_PUMPS], ["set", {"loop_supply": 79000}]]
BREAK_LOW = [["break", "tank_low", "CAUSE_CRC"], ["keep", 60000, {"TANK_LOW_STATUS": "HELD"}]]
BREAK_HIGH = [["break", "tank_high", "CAUSE_CRC"], ["keep", 60000, {"TANK_HIGH_STATUS": "HELD"}]]

LIMIT = sequence(
    "tank_limit",
    [
        *LONG_CHARGING,
        *STRONG,
        ["ramp", "tank_low", 40000, 1000, BOTH_PUMPS],
        ["phase", "cool, on"],
        ["ramp", "tank_high", 69999, 1000, BOTH_PUMPS],
        ["phase", "between, still on"],
        ["ramp", "tank_high", 74499, 1000, BOTH_PUMPS],
        ["keep", 60000, BOTH_PUMPS],
        ["phase", "hot, off"],
        ["set", {"tank_high": 74500}],
        ["becomes", 5000, 5000, STOPPED],
        ["becomes", 5000, 185000, FULL],
        ["phase", "between, stays off"],
        ["ramp", "tank_high", 70000, 1000, STOPPED],
        ["keep", 180000, FULL],
        ["phase", "cool, on again"],
        ["set", {"tank_high": 69999}],
        ["becomes", 5000, 5000, {"duty": "charging"}],
        ["becomes", 5000, 130000, BOTH_PUMPS],
        # Without tank_high: tank_low less the margin, so 47 C plus 20 K is tank_full_low.
        ["phase", "break the sensor"],
        ["ramp", "tank_low", 46999, 1000, BOTH_PUMPS],
        *BREAK_HIGH,
        ["keep", 60000, {**BOTH_PUMPS, "TANK_HIGH_STATUS": "LOST"}],
        ["set", {"tank_low": 47000}],
        ["becomes", 5000, 5000, STOPPED],
        ["phase", "restore"],
        ["restore", "tank_high"],
        ["keep", 10000, STOPPED],
        ["becomes", 5000, 5000, {"duty": "charging", "TANK_HIGH_STATUS": "GOOD"}],
    ],
)

# Strapped to the shell, both sensors read 64 C when the water is at 75 C.
STRAPPED = sequence(
    "tank_limit_with_sensors_strapped_on",
    [
        *LONG_CHARGING,
        *STRONG,
        ["ramp", "tank_high", 40000, 1000, BOTH_PUMPS],
        ["ramp", "tank_low", 40000, 1000, BOTH_PUMPS],
        ["phase", "below what they read at the limit, on"],
        ["ramp", "tank_high", 63499, 1000, BOTH_PUMPS],
        ["keep", 60000, BOTH_PUMPS],
        ["phase", "at it, off"],
        ["set", {"tank_high": 63500}],
        ["becomes", 5000, 5000, STOPPED],
        ["phase", "cooler, on again"],
        ["ramp", "tank_high", 58999, 1000, {}],
        ["becomes", 0, 200000, BOTH_PUMPS],
        ["phase", "the bottom as well"],
        ["ramp", "tank_low", 55999, 1000, BOTH_PUMPS],
        ["keep", 60000, BOTH_PUMPS],
        ["set", {"tank_low": 56000}],
        ["becomes", 5000, 5000, STOPPED],
    ],
    tank_margin=11000,
)

# tank_full_low is above it and resets early: from 70 to 73 C only the tank_limit latch holds.
LIMIT_LOW = sequence(
    "tank_limit_on_the_low_sensor",
    [
        *LONG_CHARGING,
        *STRONG,
        # The top is never so much colder that the sensors look crossed.
        ["ramp", "tank_high", 69999, 1000, BOTH_PUMPS],
        ["phase", "between, still on"],
        ["ramp", "tank_low", 74498, 1000, {"collector_pump": 1}],
        ["set", {"tank_low": 74499, "tank_high": 70001}],
        ["keep", 60000, {"collector_pump": 1}],
        ["phase", "hot, off"],
        ["set", {"tank_low": 74500}],
        ["becomes", 5000, 5000, STOPPED],
        ["phase", "between, stays off"],
        ["set", {"tank_high": 69999}],
        ["ramp", "tank_low", 70000, 1000, STOPPED],
        ["keep", 180000, STOPPED],
        ["keep", 60000, FULL],
        ["phase", "cool, on again"],
        ["set", {"tank_low": 69999}],
        ["becomes", 5000, 5000, {"duty": "charging"}],
    ],
    tank_full_low=75000,
    tank_full_reset=2000,
)

FULL_LOW = sequence(
    "tank_full_low",
    [
        *LONG_CHARGING,
        *STRONG,
        ["ramp", "tank_high", 65000, 1000, BOTH_PUMPS],
        ["phase", "cool, on"],
        ["ramp", "tank_low", 60000, 1000, BOTH_PUMPS],
        ["phase", "between, still on"],
        ["ramp", "tank_low", 66999, 1000, BOTH_PUMPS],
        ["keep", 60000, BOTH_PUMPS],
        ["phase", "hot, off"],
        ["set", {"tank_low": 67000}],
        ["becomes", 5000, 5000, STOPPED],
        ["becomes", 5000, 185000, FULL],
        ["phase", "between, stays off"],
        ["ramp", "tank_low", 60000, 1000, STOPPED],
        ["keep", 180000, FULL],
        ["phase", "cool, on again"],
        ["set", {"tank_low": 59999}],
        ["becomes", 5000, 5000, {"duty": "charging"}],
        ["becomes", 5000, 130000, BOTH_PUMPS],
        # Without tank_low the reference is tank_high: the tank is full at tank_full_low.
        ["phase", "break the sensor"],
        ["ramp", "tank_high", 66999, 1000, BOTH_PUMPS],
        *BREAK_LOW,
        ["keep", 60000, {"duty": "charging", "TANK_LOW_STATUS": "LOST"}],
        ["set", {"tank_high": 67000}],
        ["becomes", 5000, 5000, STOPPED],
        ["phase", "restore"],
        ["restore", "tank_low"],
        ["keep", 10000, STOPPED],
        ["becomes", 5000, 5000, {"duty": "charging", "TANK_LOW_STATUS": "GOOD"}],
    ],
)

# Either end keeps the tank full: it takes heat again only below both resets.
FULL_BOTH = sequence(
    "tank_full_until_both_ends_are_cool",
    [
        *LONG_CHARGING,
        *STRONG,
        ["ramp", "tank_high", 75000, 1000, {}],
        ["phase", "top over the limit, bottom in its band"],
        ["ramp", "tank_low", 63000, 1000, STOPPED],
        ["keep", 180000, STOPPED],
        ["keep", 60000, FULL],
        ["phase", "top below its reset, bottom still in its band"],
        ["ramp", "tank_high", 65000, 1000, FULL],
        ["keep", 60000, FULL],
        ["phase", "both below"],
        ["set", {"tank_low": 59000}],
        ["becomes", 5000, 5000, {"duty": "charging"}],
    ],
)

# Without tank_high the margin of 20 K applies to tank_limit as well: 40 C, less its reset of 5 K.
MARGIN = sequence(
    "stratification_margin_on_tank_limit",
    [
        *LONG_CHARGING,
        *STRONG,
        *BREAK_HIGH,
        ["keep", 5000, {**BOTH_PUMPS, "TANK_HIGH_STATUS": "LOST"}],
        ["phase", "between, still on"],
        ["ramp", "tank_low", 39499, 1000, BOTH_PUMPS],
        ["keep", 60000, BOTH_PUMPS],
        ["phase", "hot, off"],
        ["set", {"tank_low": 39500}],
        ["becomes", 5000, 5000, STOPPED],
        ["phase", "between, stays off"],
        ["ramp", "tank_low", 35000, 1000, STOPPED],
        ["keep", 180000, STOPPED],
        ["keep", 60000, FULL],
        ["phase", "cool, on again"],
        ["set", {"tank_low": 34999}],
        ["becomes", 5000, 5000, {"duty": "charging"}],
    ],
    tank_limit=60000,
    tank_full_low=60000,
    tank_full_reset=2000,
)

REFERENCE = sequence(
    "tank_low_lost_tank_high_is_the_reference",
    [
        *FLUSHED,
        ["set", {"collector": 48000, "loop_supply": 40001}],
        ["ramp", "tank_high", 40000, 1000, {}],
        ["phase", "hot by tank_low, on"],
        ["becomes", 5000, 130000, BOTH_PUMPS],
        ["keep", 90000, BOTH_PUMPS],
        ["phase", "between by tank_high, stays on"],
        *BREAK_LOW,
        ["expect", {**BOTH_PUMPS, "TANK_REFERENCE_MC": 20000}],
        ["keep", 60000, {"collector_pump": 1, "tank_pump": 0, "TANK_LOW_STATUS": "LOST", "TANK_REFERENCE_MC": 40000}],
        ["ramp", "collector", 43001, 1000, {"collector_pump": 1}],
        ["phase", "cold by tank_high, off"],
        ["set", {"collector": 43000}],
        ["becomes", 5000, 5000, idle("NO_DIFFERENCE")],
        ["phase", "between by tank_high, still off"],
        ["ramp", "collector", 47999, 1000, OFF],
        ["keep", 180000, idle("NO_DIFFERENCE")],
        ["phase", "hot by tank_high, on"],
        ["set", {"collector": 48000, "loop_supply": 43000}],
        ["becomes", 5000, 130000, BOTH_PUMPS],
        ["phase", "restore"],
        ["ramp", "collector", 44000, 1000, {"collector_pump": 1}],
        ["keep", 90000, {"collector_pump": 1}],
        ["set", {"tank_low": 20000}],
        ["becomes", 15000, 15000, {**BOTH_PUMPS, "TANK_LOW_STATUS": "GOOD", "TANK_REFERENCE_MC": 20000}],
    ],
)

BOTH_LOST = sequence(
    "both_tank_sensors_lost",
    [
        *LONG_CHARGING,
        ["phase", "break the sensors"],
        ["break", "tank_low", "CAUSE_SILENT"],
        ["break", "tank_high", "CAUSE_SILENT"],
        ["keep", 60000, BOTH_PUMPS],
        # No run-on: the water may be hotter than the glycol.
        ["becomes", 5000, 5000, NO_TANK],
        ["keep", 180000, NO_TANK],
        ["phase", "hot, to the radiator"],
        ["ramp", "collector", 94999, 1000, NO_TANK],
        ["keep", 60000, NO_TANK],
        ["set", {"collector": 95000}],
        ["becomes", 5000, 5000, {**TO_RADIATOR, "reason": "TANK_UNKNOWN_DUMP"}],
        ["keep", 90000, {**TO_RADIATOR, "reason": "TANK_UNKNOWN_DUMP"}],
        ["phase", "between, still to the radiator"],
        ["ramp", "collector", 80001, 1000, {**TO_RADIATOR, "reason": "TANK_UNKNOWN_DUMP"}],
        ["phase", "cooler, off"],
        ["set", {"collector": 80000}],
        ["becomes", 5000, 5000, NO_TANK],
        ["ramp", "collector", 30000, 1000, NO_TANK],
        ["phase", "restore in the band, off"],
        ["restore", "tank_high"],
        ["keep", 10000, NO_TANK],
        ["becomes", 5000, 5000, idle("NO_DIFFERENCE", TANK_REFERENCE_MC=25000)],
        ["keep", 60000, idle("NO_DIFFERENCE")],
        ["phase", "hot, on"],
        ["set", {"collector": 33000}],
        ["becomes", 5000, 5000, {"duty": "charging"}],
    ],
)

LOST_AND_RESTORED = [
    ["phase", "break the sensors"],
    ["break", "tank_low", "CAUSE_SILENT"],
    ["break", "tank_high", "CAUSE_SILENT"],
    ["becomes", 65000, 65000, NO_TANK],
    ["phase", "restore in the band"],
    ["restore", "tank_low"],
    ["restore", "tank_high"],
]

# A tank that was full is still full when its sensors recover within the hysteresis band.
MEMORY = sequence(
    "a_full_tank_stays_full_while_nobody_sees_it",
    [
        *LONG_CHARGING,
        *STRONG,
        ["ramp", "tank_high", 75000, 1000, {}],
        ["ramp", "tank_high", 72000, 1000, STOPPED],
        *LOST_AND_RESTORED,
        ["keep", 10000, NO_TANK],
        ["becomes", 5000, 5000, FULL],
        ["keep", 60000, FULL],
        ["set", {"tank_high": 69999}],
        ["becomes", 5000, 5000, {"duty": "charging"}],
    ],
)

MEMORY_LOW = sequence(
    "a_tank_that_is_full_below_stays_full_while_nobody_sees_it",
    [
        *LONG_CHARGING,
        *STRONG,
        ["ramp", "tank_high", 65000, 1000, {}],
        ["ramp", "tank_low", 67000, 1000, {}],
        ["ramp", "tank_low", 63000, 1000, STOPPED],
        *LOST_AND_RESTORED,
        ["becomes", 15000, 15000, FULL],
        ["keep", 60000, {**FULL, "TANK_OVER": 0}],
        ["set", {"tank_low": 59999}],
        ["becomes", 5000, 5000, {"duty": "charging"}],
    ],
)


# Hotter than water in a tank can be: the reading has no value, yet it forbids charging.
def off_scale(sensor):
    """A sequence in which one tank sensor reads off its scale while the other is cool."""
    refused = {"collector_pump": 0}
    return sequence(
        f"{sensor}_off_its_scale",
        [
            *LONG_CHARGING,
            ["phase", "at the end of its scale: too hot like any reading over the limit"],
            ["ramp", sensor, 115000, 1000, {}],
            ["keep", 5000, refused],
            ["phase", "off its scale, off"],
            ["set", {sensor: 115001}],
            ["keep", 600000, {**refused, "duty": "idle"}],
            ["phase", "silent: the other one speaks for the tank"],
            ["break", sensor, "CAUSE_SILENT"],
            ["becomes", 5000, 600000, {"duty": "charging"}],
            ["phase", "colder than its scale: no reason to stop"],
            ["set", {sensor: -6000}],
            ["keep", 300000, {"duty": "charging"}],
        ],
    )


OFF_SCALE = [off_scale("tank_low"), off_scale("tank_high")]
