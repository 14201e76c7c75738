"""Every truth can be broken, and a sound station breaks none."""

from array import array
from pathlib import Path

import pytest
from twinloop.control import conditions as c
from twinloop.control import reasons as why
from twinloop.control import rules
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_sim.explore import truths
from twinloop_sim.explore.truths import facts, reasons
from twinloop_sim.explore.truths import memory as mem

NAMES = [truth.__name__ for truth in truths.TRUTHS]
C, T, V, A = (s.COMMAND + output for output in (s.COLLECTOR_PUMP, s.TANK_PUMP, s.DUMP_VALVE_POWER, s.ALARM))
F = s.COMMAND + s.AIR_FAN
AIR, DRAWS = {cfg.AIR_HEATER: 1}, {cfg.AIR_HEATER: 1, cfg.FAN_PLACE: cfg.DRAWS}
BLOW = {F: 1, s.AIR_REASON: why.AIR_WARM, s.AIR_COLLECTOR_MC: 30000}
FAN_HELD = {s.IN_HAND_MASK: 1 << s.AIR_FAN}
HELD_ON = {**FAN_HELD, s.IN_HAND_VALUE: 1 << s.AIR_FAN}
LONG_LOST = {s.OUTDOOR_STATUS: s.LOST, s.AGE_MS + s.OUTDOOR: 600000}
CHARGE = {C: 1, T: 1, V: 1, s.DUTY: s.CHARGING, s.REASON: why.DIFFERENCE, s.COLLECTOR_MC: 70000, s.LOOP_SUPPLY_MC: 60000}
# Without a bypass: a frosty loop behind water that moves.
WET = {mem.COLDEST_MC: -4000, mem.WAS + s.TANK_PUMP: 1}
COLD = {s.DUTY: s.NIGHT_COOLING, s.REASON: why.NIGHT_COOLING_AWAY, C: 1, T: 1, V: 1}
LOW = {s.DUTY: s.IDLE, s.REASON: why.NO_DIFFERENCE}
FROSTY_RADIATOR = {s.CONDITIONS + c.COLD_DUMP // c.BITS: 1 << c.COLD_DUMP % c.BITS}

WAKE_SET = (s.TANK_OVER, s.TANK_FULL, s.STAGNATION, s.CHARGE_HOT, s.ROOM_WARM)

# For each truth: changes to a calm state, memory, settings and inputs that break it.
DEFECTS = {
    "wakes_protected": [({**dict.fromkeys(WAKE_SET, 1), latch: 0}, {mem.AWAKE: 0}, {}, {}) for latch in WAKE_SET],
    "collector_limit": [({**CHARGE, s.COLLECTOR_MC: 120000}, {}, {}, {})],
    "collector_elsewhere": [({**CHARGE, s.LOOP_SUPPLY_MC: 120000}, {}, {}, {}), ({**CHARGE, s.TAP_MC: 120000}, {}, {}, {})],
    "collector_unknown": [({**CHARGE, s.COLLECTOR_STATUS: s.LOST}, {}, {}, {})],
    "collector_lost_stops": [({s.COLLECTOR_STATUS: s.LOST}, {}, {}, {})],
    "steam_memory": [(CHARGE, {mem.STEAM: 1}, {}, {})],
    "valve_home_first": [(CHARGE, {mem.PLACED: 0}, {}, {})],
    "valve_goes_home": [({V: 1, s.DUTY: s.CHARGING}, {mem.PLACED: 0}, {}, {})],
    "valve_between_ends": [
        (CHARGE, {mem.VALVE_LEAST_MS: 119999}, {}, {}),
        ({**CHARGE, V: 0}, {mem.VALVE_MOST_MS: 1}, {}, {}),
    ],
    "tank_unknown": [({**CHARGE, s.TANK_LOW_STATUS: s.LOST, s.TANK_HIGH_STATUS: s.LOST}, {}, {}, {})],
    "tank_limit": [(CHARGE, {mem.OVER: 1}, {}, {})],
    "above_tank_limit": [({**CHARGE, s.TANK_HIGH_MC: 75001}, {mem.ABOVE_MS: 65000}, {}, {})],
    "hand_on_hot_glycol": [
        ({C: 1, V: 1, s.DUTY: s.HAND}, {mem.HOT: 1}, {}, {}),
        ({C: 1, s.DUTY: s.HAND}, {mem.HOT: 1, mem.VALVE_MOST_MS: 6000}, {}, {}),
        ({C: 1, s.DUTY: s.HAND}, {mem.HOT: 1, mem.VALVE_MOST_MS: 0}, {cfg.DUMP_TOPOLOGY: cfg.SERIES}, {}),
    ],
    "hot_exchanger": [
        *[({T: 1, s.DUTY: duty, s.EXCHANGER_MC: 90000}, {mem.WAS + s.TANK_PUMP: 0}, {}, {}) for duty in (s.HAND, s.EXERCISE)],
        ({T: 1, s.DUTY: s.HAND, s.EXCHANGER_STATUS: s.ABSENT}, {mem.WAS + s.TANK_PUMP: 0, mem.SCALDED_MS: 7000000}, {}, {}),
    ],
    "cooling_colder": [
        ({**COLD, s.COLLECTOR_MC: 30000}, {}, {}, {}),
        ({**COLD, s.COLLECTOR_MC: 5000, s.LOOP_SUPPLY_MC: 30000}, {}, {}, {}),
        ({**COLD, s.COLLECTOR_MC: 5000, s.COLLECTOR_STATUS: s.LOST}, {}, {}, {}),
    ],
    "charge_limit": [(CHARGE, {mem.HOT: 1}, {}, {})],
    "exchanger_warm": [
        ({**CHARGE, s.LOOP_SUPPLY_MC: 30000}, {}, {}, {}),
        ({**CHARGE, s.LOOP_SUPPLY_STATUS: s.LOST}, {mem.ON_MS: 59999}, {}, {}),
    ],
    "tank_full": [(CHARGE, {mem.FULL: 1}, {}, {})],
    "run_on_bounded": [({T: 1}, {mem.RUN_ON_MS: 240000}, {}, {})],
    "rest_kept": [
        (CHARGE, {mem.OFF_MS: 59999}, {}, {}),
        ({**CHARGE, s.LOOP_LOWEST_MC: 3999}, {mem.OFF_MS: 299999}, {cfg.MINIMUM_REST: 300000}, {}),
        ({**CHARGE, s.LOOP_LOWEST_MC: 4000}, {mem.OFF_MS: 299999}, {cfg.MINIMUM_REST: 300000, cfg.DUMP_TOPOLOGY: cfg.SERIES}, {}),
        ({**CHARGE, s.LOOP_LOWEST_MC: 3999}, {mem.OFF_MS: 59999}, {cfg.MINIMUM_REST: 300000, cfg.DUMP_TOPOLOGY: cfg.SERIES}, {}),
    ],
    "run_kept": [(LOW, {mem.WAS: 1, mem.WAS_DUTY: s.CHARGING, mem.ON_MS: 89999}, {}, {})],
    "safe_stop": [
        ({s.DUTY: duty, s.REASON: why.COLLECTOR_UNKNOWN, command: 1}, {}, {}, {})
        for duty in (s.FAULT_STOP, s.MAINTENANCE)
        for command in (C, T, V)
    ],
    "pump_of_duty": [
        ({C: 1, s.DUTY: s.STAGNATION_HOLD}, {}, {}, {}),
        ({C: 1, T: 1, s.DUTY: s.DUMPING}, {}, {}, {}),
        ({C: 1, T: 1, s.DUTY: s.EXERCISE}, {}, {}, {}),
    ],
    "valve_of_duty": [
        ({V: 1}, {}, {}, {}),
        ({**CHARGE, V: 0}, {}, {}, {}),
        (CHARGE, {}, {cfg.DUMP_TOPOLOGY: cfg.NONE}, {}),
        ({**COLD, V: 0}, {}, {}, {}),
        (COLD, {}, {cfg.DUMP_TOPOLOGY: cfg.SERIES}, {}),
    ],
    "frost_guard": [
        ({s.DUTY: s.FROST_GUARD}, {}, {}, {}),
        ({s.DUTY: s.FROST_GUARD, C: 1, T: 1}, {}, {}, {}),
        ({s.EXCHANGER_MC: 3999}, {}, {}, {}),
        ({**CHARGE, s.EXCHANGER_MC: 5999}, {}, {cfg.EXCHANGER_FROST: 10000}, {}),
        ({**CHARGE, s.EXCHANGER_MC: 9999, s.COLLECTOR_MC: 20000}, {}, {cfg.EXCHANGER_FROST: 10000}, {}),
    ],
    "frost_alarm": [
        ({s.EXCHANGER_MC: 3999}, {}, {}, {}),
        ({s.EXCHANGER_MC: 3999, s.ALARMS: facts.ALARM_FROST}, {}, {}, {}),
    ],
    "alarm_output": [({A: 1}, {}, {}, {}), ({s.ALARMS: 1}, {}, {}, {})],
    "exercise_allowed": [({s.DUTY: s.EXERCISE}, memory, {}, {}) for memory in ({mem.FULL: 1}, {mem.COLDEST_MC: 3999})]
    + [({s.DUTY: s.EXERCISE, s.COLLECTOR_STATUS: s.LOST}, {}, {}, {})],
    "slug_past_the_exchanger": [(CHARGE, {mem.COLDEST_MC: 3999}, {}, {})],
    "slug_meets_warm_water": [
        (CHARGE, {mem.COLDEST_MC: 3999, mem.WAS + s.TANK_PUMP: 0}, {cfg.DUMP_TOPOLOGY: cfg.SERIES}, {}),
        ({**CHARGE, s.TANK_LOW_STATUS: s.LOST}, WET, {cfg.DUMP_TOPOLOGY: cfg.NONE}, {}),
        ({**CHARGE, s.EXCHANGER_MC: 10999}, WET, {cfg.DUMP_TOPOLOGY: cfg.NONE}, {}),
        ({**CHARGE, s.EXCHANGER_STATUS: s.LOST}, WET, {cfg.DUMP_TOPOLOGY: cfg.NONE}, {}),
    ],
    "cold_tank_waits": [
        ({**CHARGE, s.TANK_LOW_MC: 8999, s.TANK_HIGH_MC: 8999}, WET, {cfg.DUMP_TOPOLOGY: cfg.NONE}, {}),
        ({**CHARGE, s.TANK_LOW_STATUS: s.LOST}, WET, {cfg.DUMP_TOPOLOGY: cfg.NONE}, {}),
        ({**CHARGE, s.EXCHANGER_STATUS: s.LOST}, WET, {cfg.DUMP_TOPOLOGY: cfg.NONE}, {}),
    ],
    "slug_in_pulses": [
        (CHARGE, {**WET, mem.OFF_MS: 59999}, {cfg.DUMP_TOPOLOGY: cfg.SERIES}, {}),
        (CHARGE, {**WET, mem.WAS + s.COLLECTOR_PUMP: 1, mem.ON_MS: 5000}, {cfg.DUMP_TOPOLOGY: cfg.NONE}, {}),
    ],
    "radiator_slug": [
        ({**CHARGE, V: 0, s.OUTDOOR_MC: 3999}, {}, {cfg.DUMP_TOPOLOGY: cfg.SERIES}, {}),
        ({**CHARGE, V: 0, **LONG_LOST}, {}, {cfg.DUMP_TOPOLOGY: cfg.SERIES}, {}),
        ({**CHARGE, V: 0, s.OUTDOOR_STATUS: s.LOST, s.AIR_MC: 3999}, {}, {cfg.DUMP_TOPOLOGY: cfg.SERIES}, {}),
        *[
            ({C: 1, s.DUTY: s.DUMPING, s.DUMP_WANTED: 1, **air}, {}, {cfg.DUMP_TOPOLOGY: cfg.SERIES}, {})
            for air in (
                {s.OUTDOOR_MC: 999},
                {s.OUTDOOR_MC: 3999, s.LOOP_LOWEST_MC: 999},
                {**LONG_LOST, s.AIR_MC: 5999},
                {s.OUTDOOR_STATUS: s.LOST, s.AIR_MC: 240000},
                {**LONG_LOST, s.AIR_MC: 20000, s.LOOP_SEEN_MC: 999},
                {s.OUTDOOR_MC: 3999, s.DUMP_WANTED: 0},
            )
        ],
    ],
    "glycol_freezes": [
        ({**CHARGE, s.COLLECTOR_MC: -21001}, {}, {}, {}),
        ({**CHARGE, s.OUTDOOR_MC: -21001}, {}, {}, {}),
    ],
    "values_in_range": [({C: 2}, {}, {}, {}), ({s.DUTY_MS: -1}, {}, {}, {}), ({s.HEAT_J: 1 << 30}, {}, {}, {})],
    "guard_idle": [({s.GUARD_ACTIONS: 1}, {}, {}, {})],
    "resets_stop": [({}, {}, {}, {s.IN_RESETS: 3})],
    "guard_stops": [({}, {mem.GUARD_HELD: 1}, {}, {}), ({s.GUARD_HOLD_MS: 1, T: 1}, {}, {}, {})],
    "person_obeyed": [
        ({}, {}, {}, {s.IN_UPKEEP: s.UPKEEP_MAINTENANCE}),
        ({}, {}, {}, {s.IN_UPKEEP: s.UPKEEP_PURGE}),
        ({}, {}, {}, {s.IN_HAND_MASK: 1}),
    ],
    "given_up_rests": [
        ({**CHARGE, s.ALARMS: facts.ALARM_NO_FLOW}, {}, {}, {}),
        # A hot collector may be dumped, until it has cooled enough.
        (
            {s.DUTY: s.DUMPING, s.COLLECTOR_PUMP_ON: 1, s.COLLECTOR_MC: 80000, s.ALARMS: facts.ALARM_NO_FLOW},
            {mem.ON_MS: 90000},
            {},
            {},
        ),
        ({s.DUTY: s.DUMPING, s.ALARMS: facts.ALARM_DUMP}, {}, {}, {}),
    ],
    "twice_an_hour": [({}, {mem.NO_FLOW_MS: 1739999}, {}, {}), ({}, {mem.BARRED_MS: 1739999}, {}, {})],
    "weak_heat_rests": [
        ({s.REASON: why.HEAT_TOO_WEAK}, {mem.UNJOINED_AGO_MS: 1800001}, {}, {}),
        ({**CHARGE, s.NO_FLOW: why.HEAT_TOO_WEAK}, {}, {}, {}),
    ],
    "flow_proven": [(CHARGE, {mem.FLOWLESS_MS: 90000}, {}, {})],
    "relief": [
        ({s.COLLECTOR_MC: 95000, s.REASON: reason}, {}, {}, {})
        for reason in (
            *(why.TANK_FULL_REFUSED, why.TANK_UNKNOWN, why.CHARGE_LIMIT_REFUSED, why.HEAT_TOO_WEAK, why.NO_DIFFERENCE),
            *(why.GLYCOL_NOT_ARRIVING, why.FLOW_MISSING, why.HEAT_ASTRAY, why.SENSORS_SWAPPED),
        )
    ],
    "relief_refusal_said": [
        ({s.COLLECTOR_MC: 95000, s.REASON: why.TANK_FULL_REFUSED, s.ALARMS: facts.ALARM_DUMP}, {mem.FULL: 1}, {}, {})
    ],
    "frost_refusal_said": [({s.COLLECTOR_MC: 95000, s.REASON: why.TANK_FULL_REFUSED, **FROSTY_RADIATOR}, {}, {}, {})],
    "heat_fetched": [
        ({**LOW, s.COLLECTOR_MC: 38000}, {}, {}, {}),
        ({**LOW, s.COLLECTOR_MC: 95000, s.DUTY: s.DUMPING, s.REASON: why.COLLECTOR_HOT_DUMP}, {}, {}, {}),
    ],
    "taken_is_proven": [
        ({s.REASON: why.HEAT_TAKEN}, {}, {}, {}),
        ({s.ALARMS: facts.ALARM_TAKING}, {}, {}, {}),
    ],
    "taking_ends": [(CHARGE, {mem.VAIN_MS: 510000}, {}, {})],
    "night_used": [({**LOW, s.COLLECTOR_MC: 20000}, {mem.USELESS_AGO_MS: 0}, {cfg.AWAY: 1, cfg.AWAY_LIMIT: 20000}, {})],
    "good_radiator_spared": [
        ({s.DUTY: s.NIGHT_COOLING}, {mem.USELESS_AGO_MS: 200000000}, {cfg.AWAY: 1}, {}),
        ({s.DUTY: s.NIGHT_COOLING}, {}, {}, {}),
    ],
    "cooled_enough": [
        ({**LOW, s.DUTY: s.NIGHT_COOLING}, {mem.ON_MS: on_ms}, {cfg.AWAY: 1, cfg.AWAY_LIMIT: 48000}, {}) for on_ms in (0, 200000)
    ],
    "upside_down_bars": [
        ({s.DUTY: s.NIGHT_COOLING, s.COMMAND + s.TANK_PUMP: 1, s.TANK_LOW_MC: 51500, s.TANK_HIGH_MC: 50000}, {}, {}, {}),
        ({s.DUTY: s.NIGHT_COOLING, s.COMMAND + s.TANK_PUMP: 1, s.TANK_HIGH_STATUS: s.LOST}, {}, {}, {}),
    ],
    "off_scale_bars": [
        (
            {s.DUTY: duty, s.CAUSE + sensor: s.CAUSE_RANGE},
            {},
            {},
            {s.IN_RAW_MC + sensor: 115001},
        )
        for duty in (s.CHARGING, s.NIGHT_COOLING)
        for sensor in (s.TANK_LOW, s.TANK_HIGH)
    ],
    "turn_taken": [(LOW, {mem.UNMOVED_MS + mover: 259260000}, {}, {}) for mover in range(s.MOVERS) if mover != s.FAN_MOVER],
    "fan_unknown": [
        (BLOW, {}, {}, {}),
        ({**BLOW, s.AIR_COLLECTOR_STATUS: s.LOST}, {}, AIR, {}),
        ({**BLOW, s.ROOM_STATUS: s.LOST}, {}, AIR, {}),
        ({**BLOW, s.ROOM_STATUS: s.LOST, s.AIR_REASON: why.FAN_HELD}, {}, AIR, HELD_ON),
    ],
    "fan_harms_room": [
        ({**BLOW, s.ROOM_MC: 24000}, {}, AIR, {}),
        ({**BLOW, s.ROOM_MC: 24000, s.AIR_REASON: why.FAN_HELD}, {}, AIR, HELD_ON),
        ({**BLOW, s.AIR_COLLECTOR_MC: 15000}, {}, AIR, {}),
        *[({F: 1, s.AIR_REASON: why.FAN_TURN, s.AIR_COLLECTOR_MC: mc}, {}, AIR, {}) for mc in (15000, 19001)],
    ],
    "fan_starts": [
        ({**BLOW, s.AIR_COLLECTOR_MC: 19000}, {}, AIR, {}),
        ({**BLOW, s.AIR_COLLECTOR_MC: 70001}, {}, DRAWS, {}),
        ({**BLOW, s.AIR_REASON: why.FAN_TURN, s.AIR_COLLECTOR_MC: 70001}, {}, DRAWS, {}),
        ({**BLOW, s.AIR_REASON: why.FAN_HELD, s.AIR_COLLECTOR_MC: 70001}, {}, DRAWS, HELD_ON),
    ],
    "fan_obeys": [
        (BLOW, {}, AIR, {s.IN_RESETS: 3}),
        (BLOW, {mem.GUARD_HELD: 1}, AIR, {}),
        (BLOW, {}, AIR, {s.IN_UPKEEP: s.UPKEEP_MAINTENANCE}),
        (BLOW, {}, AIR, FAN_HELD),
        ({}, {}, AIR, HELD_ON),
        ({F: 1}, {}, AIR, {}),
        ({F: 1, s.AIR_REASON: why.AIR_COOL}, {}, AIR, {}),
        ({s.AIR_REASON: why.AIR_WARM}, {}, AIR, {}),
    ],
    "reason_of_duty": [({s.DUTY: s.CHARGING}, {}, {}, {}), ({s.REASON: why.STEAM}, {}, {}, {})],
    "reason_is_so": [
        ({s.REASON: why.COLLECTOR_UNKNOWN}, {}, {}, {}),
        ({s.REASON: why.TANK_UNKNOWN}, {}, {}, {}),
        ({s.REASON: why.CHARGE_LIMIT_REFUSED}, {}, {}, {}),
        ({s.REASON: why.PAUSE_DUMP}, {}, {}, {}),
        ({s.REASON: why.RADIATOR_DEAD}, {}, {}, {}),
        ({s.REASON: why.COLLECTOR_COOL, s.COLLECTOR_MC: 20000}, {}, {}, {}),
        ({**LOW, s.COLLECTOR_MC: 38000}, {}, {}, {}),
        ({**LOW, s.COLLECTOR_STATUS: s.LOST}, {}, {}, {}),
    ],
}


def calm():
    """A calm station: all known, mild weather, tank at 30 C, pumps off, valve at the exchanger."""
    state, memory = array("i", [0] * s.STATE), array("i", [0] * truths.MEMORY)
    settings, inputs = array("i", [0] * cfg.SETTINGS), array("i", [0] * s.INPUTS)
    cfg.load_defaults(settings)
    truths.begin(memory, state, settings, inputs)
    for index in (mem.STEAM, mem.OVER, mem.FULL, mem.HOT, mem.VALVE_MOST_MS):
        memory[index] = 0
    memory[mem.PLACED], memory[mem.AWAKE], memory[mem.COLDEST_MC] = 1, 1, mem.WARM_MC
    memory[mem.OFF_MS] = memory[mem.ON_MS] = 600000
    memory[mem.VALVE_LEAST_MS] = 120000
    for sensor, value in enumerate((20000, 30000, 32000, 20000, 20000, 15000, 40000, 20000, 15000, 15000)):
        state[s.VALUE_MC + sensor] = value
    state[s.DUTY], state[s.REASON] = s.IDLE, why.NO_DIFFERENCE
    inputs[s.IN_DT_MS] = 5000
    return state, memory, settings, inputs


def judge(name, state, memory, settings, inputs):
    return bool(truths.TRUTHS[NAMES.index(name)](memory, state, settings, inputs))


@pytest.mark.parametrize("name", NAMES)
def test_truth_can_be_broken(name):
    assert DEFECTS[name]
    for changes in DEFECTS[name]:
        station = calm()
        assert not judge(name, *station), name
        for part, change in zip(station, changes, strict=True):
            for index, value in change.items():
                part[index] = value
        assert judge(name, *station), (name, changes)


def test_every_truth_has_a_sentence():
    for truth in truths.TRUTHS:
        assert truth.__doc__.endswith(".")
        assert len(truth.__doc__) < 120
    # A walk keeps broken truths as bits of a 64-bit number; its sign is none.
    assert len(set(NAMES)) == len(NAMES) <= 63
    assert sorted(DEFECTS) == sorted(NAMES)


def test_no_truth_looks_at_the_rules():
    """Truths come from the design: they import neither the table nor its condition bits."""
    for path in Path(truths.__file__).parent.glob("*.py"):
        assert "rules" not in path.read_text().split('"""', 2)[2], path
        assert "CONDITIONS]" not in path.read_text(), path


def test_each_row_has_its_topic():
    """Every reason of the table stands in exactly one topic, and no others do."""
    topics = [reason for topic in reasons.ROW_TOPICS for reason, _ in topic.REASONS]
    assert sorted(topics) == sorted({reason for _, _, reason in rules.ROWS})


def test_a_fan_as_it_should_be_breaks_nothing():
    """By day, by hand with a cool collector, and in a turn in mild air and a warm room."""
    turn = {**BLOW, s.AIR_REASON: why.FAN_TURN, s.ROOM_MC: 28000}
    for blow in (BLOW, {**BLOW, s.AIR_COLLECTOR_MC: 10000, s.AIR_REASON: why.FAN_HELD}, turn):
        state, memory, settings, inputs = calm()
        settings[cfg.AIR_HEATER] = 1
        if blow[s.AIR_REASON] == why.FAN_HELD:
            inputs[s.IN_HAND_MASK] = inputs[s.IN_HAND_VALUE] = 1 << s.AIR_FAN
        for index, value in blow.items():
            state[index] = value
        assert truths.names_of(truths.broken(memory, state, settings, inputs)) == []


def test_charging_as_it_should_be_breaks_nothing():
    state, memory, settings, inputs = calm()
    memory[mem.WAS], memory[mem.WAS + 1], memory[mem.WAS + 2] = 1, 1, 1
    memory[mem.WAS_DUTY] = s.CHARGING
    for index, value in CHARGE.items():
        state[index] = value
    assert truths.names_of(truths.broken(memory, state, settings, inputs)) == []
