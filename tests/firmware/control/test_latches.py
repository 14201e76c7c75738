"""Facts with a memory: where each latch sets, where it clears, that it stays in between, and what a lost reading does to it.

source: the figures are the defaults of the design page; "stays" and "lost" as its words have them ("latches wake protective").
"""

import pytest

UNKNOWN_MC = -300000
TRUST = [("GOOD", True), ("HELD", True), ("LOST", False), ("ABSENT", False)]


def latched(core, arrays, look, name, **facts):
    """What the latch is after one look, from 0 and from 1: (0, 0) clears, (1, 1) sets, (0, 1) stays."""
    after = []
    for before in (0, 1):
        arrays.change(**{name: before}, **facts)
        look(*arrays.all)
        after.append(arrays.state[getattr(core.state, name)])
    return tuple(after)


CLEARS, STAYS, SETS = (0, 0), (0, 1), (1, 1)


@pytest.mark.parametrize(
    ("low", "high", "reference_mc", "coldest_mc"),
    [
        ("GOOD", "GOOD", 40000, 40000),
        ("HELD", "HELD", 40000, 40000),
        ("LOST", "HELD", 50000, 50000),
        ("ABSENT", "GOOD", 50000, 50000),
        ("HELD", "LOST", 40000, 40000),
        ("GOOD", "ABSENT", 40000, 40000),
        ("LOST", "LOST", UNKNOWN_MC, UNKNOWN_MC),
    ],
)
def test_tank_low_is_the_reference_and_tank_high_stands_in(low, high, reference_mc, coldest_mc, calm, shipped):
    s = shipped.state
    calm.change(TANK_LOW_MC=40000, TANK_HIGH_MC=50000, TANK_LOW_STATUS=low, TANK_HIGH_STATUS=high)
    shipped.latches.take_reference(*calm.all)
    assert (calm.state[s.TANK_REFERENCE_MC], calm.state[s.TANK_COLDEST_MC]) == (reference_mc, coldest_mc)


def test_the_coldest_may_be_the_top(calm, shipped):
    s = shipped.state
    calm.change(TANK_LOW_MC=50000, TANK_HIGH_MC=40000)
    shipped.latches.take_reference(*calm.all)
    assert (calm.state[s.TANK_REFERENCE_MC], calm.state[s.TANK_COLDEST_MC]) == (50000, 40000)


@pytest.mark.parametrize("name", ["TANK_LOW_STATUS", "TANK_HIGH_STATUS"])
@pytest.mark.parametrize(("trust", "counts"), TRUST)
@pytest.mark.parametrize(("low_mc", "is_crossed"), [(44999, False), (45000, True)])
def test_a_bottom_five_kelvin_above_its_top_is_crossed(name, trust, counts, low_mc, is_crossed, calm, shipped):
    """source: docs/sensors.md"""
    calm.change(TANK_LOW_MC=low_mc, TANK_HIGH_MC=40000, **{name: trust})
    assert shipped.latches.tank_crossed(*calm.all) == (is_crossed and counts)


@pytest.mark.parametrize(
    ("facts", "hottest_mc"),
    [
        ({"TANK_HIGH_MC": 50000}, 50000),
        ({"TANK_HIGH_MC": 50000, "TANK_HIGH_STATUS": "HELD"}, 50000),
        ({"TANK_HIGH_MC": 35001}, 40000),
        # Crossed: as if tank_high were lost.
        ({"TANK_HIGH_MC": 35000}, 60000),
        ({"TANK_HIGH_MC": UNKNOWN_MC, "TANK_HIGH_STATUS": "LOST"}, 60000),
        ({"TANK_HIGH_MC": UNKNOWN_MC, "TANK_HIGH_STATUS": "LOST", "STRATIFICATION_MARGIN": 30000}, 70000),
        ({"TANK_HIGH_MC": UNKNOWN_MC, "TANK_HIGH_STATUS": "LOST", "TANK_REFERENCE_MC": UNKNOWN_MC}, UNKNOWN_MC),
    ],
)
def test_the_margin_stands_in_for_a_top_out_of_sight(facts, hottest_mc, calm, shipped):
    """source: the design page, tank_high lost: limits on tank_low drop by 20 K"""
    calm.change(TANK_LOW_MC=40000, TANK_REFERENCE_MC=40000)
    calm.change(**facts)
    shipped.latches.take_hottest(*calm.all)
    assert calm.state[shipped.state.TANK_HOTTEST_MC] == hottest_mc


@pytest.mark.parametrize(
    ("hottest_mc", "away", "becomes"),
    [
        (75000, 0, SETS),
        (74999, 0, STAYS),
        (70000, 0, STAYS),
        (69999, 0, CLEARS),
        (60000, 1, SETS),
        (59999, 1, STAYS),
        (55000, 1, STAYS),
        (54999, 1, CLEARS),
    ],
)
def test_the_tank_is_over_its_limit(hottest_mc, away, becomes, calm, shipped):
    calm.change(TANK_HOTTEST_MC=hottest_mc, AWAY=away)
    assert latched(shipped, calm, shipped.latches.latch_over, "TANK_OVER") == becomes
    assert latched(shipped, calm, shipped.latches.latch_over, "TANK_OVER", TANK_REFERENCE_MC=UNKNOWN_MC) == STAYS


@pytest.mark.parametrize(
    ("facts", "becomes"),
    [
        ({"TANK_REFERENCE_MC": 67000}, SETS),
        ({"TANK_REFERENCE_MC": 66999}, STAYS),
        ({"TANK_REFERENCE_MC": 60000}, STAYS),
        ({"TANK_REFERENCE_MC": 59999}, CLEARS),
        ({"TANK_REFERENCE_MC": 59999, "TANK_OVER": 1}, SETS),
        # The hottest counts for the low end only while the top is out of sight.
        ({"TANK_REFERENCE_MC": 59999, "TANK_HOTTEST_MC": 70000}, CLEARS),
        ({"TANK_REFERENCE_MC": 59999, "TANK_HOTTEST_MC": 70000, "TANK_HIGH_STATUS": "HELD"}, CLEARS),
        ({"TANK_REFERENCE_MC": 59999, "TANK_HOTTEST_MC": 67000, "TANK_HIGH_STATUS": "LOST"}, SETS),
        ({"TANK_REFERENCE_MC": 59999, "TANK_HOTTEST_MC": 66999, "TANK_HIGH_STATUS": "ABSENT"}, STAYS),
        # Away both figures drop by 15 K.
        ({"TANK_REFERENCE_MC": 52000, "AWAY": 1}, SETS),
        ({"TANK_REFERENCE_MC": 51999, "AWAY": 1}, STAYS),
        ({"TANK_REFERENCE_MC": 44999, "AWAY": 1}, CLEARS),
        ({"TANK_REFERENCE_MC": UNKNOWN_MC, "TANK_OVER": 1}, STAYS),
        ({"TANK_REFERENCE_MC": UNKNOWN_MC}, STAYS),
    ],
)
def test_the_tank_is_full(facts, becomes, calm, shipped):
    assert latched(shipped, calm, shipped.latches.latch_full, "TANK_FULL", **facts) == becomes


@pytest.mark.parametrize(
    ("collector_mc", "trust", "becomes"),
    [
        (120000, "GOOD", SETS),
        (119999, "HELD", STAYS),
        (105001, "GOOD", STAYS),
        (105000, "HELD", CLEARS),
        (20000, "LOST", SETS),
        (20000, "ABSENT", SETS),
    ],
)
def test_there_may_be_steam(collector_mc, trust, becomes, calm, shipped):
    calm.change(COLLECTOR_MC=collector_mc, COLLECTOR_STATUS=trust)
    assert latched(shipped, calm, shipped.latches.latch_steam, "STAGNATION") == becomes


# minimum_run of 90 s: a latch that would stop a pump waits for it.
RUNS = [({"COLLECTOR_PUMP_ON": 0, "COLLECTOR_PUMP_MS": 0}, True), ({"COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 90000}, True)]
RUNS += [({"COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 89999}, False)]


@pytest.mark.parametrize(("facts", "enough"), RUNS)
def test_a_pump_runs_its_minimum(facts, enough, calm, shipped):
    calm.change(**facts)
    assert shipped.latches.ran_enough(*calm.all) == enough


@pytest.mark.parametrize(("run", "enough"), RUNS)
@pytest.mark.parametrize(
    ("collector_mc", "trust", "becomes"),
    [
        (95000, "GOOD", SETS),
        (94999, "HELD", STAYS),
        (80001, "GOOD", STAYS),
        (80000, "HELD", CLEARS),
        (99000, "LOST", STAYS),
        (20000, "LOST", STAYS),
        (20000, "ABSENT", STAYS),
    ],
)
def test_the_collector_wants_relief(run, enough, collector_mc, trust, becomes, calm, shipped):
    calm.change(COLLECTOR_MC=collector_mc, COLLECTOR_STATUS=trust, **run)
    expected = STAYS if becomes == CLEARS and not enough else becomes
    assert latched(shipped, calm, shipped.latches.latch_dump, "DUMP_WANTED") == expected


@pytest.mark.parametrize("hot", ["COLLECTOR_MC", "LOOP_SUPPLY_MC"])
@pytest.mark.parametrize(("value_mc", "becomes"), [(90000, SETS), (89999, STAYS), (75000, STAYS), (74999, CLEARS)])
def test_glycol_is_too_hot_to_charge(hot, value_mc, becomes, calm, shipped):
    """The hotter of the collector and of what arrives; a supply that is not trusted says nothing, a lost collector leaves all."""
    s = shipped.state
    look = shipped.latches.latch_hot
    for trust, counts in TRUST:
        calm.change(**{hot: value_mc, hot.replace("MC", "STATUS"): trust})
        lost = STAYS if hot == "COLLECTOR_MC" else CLEARS
        assert latched(shipped, calm, look, "CHARGE_HOT") == (becomes if counts else lost), trust
    assert s.HELD == 1


@pytest.mark.parametrize(("run", "enough"), RUNS)
@pytest.mark.parametrize(
    ("collector_mc", "reference_mc", "becomes"),
    [
        (48000, 40000, SETS),
        (47999, 40000, STAYS),
        (43001, 40000, STAYS),
        (43000, 40000, CLEARS),
        # collector_minimum of 20 C bars a start, and ends nothing.
        (20000, 10000, SETS),
        (19999, 10000, STAYS),
        (50000, UNKNOWN_MC, CLEARS),
    ],
)
def test_heat_is_worth_fetching(run, enough, collector_mc, reference_mc, becomes, calm, shipped):
    calm.change(COLLECTOR_MC=collector_mc, TANK_REFERENCE_MC=reference_mc, **run)
    expected = STAYS if becomes == CLEARS and not enough and reference_mc != UNKNOWN_MC else becomes
    assert latched(shipped, calm, shipped.latches.latch_difference, "CHARGE_WANTED") == expected


@pytest.mark.parametrize(("trust", "counts"), TRUST)
def test_no_heat_is_fetched_from_an_unknown_collector(trust, counts, calm, shipped):
    calm.change(COLLECTOR_MC=60000, COLLECTOR_STATUS=trust)
    assert latched(shipped, calm, shipped.latches.latch_difference, "CHARGE_WANTED") == (SETS if counts else CLEARS)


@pytest.mark.parametrize("name", ["LOOP_RETURN", "LOOP_SUPPLY"])
@pytest.mark.parametrize("topology", ["BYPASS", "SERIES", "NONE"])
@pytest.mark.parametrize("on", [0, 1])
@pytest.mark.parametrize(("trust", "counts"), TRUST)
@pytest.mark.parametrize(("value_mc", "frosty"), [(3999, True), (4000, False)])
def test_frosty_glycol_sinks_to_the_exchanger(name, topology, on, trust, counts, value_mc, frosty, calm, shipped):
    """source: docs/sensors.md, without a bypass also either loop sensor, pump off"""
    calm.change(DUMP_TOPOLOGY=topology, COLLECTOR_PUMP_ON=on, **{f"{name}_MC": value_mc, f"{name}_STATUS": trust})
    sinks = topology != "BYPASS" and on == 0 and counts and frosty
    assert shipped.latches.glycol_sinks(*calm.all) == sinks
    assert latched(shipped, calm, shipped.latches.latch_frost, "FROST") == (SETS if sinks else CLEARS)


@pytest.mark.parametrize(
    ("facts", "becomes"),
    [
        ({"EXCHANGER_MC": 3999}, SETS),
        ({"EXCHANGER_MC": 3999, "EXCHANGER_STATUS": "HELD"}, SETS),
        ({"EXCHANGER_MC": 4000}, STAYS),
        ({"EXCHANGER_MC": 5999}, STAYS),
        ({"EXCHANGER_MC": 5999, "EXCHANGER_STATUS": "HELD"}, STAYS),
        ({"EXCHANGER_MC": 6000}, CLEARS),
        # Out of sight it neither sets nor holds.
        ({"EXCHANGER_MC": 3999, "EXCHANGER_STATUS": "LOST"}, CLEARS),
        ({"EXCHANGER_MC": 3999, "EXCHANGER_STATUS": "ABSENT"}, CLEARS),
        # Ten minutes of the tank pump at least, also then.
        ({"EXCHANGER_MC": 6000, "DUTY": "FROST_GUARD", "DUTY_MS": 599999}, STAYS),
        ({"EXCHANGER_MC": 3999, "EXCHANGER_STATUS": "LOST", "DUTY": "FROST_GUARD", "DUTY_MS": 599999}, STAYS),
        ({"EXCHANGER_MC": 6000, "DUTY": "FROST_GUARD", "DUTY_MS": 600000}, CLEARS),
        ({"EXCHANGER_MC": 5999, "DUTY": "FROST_GUARD", "DUTY_MS": 600000}, STAYS),
        ({"EXCHANGER_MC": 6000, "DUTY": "CHARGING", "DUTY_MS": 0}, CLEARS),
    ],
)
def test_the_exchanger_is_near_frost(facts, becomes, calm, shipped):
    """Below exchanger_frost of 4 C; over 2 K above it and after ten minutes of the tank pump (latches.py)."""
    assert latched(shipped, calm, shipped.latches.latch_frost, "FROST", **facts) == becomes


@pytest.mark.parametrize(("run", "enough"), RUNS)
@pytest.mark.parametrize(
    ("facts", "becomes"),
    [
        ({"COLLECTOR_MC": 40000}, SETS),
        ({"COLLECTOR_MC": 40001}, STAYS),
        ({"COLLECTOR_MC": 47999}, STAYS),
        ({"COLLECTOR_MC": 48000}, CLEARS),
        ({"COLLECTOR_MC": 40000, "COLLECTOR_STATUS": "HELD"}, SETS),
        ({"COLLECTOR_MC": 40000, "TANK_HIGH_STATUS": "HELD"}, SETS),
        # The bottom reads hotter than the top by so much; source: docs/sensors.md.
        ({"COLLECTOR_MC": 40000, "TANK_REFERENCE_MC": 50500}, SETS),
        ({"COLLECTOR_MC": 40000, "TANK_REFERENCE_MC": 50501}, STAYS),
        ({"COLLECTOR_MC": 40000, "TANK_REFERENCE_MC": 51499}, STAYS),
        ({"COLLECTOR_MC": 40000, "TANK_REFERENCE_MC": 51500}, CLEARS),
    ],
)
def test_a_night_cools_a_full_tank_while_away(run, enough, facts, becomes, calm, shipped):
    """From 10 K under the coldest of the tank to 2 K (latches.py)."""
    calm.change(AWAY=1, TANK_FULL=1, TANK_COLDEST_MC=50000, **facts, **run)
    expected = STAYS if becomes == CLEARS and not enough else becomes
    assert latched(shipped, calm, shipped.latches.latch_cooling, "COOLING_WANTED") == expected


@pytest.mark.parametrize(
    "facts",
    [
        {"AWAY": 0},
        {"TANK_FULL": 0},
        {"COLLECTOR_STATUS": "LOST"},
        {"COLLECTOR_STATUS": "ABSENT"},
        {"TANK_HIGH_STATUS": "LOST"},
        {"TANK_HIGH_STATUS": "ABSENT", "COLLECTOR_PUMP_ON": 1},
    ],
)
def test_no_night_cools_what_nobody_asked_for_or_knows(facts, calm, shipped):
    """And no minimum run keeps it on."""
    calm.change(AWAY=1, TANK_FULL=1, TANK_COLDEST_MC=50000)
    assert latched(shipped, calm, shipped.latches.latch_cooling, "COOLING_WANTED", **facts) == CLEARS


def test_every_step_looks_at_every_latch_in_order(calm, shipped):
    """References before the limits that use them, over before full, full before cooling."""
    s = shipped.state
    calm.change(TANK_LOW_MC=52000, TANK_HIGH_MC=76000, COLLECTOR_MC=121000, AWAY=0, EXCHANGER_MC=3000)
    shipped.latches.observe(*calm.all)
    names = ("TANK_OVER", "TANK_FULL", "STAGNATION", "DUMP_WANTED", "CHARGE_HOT", "CHARGE_WANTED", "FROST", "COOLING_WANTED")
    assert [calm.state[getattr(s, name)] for name in names] == [1, 1, 1, 1, 1, 1, 1, 0]
    calm.change(AWAY=1, COLLECTOR_MC=20000, EXCHANGER_MC=20000)
    shipped.latches.observe(*calm.all)
    assert [calm.state[getattr(s, name)] for name in names] == [1, 1, 0, 0, 0, 0, 0, 1]


def test_after_a_reset_every_latch_that_protects_is_set(calm, shipped):
    """source: the design page, latches wake protective"""
    s = shipped.state
    shipped.latches.wake(*calm.all)
    assert [calm.state[index] for index in (s.TANK_OVER, s.TANK_FULL, s.STAGNATION, s.CHARGE_HOT)] == [1, 1, 1, 1]
    references = (s.TANK_REFERENCE_MC, s.TANK_HOTTEST_MC, s.TANK_COLDEST_MC)
    assert [calm.state[index] for index in references] == [UNKNOWN_MC] * 3
