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


@each("standing_ms, slowly", (0, True), (3599999, True), (3600000, False))
def test_after_an_hour_of_rest_no_pipe_is_warmer_than_the_air(calm, shipped, standing_ms, slowly):
    """source: coldloop.py, pipes that cool down in an hour"""
    calm.change(DUMP_TOPOLOGY="SERIES", STANDING_MS=standing_ms)
    assert shipped.coldloop.cools_slowly(*calm.all) == slowly


@each("valve_ms, flows", (0, True), (119999, True), (120000, False))
def test_glycol_passes_the_radiator_until_the_valve_is_at_the_exchanger(calm, shipped, valve_ms, flows):
    calm.change(COLLECTOR_PUMP_ON=1, VALVE_MS=valve_ms, RADIATOR_STOOD=0)
    assert calm.after(shipped.coldloop.flush_radiator, "RADIATOR_STOOD") == (0 if flows else 1)


@pytest.fixture
def frosty(calm):
    """A loop without a bypass that saw frost, one step before it follows milder weather."""
    return calm.change(DUMP_TOPOLOGY="NONE", RISE_MS=55000, LOOP_LOWEST_MC=-8000, LOOP_SEEN_MC=-8000)


@each("name", "COLLECTOR", "OUTDOOR")
@each("trust, follows", *TRUST)
def test_a_loop_follows_milder_weather_by_a_ninetieth_a_minute(frosty, shipped, s, name, trust, follows):
    """From -8 C to 20 C in 90 steps: 311 mK. Both readings are needed; seen frost stays."""
    frosty.change(**{f"{name}_STATUS": trust})
    assert frosty.after(shipped.coldloop.rise, "RISE_MS") == (0 if follows or name == "OUTDOOR" else 55000)
    risen = -8000 + 311 if follows else -8000
    assert (frosty.state[s.LOOP_LOWEST_MC], frosty.state[s.LOOP_SEEN_MC]) == (risen, -8000)


@each(
    "collector_mc, outdoor_mc, over_mk, lowest_mc",
    # The colder one counts; the collector may be 3 K colder than the pipes.
    (60000, -4400, 0, -7960),
    (-7400, -4400, 0, -7960),
    # An outdoor sensor that reads high, as the collector shows now, or has shown.
    (60000, 0, 4404, -7960),
    (-7400, 12000, 0, -7960),
    # Milder by less than a ninetieth of a kelvin.
    (60000, -7911, 0, -8000),
    # Colder: by a tenth.
    (60000, -11000, 0, -8300),
    (-14000, 0, 0, -8300),
    (60000, -8001, 0, -8001),
)
def test_what_a_loop_follows(frosty, shipped, s, collector_mc, outdoor_mc, over_mk, lowest_mc):
    frosty.change(COLLECTOR_MC=collector_mc, OUTDOOR_MC=outdoor_mc, AIR_OVER_MK=over_mk)
    assert frosty.after(shipped.coldloop.rise, "LOOP_LOWEST_MC") == lowest_mc


def test_glycol_that_moves_does_not_cool_to_the_air(frosty, shipped):
    frosty.change(OUTDOOR_MC=-20000, COLLECTOR_PUMP_ON=1)
    assert frosty.after(shipped.coldloop.rise, "LOOP_LOWEST_MC") == -8000


@each(
    "facts, lowest_mc",
    ({}, 12000),
    ({"LOOP_RETURN_STATUS": "LOST"}, 15000),
    ({"LOOP_RETURN_STATUS": "LOST", "LOOP_SUPPLY_STATUS": "LOST"}, 18000),
    ({"LOOP_RETURN_MC": 30000, "LOOP_SUPPLY_MC": 30000, "TANK_LOW_STATUS": "LOST", "TANK_LOW_MC": -300000}, 20000),
    ({"STANDING_MS": 5000}, 20000),
    ({"COLLECTOR_PUMP_ON": 1}, 20000),
    ({"DUMP_TOPOLOGY": "BYPASS"}, 20000),
)
def test_a_pump_that_stops_leaves_glycol_as_cold_as_station_or_tank(facts, lowest_mc, calm, shipped):
    """Only where no bypass flushes it, and where the bottom is known."""
    calm.change(DUMP_TOPOLOGY="NONE", LOOP_RETURN_MC=12000, LOOP_SUPPLY_MC=15000, TANK_LOW_MC=18000, RISE_MS=0)
    calm.change(**facts)
    assert calm.after(shipped.coldloop.track_loop, "LOOP_LOWEST_MC") == lowest_mc


@each(
    "collector_mc, outdoor_mc, over_mk, becomes_mk",
    (20000, 23000, 0, 0),
    (20000, 23001, 0, 1),
    (20000, 30000, 7004, 7000),
    (60000, 20000, 5000, 4996),
    (60000, 20000, 3, 0),
    # In the dark an error that does not show is forgiven by one part in 120.
    (20000, 22999, 4799, 4759),
    (20000, 20001, 4799, 4735),
    (20000, 20000, 4799, 4795),
)
def test_a_dark_collector_judges_the_outdoor_sensor(frosty, shipped, collector_mc, outdoor_mc, over_mk, becomes_mk):
    """source: coldloop.py, 3 K for radiation; forgiven by 4 mK a minute"""
    frosty.change(COLLECTOR_MC=collector_mc, OUTDOOR_MC=outdoor_mc, AIR_OVER_MK=over_mk)
    assert frosty.after(shipped.coldloop.rise, "AIR_OVER_MK") == becomes_mk


@each(
    "air_mc, outdoor_mc, becomes_mc",
    # At boot and after a jump down it is 8 K warmer than the sensor, and follows by 9 K an hour.
    (240000, 20000, 27850),
    (25000, 20000, 24850),
    (20100, 20000, 20000),
    # The same way up, as long as the sensor is less than 8 K warmer.
    (19900, 20000, 20000),
    (19800, 20000, 19950),
    (12001, 20000, 12151),
    (12000, 20000, 12000),
    (-15000, 60000, -15000),
)
def test_the_air_does_not_jump(frosty, shipped, s, air_mc, outdoor_mc, becomes_mc):
    """source: coldloop.py"""
    frosty.change(AIR_MC=air_mc, OUTDOOR_MC=outdoor_mc, COLLECTOR_MC=90000, LOOP_LOWEST_MC=air_mc)
    assert frosty.after(shipped.coldloop.rise, "AIR_MC") == becomes_mc
    assert shipped.coldloop.air_mc(*frosty.all) == min(outdoor_mc, becomes_mc)
    frosty.change(OUTDOOR_MC=-30000)
    assert shipped.coldloop.air_mc(*frosty.all) == -30000, "it falls at once"


@each("collector_mc, agrees", (20000, True), (17000, True), (20001, False), (16999, False))
def test_a_dark_collector_confirms_a_jump(frosty, shipped, collector_mc, agrees):
    frosty.change(AIR_MC=-5000, OUTDOOR_MC=20000, COLLECTOR_MC=collector_mc)
    assert frosty.after(shipped.coldloop.rise, "AIR_MC") == (-4850 if agrees else -5000)


def test_a_loop_with_a_way_round_follows_no_weather(frosty, shipped):
    frosty.change(DUMP_TOPOLOGY="BYPASS", OUTDOOR_MC=40000)
    assert frosty.after(shipped.coldloop.rise, "RISE_MS", "LOOP_LOWEST_MC", "AIR_OVER_MK") == (55000, -8000, 0)
    assert shipped.coldloop.air_mc(*frosty.all) == 40000


def test_a_loop_follows_only_once_a_minute(frosty, shipped):
    frosty.change(RISE_MS=54999)
    assert frosty.after(shipped.coldloop.rise, "RISE_MS", "LOOP_LOWEST_MC") == (59999, -8000)


@each(
    "facts, arrived_ms",
    ({}, 30000),
    ({"LOOP_SUPPLY_STATUS": "HELD"}, 30000),
    ({"LOOP_SUPPLY_STATUS": "LOST"}, 0),
    ({"LOOP_SUPPLY_MC": 29999}, 0),
    ({"PUMPED_ML": 3749}, 0),
    ({"DUTY": "IDLE"}, 0),
)
def test_when_glycol_from_the_sun_has_arrived(frosty, shipped, s, facts, arrived_ms):
    """source: coldloop.py, 30 C for half a minute after three eighths of a loop of 10 l"""
    frosty.change(DUTY="CHARGING", PUMPED_ML=3750, LOOP_SUPPLY_MC=30000, COLLECTOR_MC=70000, ARRIVED_MS=25000, STANDING_MS=5000)
    frosty.change(**facts)
    assert frosty.after(shipped.coldloop.track_loop, "ARRIVED_MS") == arrived_ms
    assert (frosty.state[s.LOOP_LOWEST_MC] == 30000) == (arrived_ms == 30000)


def test_sun_that_arrives_has_to_stay(frosty, shipped):
    frosty.change(DUTY="CHARGING", PUMPED_ML=3750, LOOP_SUPPLY_MC=30000, COLLECTOR_MC=70000, ARRIVED_MS=24999, STANDING_MS=5000)
    assert frosty.after(shipped.coldloop.track_loop, "ARRIVED_MS") == 29999
    assert frosty.after(shipped.coldloop.track_loop, "ARRIVED_MS", "LOOP_LOWEST_MC") == (34999, 30000)


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


def test_air_and_collector_without_a_bypass(calm, shipped, s):
    """The pipes are up to 3 K warmer than a dark collector; ten minutes leave them to the air."""
    calm.change(DUMP_TOPOLOGY="SERIES", COLLECTOR_MC=9000, OUTDOOR_MC=-12000, STANDING_MS=5000, RISE_MS=0)
    assert calm.after(shipped.coldloop.track_loop, "LOOP_LOWEST_MC") == 12000
    calm.change(LOOP_LOWEST_MC=3999, PUMPED_ML=700)
    assert calm.after(shipped.coldloop.track_loop, "PUMPED_ML") == 700
    calm.change(STANDING_MS=595000)
    assert calm.after(shipped.coldloop.track_loop, "LOOP_LOWEST_MC", "PUMPED_ML") == (3999, 0)
    calm.change(LOOP_LOWEST_MC=4000, PUMPED_ML=700)
    assert calm.after(shipped.coldloop.track_loop, "LOOP_LOWEST_MC", "PUMPED_ML") == (4000, 700)


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


@each("trust, age_ms, lowest_mc, known", ("HELD", 600000, 9000, 1), ("LOST", 599999, 20000, 1), ("LOST", 600000, -50000, 0))
def test_an_air_that_nobody_knows_may_be_as_cold_as_anything(calm, shipped, s, trust, age_ms, lowest_mc, known):
    """Ten minutes after it was last read."""
    calm.change(STANDING_MS=595000, OUTDOOR_MC=9000, OUTDOOR_STATUS=trust)
    calm.state[s.AGE_MS + s.OUTDOOR] = age_ms
    assert calm.after(shipped.coldloop.track_loop, "LOOP_LOWEST_MC", "LOOP_KNOWN") == (lowest_mc, known)


def test_a_pump_that_runs_ends_the_rest(calm, shipped):
    """From its first step on the pipes no longer count as standing, and volume is counted."""
    calm.change(STANDING_MS=700000, OUTDOOR_MC=9000, COLLECTOR_PUMP_ON=1, RADIATOR_STOOD=0)
    assert calm.after(shipped.coldloop.track_loop, "STANDING_MS", "PUMPED_ML", "LOOP_LOWEST_MC") == (0, 375, 20000)


def test_the_rest_is_counted_up_to_the_top(calm, shipped, s):
    calm.state[s.STANDING_MS] = s.TIMER_TOP_MS - 1
    assert calm.after(shipped.coldloop.track_loop, "STANDING_MS") == s.TIMER_TOP_MS


def test_each_step_looks_at_all_that_tells_of_the_loop(calm, shipped, s):
    """A step judges an unknown loop, follows the weather and notes that the radiator stands."""
    calm.change(DUMP_TOPOLOGY="SERIES", LOOP_KNOWN=0, RADIATOR_STOOD=0, RISE_MS=1000)
    assert calm.after(shipped.coldloop.track_loop, "LOOP_KNOWN", "RADIATOR_STOOD", "RISE_MS") == (1, 1, 6000)
    assert calm.state[s.LOOP_LOWEST_MC] == 5000


@each("topology, over_mk", ("BYPASS", 0), ("SERIES", 5000), ("NONE", 5000))
def test_a_loop_wakes_as_cold_as_any(calm, shipped, s, topology, over_mk):
    """Without a bypass, and the outdoor sensor counts as 5 K high (coldloop.py)."""
    calm.change(DUMP_TOPOLOGY=topology, AIR_OVER_MK=7000, RADIATOR_STOOD=0)
    assert calm.after(shipped.coldloop.wake, "LOOP_LOWEST_MC") == -50000
    assert calm.state[s.LOOP_SEEN_MC] >= 240000, "above any loop"
    assert (calm.state[s.RADIATOR_STOOD], calm.state[s.LOOP_KNOWN], calm.state[s.AIR_OVER_MK]) == (1, 0, over_mk)


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


def test_pulses_of_charging_leave_glycol_that_has_not_sunk(calm, shipped):
    calm.change(DUTY="CHARGING", DUMP_TOPOLOGY="NONE", LOOP_SUPPLY_MC=-5000, LOOP_RETURN_MC=-5000)
    assert not shipped.coldloop.glycol_sinks(*calm.all)


@each("dt_ms", 1, 333, 1000, 60000)
def test_no_pumped_volume_is_lost_between_steps(dt_ms, arrays, shipped, s):
    arrays.change(IN_DT_MS=dt_ms, COLLECTOR_FLOW=4567, LOOP_VOLUME=100000)
    for _ in range(1000):
        shipped.coldloop.count_pumped(*arrays.all)
    assert arrays.state[s.PUMPED_ML] == min(4567 * dt_ms * 1000 // 60000, s.TIMER_TOP_MS)
