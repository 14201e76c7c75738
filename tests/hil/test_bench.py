"""`twinloop bench` on the virtual board: all checks pass, and planted faults fail exactly the right ones."""

import json
import subprocess
import sys
import types

import pytest
from twinloop_hil import bench, checks
from twinloop_hil.virtual import VirtualBoard

WALKS = [check.name for check in checks.ALL if check.seconds < 2]


def options(names=(), port="virtual", as_json=True):
    """Options as the command line gives them."""
    more = {"mains_off": False, "days": 1, "real_time": False, "out": None}
    return types.SimpleNamespace(checks=list(names), port=port, micropython=None, list=False, json=as_json, **more)


def test_every_check_passes_on_the_virtual_board(interpreter):
    """The command as a user calls it; the document as the design names its keys."""
    call = [sys.executable, "-m", "twinloop_sim.cli", "bench", "--port", "virtual", "--json"]
    run = subprocess.run(call, capture_output=True, text=True, timeout=180)
    facts = json.loads(run.stdout)
    assert run.returncode == 0, run.stderr
    assert (facts["failed"], facts["skipped"], facts["passed"]) == (0, 0, len(checks.ALL))
    assert set(facts["board"]) == {"name", "micropython", "firmware"}
    for check in facts["checks"]:
        assert set(check) == {"name", "outcome", "measured", "unit", "low", "high", "detail"}
        assert check["low"] <= check["measured"] <= check["high"]


FAULTS = {
    "start difference off by 0.5 K": (
        "control/latches.py",
        "if gain >= settings[START_DIFFERENCE]:",
        "if gain >= settings[START_DIFFERENCE] + 500:",
        {"start-difference"},
    ),
    "tank limit compared the wrong way": (
        "control/latches.py",
        "if hottest >= limit:",
        "if hottest < 0:",
        {"tank-limit", "run-on"},
    ),
    "minimum run forgotten": (
        "control/latches.py",
        "    return state[COLLECTOR_PUMP_ON] == 0 or",
        "    return True or",
        {"minimum-run"},
    ),
    "collector reset 1 K early": (
        "control/latches.py",
        "elif state[COLLECTOR_MC] <= settings[COLLECTOR_RESET]:",
        "elif state[COLLECTOR_MC] <= settings[COLLECTOR_RESET] + 1000:",
        {"collector-reset"},
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_planted_faults_fail_the_right_checks(interpreter, monkeypatch, capsys, fault):
    """One edit in the board's copy of the firmware; the host's own files are untouched."""
    name, old, new, expected = FAULTS[fault]

    class Planted(VirtualBoard):
        """A board with the fault on its flash."""

        def lay_out(self):
            """As usual, then the edit."""
            super().lay_out()
            path = self.folder / "twinloop" / name
            assert old in path.read_text()
            path.write_text(path.read_text().replace(old, new))

    monkeypatch.setattr(bench, "VirtualBoard", Planted)
    assert bench.main(options(WALKS)) == 1
    facts = json.loads(capsys.readouterr().out)
    assert {check["name"] for check in facts["checks"] if check["outcome"] == "fail"} == expected


def test_a_board_in_service_is_left_alone(interpreter, monkeypatch):
    """Checks run on the bench only."""

    class InService(VirtualBoard):
        """A commissioned board."""

        def lay_out(self):
            """As usual, with the flag on flash."""
            super().lay_out()
            (self.folder / "flash" / "service").write_bytes(b"1")

    monkeypatch.setattr(bench, "VirtualBoard", InService)
    with pytest.raises(bench.WrongCallError, match="in service"):
        bench.main(options())


def test_settings_of_the_board_are_given_back(interpreter, monkeypatch):
    """A check that changes settings leaves those that it found."""
    seen = []

    class Watched(VirtualBoard):
        """A board whose flash is looked at when it is closed."""

        def close(self):
            """Note the settings first."""
            from array import array

            from twinloop.control import settings as cfg
            from twinloop.store import Store

            values = array("i", [0] * cfg.SETTINGS)
            Store(f"{self.folder}/flash/").load_settings(values)
            seen.append(values[cfg.DUMP_TRAVEL])
            super().close()

    monkeypatch.setattr(bench, "VirtualBoard", Watched)
    assert bench.main(options(["step-exception"])) == 0
    assert seen == [120000]


def test_a_board_that_goes_away_is_said_once(interpreter, monkeypatch, capsys):
    """The first cause is kept; later checks name it instead of waiting."""
    broken = checks.frame.Check("unplugged", "pulls the cable", "s", 1, lambda b: b.client.transport.close() or b.client.status())
    monkeypatch.setattr(checks, "ALL", (checks.ALL[0], broken, *checks.ALL[2:4]))
    assert bench.main(options()) == 1
    facts = json.loads(capsys.readouterr().out)
    assert [check["outcome"] for check in facts["checks"]] == ["pass", "fail", "skipped", "skipped"]
    assert all("unplugged" in check["detail"] for check in facts["checks"][2:])


def test_list_names_every_check(capsys):
    """What each does, how long, what it needs."""
    assert bench.main(types.SimpleNamespace(list=True)) == 0
    out = capsys.readouterr().out
    for check in checks.ALL:
        assert f"{check.name}\n" in out
    assert "needs the virtual board" in out


def test_names_are_unique():
    """A name stands for one check."""
    names = [check.name for check in checks.ALL]
    assert len(set(names)) == len(names)
