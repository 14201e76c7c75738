"""How cold the loop may be: every threshold, with readings good, held and lost."""

import pytest

from ..stations import CLEARS, SETS, TRUST, each, latched

FROST_MC = 4000


@each("seen_mc, pumped_ml", (FROST_MC - 1, 0), (FROST_MC, 700), (FROST_MC + 1, 700))
def test_a_frosty_sign_starts_the_pumped_volume_again(calm, shipped, s, seen_mc, pumped_ml):
    calm.state[s.PUMPED_ML] = 700
    shipped.coldloop.fold_lowest(*calm.all, seen_mc)
    assert calm.state[s.PUMPED_ML] == pumped_ml
    assert calm.state[s.LOOP_LOWEST_MC] == calm.state[s.LOOP_SEEN_MC] == seen_mc
    shipped.coldloop.fold_lowest(*calm.all, seen_mc + 500)
    assert calm.state[s.LOOP_LOWEST_MC] == calm.state[s.LOOP_SEEN_MC] == seen_mc, "the lowest stays"
    shipped.coldloop.fold_lowest(*calm.all, shipped.coldloop.COLDEST_MC)
    assert calm.state[s.LOOP_LOWEST_MC] == shipped.coldloop.COLDEST_MC
    assert calm.state[s.LOOP_SEEN_MC] == seen_mc, "an assumption is not remembered as seen"


@each("topology, lowest_mc", ("BYPASS", -10000), ("SERIES", -10000), ("NONE", 20000))
def test_the_first_glycol_through_a_radiator_is_as_cold_as_the_air(calm, shipped, s, topology, lowest_mc):
    """Once after every stop, and only where there is a radiator."""
    calm.change(DUMP_TOPOLOGY=topology, RADIATOR_STOOD=1, OUTDOOR_MC=-10000, COLLECTOR_PUMP_ON=1)
    assert calm.after(shipped.coldloop.flush_radiator, "LOOP_LOWEST_MC") == lowest_mc
    calm.state[s.LOOP_LOWEST_MC] = 20000
    assert calm.after(shipped.coldloop.flush_radiator, "LOOP_LOWEST_MC") == 20000, "no slug while it flows"
    calm.state[s.COLLECTOR_PUMP_ON] = 0
    shipped.coldloop.flush_radiator(*calm.all)
    calm.state[s.COLLECTOR_PUMP_ON] = 1
    assert calm.after(shipped.coldloop.flush_radiator, "LOOP_LOWEST_MC") == lowest_mc, "a slug again after a stop"


@each("valve_ms, flows", (0, True), (119999, True), (120000, False))
def test_glycol_passes_the_radiator_until_the_valve_is_at_the_exchanger(calm, shipped, valve_ms, flows):
    calm.change(COLLECTOR_PUMP_ON=1, VALVE_MS=valve_ms, RADIATOR_STOOD=0)
    assert calm.after(shipped.coldloop.flush_radiator, "RADIATOR_STOOD") == (0 if flows else 1)


@pytest.fixture
def mild(calm, shipped):
    """A loop without a bypass that saw frost, after two hours of mild weather less one step."""
    calm.change(DUMP_TOPOLOGY="NONE", MILD_MS=shipped.coldloop.MILD_LIMIT_MS - 5000, LOOP_LOWEST_MC=-8000, LOOP_SEEN_MC=-8000)
    return calm


@each("name", "COLLECTOR", "OUTDOOR")
@each("trust, forgives", ("GOOD", True), ("HELD", True), ("LOST", False), ("ABSENT", False))
def test_mild_hours_need_both_readings(mild, shipped, s, name, trust, forgives):
    mild.change(**{f"{name}_STATUS": trust})
    assert mild.after(shipped.coldloop.forgive_mild, "MILD_MS") == (shipped.coldloop.MILD_LIMIT_MS if forgives else 0)
    warm = 17000 if forgives else -8000
    assert (mild.state[s.LOOP_LOWEST_MC], mild.state[s.LOOP_SEEN_MC]) == (warm, warm), "seen frost is forgotten too"


@each("name", "COLLECTOR", "OUTDOOR")
@each("value_mc, mild_ms", (6999, 0), (7000, 7200000))
def test_mild_is_three_kelvin_above_exchanger_frost(mild, shipped, name, value_mc, mild_ms):
    """The colder reading counts."""
    mild.change(**{f"{name}_MC": value_mc})
    assert mild.after(shipped.coldloop.forgive_mild, "MILD_MS") == mild_ms


def test_mild_hours_mean_nothing_with_a_way_round(mild, shipped, cfg):
    mild.settings[cfg.DUMP_TOPOLOGY] = cfg.BYPASS
    assert mild.after(shipped.coldloop.forgive_mild, "MILD_MS", "LOOP_LOWEST_MC") == (0, -8000)


def test_mild_hours_never_make_a_loop_colder(mild, shipped, s):
    mild.change(LOOP_LOWEST_MC=19000, LOOP_SEEN_MC=19000)
    assert mild.after(shipped.coldloop.forgive_mild, "LOOP_LOWEST_MC", "LOOP_SEEN_MC") == (19000, 19000)
    mild.state[s.LOOP_LOWEST_MC] = 17000
    assert mild.after(shipped.coldloop.forgive_mild, "LOOP_LOWEST_MC", "LOOP_SEEN_MC") == (17000, 19000), "nor seen frost"


@each("before_ml, exchanged", (14624, False), (14625, True))
def test_one_and_a_half_loops_of_pumped_glycol_make_the_loop_known(calm, shipped, s, before_ml, exchanged):
    """source: 1.5 times loop_volume of 10 l (coldloop.py); 4.5 l/min for 5 s is 375 ml"""
    calm.change(PUMPED_ML=before_ml, LOOP_KNOWN=0, STANDING_MS=5000, LOOP_LOWEST_MC=-8000, LOOP_SEEN_MC=-8000)
    calm.change(LOOP_SUPPLY_MC=19000)
    assert calm.after(shipped.coldloop.count_pumped, "PUMPED_ML", "STANDING_MS") == (before_ml + 375, 0)
    lowest = 19000 if exchanged else -8000
    assert (calm.state[s.LOOP_LOWEST_MC], calm.state[s.LOOP_SEEN_MC]) == (lowest, lowest)
    assert calm.state[s.LOOP_KNOWN] == exchanged


@each(
    "collector, supply, lowest_mc",
    ("GOOD", "GOOD", 17000),
    ("HELD", "HELD", 17000),
    ("GOOD", "LOST", 20000),
    ("GOOD", "ABSENT", 20000),
    ("LOST", "GOOD", -8000),
    ("ABSENT", "GOOD", -8000),
)
def test_an_exchanged_loop_is_as_warm_as_the_colder_of_its_trusted_sensors(calm, shipped, collector, supply, lowest_mc):
    """The collector has to be trusted."""
    calm.change(PUMPED_ML=20000, LOOP_LOWEST_MC=-8000, LOOP_SUPPLY_MC=17000, COLLECTOR_STATUS=collector)
    calm.change(LOOP_SUPPLY_STATUS=supply)
    assert calm.after(shipped.coldloop.count_pumped, "LOOP_LOWEST_MC") == lowest_mc


def test_a_part_of_a_millilitre_waits_for_the_next_step(calm, shipped, s):
    """4500 ml/min for 333 ms is 24 ml and 58,500 of 60,000 parts of the next."""
    calm.inputs[s.IN_DT_MS] = 333
    assert calm.after(shipped.coldloop.count_pumped, "PUMPED_ML", "PUMPED_REST") == (24, 58500)
    assert calm.after(shipped.coldloop.count_pumped, "PUMPED_ML", "PUMPED_REST") == (49, 57000)


def test_the_pumped_volume_stops_at_the_top(calm, shipped, s):
    calm.state[s.PUMPED_ML] = s.TIMER_TOP_MS - 374
    assert calm.after(shipped.coldloop.count_pumped, "PUMPED_ML") == s.TIMER_TOP_MS


@each("topology", "SERIES", "NONE", "BYPASS")
@each(
    "collector_mc, outdoor_mc, seen_mc, lowest_mc",
    (20000, 12000, 240000, -3000),
    (12000, 20000, 240000, -3000),
    (20000, 20000, 4999, 4999),
    (20000, 20000, 5001, 5000),
)
def test_without_a_way_round_an_unknown_loop_lags_by_fifteen_kelvin(
    calm, shipped, s, topology, collector_mc, outdoor_mc, seen_mc, lowest_mc
):
    """The colder of air and collector less 15 K (coldloop.py), or the frost seen meanwhile."""
    calm.change(DUMP_TOPOLOGY=topology, LOOP_KNOWN=0, LOOP_LOWEST_MC=-50000, LOOP_SEEN_MC=seen_mc, COLLECTOR_MC=collector_mc)
    calm.change(OUTDOOR_MC=outdoor_mc)
    shipped.coldloop.know_loop(*calm.all)
    judged = topology != "BYPASS"
    assert (calm.state[s.LOOP_KNOWN], calm.state[s.LOOP_LOWEST_MC]) == ((1, lowest_mc) if judged else (0, -50000))


@each("name", "COLLECTOR", "OUTDOOR")
@each("trust, judged", ("GOOD", 1), ("HELD", 1), ("LOST", 0), ("ABSENT", 0))
def test_an_unknown_loop_is_judged_by_both_readings(calm, shipped, name, trust, judged):
    calm.change(DUMP_TOPOLOGY="NONE", LOOP_KNOWN=0, **{f"{name}_STATUS": trust})
    assert calm.after(shipped.coldloop.know_loop, "LOOP_KNOWN") == judged


def test_a_known_loop_is_not_judged_again(calm, shipped, cfg):
    calm.settings[cfg.DUMP_TOPOLOGY] = cfg.NONE
    assert calm.after(shipped.coldloop.know_loop, "LOOP_LOWEST_MC") == 20000


@each("trust, lowest_mc, known", ("GOOD", 9000, 1), ("HELD", 9000, 1), ("LOST", -50000, 0))
def test_what_the_collector_shows_is_in_the_loop(calm, shipped, s, trust, lowest_mc, known):
    """With the collector lost the loop may hold anything; what was seen stays."""
    calm.change(COLLECTOR_STATUS=trust, COLLECTOR_MC=9000)
    assert calm.after(shipped.coldloop.track_loop, "LOOP_LOWEST_MC", "LOOP_KNOWN") == (lowest_mc, known)
    assert calm.state[s.LOOP_SEEN_MC] == (9000 if known else 20000)


@each("before_ms, stands", (594999, False), (595000, True))
@each("fitted", 0, 1)
def test_after_ten_minutes_at_rest_the_pipes_may_be_as_cold_as_the_air(calm, shipped, s, before_ms, stands, fitted):
    calm.change(OUTDOOR_FITTED=fitted, STANDING_MS=before_ms, OUTDOOR_MC=9000)
    assert calm.after(shipped.coldloop.track_loop, "STANDING_MS") == before_ms + 5000
    assert calm.state[s.LOOP_LOWEST_MC] == (9000 if stands and fitted else 20000)


@each("trust, lowest_mc, known", ("HELD", 9000, 1), ("LOST", -50000, 0))
def test_an_air_that_nobody_knows_may_be_as_cold_as_anything(calm, shipped, trust, lowest_mc, known):
    calm.change(STANDING_MS=595000, OUTDOOR_MC=9000, OUTDOOR_STATUS=trust)
    assert calm.after(shipped.coldloop.track_loop, "LOOP_LOWEST_MC", "LOOP_KNOWN") == (lowest_mc, known)


def test_a_pump_that_runs_ends_the_rest(calm, shipped):
    """From its first step on the pipes no longer count as standing, and volume is counted."""
    calm.change(STANDING_MS=700000, OUTDOOR_MC=9000, COLLECTOR_PUMP_ON=1, RADIATOR_STOOD=0)
    assert calm.after(shipped.coldloop.track_loop, "STANDING_MS", "PUMPED_ML", "LOOP_LOWEST_MC") == (0, 375, 20000)


def test_the_rest_is_counted_up_to_the_top(calm, shipped, s):
    calm.state[s.STANDING_MS] = s.TIMER_TOP_MS - 1
    assert calm.after(shipped.coldloop.track_loop, "STANDING_MS") == s.TIMER_TOP_MS


def test_each_step_looks_at_all_that_tells_of_the_loop(calm, shipped, s):
    """A step judges an unknown loop, counts mild hours and notes that the radiator stands."""
    calm.change(DUMP_TOPOLOGY="SERIES", LOOP_KNOWN=0, RADIATOR_STOOD=0, MILD_MS=1000)
    assert calm.after(shipped.coldloop.track_loop, "LOOP_KNOWN", "RADIATOR_STOOD", "MILD_MS") == (1, 1, 6000)
    assert calm.state[s.LOOP_LOWEST_MC] == 5000


def test_a_loop_wakes_as_cold_as_any(calm, shipped, s):
    calm.change(MILD_MS=5000, RADIATOR_STOOD=0)
    assert calm.after(shipped.coldloop.wake, "LOOP_LOWEST_MC") == -50000
    assert calm.state[s.LOOP_SEEN_MC] >= 240000, "above any loop"
    assert (calm.state[s.RADIATOR_STOOD], calm.state[s.LOOP_KNOWN], calm.state[s.MILD_MS]) == (1, 0, 0)


@each("name", "LOOP_RETURN", "LOOP_SUPPLY")
@each("topology", "BYPASS", "SERIES", "NONE")
@each("on", 0, 1)
@each("trust, counts", *TRUST)
@each("value_mc, frosty", (3999, True), (4000, False))
def test_frosty_glycol_sinks_to_the_exchanger(name, topology, on, trust, counts, value_mc, frosty, calm, shipped):
    """source: docs/sensors.md, without a bypass also either loop sensor, pump off"""
    calm.change(DUMP_TOPOLOGY=topology, COLLECTOR_PUMP_ON=on, **{f"{name}_MC": value_mc, f"{name}_STATUS": trust})
    sinks = topology != "BYPASS" and on == 0 and counts and frosty
    assert shipped.coldloop.glycol_sinks(*calm.all) == sinks
    assert latched(shipped, calm, shipped.frost.latch_frost, "FROST") == (SETS if sinks else CLEARS)


@each("dt_ms", 1, 333, 1000, 60000)
def test_no_pumped_volume_is_lost_between_steps(dt_ms, arrays, shipped, s):
    arrays.change(IN_DT_MS=dt_ms, COLLECTOR_FLOW=4567, LOOP_VOLUME=100000)
    for _ in range(1000):
        shipped.coldloop.count_pumped(*arrays.all)
    assert arrays.state[s.PUMPED_ML] == min(4567 * dt_ms * 1000 // 60000, s.TIMER_TOP_MS)
