"""Restarts in every hysteresis band: protective latches stay set until a reading clears them.

Repeated resets stop everything.
"""

from .common import BOTH_PUMPS, LONG_CHARGING, MILD, OFF, START, TO_RADIATOR, idle, sequence

HOLD = {**OFF, "duty": "stagnation_hold", "reason": "STEAM"}
FULL = idle("TANK_FULL_REFUSED")
STORM = {**OFF, "duty": "fault_stop", "reason": "RESET_STORM"}
# The valve comes home and the readings become trusted; nothing else is decided yet.
HOME = [["keep", 115000, OFF]]

STEAM = sequence(
    "restart_in_the_band_of_collector_limit",
    [
        ["set", {**MILD, "collector": 105001}],
        ["reset"],
        ["phase", "set by the reset itself"],
        ["expect", {**OFF, "STAGNATION": 1, "TANK_OVER": 1, "TANK_FULL": 1, "CHARGE_HOT": 1}],
        *HOME,
        ["phase", "in the band: steam is assumed"],
        ["becomes", 5000, 5000, HOLD],
        ["keep", 600000, HOLD],
        ["phase", "cleared by a reading"],
        ["set", {"collector": 105000}],
        ["becomes", 5000, 5000, TO_RADIATOR],
    ],
)

OVER = sequence(
    "restart_in_the_band_of_tank_limit",
    [
        ["set", {**MILD, "collector": 74000, "tank_low": 50000, "tank_high": 70000}],
        *HOME,
        ["phase", "in the band: over the limit is assumed"],
        ["becomes", 5000, 5000, FULL],
        ["keep", 600000, {**FULL, "TANK_OVER": 1}],
        ["phase", "cleared by a reading"],
        ["set", {"tank_high": 69999}],
        ["becomes", 5000, 5000, {"duty": "dumping", "reason": "COLD_SLUG_ROUND", "TANK_OVER": 0, "TANK_FULL": 0}],
    ],
)

FULL_LOW = sequence(
    "restart_in_the_band_of_tank_full_low",
    [
        ["set", {**MILD, "collector": 74000, "tank_low": 60000, "tank_high": 65000}],
        *HOME,
        ["phase", "in the band: a full tank is assumed"],
        ["becomes", 5000, 5000, FULL],
        ["keep", 600000, {**FULL, "TANK_OVER": 0, "TANK_FULL": 1}],
        ["phase", "cleared by a reading"],
        ["set", {"tank_low": 59999}],
        ["becomes", 5000, 5000, {"duty": "dumping", "reason": "COLD_SLUG_ROUND", "TANK_FULL": 0}],
    ],
)

CHARGE_HOT = sequence(
    "restart_in_the_band_of_charge_limit",
    [
        ["set", {**MILD, "collector": 75000}],
        *HOME,
        ["phase", "in the band: too hot is assumed"],
        ["becomes", 5000, 5000, {**TO_RADIATOR, "reason": "CHARGE_LIMIT_DUMP"}],
        ["keep", 600000, {**TO_RADIATOR, "reason": "CHARGE_LIMIT_DUMP"}],
        ["phase", "cleared by a reading"],
        ["set", {"collector": 74999}],
        ["becomes", 5000, 5000, {"duty": "charging"}],
    ],
)

# These two do not protect: after a reset they have to be reached again.
DIFFERENCE = sequence(
    "restart_in_the_band_of_start_difference",
    [
        ["set", {**MILD, "collector": 27999}],
        *HOME,
        ["phase", "in the band: off"],
        ["becomes", 5000, 5000, idle("NO_DIFFERENCE")],
        ["keep", 600000, idle("NO_DIFFERENCE")],
        ["phase", "hot, on"],
        ["set", {"collector": 28000}],
        ["becomes", 5000, 5000, {"duty": "dumping", "reason": "COLD_SLUG_ROUND"}],
    ],
)

DUMP = sequence(
    "restart_in_the_band_of_the_dump",
    [
        ["set", {**MILD, "collector": 94999, "tank_low": 70000, "tank_high": 70000}],
        *HOME,
        ["phase", "in the band: off"],
        ["becomes", 5000, 5000, FULL],
        ["keep", 600000, FULL],
        ["phase", "hot, on"],
        ["set", {"collector": 95000}],
        ["becomes", 5000, 5000, {**TO_RADIATOR, "reason": "TANK_FULL_DUMP"}],
    ],
)

RESETS = sequence(
    "reset_storm",
    [
        *LONG_CHARGING,
        ["phase", "two resets: goes on"],
        ["resets", 2],
        ["keep", 60000, BOTH_PUMPS],
        ["phase", "three: all off"],
        ["resets", 3],
        ["becomes", 5000, 5000, STORM],
        ["keep", 600000, STORM],
        ["phase", "off however hot it is"],
        ["ramp", "collector", 119000, 5000, STORM],
        ["keep", 60000, STORM],
        ["phase", "more than three"],
        ["resets", 7],
        ["keep", 60000, STORM],
        ["phase", "an hour without one: on again"],
        ["resets", 0],
        ["becomes", 5000, 5000, {**TO_RADIATOR, "reason": "CHARGE_LIMIT_DUMP"}],
        ["ramp", "collector", 40000, 5000, {}],
        *START,
    ],
)
