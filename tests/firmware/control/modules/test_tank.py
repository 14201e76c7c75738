"""The tank: what its limits act on, where they set and clear, and when the tank pump may join.

source: the figures are the defaults of the design page
"""

from ..stations import CLEARS, SETS, STAYS, TRUST, UNKNOWN_MC, each, latched, values


@each(
    "low, high, reference_mc, coldest_mc",
    ("GOOD", "GOOD", 40000, 40000),
    ("HELD", "HELD", 40000, 40000),
    ("LOST", "HELD", 50000, 50000),
    ("ABSENT", "GOOD", 50000, 50000),
    ("HELD", "LOST", 40000, 40000),
    ("GOOD", "ABSENT", 40000, 40000),
    ("LOST", "LOST", UNKNOWN_MC, UNKNOWN_MC),
)
def test_tank_low_is_the_reference_and_tank_high_stands_in(low, high, reference_mc, coldest_mc, calm, shipped):
    calm.change(TANK_LOW_MC=40000, TANK_HIGH_MC=50000, TANK_LOW_STATUS=low, TANK_HIGH_STATUS=high)
    assert calm.after(shipped.tank.take_reference, "TANK_REFERENCE_MC", "TANK_COLDEST_MC") == (reference_mc, coldest_mc)


def test_the_coldest_may_be_the_top(calm, shipped):
    calm.change(TANK_LOW_MC=50000, TANK_HIGH_MC=40000)
    assert calm.after(shipped.tank.take_reference, "TANK_REFERENCE_MC", "TANK_COLDEST_MC") == (50000, 40000)


@each("name", "TANK_LOW_STATUS", "TANK_HIGH_STATUS")
@each("trust, counts", *TRUST)
@each("low_mc, is_crossed", (44999, False), (45000, True))
def test_a_bottom_five_kelvin_above_its_top_is_crossed(name, trust, counts, low_mc, is_crossed, calm, shipped):
    """source: docs/sensors.md"""
    calm.change(TANK_LOW_MC=low_mc, TANK_HIGH_MC=40000, **{name: trust})
    assert shipped.tank.crossed(*calm.all) == (is_crossed and counts)


@each(
    "facts, hottest_mc",
    ({"TANK_HIGH_MC": 50000}, 50000),
    ({"TANK_HIGH_MC": 50000, "TANK_HIGH_STATUS": "HELD"}, 50000),
    ({"TANK_HIGH_MC": 35001}, 40000),
    # An inverted tank counts as tank_high lost, and for a while after; what is hotter counts.
    ({"TANK_HIGH_MC": 35000}, 60000),
    ({"TANK_HIGH_MC": 50000, "CROSSED_MS": 10000}, 60000),
    ({"TANK_HIGH_MC": 60001, "CROSSED_MS": 10000}, 60001),
    ({"TANK_HIGH_MC": 50000, "CROSSED_MS": 1, "COLLECTOR_PUMP_ON": 1}, 60000),
    ({"TANK_HIGH_MC": UNKNOWN_MC, "TANK_HIGH_STATUS": "LOST"}, 60000),
    ({"TANK_HIGH_MC": UNKNOWN_MC, "TANK_HIGH_STATUS": "LOST", "STRATIFICATION_MARGIN": 30000}, 70000),
    ({"TANK_HIGH_MC": UNKNOWN_MC, "TANK_HIGH_STATUS": "LOST", "TANK_REFERENCE_MC": UNKNOWN_MC}, UNKNOWN_MC),
)
def test_the_margin_stands_in_for_a_top_out_of_sight(facts, hottest_mc, calm, shipped):
    """source: the design page, tank_high lost: limits on tank_low drop by 20 K"""
    calm.change(TANK_LOW_MC=40000, TANK_REFERENCE_MC=40000)
    calm.change(**facts)
    assert calm.after(shipped.tank.take_hottest, "TANK_HOTTEST_MC") == hottest_mc


@each(
    "high_mc, trust, reference_mc, seen_mc",
    (50000, "GOOD", 40000, 50000),
    (50000, "HELD", 40000, 50000),
    (30000, "HELD", 40000, 40000),
    (50000, "LOST", 40000, 40000),
    (50000, "ABSENT", -300000, -300000),
)
def test_the_hottest_of_the_tank_without_a_margin(high_mc, trust, reference_mc, seen_mc, calm, shipped):
    calm.change(TANK_HIGH_MC=high_mc, TANK_HIGH_STATUS=trust, TANK_REFERENCE_MC=reference_mc)
    assert shipped.tank.hottest_seen_mc(*calm.all) == seen_mc


@each(
    "hottest_mc, margin_mk, becomes",
    # Half a kelvin early, for what a run-on brings.
    (74500, 0, SETS),
    (74499, 0, STAYS),
    (70000, 0, STAYS),
    (69999, 0, CLEARS),
    (59500, 15000, SETS),
    (59499, 15000, STAYS),
    (55000, 15000, STAYS),
    (54999, 15000, CLEARS),
)
def test_the_tank_is_over_its_limit(hottest_mc, margin_mk, becomes, calm, shipped):
    calm.change(TANK_HOTTEST_MC=hottest_mc, TANK_MARGIN=margin_mk, AWAY=1)
    assert latched(shipped, calm, shipped.tank.latch_over, "TANK_OVER") == becomes
    assert latched(shipped, calm, shipped.tank.latch_over, "TANK_OVER", TANK_REFERENCE_MC=UNKNOWN_MC) == STAYS


@each(
    "facts, becomes",
    ({"TANK_REFERENCE_MC": 67000}, SETS),
    ({"TANK_REFERENCE_MC": 66999}, STAYS),
    ({"TANK_REFERENCE_MC": 60000}, STAYS),
    ({"TANK_REFERENCE_MC": 59999}, CLEARS),
    ({"TANK_REFERENCE_MC": 59999, "TANK_OVER": 1}, SETS),
    # The hottest counts as the low end only while tank_high is lost.
    ({"TANK_REFERENCE_MC": 59999, "TANK_HOTTEST_MC": 70000}, CLEARS),
    ({"TANK_REFERENCE_MC": 59999, "TANK_HOTTEST_MC": 70000, "TANK_HIGH_STATUS": "HELD"}, CLEARS),
    ({"TANK_REFERENCE_MC": 59999, "TANK_HOTTEST_MC": 67000, "TANK_HIGH_STATUS": "LOST"}, SETS),
    ({"TANK_REFERENCE_MC": 59999, "TANK_HOTTEST_MC": 66999, "TANK_HIGH_STATUS": "ABSENT"}, STAYS),
    # With sensors that read 15 K low both figures drop by as much.
    ({"TANK_REFERENCE_MC": 52000, "TANK_MARGIN": 15000}, SETS),
    ({"TANK_REFERENCE_MC": 51999, "TANK_MARGIN": 15000}, STAYS),
    ({"TANK_REFERENCE_MC": 44999, "TANK_MARGIN": 15000}, CLEARS),
    ({"TANK_REFERENCE_MC": UNKNOWN_MC, "TANK_OVER": 1}, STAYS),
    ({"TANK_REFERENCE_MC": UNKNOWN_MC}, STAYS),
)
def test_the_tank_is_full(facts, becomes, calm, shipped):
    assert latched(shipped, calm, shipped.tank.latch_full, "TANK_FULL", **facts) == becomes


@each("hot", "COLLECTOR_MC", "LOOP_SUPPLY_MC")
@each("value_mc, becomes", (90000, SETS), (89999, STAYS), (75000, STAYS), (74999, CLEARS))
def test_glycol_is_too_hot_to_charge(hot, value_mc, becomes, calm, shipped, s):
    """By the hotter of collector and supply, if trusted; a lost collector changes nothing."""
    look = shipped.tank.latch_hot
    for trust, counts in TRUST:
        calm.change(**{hot: value_mc, hot.replace("MC", "STATUS"): trust})
        lost = STAYS if hot == "COLLECTOR_MC" else CLEARS
        assert latched(shipped, calm, look, "CHARGE_HOT") == (becomes if counts else lost), trust
    assert s.HELD == 1


@each("on, run_ms, becomes", (1, 89999, STAYS), (1, 90000, CLEARS), (0, 0, CLEARS))
def test_a_dump_of_hot_glycol_runs_its_minimum(on, run_ms, becomes, calm, shipped):
    calm.change(COLLECTOR_MC=74999, LOOP_SUPPLY_MC=74999, COLLECTOR_PUMP_ON=on, COLLECTOR_PUMP_MS=run_ms)
    assert latched(shipped, calm, shipped.tank.latch_hot, "CHARGE_HOT") == becomes


@each(
    "facts, cold",
    ({"EXCHANGER_MC": 20999}, True),
    ({"EXCHANGER_MC": 21000}, False),
    ({"EXCHANGER_MC": 20999, "EXCHANGER_STATUS": "HELD"}, True),
    ({"EXCHANGER_MC": 0, "EXCHANGER_STATUS": "LOST"}, False),
    ({"EXCHANGER_MC": 0, "EXCHANGER_STATUS": "ABSENT"}, False),
    ({"EXCHANGER_MC": 0, "TANK_PUMP_ON": 1}, False),
)
@each("topology", "BYPASS", "SERIES", "NONE")
def test_plates_that_say_that_nothing_warm_is_there(topology, facts, cold, charging, shipped):
    """Less than exchanger_lag of 1 K above the tank, while its water stands."""
    charging.change(DUMP_TOPOLOGY=topology, **facts)
    assert shipped.tank.plates_cold(*charging.all) == cold
    assert shipped.tank.glycol_warm(*charging.all) == (0 if cold else 1)


@each(
    "topology, pump_ms, valve_ms, through",
    ("BYPASS", 60000, 180000, True),
    ("BYPASS", 59999, 180000, False),
    ("BYPASS", 60000, 179999, False),
    ("NONE", 60000, 0, True),
    ("NONE", 59999, 600000, False),
)
def test_glycol_has_come_through_by_time(topology, pump_ms, valve_ms, through, charging, shipped, s):
    """tank_pump_delay of 60 s, counted from the end of the valve's dump_travel of 120 s."""
    charging.change(DUMP_TOPOLOGY=topology, COLLECTOR_PUMP_MS=pump_ms)
    charging.state[s.OUTPUT_MS + s.DUMP_VALVE_POWER] = valve_ms
    assert shipped.tank.timed_through(*charging.all) == through
    for trust in ("LOST", "ABSENT"):
        charging.change(LOOP_SUPPLY_STATUS=trust)
        assert shipped.tank.glycol_warm(*charging.all) == (1 if through else 0)


@each(
    "facts, warm",
    # exchanger_lead of 3 K to join, exchanger_lag of 1 K to leave.
    ({"LOOP_SUPPLY_MC": 23000}, 1),
    ({"LOOP_SUPPLY_MC": 22999}, 0),
    ({"LOOP_SUPPLY_MC": 21000, "TANK_PUMP_ON": 1}, 1),
    ({"LOOP_SUPPLY_MC": 20999, "TANK_PUMP_ON": 1}, 0),
    ({"LOOP_SUPPLY_MC": 22999, "LOOP_SUPPLY_STATUS": "HELD"}, 0),
    ({"LOOP_SUPPLY_MC": 23000, "LOOP_SUPPLY_STATUS": "HELD", "COLLECTOR_PUMP_MS": 0}, 1),
    ({"COLLECTOR_PUMP_ON": 0}, 0),
    ({"TANK_REFERENCE_MC": UNKNOWN_MC}, 0),
)
@each("topology", "BYPASS", "SERIES", "NONE")
def test_glycol_at_the_exchanger_is_warmer_than_the_tank(topology, facts, warm, charging, shipped):
    charging.change(DUMP_TOPOLOGY=topology, **facts)
    assert shipped.tank.glycol_warm(*charging.all) == warm


@each(
    "facts, cold",
    ({}, 1),
    # 1 K below all of the tank, by the warmer of collector and supply.
    ({"COLLECTOR_MC": 19001}, 0),
    ({"LOOP_SUPPLY_MC": 19000}, 1),
    ({"LOOP_SUPPLY_MC": 19001}, 0),
    ({"LOOP_SUPPLY_MC": 19001, "LOOP_SUPPLY_STATUS": "HELD"}, 0),
    ({"LOOP_SUPPLY_MC": 19001, "LOOP_SUPPLY_STATUS": "LOST"}, 1),
    ({"COLLECTOR_PUMP_ON": 0}, 0),
    ({"TANK_COLDEST_MC": UNKNOWN_MC, "COLLECTOR_MC": UNKNOWN_MC - 9000, "LOOP_SUPPLY_MC": UNKNOWN_MC - 9000}, 0),
    ({"COLLECTOR_PUMP_MS": 59999}, 0),
)
def test_glycol_at_the_exchanger_is_colder_than_the_tank(facts, cold, charging, shipped):
    charging.change(DUTY="NIGHT_COOLING", COLLECTOR_MC=19000, LOOP_SUPPLY_MC=15000)
    charging.change(**facts)
    assert shipped.tank.glycol_cold(*charging.all) == cold


@each(
    "facts, above_ms",
    # tank_limit of 75 C, whatever away_limit and the margin say.
    ({"TANK_HIGH_MC": 75001}, 8000),
    ({"TANK_HIGH_MC": 75000}, 0),
    ({"TANK_REFERENCE_MC": 75001}, 8000),
    ({"TANK_HIGH_MC": 61000, "AWAY": 1}, 0),
    ({"TANK_HOTTEST_MC": 90000}, 0),
    # Nobody sees that part: it may be.
    ({"TANK_HIGH_STATUS": "LOST"}, 8388607),
    ({"TANK_LOW_STATUS": "LOST"}, 8388607),
)
def test_how_long_a_tank_sensor_was_above_its_limit(facts, above_ms, calm, shipped):
    calm.change(ABOVE_MS=3000, **facts)
    assert calm.after(shipped.tank.time_above, "ABOVE_MS") == above_ms


@each(
    "facts, given_mc, beyond_ms",
    # In charging the hottest glycol so far counts, and 4 K more.
    ({}, 50000, 8000),
    ({"TANK_HIGH_MC": 54000}, 50000, 0),
    ({"TANK_REFERENCE_MC": 54001, "TANK_HIGH_MC": 20000}, 50000, 8000),
    ({"LOOP_SUPPLY_MC": 49999}, 50000, 8000),
    ({"LOOP_SUPPLY_MC": 50001}, 50001, 0),
    # Otherwise the tank as it reads.
    ({"DUTY": "NIGHT_COOLING"}, 54001, 0),
    ({"DUTY": "NIGHT_COOLING", "TANK_HIGH_MC": 30000}, 30000, 0),
    ({"LOOP_SUPPLY_STATUS": "LOST"}, 54001, 0),
    ({"TANK_LOW_STATUS": "LOST"}, 54001, 0),
    ({"TANK_HIGH_STATUS": "LOST"}, 20000, 0),
)
def test_how_long_a_tank_sensor_was_hotter_than_its_glycol(facts, given_mc, beyond_ms, calm, shipped):
    """source: docs/sensors.md, the tank gets no hotter than the glycol that heats it"""
    calm.change(DUTY="CHARGING", TANK_HIGH_MC=54001, LOOP_SUPPLY_MC=45000, GIVEN_MC=50000, BEYOND_MS=3000)
    calm.change(**facts)
    assert calm.after(shipped.tank.time_beyond, "GIVEN_MC", "BEYOND_MS") == (given_mc, beyond_ms)


HOT_TANK = {"ABOVE_MS": 60000, "TANK_LOW_MC": 70000, "TANK_HIGH_MC": 76000, "COLLECTOR_MC": 69000, "LOOP_SUPPLY_MC": 69000}


@each(
    "supply_mc, exchanger_mc, drained",
    (38000, 29999, True),
    (38000, 30000, False),
    (37999, 29999, False),
    (30001, 27999, True),
    # A sun that is gone: the radiator has had no heat.
    (30000, 27999, False),
)
def test_a_drained_tank_shows_where_glycol_arrives_warmer(supply_mc, exchanger_mc, drained, charging, shipped):
    charging.change(DUMP_TOPOLOGY="SERIES", STEADY_MS=5000, TANK_REFERENCE_MC=30000, TANK_LOW_MC=30000)
    charging.change(LOOP_SUPPLY_MC=supply_mc, COLLECTOR_MC=supply_mc, EXCHANGER_MC=exchanger_mc)
    assert shipped.tank.drained(*charging.all) == drained


@each("facts", {}, {"COLLECTOR_STATUS": "LOST"}, {"LOOP_RETURN_STATUS": "LOST"}, {"TANK_HIGH_STATUS": "LOST"})
def test_only_charging_drains_a_tank(facts, charging, shipped):
    """Whatever is lost."""
    charging.change(DUMP_TOPOLOGY="SERIES", STEADY_MS=5000, TANK_REFERENCE_MC=30000, TANK_LOW_MC=30000, EXCHANGER_MC=20000)
    charging.change(LOOP_SUPPLY_MC=50000, **facts)
    assert shipped.tank.drained(*charging.all)
    charging.change(STEADY_MS=0)
    assert not shipped.tank.drained(*charging.all)


@each(
    "facts, moved_ml",
    ({}, 0),
    ({"LOOP_RETURN_MC": 60999}, 700000),
    ({"LOOP_SUPPLY_MC": 64001}, 700000),
    ({"TANK_HIGH_STATUS": "LOST"}, 700000),
)
def test_glycol_that_leaves_hotter_than_the_top_shows_standing_water(facts, moved_ml, charging, shipped, s):
    """Then none has moved past tank_low; source: tank.py, an eighth of the lead is no heat"""
    charging.change(LOOP_SUPPLY_MC=64000, LOOP_RETURN_MC=61000, TANK_HIGH_MC=60000, TANK_LOW_MC=40000, TANK_REFERENCE_MC=40000)
    charging.change(LOW_BY_MK=5000, UNWARMED_MC=40000, UNWARMED_ML=700000, **facts)
    charging.inputs[s.IN_RAW_MC + s.TANK_LOW] = 40000
    assert charging.after(shipped.tank.watch_unwarmed, "UNWARMED_ML") == moved_ml


@each("raw_mc, moved_ml", (42000, 0), (41999, 700000), (38001, 700000), (38000, 0))
def test_a_tank_low_that_moves_either_way_is_alive(raw_mc, moved_ml, charging, shipped, s):
    """source: tank.py, by two kelvin"""
    charging.change(UNWARMED_MC=40000, UNWARMED_ML=700000)
    charging.inputs[s.IN_RAW_MC + s.TANK_LOW] = raw_mc
    assert charging.after(shipped.tank.watch_unwarmed, "UNWARMED_ML") == moved_ml


@each(
    "low_mc, pump, before_ms, after_ms",
    (45000, 0, 0, 40000),
    (45000, 1, 890000, 900000),
    (44999, 0, 900000, 895000),
    (44999, 0, 3000, 0),
    # Warm glycol may be what an exchanged sensor shows.
    (44999, 1, 900000, 900000),
)
def test_a_top_that_read_colder_has_to_agree_at_rest(low_mc, pump, before_ms, after_ms, calm, shipped):
    calm.change(TANK_LOW_MC=low_mc, TANK_HIGH_MC=40000, COLLECTOR_PUMP_ON=pump, CROSSED_MS=before_ms)
    assert calm.after(shipped.tank.time_crossed, "CROSSED_MS") == after_ms


def test_a_doubt_waits_while_nobody_knows_the_tank(calm, shipped):
    """It fades beside a reference only."""
    calm.change(LOW_BY_MK=5000, METER_SECONDS=5, TANK_REFERENCE_MC="UNKNOWN_MC", TANK_HIGH_STATUS="LOST")
    assert calm.after(shipped.tank.watch_taking, "LOW_BY_MK") == 5000
    calm.change(TANK_REFERENCE_MC=20000)
    assert calm.after(shipped.tank.watch_taking, "LOW_BY_MK") == 4995


@each(
    "facts, barred",
    # 1 K below all of the tank, by the warmer of collector and supply.
    ({}, False),
    ({"COLLECTOR_MC": 69001}, True),
    ({"LOOP_SUPPLY_MC": 69001}, True),
    ({"LOOP_SUPPLY_MC": UNKNOWN_MC, "LOOP_SUPPLY_STATUS": "LOST"}, True),
    ({"LOOP_SUPPLY_MC": UNKNOWN_MC, "LOOP_SUPPLY_STATUS": "ABSENT"}, True),
    ({"LOOP_SUPPLY_STATUS": "HELD"}, False),
    ({"TANK_LOW_MC": UNKNOWN_MC, "TANK_LOW_STATUS": "LOST"}, True),
    ({"TANK_LOW_MC": 76000, "TANK_REFERENCE_MC": 76000, "TANK_HIGH_MC": UNKNOWN_MC, "TANK_HIGH_STATUS": "LOST"}, True),
    ({"TANK_LOW_MC": 76000, "TANK_REFERENCE_MC": 76000, "TANK_HIGH_MC": 69999}, True),
    # A bottom that reads hotter than the top by more than a mixed tank's sensors differ.
    ({"TANK_LOW_MC": 77500, "TANK_REFERENCE_MC": 77500, "TANK_COLDEST_MC": 76000}, True),
    ({"TANK_LOW_MC": 77500, "TANK_REFERENCE_MC": 77500, "TANK_COLDEST_MC": 76001}, False),
    # tank_age of 60 s.
    ({"COLLECTOR_MC": 90000, "ABOVE_MS": 59999}, False),
    ({"COLLECTOR_MC": 90000, "TANK_AGE": 120000}, False),
    # No reading is above it.
    ({"COLLECTOR_MC": 90000, "TANK_HIGH_MC": UNKNOWN_MC, "TANK_HIGH_STATUS": "LOST"}, False),
    ({"COLLECTOR_MC": 90000, "TANK_HIGH_MC": 75000}, False),
    ({"COLLECTOR_MC": 90000, "TANK_HIGH_MC": 75001}, True),
)
def test_a_tank_above_its_limit_bars_glycol_that_is_not_colder(facts, barred, calm, shipped):
    """source: the design page, "Always true" 1"""
    calm.change(**{**HOT_TANK, **facts})
    assert shipped.tank.pump_barred(*calm.all) == barred


@each(
    "facts, left_ms",
    ({}, 55000),
    ({"PLATES_HOT_MS": 3000}, 0),
    ({"COLLECTOR_PUMP_ON": 1, "CHARGE_HOT": 1}, 7200000),
    ({"CHARGE_HOT": 1}, 55000),
    # tank_pump_delay of 60 s, and no valve.
    ({"COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 60000, "DUMP_TOPOLOGY": "NONE"}, 0),
    ({"COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 59999, "DUMP_TOPOLOGY": "NONE"}, 55000),
    # Through a bypass radiator it cools nothing.
    ({"COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 60000, "VALVE_MS": 120000}, 0),
    ({"COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 60000, "VALVE_MS": 0}, 55000),
    ({"COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 60000, "VALVE_MS": 0, "DUMP_TOPOLOGY": "SERIES"}, 0),
)
def test_how_long_the_exchanger_may_stay_hot(facts, left_ms, calm, shipped):
    calm.change(PLATES_HOT_MS=60000)
    calm.state[shipped.state.OUTPUT_MS + shipped.state.DUMP_VALVE_POWER] = 180000
    assert calm.change(**facts).after(shipped.tank.time_plates, "PLATES_HOT_MS") == left_ms


@each(
    "facts, hot",
    ({}, False),
    ({"EXCHANGER_MC": 90000}, True),
    ({"EXCHANGER_MC": 89999}, False),
    ({"EXCHANGER_MC": 90000, "TANK_PUMP_ON": 1}, False),
    ({"PLATES_HOT_MS": 7140000}, False),
    ({"PLATES_HOT_MS": 7140001}, True),
    # The hot end may be 10 K hotter than the sensor.
    ({"PLATES_HOT_MS": 1, "EXCHANGER_MC": 79999}, False),
    ({"PLATES_HOT_MS": 1, "EXCHANGER_MC": 80000}, True),
    ({"PLATES_HOT_MS": 0, "EXCHANGER_MC": 80000}, False),
    ({"EXCHANGER_STATUS": "LOST", "PLATES_HOT_MS": 1}, True),
    ({"EXCHANGER_STATUS": "ABSENT", "PLATES_HOT_MS": 1}, True),
    ({"EXCHANGER_STATUS": "ABSENT", "CHARGE_HOT": 1}, True),
    ({"EXCHANGER_STATUS": "ABSENT"}, False),
    ({"CHARGE_HOT": 1}, False),
)
def test_water_in_the_exchanger_too_hot_for_the_tank(facts, hot, calm, shipped):
    calm.change(IN_HAND_MASK=2, IN_HAND_VALUE=2, **facts)
    assert shipped.tank.plates_hot(*calm.all) == hot
    assert shipped.tank.hand_refused(*calm.all) == hot


@each("left_ms, exchanger_mc, warm", (1, 80000, 0), (1, 79999, 1), (0, 90000, 1))
def test_charging_waits_for_hot_plates_only_until_glycol_cools_them(left_ms, exchanger_mc, warm, charging, shipped):
    charging.change(PLATES_HOT_MS=left_ms, EXCHANGER_MC=exchanger_mc, LOOP_SUPPLY_MC=40000, ARRIVED_MC=40000)
    assert shipped.tank.glycol_warm(*charging.all) == warm


@each("collector_on", 0, 1)
@each(
    "have, over, limit", ("", 0, False), ("", 1, True), ("TANK_LOST", 0, True), ("HOT_GLYCOL", 0, True), ("FULL WANTED", 0, False)
)
def test_which_limits_refuse_the_tank_pump_to_hands(collector_on, have, over, limit, calm, shipped):
    """It can add heat only while glycol moves."""
    calm.change(CONDITIONS=have, TANK_OVER=over, COLLECTOR_PUMP_ON=collector_on)
    calm.change(REASON="HAND_HELD", IN_HAND_MASK=2, IN_HAND_VALUE=2, WAIT_REASON=0)
    refused = limit and collector_on == 1
    assert shipped.tank.hand_refused(*calm.all) == refused
    assert shipped.sequence.join_asked(*calm.all) == (0 if refused else 1)
    limit_code = shipped.reasons.WAIT_LIMIT if refused else 0
    assert values(shipped, calm, "WAIT_REASON") == (limit_code,)
    calm.change(IN_HAND_VALUE=0, WAIT_REASON=0)
    assert shipped.sequence.join_asked(*calm.all) == 0
    assert values(shipped, calm, "WAIT_REASON") == (0,), "only a request can be refused"
