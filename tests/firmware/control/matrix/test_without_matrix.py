"""The matrix speaks: with a protection taken out, or taken out in one place only, it differs."""

import pytest

from .. import syntax_edits
from ..syntax_edits import gone, ignores, never, no_row, returns, swapped
from . import hazards, matrix, table

# What is taken out; the hazard that then goes unmet; and where the first line about it is.
IN_SERIES = "settings[DUMP_TOPOLOGY] == SERIES"
NEGATIVES = [
    ("steam", gone("latch_steam", "STAGNATION = 1"), "bypass, charging"),
    ("steam shows at the tap", returns("hot_elsewhere", False), "bypass, charging"),
    ("steam", ignores("hand_pump_refused", "HOT_STEAM"), "bypass, hands dump"),
    ("the collector sensor breaks", no_row("COLLECTOR_UNKNOWN"), "bypass, charging"),
    ("both tank sensors break", no_row("TANK_UNKNOWN"), "bypass, charging"),
    ("the top of the tank at its limit", gone("latch_over", "TANK_OVER = 1"), "bypass, charging"),
    ("the top of the tank at its limit", returns("tank.hand_refused", False), "bypass, hands charge"),
    ("the tank full below", gone("latch_full", "TANK_FULL = 1"), "bypass, charging"),
    ("the tank full below, with a radiator in series", gone("latch_full", "TANK_FULL = 1"), "series, charging"),
    ("the top of the tank off its scale", returns("off_scale", False), "bypass, charging"),
    ("the top of the tank above its limit", returns("pump_barred", False), "series, tank full"),
    (
        "glycol that nobody sees beside a tank above its limit",
        returns("pump_barred", False),
        "bypass, night cooling, without loop_supply",
    ),
    ("hot glycol arrives", gone("latch_hot", "CHARGE_HOT = 1"), "bypass, charging"),
    ("a collector too hot to charge", no_row("CHARGE_LIMIT_REFUSED"), "none, charging"),
    ("a collector at the dump threshold", no_row("PAUSE_DUMP"), "bypass, pumping given up"),
    ("plates near frost", no_row("EXCHANGER_FROST"), "bypass, charging"),
    ("frosty glycol sinks, seen by loop_return", returns("glycol_sinks", False), "series, idle"),
    ("air near the freezing point of the glycol", no_row("GLYCOL_STIFF"), "bypass, charging"),
    ("air near the freezing point of the glycol, without a bypass", no_row("GLYCOL_STIFF"), "series, charging"),
    ("frosty air", returns("dump_frosty", False), "series, tank full"),
    ("the tank full below, with a radiator in series", returns("has_room", True), "series, charging"),
    ("three resets", no_row("RESET_STORM"), "bypass, charging"),
    ("the guard acts", no_row("GUARD_ACTED"), "bypass, charging"),
    ("maintenance", no_row("UNDER_MAINTENANCE"), "bypass, charging"),
    ("a reset", no_row("VALVE_HOMING"), "bypass, charging"),
    ("no flow", no_row("FLOW_MISSING"), "bypass, charging"),
    ("glycol does not arrive", no_row("GLYCOL_NOT_ARRIVING"), "bypass, charging"),
    ("scalding water", returns("watch_tap", None), "bypass, charging"),
    ("a bottom hotter than the top", never("take_hottest", "CROSSED_MS"), "bypass, charging"),
    ("a collector near the freezing point of the glycol", no_row("GLYCOL_STIFF"), "bypass, charging"),
    ("heat too weak", returns("waits_for_heat", False), "bypass, charging"),
    ("the dump valve is stuck at the radiator", returns("astray", False), "series, idle"),
    ("the radiator has no effect", returns("watch_dump", None), "series, tank full"),
    ("the dump heats the tank", returns("dump_heats", False), "bypass, tank full"),
    ("the collector sensor sticks in the sun", returns("watch_still", None), "bypass, charging"),
    ("tank_high sticks while heat passes it", returns("watch_frozen", None), "bypass, charging"),
    ("flow without the pump", gone("watch_flow", "UNBIDDEN_FLOW ="), "bypass, idle"),
    (
        "loop_supply follows the collector without the pump and without a flow input",
        returns("watch_unbidden", None),
        "bypass, idle",
    ),
    # Wrong in one topology, without one sensor, in one duty: each passes all sequences.
    (
        "the top of the tank at its limit",
        swapped("latch_over", "hottest >= limit", f"hottest >= limit and not {IN_SERIES}"),
        "series, charging",
    ),
]

# The same of where the station is, without anything that comes.
Place = matrix.Place
OPEN = {"lost": "nothing", "open": True}
UNREACHED = [
    (returns("path_open", 1), Place("bypass", "charging", "nothing"), "glycol moves while the valve does"),
    (swapped("path_open", "settings[DUMP_CROSSOVER]", "CLOSED"), Place("series", "charging", **OPEN), "the pump waits"),
    (returns("valve_end_needed", False), Place("series", "frosty morning, warm tank", **OPEN), "glycol moves while the valve does"),
    (swapped("air_told", "settings[OUTDOOR_FITTED]", "1"), Place("bypass", "exercise", "no outdoor"), "TURN_POSTPONED_COLD"),
    (swapped("judge", "ABSENT", "LOST"), Place("none", "idle", "no tap"), "not fitted"),
]


@pytest.mark.parametrize(("edit", "place", "words"), UNREACHED, ids=lambda one: getattr(one, "what", None) or str(one))
def test_without_it_the_station_is_elsewhere(shipped, edit, place, words):
    def says(core):
        try:
            matrix.Matrix(core).no_alarm(place)
        except matrix.MismatchError as fault:
            return str(fault)
        return ""

    assert says(shipped) == ""
    assert words in says(syntax_edits.without(edit))


def first_mismatch(core, hazard, place):
    """What the matrix says of a place and a hazard; empty if nothing."""
    try:
        matrix.Matrix(core).try_hazard(place, hazard)
    except matrix.MismatchError as fault:
        return str(fault)
    return ""


@pytest.mark.parametrize(("hazard", "edit", "where"), NEGATIVES, ids=lambda one: getattr(one, "what", None) or str(one))
def test_without_the_protection_the_matrix_differs(shipped, hazard, edit, where):
    where, _, lost = where.partition(", without ")
    away = matrix.SITUATIONS[where.split(", ", 1)[1]].away
    place = matrix.Place(*where.split(", ", 1), lost or "nothing", away)
    assert matrix.applies(place, matrix.HAZARDS[hazard])
    assert first_mismatch(shipped, matrix.HAZARDS[hazard], place) == ""
    assert f"{place}: {hazard}" in first_mismatch(syntax_edits.without(edit), matrix.HAZARDS[hazard], place)


def test_every_hazard_has_such_a_negative():
    people = {"hands charge", "hands hold all off", "purging"}
    twins = {"the top of the tank at its limit, in a hot sun", "frosty glycol sinks, seen by loop_supply"}
    assert set(matrix.HAZARDS) - {hazard for hazard, _, _ in NEGATIVES} == people | twins


def test_every_claim_and_every_loss_is_met_somewhere():
    places = matrix.places()
    met = {matrix.expected(place, None).claim.name for place in places}
    met |= {
        matrix.expected(place, hazard).claim.name for place in places for hazard in hazards.HAZARDS if matrix.applies(place, hazard)
    }
    assert met == {claim.name for claim in table.CLAIMS}
    assert len(places) > 600
