"""The table: its order of rank against a restatement in words, its form, its functions."""

import random

import pytest

from .. import stations
from ..stations import each

# Conditions by number, stops first, roughly by rank. source: rules.py
NAMES = """
RESETS GUARD_HELD MAINTAINED HAND_ON PURGE_ON FROSTY COLLECTOR_LOST NOT_ARRIVING FLOWLESS
ASTRAY SWAPPED VALVE_UNKNOWN HOT_STEAM
STIFF TANK_LOST FULL HOT_GLYCOL COLD_LOOP TANK_COOL WANTED DUMP RADIATOR DEAD HEATING ROUND
COLD_DUMP COOLING TURN_DUE COOL PAUSED TAKEN
"""
CONDITIONS = NAMES.split()
STOPS = CONDITIONS[: CONDITIONS.index("STIFF")]
PLANT = CONDITIONS[len(STOPS) :]
BITS = {name: 1 << number for number, name in enumerate(CONDITIONS)}


def test_every_condition_has_a_number_and_a_name(shipped):
    assert [getattr(shipped.conditions, name) for name in CONDITIONS] == list(range(len(CONDITIONS)))
    assert len(set(shipped.conditions.CONDITION_NAMES)) == len(CONDITIONS)


def test_every_row_asks_for_known_conditions_and_gives_a_known_duty(shipped):
    s, rows = shipped.state, shipped.rules.ROWS
    assert all(set(conditions) <= set(range(len(CONDITIONS))) for conditions, _, _ in rows)
    assert {duty for _, duty, _ in rows} == set(range(s.DUTIES)), "some row gives each duty"
    assert rows[-1][0] == (), "the last row always holds"
    assert len({(duty, reason) for _, duty, reason in rows}) == len(rows) - 5, (
        "a frosty slug is refused by seven rows, for four reasons"
    )


def test_no_row_is_hidden_by_one_above_it(shipped):
    rows = shipped.rules.ROWS
    for low in range(len(rows)):
        for high in range(low):
            assert not set(rows[high][0]) <= set(rows[low][0]), f"row {low} never decides: row {high} takes it"


# The design page's order of rank for what stops everything below it; frost needs the tank pump
# only, so it stands above the faults of collector and glycol, and below what a person or the board
# decides.
RANKED_STOPS = (
    ("RESETS", "FAULT_STOP", "RESET_STORM"),
    ("GUARD_HELD", "FAULT_STOP", "GUARD_ACTED"),
    ("MAINTAINED", "MAINTENANCE", "UNDER_MAINTENANCE"),
    ("HAND_ON", "HAND", "HAND_HELD"),
    ("PURGE_ON", "HAND", "PURGING"),
    ("FROSTY", "FROST_GUARD", "EXCHANGER_FROST"),
    ("COLLECTOR_LOST", "FAULT_STOP", "COLLECTOR_UNKNOWN"),
    ("VALVE_UNKNOWN", "IDLE", "VALVE_HOMING"),
    ("HOT_STEAM", "STAGNATION_HOLD", "STEAM"),
    ("STIFF", "IDLE", "GLYCOL_STIFF"),
)
# A refusal may cost heat, but not boil: below steam and stiff glycol, a hot
# collector is dumped before what may be wrong stops charging.
RANKED_FAULTS = (
    ("SWAPPED", "FAULT_STOP", "SENSORS_SWAPPED"),
    ("FLOWLESS", "FAULT_STOP", "FLOW_MISSING"),
    ("ASTRAY", "FAULT_STOP", "HEAT_ASTRAY"),
    ("NOT_ARRIVING", "FAULT_STOP", "GLYCOL_NOT_ARRIVING"),
)
# A frosty loop, by the state of the way round the exchanger.
WAYS_ROUND = (
    ("ROUND", "DUMPING", "COLD_SLUG_ROUND"),
    ("DEAD", "IDLE", "RADIATOR_DEAD"),
    ("HEATING", "IDLE", "DUMP_HEATS_TANK"),
)


def ranked(has):
    """Duty and reason by the design page's rank: stops, valve, steam, faults, tank, slug, work."""
    for name, duty, reason in RANKED_STOPS:
        if has(name):
            return duty, reason
    radiator = has("DUMP") and has("RADIATOR")
    if has("PAUSED") and radiator:
        return "DUMPING", "PAUSE_DUMP"
    for name, duty, reason in RANKED_FAULTS:
        if has(name):
            return duty, reason
    if has("TANK_LOST"):
        return ("DUMPING", "TANK_UNKNOWN_DUMP") if radiator else ("IDLE", "TANK_UNKNOWN")
    if has("FULL") and radiator:
        return "DUMPING", "TANK_FULL_DUMP"
    if has("FULL") and has("DUMP") and has("COLD_DUMP"):
        return "IDLE", "COLD_SLUG_SERIES"
    if has("FULL") and has("DUMP") and has("DEAD"):
        return "IDLE", "RADIATOR_DEAD"
    if has("FULL") and has("DUMP") and has("HEATING"):
        return "IDLE", "DUMP_HEATS_TANK"
    if has("FULL") and has("WANTED"):
        return "IDLE", "TANK_FULL_REFUSED"
    if has("WANTED"):
        return wanted(has)
    if radiator:
        return "DUMPING", "COLLECTOR_HOT_DUMP"
    return ("IDLE", "HEAT_TAKEN") if has("TAKEN") else unwanted(has)


def wanted(has):
    """There is heat, and the tank has room for it."""
    if has("HOT_GLYCOL"):
        if has("COLD_DUMP"):
            return "IDLE", "COLD_SLUG_SERIES"
        return ("DUMPING", "CHARGE_LIMIT_DUMP") if has("RADIATOR") else ("IDLE", "CHARGE_LIMIT_REFUSED")
    if has("TANK_COOL"):
        return "IDLE", "COLD_SLUG_REFUSED"
    if has("COLD_LOOP"):
        for name, duty, reason in WAYS_ROUND:
            if has(name):
                return duty, reason
    if has("PAUSED"):
        return "IDLE", "HEAT_TOO_WEAK"
    return "CHARGING", "DIFFERENCE"


def unwanted(has):
    """There is no heat to fetch, and none to dump."""
    if has("COOLING"):
        if has("COLD_LOOP"):
            return "IDLE", "COLD_SLUG_REFUSED"
        return ("IDLE", "COLD_SLUG_SERIES") if has("COLD_DUMP") else ("NIGHT_COOLING", "NIGHT_COOLING_AWAY")
    if has("TURN_DUE"):
        if has("COLD_LOOP"):
            return "IDLE", "TURN_POSTPONED_COLD"
        return ("IDLE", "TURN_POSTPONED_HOT") if has("FULL") else ("EXERCISE", "TURN")
    return "IDLE", "COLLECTOR_COOL" if has("COOL") else "NO_DIFFERENCE"


def differs(core, needs, conditions):
    """Whether table and words decide differently; a condition is a bit here."""
    duty, reason = ranked(lambda name: conditions & BITS[name])
    row = next(row for row, need in enumerate(needs) if conditions & need == need)
    return core.rules.ROWS[row][1:] != (getattr(core.state, duty), getattr(core.reasons, reason))


@pytest.fixture
def needs(shipped):
    """What each row of the table needs, one bit per condition."""
    return [sum(1 << condition for condition in row[0]) for row in shipped.rules.ROWS]


def test_every_combination_of_plant_conditions_is_decided_by_rank(needs, shipped):
    """All 262,144, including those that no plant can show."""
    assert [bits for bits in range(1 << len(PLANT)) if differs(shipped, needs, bits << len(STOPS))] == []


def test_every_combination_of_stops_is_decided_by_rank(needs, shipped):
    """All 8,192, above a plant with no condition, with every condition, and with random ones."""
    below = random.Random(5)
    hot = (BITS["PAUSED"] | BITS["DUMP"] | BITS["RADIATOR"]) >> len(STOPS)
    for bits in range(1 << len(STOPS)):
        for plant in (0, hot, (1 << len(PLANT)) - 1, below.getrandbits(len(PLANT))):
            assert not differs(shipped, needs, bits | plant << len(STOPS)), bits


def test_decide_takes_that_row(arrays, shipped, s):
    arrays.state[s.DUTY_MS] = 5
    shipped.collect.collect(*arrays.all)
    shipped.rules.decide(*arrays.all)
    # Just woken: no sensor is trusted, the valve is not home, the loop is unknown and the tank is
    # full.
    names = {"COLLECTOR_LOST", "VALVE_UNKNOWN", "HOT_STEAM", "TANK_LOST", "FULL", "HOT_GLYCOL", "COLD_LOOP", "RADIATOR", "ROUND"}
    # An unknown temperature is below absolute zero, and so below any minimum.
    assert stations.conditions(shipped, arrays) == names | {"COOL"}
    assert (arrays.state[s.DUTY], arrays.state[s.REASON]) == (s.FAULT_STOP, shipped.reasons.COLLECTOR_UNKNOWN)
    assert shipped.rules.ROWS[arrays.state[s.ROW]][2] == shipped.reasons.COLLECTOR_UNKNOWN
    assert arrays.state[s.DUTY_MS] == 0
    arrays.state[s.DUTY_MS] = 5
    assert arrays.after(shipped.rules.decide, "DUTY_MS") == 5, "time counts on in the same duty"


def test_decide_finds_every_row(calm, shipped, s):
    for number, (conditions, duty, reason) in enumerate(shipped.rules.ROWS):
        stations.set_conditions(shipped, calm, [CONDITIONS[condition] for condition in conditions])
        shipped.rules.decide(*calm.all)
        found = (calm.state[s.ROW], calm.state[s.DUTY], calm.state[s.REASON])
        assert found == (number, duty, reason)


@each(
    "duty, reason, have, duty_ms",
    ("HAND", "HAND_HELD", "HAND_ON", 700),
    ("HAND", "PURGING", "HAND_ON", 700),
    # Purging starts with its first half, also straight after hands.
    ("HAND", "HAND_HELD", "PURGE_ON", 0),
    ("HAND", "PURGING", "PURGE_ON", 700),
    ("IDLE", "NO_DIFFERENCE", "PURGE_ON", 0),
    ("IDLE", "NO_DIFFERENCE", "TANK_LOST", 700),
    ("CHARGING", "DIFFERENCE", "TANK_LOST", 0),
)
def test_time_counts_in_a_duty_and_in_purging(duty, reason, have, duty_ms, calm, shipped):
    calm.change(DUTY=duty, REASON=reason, DUTY_MS=700, CONDITIONS=have)
    assert calm.after(shipped.rules.decide, "DUTY_MS") == duty_ms
