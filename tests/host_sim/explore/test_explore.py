"""A short walk of the reachable states, and its report."""

import argparse
import json

import numpy as np
import pytest
from twinloop.control import rules
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_sim import cli
from twinloop_sim.explore import campaign as explore
from twinloop_sim.explore import cover, letters
from twinloop_sim.explore import walk as w
from twinloop_sim.explore.corners import COUNT, Corner, builds, corners, extremes

KEYS = {"states", "transitions", "complete", "rows_fired", "reasons_seen", "edges_walked"}
KEYS |= {"settings_corners", "violations", "wall_s"}


def quiet(text):
    """Print no progress."""


@pytest.fixture(scope="module")
def short():
    """The wide builds with narrow alphabets, a few extremes, and hours for plates to foul."""
    heated = [corner for corner in builds() if corner.settings[cfg.AIR_HEATER]]
    chosen = [*builds()[:7], *heated, *extremes()[:4]]
    found = explore.search([Corner(corner.name, corner.settings) for corner in chosen], tell=quiet)
    long = explore.search([builds()[0]], rooms=[letters.hours], tell=quiet)
    found.seen += long.seen
    found.violations += long.violations
    found.exhausted &= long.exhausted
    return found, explore.document(found, rules.ROWS, 1.0)


def test_nothing_is_broken(short):
    """source: the requirement: explore exhausts its bound without a violation."""
    facts = short[1]
    assert facts["violations"] == [], "\n".join(violation["pytest"] for violation in facts["violations"])
    assert facts["exhausted"]
    assert facts["unfinished"] == []


def test_even_the_short_walk_covers_the_table(short):
    missing = [name for name in short[1]["not_covered"] if not name.startswith("pair ")]
    assert missing == []
    assert len(short[1]["rows_fired"]) == len(rules.ROWS)
    assert len(short[1]["edges_walked"]) == s.DUTIES * (s.DUTIES - 1)


def test_what_was_not_seen_is_named():
    """Negative: with nothing seen, everything is named and the walk is incomplete."""
    found = explore.Found()
    facts = explore.document(found, rules.ROWS, 1.0)
    assert not facts["complete"]
    rows = [name for name in facts["not_covered"] if name.startswith("row ")]
    assert len(rows) == len(rules.ROWS)
    kinds = {name.split()[0] for name in facts["not_covered"]}
    assert kinds == {"row", "reason", "edge", "alarm", "latch", "pair", "cause"}


@pytest.mark.parametrize(
    ("place", "words"),
    [
        (w.ROWS_SEEN + 1, "row 1: fault_stop, guard_acted"),
        (w.WAITS_SEEN + 41, "reason wait_rest"),
        (w.AIR_SEEN + 63, "reason summer"),
        (w.EDGES_SEEN + s.HAND * s.DUTIES + s.EXERCISE, "edge hand to exercise"),
        (w.ALARMS_SEEN + 8, "alarm 8: water at the taps is hotter than the mixing valve should allow"),
        (w.LATCHES_CLEARED + 1, "latch tank_full cleared"),
        (w.PAIRS_SEEN + (s.TANK_LOW * s.SENSORS + s.TAP) * 16 + s.HELD * 4 + s.ABSENT, "pair tank_low held, tap absent"),
        (w.CAUSES_SEEN + s.TANK_HIGH * 32 + s.CAUSE_FROZEN, "cause 22 of tank_high"),
    ],
)
def test_one_gap_is_enough(place, words):
    seen = np.ones(w.SEEN, dtype=np.int64)
    assert cover.not_covered(seen, rules.ROWS) == []
    seen[place] = 0
    assert cover.not_covered(seen, rules.ROWS) == [words]


def test_an_edge_outside_of_the_table_is_told():
    rows = [row for row in rules.ROWS if row[1] != s.EXERCISE]
    seen = np.ones(w.SEEN, dtype=np.int64)
    assert "idle to exercise" in cover.out_of_table(seen, rows)
    assert cover.out_of_table(seen, rules.ROWS) == []


def test_full_arrays_are_not_exhausted(monkeypatch):
    monkeypatch.setattr(explore, "STATES_TOP", 50)
    found = explore.Found()
    explore.walk_room(explore.load_core(), explore.Frontier(50), builds()[0], explore.ROOMS[0], found)
    facts = explore.document(found, rules.ROWS, 1.0)
    assert (facts["exhausted"], facts["complete"]) == (False, False)
    assert [(walk["corner"], walk["alphabet"], walk["states"]) for walk in facts["unfinished"]] == [("as shipped", "duties", 50)]
    assert explore.failed(facts, 1)
    assert "not exhausted: duties of as shipped" in explore.lines_of(facts)


def test_out_of_time_is_not_exhausted():
    told = []
    found = explore.search(corners(2, 1), until_s=0.0, tell=told.append)
    facts = explore.document(found, rules.ROWS, 1.0)
    assert (facts["settings_corners"], facts["exhausted"], facts["complete"]) == (0, False, False)
    assert "out of time before corner 1 of 2" in told[0]
    assert explore.failed(facts, 1)


def test_a_walk_can_be_repeated():
    once, again = (explore.search([builds()[2]], rooms=explore.ROOMS[:1], tell=quiet) for _ in range(2))
    assert once.states == again.states
    assert np.array_equal(once.seen, again.seen)


def test_without_a_number_the_command_walks_all_corners(monkeypatch):
    counts = []

    def search(count, seed, minutes, workers):
        counts.append((count, seed, minutes, workers))
        return {"violations": [], "exhausted": True, "complete": True}

    monkeypatch.setattr(explore, "explore", search)
    options = cli.build_parser().parse_args(["explore", "--json", "--workers", "1"])
    assert explore.main(options) == 0
    assert counts == [(COUNT, 1, 10.0, 1)]


def test_json_is_nothing_but_json(monkeypatch, capsys):
    """Standard output has all promised keys and nothing else; progress goes to standard error."""
    monkeypatch.setattr(explore, "corners", lambda count, seed: [Corner("none", builds()[2].settings)])
    status = explore.main(argparse.Namespace(corners=1, seed=1, minutes=5.0, json=True, workers=1))
    out, err = capsys.readouterr()
    facts = json.loads(out)
    assert facts.keys() >= KEYS
    assert "1 of 1: none" in err
    assert (status, facts["settings_corners"], facts["complete"]) == (1 if facts["violations"] else 0, 1, False)
    assert "row" in " ".join(facts["not_covered"])
