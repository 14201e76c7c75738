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

# Pulses have a rest of their own, however long pumps rest between runs.
PULSES = c.sequence(
    "pulses_do_not_wait_for_minimum_rest",
    [
        ["set", {**c.MILD, "outdoor": 10000, "tank_low": 40000, "tank_high": 40000, "exchanger": 20000}],
        ["keep", 15000, c.OFF],
        ["ramp", "outdoor", 0, 1000, c.OFF],
        ["keep", 130000, c.OFF],
        ["ramp", "collector", 70000, 5000, {}],
        ["set", {"exchanger": 35000}],
        ["becomes", 5000, 200000, {"duty": "charging", "collector_pump": 1}],
        ["becomes", 5000, 5000, WATER],
        ["phase", "charging began less than minimum_rest ago: it rests"],
        ["keep", 90000, WATER],
        ["becomes", 5000, 120000, {"collector_pump": 1}],
        ["phase", "a minute later: the next"],
        ["keep", 60000, WATER],
        ["becomes", 5000, 5000, {"collector_pump": 1}],
    ],
    loop_volume=3000,
    minimum_rest=300000,
    dump_topology=1,
)

# The collector is at the dump threshold while nobody reads the air. In a mild night before that,
# neither air nor collector came near frost.
DUMPS = {"duty": "dumping", "collector_pump": 1, "tank_pump": 0}
NO_AIR = c.sequence(
    "a_hot_collector_without_the_air",
    [
        *c.AWAKE,
        ["keep", 7200000, c.OFF],
        ["break", "outdoor", "CAUSE_OPEN"],
        ["keep", 700000, c.OFF],
        ["expect", {"OUTDOOR_STATUS": "LOST", "LOOP_LOWEST_MC": -50000}],
        ["phase", "at the threshold, after a mild night: dumped"],
        ["ramp", "collector", 94999, 5000, c.OFF],
        ["set", {"collector": 95000}],
        ["becomes", 5000, 130000, DUMPS],
        ["ramp", "collector", 7000, 5000, {}],
        ["keep", 700000, {}],
        ["expect", c.OFF],
        ["phase", "after a cold one: refused"],
        ["ramp", "collector", 95000, 5000, c.OFF],
        ["keep", 60000, c.idle("COLD_SLUG_SERIES")],
        ["phase", "after a reset: unknown, refused"],
        ["ramp", "collector", 60000, 5000, {}],
        ["reset"],
        ["keep", 300000, {}],
        ["ramp", "collector", 95000, 5000, c.OFF],
        ["keep", 60000, c.idle("COLD_SLUG_SERIES")],
    ],
    dump_topology=1,
)
# What frost is left freezes no water, and a hot collector would boil.
LITTLE_FROST = c.sequence(
    "a_hot_collector_beside_a_radiator_above_ice",
    [
        *c.AWAKE,
        ["set", {"outdoor": 7500}],
        ["keep", 7200000, c.OFF],
        ["phase", "frosty: refused"],
        ["ramp", "collector", 92000, 5000, c.OFF],
        ["keep", 60000, c.idle("COLD_SLUG_SERIES")],
        ["phase", "at the threshold: dumped"],
        ["set", {"collector": 95000}],
        ["becomes", 5000, 130000, DUMPS],
    ],
    dump_topology=1,
)
