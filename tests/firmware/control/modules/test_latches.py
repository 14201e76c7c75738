"""Latches: where each sets and clears, that it stays in between, and what a lost reading does.

source: the figures are the defaults of the design page; "stays" and "lost" follow its words
("latches wake protective").
"""

from ..stations import CLEARS, SETS, STAYS, TRUST, UNKNOWN_MC, each, latched


@each(
    "collector_mc, trust, becomes",
    (120000, "GOOD", SETS),
    (119999, "HELD", STAYS),
    (105001, "GOOD", STAYS),
    (105000, "HELD", CLEARS),
    (20000, "LOST", SETS),
    (20000, "ABSENT", SETS),
)
def test_there_may_be_steam(collector_mc, trust, becomes, calm, shipped):
    calm.change(COLLECTOR_MC=collector_mc, COLLECTOR_STATUS=trust)
    assert latched(shipped, calm, shipped.latches.latch_steam, "STAGNATION") == becomes


@each(
    "facts, becomes",
    ({"LOOP_SUPPLY_MC": 120000}, SETS),
    ({"LOOP_SUPPLY_MC": 119999}, STAYS),
    ({"LOOP_SUPPLY_MC": 95000}, STAYS),
    ({"LOOP_SUPPLY_MC": 94999}, CLEARS),
    ({"LOOP_SUPPLY_MC": 120000, "COLLECTOR_MC": 100000}, SETS),
    ({"LOOP_SUPPLY_MC": 120000, "COLLECTOR_MC": 100001}, CLEARS),
)
def test_steam_shows_at_another_sensor(facts, becomes, calm, shipped):
    calm.change(**facts)
    assert latched(shipped, calm, shipped.latches.latch_steam, "STAGNATION") == becomes


# A latch that would stop a pump waits for minimum_run of 90 s.
RUNS = [({"COLLECTOR_PUMP_ON": 0, "COLLECTOR_PUMP_MS": 0}, True), ({"COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 90000}, True)]
RUNS += [({"COLLECTOR_PUMP_ON": 1, "COLLECTOR_PUMP_MS": 89999}, False)]


@each("facts, enough", *RUNS)
def test_a_pump_runs_its_minimum(facts, enough, calm, shipped):
    calm.change(**facts)
    assert shipped.latches.ran_enough(*calm.all) == enough


@each("run, enough", *RUNS)
@each(
    "collector_mc, trust, becomes",
    (95000, "GOOD", SETS),
    (94999, "HELD", STAYS),
    (80001, "GOOD", STAYS),
    (80000, "HELD", CLEARS),
    (99000, "LOST", STAYS),
    (20000, "LOST", STAYS),
    (20000, "ABSENT", STAYS),
)
def test_the_collector_wants_relief(run, enough, collector_mc, trust, becomes, calm, shipped):
    calm.change(COLLECTOR_MC=collector_mc, COLLECTOR_STATUS=trust, **run)
    expected = STAYS if becomes == CLEARS and not enough else becomes
    assert latched(shipped, calm, shipped.latches.latch_dump, "DUMP_WANTED") == expected


@each("run, enough", *RUNS)
@each(
    "collector_mc, reference_mc, becomes",
    (48000, 40000, SETS),
    (47999, 40000, STAYS),
    (43001, 40000, STAYS),
    (43000, 40000, CLEARS),
    # collector_minimum of 20 C prevents a start but ends nothing.
    (20000, 10000, SETS),
    (19999, 10000, STAYS),
    (50000, UNKNOWN_MC, CLEARS),
)
def test_heat_is_worth_fetching(run, enough, collector_mc, reference_mc, becomes, calm, shipped):
    calm.change(COLLECTOR_MC=collector_mc, TANK_REFERENCE_MC=reference_mc, **run)
    expected = STAYS if becomes == CLEARS and not enough and reference_mc != UNKNOWN_MC else becomes
    assert latched(shipped, calm, shipped.latches.latch_difference, "CHARGE_WANTED") == expected


@each("trust, counts", *TRUST)
def test_no_heat_is_fetched_from_an_unknown_collector(trust, counts, calm, shipped):
    calm.change(COLLECTOR_MC=60000, COLLECTOR_STATUS=trust)
    assert latched(shipped, calm, shipped.latches.latch_difference, "CHARGE_WANTED") == (SETS if counts else CLEARS)


@each("run, enough", *RUNS)
@each(
    "facts, becomes",
    ({"COLLECTOR_MC": 40000}, SETS),
    ({"COLLECTOR_MC": 40001}, STAYS),
    ({"COLLECTOR_MC": 47999}, STAYS),
    ({"COLLECTOR_MC": 48000}, CLEARS),
    ({"COLLECTOR_MC": 40000, "COLLECTOR_STATUS": "HELD"}, SETS),
    ({"COLLECTOR_MC": 40000, "TANK_HIGH_STATUS": "HELD"}, SETS),
    # The bottom reads this much hotter than the top; source: docs/sensors.md.
    ({"COLLECTOR_MC": 40000, "TANK_REFERENCE_MC": 50500}, SETS),
    ({"COLLECTOR_MC": 40000, "TANK_REFERENCE_MC": 50501}, STAYS),
    ({"COLLECTOR_MC": 40000, "TANK_REFERENCE_MC": 51499}, STAYS),
    ({"COLLECTOR_MC": 40000, "TANK_REFERENCE_MC": 51500}, CLEARS),
    # away_limit counts as a collector of that temperature.
    ({"COLLECTOR_MC": 20000, "AWAY_LIMIT": 40001}, STAYS),
    ({"COLLECTOR_MC": 20000, "AWAY_LIMIT": 47999}, STAYS),
    ({"COLLECTOR_MC": 20000, "AWAY_LIMIT": 48000}, CLEARS),
    ({"COLLECTOR_MC": 20000, "HELPLESS_S": 1}, SETS),
)
def test_a_night_cools_the_tank_while_away(run, enough, facts, becomes, calm, shipped):
    """From 10 K under the coldest of the tank to 2 K (latches.py)."""
    calm.change(AWAY=1, AWAY_LIMIT=40000, HELPLESS_S=9, TANK_COLDEST_MC=50000)
    calm.change(**facts, **run)
    expected = STAYS if becomes == CLEARS and not enough else becomes
    assert latched(shipped, calm, shipped.latches.latch_cooling, "COOLING_WANTED") == expected


@each(
    "facts",
    {"AWAY": 0},
    {"HELPLESS_S": 0},
    {"COLLECTOR_STATUS": "LOST"},
    {"COLLECTOR_STATUS": "ABSENT"},
    {"TANK_HIGH_STATUS": "LOST"},
    {"TANK_HIGH_STATUS": "ABSENT", "COLLECTOR_PUMP_ON": 1},
)
def test_no_night_cools_what_nobody_asked_for_or_knows(facts, calm, shipped):
    """And no minimum run keeps it going."""
    calm.change(AWAY=1, AWAY_LIMIT=40000, HELPLESS_S=9, TANK_COLDEST_MC=50000)
    assert latched(shipped, calm, shipped.latches.latch_cooling, "COOLING_WANTED", **facts) == CLEARS


@each(
    "facts, left_s",
    ({}, 95),
    ({"METER_SECONDS": 0}, 100),
    ({"HELPLESS_S": 4}, 0),
    ({"COLLECTOR_MC": 120000}, 172800),
    ({"COLLECTOR_MC": 119999}, 95),
    ({"COLLECTOR_MC": 120000, "COLLECTOR_STATUS": "LOST"}, 95),
    ({"DUMP_BARRED": 21}, 172800),
    ({"DUMP_TOPOLOGY": 1}, 95),
    ({"DUMP_TOPOLOGY": 2}, 172800),
)
def test_a_radiator_that_failed_is_remembered_for_two_days(facts, left_s, calm, shipped):
    calm.change(HELPLESS_S=100, METER_SECONDS=5, COLLECTOR_MC=60000)
    calm.change(**facts)
    shipped.latches.watch_radiator(*calm.all)
    assert calm.state[shipped.state.HELPLESS_S] == left_s


def test_every_step_looks_at_every_latch_in_order(calm, shipped, s):
    """References before limits, over before full, full before cooling."""
    calm.change(TANK_LOW_MC=52000, TANK_HIGH_MC=76000, COLLECTOR_MC=121000, AWAY=0, EXCHANGER_MC=3000)
    shipped.latches.observe(*calm.all)
    names = ("TANK_OVER", "TANK_FULL", "STAGNATION", "DUMP_WANTED", "CHARGE_HOT", "CHARGE_WANTED", "FROST", "COOLING_WANTED")
    assert [calm.state[getattr(s, name)] for name in names] == [1, 1, 1, 1, 1, 1, 1, 0]
    calm.change(AWAY=1, AWAY_LIMIT=40000, COLLECTOR_MC=20000, EXCHANGER_MC=20000)
    shipped.latches.observe(*calm.all)
    assert [calm.state[getattr(s, name)] for name in names] == [1, 1, 0, 0, 0, 0, 0, 1]
