"""Which relay moves when: valve travel, the tank pump's start and run-on, the order of stops."""

from . import common as c

COLLECTOR_ON = {"duty": "charging", "collector_pump": 1}
RUN_ON = {"duty": "idle", "collector_pump": 0, "tank_pump": 1, "dump_valve_power": 0}
STOP = [["set", {"collector": 20000}], ["becomes", 5000, 5000, RUN_ON]]
HOMING = c.idle("VALVE_HOMING")
CHARGE_DUMP = {"duty": "dumping", "reason": "CHARGE_LIMIT_DUMP"}

TRAVEL_CLOSED = c.sequence(
    "valve_that_blocks_on_its_way",
    [
        *c.FLUSHED,
        ["phase", "to the exchanger: no pump before the valve is there"],
        ["set", c.SUN],
        ["becomes", 5000, 5000, {"duty": "charging", "dump_valve_power": 1, "wait": "WAIT_VALVE"}],
        ["keep", 115000, {"dump_valve_power": 1, "collector_pump": 0, "tank_pump": 0, "wait": "WAIT_VALVE"}],
        ["becomes", 5000, 5000, c.BOTH_PUMPS],
        ["set", {"loop_supply": 22000}],
        ["keep", 90000, c.BOTH_PUMPS],
        ["phase", "to the radiator: no pump before the valve is there"],
        ["set", {"collector": 90000}],
        ["becomes", 5000, 5000, {**CHARGE_DUMP, **c.OFF, "wait": "WAIT_VALVE"}],
        ["keep", 115000, {**CHARGE_DUMP, **c.OFF, "wait": "WAIT_VALVE"}],
        ["becomes", 5000, 5000, {**CHARGE_DUMP, **c.TO_RADIATOR, "wait": "WAIT_NOTHING"}],
        ["phase", "turned round half way: the way back is as long as the way was"],
        ["set", {"collector": 74000}],
        ["becomes", 5000, 5000, {"duty": "charging", "collector_pump": 0, "wait": "WAIT_VALVE"}],
        ["keep", 55000, {"duty": "charging", "collector_pump": 0}],
        ["jump", {"collector": 90000}],
        ["becomes", 15000, 15000, {**CHARGE_DUMP, **c.OFF, "wait": "WAIT_VALVE"}],
        ["keep", 65000, {**c.OFF, "wait": "WAIT_VALVE"}],
        ["becomes", 5000, 5000, {**CHARGE_DUMP, **c.TO_RADIATOR}],
    ],
    minimum_run=0,
)

TRAVEL_OPEN = c.sequence(
    "valve_that_lets_through_on_its_way",
    [
        *c.FLUSHED,
        ["phase", "to the exchanger: the pump need not wait"],
        ["set", c.SUN],
        ["becomes", 5000, 5000, c.BOTH_PUMPS],
        ["set", {"loop_supply": 50000}],
        ["keep", 90000, c.BOTH_PUMPS],
        # Through a moving valve, glycol that is too hot could still meet drinking water.
        ["phase", "to the radiator: the tank pump finishes first"],
        ["set", {"collector": 90000}],
        ["becomes", 5000, 5000, {**CHARGE_DUMP, "collector_pump": 0, "tank_pump": 1, "wait": "WAIT_RUN_ON"}],
        ["keep", 60000, {**CHARGE_DUMP, "collector_pump": 0, "tank_pump": 1}],
        ["keep", 115000, {**CHARGE_DUMP, "collector_pump": 0, "tank_pump": 1, "wait": "WAIT_RUN_ON"}],
        ["becomes", 5000, 5000, {**CHARGE_DUMP, **c.OFF}],
        ["becomes", 5000, 5000, {**CHARGE_DUMP, **c.TO_RADIATOR, "wait": "WAIT_NOTHING"}],
        ["phase", "back to the exchanger: the pump keeps running"],
        ["set", {"collector": 74000}],
        ["becomes", 5000, 5000, {**c.BOTH_PUMPS, "tank_pump": 0, "VALVE_MS": 0}],
        ["phase", "the tank pump joins once the plates show that they are not too hot"],
        ["becomes", 55000, 65000, c.BOTH_PUMPS],
    ],
    dump_crossover=1,
    minimum_run=0,
)

HOMING_BOOT = c.sequence(
    "valve_homing",
    [
        ["phase", "at boot nothing runs before the valve is home, however hot it is"],
        ["set", {**c.MILD, "collector": 100000}],
        ["keep", 10000, c.OFF],
        ["keep", 105000, HOMING],
        ["becomes", 5000, 5000, {"duty": "dumping", "collector_pump": 1, "dump_valve_power": 0}],
        ["set", c.SUN],
        ["becomes", 5000, 240000, c.BOTH_PUMPS],
        ["keep", 60000, c.BOTH_PUMPS],
        ["phase", "a reset in the middle of charging: all off, and home again"],
        ["reset"],
        ["expect", {**c.OFF, "duty": "idle"}],
        ["keep", 10000, c.COLLECTOR_GONE],
        ["keep", 105000, HOMING],
        ["becomes", 5000, 5000, {**c.TO_RADIATOR, "reason": "COLD_SLUG_ROUND"}],
    ],
)

# A valve with open crossover must come home too: its position decides where the glycol goes.
HOMING_OPEN = c.sequence(
    "valve_homing_with_open_crossover",
    [
        ["phase", "at boot nothing runs before the valve is home"],
        ["set", {**c.MILD, "collector": 100000}],
        ["keep", 10000, c.OFF],
        ["keep", 105000, HOMING],
        ["becomes", 5000, 5000, c.TO_RADIATOR],
    ],
    dump_crossover=1,
)

# Power during homing drives the valve away again, from an unknown position.
HOMING_DISTURBED = c.sequence(
    "valve_homing_disturbed_by_hand",
    [
        ["set", {**c.MILD, "collector": 100000}],
        ["keep", 60000, {}],
        ["hand", {"dump_valve_power": 1}],
        ["keep", 30000, {"dump_valve_power": 1, "collector_pump": 0}],
        ["hand", {}],
        ["phase", "half a minute more than was left"],
        ["keep", 85000, HOMING],
        ["becomes", 5000, 15000, c.TO_RADIATOR],
    ],
)
HOMING_BY_HAND = c.sequence(
    "hands_wait_for_a_valve_that_is_not_home",
    [
        ["set", {**c.MILD, "collector": 25000, "outdoor": 25000}],
        ["keep", 10000, c.OFF],
        ["phase", "to the exchanger: nobody knows where it is, so the pump waits"],
        ["hand", {"collector_pump": 1, "dump_valve_power": 1}],
        ["keep", 300000, {"dump_valve_power": 1, "collector_pump": 0, "wait": "WAIT_VALVE"}],
        ["phase", "home first"],
        ["hand", {"collector_pump": 1}],
        ["keep", 115000, {**c.OFF, "wait": "WAIT_VALVE"}],
        ["becomes", 5000, 15000, {"collector_pump": 1}],
        ["phase", "now its way is known"],
        ["hand", {"collector_pump": 1, "dump_valve_power": 1}],
        ["keep", 115000, {"collector_pump": 0}],
        ["becomes", 5000, 15000, {"collector_pump": 1, "dump_valve_power": 1}],
    ],
    dump_topology=1,
)

NO_VALVE = c.sequence(
    "no_valve_no_homing",
    [
        ["phase", "without a valve only the rest is waited for"],
        ["set", {**c.MILD, "collector": 40000, "outdoor": 25000, "loop_supply": 30000}],
        ["keep", 10000, c.OFF],
        ["becomes", 5000, 5000, {**c.OFF, "duty": "charging", "wait": "WAIT_REST"}],
        ["becomes", 45000, 45000, {"collector_pump": 1, "tank_pump": 1, "dump_valve_power": 0, "VALVE_MS": 0}],
    ],
    dump_topology=2,
)

STOP_ORDER = c.sequence(
    "the_collector_pump_stops_first_the_tank_pump_runs_on",
    [
        *c.LONG_CHARGING,
        ["phase", "stop: the collector pump first"],
        *STOP,
        ["phase", "by difference: between, runs on"],
        ["set", {"loop_supply": 22001}],
        ["keep", 60000, RUN_ON],
        ["phase", "by difference: cold, off"],
        ["set", {"loop_supply": 22000}],
        ["becomes", 5000, 5000, c.OFF],
        ["keep", 120000, c.OFF],
        ["phase", "by time"],
        *c.START,
        ["keep", 90000, c.BOTH_PUMPS],
        *STOP,
        ["keep", 175000, RUN_ON],
        ["becomes", 5000, 5000, c.OFF],
        ["keep", 60000, c.OFF],
        ["phase", "by time alone without the sensor"],
        *c.START,
        ["keep", 90000, c.BOTH_PUMPS],
        *STOP,
        ["set", {"loop_supply": 22001}],
        ["keep", 5000, RUN_ON],
        ["break", "loop_supply", "CAUSE_OPEN"],
        ["keep", 170000, RUN_ON],
        ["becomes", 5000, 5000, c.OFF],
        ["keep", 60000, c.OFF],
        ["phase", "by the held value of the sensor: nothing left from the start"],
        *c.START,
        ["keep", 90000, c.BOTH_PUMPS],
        ["set", {"loop_supply": 22000}],
        ["keep", 5000, c.BOTH_PUMPS],
        ["break", "loop_supply", "CAUSE_OPEN"],
        ["keep", 5000, c.BOTH_PUMPS],
        ["set", {"collector": 20000}],
        ["break", "loop_supply", "CAUSE_OPEN"],
        ["becomes", 5000, 5000, {**c.OFF, "duty": "idle", "LOOP_SUPPLY_STATUS": "HELD"}],
        ["keep", 120000, c.OFF],
        ["phase", "charging again ends the run-on"],
        ["set", c.SUN],
        ["becomes", 5000, 240000, c.BOTH_PUMPS],
        ["keep", 90000, c.BOTH_PUMPS],
        *STOP,
        ["keep", 30000, RUN_ON],
        ["set", c.SUN],
        ["becomes", 5000, 5000, {"duty": "charging", "RUNNING_ON": 0}],
        ["becomes", 5000, 240000, c.BOTH_PUMPS],
        ["keep", 90000, c.BOTH_PUMPS],
        ["phase", "and the next run-on has its whole time"],
        *STOP,
        ["keep", 175000, RUN_ON],
        ["becomes", 5000, 5000, c.OFF],
    ],
)

FAULT = c.sequence(
    "a_fault_stops_both_pumps_at_once",
    [
        *c.LONG_CHARGING,
        ["phase", "fault"],
        ["break", "collector", "CAUSE_OPEN"],
        ["becomes", 20000, 20000, {**c.OFF, "duty": "fault_stop"}],
        ["set", c.SUN],
        ["becomes", 15000, 400000, c.BOTH_PUMPS],
        ["keep", 90000, c.BOTH_PUMPS],
        *STOP,
        ["phase", "fault in the run-on"],
        ["break", "collector", "CAUSE_OPEN"],
        ["keep", 15000, RUN_ON],
        ["becomes", 5000, 5000, {**c.OFF, "duty": "fault_stop"}],
    ],
)

JOIN = c.sequence(
    "tank_pump_joins_and_leaves_by_loop_supply",
    [
        *c.FLUSHED,
        ["set", {"collector": 28000}],
        ["becomes", 115000, 130000, {**COLLECTOR_ON, "tank_pump": 0, "wait": "WAIT_EXCHANGER"}],
        ["phase", "cold, off"],
        ["keep", 30000, {**COLLECTOR_ON, "tank_pump": 0}],
        ["phase", "between, still off"],
        ["ramp", "loop_supply", 22999, 1000, {**COLLECTOR_ON, "tank_pump": 0}],
        ["keep", 30000, {**COLLECTOR_ON, "tank_pump": 0}],
        ["phase", "hot, on"],
        ["set", {"loop_supply": 23000}],
        ["becomes", 5000, 5000, {**c.BOTH_PUMPS, "wait": "WAIT_NOTHING"}],
        ["phase", "between, stays on"],
        ["set", {"loop_supply": 21000}],
        ["keep", 60000, c.BOTH_PUMPS],
        ["phase", "cold, off"],
        ["set", {"loop_supply": 20999}],
        ["becomes", 5000, 5000, {**COLLECTOR_ON, "tank_pump": 0, "wait": "WAIT_EXCHANGER"}],
        ["phase", "warm again: rests for four minutes"],
        ["set", {"loop_supply": 23000}],
        ["keep", 235000, {**COLLECTOR_ON, "tank_pump": 0, "wait": "WAIT_EXCHANGER"}],
        ["becomes", 5000, 5000, c.BOTH_PUMPS],
        ["set", {"loop_supply": 20999}],
        ["becomes", 5000, 5000, {**COLLECTOR_ON, "tank_pump": 0}],
        ["keep", 200000, {**COLLECTOR_ON, "tank_pump": 0}],
        ["phase", "break the sensor: by time"],
        ["set", {"exchanger": 25000}],
        ["break", "loop_supply", "CAUSE_CRC"],
        ["keep", 60000, {**COLLECTOR_ON, "tank_pump": 0}],
        ["becomes", 5000, 5000, {**c.BOTH_PUMPS, "LOOP_SUPPLY_STATUS": "LOST"}],
        ["phase", "restore"],
        ["restore", "loop_supply"],
        ["keep", 10000, c.BOTH_PUMPS],
        ["becomes", 5000, 5000, {**COLLECTOR_ON, "tank_pump": 0}],
        ["keep", 240000, {**COLLECTOR_ON, "tank_pump": 0}],
        ["set", {"loop_supply": 23000}],
        ["becomes", 5000, 5000, c.BOTH_PUMPS],
        ["phase", "the next charge: no rest"],
        ["set", c.DARK],
        ["becomes", 5000, 90000, c.OFF],
        ["set", c.SUN],
        ["becomes", 5000, 130000, c.BOTH_PUMPS],
    ],
)

JOIN_BY_TIME = c.sequence(
    "tank_pump_joins_by_time_without_loop_supply",
    [
        *c.FLUSHED,
        ["phase", "too early, off"],
        ["set", {"collector": 40000}],
        ["becomes", 115000, 130000, {**COLLECTOR_ON, "tank_pump": 0}],
        ["keep", 55000, {**COLLECTOR_ON, "tank_pump": 0, "wait": "WAIT_EXCHANGER"}],
        ["phase", "pumped long enough, on"],
        ["becomes", 5000, 5000, c.BOTH_PUMPS],
        ["keep", 60000, c.BOTH_PUMPS],
        ["phase", "off: it runs on its whole time"],
        *STOP,
        ["keep", 175000, RUN_ON],
        ["becomes", 5000, 5000, c.OFF],
    ],
    loop_supply_fitted=0,
)


JOIN_BY_TIME_BARE = c.sequence(
    "tank_pump_joins_by_time_without_loop_supply_and_valve",
    [
        ["set", {**c.MILD, "collector": 25000, "outdoor": 25000}],
        ["keep", 120000, c.OFF],
        ["phase", "too early, off"],
        ["set", {"collector": 40000}],
        ["becomes", 5000, 5000, {**COLLECTOR_ON, "tank_pump": 0}],
        ["keep", 55000, {**COLLECTOR_ON, "tank_pump": 0, "wait": "WAIT_EXCHANGER"}],
        ["phase", "pumped long enough, on"],
        ["becomes", 5000, 5000, {**COLLECTOR_ON, "tank_pump": 1}],
    ],
    loop_supply_fitted=0,
    dump_topology=2,
)


# With an open crossover, pumping while the valve is away from the exchanger is no transit time.
def join_open(name, **settings):
    """A sequence: the valve turns to the exchanger under a running pump; the plates are cold."""
    return c.sequence(
        name,
        [
            ["set", {"exchanger": 20000}],
            *c.AWAKE,
            ["set", {"collector": 40000}],
            ["becomes", 5000, 5000, {**c.ROUND, **c.TO_RADIATOR}],
            ["becomes", 195000, 205000, COLLECTOR_ON],
            ["phase", "the valve has only begun to move: nothing can have arrived"],
            ["expect", {"tank_pump": 0}],
            ["keep", 55000, {"tank_pump": 0}],
        ],
        dump_crossover=1,
        loop_supply_fitted=0,
        loop_volume=10000,
        **settings,
    )


JOIN_OPEN = join_open("tank_pump_delay_counts_with_the_way_to_the_exchanger_open")
JOIN_OPEN_BLIND = join_open("tank_pump_delay_counts_with_the_way_open_and_no_sensor_on_the_plates", exchanger_fitted=0)
