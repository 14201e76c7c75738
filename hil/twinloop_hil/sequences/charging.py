"""Start and stop of charging: difference, collector_minimum, minimum times, a lost collector."""

from . import common as c

COLLECTOR_ON = {"duty": "charging", "collector_pump": 1}
# Held for its age limit of 15 s, lost in the next step. After the repair it takes three readings
# that agree, and glycol must be pumped round again, because the loop was not watched.
BREAK_COLLECTOR = [
    ["phase", "break the sensor"],
    ["break", "collector", "CAUSE_OPEN"],
    ["keep", 15000, {"collector_pump": 1, "COLLECTOR_STATUS": "HELD"}],
    ["becomes", 5000, 5000, c.COLLECTOR_GONE],
    ["keep", 120000, c.COLLECTOR_GONE],
    ["phase", "restore"],
    ["restore", "collector"],
    ["keep", 10000, c.COLLECTOR_GONE],
    ["becomes", 5000, 5000, {**c.ROUND, "COLLECTOR_STATUS": "GOOD"}],
    ["becomes", 5000, 240000, c.BOTH_PUMPS],
]

DIFFERENCE = c.sequence(
    "start_and_stop_difference",
    [
        *c.FLUSHED,
        ["phase", "cold, off"],
        ["keep", 10000, c.idle("COLLECTOR_COOL")],
        ["ramp", "collector", 19999, 1000, c.OFF],
        ["expect", c.idle("COLLECTOR_COOL")],
        ["phase", "between, still off"],
        ["ramp", "collector", 20000, 1000, c.OFF],
        ["expect", c.idle("NO_DIFFERENCE")],
        ["ramp", "collector", 27999, 1000, c.OFF],
        ["keep", 180000, c.idle("NO_DIFFERENCE")],
        ["phase", "hot, on"],
        ["set", {"collector": 28000}],
        ["becomes", 5000, 5000, {"duty": "charging", "reason": "DIFFERENCE", "wait": "WAIT_VALVE", "dump_valve_power": 1}],
        ["becomes", 115000, 125000, {**COLLECTOR_ON, "wait": "WAIT_EXCHANGER", "tank_pump": 0}],
        ["set", {"loop_supply": 25000}],
        ["becomes", 5000, 5000, {**c.BOTH_PUMPS, "wait": "WAIT_NOTHING"}],
        ["phase", "between, stays on"],
        ["ramp", "collector", 23001, 1000, c.BOTH_PUMPS],
        ["keep", 120000, c.BOTH_PUMPS],
        ["phase", "cold, off"],
        ["set", {"collector": 23000}],
        ["becomes", 5000, 5000, {"duty": "idle", "reason": "NO_DIFFERENCE", "collector_pump": 0, "dump_valve_power": 0}],
        ["keep", 180000, {"collector_pump": 0}],
        *c.START,
        *BREAK_COLLECTOR,
    ],
)

MINIMUM = c.sequence(
    "collector_minimum",
    [
        *c.FLUSHED,
        ["set", {"tank_low": 5000, "tank_high": 6000}],
        ["phase", "cold, off"],
        ["keep", 60000, {"collector_pump": 0}],
        ["phase", "between, still off"],
        ["ramp", "collector", 19999, 1000, {"collector_pump": 0}],
        ["keep", 180000, c.idle("COLLECTOR_COOL")],
        ["phase", "hot, on"],
        ["set", {"collector": 20000}],
        ["becomes", 5000, 5000, {"duty": "charging", "reason": "DIFFERENCE"}],
        ["becomes", 100000, 130000, c.BOTH_PUMPS],
        ["phase", "between, stays on"],
        ["ramp", "collector", 8001, 1000, COLLECTOR_ON],
        ["keep", 120000, COLLECTOR_ON],
        ["phase", "cold, off"],
        ["set", {"collector": 8000}],
        ["becomes", 5000, 5000, {"duty": "idle", "reason": "COLLECTOR_COOL", "collector_pump": 0}],
        ["keep", 180000, {"collector_pump": 0}],
        ["ramp", "collector", 20000, 1000, {"collector_pump": 0}],
        ["becomes", 5000, 180000, c.BOTH_PUMPS],
        *BREAK_COLLECTOR,
    ],
)

# With the fastest valve only the rest delays the pump, after boot and between runs.
REST = c.sequence(
    "minimum_rest",
    [
        ["set", {**c.MILD, **c.SUN}],
        ["phase", "from boot"],
        ["keep", 10000, c.OFF],
        ["becomes", 5000, 5000, {**c.ROUND, "wait": "WAIT_REST"}],
        ["keep", 40000, {**c.OFF, "wait": "WAIT_REST"}],
        ["becomes", 5000, 5000, {**c.TO_RADIATOR, "wait": "WAIT_NOTHING"}],
        ["becomes", 5000, 130000, c.BOTH_PUMPS],
        ["keep", 90000, c.BOTH_PUMPS],
        ["phase", "between runs"],
        ["set", {"collector": 20000}],
        ["becomes", 5000, 5000, {"collector_pump": 0}],
        ["set", c.SUN],
        ["becomes", 5000, 5000, {"duty": "charging", "collector_pump": 0}],
        ["keep", 50000, {"collector_pump": 0, "wait": "WAIT_REST"}],
        ["becomes", 5000, 5000, c.BOTH_PUMPS],
    ],
    dump_travel=1000,
)

RUN = c.sequence(
    "minimum_run",
    [
        *c.CHARGING,
        ["phase", "cold, but not run enough: stays on"],
        ["set", {"collector": 15000}],
        ["keep", 85000, COLLECTOR_ON],
        ["phase", "run enough, off"],
        ["becomes", 5000, 5000, {"duty": "idle", "collector_pump": 0}],
        ["phase", "the pump stands: nothing to wait for"],
        ["set", c.SUN],
        ["becomes", 5000, 5000, {"duty": "charging", "collector_pump": 0}],
        ["set", {"collector": 15000}],
        ["becomes", 5000, 5000, {"duty": "idle", "collector_pump": 0}],
        ["keep", 180000, {"collector_pump": 0}],
        *c.START,
        ["phase", "a safety stop does not wait"],
        ["break", "collector", "CAUSE_SHORT"],
        ["keep", 15000, c.BOTH_PUMPS],
        ["becomes", 5000, 5000, c.COLLECTOR_GONE],
    ],
)

# Causes for which the driver refuses the collector, and raw values that the core refuses.
DRIVER_CAUSES = ("OPEN", "SHORT", "SILENT", "CRC", "POWER_ON", "ALL_ZERO", "CHIP")
TOO_HOT_MC = 240001
TOO_COLD_MC = -50001


def lost(name, breaking, cause):
    """A sequence in which the collector is lost while charging, and recovers."""
    return c.sequence(
        f"collector_lost_{name}",
        [
            *c.LONG_CHARGING,
            ["phase", "break the sensor"],
            *breaking,
            ["becomes", 5000, 5000, {**c.COLLECTOR_GONE, "COLLECTOR_MC": "UNKNOWN_MC", "CAUSE": cause}],
            ["phase", "restore"],
            ["set", c.SUN],
            ["becomes", 5000, 15000, {**c.ROUND, "CAUSE": "CAUSE_NONE", "COLLECTOR_MC": 39500}],
            ["becomes", 5000, 300000, c.BOTH_PUMPS],
        ],
    )


HELD = {**c.BOTH_PUMPS, "COLLECTOR_STATUS": "HELD", "COLLECTOR_MC": 39500}
LOST = [
    *(
        lost(cause.lower(), [["break", "collector", f"CAUSE_{cause}"], ["keep", 15000, HELD]], f"CAUSE_{cause}")
        for cause in DRIVER_CAUSES
    ),
    # A chip that is still converting has no fault, but its last value ages all the same.
    lost("not_ready", [["break", "collector", "CAUSE_NOT_READY"], ["keep", 15000, HELD]], "CAUSE_NONE"),
    lost("too_hot", [["jump", {"collector": TOO_HOT_MC}], ["keep", 15000, HELD]], "CAUSE_RANGE"),
    lost("too_cold", [["jump", {"collector": TOO_COLD_MC}], ["keep", 15000, HELD]], "CAUSE_RANGE"),
    lost("rate", [["swing", "collector", 100000, 160000, 15000, HELD], ["jump", {"collector": 220000}]], "CAUSE_RATE"),
]
