"""Common beginnings of sequences, and names for what the outputs do.

Settings have their defaults; only loop_volume is small, so that the cold slug passes in 20 s.
"""

MILD = {
    "collector": 15000,
    "tank_low": 20000,
    "tank_high": 25000,
    "loop_supply": 15000,
    "loop_return": 12000,
    "outdoor": 15000,
    "tap": 15000,
}
# A little warmer than the arriving glycol, which loses heat in radiator and exchanger.
SUN = {"collector": 39500, "loop_supply": 32000, "loop_return": 24800}
DARK = {"collector": 15000, "loop_supply": 15000, "loop_return": 12000}
SMALL_LOOP = {"loop_volume": 1000}

OFF = {"collector_pump": 0, "tank_pump": 0, "dump_valve_power": 0}
BOTH_PUMPS = {"duty": "charging", "reason": "DIFFERENCE", "collector_pump": 1, "tank_pump": 1, "dump_valve_power": 1}
ROUND = {"duty": "dumping", "reason": "COLD_SLUG_ROUND"}
TO_RADIATOR = {"duty": "dumping", "collector_pump": 1, "tank_pump": 0, "dump_valve_power": 0}
COLLECTOR_GONE = {
    **OFF,
    "duty": "fault_stop",
    "reason": "COLLECTOR_UNKNOWN",
    "wait": "WAIT_NOTHING",
    "COLLECTOR_STATUS": "LOST",
}


def idle(reason, **facts):
    """The facts of an idle station, for this reason."""
    return {**OFF, "duty": "idle", "reason": reason, "wait": "WAIT_NOTHING", **facts}


def sequence(name, script, **settings):
    """A sequence, on a small loop unless its settings say otherwise."""
    return {"name": name, "settings": {**SMALL_LOOP, **settings}, "script": script}


# Started on a mild morning: the dump valve has come home, and the station is idle.
AWAKE = [["set", MILD], ["keep", 120000, OFF], ["expect", idle("COLLECTOR_COOL")]]
# Glycol was pumped round once, so the loop is known; then the sun has gone, and every rest is over.
FLUSHED = [
    *AWAKE,
    ["set", SUN],
    ["becomes", 5000, 60000, {"duty": "charging"}],
    ["set", DARK],
    ["keep", 180000, {}],
    ["expect", idle("COLLECTOR_COOL")],
]
# The collector is at 39.5 C, glycol arrives at 32 C, both pumps run.
START = [["set", SUN], ["becomes", 0, 240000, BOTH_PUMPS]]
CHARGING = [*FLUSHED, *START]
# The same, with the minimum run over.
LONG_CHARGING = [*CHARGING, ["keep", 90000, BOTH_PUMPS]]
