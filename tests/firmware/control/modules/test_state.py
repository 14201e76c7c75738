"""The state array: names, numbers that must not move, a range for every index."""

from ...runtime import small_integers
from .. import ranges
from ..stations import each, values


def test_every_index_has_a_range(shipped):
    found = ranges.state_ranges(shipped)
    assert [index for index, limits in enumerate(found) if limits is None] == []
    assert all(small_integers.SMALL_LOW <= low <= high <= small_integers.SMALL_HIGH for low, high in found)


def test_one_value_out_of_range_is_found(shipped, arrays):
    """At either end of the last index, and nothing before."""
    found, last = ranges.limits(shipped), len(arrays.state) - 1
    assert ranges.outside(arrays.state, found) is None
    for value in (int(found[0][last]) - 1, int(found[1][last]) + 1):
        arrays.state[last] = value
        assert ranges.outside(arrays.state, found) == (last, value)


def test_every_name_is_that_of_its_constant(s):
    for names in (s.SENSOR_NAMES, s.OUTPUT_NAMES, s.DUTY_NAMES):
        assert [getattr(s, name.upper()) for name in names] == list(range(len(names)))


def test_numbers_of_the_trace_and_the_link_do_not_move(s):
    # regression lock, not truth
    duties = "idle charging dumping stagnation_hold frost_guard night_cooling exercise fault_stop maintenance hand"
    assert " ".join(s.DUTY_NAMES) == duties
    assert (s.UPKEEP_NONE, s.UPKEEP_MAINTENANCE, s.UPKEEP_PURGE) == (0, 1, 2)
    assert s.OUTPUT_NAMES == ("collector_pump", "tank_pump", "dump_valve_power", "alarm", "air_fan")
    assert s.MOVING == (s.COLLECTOR_PUMP, s.TANK_PUMP, s.DUMP_VALVE_POWER, s.AIR_FAN)
    assert (s.GOOD, s.HELD, s.LOST, s.ABSENT) == (0, 1, 2, 3)
    # An unknown value is below absolute zero, -273.15 C.
    assert (s.UNKNOWN_MC, s.TIMER_TOP_MS, s.STEP_TOP_MS) == (-300000, 8388607, 60000)


def test_every_constant_is_a_small_integer(shipped):
    for module in vars(shipped).values():
        for name, value in vars(module).items():
            if isinstance(value, int):
                assert small_integers.SMALL_LOW <= value <= small_integers.SMALL_HIGH, name


@each("runs, before_ms, after_ms", (True, 7, 5007), (True, 8388606, 8388607), (False, 7, 0))
def test_a_timer_runs_to_its_top_and_starts_again(runs, before_ms, after_ms, calm, shipped):
    calm.change(SCALD_MS=before_ms)
    shipped.state.run_timer(*calm.all, shipped.state.SCALD_MS, runs)
    assert values(shipped, calm, "SCALD_MS") == (after_ms,)
