"""The meter: run times, starts, hours by duty and in stagnation, heat against floats."""

import pytest
from twinloop_hil.sequences import common, relay_script

from ..protections import library
from ..stations import TRUST, each


def running(core, arrays, duty, supply_mc, return_mc):
    """Let the station pump glycol in this duty."""
    s, state = core.state, arrays.state
    state[s.DUTY] = duty
    state[s.COMMAND + s.COLLECTOR_PUMP] = 1
    state[s.LOOP_SUPPLY_MC], state[s.LOOP_RETURN_MC] = supply_mc, return_mc
    state[s.LOOP_SUPPLY_STATUS] = state[s.LOOP_RETURN_STATUS] = s.GOOD
    return state


def metered_j(core, state):
    return state[core.state.HEAT_WH] * 3600 + state[core.state.HEAT_J]


@each("percent", *range(56))
def test_capacity_is_that_of_the_glycol(percent, arrays, shipped):
    from CoolProp.CoolProp import PropsSI

    arrays.settings[shipped.settings.GLYCOL_MASS_PERCENT] = percent
    fluid = f"INCOMP::MPG[{percent / 100}]" if percent else "Water"
    # source: CoolProp, density times specific heat at 60 C and 300 kPa
    at = ("T", 333.15, "P", 300000, fluid)
    true_j_per_l_k = PropsSI("D", *at) * PropsSI("C", *at) / 1000
    assert shipped.meter.capacity_j_per_l_k(*arrays.all) == pytest.approx(true_j_per_l_k, rel=0.01)


def test_a_step_counts_the_heat_of_its_duty(shipped, s):
    run = relay_script.Run(shipped, common.sequence("heat", common.CHARGING)).run()
    charged_j, dumped_wh = metered_j(shipped, run.state), run.state[s.DUMPED_WH]
    assert dumped_wh > 0, "the cold slug went round through the radiator"
    run.script = [["keep", 600000, common.BOTH_PUMPS]]
    run.run()
    # source: 4.5 l/min for ten minutes, 3858 J/(l K), supply at 32 C and return at 24.8 C
    assert metered_j(shipped, run.state) - charged_j == pytest.approx(45 * 3858 * 7.2, rel=0.01)
    assert run.state[s.DUMPED_WH] == dumped_wh


class Watcher:
    """Counts in milliseconds what was on during each step, and every start."""

    def __init__(self, core):
        self.core = core
        self.on_ms = [0] * core.state.OUTPUTS
        self.starts = [0] * core.state.OUTPUTS
        self.duty_ms = [0] * core.state.DUTIES
        self.hot_ms = 0
        self.before = ([0] * core.state.OUTPUTS, core.state.IDLE, False)

    def __call__(self, run):
        s = self.core.state
        commands, duty, hot = self.before
        now = list(run.state[s.COMMAND : s.COMMAND + s.OUTPUTS])
        for output in range(s.OUTPUTS):
            self.on_ms[output] += commands[output] * run.step_ms
            self.starts[output] += now[output] > commands[output]
        self.duty_ms[duty] += run.step_ms
        self.hot_ms += hot * run.step_ms
        limit_mc = run.settings[self.core.settings.COLLECTOR_LIMIT]
        hot = run.state[s.COLLECTOR_STATUS] <= s.HELD and run.state[s.COLLECTOR_MC] >= limit_mc
        self.before = (now, run.state[s.DUTY], hot)


@each("step_ms", 333, 1000, 5000)
def test_run_time_starts_and_hours(step_ms, shipped, s):
    cycle = [
        ["set", {"collector": 60000, "loop_supply": 55000, "loop_return": 40000, "air_collector": 40000}],
        ["keep", 900 * step_ms, {}],
        ["set", {"collector": 125000}],
        ["keep", 300 * step_ms, {}],
        ["set", {**common.DARK, "air_collector": 10000}],
        ["keep", 900 * step_ms, {}],
    ]
    watcher = Watcher(shipped)
    script = [
        ["step_ms", step_ms],
        ["set", {**common.MILD, "air_collector": 15000, "room": 15000}],
        ["keep", 120 * step_ms, {}],
        *cycle,
        *cycle,
        *cycle,
    ]
    run = relay_script.Run(shipped, common.sequence("meter", script, dump_travel=5000, air_heater=1), watcher).run()
    assert min(watcher.starts[output] for output in s.MOVING) >= 2
    for output in range(s.OUTPUTS):
        assert run.state[s.STARTS + output] == watcher.starts[output]
        # A second that spans a change counts where it ends: one second per change.
        assert run.state[s.ON_S + output] == pytest.approx(watcher.on_ms[output] / 1000, abs=2 * watcher.starts[output])
    for duty in range(s.DUTIES):
        assert run.state[s.DUTY_S + duty] == pytest.approx(watcher.duty_ms[duty] / 1000, abs=30)
    assert sum(run.state[s.DUTY_S : s.DUTY_S + s.DUTIES]) == run.time_ms // 1000
    assert watcher.hot_ms >= 900 * step_ms - 30000
    assert run.state[s.STAGNATION_S] == pytest.approx(watcher.hot_ms / 1000, abs=3)


def test_stagnation_is_not_counted_while_the_collector_is_unknown(arrays, shipped, s, cfg):
    arrays.inputs[s.IN_DT_MS] = 10000
    for status, mc, seconds in ((s.GOOD, 120000, 10), (s.GOOD, 119999, 10), (s.LOST, s.UNKNOWN_MC, 10), (s.HELD, 130000, 20)):
        arrays.change(COLLECTOR_STATUS=status, COLLECTOR_MC=mc)
        assert arrays.after(shipped.meter.count_time, "STAGNATION_S") == seconds
    assert arrays.settings[cfg.COLLECTOR_LIMIT] == 120000


def test_a_start_that_the_guard_takes_back_is_none(arrays, shipped):
    arrays.change(COMMAND=1, OUTPUT_MS=0, GUARD_HOLD_MS=5000)
    shipped.guard.gate(*arrays.all)
    assert arrays.after(shipped.meter.count_starts, "STARTS") == 0


def test_a_reset_begins_no_hot_hour_anew(s):
    """The hot hour and the time since are totals: they survive a reset."""
    assert min(s.HOT_MS, s.SINCE_HOT_S) >= s.METER_MS


@each(
    # counted with 4500 ml/min as the bucket's figure
    "kind, cause, shown, counted",
    ("NO_FLOW_SENSOR", "NONE", 1000, 4500),
    ("FLOW_SWITCH", "NONE", 1, 4500),
    ("FLOW_METER", "NONE", 1000, 1000),
    ("FLOW_METER", "SILENT", 1000, 4500),
    ("FLOW_METER", "NONE", 0, 0),
    ("FLOW_METER", "NONE", -5, 0),
    ("FLOW_METER", "NONE", 10000, 10000),
    ("FLOW_METER", "NONE", (1 << 30) - 1, 10000),
)
def test_a_flow_meter_measures_the_volume(kind, cause, shown, counted, arrays, shipped, s):
    state = running(shipped, arrays, s.CHARGING, 60000, 50000)
    arrays.change(FLOW_SENSOR=kind, IN_FLOW_CAUSE=f"CAUSE_{cause}", IN_FLOW_ML_PER_MIN=shown, IN_DT_MS=60000)
    for _ in range(10):
        shipped.meter.count_heat(*arrays.all)
    # source: ten minutes of this flow, 10 K, 3858 J/(l K)
    assert metered_j(shipped, state) == pytest.approx(counted / 1000 * 10 * 10 * 3858, rel=0.001, abs=1)


@each("difference_mk", 100, 500, 3000, 30000)
@each("dt_ms", 100, 333, 1000, 60000)
def test_heat_is_volume_times_capacity_times_difference(dt_ms, difference_mk, arrays, shipped, s, cfg):
    """An hour of steps against floats: at most 1 J lost per step."""
    state = running(shipped, arrays, s.CHARGING, 40000 + difference_mk, 40000)
    arrays.inputs[s.IN_DT_MS] = dt_ms
    steps = 3600000 // dt_ms
    for _ in range(steps):
        shipped.meter.count_heat(*arrays.all)
    litres = arrays.settings[cfg.COLLECTOR_FLOW] / 1000 * steps * dt_ms / 60000
    lost_j = litres * 3858 * difference_mk / 1000 - metered_j(shipped, state)
    # Under 1 J per step is 1 Wh per hour in steps of a second.
    assert -3858 <= lost_j <= steps + 3858


@each("row", *range(7))
def test_each_row_of_the_capacities_is_that_of_coolprop(row, shipped):
    """To the joule. source: CoolProp, density times specific heat at 60 C and 300 kPa"""
    from CoolProp.CoolProp import PropsSI

    at = ("T", 333.15, "P", 300000, f"INCOMP::MPG[{row / 10}]" if row else "Water")
    true_j_per_l_k = PropsSI("D", *at) * PropsSI("C", *at) / 1000
    assert shipped.meter.GLYCOL_J_PER_L_K[row] == round(true_j_per_l_k)


@each("percent, low, high, tenths", (0, 0, 1, 0), (7, 0, 1, 7), (43, 4, 5, 3), (49, 4, 5, 9), (55, 5, 6, 5))
def test_between_two_rows_the_capacity_is_on_the_line(percent, low, high, tenths, calm, shipped):
    table = shipped.meter.GLYCOL_J_PER_L_K
    calm.change(GLYCOL_MASS_PERCENT=percent)
    line = table[low] + (table[high] - table[low]) * tenths / 10
    assert 0 <= line - shipped.meter.capacity_j_per_l_k(*calm.all) < 1


@each("flow, volume_ml", (9999, 9999), (10000, 10000), (10001, 10000), (0, 0), (-1, 0), (1, 1))
def test_a_meter_is_believed_up_to_ten_litres_a_minute(flow, volume_ml, calm, shipped):
    """source: meter.py, more than any loop of this size carries"""
    calm.change(FLOW_SENSOR="FLOW_METER", IN_FLOW_ML_PER_MIN=flow, IN_DT_MS=60000)
    assert shipped.meter.volume_ml(*calm.all) == volume_ml


def test_a_part_of_a_millilitre_and_of_its_heat_wait_for_the_next_step(calm, shipped, s):
    """333 ms at 4500 ml/min are 24 ml and 58,500 of 60,000 parts; 10.501 K: 252 ml K, 24 ml mK."""
    calm.change(IN_DT_MS=333, LOOP_SUPPLY_MC=30501, LOOP_RETURN_MC=20000)
    # source: 3858 J/(l K) times 252 ml K, then, with 25 ml, times 262 ml K
    assert shipped.meter.heat_j(*calm.all) == 972
    assert (calm.state[s.METER_ML], calm.state[s.HEAT_REST]) == (58500, 24)
    assert shipped.meter.heat_j(*calm.all) == 1010
    assert (calm.state[s.METER_ML], calm.state[s.HEAT_REST]) == (57000, 549)


@each(
    "fall_mk, joules",
    # source: 0.375 l times 3858 J/(l K) times the difference, which ends at 100 K and begins at 0
    (10000, 14467),
    (100000, 144675),
    (100001, 144675),
    (150000, 144675),
    (99999, 144671),
    (0, 0),
    (-1, 0),
    (-20000, 0),
)
def test_a_difference_is_believed_from_nothing_to_a_hundred_kelvin(fall_mk, joules, calm, shipped, s):
    calm.change(LOOP_SUPPLY_MC=20000 + fall_mk)
    for duty, whole, part in ((s.CHARGING, s.HEAT_WH, s.HEAT_J), (s.DUMPING, s.DUMPED_WH, s.DUMPED_J)):
        calm.change(DUTY=duty, COLLECTOR_PUMP_ON=1, HEAT_REST=0)
        calm.state[whole], calm.state[part] = 7, 3599
        shipped.meter.count_heat(*calm.all)
        assert (calm.state[whole], calm.state[part]) == (7 + (3599 + joules) // 3600, (3599 + joules) % 3600)
        # Carried to the next step: 99.999 K times 0.375 l is 37,499,625 ml mK.
        assert calm.state[s.HEAT_REST] == (625 if fall_mk == 99999 else 0)


@each(
    "facts, counts",
    *[({f"{name}_STATUS": trust}, counts) for name in ("LOOP_SUPPLY", "LOOP_RETURN") for trust, counts in TRUST],
    ({"COLLECTOR_PUMP_ON": 0}, False),
    ({"DUTY": "IDLE"}, False),
)
def test_heat_needs_both_readings_and_glycol_that_moves(facts, counts, calm, shipped):
    calm.change(DUTY="CHARGING", COLLECTOR_PUMP_ON=1, LOOP_SUPPLY_MC=30000)
    calm.change(**facts)
    found = calm.after(shipped.meter.count_heat, "HEAT_WH", "HEAT_J", "DUMPED_WH", "DUMPED_J")
    assert found == ((14467 // 3600, 14467 % 3600, 0, 0) if counts else (0, 0, 0, 0))


@each("on", *range(16))
def test_whole_seconds_go_to_what_was_on(on, calm, shipped, s):
    """600 ms are carried over; 1.5 s later two seconds are full and 100 ms are carried."""
    calm.change(METER_MS=600, IN_DT_MS=1500, DUTY="DUMPING")
    for output in range(s.OUTPUTS):
        calm.state[s.COMMAND + output], calm.state[s.ON_S + output] = on >> output & 1, 1000
    assert calm.after(shipped.meter.count_time, "METER_SECONDS", "METER_MS") == (2, 100)
    assert [calm.state[s.ON_S + output] for output in range(s.OUTPUTS)] == [
        1000 + 2 * (on >> output & 1) for output in range(s.OUTPUTS)
    ]
    assert [calm.state[s.DUTY_S + duty] for duty in range(s.DUTIES)] == [2 if duty == s.DUMPING else 0 for duty in range(s.DUTIES)]


@each("output", *range(4))
@each("command, since_ms, started", (1, 0, 1), (1, 1, 0), (0, 0, 0))
def test_a_start_is_counted_in_its_own_step(output, command, since_ms, started, calm, shipped, s):
    for other in range(s.OUTPUTS):
        calm.state[s.OUTPUT_MS + other] = 7000
    calm.state[s.COMMAND + output], calm.state[s.OUTPUT_MS + output], calm.state[s.STARTS + output] = command, since_ms, 9
    shipped.meter.count_starts(*calm.all)
    assert calm.state[s.STARTS + output] == 9 + started
    assert sum(calm.state[s.STARTS : s.STARTS + s.OUTPUTS]) == 9 + started


@each("place", "TANK_LOW", "TANK_HIGH")
@each("trust, counts", *TRUST)
@each(
    "tank_mc, before_ms, after_ms, since_s",
    (60000, 3594999, 3599999, 105),
    (60000, 3595000, 3600000, 0),
    (60000, 3600000, 3600000, 0),
    (59999, 3595000, 0, 105),
)
def test_the_hot_hour_at_sixty_degrees_without_a_break(place, trust, counts, tank_mc, before_ms, after_ms, since_s, calm, shipped):
    """By either trusted tank sensor. source: the design page, hours since one hour at 60 C"""
    calm.change(METER_SECONDS=5, SINCE_HOT_S=100, HOT_MS=before_ms, **{f"{place}_MC": tank_mc, f"{place}_STATUS": trust})
    assert calm.after(shipped.meter.count_hot_hour, "HOT_MS", "SINCE_HOT_S") == ((after_ms, since_s) if counts else (0, 105))


class WholeSteps(relay_script.Run):
    """A run without the two steps of a millisecond after a jump."""

    def settle(self, names):
        """The next steps read it soon enough."""


def test_whole_seconds_are_exact_when_steps_are(shipped):
    for sequence in library.SEQUENCES:
        # A reset ends a command between two steps, which the meter does not see.
        if ["reset"] in sequence["script"]:
            continue
        watcher = Watcher(shipped)
        run = WholeSteps(shipped, sequence, watcher).run()
        s = shipped.state
        assert [1000 * seconds for seconds in run.state[s.ON_S : s.ON_S + s.OUTPUTS]] == watcher.on_ms, sequence["name"]
        assert list(run.state[s.STARTS : s.STARTS + s.OUTPUTS]) == watcher.starts, sequence["name"]
        assert [1000 * seconds for seconds in run.state[s.DUTY_S : s.DUTY_S + s.DUTIES]] == watcher.duty_ms, sequence["name"]
