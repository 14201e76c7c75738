"""Power cuts at every block operation of every write, clean and torn, on littlefs: the old or the new, and the next start works."""

import json

import pytest

from ..runtime import interpreters

SCRIPT = "../store/power_cuts.py"
# Case: what may be found after a cut, what has to be there after the work was done once more.
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
    """The script's findings."""
    folder = tmp_path_factory.mktemp("cuts")
    (folder / "nothing").write_bytes(b"")
    printed = interpreters.run_unix(SCRIPT, interpreters.FIRMWARE, folder / "nothing", folder / "written")
    # Files that a cut left open say so when they are collected; the document is the last line.
    return json.loads(printed.splitlines()[-1])


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("case", ALLOWED)
def test_old_or_new_at_every_cut(report, case, mode):
    """Every operation was cut once; both the old and the new were seen; nothing else, and the next start can write again."""
    found, after = ALLOWED[case]
    seen = report[f"{case}, {mode}"]
    assert seen["cuts"] >= 24
    assert seen["operations"] >= 2
    assert set(seen["found"]) == found
    assert set(seen["after"]) <= after


@pytest.mark.parametrize("mode", MODES)
def test_a_log_that_turns_over_loses_nothing_but_the_oldest_half(report, mode):
    """247 records before; whatever the cut, those stay, with or without the two new ones."""
    seen = report[f"log turns over, {mode}"]
    assert {int(count) for count in seen["found"]} <= {246, 248}
    assert seen["operations"] >= 2


def test_a_write_in_place_would_be_torn(report):
    """The negative: the same cuts on a file that is changed in place leave it half old and half new."""
    assert any(0 < count < 4 for count in report["negative"])
