"""Frosty glycol must not meet drinking water: the latch, what sets it and what clears it."""

from . import common as c

NIGHT = [["set", c.DARK], ["becomes", 5000, 100000, {"duty": "idle", "collector_pump": 0}]]
GO_ROUND = {**c.ROUND, **c.TO_RADIATOR}
AT_ONCE = {"duty": "charging", "reason": "DIFFERENCE"}
REFUSED = c.idle("COLD_SLUG_REFUSED")
FROST = [["ramp", "outdoor", -10000, 1000, {}], ["keep", 10000, c.BOTH_PUMPS]]
TOO_HOT = [["set", {"collector": 90000}], ["becomes", 5000, 240000, {**c.TO_RADIATOR, "reason": "CHARGE_LIMIT_DUMP"}]]
COOLER = [["set", {"collector": 74000}], ["becomes", 5000, 5000, GO_ROUND]]

# 15 L, the loop volume and half again, take 200 s at 4.5 l/min. source: the setting's defaults
BOOT = c.sequence(
    "cold_slug_from_boot",
    [
        *c.AWAKE,
        ["phase", "hours of warmth do not clear it"],
        ["keep", 7200000, {**c.OFF, "LOOP_LOWEST_MC": -50000}],
        ["phase", "round through the radiator"],
        ["set", c.SUN],
        ["becomes", 5000, 5000, GO_ROUND],
        ["keep", 195000, GO_ROUND],
        ["phase", "pumped round, charging"],
        ["becomes", 5000, 5000, {**AT_ONCE, "LOOP_LOWEST_MC": 32000}],
        ["becomes", 5000, 130000, c.BOTH_PUMPS],
        ["phase", "after a reset again"],
        ["reset"],
        ["expect", {"LOOP_LOWEST_MC": -50000}],
        ["becomes", 120000, 120000, GO_ROUND],
    ],
    loop_volume=10000,
)

PARTS = c.sequence(
    "cold_slug_pumped_in_two_parts",
    [
        *c.AWAKE,
        ["set", c.SUN],
        ["becomes", 5000, 5000, GO_ROUND],
        ["phase", "half of it pumped, then the sun goes"],
        ["keep", 100000, GO_ROUND],
        *NIGHT,
        ["keep", 600000, c.OFF],
        ["phase", "the other half is enough"],
        ["set", c.SUN],
        ["becomes", 5000, 5000, GO_ROUND],
        ["keep", 90000, GO_ROUND],
        ["becomes", 5000, 5000, AT_ONCE],
        *NIGHT,
        ["phase", "a frosty sign in the middle starts it again"],
        ["ramp", "collector", 3000, 5000, c.OFF],
        ["set", c.SUN],
        ["becomes", 5000, 200000, GO_ROUND],
        ["keep", 100000, GO_ROUND],
        ["set", {"collector": 3999}],
        ["becomes", 5000, 5000, {"duty": "idle", "collector_pump": 0}],
        ["set", c.SUN],
        ["becomes", 5000, 100000, GO_ROUND],
        ["keep", 195000, GO_ROUND],
        ["becomes", 5000, 5000, AT_ONCE],
    ],
    loop_volume=10000,
)

COLLECTOR = c.sequence(
    "cold_slug_by_the_collector",
    [
        *c.FLUSHED,
        ["phase", "not frosty: charging"],
        ["ramp", "collector", 4000, 5000, c.OFF],
        ["keep", 60000, c.OFF],
        ["set", c.SUN],
        ["becomes", 5000, 5000, AT_ONCE],
        ["becomes", 5000, 130000, c.BOTH_PUMPS],
        ["keep", 90000, c.BOTH_PUMPS],
        *NIGHT,
        ["phase", "frosty for one step: round"],
        ["ramp", "collector", 3999, 5000, {}],
        ["set", c.SUN],
        ["becomes", 5000, 300000, GO_ROUND],
        ["phase", "what arrives is still frosty: round"],
        ["set", {"loop_supply": 3999}],
        ["keep", 120000, GO_ROUND],
        ["break", "loop_supply", "CAUSE_NOT_READY"],
        ["keep", 30000, {**GO_ROUND, "LOOP_SUPPLY_STATUS": "HELD"}],
        ["phase", "what arrives is warm enough: charging"],
        ["set", {"loop_supply": 4000}],
        ["becomes", 5000, 5000, AT_ONCE],
    ],
)

OUTDOOR = c.sequence(
    "cold_slug_by_air_after_ten_minutes",
    [
        *c.CHARGING,
        ["ramp", "outdoor", 3999, 1000, {}],
        ["keep", 90000, c.BOTH_PUMPS],
        *NIGHT,
        ["phase", "stood for less than ten minutes, the valve's way included: charging"],
        ["keep", 470000, {}],
        ["set", c.SUN],
        ["becomes", 5000, 5000, AT_ONCE],
        ["becomes", 120000, 120000, c.BOTH_PUMPS],
        ["keep", 90000, c.BOTH_PUMPS],
        *NIGHT,
        ["phase", "stood for ten minutes: round"],
        ["keep", 585000, {}],
        ["break", "outdoor", "CAUSE_CRC"],
        ["jump", c.SUN],
        ["keep", 10000, {}],
        ["becomes", 5000, 5000, {**c.ROUND, "LOOP_LOWEST_MC": 3999, "OUTDOOR_STATUS": "HELD"}],
        ["restore", "outdoor"],
        ["becomes", 5000, 300000, c.BOTH_PUMPS],
        ["phase", "air at exchanger_frost: charging"],
        ["set", {"outdoor": 4000}],
        ["keep", 90000, c.BOTH_PUMPS],
        *NIGHT,
        ["keep", 1200000, {}],
        ["set", c.SUN],
        ["becomes", 5000, 5000, AT_ONCE],
    ],
)

OUTDOOR_LOST = c.sequence(
    "cold_slug_while_air_is_unknown",
    [
        *c.LONG_CHARGING,
        ["phase", "break the sensor: after ten minutes of standing anything may be out there"],
        ["break", "outdoor", "CAUSE_SILENT"],
        *NIGHT,
        ["keep", 595000, {}],
        ["set", c.SUN],
        ["becomes", 5000, 5000, {**c.ROUND, "LOOP_LOWEST_MC": -50000}],
        ["becomes", 5000, 300000, c.BOTH_PUMPS],
        ["phase", "restore"],
        ["restore", "outdoor"],
        ["keep", 90000, c.BOTH_PUMPS],
        *NIGHT,
        ["keep", 1200000, {}],
        ["set", c.SUN],
        ["becomes", 5000, 5000, AT_ONCE],
    ],
)

RADIATOR = c.sequence(
    "the_radiator_is_a_slug_of_its_own",
    [
        *c.LONG_CHARGING,
        ["phase", "mild: charging goes on after a dump"],
        *TOO_HOT,
        ["set", {"collector": 74000}],
        ["becomes", 5000, 5000, AT_ONCE],
        ["becomes", 5000, 130000, c.BOTH_PUMPS],
        *FROST,
        ["phase", "frost: the first glycol through the radiator sets the latch"],
        *TOO_HOT,
        ["expect", {"LOOP_LOWEST_MC": 32000}],
        ["becomes", 5000, 5000, {"LOOP_LOWEST_MC": -10000}],
        *COOLER,
        ["phase", "pumped round, charging"],
        ["becomes", 10000, 10000, AT_ONCE],
        ["becomes", 5000, 130000, c.BOTH_PUMPS],
        ["phase", "unknown air: the radiator may hold anything"],
        ["break", "outdoor", "CAUSE_CRC"],
        ["keep", 65000, c.BOTH_PUMPS],
        *TOO_HOT,
        ["becomes", 5000, 5000, {"LOOP_LOWEST_MC": -50000}],
    ],
    minimum_run=0,
)

# While the valve moves home the exchanger is open: frosty glycol waits, whatever the crossover.
ROUND_MEANS_ROUND = c.sequence(
    "cold_slug_waits_for_an_open_valve_to_come_home",
    [
        *c.LONG_CHARGING,
        ["keep", 60000, c.BOTH_PUMPS],
        ["phase", "the loop becomes unknown, the valve still stands at the exchanger"],
        ["break", "collector", "CAUSE_OPEN"],
        ["becomes", 20000, 20000, {**c.OFF, "duty": "fault_stop"}],
        ["set", c.SUN],
        ["becomes", 15000, 15000, c.ROUND],
        ["keep", 100000, {"collector_pump": 0}],
        ["phase", "home"],
        ["becomes", 5000, 10000, GO_ROUND],
    ],
    dump_crossover=1,
)

RADIATOR_OPEN = c.sequence(
    "the_radiator_is_a_slug_without_a_stop_of_the_pump",
    [
        *c.FLUSHED,
        ["set", {"collector": 28000, "loop_supply": 20500}],
        ["becomes", 5000, 5000, {"duty": "charging", "collector_pump": 1, "tank_pump": 0}],
        ["ramp", "outdoor", -10000, 1000, {}],
        # After two minutes of valve travel the glycol in the radiator stands.
        ["keep", 200000, {"duty": "charging", "collector_pump": 1, "tank_pump": 0}],
        ["phase", "frost: the valve turns to the radiator while the pump runs"],
        ["set", {"collector": 90000}],
        ["becomes", 5000, 15000, {**c.TO_RADIATOR, "reason": "CHARGE_LIMIT_DUMP"}],
        ["becomes", 5000, 5000, {"LOOP_LOWEST_MC": -10000}],
        # Frosty glycol goes round, but only after the whole travel of the valve.
        ["set", {"collector": 74000}],
        ["becomes", 5000, 5000, {**c.ROUND, **c.OFF, "wait": "WAIT_VALVE"}],
        ["becomes", 90000, 120000, GO_ROUND],
    ],
    dump_crossover=1,
)

RADIATOR_BLIND = c.sequence(
    "the_radiator_is_a_slug_without_an_outdoor_sensor",
    [
        *c.LONG_CHARGING,
        ["phase", "nobody knows the air: the radiator may hold anything"],
        *TOO_HOT,
        ["keep", 5000, {}],
        *COOLER,
    ],
    **{"outdoor_fitted": 0, "minimum_run": 0},
)


def no_bypass(name, topology):
    """Glycol has to pass the exchanger: refused, or in pulses behind water that moves.

    At 10 C a pipe may be at -5 C; air at 0 C, which the sensor may show 5 K too high, keeps it
    there. That needs water of 19 C.
    """
    # In series the valve takes longer than the plates.
    power, wait, left_ms = (1, "WAIT_VALVE", 35000) if topology == 1 else (0, "WAIT_TANK_PUMP_FIRST", 5000)
    water = {**AT_ONCE, "collector_pump": 0, "tank_pump": 1, "alarm": 0}
    return c.sequence(
        f"cold_slug_{name}",
        [
            ["set", {**c.MILD, "outdoor": 10000, "tank_low": 18999, "tank_high": 18999, "exchanger": 20500}],
            ["keep", 15000, c.OFF],
            ["ramp", "outdoor", 0, 1000, c.OFF],
            ["keep", 130000, c.OFF],
            ["phase", "tank too cold: refused"],
            ["expect", {"LOOP_LOWEST_MC": -5000, "LOOP_KNOWN": 1}],
            ["ramp", "collector", 70000, 5000, c.OFF],
            ["keep", 600000, REFUSED],
            ["phase", "warmer above: the tank pump mixes"],
            ["set", {"tank_high": 19000}],
            ["keep", 5000, REFUSED],
            ["set", {"tank_high": 19001}],
            ["becomes", 5000, 5000, {**water, "wait": wait}],
            ["keep", 5000, {**water, "wait": wait}],
            ["phase", "the plates are warm enough, but have not moved: no glycol"],
            ["set", {"tank_high": 23000}],
            ["keep", 70000, water],
            ["phase", "they have moved, but are too cold: no glycol"],
            ["set", {"exchanger": 18999}],
            ["keep", 10000, {**water, "wait": wait}],
            ["phase", "warm enough: a pulse"],
            ["set", {"exchanger": 19000}],
            ["becomes", left_ms, left_ms, {"collector_pump": 1}],
            # Only now: with the pump at rest this would be sinking glycol.
            ["set", {"loop_supply": -5000}],
            ["keep", 60000, water],
            ["becomes", 5000, 5000, {"collector_pump": 1}],
            ["phase", "water as warm as the plates once were: another"],
            ["set", {"exchanger": 20500}],
            ["keep", 60000, water],
            ["becomes", 5000, 5000, {"collector_pump": 1}],
            ["phase", "the plates get too cold: no more"],
            ["set", {"exchanger": 18990}],
            ["keep", 120000, water],
            ["phase", "pulses until the sun's glycol stays"],
            ["set", {"loop_supply": 10000}],
            ["set", {"exchanger": 19000}],
            ["becomes", 5000, 15000, {"collector_pump": 1}],
            ["set", {"loop_supply": 29999}],
            ["keep", 60000, water],
            ["becomes", 5000, 5000, {"collector_pump": 1}],
            ["set", {"loop_supply": 30000}],
            ["keep", 25000, water],
            ["becomes", 5000, 5000, {**AT_ONCE, "collector_pump": 0, "LOOP_LOWEST_MC": 30000}],
            ["set", {"exchanger": 25000}],
            ["becomes", 5000, 60000, {"collector_pump": 1, "tank_pump": 1, "dump_valve_power": power}],
            ["set", {"loop_supply": 62500}],
            ["keep", 120000, {"collector_pump": 1, "tank_pump": 1, "duty": "charging"}],
            ["phase", "the sun has gone: the pipes hold glycol as cold as the tank's bottom"],
            ["set", {"collector": 20000, "loop_return": 30000}],
            ["becomes", 5000, 90000, {"collector_pump": 0, "duty": "idle"}],
            ["keep", 5000, {"LOOP_LOWEST_MC": 18999}],
            ["phase", "break the sensor of the air, ten minutes after the pump"],
            ["set", {"tank_high": 40000, "loop_supply": 25000}],
            ["break", "outdoor", "CAUSE_CRC"],
            ["keep", 600000, {"collector_pump": 0}],
            ["set", {"collector": 70000}],
            ["becomes", 5000, 5000, {**REFUSED, "LOOP_LOWEST_MC": -50000, "LOOP_KNOWN": 0}],
            ["phase", "restore: judged again"],
            ["set", {"outdoor": 7900}],
            ["becomes", 15000, 15000, {"duty": "charging", "LOOP_LOWEST_MC": -7100, "LOOP_KNOWN": 1}],
        ],
        dump_topology=topology,
        loop_volume=3000,
    )


NO_BYPASS = [no_bypass("through_the_exchanger_only", 2), no_bypass("with_the_radiator_in_series", 1)]

JUDGED = c.sequence(
    "unknown_loop_without_a_bypass_is_judged_once",
    [
        ["phase", "air unknown from boot: refused"],
        ["set", {**c.MILD, "collector": 60000, "tank_low": 5000, "tank_high": 6000, "outdoor": 19000, "exchanger": 15000}],
        ["break", "outdoor", "CAUSE_SILENT"],
        ["keep", 10000, c.OFF],
        ["keep", 120000, {**REFUSED, "LOOP_KNOWN": 0}],
        ["phase", "air at 19 C: 15 K of lag end at exchanger_frost, charging"],
        ["restore", "outdoor"],
        ["break", "collector", "CAUSE_NOT_READY"],
        ["becomes", 15000, 15000, {"duty": "charging", "LOOP_LOWEST_MC": 4000, "LOOP_KNOWN": 1, "COLLECTOR_STATUS": "HELD"}],
        ["restore", "collector"],
        ["phase", "a reset, colder: refused"],
        ["set", {"outdoor": 10000}],
        ["reset"],
        ["becomes", 15000, 15000, {**REFUSED, "LOOP_LOWEST_MC": -5000}],
        ["phase", "judged once: the sun on the outdoor sensor warms the loop slowly"],
        ["ramp", "outdoor", 30000, 1000, {**REFUSED, "LOOP_LOWEST_MC": -5000}],
        ["becomes", 5000, 60000, {**REFUSED, "LOOP_LOWEST_MC": -4667}],
        ["keep", 55000, {**REFUSED, "LOOP_LOWEST_MC": -4667}],
        ["phase", "a collector that was lost: judged again, by the colder of the two"],
        ["break", "collector", "CAUSE_OPEN"],
        ["becomes", 20000, 20000, {"duty": "fault_stop", "LOOP_KNOWN": 0, "LOOP_LOWEST_MC": -50000}],
        ["set", {"collector": 60000}],
        ["break", "outdoor", "CAUSE_NOT_READY"],
        ["becomes", 15000, 15000, {"duty": "charging", "LOOP_LOWEST_MC": 15000, "OUTDOOR_STATUS": "HELD"}],
    ],
    dump_topology=2,
)

# With the outdoor sensor lost the collector shows frost, then the sun warms it again.
SEEN = c.sequence(
    "frost_that_was_seen_is_not_forgotten",
    [
        ["set", {**c.MILD, "outdoor": 20000, "collector": 20000, "tank_low": 30000, "tank_high": 32000}],
        ["keep", 15000, c.OFF],
        ["expect", {"LOOP_LOWEST_MC": 5000, "LOOP_KNOWN": 1}],
        ["keep", 120000, c.OFF],
        ["break", "outdoor", "CAUSE_CRC"],
        ["keep", 660000, c.OFF],
        ["expect", {"LOOP_LOWEST_MC": -50000, "LOOP_KNOWN": 0}],
        ["ramp", "collector", -13000, 5000, c.OFF],
        ["keep", 30000, c.OFF],
        ["ramp", "collector", 63000, 5000, c.OFF],
        ["phase", "the air is known again: judged by what was seen"],
        ["restore", "outdoor"],
        ["becomes", 15000, 15000, {**REFUSED, "LOOP_LOWEST_MC": -10000, "LOOP_KNOWN": 1}],
        ["phase", "a reset knows of nothing that was seen"],
        ["reset"],
        ["keep", 10000, c.OFF],
        ["becomes", 5000, 120000, {"LOOP_LOWEST_MC": 5000}],
    ],
    dump_topology=2,
)

# With an open crossover, glycol passes the frosty radiator while the valve is moving.
SERIES_TRAVEL = c.sequence(
    "glycol_waits_until_the_frosty_radiator_is_out_of_its_way",
    [
        ["set", {**c.MILD, "outdoor": 20000, "collector": 20000}],
        ["keep", 130000, c.OFF],
        ["ramp", "outdoor", 3999, 5000, c.OFF],
        ["keep", 15000, c.OFF],
        ["phase", "the pump waits for the valve's end, whatever valve it is"],
        ["set", {"collector": 39500, "loop_supply": 32000}],
        ["becomes", 5000, 5000, {"duty": "charging", "dump_valve_power": 1, "collector_pump": 0, "wait": "WAIT_VALVE"}],
        ["keep", 115000, {"dump_valve_power": 1, "collector_pump": 0, "wait": "WAIT_VALVE"}],
        ["becomes", 5000, 5000, {"collector_pump": 1, "dump_valve_power": 1}],
    ],
    dump_topology=1,
    dump_crossover=1,
)

# In frost, with no way round the exchanger, the radiator in series must not take a frosty loop.
SERIES_DUMP = c.sequence(
    "radiator_in_series_takes_no_frosty_loop",
    [
        ["set", {**c.MILD, "outdoor": -10000, "collector": 15000}],
        ["keep", 130000, c.OFF],
        ["phase", "too hot to charge: refused"],
        ["ramp", "collector", 90000, 5000, {"collector_pump": 0}],
        ["keep", 60000, c.idle("COLD_SLUG_SERIES")],
        ["phase", "tank full and hot: refused"],
        ["ramp", "tank_low", 70000, 1000, {"collector_pump": 0}],
        ["ramp", "tank_high", 75000, 1000, {"collector_pump": 0}],
        ["ramp", "collector", 100000, 5000, {"collector_pump": 0}],
        ["keep", 60000, c.idle("COLD_SLUG_SERIES")],
        ["phase", "both tank sensors lost: refused"],
        ["break", "tank_low", "CAUSE_CRC"],
        ["break", "tank_high", "CAUSE_CRC"],
        ["becomes", 60000, 75000, c.idle("TANK_UNKNOWN")],
    ],
    dump_topology=1,
)

# The loop is warm, but the radiator stood in frost and would empty through the exchanger.
SERIES_RADIATOR = c.sequence(
    "radiator_in_series_is_a_slug_ahead_of_the_exchanger",
    [
        ["set", {**c.MILD, "outdoor": 25000, "collector": 25000}],
        ["keep", 180000, c.OFF],
        ["set", c.SUN],
        ["becomes", 5000, 300000, c.BOTH_PUMPS],
        ["ramp", "outdoor", -10000, 1000, {}],
        ["keep", 600000, c.BOTH_PUMPS],
        ["phase", "too hot to charge: the standing water must not meet the radiator's content"],
        ["set", {"collector": 90000}],
        ["keep", 360000, {"collector_pump": 0}],
    ],
    dump_topology=1,
)

# The tank pump takes water from the bottom, unknown without tank_low, whatever the top reads.
BOTTOM_UNKNOWN = c.sequence(
    "cold_slug_with_tank_low_lost",
    [
        ["set", {**c.MILD, "outdoor": 10000, "tank_low": 10000, "tank_high": 20000}],
        ["keep", 130000, c.OFF],
        ["phase", "cold bottom: refused"],
        ["ramp", "collector", 70000, 5000, c.OFF],
        ["keep", 60000, REFUSED],
        ["phase", "unknown bottom: still refused"],
        ["ramp", "tank_high", 60000, 1000, {"collector_pump": 0}],
        ["break", "tank_low", "CAUSE_CRC"],
        ["keep", 65000, {"collector_pump": 0}],
        ["keep", 120000, {**REFUSED, "TANK_LOW_STATUS": "LOST"}],
    ],
    dump_topology=2,
)

# Without a bypass the loop cannot be flushed: it follows milder weather by a ninetieth a minute.
MILD_HOURS = c.sequence(
    "a_loop_without_a_bypass_follows_milder_weather",
    [
        ["set", {**c.MILD, "collector": 10000, "outdoor": 20000}],
        ["keep", 70000, c.OFF],
        ["phase", "a collector 10 K colder: the outdoor sensor reads 7 K high"],
        # From -5 C to 13 C: a fifth of a kelvin a minute.
        ["expect", {"LOOP_LOWEST_MC": -4800, "AIR_OVER_MK": 7000}],
        ["keep", 55000, {**c.OFF, "LOOP_LOWEST_MC": -4800}],
        ["becomes", 5000, 5000, {**c.OFF, "LOOP_LOWEST_MC": -4603, "AIR_OVER_MK": 7000}],
        ["phase", "sun on the collector: the air counts, less that"],
        ["ramp", "collector", 25000, 1000, c.OFF],
        ["keep", 40000, c.OFF],
        ["becomes", 5000, 5000, {"LOOP_LOWEST_MC": -4408, "AIR_OVER_MK": 6996}],
        ["phase", "six hours: no longer frosty"],
        ["keep", 21600000, c.OFF],
        ["expect", {"LOOP_LOWEST_MC": 13738, "AIR_OVER_MK": 5556}],
        ["phase", "after an hour of rest as cold as the air at once, the sensor's error included"],
        ["ramp", "outdoor", 10000, 1000, c.OFF],
        ["keep", 60000, c.OFF],
        ["expect", {"LOOP_LOWEST_MC": 4444}],
        ["phase", "the collector: three kelvin of radiation at night"],
        ["ramp", "collector", 1000, 5000, c.OFF],
        ["expect", {"LOOP_LOWEST_MC": 4000}],
        ["phase", "break the sensor of the air for less than ten minutes: as it was"],
        ["break", "outdoor", "CAUSE_CRC"],
        ["keep", 590000, {**c.OFF, "LOOP_LOWEST_MC": 4000, "LOOP_KNOWN": 1}],
        ["restore", "outdoor"],
        ["keep", 15000, c.OFF],
        ["phase", "for longer: unknown"],
        ["break", "outdoor", "CAUSE_CRC"],
        ["keep", 590000, c.OFF],
        ["becomes", 5000, 15000, {**c.OFF, "LOOP_LOWEST_MC": -50000}],
    ],
    dump_topology=2,
)

# Nobody knows whether the water moves.
BLIND_PLATES = c.sequence(
    "cold_slug_without_the_exchanger_sensor",
    [
        ["set", {**c.MILD, "outdoor": 10000, "tank_low": 40000, "tank_high": 42000, "exchanger": 15000}],
        ["keep", 15000, c.OFF],
        ["phase", "warm enough: the tank pump runs"],
        ["ramp", "collector", 70000, 5000, {}],
        ["keep", 60000, {**AT_ONCE, "collector_pump": 0, "tank_pump": 1}],
        ["phase", "break the sensor: refused"],
        ["break", "exchanger", "CAUSE_OPEN"],
        ["keep", 65000, {"collector_pump": 0}],
        ["keep", 240000, {"collector_pump": 0, "duty": "idle", "reason": "COLD_SLUG_REFUSED"}],
        ["phase", "restore"],
        ["restore", "exchanger"],
        ["becomes", 15000, 15000, {**AT_ONCE, "tank_pump": 1}],
    ],
    dump_topology=2,
)
