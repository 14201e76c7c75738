"""Power cuts at every block operation of every write leave the old or the new data."""

import pytest

from ..runtime import interpreters

# Case: what may be found after a cut, and what has to be there after a retry.
ALLOWED = {
    "settings": ({"8000", "9000"}, {"9000"}),
    "probes": ({"2", "3"}, {"3"}),
    "log": ({"0", "2"}, {"2", "4"}),
    "service": ({"0", "1"}, {"1"}),
    "resets": ({"1", "2"}, {"2"}),
}
MODES = ("clean", "torn", "wild")


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    """What was found after every cut."""
    return interpreters.document("../store/power_cuts.py", tmp_path_factory.mktemp("cuts"))


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("case", ALLOWED)
def test_old_or_new_at_every_cut(report, case, mode):
    """Every operation was cut; only old and new were seen, and the next start can write."""
    found, after = ALLOWED[case]
    seen = report[f"{case}, {mode}"]
    assert seen["cuts"] >= 24
    assert seen["operations"] >= 2
    assert set(seen["found"]) == found
    assert set(seen["after"]) <= after


@pytest.mark.parametrize("mode", MODES)
def test_a_log_that_turns_over_loses_nothing_but_the_oldest_half(report, mode):
    """247 records survive any cut, with or without the two new ones."""
    seen = report[f"log turns over, {mode}"]
    assert {int(count) for count in seen["found"]} <= {246, 248}
    assert seen["operations"] >= 2


def test_a_write_in_place_would_be_torn(report):
    """The negative: the same cuts tear a file that is changed in place."""
    assert any(0 < count < 4 for count in report["negative"])
