"""From a duty to relays: waits, limits for hands, timers, the valve, from both sides.

source: the figures are the defaults of the design page; the words are those of docs/states.md and
of sequence.py's own head.
"""

from twinloop.control import state

from ..stations import UNKNOWN_MC, each, values

TOP_MS = 8388607
DUTIES = [name.upper() for name in state.DUTY_NAMES]


def commands(core, arrays):
    s = core.state
    return list(arrays.state[s.COMMAND : s.COMMAND + s.ALARM])


@each("before_ms, after_ms", (0, 5000), (7, 5007), (TOP_MS - 1, TOP_MS), (TOP_MS, TOP_MS))
def test_every_timer_runs_on_to_its_top(before_ms, after_ms, calm, shipped, s):
    timers = [*range(s.OUTPUT_MS, s.OUTPUT_MS + s.OUTPUTS), s.DUTY_MS, s.RUN_ON_MS]
    for index in timers:
        calm.state[index] = before_ms
    before = list(calm.state)
    shipped.sequence.pass_time(*calm.all)
    assert [calm.state[index] for index in timers] == [after_ms] * len(timers)
    assert [index for index in range(s.STATE) if calm.state[index] != before[index] and index not in timers] == []


@each("mover", *range(3))
def test_a_mover_that_is_off_grows_idle_until_its_turn_is_due(mover, calm, shipped, s):
    """Counted in the meter's whole seconds up to the longest exercise_after; being on resets it."""
    index = s.UNMOVED_S + mover
    top_s = shipped.settings.TABLE[shipped.settings.EXERCISE_AFTER][3]
    calm.change(METER_SECONDS=5, EXERCISE_AFTER=3600)
    for before_s, after_s in ((0, 5), (3600, 3605), (top_s - 1, top_s + 4), (top_s, top_s)):
        calm.state[index] = before_s
        shipped.sequence.pass_time(*calm.all)
        assert calm.state[index] == after_s
    calm.state[s.COMMAND + mover] = 1
    shipped.sequence.rest_movers(*calm.all)
    assert list(calm.state[s.UNMOVED_S : s.UNMOVED_S + 3])[mover] == 0


@each("duty, starts", ("DUMPING", 1), ("CHARGING", 1), ("EXERCISE", 0), ("HAND", 0))
def test_only_a_start_of_the_station_s_own_counts_as_wear(duty, starts, calm, shipped):
    """source: sequence.py, a turn has a rest of its own, and hands have theirs"""
    calm.change(DUTY=duty, COMMAND=1, OUTPUT_MS=0, WORN_S=0)
    assert calm.after(shipped.sequence.count_start, "WORN_S") == starts * shipped.sequence.START_S


@each("tank_pump_ms, starts", (0, 1), (5000, 0))
def test_a_collector_pump_that_joins_the_tank_pump_starts_nothing(tank_pump_ms, starts, calm, shipped, s):
    """After pulses the one comes and goes beside the other."""
    calm.change(DUTY="CHARGING", DUMP_TOPOLOGY="NONE", COLLECTOR_PUMP_ON=1, TANK_PUMP_ON=1, WORN_S=0)
    calm.state[s.OUTPUT_MS + s.COLLECTOR_PUMP] = 0
    calm.state[s.OUTPUT_MS + s.TANK_PUMP] = tank_pump_ms
    assert calm.after(shipped.sequence.count_start, "WORN_S") == starts * shipped.sequence.START_S


@each("off_ms, rests", (599999, True), (600000, False))
def test_a_pulse_rests_for_ten_minutes_at_most(off_ms, rests, calm, shipped, s):
    """source: sequence.py, the time after which standing glycol counts as frosty again"""
    calm.change(DUTY="CHARGING", DUMP_TOPOLOGY="NONE", CONDITIONS="COLD_LOOP", DUTY_MS=3600000, WORN_S=54000, TANK_PUMP_ON=1)
    calm.state[s.OUTPUT_MS + s.COLLECTOR_PUMP] = off_ms
    assert shipped.sequence.rests(*calm.all, s.COLLECTOR_PUMP) == rests


@each("commands, paid_s", (3, 175), (1, 5), (2, 5))
def test_only_both_pumps_together_pay_for_a_start_of_charging(commands, paid_s, calm, shipped, s):
    """Five seconds pay themselves, and 35 times as much where heat reaches the tank."""
    calm.change(DUTY="CHARGING", METER_SECONDS=5, WORN_S=1000)
    for output in range(s.OUTPUTS):
        calm.state[s.COMMAND + output] = commands >> output & 1
        calm.state[s.OUTPUT_MS + output] = 60000
    assert calm.after(shipped.sequence.wear, "WORN_S") == 1000 - paid_s


@each("topology, idle_s", ("BYPASS", 105), ("SERIES", 105), ("NONE", 0))
def test_a_valve_that_is_not_there_has_no_turn(topology, idle_s, calm, shipped, s):
    calm.change(METER_SECONDS=5, DUMP_TOPOLOGY=topology)
    for mover in range(s.MOVERS):
        calm.state[s.UNMOVED_S + mover] = 100
    shipped.sequence.rest_movers(*calm.all)
    assert list(calm.state[s.UNMOVED_S : s.UNMOVED_S + s.MOVERS]) == [105, 105, idle_s, 0]


@each(
    "topology, power, way, home, way_after, home_after",
    # The spring brings it home; power moves it to the exchanger, and away from an unknown home.
    ("BYPASS", 0, 120000, 0, 115000, 0),
    ("BYPASS", 0, 4999, 4999, 0, 0),
    ("BYPASS", 0, 60000, 120000, 55000, 115000),
    ("SERIES", 1, 0, 0, 5000, 0),
    ("BYPASS", 1, 115001, 0, 120000, 0),
    ("BYPASS", 1, 60000, 1, 65000, 5001),
    ("BYPASS", 1, 60000, 115001, 65000, 120000),
    ("NONE", 1, 60000, 60000, 0, 0),
    ("NONE", 0, 60000, 60000, 0, 0),
)
def test_the_valve_s_way(topology, power, way, home, way_after, home_after, calm, shipped):
    calm.change(DUMP_TOPOLOGY=topology, DUMP_VALVE_POWER_ON=power, VALVE_MS=way, VALVE_HOME_MS=home)
    assert calm.after(shipped.sequence.pass_time, "VALVE_MS", "VALVE_HOME_MS") == (way_after, home_after)


@each("before, on, timer_ms", (0, 0, 7000), (1, 1, 7000), (0, 1, 0), (1, 0, 0))
def test_a_change_restarts_an_output_s_timer(before, on, timer_ms, calm, shipped, s):
    for output in range(s.OUTPUTS):
        calm.state[s.COMMAND + output], calm.state[s.OUTPUT_MS + output] = before, 7000
        shipped.sequence.put(*calm.all, output, on)
        assert (calm.state[s.COMMAND + output], calm.state[s.OUTPUT_MS + output]) == (on, timer_ms)


@each("output", *range(4))
@each("mask, value, asked", (15, 15, 1), (15, 0, 0), (0, 15, 0))
def test_hands_ask_for_what_they_hold(output, mask, value, asked, calm, shipped):
    calm.change(REASON="HAND_HELD", IN_HAND_MASK=mask, IN_HAND_VALUE=value)
    assert shipped.sequence.held(*calm.all, output) == asked
    calm.change(IN_HAND_MASK=mask & ~(1 << output))
    assert shipped.sequence.held(*calm.all, output) == 0
    calm.change(IN_HAND_MASK=mask, IN_HAND_VALUE=value & (1 << output))
    assert shipped.sequence.held(*calm.all, output) == asked


@each("duty_ms, power", (0, 0), (299999, 0), (300000, 1), (599999, 1), (600000, 0), (899999, 0), (900000, 1))
def test_purging_takes_both_ways_in_turn(duty_ms, power, calm, shipped):
    """source: sequence.py, five minutes each through radiator and exchanger, whatever hands hold"""
    calm.change(REASON="PURGING", DUTY="HAND", DUTY_MS=duty_ms, IN_HAND_MASK=15, IN_HAND_VALUE=0)
    assert shipped.sequence.held(*calm.all, shipped.state.DUMP_VALVE_POWER) == power
    assert shipped.sequence.valve_wanted(*calm.all) == power


@each("collector_mc, on", (59999, 1), (60000, 0))
def test_purging_pumps_only_while_nothing_can_scald(collector_mc, on, calm, shipped, s):
    calm.change(REASON="PURGING", COLLECTOR_MC=collector_mc)
    assert [shipped.sequence.held(*calm.all, output) for output in (s.COLLECTOR_PUMP, s.TANK_PUMP)] == [on, on]


@each("duty", *DUTIES)
@each("topology", "BYPASS", "SERIES", "NONE")
def test_which_duty_powers_the_valve(duty, topology, calm, shipped):
    """Power means exchanger: charging, night cooling, hands, and the valve's own turn."""
    calm.change(DUTY=duty, DUMP_TOPOLOGY=topology, IN_HAND_MASK=4, IN_HAND_VALUE=4)
    wanted = {"CHARGING": 1, "HAND": 1, "NIGHT_COOLING": 0 if topology == "SERIES" else 1}.get(duty, 0)
    assert shipped.sequence.valve_wanted(*calm.all) == (0 if topology == "NONE" else wanted)
    for turn in ("COLLECTOR_PUMP", "TANK_PUMP", "DUMP_VALVE_POWER"):
        calm.change(EXERCISING=turn)
        own = duty == "EXERCISE" and turn == "DUMP_VALVE_POWER"
        assert shipped.sequence.valve_wanted(*calm.all) == (0 if topology == "NONE" else 1 if own else wanted)


@each(
    "facts, cold, is_open",
    ({"VALVE_MS": 0}, "", 1),
    ({"VALVE_MS": 1}, "", 0),
    ({"DUMP_VALVE_POWER_ON": 1, "VALVE_MS": 119999}, "", 0),
    ({"DUMP_VALVE_POWER_ON": 1, "VALVE_MS": 120000}, "", 1),
    ({"DUMP_VALVE_POWER_ON": 1, "VALVE_MS": 120000, "VALVE_HOME_MS": 1}, "", 0),
    # An open crossover lets glycol pass between the ends, but not frosty glycol.
    ({"DUMP_CROSSOVER": "OPEN", "VALVE_MS": 60000}, "", 1),
    ({"DUMP_CROSSOVER": "OPEN", "VALVE_MS": 60000, "VALVE_HOME_MS": 1}, "", 0),
    ({"DUMP_CROSSOVER": "OPEN", "VALVE_MS": 60000}, "COLD_LOOP", 0),
    # Nor the frosty content of a radiator that stood.
    ({"DUMP_CROSSOVER": "OPEN", "VALVE_MS": 60000, "RADIATOR_STOOD": 1, "OUTDOOR_MC": 3999, "DUTY": "CHARGING"}, "COLD_DUMP", 0),
    ({"DUMP_CROSSOVER": "OPEN", "VALVE_MS": 60000, "RADIATOR_STOOD": 1, "OUTDOOR_MC": 4000, "DUTY": "CHARGING"}, "", 1),
    ({"DUMP_CROSSOVER": "OPEN", "VALVE_MS": 60000, "RADIATOR_STOOD": 0, "OUTDOOR_MC": 3999, "DUTY": "CHARGING"}, "COLD_DUMP", 1),
    ({"DUMP_CROSSOVER": "OPEN", "VALVE_MS": 60000, "RADIATOR_STOOD": 1, "OUTDOOR_MC": 3999, "DUTY": "HAND"}, "COLD_DUMP", 1),
    ({"DUMP_CROSSOVER": "OPEN", "VALVE_MS": 0}, "COLD_LOOP COLD_DUMP", 1),
    ({"DUMP_CROSSOVER": "OPEN", "VALVE_MS": 60000}, "FULL WANTED ROUND", 1),
    ({"DUMP_CROSSOVER": "CLOSED", "VALVE_MS": 60000}, "", 0),
    ({"DUMP_TOPOLOGY": "NONE", "VALVE_MS": 60000, "VALVE_HOME_MS": 60000}, "COLD_LOOP", 1),
)
def test_when_the_glycol_s_way_is_open(facts, cold, is_open, calm, shipped):
    calm.change(CONDITIONS=cold, **facts)
    assert shipped.sequence.path_open(*calm.all) == is_open


@each(
    "facts, over",
    ({}, 0),
    # tank_run_on: 2 K or 180 s.
    ({"RUN_ON_MS": 179999}, 0),
    ({"RUN_ON_MS": 180000}, 1),
    ({"LOOP_SUPPLY_MC": 22000}, 1),
    ({"LOOP_SUPPLY_MC": 22001}, 0),
    ({"LOOP_SUPPLY_MC": 22000, "LOOP_SUPPLY_STATUS": "HELD"}, 1),
    ({"LOOP_SUPPLY_MC": 0, "LOOP_SUPPLY_STATUS": "LOST"}, 0),
    ({"LOOP_SUPPLY_MC": 0, "LOOP_SUPPLY_STATUS": "ABSENT"}, 0),
    ({"DUTY": "FAULT_STOP"}, 1),
    ({"DUTY": "MAINTENANCE"}, 1),
    ({"DUTY": "STAGNATION_HOLD"}, 0),
    ({"TANK_REFERENCE_MC": UNKNOWN_MC}, 1),
)
def test_when_the_run_on_is_over(facts, over, charging, shipped):
    charging.change(DUTY="IDLE", RUN_ON_MS=0)
    charging.change(**facts)
    assert shipped.sequence.run_on_over(*charging.all) == over
    charging.change(RUNNING_ON=1)
    assert shipped.sequence.run_on(*charging.all) == 1 - over
    assert values(shipped, charging, "RUNNING_ON") == (1 - over,)


@each("before, after, run_on_ms", (0, 0, 170000), (1, 1, 170000), (2, 1, 0))
def test_a_run_on_begins_when_charging_ends(before, after, run_on_ms, charging, shipped):
    """2 is armed: the tank pump was on in charging."""
    charging.change(DUTY="IDLE", RUNNING_ON=before, RUN_ON_MS=170000)
    assert shipped.sequence.run_on(*charging.all) == after
    assert values(shipped, charging, "RUNNING_ON", "RUN_ON_MS") == (after, run_on_ms)


@each(
    "have, power, valve_ms, refused",
    ("", 0, 0, False),
    ("FULL WANTED", 1, 120000, False),
    ("COLLECTOR_LOST", 0, 0, True),
    ("HOT_STEAM", 0, 0, True),
    ("STIFF", 0, 0, True),
    # Frosty radiator in series: only with the valve fully at the exchanger.
    ("COLD_DUMP", 1, 120000, False),
    ("COLD_DUMP", 1, 119999, True),
    ("COLD_DUMP", 0, 120000, True),
    # Frosty loop: only round through the radiator.
    ("COLD_LOOP ROUND", 0, 0, False),
    ("COLD_LOOP ROUND", 0, 1, True),
    ("COLD_LOOP ROUND", 1, 0, True),
    ("COLD_LOOP", 0, 0, True),
    ("ROUND", 1, 120000, False),
    ("ROUND", 0, 60000, False),
    # Glycol too hot for the tank: the same.
    ("HOT_GLYCOL ROUND", 0, 0, False),
    ("HOT_GLYCOL ROUND", 0, 1, True),
    ("HOT_GLYCOL ROUND", 1, 0, True),
    ("HOT_GLYCOL", 0, 0, True),
    ("HEATING ROUND", 0, 0, False),
)
def test_which_limits_refuse_the_collector_pump_to_hands(have, power, valve_ms, refused, calm, shipped):
    calm.change(CONDITIONS=have, DUMP_VALVE_POWER_ON=power, VALVE_MS=valve_ms)
    assert bool(shipped.sequence.hand_pump_refused(*calm.all)) == refused
    way = (power == 1 and valve_ms == 120000) or (power == 0 and valve_ms == 0)
    wait = "WAIT_LIMIT" if refused else "WAIT_NOTHING" if way else "WAIT_VALVE"
    assert shipped.sequence.hand_wait(*calm.all) == getattr(shipped.reasons, wait)


@each("have, over, refused", ("HEATING", 1, True), ("HEATING", 0, False), ("FULL", 1, False))
def test_a_tank_that_glycol_heated_to_its_limit_refuses_the_collector_pump_to_hands(have, over, refused, calm, shipped):
    calm.change(CONDITIONS=have, TANK_OVER=over)
    assert bool(shipped.sequence.hand_pump_refused(*calm.all)) == refused


@each(
    "facts, wait",
    ({}, "WAIT_NOTHING"),
    ({"VALVE_MS": 1}, "WAIT_VALVE"),
    # minimum_rest of 60 s holds for a pump that is off.
    ({"COLLECTOR_PUMP_MS": 59999}, "WAIT_REST"),
    ({"COLLECTOR_PUMP_MS": 60000}, "WAIT_NOTHING"),
    ({"COLLECTOR_PUMP_MS": 0, "COLLECTOR_PUMP_ON": 1}, "WAIT_NOTHING"),
    ({"COLLECTOR_PUMP_MS": 0, "VALVE_MS": 1}, "WAIT_VALVE"),
    # A run-on needs the exchanger for itself, unless charging goes on.
    ({"RUNNING_ON": 1}, "WAIT_RUN_ON"),
    ({"RUNNING_ON": 2}, "WAIT_NOTHING"),
    ({"RUNNING_ON": 1, "DUTY": "CHARGING"}, "WAIT_NOTHING"),
    ({"DUTY": "CHARGING", "DUMP_TOPOLOGY": "NONE", "CONDITIONS": "COLD_LOOP"}, "WAIT_TANK_PUMP_FIRST"),
    ({"DUTY": "CHARGING", "DUMP_TOPOLOGY": "NONE", "CONDITIONS": "COLD_LOOP", "TANK_PUMP_ON": 1}, "WAIT_NOTHING"),
)
def test_what_the_collector_pump_waits_for(facts, wait, calm, shipped, s):
    calm.change(DUTY="DUMPING", COLLECTOR_PUMP_MS=60000)
    calm.state[s.OUTPUT_MS + s.TANK_PUMP] = 60000
    calm.change(**{name: value for name, value in facts.items() if name != "CONDITIONS"})
    calm.change(CONDITIONS=facts.get("CONDITIONS", ""))
    assert shipped.sequence.pump_wait(*calm.all) == getattr(shipped.reasons, wait)
    shipped.sequence.move_collector_pump(*calm.all)
    on = 1 if wait == "WAIT_NOTHING" else 0
    assert values(shipped, calm, "COLLECTOR_PUMP_ON", "WAIT_REASON") == (on, getattr(shipped.reasons, wait))


@each("duty", *DUTIES)
def test_which_duty_wants_the_collector_pump(duty, calm, shipped):
    wanted = {"CHARGING": 1, "DUMPING": 1, "NIGHT_COOLING": 1, "HAND": 1}.get(duty, 0)
    calm.change(DUTY=duty, IN_HAND_MASK=1, IN_HAND_VALUE=1, COLLECTOR_PUMP_ON=1 - wanted, COLLECTOR_PUMP_MS=60000)
    assert shipped.sequence.pump_wanted(*calm.all) == wanted
    assert calm.after(shipped.sequence.move_collector_pump, "COLLECTOR_PUMP_ON", "COLLECTOR_PUMP_MS", "WAIT_REASON") == (
        wanted,
        0,
        0,
    )
    for turn in ("COLLECTOR_PUMP", "TANK_PUMP", "DUMP_VALVE_POWER"):
        calm.change(EXERCISING=turn)
        own = duty == "EXERCISE" and turn == "COLLECTOR_PUMP"
        assert shipped.sequence.pump_wanted(*calm.all) == (1 if own else wanted)


def test_hands_start_a_pump_without_rest_and_their_limits_stay(calm, shipped):
    """minimum_rest is about wear, the limits are not."""
    calm.change(DUTY="HAND", REASON="HAND_HELD", IN_HAND_MASK=1, IN_HAND_VALUE=1, COLLECTOR_PUMP_MS=0, RUNNING_ON=1)
    assert calm.after(shipped.sequence.move_collector_pump, "COLLECTOR_PUMP_ON", "WAIT_REASON") == (1, 0)
    calm.change(CONDITIONS="STIFF")
    assert calm.after(shipped.sequence.move_collector_pump, "COLLECTOR_PUMP_ON", "WAIT_REASON") == (0, shipped.reasons.WAIT_LIMIT)


@each(
    "supply_mc, have, waits, on, armed, waits_for",
    (23000, "ROUND", "WAIT_NOTHING", 1, 2, "WAIT_NOTHING"),
    (22999, "ROUND", "WAIT_NOTHING", 0, 0, "WAIT_EXCHANGER"),
    (22999, "ROUND", "WAIT_VALVE", 0, 0, "WAIT_VALVE"),
    # Frosty loop without a way round: the tank pump runs whatever arrives.
    (22999, "COLD_LOOP", "WAIT_TANK_PUMP_FIRST", 1, 2, "WAIT_TANK_PUMP_FIRST"),
)
def test_the_tank_pump_joins_charging(supply_mc, have, waits, on, armed, waits_for, charging, shipped):
    charging.change(LOOP_SUPPLY_MC=supply_mc, CONDITIONS=have, WAIT_REASON=waits, RUNNING_ON=1)
    assert shipped.sequence.tank_pump_wanted(*charging.all) == on
    assert values(shipped, charging, "RUNNING_ON", "WAIT_REASON") == (armed, getattr(shipped.reasons, waits_for))


@each(
    "collector_mc, waits, on, waits_for",
    (19000, "WAIT_NOTHING", 1, "WAIT_NOTHING"),
    (19001, "WAIT_NOTHING", 0, "WAIT_COLD_GLYCOL"),
    (19001, "WAIT_REST", 0, "WAIT_REST"),
    (19000, "WAIT_REST", 1, "WAIT_REST"),
)
def test_the_tank_pump_joins_night_cooling(collector_mc, waits, on, waits_for, charging, shipped):
    charging.change(DUTY="NIGHT_COOLING", COLLECTOR_MC=collector_mc, LOOP_SUPPLY_MC=15000, WAIT_REASON=waits)
    assert shipped.sequence.tank_pump_wanted(*charging.all) == on
    assert values(shipped, charging, "WAIT_REASON") == (getattr(shipped.reasons, waits_for),)


@each("duty", *[duty for duty in DUTIES if duty not in ("CHARGING", "NIGHT_COOLING")])
@each("running_on", 0, 1)
@each("turn", "COLLECTOR_PUMP", "TANK_PUMP", "DUMP_VALVE_POWER", "MOVERS")
def test_which_other_duty_wants_the_tank_pump(duty, running_on, turn, charging, shipped):
    """Frost, its own turn, hands; otherwise only a run-on, which a fault or maintenance ends."""
    charging.change(DUTY=duty, RUNNING_ON=running_on, RUN_ON_MS=0, EXERCISING=turn, IN_HAND_MASK=0, IN_HAND_VALUE=2)
    goes_on = running_on == 1 and duty not in ("FAULT_STOP", "MAINTENANCE")
    own = duty == "FROST_GUARD" or (duty == "EXERCISE" and turn == "TANK_PUMP")
    wanted = own or (goes_on and duty != "HAND")
    assert shipped.sequence.tank_pump_wanted(*charging.all) == (1 if wanted else 0)
    assert values(shipped, charging, "RUNNING_ON") == (1 if goes_on else 0,)
    charging.change(IN_HAND_MASK=2)
    assert shipped.sequence.tank_pump_wanted(*charging.all) == (1 if wanted or duty == "HAND" else 0)


@each("mover", *range(3))
@each("on, ran_ms, goes_on", (1, 9999, True), (1, 10000, False), (0, 600000, True))
def test_a_turn_ends_after_it_has_moved_for_ten_seconds(mover, on, ran_ms, goes_on, calm, shipped, s):
    """source: exercise_for of the design page"""
    calm.change(DUTY="EXERCISE", EXERCISING=mover)
    calm.state[s.COMMAND + mover], calm.state[s.OUTPUT_MS + mover] = on, ran_ms
    assert calm.after(shipped.sequence.choose_turn, "EXERCISING") == (mover if goes_on else s.MOVERS)
    if goes_on:
        calm.state[s.UNMOVED_S + (mover + 1) % s.MOVERS] = 259200
        assert calm.after(shipped.sequence.choose_turn, "EXERCISING") == mover, "another due mover waits for its end"


@each(
    "unmoved_s, turn",
    ((259199, 259199, 259199, 259200), 4),
    ((259200, 0, 0, 0), 0),
    ((0, 259200, 0, 0), 1),
    ((0, 0, 259200, 0), 2),
    ((259200, 0, 259200, 259200), 2),
)
def test_whose_turn_it_is(unmoved_s, turn, calm, shipped, s):
    """exercise_after of 72 h, one mover at a time; the fan's turn is its own."""
    for mover in range(s.MOVERS):
        calm.state[s.UNMOVED_S + mover] = unmoved_s[mover]
    calm.change(DUTY="IDLE", EXERCISING=1)
    assert calm.after(shipped.sequence.choose_turn, "EXERCISING") == s.MOVERS, "no turns in other duties"
    calm.change(DUTY="EXERCISE")
    assert calm.after(shipped.sequence.choose_turn, "EXERCISING") == turn


def test_charging_starts_valve_first_then_collector_then_tank(calm, shipped):
    """Each waits for the one before; a finished rest delays nothing."""
    calm.change(DUTY="CHARGING", COLLECTOR_PUMP_MS=60000, COLLECTOR_MC=30000, LOOP_SUPPLY_MC=30000, EXCHANGER_MC=30000)
    calm.change(ARRIVED_MC=30000)
    calm.change(WAIT_REASON=45)
    shipped.sequence.move_outputs(*calm.all)
    assert commands(shipped, calm) == [0, 0, 1]
    assert values(shipped, calm, "WAIT_REASON") == (shipped.reasons.WAIT_VALVE,)
    calm.change(VALVE_MS=120000)
    shipped.sequence.move_outputs(*calm.all)
    assert commands(shipped, calm) == [1, 1, 1], "warm glycol is used at once"
    assert values(shipped, calm, "WAIT_REASON", "RUNNING_ON") == (0, 2)


def test_charging_ends_collector_first_and_the_tank_pump_runs_on(charging, shipped):
    """A dump that follows waits for the run-on from its first step."""
    charging.change(DUTY="DUMPING", TANK_PUMP_ON=1, RUNNING_ON=2, RUN_ON_MS=170000, VALVE_MS=0)
    shipped.sequence.move_outputs(*charging.all)
    assert commands(shipped, charging) == [0, 1, 0]
    assert values(shipped, charging, "WAIT_REASON", "RUNNING_ON", "RUN_ON_MS") == (shipped.reasons.WAIT_RUN_ON, 1, 0)
    charging.change(LOOP_SUPPLY_MC=22000)
    assert charging.after(shipped.sequence.move_outputs, "TANK_PUMP_ON", "RUNNING_ON") == (0, 0)


def test_nothing_waits_in_a_duty_that_wants_nothing(charging, shipped):
    charging.change(DUTY="IDLE", TANK_PUMP_ON=1, WAIT_REASON=40, EXERCISING=1)
    shipped.sequence.move_outputs(*charging.all)
    assert commands(shipped, charging) == [0, 0, 0]
    assert values(shipped, charging, "WAIT_REASON", "EXERCISING") == (0, 4)


def test_after_a_reset_the_valve_has_its_whole_way_home(calm, shipped):
    calm.change(DUMP_TRAVEL=77000, EXERCISING=0)
    assert calm.after(shipped.sequence.wake, "VALVE_HOME_MS", "VALVE_MS", "EXERCISING") == (77000, 77000, 4)
