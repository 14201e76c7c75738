"""The radiator in series: what frost in it refuses, and what it may not refuse."""

from . import common as c

WATER = {"duty": "charging", "collector_pump": 0, "tank_pump": 1}
BARRED = {"collector_pump": 0, "tank_pump": 0, "duty": "idle"}

# The outdoor sensor and one that sits in the warm have changed places. The tank is too cold for
# glycol of -15 C.
NOT_OUTDOORS = c.sequence(
    "an_outdoor_sensor_that_has_come_indoors",
    [
        ["set", {**c.MILD, "outdoor": -15000, "collector": -15000, "tank_low": 20000, "tank_high": 20000, "exchanger": 20000}],
        ["keep", 130000, c.OFF],
        ["phase", "its place is warm: the pipes are not"],
        ["set", {"outdoor": 14000}],
        ["ramp", "collector", 80000, 5000, c.OFF],
        ["keep", 18000000, {**c.OFF, "OUTDOOR_STATUS": "GOOD"}],
        ["phase", "hot: refused"],
        ["ramp", "collector", 95000, 5000, c.OFF],
        ["keep", 60000, c.idle("COLD_SLUG_SERIES")],
        ["phase", "outdoors again: followed"],
        ["set", {"outdoor": -10000}],
        ["keep", 600000, c.OFF],
        ["expect", {"AIR_MC": -8800}],
    ],
    dump_topology=1,
)

# Frost forbids to dump, so a tank that is full, but not hot, takes the sun.
ROOM = c.sequence(
    "a_full_tank_has_room_while_frost_bars_the_dump",
    [
        ["set", {**c.MILD, "outdoor": 0, "tank_low": 70000, "tank_high": 72000, "exchanger": 20000}],
        ["keep", 140000, c.OFF],
        ["phase", "3 K below its limit: full"],
        ["ramp", "collector", 89000, 5000, c.OFF],
        ["keep", 60000, c.idle("TANK_FULL_REFUSED")],
        ["phase", "less: the water moves ahead of the frosty glycol"],
        ["set", {"tank_high": 71900}],
        ["becomes", 5000, 15000, WATER],
        ["phase", "up to its limit"],
        ["ramp", "tank_high", 74400, 1000, WATER],
        ["keep", 60000, WATER],
        ["phase", "at its limit: no more"],
        ["set", {"tank_high": 74500}],
        ["becomes", 5000, 15000, {"duty": "idle", "reason": "TANK_FULL_REFUSED", "collector_pump": 0}],
        ["ramp", "tank_high", 72000, 1000, {"duty": "idle"}],
        ["phase", "3 K cooler: again"],
        ["set", {"tank_high": 71900}],
        ["becomes", 5000, 15000, {"duty": "charging"}],
        ["phase", "off its scale: full"],
        ["set", {"tank_high": 116000}],
        ["becomes", 5000, 15000, {"duty": "idle", "collector_pump": 0}],
        ["keep", 120000, {"duty": "idle", "reason": "TANK_FULL_REFUSED", "collector_pump": 0}],
    ],
    dump_topology=1,
)
