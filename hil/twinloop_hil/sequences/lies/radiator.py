"""A radiator or dump valve that does not work: the dump has no effect, or heats the tank."""

from ..collector import TANK_FULL
from ..common import AWAKE, BOTH_PUMPS, DARK, FLUSHED, LONG_CHARGING, MILD, OFF, TO_RADIATOR, idle, sequence

FULL_DUMP = {**TO_RADIATOR, "reason": "TANK_FULL_DUMP"}
DEAD = idle("RADIATOR_DEAD", alarms=["DUMP"], alarm=1)
# Hot glycol goes to the radiator and returns 3 K colder.
HOT = [["set", {"loop_supply": 90000, "loop_return": 87000}], ["ramp", "collector", 100000, 5000, {}], ["keep", 5000, FULL_DUMP]]

RADIATOR = sequence(
    "dead_radiator",
    [
        *TANK_FULL,
        *HOT,
        ["phase", "it takes out 2 K: works"],
        ["set", {"loop_return": 88000}],
        ["keep", 600000, {**FULL_DUMP, "alarms": []}],
        ["phase", "less, for less than three minutes: still hoping"],
        ["set", {"loop_return": 88001}],
        ["keep", 175000, FULL_DUMP],
        ["set", {"loop_return": 88000}],
        ["keep", 5000, FULL_DUMP],
        ["set", {"loop_return": 88001}],
        ["keep", 175000, FULL_DUMP],
        ["phase", "for three minutes: given up"],
        ["becomes", 5000, 5000, DEAD],
        ["phase", "half an hour later: tried again, and given up again"],
        ["keep", 1795000, DEAD],
        ["becomes", 5000, 5000, {**FULL_DUMP, "alarms": []}],
        ["keep", 175000, FULL_DUMP],
        ["becomes", 5000, 5000, DEAD],
        ["phase", "the collector cools by itself: nothing to dump, the alarm stays"],
        ["ramp", "collector", 80000, 5000, {"alarms": ["DUMP"], "collector_pump": 0}],
        ["keep", 60000, idle("TANK_FULL_REFUSED", alarms=["DUMP"])],
        ["ramp", "collector", 100000, 5000, {"collector_pump": 0}],
        ["phase", "it works again"],
        ["becomes", 1500000, 1800000, FULL_DUMP],
        ["set", {"loop_return": 85000}],
        ["keep", 600000, {**FULL_DUMP, "alarms": []}],
    ],
)

# Without both loop sensors, the collector itself must fall by 2 K once the glycol has come round.
RADIATOR_BLIND = sequence(
    "dead_radiator_by_the_collector",
    [
        *TANK_FULL,
        ["ramp", "collector", 100000, 5000, {}],
        ["keep", 5000, FULL_DUMP],
        ["phase", "not colder for a round of the loop and three minutes: given up"],
        ["keep", 350000, FULL_DUMP],
        ["becomes", 5000, 15000, DEAD],
        ["keep", 1795000, DEAD],
        ["becomes", 5000, 5000, FULL_DUMP],
        ["keep", 5000, FULL_DUMP],
        ["phase", "colder by less than 2 K: given up"],
        ["set", {"collector": 98001}],
        ["keep", 350000, FULL_DUMP],
        ["becomes", 5000, 5000, DEAD],
        ["keep", 1795000, DEAD],
        ["set", {"collector": 100000}],
        ["becomes", 5000, 5000, FULL_DUMP],
        ["phase", "colder by 2 K: works"],
        ["keep", 5000, FULL_DUMP],
        ["set", {"collector": 98000}],
        ["keep", 600000, FULL_DUMP],
        ["phase", "hotter, and near the limit: not given up"],
        ["ramp", "collector", 110000, 5000, FULL_DUMP],
        ["keep", 600000, {**FULL_DUMP, "alarms": []}],
        ["phase", "at the limit: no effect"],
        ["ramp", "collector", 119999, 5000, FULL_DUMP],
        ["set", {"collector": 120000}],
        ["becomes", 5000, 5000, {**OFF, "reason": "STEAM", "alarms": ["DUMP", "STEAM"]}],
        ["ramp", "collector", 105000, 5000, {"collector_pump": 0}],
        ["keep", 300000, DEAD],
        ["phase", "near the limit again: one more try at once"],
        ["ramp", "collector", 107499, 5000, DEAD],
        ["keep", 60000, DEAD],
        ["set", {"collector": 107500}],
        ["becomes", 5000, 5000, {**FULL_DUMP, "alarms": []}],
        ["keep", 5000, FULL_DUMP],
        ["set", {"collector": 108000}],
        ["keep", 180000, FULL_DUMP],
        ["phase", "and no other after that"],
        ["ramp", "collector", 120000, 5000, {}],
        ["keep", 10000, {**OFF, "reason": "STEAM"}],
        ["ramp", "collector", 105000, 5000, {"collector_pump": 0}],
        ["ramp", "collector", 110000, 5000, {"collector_pump": 0}],
        ["keep", 1200000, DEAD],
    ],
    loop_return_fitted=0,
)

# What circulates may cool enough in the pipes, or flow again once air has left the loop.
LAST_TRY = sequence(
    "a_dump_that_begins_near_the_limit_goes_on",
    [
        *TANK_FULL,
        *HOT,
        ["set", {"loop_return": 90000}],
        ["keep", 175000, FULL_DUMP],
        ["becomes", 5000, 5000, DEAD],
        ["phase", "near the limit: tried again"],
        ["ramp", "collector", 107499, 5000, DEAD],
        ["set", {"collector": 107500}],
        ["becomes", 5000, 5000, FULL_DUMP],
        ["phase", "no hotter, and no longer near it: not given up"],
        ["set", {"collector": 106000}],
        ["keep", 900000, FULL_DUMP],
        ["phase", "at the limit: no effect"],
        ["ramp", "collector", 119999, 5000, FULL_DUMP],
        ["set", {"collector": 120000}],
        ["becomes", 5000, 5000, {**OFF, "reason": "STEAM", "alarms": ["DUMP", "STEAM"]}],
    ],
)

RADIATOR_LOST = sequence(
    "dead_radiator_with_a_sensor_lost_meanwhile",
    [
        *TANK_FULL,
        *HOT,
        ["set", {"loop_return": 90000, "collector": 97000}],
        ["keep", 60000, FULL_DUMP],
        ["phase", "break the sensor: judged by the collector, which fell"],
        ["break", "loop_supply", "CAUSE_CRC"],
        ["keep", 60000, {**FULL_DUMP, "LOOP_SUPPLY_STATUS": "HELD"}],
        ["keep", 600000, {**FULL_DUMP, "LOOP_SUPPLY_STATUS": "LOST"}],
        ["phase", "restore: by the two again, but a collector that fell is enough"],
        ["restore", "loop_supply"],
        ["keep", 600000, FULL_DUMP],
        ["phase", "it rises again: given up"],
        ["set", {"collector": 98001}],
        ["keep", 175000, FULL_DUMP],
        ["becomes", 5000, 5000, DEAD],
    ],
)

# While charging, supply and return showed a clean exchanger, and supply agreed with the collector.
RADIATOR_KNOWN = sequence(
    "loop_sensors_that_agreed_while_charging_are_believed",
    [
        *LONG_CHARGING,
        ["keep", 300000, BOTH_PUMPS],
        ["set", DARK],
        ["keep", 300000, {}],
        ["ramp", "tank_low", 70000, 1000, OFF],
        ["set", {"tank_high": 70000}],
        ["keep", 15000, OFF],
        *HOT,
        ["set", {"loop_return": 90000, "collector": 97000}],
        ["phase", "a collector that fell is not enough: given up"],
        ["keep", 175000, FULL_DUMP],
        ["becomes", 5000, 5000, DEAD],
    ],
)

# Pumping a frosty loop round is no dump, so the radiator's effect is not judged.
ROUND = sequence(
    "going_round_is_not_judged",
    [
        *AWAKE,
        ["ramp", "collector", 62000, 5000, {}],
        ["set", {"loop_supply": 32000, "loop_return": 32000}],
        ["becomes", 0, 5000, {"duty": "dumping", "reason": "COLD_SLUG_ROUND"}],
        ["phase", "no effect for seven minutes, and no alarm"],
        ["keep", 420000, {"duty": "dumping", "reason": "COLD_SLUG_ROUND", "alarms": []}],
    ],
    loop_volume=25000,
    tank_pump_delay=120000,
    dump_collector_start=60000,
    dump_collector_stop=40000,
)

HEATS = idle("DUMP_HEATS_TANK", alarms=["DUMP"], alarm=1)
HEATING = sequence(
    "dump_that_heats_the_tank",
    [
        *TANK_FULL,
        *HOT,
        ["keep", 30000, FULL_DUMP],
        ["phase", "not yet 2 K: dumping"],
        ["set", {"tank_high": 71999}],
        ["keep", 300000, {**FULL_DUMP, "alarms": []}],
        ["phase", "2 K for less than two minutes: noise"],
        ["set", {"tank_high": 72000}],
        ["keep", 115000, {**FULL_DUMP, "alarms": []}],
        ["set", {"tank_high": 71999}],
        ["keep", 5000, FULL_DUMP],
        ["set", {"tank_high": 72000}],
        ["keep", 115000, {**FULL_DUMP, "alarms": []}],
        ["phase", "for two minutes: given up"],
        ["becomes", 5000, 5000, HEATS],
        ["keep", 1795000, HEATS],
        ["phase", "half an hour later: tried again, from what the tank is then"],
        ["becomes", 5000, 5000, {**FULL_DUMP, "alarms": []}],
        ["keep", 30000, FULL_DUMP],
        ["set", {"tank_high": 73999}],
        ["keep", 300000, FULL_DUMP],
        ["phase", "and given up again"],
        ["set", {"tank_high": 74000}],
        ["keep", 115000, FULL_DUMP],
        ["becomes", 5000, 5000, HEATS],
        ["keep", 1795000, HEATS],
        ["becomes", 5000, 5000, FULL_DUMP],
    ],
)

HEATING_NOISE = sequence(
    "one_low_reading_is_no_beginning_of_a_dump",
    [
        *TANK_FULL,
        ["set", {"tank_low": 68000, "tank_high": 68000}],
        ["keep", 15000, OFF],
        *HOT,
        ["phase", "2 K higher within half a minute: began there"],
        ["keep", 10000, FULL_DUMP],
        ["set", {"tank_high": 70000}],
        ["keep", 300000, {**FULL_DUMP, "alarms": []}],
        ["phase", "2 K more: given up"],
        ["set", {"tank_high": 72000}],
        ["becomes", 120000, 125000, HEATS],
    ],
)

# The bottom alone tells nothing: once the top is back, it reads 3 K more than the bottom did.
HEATING_UNSEEN = sequence(
    "a_tank_sensor_that_comes_back_is_no_heat",
    [
        *TANK_FULL,
        ["set", {"tank_high": 73000}],
        ["keep", 15000, OFF],
        ["break", "tank_high", "CAUSE_CRC"],
        ["keep", 70000, {"collector_pump": 0}],
        *HOT,
        ["phase", "without the top: dumping"],
        ["keep", 300000, FULL_DUMP],
        ["phase", "restore it: dumping"],
        ["restore", "tank_high"],
        ["keep", 300000, FULL_DUMP],
        ["phase", "from then on it is compared"],
        ["set", {"tank_high": 75000}],
        ["becomes", 120000, 125000, HEATS],
    ],
)

# Heat from the glycol comes through warmer plates, and makes the tank no hotter than they are.
HEATING_PLATES = sequence(
    "a_dump_beside_cold_plates_heats_no_tank",
    [
        *TANK_FULL,
        *HOT,
        ["set", {"exchanger": 71999}],
        ["keep", 60000, FULL_DUMP],
        ["phase", "colder than the tank: no heat"],
        ["set", {"tank_high": 72000}],
        ["keep", 600000, {**FULL_DUMP, "alarms": []}],
        ["phase", "as warm as the tank: an alarm"],
        ["set", {"exchanger": 72000}],
        ["becomes", 120000, 125000, {**FULL_DUMP, "alarms": ["DUMP"]}],
        ["phase", "below tank_limit: dumping"],
        ["set", {"exchanger": 74999}],
        ["keep", 300000, {**FULL_DUMP, "alarms": ["DUMP"]}],
        ["phase", "at it: given up"],
        ["set", {"exchanger": 75000}],
        ["becomes", 5000, 5000, HEATS],
    ],
)


def jumps(name, tank_high_mc, end, plates=0):
    """A sequence: tank_high jumps in a dump, then the collector nears its limit.

    `plates` is 1 where they are read.
    """
    return sequence(
        name,
        [
            *TANK_FULL,
            ["set", {"tank_low": 63000, "tank_high": 63000}],
            ["keep", 15000, OFF],
            *HOT,
            ["set", {"exchanger": 90000}],
            ["keep", 30000, FULL_DUMP],
            ["set", {"tank_high": tank_high_mc}],
            ["becomes", 120000, 125000, HEATS],
            ["phase", "not near the limit: given up"],
            ["ramp", "collector", 107499, 5000, HEATS],
            ["keep", 60000, HEATS],
            ["phase", "near it"],
            ["set", {"collector": 107500}],
            *end,
        ],
        exchanger_fitted=plates,
        tank_limit=80000,
    )


JUMP = jumps(
    "a_tank_that_seemed_to_warm_lets_no_collector_boil",
    66000,
    [
        ["becomes", 5000, 5000, {**FULL_DUMP, "alarms": []}],
        ["keep", 600000, FULL_DUMP],
        ["phase", "and heated again: given up for half an hour"],
        ["set", {"tank_high": 69000}],
        ["becomes", 120000, 125000, HEATS],
        ["keep", 1790000, HEATS],
    ],
)
GIVEN_UP = [["keep", 600000, HEATS]]
JUMP_FULL = jumps("a_tank_near_its_limit_is_not_heated_again", 70001, GIVEN_UP)
JUMP_PROVEN = jumps("hot_plates_prove_that_a_dump_heats_the_tank", 66000, GIVEN_UP, plates=1)


def dump_from(tank_high_mc):
    """The beginning of a sequence that dumps in mild weather, with this at the top of the tank."""
    return [
        ["set", {**MILD, "collector": 25000, "outdoor": 25000}],
        ["keep", 180000, OFF],
        ["ramp", "tank_high", tank_high_mc, 1000, OFF],
        ["ramp", "tank_low", 70000, 1000, OFF],
        ["set", {"loop_supply": 90000, "loop_return": 87000}],
        ["ramp", "collector", 100000, 5000, {}],
        ["keep", 30000, FULL_DUMP],
    ]


# In series the dumped glycol passes the exchanger, so a welded tank pump heats the tank with it.
HEATING_SERIES = sequence(
    "dump_that_heats_the_tank_in_series",
    [
        *dump_from(72000),
        ["phase", "not yet 2 K: dumping"],
        ["set", {"tank_high": 73999}],
        ["keep", 300000, {**FULL_DUMP, "alarms": []}],
        ["phase", "for two minutes: given up"],
        ["set", {"tank_high": 74000}],
        ["keep", 115000, FULL_DUMP],
        ["becomes", 5000, 5000, HEATS],
    ],
    dump_topology=1,
)


def above(name, **settings):
    """A sequence: a tank sensor rises above tank_limit while the collector is hot."""
    return sequence(
        name,
        [
            *dump_from(74000),
            ["phase", "at its limit: dumping"],
            ["set", {"tank_high": 75000}],
            ["keep", 600000, {**FULL_DUMP, "alarms": []}],
            ["phase", "above it for less than a minute, then not: dumping"],
            ["set", {"tank_high": 75001}],
            ["keep", 55000, FULL_DUMP],
            ["set", {"tank_high": 75000}],
            ["keep", 5000, FULL_DUMP],
            ["set", {"tank_high": 75001}],
            ["keep", 55000, FULL_DUMP],
            ["phase", "for a minute: given up"],
            ["becomes", 5000, 5000, HEATS],
            ["phase", "as long as it lasts, and half an hour more"],
            ["keep", 2400000, HEATS],
            ["set", {"tank_high": 75000}],
            ["keep", 1795000, HEATS],
            ["becomes", 5000, 5000, {**FULL_DUMP, "alarms": []}],
            ["phase", "lost and restored: at once, for nobody knows since when"],
            ["break", "tank_low", "CAUSE_CRC"],
            ["break", "tank_high", "CAUSE_CRC"],
            ["becomes", 65000, 65000, {**TO_RADIATOR, "reason": "TANK_UNKNOWN_DUMP"}],
            ["keep", 60000, {**TO_RADIATOR, "alarms": []}],
            ["set", {"tank_low": 70000, "tank_high": 75001}],
            ["becomes", 15000, 15000, HEATS],
            ["set", {"tank_high": 75000}],
            ["becomes", 1795000, 1805000, FULL_DUMP],
            ["phase", "the bottom counts as well"],
            ["set", {"tank_low": 75001}],
            ["keep", 55000, FULL_DUMP],
            ["becomes", 5000, 5000, HEATS],
        ],
        **settings,
    )


ABOVE = [above("no_dump_beside_a_tank_above_its_limit"), above("no_dump_in_series_beside_a_tank_above_its_limit", dump_topology=1)]


# A valve that was found stuck is no bypass for a frosty loop either.
def no_way_round(name, readings, soonest_ms, given_up):
    """A sequence: these readings end a dump, then the loop becomes frosty and the tank cold."""
    return sequence(
        name,
        [
            *TANK_FULL,
            *HOT,
            ["keep", 30000, FULL_DUMP],
            ["set", readings],
            ["becomes", soonest_ms, soonest_ms + 10000, given_up],
            ["ramp", "collector", 3000, 5000, {"collector_pump": 0}],
            ["ramp", "tank_low", 12000, 1000, {"collector_pump": 0}],
            ["ramp", "tank_high", 15000, 1000, {"collector_pump": 0}],
            ["phase", "frosty loop: refused"],
            ["set", {**DARK, "collector": 50000}],
            ["keep", 10000, OFF],
            ["keep", 600000, idle(given_up["reason"])],
            ["phase", "half an hour after it was given up: round"],
            ["becomes", 600000, 1500000, {**TO_RADIATOR, "reason": "COLD_SLUG_ROUND"}],
        ],
    )


STUCK_ROUND = no_way_round("no_way_round_while_the_valve_may_be_stuck", {"tank_high": 72000}, 120000, HEATS)
DEAD_ROUND = no_way_round("no_way_round_through_a_dead_radiator", {"loop_return": 90000}, 180000, DEAD)

# With an open crossover the pump runs on; the dump is still judged from its own start.
OPEN_DUMP = sequence(
    "a_dump_is_judged_from_its_own_beginning",
    [
        *FLUSHED,
        ["set", {"collector": 28000, "loop_supply": 20500}],
        ["becomes", 5000, 5000, {"duty": "charging", "collector_pump": 1, "tank_pump": 0}],
        ["keep", 60000, {"duty": "charging", "collector_pump": 1, "tank_pump": 0}],
        ["phase", "the tank is as warm as before, the collector cooler: the dump goes on"],
        ["set", {"collector": 91000}],
        ["becomes", 5000, 15000, {**TO_RADIATOR, "reason": "CHARGE_LIMIT_DUMP"}],
        ["keep", 5000, TO_RADIATOR],
        ["set", {"collector": 88000, "loop_supply": 60000, "loop_return": 59000}],
        ["keep", 240000, {**TO_RADIATOR, "alarms": []}],
    ],
    dump_collector_start=80000,
    dump_collector_stop=60000,
    dump_crossover=1,
)

# A dump that holds the collector below its threshold works, whatever the loop sensors say.
HELD = sequence(
    "a_dump_that_holds_the_collector_works",
    [
        *TANK_FULL,
        ["set", {"loop_supply": 90000, "loop_return": 89000}],
        ["ramp", "collector", 95000, 5000, {}],
        ["keep", 5000, FULL_DUMP],
        ["phase", "below its threshold: works"],
        ["set", {"collector": 94999}],
        ["keep", 600000, FULL_DUMP],
        ["phase", "at it: given up"],
        ["set", {"collector": 95000}],
        ["keep", 175000, FULL_DUMP],
        ["becomes", 5000, 5000, DEAD],
    ],
)
# After the two have agreed while charging, the readings of the two exchange places.
CONTRARY = sequence(
    "glycol_does_not_leave_a_radiator_hotter_than_it_came",
    [
        *LONG_CHARGING,
        ["set", {"collector": 60000, "loop_supply": 52000, "loop_return": 30000}],
        ["keep", 3600000, BOTH_PUMPS],
        ["ramp", "tank_low", 70000, 1000, {}],
        ["set", {"tank_high": 71000, "loop_supply": 60000, "loop_return": 62000}],
        ["ramp", "collector", 99000, 5000, {}],
        ["becomes", 5000, 300000, FULL_DUMP],
        ["keep", 5000, FULL_DUMP],
        ["phase", "hotter by 2 K, and the collector has fallen: works"],
        ["set", {"collector": 96000}],
        ["keep", 600000, FULL_DUMP],
        ["phase", "by less: given up"],
        ["set", {"loop_return": 61900}],
        ["becomes", 175000, 185000, DEAD],
    ],
)
