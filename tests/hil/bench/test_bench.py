"""`twinloop bench` on the virtual board: all checks pass, and planted faults fail theirs."""

import json
import subprocess
import sys
import time
import types
from array import array
from contextlib import closing
from typing import ClassVar
from xml.etree import ElementTree

import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.store import Store
from twinloop_hil import checks
from twinloop_hil.bench import runner
from twinloop_hil.checks.operator import Operator
from twinloop_hil.client import Client, SerialTransport
from twinloop_hil.readings import EVENING_MC
from twinloop_hil.virtual.board import VirtualBoard
from twinloop_hil.virtual.files.slots import CONTACT_BURNT, CONTACT_CHATTERS, CONTACT_WELDED, SLOT_CONTACT
from twinloop_sim.sheets import folders

from ..edited import edited

# Long checks that other tests cover as well; `make hil` runs them.
ELSEWHERE = {"random-readings", "clock", "days-of-weather"} | {
    f"sequences-{name}" for name in ("lies", "cold-slug", "upkeep", "frost", "arrival", "apart", "outputs", "away")
}

TOO_SLOW = "this computer was too slow to measure it"
REPEATS = 2


def options(names=(), port="virtual", as_json=True):
    """Options as from the command line."""
    more = {"mains_off": False, "days": 1, "real_time": False, "out": None}
    return types.SimpleNamespace(checks=list(names), port=port, micropython=None, list=False, json=as_json, **more)


def bench_facts(names, folder):
    """What `twinloop bench` tells about these checks, less what this computer was too slow for."""
    call = [sys.executable, "-m", "twinloop_sim.cli", "bench", *names, "--port", "virtual", "--json", "--out", str(folder)]
    run = subprocess.run(call, capture_output=True, text=True, timeout=180)
    facts = json.loads(run.stdout)
    assert run.returncode == (1 if facts["failed"] else 0), run.stderr
    slow = [check for check in facts["checks"] if check["detail"].startswith(TOO_SLOW)]
    facts["checks"] = [check for check in facts["checks"] if check not in slow]
    facts["failed"] -= len(slow)
    return facts, [check["name"] for check in slow]


def test_every_check_passes_on_the_virtual_board(interpreter, tmp_path):
    """Other tests compute meanwhile: what was too slow to measure is repeated, as its line asks."""
    chosen = [check.name for check in checks.ALL if check.name not in ELSEWHERE]
    facts, slow = bench_facts(chosen, tmp_path)
    for _ in range(REPEATS):
        if slow:
            again, slow = bench_facts(slow, tmp_path)
            facts["checks"] += again["checks"]
            facts["failed"] += again["failed"]
            facts["passed"] += again["passed"]
    assert [check for check in facts["checks"] if check["outcome"] == "fail"] == [], "a check failed"
    assert slow == [], "this computer was too slow"
    # Skipped: nobody holds a handheld thermometer here.
    assert (facts["failed"], facts["skipped"], facts["passed"]) == (0, 1, len(chosen) - 1)
    assert facts["passed"] >= 40
    assert set(facts["board"]) == {"name", "micropython", "firmware"}
    for check in facts["checks"]:
        assert set(check) >= {"group", "name", "outcome", "measured", "unit", "low", "high", "detail"}
        if check["outcome"] == "pass":
            assert check["low"] <= check["measured"] <= check["high"]


LATCHES = "twinloop/control/latches.py"
TANK_FILE = "twinloop/control/tank.py"
DIFFERENCES = ["start-difference", "stop-difference", "hysteresis", "tank-limit", "minimum-run", "sequences-charging"]
TANK = ["tank-limit", "tank-full", "start-difference", "collector-limit", "sequences-tank"]
STEAM = ["collector-limit", "collector-reset", "dump-start", "tank-limit", "sequences-restart"]
RELAYS = ["relays", "start-difference"]
LEASES = ["injection-lease", "host-gone", "relay-lease", "start-difference"]
# An edit on the board's flash: file, text before and after; the checks to run; those that must
# fail.
FAULTS = {
    "start difference off by 0.5 K": (
        LATCHES,
        "gain, settings[cfg.START_DIFFERENCE], ",
        "gain, settings[cfg.START_DIFFERENCE] + 500, ",
        DIFFERENCES,
        {"start-difference", "hysteresis", "sequences-charging"},
    ),
    "tank limit compared the wrong way": (
        "twinloop/control/tank.py",
        "if hottest >= limit or",
        "if hottest < 0 or",
        TANK,
        {"tank-limit", "sequences-tank"},
    ),
    "collector limit compared the wrong way": (
        LATCHES,
        "lost or state[s.COLLECTOR_MC] >= settings[cfg.COLLECTOR_LIMIT]",
        "lost or state[s.COLLECTOR_MC] < settings[cfg.COLLECTOR_LIMIT] - 200000",
        STEAM,
        {"collector-limit", "collector-reset"},
    ),
    "minimum run forgotten": (
        TANK_FILE,
        "    return state[s.COLLECTOR_PUMP_ON] == 0 or",
        "    return True or",
        DIFFERENCES,
        {"minimum-run", "sequences-charging"},
    ),
    "collector reset 1 K early": (
        LATCHES,
        "elif state[s.COLLECTOR_MC] <= settings[cfg.COLLECTOR_RESET]:",
        "elif state[s.COLLECTOR_MC] <= settings[cfg.COLLECTOR_RESET] + 1000:",
        STEAM,
        {"collector-reset", "sequences-restart"},
    ),
    "two relays exchanged": (
        "board.py",
        "RELAYS = ((2, 1), (3, 1)",
        "RELAYS = ((3, 1), (2, 1)",
        RELAYS,
        {f"{name}-{what}" for name in ("collector_pump", "tank_pump") for what in ("alone", "closes", "opens")},
    ),
    "a relay of the other polarity": (
        "board.py",
        "(3, 1)",
        "(3, 0)",
        RELAYS,
        {"relays-at-boot", "tank_pump-alone", "tank_pump-closes", "tank_pump-opens"},
    ),
    "an injection lease that never ends": (
        "twinloop/desk.py",
        "if self.since(self.renewed) > self.lease_ms:",
        "if self.clicking and self.since(self.renewed) > self.lease_ms:",
        LEASES,
        {"injection-lease", "host-gone"},
    ),
    "a relay lease that never ends": (
        "twinloop/desk.py",
        "if self.since(self.renewed) > self.lease_ms:",
        "if self.injecting and self.since(self.renewed) > self.lease_ms:",
        LEASES,
        {"relay-lease"},
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_planted_faults_fail_the_right_checks(interpreter, monkeypatch, capsys, fault):
    name, old, new, chosen, expected = FAULTS[fault]
    monkeypatch.setattr(runner, "VirtualBoard", edited(name, old, new))
    monkeypatch.setattr(checks.relays, "CYCLES", 3)
    assert runner.main(options(chosen)) == 1
    facts = json.loads(capsys.readouterr().out)
    assert {check["name"] for check in facts["checks"] if check["outcome"] == "fail"} == expected
    assert facts["skipped"] == 0


CONTACTS = {
    CONTACT_WELDED: {"relays-at-boot", "tank_pump-alone", "tank_pump-closes", "tank_pump-opens"},
    CONTACT_BURNT: {"tank_pump-alone", "tank_pump-closes", "tank_pump-opens"},
    CONTACT_CHATTERS: {"relay-chatter"},
}


@pytest.mark.parametrize("fault", CONTACTS)
def test_bad_contacts_are_found(interpreter, monkeypatch, capsys, fault):
    class Worn(VirtualBoard):
        def start(self, cause):
            self.poke(SLOT_CONTACT + s.TANK_PUMP, fault)
            super().start(cause)

    monkeypatch.setattr(runner, "VirtualBoard", Worn)
    monkeypatch.setattr(checks.relays, "CYCLES", 3)
    assert runner.main(options(["relays"])) == 1
    facts = json.loads(capsys.readouterr().out)
    assert {check["name"] for check in facts["checks"] if check["outcome"] == "fail"} == CONTACTS[fault]


class DeadAlarm(VirtualBoard):
    """A board whose alarm contact is closed without power."""

    changes: ClassVar[dict] = {"ALARM_RESTS": "alarm"}


# Relays, leases, resets, and sequences that end in an alarm.
WITH_ALARMS = ["relays", *LEASES[:2], "step-exception", "step-hang", "power-cut", "cut-in-every-duty", "sequences-restart"]


def test_every_check_of_relays_passes_with_an_alarm_that_a_dead_controller_gives(interpreter, monkeypatch, capsys):
    monkeypatch.setattr(runner, "VirtualBoard", DeadAlarm)
    assert runner.main(options(WITH_ALARMS)) == 0
    facts = json.loads(capsys.readouterr().out)
    assert (facts["failed"], facts["skipped"]) == (0, 0)


def test_a_board_that_has_its_alarm_the_other_way_round_is_found(interpreter, monkeypatch, capsys):
    """Its firmware takes the relay for one that closes with power."""

    class Wrong(edited("twinloop/port.py", '"silent") == "alarm"', '"silent") == "neither"')):
        changes: ClassVar[dict] = DeadAlarm.changes

    monkeypatch.setattr(runner, "VirtualBoard", Wrong)
    monkeypatch.setattr(checks.relays, "CYCLES", 3)
    assert runner.main(options(["relays"])) == 1
    facts = json.loads(capsys.readouterr().out)
    found = {check["name"] for check in facts["checks"] if check["outcome"] == "fail"}
    assert found >= {"alarm-alone", "alarm-closes", "alarm-opens"}


@pytest.mark.parametrize("kind", [VirtualBoard, DeadAlarm])
def test_the_alarm_contact_without_power_is_what_the_board_says(interpreter, kind):
    """Open or closed while the chip is dead, open while all is well, closed on alarm."""
    dead = kind is DeadAlarm
    with kind() as board:
        assert board.relays()[s.ALARM] == 0, "no power before the first step"
        with closing(Client(SerialTransport(board.port))) as client:
            wait_for(lambda: board.relays()[s.ALARM] == dead, "a well station")
            # A contact follows its relay after some milliseconds.
            wait_for(lambda: client.call("self_check")["contacts"] >> s.ALARM & 1 == 0, "the contact")
            assert client.status()["alarms"] == 0
            client.inject(EVENING_MC, lease_ms=2000, mask=1 << s.ALARM)
            for _ in range(30):
                commands = client.advance(10000, EVENING_MC, [s.CAUSE_OPEN] * s.SENSORS)[0]
            assert commands[s.ALARM] == 1
            wait_for(lambda: alarm_follows(client), "the alarm")
            assert board.relays()[s.ALARM] == 1 - dead
            assert client.call("self_check")["contacts"] >> s.ALARM & 1 == 1
        board.stop_process()
        assert board.relays()[s.ALARM] == 0


def alarm_follows(client):
    """Advance once more; whether the contact is closed."""
    client.advance(1000, EVENING_MC, [s.CAUSE_OPEN] * s.SENSORS)
    return client.call("self_check")["contacts"] >> s.ALARM & 1 == 1


def wait_for(condition, what):
    """Wait until it holds, ten seconds at most."""
    end = time.monotonic() + 10.0
    while not condition():
        assert time.monotonic() < end, what
        time.sleep(0.02)


# No thermometer at any sensor.
SKIPPED = [""] * s.SENSORS


class Answers:
    """An operator's answers; `questions` keeps what was asked."""

    def __init__(self, *answers):
        self.answers = list(answers)
        self.questions = []

    def operator(self, off=False):
        return Operator(True, off, ask=lambda: self.answers.pop(0), out=self)

    def write(self, text):
        self.questions.append(text)

    def flush(self):
        """There is no buffer."""


@pytest.fixture
def bare_bench(board):
    """A bench that sees the board like a real one: no registers, no read-back wires."""
    bench = runner.Bench(board.port, Client(SerialTransport(board.port)), None)
    bench.client.facts["read_back"] = 0
    yield bench
    runner.leave_safe(bench)


def result_of(bench, name):
    """The result of the check with this name."""
    return runner.run_one(bench, next(check for check in checks.ALL if check.name == name))


def test_no_relay_moves_unless_mains_is_off(bare_bench, board):
    for operator in (Operator(False), Answers("n").operator()):
        bare_bench.operator = operator
        for name in ("collector_pump-alone", "relays-at-boot", "injection-lease"):
            result = result_of(bare_bench, name)
            assert result.outcome == "skipped" and "mains is off" in result.detail
    assert board.boots == 1 and not any(board.relays())


def test_an_operator_listens_to_each_relay(bare_bench):
    answers = Answers("yes", "y", "y", "perhaps", "y", "n")
    bare_bench.operator = answers.operator()
    assert result_of(bare_bench, "alarm-alone").outcome == "pass"
    failed = result_of(bare_bench, "tank_pump-alone")
    assert (failed.outcome, failed.measured) == ("fail", 1)
    asked = "".join(answers.questions)
    assert asked.count("mains") == 1 and asked.count("relay of tank_pump") == 3


def test_without_wire_and_operator_the_check_is_skipped(bare_bench):
    bare_bench.operator = Operator(False, off=True)
    result = result_of(bare_bench, "alarm-alone")
    assert result.outcome == "skipped" and "read-back wire" in result.detail and "at the terminal" in result.detail
    assert "read-back wire" in result_of(bare_bench, "alarm-closes").detail


def test_the_handheld_thermometer(bare_bench):
    """The largest difference counts; words are asked again, empty lines skip a sensor."""
    bare_bench.operator = Answers("20.1", "warm", "40,5", *SKIPPED).operator()
    assert result_of(bare_bench, "sensors-answer").outcome == "pass"
    result = result_of(bare_bench, "handheld")
    assert (result.outcome, result.measured) == ("pass", pytest.approx(-0.5, abs=0.1))
    bare_bench.operator = Answers("17", *SKIPPED).operator()
    assert result_of(bare_bench, "handheld").outcome == "fail"
    bare_bench.operator = Answers(*SKIPPED).operator()
    assert result_of(bare_bench, "handheld").outcome == "skipped"


def test_a_real_board_is_restarted_through_its_prompt(bare_bench, board):
    bare_bench.operator = Answers("n").operator(off=True)
    result = result_of(bare_bench, "relays-at-boot")
    assert (result.outcome, result.measured) == ("pass", 0)
    assert board.boots >= 2


def test_a_board_in_service_is_left_alone(interpreter, monkeypatch):
    class InService(VirtualBoard):
        def lay_out(self):
            super().lay_out()
            (self.folder / "flash" / "service").write_bytes(b"1")

    monkeypatch.setattr(runner, "VirtualBoard", InService)
    with pytest.raises(runner.WrongCallError, match="in service"):
        runner.main(options())


def test_settings_of_the_board_are_restored(interpreter, monkeypatch):
    seen = []

    class Watched(VirtualBoard):
        def close(self):
            values = array("i", [0] * cfg.SETTINGS)
            Store(f"{self.folder}/flash/").load_settings(values)
            seen.append(values[cfg.DUMP_TRAVEL])
            super().close()

    monkeypatch.setattr(runner, "VirtualBoard", Watched)
    assert runner.main(options(["step-exception"])) == 0
    assert seen == [120000]


def unplug(bench):
    """A measurement that pulls the cable."""
    bench.client.transport.close()
    bench.client.status()


UNPLUGGED = checks.frame.Check("unplugged", "pulls the cable", "s", 1, unplug, group="link")


def test_a_lost_board_is_reported_once(interpreter, monkeypatch, capsys):
    """Later checks name the first cause instead of waiting."""
    monkeypatch.setattr(checks, "ALL", (checks.ALL[0], UNPLUGGED, *checks.ALL[1:3]))
    assert runner.main(options()) == 1
    facts = json.loads(capsys.readouterr().out)
    assert [check["outcome"] for check in facts["checks"]] == ["pass", "fail", "skipped", "skipped"]
    assert all("unplugged" in check["detail"] for check in facts["checks"][2:])


def test_list_names_every_check(capsys):
    assert runner.main(types.SimpleNamespace(list=True)) == 0
    out = capsys.readouterr().out
    for check in checks.ALL:
        assert f"  {check.name}: {check.what}\n" in out
    assert "needs the virtual board" in out


def test_names_are_unique():
    names = [check.name for check in checks.ALL]
    assert len(set(names)) == len(names)


@pytest.fixture(autouse=True)
def _a_folder_of_its_own(tmp_path, monkeypatch):
    """Each test writes to its own folder, and draws pictures only if it needs them."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("twinloop_sim.sheets.ramps.can_draw", lambda: False)


def test_a_run_leaves_a_page_and_a_junit_file(interpreter, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("twinloop_sim.sheets.ramps.can_draw", lambda: True)
    assert runner.main(options(["start-difference", "hysteresis", "valve-travel"])) == 0
    facts = json.loads(capsys.readouterr().out)
    assert facts["files"] == {"report": "runs/bench/report.html", "junit": "runs/bench/junit.xml"}
    page = (tmp_path / facts["files"]["report"]).read_text(encoding="utf-8")
    assert page.count("<svg") == 3
    for check in facts["checks"]:
        assert f'data-key="{check["name"]}" value="{check["measured"]!r}"' in page
    # The virtual board has a data file, so its wires are on the page; its settings are the
    # defaults.
    assert "MAX31865 SCLK" in page and f"Settings: 0 of {cfg.SETTINGS} changed" in page
    cases = ElementTree.parse(tmp_path / facts["files"]["junit"]).getroot().findall(".//testcase")
    assert [case.get("name") for case in cases] == [check["name"] for check in facts["checks"]]
    assert all(float(case.get("time")) > 0 for case in cases)
    plain = options(["start-difference"], as_json=False)
    plain.out = str(tmp_path / "kept")
    assert runner.main(plain) == 0
    last = capsys.readouterr().out.splitlines()[-2:]
    assert {line.split()[1] for line in last} == {f"{plain.out}/report.html", f"{plain.out}/junit.xml"}


def test_recordings_show_where_the_board_switched(interpreter):
    """Every kind of ramp and time has a place within its limits, for the page to draw."""
    from twinloop_sim.sheets.ramps import place_of

    measured = runner.open_bench("virtual")
    try:
        times = ["minimum-run", "minimum-rest", "valve-travel", "run-on"]
        for check in runner.choose(
            ["start-difference", "hysteresis", "exchanger-lag", "tank-full-reset", "frost-threshold", *times]
        ):
            result = runner.run_one(measured, check)
            place = place_of(result.document(), result.curve, result.marks)
            assert place is not None and place.low <= place.at <= place.high, check.name
    finally:
        runner.leave_safe(measured)


@pytest.mark.parametrize("blocked", ["folder", "page"])
def test_a_report_that_cannot_be_written_is_told_before_any_check(tmp_path, monkeypatch, blocked):
    monkeypatch.setattr(runner, "open_bench", lambda *_: pytest.fail("the board was opened"))
    if blocked == "folder":
        (tmp_path / "runs").write_text("in the way")
    else:
        (tmp_path / "runs" / "bench" / "report.html").mkdir(parents=True)
    with pytest.raises(runner.WrongCallError, match="cannot write to runs/bench"):
        runner.main(options(["start-difference"]))


def test_a_report_that_is_blocked_meanwhile_loses_no_result(interpreter, tmp_path, monkeypatch, capsys):
    """One line and status 2; results are printed anyway."""

    def block(bench):
        (tmp_path / "runs" / "bench" / "report.html").mkdir()
        return 0, 0, 0, "in the way"

    monkeypatch.setattr(checks, "ALL", (checks.frame.Check("blocker", "blocks the page", "s", 1, block, group="link"),))
    assert runner.main(options()) == 2
    said = capsys.readouterr()
    assert json.loads(said.out)["passed"] == 1
    assert [line for line in said.err.splitlines() if "cannot write" in line] == said.err.splitlines()[-1:]
    assert (tmp_path / "runs" / "bench" / "junit.xml").exists()


def test_a_second_run_into_the_same_folder_is_refused_at_its_start(tmp_path, monkeypatch):
    monkeypatch.setattr(runner, "open_bench", lambda *_: pytest.fail("the board was opened"))
    with folders.claimed("runs/bench"), pytest.raises(runner.WrongCallError, match="runs/bench: another run is writing there"):
        runner.main(options(["start-difference"]))


def stop(fault):
    """A measurement that raises an exception."""

    def measure(bench):
        raise fault

    return measure


@pytest.mark.parametrize("fault", [KeyboardInterrupt(), ZeroDivisionError("division by zero")])
def test_a_run_that_ends_early_keeps_its_results(interpreter, tmp_path, monkeypatch, capsys, fault):
    first = next(check for check in checks.ALL if check.name == "start-difference")
    broken = checks.frame.Check("stopper", "ends the run", "s", 1, stop(fault), group="switching")
    last = next(check for check in checks.ALL if check.name == "tank-limit")
    monkeypatch.setattr(checks, "ALL", (first, broken, last))
    with pytest.raises(type(fault)):
        runner.main(options())
    facts = json.loads(capsys.readouterr().out)
    assert facts["passed"] == 1 and len(facts["checks"]) == 3 and "stopper" in facts["ended_early"]
    assert facts["checks"][1]["outcome"] == ("skipped" if isinstance(fault, KeyboardInterrupt) else "fail")
    page = (tmp_path / facts["files"]["report"]).read_text(encoding="utf-8")
    assert f"Ended early: {facts['ended_early']}" in page and 'data-key="start-difference" value="8.0"' in page
    assert ElementTree.parse(tmp_path / facts["files"]["junit"]).getroot().get("tests") == "3"


def test_the_page_says_that_the_link_was_lost(interpreter, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(checks, "ALL", (UNPLUGGED, *checks.ALL[:2]))
    assert runner.main(options()) == 1
    facts = json.loads(capsys.readouterr().out)
    assert facts["ended_early"].startswith("unplugged: ")
    page = (tmp_path / facts["files"]["report"]).read_text(encoding="utf-8")
    assert "Ended early: unplugged: " in page and "At the end: could not leave the board" in page
    assert [check["outcome"] for check in facts["checks"]] == ["fail", "skipped", "skipped"]
