"""Frost at the exchanger with the pumps off, and glycol too stiff to push."""

from .common import BOTH_PUMPS, FLUSHED, LONG_CHARGING, MILD, OFF, SUN, TO_RADIATOR, idle, sequence

GUARD = {
    "duty": "frost_guard",
    "reason": "EXCHANGER_FROST",
    "collector_pump": 0,
    "tank_pump": 1,
    "dump_valve_power": 0,
    "alarm": 1,
}
QUIET = idle("COLLECTOR_COOL", alarm=0)
# It starts in the step that sees the frost; its ten minutes count from the next step.
TEN_MINUTES = [["keep", 595000, GUARD], ["becomes", 5000, 5000, QUIET]]

EXCHANGER = sequence(
    "frost_at_the_exchanger",
    [
        ["set", {"exchanger": 15000}],
        *FLUSHED,
        ["phase", "warm, off"],
        ["set", {"exchanger": 6000}],
        ["keep", 60000, QUIET],
        ["phase", "between, still off"],
        ["ramp", "exchanger", 4000, 1000, QUIET],
        ["keep", 600000, QUIET],
        ["phase", "frost, on"],
        ["set", {"exchanger": 3999}],
        ["becomes", 5000, 5000, {**GUARD, "alarms": ["FROST"]}],
        ["phase", "between, stays on"],
        ["ramp", "exchanger", 5999, 1000, GUARD],
        ["keep", 1200000, GUARD],
        ["phase", "warm, off"],
        ["set", {"exchanger": 6000}],
        ["becomes", 5000, 5000, {**QUIET, "alarms": []}],
        ["phase", "warm at once again: ten minutes all the same"],
        ["set", {"exchanger": 3999}],
        ["becomes", 5000, 5000, GUARD],
        ["set", {"exchanger": 10000}],
        *TEN_MINUTES,
        ["phase", "break the sensor: it ends what it began, and says no more"],
        ["set", {"exchanger": 3999}],
        ["becomes", 5000, 15000, GUARD],
        ["break", "exchanger", "CAUSE_OPEN"],
        ["keep", 595000, GUARD],
        ["becomes", 5000, 5000, {**OFF, "duty": "idle", "EXCHANGER_STATUS": "LOST", "alarms": ["SENSOR"]}],
        ["keep", 600000, OFF],
        ["phase", "restore"],
        ["restore", "exchanger"],
        ["keep", 10000, OFF],
        ["becomes", 5000, 5000, {**GUARD, "alarms": ["FROST"]}],
        ["phase", "the collector is lost: the tank pump needs none"],
        ["break", "collector", "CAUSE_OPEN"],
        ["keep", 600000, GUARD],
        ["set", {"exchanger": 10000}],
        ["becomes", 5000, 5000, {**OFF, "duty": "fault_stop", "reason": "COLLECTOR_UNKNOWN"}],
    ],
)

# Even in the sun: charging ends, and resumes when the plates are warm.
IN_THE_SUN = sequence(
    "frost_at_the_exchanger_while_charging",
    [
        *LONG_CHARGING,
        ["phase", "frost: no glycol moves"],
        ["jump", {"exchanger": 3000}],
        ["keep", 10000, BOTH_PUMPS],
        ["becomes", 5000, 5000, GUARD],
        ["set", {"exchanger": 20000}],
        ["keep", 595000, GUARD],
        ["phase", "warm: charging"],
        ["becomes", 5000, 5000, {"duty": "charging", "alarm": 0}],
    ],
)


def sinking(name, sensor, topology):
    """Frosty glycol at the station, pump off: without a bypass it sinks through the exchanger."""
    return sequence(
        name,
        [
            ["set", {**MILD, "collector": 25000, "outdoor": 25000, "loop_return": 15000}],
            ["keep", 180000, OFF],
            ["phase", "between, still off"],
            ["ramp", sensor, 4000, 1000, OFF],
            ["keep", 60000, idle("NO_DIFFERENCE", alarm=0)],
            ["phase", "frost, on"],
            ["set", {sensor: 3999}],
            ["becomes", 5000, 5000, {**GUARD, "alarms": ["FROST"]}],
            ["phase", "still frosty: stays on"],
            ["keep", 900000, GUARD],
            ["phase", "warm, off"],
            ["set", {sensor: 4000}],
            ["becomes", 5000, 5000, idle("NO_DIFFERENCE", alarm=0)],
            ["phase", "break the sensor"],
            ["break", sensor, "CAUSE_CRC"],
            ["set", {"exchanger": 15000}],
            ["keep", 300000, OFF],
            ["phase", "restore, colder"],
            ["set", {sensor: 3000}],
            ["becomes", 15000, 15000, GUARD],
            ["set", {sensor: 15000}],
            ["becomes", 585000, 600000, OFF],
            ["phase", "pumped, it is no sinking"],
            ["set", {**SUN, "exchanger": 30000}],
            ["becomes", 5000, 240000, {"collector_pump": 1, "tank_pump": 1}],
            ["set", {"loop_return": -5000}],
            ["keep", 120000, {"duty": "charging", "collector_pump": 1}],
        ],
        dump_topology=topology,
    )


SINKING = [
    sinking("frost_by_glycol_that_sinks_backwards", "loop_return", 2),
    sinking("frost_by_glycol_that_sinks_forwards", "loop_supply", 2),
    sinking("frost_by_glycol_that_sinks_through_a_radiator_in_series", "loop_return", 1),
]


def cold_room(topology):
    """Room and glycol are colder than exchanger_frost; only the sun ends frost_guard."""
    return sequence(
        f"cold_room_{('series', 'none')[topology - 1]}",
        [
            ["set", {**MILD, "collector": 25000, "outdoor": 25000}],
            ["keep", 180000, OFF],
            ["set", {"loop_supply": -2000, "loop_return": -2000, "exchanger": 5999}],
            ["phase", "plates between, a sunny collector: frost"],
            ["ramp", "collector", 45000, 5000, {}],
            ["keep", 900000, GUARD],
            ["phase", "plates warm, the tank a little too cold for this loop: frost"],
            ["ramp", "tank_high", 9999, 1000, GUARD],
            ["ramp", "tank_low", 9999, 1000, GUARD],
            ["set", {"exchanger": 6000}],
            ["keep", 900000, GUARD],
            ["phase", "warm enough: charging"],
            ["set", {"tank_low": 10000}],
            ["becomes", 5000, 10000, {"duty": "charging", "reason": "DIFFERENCE"}],
            ["keep", 120000, {"duty": "charging"}],
            ["phase", "the sun is gone: frost again, and for ten minutes whatever comes"],
            ["ramp", "collector", 12000, 5000, {}],
            ["becomes", 5000, 300000, GUARD],
            ["ramp", "collector", 45000, 5000, GUARD],
            ["becomes", 550000, 600000, {"duty": "charging"}],
        ],
        dump_topology=topology,
    )


# A room at 6 C, exchanger_frost at 10 C: the tank pump runs, and charging stays possible.
COOL_ROOM = sequence(
    "cool_room_is_not_frosty",
    [
        ["set", {**MILD, "collector": 25000, "outdoor": 25000}],
        ["keep", 180000, OFF],
        ["set", {"loop_supply": 5000, "loop_return": 5000, "exchanger": 5999}],
        ["becomes", 5000, 5000, GUARD],
        ["ramp", "collector", 15000, 5000, GUARD],
        ["ramp", "tank_low", 12000, 1000, GUARD],
        ["phase", "in the sun, plates between: frost"],
        ["ramp", "collector", 45000, 5000, GUARD],
        ["keep", 900000, GUARD],
        ["phase", "plates warm: charging"],
        ["set", {"exchanger": 6000}],
        ["becomes", 5000, 20000, {"duty": "charging", "collector_pump": 1}],
        ["set", {"loop_supply": 40000, "loop_return": 30000}],
        ["keep", 60000, {"duty": "charging"}],
    ],
    dump_topology=2,
    exchanger_frost=10000,
)
# A lower exchanger_frost is the threshold instead.
COLDER_ROOM = sequence(
    "exchanger_frost_under_four_degrees",
    [
        ["set", {**MILD, "collector": 25000, "outdoor": 25000}],
        ["keep", 180000, OFF],
        ["set", {"loop_supply": 3000, "loop_return": 3000, "exchanger": 12000}],
        ["phase", "between, off"],
        ["keep", 600000, OFF],
        ["phase", "frost, on"],
        ["set", {"loop_return": 2999}],
        ["becomes", 5000, 5000, GUARD],
    ],
    dump_topology=2,
    exchanger_frost=3000,
)
COLD_ROOMS = [cold_room(1), cold_room(2)]
# A tank as cold as the main cannot warm the plates to the latch's reset; the sun can.
COLD_WATER = sequence(
    "cold_room_beside_a_bypass",
    [
        ["set", {**MILD, "tank_low": 7500, "tank_high": 7500, "collector": 4000, "outdoor": -5000}],
        ["keep", 900000, {}],
        ["set", {"exchanger": 5999}],
        ["becomes", 5000, 5000, GUARD],
        ["phase", "plates between, a sunny collector: frost"],
        ["ramp", "collector", 45000, 5000, GUARD],
        ["keep", 900000, GUARD],
        ["phase", "plates warm: frosty glycol goes round by the radiator"],
        ["set", {"exchanger": 6000}],
        ["becomes", 5000, 5000, {"duty": "dumping", "reason": "COLD_SLUG_ROUND", "tank_pump": 0}],
        ["phase", "plates cold again: frost"],
        ["set", {"exchanger": 5999}],
        ["becomes", 5000, 5000, GUARD],
    ],
    exchanger_frost=6000,
)
# Water from a winter's main, and the sun on the roof: else the tank stays cold for days.
COLD_TANK = sequence(
    "plates_as_warm_as_a_cold_tank_let_the_sun_in",
    [
        ["set", {**MILD, "tank_low": 5100, "tank_high": 5100, "collector": 4000, "outdoor": -5000}],
        ["keep", 900000, {}],
        ["set", {"exchanger": 3999}],
        ["becomes", 5000, 5000, GUARD],
        ["phase", "as warm as the tank, for less than ten minutes: frost"],
        ["set", {"exchanger": 4100, "collector": 45000}],
        ["keep", 590000, GUARD],
        ["phase", "more than a kelvin colder: frost"],
        ["set", {"exchanger": 4099}],
        ["keep", 600000, GUARD],
        ["set", {"exchanger": 4100}],
        ["phase", "frosty glycol goes round by the radiator"],
        ["becomes", 5000, 15000, {"duty": "dumping", "reason": "COLD_SLUG_ROUND", "tank_pump": 0}],
        ["phase", "and charges, until the plates are near ice"],
        ["becomes", 5000, 60000, {"duty": "charging"}],
        ["keep", 60000, {"duty": "charging"}],
        ["phase", "plates a kelvin below the tank: frost"],
        ["set", {"exchanger": 4099}],
        ["becomes", 5000, 5000, GUARD],
        ["set", {"exchanger": 4100}],
        ["keep", 590000, GUARD],
        ["becomes", 5000, 60000, {"duty": "charging"}],
        ["set", {"tank_low": 4500, "tank_high": 4500}],
        ["keep", 30000, {"duty": "charging"}],
        ["phase", "plates near ice, as warm as the tank: frost"],
        ["set", {"exchanger": 3999}],
        ["becomes", 5000, 5000, GUARD],
    ],
)
# A sensor of the plates that reads too low must not let the collector boil.
HOT_ABOVE_FROST = sequence(
    "a_hot_collector_is_dumped_past_frosty_plates",
    [
        *FLUSHED,
        ["set", {"exchanger": 3000}],
        ["becomes", 5000, 5000, GUARD],
        ["phase", "not hot enough to dump: frost"],
        ["ramp", "collector", 79999, 5000, GUARD],
        ["keep", 60000, GUARD],
        ["phase", "hot enough, and hot enough to charge as well: frost"],
        ["ramp", "collector", 89999, 5000, GUARD],
        ["keep", 60000, GUARD],
        ["phase", "too hot to charge: dumped past the plates"],
        ["set", {"collector": 90000}],
        ["becomes", 5000, 5000, {**TO_RADIATOR, "reason": "CHARGE_LIMIT_DUMP", "alarms": ["FROST"]}],
        ["keep", 120000, {**TO_RADIATOR, "alarms": ["FROST"]}],
        ["phase", "cooled: frost again"],
        ["ramp", "collector", 60000, 5000, {}],
        ["keep", 60000, GUARD],
    ],
    dump_collector_start=80000,
    dump_collector_stop=70000,
)
COLD_PLATES_IN_SERIES = sequence(
    "cold_plates_bar_a_dump_in_series",
    [
        ["set", {**MILD, "tank_low": 68000, "tank_high": 72000, "collector": 25000, "outdoor": 25000}],
        ["keep", 180000, OFF],
        ["set", {"exchanger": 5999}],
        ["becomes", 5000, 5000, GUARD],
        ["phase", "plates warmer, a collector hot enough to dump: frost all the same"],
        ["set", {"exchanger": 7000}],
        ["ramp", "collector", 105000, 5000, GUARD],
        ["keep", 900000, GUARD],
        ["phase", "plates warm: dumping"],
        ["set", {"exchanger": 8000}],
        ["becomes", 5000, 5000, {"duty": "dumping"}],
    ],
    dump_topology=1,
    exchanger_frost=6000,
)

# The dump valve at rest shuts off the exchanger: glycol beside it may be as cold as it likes.
BYPASSED = sequence(
    "frost_beside_a_bypass_is_none",
    [
        ["set", {"exchanger": 15000}],
        *FLUSHED,
        ["phase", "frosty glycol at the station, off"],
        ["ramp", "loop_return", -5000, 1000, OFF],
        ["ramp", "loop_supply", -5000, 1000, OFF],
        ["keep", 600000, QUIET],
    ],
)

# 40 % freezes at -20.56 C; pumps may stall 3 K above. source: CoolProp INCOMP::MPG, core's margin
STIFF = idle("GLYCOL_STIFF")
STOPPED = {"duty": "idle", "reason": "GLYCOL_STIFF", "collector_pump": 0, "dump_valve_power": 0}
STIFF_AIR = sequence(
    "stiff_glycol_by_the_air",
    [
        *LONG_CHARGING,
        ["phase", "between, still charging"],
        ["ramp", "outdoor", -17560, 1000, BOTH_PUMPS],
        ["keep", 60000, BOTH_PUMPS],
        ["phase", "too cold, off"],
        ["set", {"outdoor": -17561}],
        ["becomes", 5000, 5000, STOPPED],
        ["phase", "off, however hot it gets"],
        ["ramp", "collector", 119000, 5000, STOPPED],
        ["ramp", "collector", 40000, 5000, STOPPED],
        ["keep", 180000, STOPPED],
        ["keep", 60000, STIFF],
        ["phase", "warmer, on again"],
        ["set", {"outdoor": -17560}],
        ["becomes", 5000, 5000, {"duty": "charging"}],
    ],
)
STIFF_COLLECTOR = sequence(
    "stiff_glycol_by_the_collector",
    [
        *FLUSHED,
        ["phase", "between"],
        ["ramp", "collector", -17560, 1000, OFF],
        ["keep", 60000, idle("COLLECTOR_COOL")],
        ["phase", "too cold"],
        ["set", {"collector": -17561}],
        ["becomes", 5000, 5000, STIFF],
        ["phase", "warmer"],
        ["set", {"collector": -17560}],
        ["becomes", 5000, 5000, idle("COLLECTOR_COOL")],
    ],
)
# 25 %, half way between two rows of the table: -9.975 C plus 3 K. regression lock, not truth
STIFF_BETWEEN = sequence(
    "stiff_glycol_between_two_rows_of_the_table",
    [
        *FLUSHED,
        ["phase", "between"],
        ["ramp", "outdoor", -6975, 1000, OFF],
        ["keep", 60000, idle("COLLECTOR_COOL")],
        ["phase", "too cold"],
        ["set", {"outdoor": -6976}],
        ["becomes", 5000, 5000, STIFF],
    ],
    glycol_mass_percent=25,
)
