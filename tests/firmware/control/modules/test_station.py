"""One step and the wake-up: bounded time, what a reset forgets and keeps, timers that stop."""

from array import array

from twinloop.control import reasons as why
from twinloop_hil.sequences import common, relay_script

from ...runtime import walk
from .. import ranges, stations
from ..protections import library
from ..stations import each

# Longer than anything that counts to a top: exercise_after is three days.
FIVE_DAYS_MS = 5 * 24 * 3600 * 1000


@each(
    "dt_ms, taken_ms",
    (-(1 << 30), 1),
    (-1, 1),
    (0, 1),
    (1, 1),
    (59999, 59999),
    (60000, 60000),
    (60001, 60000),
    ((1 << 30) - 1, 60000),
)
def test_a_step_has_between_a_millisecond_and_a_minute(dt_ms, taken_ms, arrays, shipped, s):
    arrays.inputs[s.IN_DT_MS] = dt_ms
    shipped.station.step(*arrays.all)
    assert arrays.inputs[s.IN_DT_MS] == taken_ms
    assert arrays.state[s.COLLECTOR_PUMP_MS] == taken_ms


@each("dt_ms, forgotten", (59999, False), (60000, False), (60001, True), ((1 << 30) - 1, True))
def test_no_reading_and_no_history_of_the_loop_outlives_a_gap(dt_ms, forgotten, shipped, s):
    """source: station.py, a longer gap is a gap in knowledge"""
    run = relay_script.Run(shipped, common.sequence("charging", common.LONG_CHARGING)).run()
    run.inputs[s.IN_DT_MS] = dt_ms
    shipped.station.step(run.state, run.settings, run.inputs)
    assert [run.state[s.STATUS + sensor] == s.LOST for sensor in range(s.WATER_SENSORS)] == [forgotten] * s.WATER_SENSORS
    assert (run.state[s.LOOP_LOWEST_MC] == shipped.coldloop.COLDEST_MC) == forgotten
    assert [run.state[s.COMMAND + output] for output in (s.COLLECTOR_PUMP, s.TANK_PUMP, s.DUMP_VALVE_POWER)] == 3 * [
        0 if forgotten else 1
    ]


@each("dt_ms, forgotten", (60000, False), (60001, True))
def test_after_a_gap_the_loop_is_as_unknown_as_after_a_reset(dt_ms, forgotten, calm, shipped, s):
    """Its seen frost, the outdoor sensor's error and the standing radiator are forgotten too."""
    calm.change(IN_DT_MS=dt_ms, AIR_OVER_MK=700)
    shipped.station.bound_time(*calm.all)
    found = [calm.state[index] for index in (s.LOOP_KNOWN, s.RADIATOR_STOOD, s.AIR_OVER_MK)]
    assert found == ([0, 1, 0] if forgotten else [1, 0, 700])
    assert (calm.state[s.LOOP_SEEN_MC] > 20000) == forgotten
    assert (calm.state[s.AGE_MS] > 0) == forgotten


# For each part of a step one fact that only it notices, after five seconds of a calm station.
PARTS = [
    ({}, "METER_SECONDS", 5),
    # source: 0.375 l times 10 K times 3858 J/(l K) are four watt hours and a part
    ({"DUTY": "CHARGING", "COLLECTOR_PUMP_ON": 1, "LOOP_SUPPLY_MC": 30000}, "HEAT_WH", 4),
    ({"SINCE_HOT_S": 100}, "SINCE_HOT_S", 105),
    ({}, "DUTY_MS", 5000),
    ({"COLLECTOR_MC": 19500}, "COLLECTOR_MC", 20000),
    ({"TANK_HOTTEST_MC": 0}, "TANK_HOTTEST_MC", 20000),
    ({}, "STANDING_MS", 5000),
    ({"NO_FLOW": "HEAT_TOO_WEAK", "RETRY_MS": 5}, "RETRY_MS", 5005),
    ({}, "REASON", "NO_DIFFERENCE"),
    ({"COLLECTOR_PUMP_ON": 1}, "COLLECTOR_PUMP_ON", 0),
    ({"GUARD_HOLD_MS": 9000}, "GUARD_HOLD_MS", 4000),
    ({"IN_SETTINGS_LOST": 1}, "ALARM_ON", 1),
]


def step_of(core, arrays, facts):
    """The state after one step with raw readings of 20 C and these facts."""
    s = core.state
    for sensor in range(s.SENSORS):
        arrays.inputs[s.IN_RAW_MC + sensor] = 20000
    arrays.change(**facts)
    core.station.step(*arrays.all)
    return arrays.state


@each("facts, name, value", *PARTS)
def test_a_step_does_all_of_it(facts, name, value, calm, shipped):
    found = step_of(shipped, calm, facts)[getattr(shipped.state, name)]
    assert found == (getattr(shipped.reasons, value) if name == "REASON" else value)


def test_a_step_collects_conditions(calm, shipped):
    step_of(shipped, calm, {"TANK_FULL": 1, "CHARGE_HOT": 1})
    assert stations.conditions(shipped, calm) == {"RADIATOR", "ROUND"}


def test_a_start_counts_in_the_step_that_switched(calm, shipped, s):
    """Also of the alarm, which is switched last."""
    state = step_of(shipped, calm, {"IN_SETTINGS_LOST": 1})
    assert list(state[s.STARTS : s.STARTS + s.OUTPUTS]) == [0, 0, 0, 1, 0]


@each("dt_ms", 0, 7, 333, 60000)
def test_a_step_is_the_same_whatever_the_station_did_before(dt_ms, shipped):
    """No hidden memory: equal arrays give equal arrays."""
    run = relay_script.Run(shipped, common.sequence("charging", common.CHARGING)).run()
    twins = [array("i", run.state) for _ in range(2)]
    for twin in twins:
        inputs = array("i", run.inputs)
        inputs[shipped.state.IN_DT_MS] = dt_ms
        shipped.station.step(twin, run.settings, inputs)
    assert twins[0] == twins[1]


def test_a_reset_forgets_all_but_the_meter(shipped, s):
    run = relay_script.Run(shipped, common.sequence("charging", common.LONG_CHARGING)).run()
    totals = run.state[s.METER_MS :]
    assert any(totals)
    fresh = array("i", [0] * s.STATE)
    shipped.station.wake(fresh, run.settings, run.inputs)
    shipped.station.wake(run.state, run.settings, run.inputs)
    assert run.state[: s.METER_MS] == fresh[: s.METER_MS]
    assert run.state[s.METER_MS :] == totals
    shipped.station.clear_meter(run.state, run.settings, run.inputs)
    assert run.state == fresh


def test_after_a_reset_everything_is_off_and_everything_protects(arrays, shipped):
    s, state = shipped.state, arrays.state
    assert [state[s.COMMAND + output] for output in range(s.OUTPUTS)] == [0] * s.OUTPUTS
    assert [state[s.STATUS + sensor] for sensor in range(s.SENSORS)] == [s.LOST] * s.SENSORS
    assert [state[s.VALUE_MC + sensor] for sensor in range(s.SENSORS)] == [s.UNKNOWN_MC] * s.SENSORS
    assert [state[latch] for latch in (s.TANK_OVER, s.TANK_FULL, s.STAGNATION, s.CHARGE_HOT)] == [1, 1, 1, 1]
    assert [state[latch] for latch in (s.CHARGE_WANTED, s.DUMP_WANTED, s.LOOP_KNOWN, s.PUMPED_ML)] == [0, 0, 0, 0]
    assert state[s.LOOP_LOWEST_MC] == shipped.coldloop.COLDEST_MC
    assert state[s.TANK_REFERENCE_MC] == state[s.TANK_HOTTEST_MC] == state[s.TANK_COLDEST_MC] == s.UNKNOWN_MC
    assert (state[s.VALVE_MS], state[s.VALVE_HOME_MS]) == (120000, 120000)
    assert state[s.COLLECTOR_PUMP_MS] == 0, "the rest counts from boot"


def test_time_in_a_duty_counts_from_its_first_step(shipped, s):
    before = {"duty": s.IDLE, "ms": 0}

    def judge(run):
        duty = run.state[s.DUTY]
        before["ms"] = before["ms"] + run.step_ms if duty == before["duty"] else 0
        before["duty"] = duty
        assert run.state[s.DUTY_MS] == before["ms"]

    relay_script.Run(shipped, library.BY_NAME["charge_limit"], judge).run()


SATURATING = {
    "idle": common.FLUSHED,
    "charging": common.LONG_CHARGING,
    "all sensors lost": [*common.FLUSHED, *([["break", name, "CAUSE_OPEN"] for name in common.MILD])],
    "no flow": [*common.FLUSHED, ["set", {"collector": 40000}]],
    "reset storm": [*common.FLUSHED, ["resets", 3]],
    "steam": [*common.FLUSHED, ["set", {"collector": 150000}]],
}


@each("name", *SATURATING)
def test_five_days_of_endless_steps_leave_no_range(name, shipped, s):
    run = relay_script.Run(shipped, common.sequence(name, SATURATING[name])).run()
    limits = ranges.limits(shipped)
    steps = FIVE_DAYS_MS // s.STEP_TOP_MS
    for step in range(steps):
        # The longest step that is not a gap in knowledge.
        run.inputs[s.IN_DT_MS] = s.STEP_TOP_MS
        # A live collector flickers.
        run.inputs[s.IN_RAW_MC + s.COLLECTOR] += 1 if step % 2 else -1
        shipped.station.step(run.state, run.settings, run.inputs)
        # Early steps one by one, then every hundredth: timers have reached their tops long before.
        if step < 300 or step % 100 == 0:
            assert ranges.outside(run.state, limits) is None
    assert sum(run.state[s.DUTY_S : s.DUTY_S + s.DUTIES]) >= FIVE_DAYS_MS // 1000
    if name == "idle":
        assert run.state[s.DUTY_MS] == run.state[s.COLLECTOR_PUMP_MS] == run.state[s.STANDING_MS] == s.TIMER_TOP_MS
    if name == "all sensors lost":
        assert run.state[s.AGE_MS + s.COLLECTOR] == s.TIMER_TOP_MS
    if name == "charging":
        assert run.state[s.PUMPED_ML] == s.TIMER_TOP_MS


def trusted(state, s, sensor):
    return state[s.STATUS + sensor] <= s.HELD


def hottest_mc(state, settings, s, cfg):
    """The hottest trusted tank sensor by the design page; without tank_high plus the margin."""
    low = state[s.TANK_LOW_MC] if trusted(state, s, s.TANK_LOW) else None
    high = state[s.TANK_HIGH_MC] if trusted(state, s, s.TANK_HIGH) else None
    # Hot water does not stay below: such a pair of sensors counts as the bottom alone.
    if high is None or (low is not None and low >= high + 5000):
        return None if low is None else low + settings[cfg.STRATIFICATION_MARGIN]
    return high if low is None else max(low, high)


def coldest_mc(state, s):
    """The coldest trusted tank sensor, None without one."""
    values = [state[s.VALUE_MC + sensor] for sensor in (s.TANK_LOW, s.TANK_HIGH) if trusted(state, s, sensor)]
    return min(values) if values else None


def can_only_cool(state, s):
    """Whether the moving glycol is colder than all trusted sensors of the tank."""
    coldest = coldest_mc(state, s)
    hottest = state[s.COLLECTOR_MC]
    if trusted(state, s, s.LOOP_SUPPLY):
        hottest = max(hottest, state[s.LOOP_SUPPLY_MC])
    return coldest is not None and hottest < coldest


def broken_promise(state, settings, s, cfg):
    """The broken promise of the design page's 'Always true', None without one."""
    collector, tank, power = state[s.COMMAND : s.COMMAND + s.ALARM]
    heats = collector and tank and not can_only_cool(state, s)
    if collector and not trusted(state, s, s.COLLECTOR):
        return "collector pump on an unknown collector"
    if collector and state[s.COLLECTOR_MC] >= settings[cfg.COLLECTOR_LIMIT]:
        return "collector pump at collector_limit"
    hottest = hottest_mc(state, settings, s, cfg)
    limit_mc = settings[cfg.TANK_LIMIT] - settings[cfg.TANK_MARGIN]
    if heats and (hottest is None or hottest >= limit_mc):
        return "heat into a tank that is unknown or over its limit"
    if heats and state[s.COLLECTOR_MC] >= settings[cfg.CHARGE_LIMIT]:
        return "heat above charge_limit into the tank"
    if power and state[s.DUTY] not in (s.CHARGING, s.NIGHT_COOLING, s.EXERCISE, s.HAND):
        return "the dump valve is powered in a duty that has no use for it"
    if settings[cfg.DUMP_TOPOLOGY] == cfg.NONE and (power or state[s.DUTY] == s.DUMPING):
        return "dumping without a radiator"
    if state[s.DUTY] in (s.FAULT_STOP, s.MAINTENANCE) and (collector or tank or power):
        return "something moves in fault_stop or maintenance"
    if state[s.AIR_FAN_ON] and state[s.ROOM_MC] >= settings[cfg.ROOM_MAXIMUM] and state[s.AIR_REASON] != why.FAN_TURN:
        return "the fan heats a room that is warm enough"
    if state[s.AIR_FAN_ON] and not trusted(state, s, s.ROOM):
        return "the fan runs for a room that nobody knows"
    if state[s.COMMAND + s.ALARM] != (state[s.ALARMS] != 0):
        return "the alarm contact does not say what the alarms say"
    return None


def test_always_true_on_random_stations(shipped, s, cfg):
    """30,000 steps with accepted settings from the corners of their ranges."""
    limits = ranges.limits(shipped)
    duties = [0] * s.DUTIES
    running = heating = 0
    for _, state, settings, _ in walk.lives(shipped.station, 60, 1):
        assert broken_promise(state, settings, s, cfg) is None
        assert ranges.outside(state, limits) is None
        duties[state[s.DUTY]] += 1
        running += state[s.COLLECTOR_PUMP_ON]
        heating += state[s.COLLECTOR_PUMP_ON] & state[s.TANK_PUMP_ON]
    # A walk that does nothing proves nothing. regression lock, not truth
    assert min(duties[duty] for duty in (s.IDLE, s.CHARGING, s.DUMPING, s.STAGNATION_HOLD, s.FAULT_STOP, s.HAND)) > 200
    assert min(running, heating) > 200


def test_the_guard_has_nothing_to_do_on_random_stations(shipped, s):
    """The rules act first whatever breaks or jumps. Impossible tanks have their own sequences."""
    heating = 0
    for _, state, _, _ in walk.lives(shipped.station, 80, 2, credible=True):
        assert state[s.GUARD_ACTIONS] == 0
        heating += state[s.COLLECTOR_PUMP_ON] & state[s.TANK_PUMP_ON]
    # regression lock, not truth
    assert heating > 200
