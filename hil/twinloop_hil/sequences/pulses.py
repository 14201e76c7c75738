"""Without a bypass frosty glycol comes in pulses: how long, how often, and with what flow."""

from .common import MILD, OFF, sequence

# Frost came overnight; the tank is warm enough for it.
COLD_MORNING = [
    ["set", {**MILD, "outdoor": 10000, "tank_low": 40000, "tank_high": 40000, "exchanger": 41000}],
    ["keep", 15000, OFF],
    ["ramp", "outdoor", 0, 1000, OFF],
    ["keep", 130000, OFF],
]
WARM_DAY = [
    ["set", {**MILD, "collector": 25000, "outdoor": 25000}],
    ["keep", 70000, OFF],
    ["set", {"collector": 60000, "loop_supply": 50000, "loop_return": 30000}],
    ["becomes", 5000, 300000, {"collector_pump": 1, "tank_pump": 1}],
    ["keep", 900000, {}],
]
CLOUD = [
    ["set", {"collector": 21000, "loop_supply": 21000, "loop_return": 20500}],
    ["becomes", 5000, 600000, OFF],
    ["phase", "as cold as the tank's bottom"],
    ["keep", 5000, OFF],
    ["expect", {"LOOP_LOWEST_MC": 20000}],
]
FROSTY_PULSE = [["becomes", 60000, 65000, {"collector_pump": 1}], ["becomes", 5000, 5000, {"collector_pump": 0}]]
MANY = sequence(
    "pulses_lengthen_the_rest",
    [
        *COLD_MORNING,
        ["phase", "twenty-three: as ever"],
        ["ramp", "collector", 70000, 5000, {}],
        ["set", {"exchanger": 37000}],
        ["becomes", 5000, 60000, {"collector_pump": 1, "tank_pump": 1}],
        ["becomes", 5000, 5000, {"collector_pump": 0}],
        *FROSTY_PULSE * 22,
        ["phase", "ten more: longer and longer"],
        *[["becomes", 60000, 700000, {"collector_pump": 1}], ["becomes", 5000, 5000, {"collector_pump": 0}]] * 10,
        ["keep", 500000, {"collector_pump": 0, "tank_pump": 1, "wait": "WAIT_REST"}],
        ["phase", "nine minutes at most"],
        ["becomes", 5000, 40000, {"collector_pump": 1}],
    ],
    dump_topology=2,
    loop_volume=100000,
    tank_pump_delay=600000,
    collector_flow=10000,
)
# Each is too short to miss its flow.
PULSES = sequence(
    "pulses_without_flow_count_together",
    [
        ["flow", 0],
        *COLD_MORNING,
        ["phase", "six pulses, and no more"],
        ["ramp", "collector", 70000, 5000, {}],
        ["set", {"exchanger": 37000}],
        ["becomes", 300000, 450000, {**OFF, "duty": "fault_stop", "reason": "FLOW_MISSING"}],
        ["phase", "half an hour later: again"],
        ["becomes", 1795000, 1805000, {"duty": "charging", "tank_pump": 1}],
    ],
    dump_topology=2,
    flow_sensor=1,
    loop_volume=10000,
)
# A pulse lasts a step at least, so a long step makes none.
LONG_STEPS = sequence(
    "no_pulse_in_long_steps",
    [
        ["set", {**MILD, "outdoor": 10000, "tank_low": 50000, "tank_high": 50000, "exchanger": 15000}],
        ["keep", 15000, OFF],
        ["ramp", "collector", 75000, 5000, {}],
        ["set", {"exchanger": 30000}],
        ["phase", "steps of ten seconds: water only"],
        ["step_ms", 10000],
        ["keep", 300000, {"duty": "charging", "reason": "DIFFERENCE", "collector_pump": 0, "tank_pump": 1}],
        ["phase", "steps of a second: a pulse of five"],
        ["step_ms", 1000],
        ["becomes", 1000, 1000, {"collector_pump": 1}],
        ["keep", 4000, {"collector_pump": 1}],
        ["becomes", 1000, 1000, {"collector_pump": 0, "tank_pump": 1}],
        ["phase", "plates twice as warm as they need: a pulse of ten"],
        ["set", {"exchanger": 50000}],
        ["becomes", 60000, 60000, {"collector_pump": 1}],
        ["keep", 9000, {"collector_pump": 1}],
        ["becomes", 1000, 1000, {"collector_pump": 0, "tank_pump": 1}],
    ],
    dump_topology=2,
)
# A collector whose readings come and go: water moves for nothing, until it rests as glycol does.
NO_PULSE = [["ramp", "collector", 70000, 5000, {}], ["keep", 5000, {"tank_pump": 1}]]
NO_PULSE += [["set", {"collector": 20000}], ["keep", 20000, {}], ["expect", OFF]]
WATER_IN_VAIN = sequence(
    "water_moved_in_vain_rests_as_well",
    [
        *COLD_MORNING,
        ["phase", "seven times: as ever"],
        *NO_PULSE * 7,
        ["phase", "then it rests for minutes"],
        ["ramp", "collector", 70000, 5000, OFF],
        ["keep", 400000, {**OFF, "duty": "charging", "wait": "WAIT_REST"}],
        ["phase", "and moves"],
        ["becomes", 5000, 60000, {"tank_pump": 1}],
        ["phase", "a pulse follows: the water has rested enough"],
        ["set", {"exchanger": 37000}],
        ["becomes", 5000, 60000, {"collector_pump": 1, "tank_pump": 1}],
    ],
    dump_topology=2,
    loop_volume=100000,
    tank_pump_delay=600000,
)
# A station that has lost outdoor while its pump ran.
LEFT = sequence(
    "what_a_pump_leaves_counts_without_outdoor",
    [
        *WARM_DAY,
        ["break", "outdoor", "CAUSE_CRC"],
        ["keep", 65000, {"collector_pump": 1}],
        *CLOUD,
    ],
    dump_topology=2,
)
# Pauses of the sun bring no new pulses: what was pumped cools down slowly.
COOLING_PIPES = sequence(
    "resting_pipes_cool_down_to_the_air",
    [
        *WARM_DAY,
        *CLOUD,
        ["phase", "colder by a tenth a minute"],
        ["ramp", "outdoor", 10000, 1000, OFF],
        ["keep", 180000, OFF],
        ["expect", {"LOOP_LOWEST_MC": 15953}],
        ["phase", "break tank_low: as cold as the air after ten minutes"],
        ["break", "tank_low", "CAUSE_OPEN"],
        ["keep", 600000, OFF],
        ["expect", {"LOOP_LOWEST_MC": 5104}],
        ["restore", "tank_low"],
        ["phase", "after an hour as cold as the air at once"],
        ["keep", 3600000, OFF],
        ["ramp", "outdoor", 6000, 1000, OFF],
        ["keep", 10000, OFF],
        ["expect", {"LOOP_LOWEST_MC": 1356}],
    ],
    dump_topology=2,
)
