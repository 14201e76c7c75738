"""`twinloop bench` on the virtual board: all checks pass, and planted faults fail exactly the right ones."""

import json
import subprocess
import sys
import types
from xml.etree import ElementTree

import pytest
from twinloop.control import state as s
from twinloop_hil import checks
from twinloop_hil.bench import runner as bench
from twinloop_hil.checks.operator import Operator
from twinloop_hil.client import Client, SerialTransport
from twinloop_hil.virtual.board import VirtualBoard
from twinloop_hil.virtual.files.slots import CONTACT_BURNT, CONTACT_CHATTERS, CONTACT_WELDED, SLOT_CONTACT

# What other tests show as well and takes long: run by `make hil`.
ELSEWHERE = {"random-readings", "clock", "days-of-weather"} | {
    f"sequences-{name}" for name in ("lies", "cold-slug", "upkeep", "frost", "arrival", "outputs", "away")
}


def options(names=(), port="virtual", as_json=True):
    """Options as the command line gives them."""
    more = {"mains_off": False, "days": 1, "real_time": False, "out": None}
    return types.SimpleNamespace(checks=list(names), port=port, micropython=None, list=False, json=as_json, **more)


def test_every_check_passes_on_the_virtual_board(interpreter, tmp_path):
    """The command as a user calls it; the document as the design names its keys."""
    chosen = [check.name for check in checks.ALL if check.name not in ELSEWHERE]
    call = [sys.executable, "-m", "twinloop_sim.cli", "bench", *chosen, "--port", "virtual", "--json", "--out", str(tmp_path)]
    run = subprocess.run(call, capture_output=True, text=True, timeout=180)
    facts = json.loads(run.stdout)
    assert run.returncode == 0, run.stderr
    # Nobody holds a handheld thermometer here.
    assert (facts["failed"], facts["skipped"], facts["passed"]) == (0, 1, len(chosen) - 1)
    assert facts["passed"] >= 40
    assert set(facts["board"]) == {"name", "micropython", "firmware"}
    for check in facts["checks"]:
        assert set(check) >= {"group", "name", "outcome", "measured", "unit", "low", "high", "detail"}
        if check["outcome"] == "pass":
            assert check["low"] <= check["measured"] <= check["high"]


LATCHES = "twinloop/control/latches.py"
DIFFERENCES = ["start-difference", "stop-difference", "hysteresis", "tank-limit", "minimum-run", "sequences-charging"]
TANK = ["tank-limit", "tank-full", "start-difference", "collector-limit", "sequences-tank"]
STEAM = ["collector-limit", "collector-reset", "dump-start", "tank-limit", "sequences-restart"]
RELAYS = ["relays", "start-difference"]
LEASES = ["injection-lease", "host-gone", "relay-lease", "start-difference"]
# What is changed on the board's flash: file, text before and after; which checks run; which of them have to fail.
FAULTS = {
    "start difference off by 0.5 K": (
        LATCHES,
        "if gain >= settings[cfg.START_DIFFERENCE]:",
        "if gain >= settings[cfg.START_DIFFERENCE] + 500:",
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
        "state[s.COLLECTOR_MC] >= settings[cfg.COLLECTOR_LIMIT]",
        "state[s.COLLECTOR_MC] < settings[cfg.COLLECTOR_LIMIT] - 200000",
        STEAM,
        {"collector-limit", "collector-reset"},
    ),
    "minimum run forgotten": (
        LATCHES,
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
        "if self.injecting and self.since(self.renewed) > self.lease_ms:",
        "if self.injecting and self.since(self.renewed) > 1 << 29:",
        LEASES,
        {"injection-lease", "host-gone"},
    ),
    "a relay lease that never ends": (
        "twinloop/desk.py",
        "if self.since(self.clicked) > self.lease_ms:",
        "if self.since(self.clicked) > 1 << 29:",
        LEASES,
        {"relay-lease"},
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_planted_faults_fail_the_right_checks(interpreter, monkeypatch, capsys, fault):
    """One edit in the board's copy of the firmware; the host's own files are untouched."""
    name, old, new, chosen, expected = FAULTS[fault]

    class Planted(VirtualBoard):
        """A board with the fault on its flash."""

        def lay_out(self):
            """As usual, then the edit."""
            super().lay_out()
            path = self.folder / name
            assert old in path.read_text()
            path.write_text(path.read_text().replace(old, new))

    monkeypatch.setattr(bench, "VirtualBoard", Planted)
    monkeypatch.setattr(checks.relays, "CYCLES", 3)
    assert bench.main(options(chosen)) == 1
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
    """Welded, burnt, hardly driven: of the tank pump's relay."""

    class Worn(VirtualBoard):
        """A board with a worn relay beside it."""

        def start(self, cause):
            """As usual."""
            self.poke(SLOT_CONTACT + s.TANK_PUMP, fault)
            super().start(cause)

    monkeypatch.setattr(bench, "VirtualBoard", Worn)
    monkeypatch.setattr(checks.relays, "CYCLES", 3)
    assert bench.main(options(["relays"])) == 1
    facts = json.loads(capsys.readouterr().out)
    assert {check["name"] for check in facts["checks"] if check["outcome"] == "fail"} == CONTACTS[fault]


class Answers:
    """An operator with answers ready; `questions` is what was asked."""

    def __init__(self, *answers):
        self.answers = list(answers)
        self.questions = []

    def operator(self, off=False):
        """As the bench wants it."""
        return Operator(True, off, ask=lambda: self.answers.pop(0), out=self)

    def write(self, text):
        """A question."""
        self.questions.append(text)

    def flush(self):
        """Nothing is held back."""


@pytest.fixture
def bare_bench(board):
    """A bench on a board as a host sees a real one: no look inside, no wires from the contacts."""
    bench_ = bench.Bench(board.port, Client(SerialTransport(board.port)), None)
    bench_.client.facts["read_back"] = 0
    yield bench_
    bench.leave_safe(bench_)


def result_of(bench_, name):
    """One check's result."""
    return bench.run_one(bench_, next(check for check in checks.ALL if check.name == name))


def test_without_a_word_on_mains_no_relay_moves(bare_bench, board):
    """Nobody there, or a no: skipped, and why."""
    for operator in (Operator(False), Answers("n").operator()):
        bare_bench.operator = operator
        for name in ("collector_pump-alone", "relays-at-boot", "injection-lease"):
            result = result_of(bare_bench, name)
            assert result.outcome == "skipped" and "no mains" in result.detail
    assert board.boots == 1 and not any(board.relays())


def test_an_operator_listens_to_each_relay(bare_bench):
    """Asked about mains once, then for on and off; a no is a failure."""
    answers = Answers("yes", "y", "y", "perhaps", "y", "n")
    bare_bench.operator = answers.operator()
    assert result_of(bare_bench, "alarm-alone").outcome == "pass"
    failed = result_of(bare_bench, "tank_pump-alone")
    assert (failed.outcome, failed.measured) == ("fail", 1)
    asked = "".join(answers.questions)
    assert asked.count("mains") == 1 and asked.count("relay of tank_pump") == 3


def test_nobody_to_listen_and_no_wire_is_said(bare_bench):
    """Both ways out are named."""
    bare_bench.operator = Operator(False, off=True)
    result = result_of(bare_bench, "alarm-alone")
    assert result.outcome == "skipped" and "read-back wire" in result.detail and "prompt" in result.detail
    assert "read-back wire" in result_of(bare_bench, "alarm-closes").detail


def test_a_handheld_thermometer(bare_bench):
    """The largest difference counts; words are asked again, empty lines leave a sensor out."""
    bare_bench.operator = Answers("20.1", "warm", "40,5", "", "", "", "", "", "").operator()
    assert result_of(bare_bench, "sensors-answer").outcome == "pass"
    result = result_of(bare_bench, "handheld")
    assert (result.outcome, result.measured) == ("pass", pytest.approx(-0.5, abs=0.1))
    bare_bench.operator = Answers("17", "", "", "", "", "", "", "").operator()
    assert result_of(bare_bench, "handheld").outcome == "fail"
    bare_bench.operator = Answers(*[""] * 8).operator()
    assert result_of(bare_bench, "handheld").outcome == "skipped"


def test_a_board_in_the_hand_is_sent_through_its_prompt(bare_bench, board):
    """The restart of a board whose power the host cannot cut."""
    bare_bench.operator = Answers("n").operator(off=True)
    result = result_of(bare_bench, "relays-at-boot")
    assert (result.outcome, result.measured) == ("pass", 0)
    assert board.boots >= 2


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
    monkeypatch.setattr(checks, "ALL", (checks.ALL[0], broken, checks.ALL[1], checks.ALL[2]))
    assert bench.main(options()) == 1
    facts = json.loads(capsys.readouterr().out)
    assert [check["outcome"] for check in facts["checks"]] == ["pass", "fail", "skipped", "skipped"]
    assert all("unplugged" in check["detail"] for check in facts["checks"][2:])


def test_list_names_every_check(capsys):
    """What each does, how long, what it needs."""
    assert bench.main(types.SimpleNamespace(list=True)) == 0
    out = capsys.readouterr().out
    for check in checks.ALL:
        assert f"  {check.name}\n" in out
    assert "needs the virtual board" in out


def test_names_are_unique():
    """A name stands for one check."""
    names = [check.name for check in checks.ALL]
    assert len(set(names)) == len(names)


@pytest.fixture(autouse=True)
def _a_folder_of_its_own(tmp_path, monkeypatch):
    """Page and JUnit file of every run here go to a folder of the test; pictures only where a test looks at them."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("twinloop_sim.sheets.ramps.can_draw", lambda: False)


def test_a_run_leaves_a_page_and_a_junit_file(interpreter, tmp_path, monkeypatch, capsys):
    """With the figures that the document has; the plain output ends with both names."""
    monkeypatch.setattr("twinloop_sim.sheets.ramps.can_draw", lambda: True)
    assert bench.main(options(["start-difference", "hysteresis", "valve-travel"])) == 0
    facts = json.loads(capsys.readouterr().out)
    assert facts["files"] == {"report": "runs/bench/report.html", "junit": "runs/bench/junit.xml"}
    page = (tmp_path / facts["files"]["report"]).read_text(encoding="utf-8")
    assert page.count("<svg") == 3
    for check in facts["checks"]:
        assert f'data-key="{check["name"]}" value="{check["measured"]!r}"' in page
    # The virtual board is one of ours, so its wires are on the page; the settings are those that it came with.
    assert "MAX31865 SCLK" in page and "Settings: 0 of 44 changed" in page
    cases = ElementTree.parse(tmp_path / facts["files"]["junit"]).getroot().findall(".//testcase")
    assert [case.get("name") for case in cases] == [check["name"] for check in facts["checks"]]
    assert all(float(case.get("time")) > 0 for case in cases)
    plain = options(["start-difference"], as_json=False)
    plain.out = str(tmp_path / "kept")
    assert bench.main(plain) == 0
    last = capsys.readouterr().out.splitlines()[-2:]
    assert {line.split()[1] for line in last} == {f"{plain.out}/report.html", f"{plain.out}/junit.xml"}


def test_recordings_show_where_it_switched(interpreter):
    """What the page draws: a difference, a hysteresis, a reading rising and falling, and each time has its place and limits."""
    from twinloop_sim.sheets.ramps import place_of

    measured = bench.open_bench("virtual")
    try:
        times = ["minimum-run", "minimum-rest", "valve-travel", "run-on"]
        for check in bench.choose(
            ["start-difference", "hysteresis", "exchanger-lag", "tank-full-reset", "frost-threshold", *times]
        ):
            result = bench.run_one(measured, check)
            place = place_of(result.document(), result.curve, result.marks)
            assert place is not None and place.low <= place.at <= place.high, check.name
    finally:
        bench.leave_safe(measured)


@pytest.mark.parametrize("blocked", ["folder", "page"])
def test_a_report_that_cannot_be_written_loses_no_result(interpreter, tmp_path, capsys, blocked):
    """A file where the folder should be, or a folder where the page should be: one line, status 2, the results all the same."""
    if blocked == "folder":
        (tmp_path / "runs").write_text("in the way")
    else:
        (tmp_path / "runs" / "bench" / "report.html").mkdir(parents=True)
    assert bench.main(options(["start-difference"])) == 2
    said = capsys.readouterr()
    assert json.loads(said.out)["passed"] == 1
    assert [line for line in said.err.splitlines() if "cannot write" in line] == said.err.splitlines()[-1:]
    assert (tmp_path / "runs" / "bench" / "junit.xml").exists() == (blocked == "page")


def stop(fault):
    """A measurement that ends the run."""

    def measure(bench):
        raise fault

    return measure


@pytest.mark.parametrize("fault", [KeyboardInterrupt(), ZeroDivisionError("division by zero")])
def test_a_run_that_ends_early_keeps_what_there_is(interpreter, tmp_path, monkeypatch, capsys, fault):
    """Ctrl-C, or a check that breaks: page, JUnit file and document have what was measured and say so; the board is let go."""
    first = next(check for check in checks.ALL if check.name == "start-difference")
    broken = checks.frame.Check("stopper", "ends the run", "s", 1, stop(fault), group="switching")
    last = next(check for check in checks.ALL if check.name == "tank-limit")
    monkeypatch.setattr(checks, "ALL", (first, broken, last))
    with pytest.raises(type(fault)):
        bench.main(options())
    facts = json.loads(capsys.readouterr().out)
    assert facts["passed"] == 1 and len(facts["checks"]) == 3 and "stopper" in facts["ended_early"]
    assert facts["checks"][1]["outcome"] == ("skipped" if isinstance(fault, KeyboardInterrupt) else "fail")
    page = (tmp_path / facts["files"]["report"]).read_text(encoding="utf-8")
    assert f"Ended early: {facts['ended_early']}" in page and 'data-key="start-difference" value="8.0"' in page
    assert ElementTree.parse(tmp_path / facts["files"]["junit"]).getroot().get("tests") == "3"


def test_a_page_says_that_the_link_was_lost(interpreter, tmp_path, monkeypatch, capsys):
    """The first cause is what ended the run; the page says too that the board could not be left as it was."""
    lost = checks.frame.Check(
        "unplugged", "pulls the cable", "s", 1, lambda b: b.client.transport.close() or b.client.status(), group="link"
    )
    monkeypatch.setattr(checks, "ALL", (lost, *checks.ALL[:2]))
    assert bench.main(options()) == 1
    facts = json.loads(capsys.readouterr().out)
    assert facts["ended_early"].startswith("unplugged: ")
    page = (tmp_path / facts["files"]["report"]).read_text(encoding="utf-8")
    assert "Ended early: unplugged: " in page and "At the end: could not leave the board" in page
    assert [check["outcome"] for check in facts["checks"]] == ["fail", "skipped", "skipped"]
