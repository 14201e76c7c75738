"""Power cuts at every block operation of every write leave the old or the new data."""

import shutil

import pytest

from ..runtime import interpreters

# Case: what may be found after a cut, and what has to be there after a retry.
ALLOWED = {
    "settings": ({"8000", "9000"}, {"9000"}),
    "probes": ({"2", "3"}, {"3"}),
    # Settings and sensors together: one of 8000 and 9000, and the chip that belongs to it.
    "restore": ({"8000 2", "9000 3"}, {"9000 3"}),
    "log": ({"0", "2"}, {"2", "4"}),
    "service": ({"0", "1"}, {"1"}),
    # One start counted; then something moves, and the next start counts as well.
    "resets": ({"10", "11"}, {"11"}),
    "later version": ({"1"}, {"1"}),
    "earlier version": ({"8000 1 2", "8000 1 -", "8000 0 -"}, {"8000 0 -"}),
    "meter": ({"2", "3"}, {"3"}),
    "fault": ({"old", "new"}, {"new"}),
    "prompt asked": ({"60", "900"}, {"900"}),
    # Asked or granted, never both and never neither.
    "prompt granted": ({"60 -", "- 60"}, {"- 60"}),
    "trial": ({"b/a/ 2", "b/a/ 1"}, {"b/a/ 1", "b/a/ 0"}),
    # A firmware that used up its trial is never without it while it is the active one.
    "rollback": ({"b/a/ 0", "a/ 0", "a/ -"}, {"a/ -"}),
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


# The firmware as it is not: what a cut would find then.
WRONG_ORDERS = {
    "rollback": (
        "main.py",
        'back = fall_back()\n        refused(os.remove, "trial")',
        'refused(os.remove, "trial")\n        back = fall_back()',
        "b/a/ -",
    ),
    "prompt granted": (
        "main.py",
        'refused(os.rename, "prompt", "planned")',
        'refused(os.remove, "prompt") or refused(write, "planned", "")',
        "- -",
    ),
    "restore": (
        "twinloop/store.py",
        "if not self.finish_restore() or not self.write(self.folder + RESTORE, sealed(body)):",
        "if not self.save_settings(values) or not self.save_probes(rows):",
        "9000 2",
    ),
}


@pytest.mark.parametrize("case", WRONG_ORDERS)
def test_another_order_would_leave_neither(case, tmp_path):
    """The negative: a trial ended before the rollback, a request removed, two saves apart."""
    name, old, new, found = WRONG_ORDERS[case]
    copy = tmp_path / "firmware"
    shutil.copytree(interpreters.FIRMWARE / "twinloop", copy / "twinloop", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(interpreters.FIRMWARE / "main.py", copy)
    text = (copy / name).read_text()
    assert text.count(old) == 1
    (copy / name).write_text(text.replace(old, new))
    seen = interpreters.document("../store/power_cuts.py", tmp_path, copy, interpreters.run_unix, case)
    assert found in seen["found"]


def test_a_write_wears_what_the_guide_says(report):
    """Blocks erased by a write of each kind, the mean of 500."""
    assert report["erases"]["meter"] < 0.1 and report["erases"]["log"] < 1.0 and report["erases"]["count"] < 0.5
