"""`twinloop board` on the virtual board, called as a user would."""

import csv
import json
import threading
import time
from types import SimpleNamespace

import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_hil import ports
from twinloop_hil.board import actions, doctor, fit, watch
from twinloop_hil.client import Client, SerialTransport
from twinloop_hil.readings import row
from twinloop_hil.virtual.board import VirtualBoard, rom_code
from twinloop_hil.virtual.files.slots import FAULT_OPEN
from twinloop_sim import cli

from ..virtual.test_virtual_board import wait_for

EVENING_MC = row(tank_low=30000, tank_high=35000, outdoor=15000, tap=40000)


def wait_good(board, timeout_s=20):
    """Wait until each fitted sensor is good: committed settings make the station start cold."""
    with Client(SerialTransport(board.port)) as client:
        deadline = time.monotonic() + timeout_s
        while any(status not in (s.GOOD, s.ABSENT) for status in client.status()["status"]):
            assert time.monotonic() < deadline, f"waited {timeout_s} s for good readings"
            time.sleep(0.2)


@pytest.fixture(scope="module")
def evening(interpreter):
    """A board on a mild evening."""
    with VirtualBoard(interpreter) as board:
        board.set_sensors(EVENING_MC)
        yield board


@pytest.fixture
def settled(evening):
    """The same board with all readings good."""
    wait_good(evening)
    return evening


def call(board, capsys, *arguments, status=0):
    """What the command prints on standard output for this board."""
    assert cli.main(["board", *arguments, "--port", board.port]) == status
    return capsys.readouterr().out


def asked(board, capsys, *arguments, status=0):
    """The same, as a JSON document."""
    return json.loads(call(board, capsys, *arguments, "--json", status=status))


def test_status_names_everything(settled, capsys):
    facts = asked(settled, capsys, "status")
    assert (facts["board"], facts["state"], facts["started_by"]) == ("virtual", "bench", "power-on")
    assert len(facts["firmware"]) == 8 and facts["micropython"].startswith("1.")
    assert facts["sensors"]["tank_low"] == {"c": 30.0, "status": "good", "cause": "no fault"}
    assert set(facts["relays"]) == set(s.OUTPUT_NAMES)
    assert facts["self_check"]["relay_astray"] == -1
    text = call(settled, capsys, "status")
    assert "tank_low        30.0 C  good" in text
    assert facts["meter"]["duty_hours"]["idle"] > 0 and facts["meter"]["charged_kwh"] == 0
    assert "kWh charged" in text and "duties so far: idle 0.0 h" in text


def test_settings_are_shown_with_unit_and_range(settled, capsys):
    rows = asked(settled, capsys, "settings")["settings"]
    assert len(rows) == cfg.SETTINGS
    assert rows[cfg.TANK_LIMIT]["value"] == "75 C" and rows[cfg.TANK_LIMIT]["low"] == "40 C"
    assert "default 8 K" in call(settled, capsys, "settings").splitlines()[cfg.START_DIFFERENCE]


def test_settings_change_together_or_not_at_all(settled, capsys):
    """Units are converted; a set that breaks a rule changes nothing and gets one line."""
    assert asked(settled, capsys, "settings", "--set", "tank_limit=158F", "--set", "start_difference=9K")["sequence"] > 0
    rows = asked(settled, capsys, "settings")["settings"]
    assert (rows[cfg.TANK_LIMIT]["raw"], rows[cfg.START_DIFFERENCE]["raw"]) == (70000, 9000)
    assert cli.main(["board", "settings", "--port", settled.port, "--set", "tank_limit=80C", "--set", "stop_difference=8K"]) == 2
    err = capsys.readouterr().err.splitlines()
    assert len(err) == 1 and "stop_difference has to be at least 2 K under" in err[0]
    assert asked(settled, capsys, "settings")["settings"][cfg.TANK_LIMIT]["raw"] == 70000


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["settings", "--set", "tank_limits=75C"], "setting tank_limits: not known; similar: tank_limit"),
        (["settings", "--set", "tank_limit"], "allowed NAME=VALUE"),
        (["settings", "--set", "tank_limit=75"], "needs a unit"),
        (["calibrate", "cellar", "20C"], "sensor cellar: not known; allowed collector"),
        (["calibrate", "tank_low"], "give a reading such as 61.3C, or --undo"),
        (["calibrate", "tank_low", "50C"], "offset would be"),
        (["watch", "--every", "0.01"], "--every 0.01: allowed 0.2 to 60 s"),
        (["identify", "tank_low", "--wait", "1"], "--wait 1: allowed 5 to 600 s"),
        (["commission"], "no terminal to ask at"),
        (["hand", "alarm"], "hand alarm: allowed collector_pump, tank_pump, dump_valve_power, air_fan, none"),
        (["hand", "tank_pump", "--seconds", "0"], "--seconds 0: allowed 1 to 3600"),
        (["maintenance", "--seconds", "901"], "--seconds 901: allowed 0 to 900"),
        (["flash", "nano"], "board nano: not known"),
    ],
)
def test_wrong_calls_are_one_line(settled, capsys, arguments, words):
    assert cli.main(["board", *arguments, "--port", settled.port]) == 2
    seen = capsys.readouterr()
    assert seen.out == ""
    assert len(seen.err.splitlines()) == 1 and words in seen.err


def test_no_port_is_one_line(capsys, monkeypatch):
    """One rule for `board` and `bench`: no board or several is one line that says what to give."""
    plugged = [type("Port", (), {"device": f"/dev/ttyACM{number}"}) for number in (0, 1)]
    for command in (["board", "status"], ["bench"]):
        monkeypatch.setattr(ports, "candidates", lambda: [])
        assert cli.main(command) == 2
        said = capsys.readouterr()
        assert said.out == "" and len(said.err.splitlines()) == 1
        assert "no board is plugged in; name its port, or give `--port virtual`" in said.err
        monkeypatch.setattr(ports, "candidates", lambda: plugged)
        assert cli.main(command) == 2
        assert "found /dev/ttyACM0, /dev/ttyACM1; name one of them" in capsys.readouterr().err
        assert cli.main([*command, "--port", " "]) == 2
        assert "--port: empty" in capsys.readouterr().err


def test_the_only_board_is_taken_and_named(board, capsys, monkeypatch, tmp_path):
    """The first line of either command says which port it is."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(ports, "candidates", lambda: [type("Port", (), {"device": board.port})])
    assert cli.main(["board", "settings"]) == 0
    assert capsys.readouterr().err == f"twinloop board settings: port {board.port}, the only board that is plugged in\n"
    assert cli.main(["bench", "start-difference"]) == 0
    assert capsys.readouterr().out.splitlines()[0].startswith(f"port {board.port}: board virtual, MicroPython ")
    page = (tmp_path / "runs" / "bench" / "report.html").read_text(encoding="utf-8")
    assert f"<h1>Twinloop bench: the virtual board, no hardware (port {board.port})</h1>" in page
    assert cli.main(["bench", "start-difference", "--json"]) == 0
    said = capsys.readouterr()
    assert json.loads(said.out)["port"] == board.port and said.err.splitlines()[0].startswith(f"port {board.port}: ")


@pytest.mark.parametrize(
    ("supply_mc", "return_mc", "says"),
    [
        (50000, 42000, "8.0 K above return (usual on a clear noon: 8 to 16 K)"),
        (50000, 34000, "16.0 K above return (usual on a clear noon: 8 to 16 K)"),
        (50000, 33900, "more flow would bring more heat"),
        (50000, 42100, "less flow would bring as much heat"),
        (s.UNKNOWN_MC, 42000, None),
    ],
)
def test_watch_says_whether_the_flow_is_right(supply_mc, return_mc, says):
    # source: common practice, 0.5 to 1 L/min for a square metre
    status = {"mc": [40000] * s.SENSORS, "duty": s.CHARGING, "commands": [1, 1, 1, 0, 0]}
    status["mc"][s.LOOP_SUPPLY], status["mc"][s.LOOP_RETURN] = supply_mc, return_mc
    line = watch.flow_line(status)
    assert line is None if says is None else says in line
    for idle in ({"duty": s.DUMPING}, {"commands": [1, 0, 1, 0, 0]}):
        assert watch.flow_line({**status, **idle}) is None


def test_watch_records_a_trace(settled, capsys, tmp_path):
    path = tmp_path / "watch.csv"
    text = call(settled, capsys, "watch", "--every", "0.3", "--seconds", "1", "--record", str(path))
    assert "tank_low 30.0 C" in text
    with open(path, newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) >= 3
    assert tuple(rows[0]) == watch.COLUMNS
    assert float(rows[0]["tank_low"]) == 30.0
    facts = asked(settled, capsys, "watch", "--seconds", "0")
    assert facts["looks"] == 1
    # Never overwritten; added to when asked for.
    again = ["board", "watch", "--port", settled.port, "--seconds", "0", "--record", str(path)]
    assert cli.main(again) == 2
    assert f"--record {path}: is there already; name another file, or add to it with --append" in capsys.readouterr().err
    assert cli.main([*again, "--append"]) == 0
    with open(path, newline="") as file:
        assert len(list(csv.DictReader(file))) == len(rows) + 1
    other = tmp_path / "other.csv"
    other.write_text("a,b\n1,2\n")
    assert cli.main([*again[:-1], str(other), "--append"]) == 2
    assert "not a trace of this version's `board watch`" in capsys.readouterr().err
    assert other.read_text() == "a,b\n1,2\n"


def test_a_record_without_a_board_leaves_no_file(capsys, tmp_path):
    path = tmp_path / "watch.csv"
    assert cli.main(["board", "watch", "--port", "/dev/nothing", "--record", str(path)]) == 2
    assert "port /dev/nothing: cannot be opened" in capsys.readouterr().err
    assert not path.exists()


def test_status_right_after_the_start_waits_for_the_first_readings(interpreter, capsys):
    """Before the third reading that agrees nothing is known, and nothing is lost either."""
    with VirtualBoard(interpreter) as board:
        sensors = asked(board, capsys, "status")["sensors"]
    assert {name for name, row in sensors.items() if row["status"] == "absent"} == {"air_collector", "room"}
    assert {row["status"] for row in sensors.values()} == {"good", "absent"}


def test_status_of_a_board_that_has_not_measured_says_so(interpreter, capsys, monkeypatch):
    monkeypatch.setattr(fit, "FIRST_READINGS_S", 0.0)
    with VirtualBoard(interpreter) as board:
        sensors = asked(board, capsys, "status")["sensors"]
    assert {row["status"] for row in sensors.values()} == {"no reading yet"}


def test_status_does_not_wait_for_a_broken_sensor(settled, capsys):
    settled.set_fault(s.COLLECTOR, FAULT_OPEN)
    try:
        with Client(SerialTransport(settled.port)) as client:
            wait_for(lambda: client.status()["status"][s.COLLECTOR] == s.LOST, 30, "the lost sensor")
        begin = time.monotonic()
        assert asked(settled, capsys, "status")["sensors"]["collector"]["status"] == "lost"
        assert time.monotonic() - begin < fit.FIRST_READINGS_S / 2
    finally:
        settled.set_fault(s.COLLECTOR, 0)


def test_calibrate_and_undo(settled, capsys):
    first = asked(settled, capsys, "calibrate", "tank_low", "30.5C")
    assert (first["offset_k"], first["before_k"]) == (0.5, 0.0)
    wait_for(lambda: asked(settled, capsys, "status")["sensors"]["tank_low"]["c"] == 30.5, 2.5, "the new offset")
    assert asked(settled, capsys, "calibrate", "tank_low", "--undo")["offset_k"] == 0.0


def test_log_is_in_words(settled, capsys):
    asked(settled, capsys, "settings", "--set", "start_difference=9K")
    lines = call(settled, capsys, "log").splitlines()
    assert lines[0].endswith("start: power-on; resets that count: 0")
    assert any("settings saved" in line for line in lines)
    assert asked(settled, capsys, "log")["events"][0]["kind"] == 1


def test_hands_and_upkeep_are_timed(settled, capsys):
    held = asked(settled, capsys, "hand", "tank_pump", "--seconds", "30")
    assert (held["mask"], held["value"], held["on"], held["why"]) == (2, 2, True, None) and 28 <= held["seconds"] <= 30
    # To look on ends nothing.
    status = asked(settled, capsys, "status")
    assert status["relays"]["tank_pump"] == 1 and status["held"]["hands"] == {"tank_pump": 1}
    assert "held by hand for" in call(settled, capsys, "status")
    assert asked(settled, capsys, "hand", "none")["relays"]["tank_pump"] == 0
    text = call(settled, capsys, "maintenance", "--seconds", "60")
    assert "on now: nothing" in text and "no lock-out: switch mains off" in text
    assert asked(settled, capsys, "status")["duty"] == "maintenance"
    text = call(settled, capsys, "hand", "tank_pump")
    assert "tank_pump stays off: under maintenance: all pumps off; the hand ends at " in text
    assert "maintenance for " in call(settled, capsys, "status")
    assert "maintenance is over" in call(settled, capsys, "maintenance", "--seconds", "0")
    call(settled, capsys, "hand", "none")


def test_a_hand_names_the_limit_that_bars_it(settled, capsys):
    """A collector that may hold steam: the pump stays off, and the answer says until when."""
    hot = list(EVENING_MC)
    hot[s.COLLECTOR] = 130000
    settled.set_sensors(hot)
    with Client(SerialTransport(settled.port)) as client:
        wait_for(lambda: client.status()["mc"][s.COLLECTOR] > 125000, 10, "the hot collector")
    text = call(settled, capsys, "hand", "collector_pump")
    assert "collector_pump stays off: there may be steam in the collector, until it reads 105 C; the hand ends at " in text
    assert asked(settled, capsys, "hand", "collector_pump")["on"] is False
    settled.set_sensors(EVENING_MC)
    call(settled, capsys, "hand", "none")
    wait_good(settled)


def test_a_sensor_that_has_not_measured_yet_has_no_fault():
    assert actions.event_text(actions.SENSOR_LOST, s.TANK_LOW, s.CAUSE_NONE) == "sensor lost: tank_low: no reading yet"


def test_every_event_has_words():
    for kind in range(1, len(actions.KIND_NAMES)):
        assert actions.event_text(kind, 1, 1)


def test_identify_by_warming(settled, capsys, monkeypatch):
    """The only chip that gets warmer takes the role, and loses its previous one."""
    monkeypatch.setattr(fit, "LOOK_S", 0.3)
    warm = list(EVENING_MC)
    warm[s.TAP] += 3000
    warmer = threading.Timer(3.0, settled.set_sensors, (warm,))
    warmer.start()
    facts = asked(settled, capsys, "identify", "outdoor", "--wait", "20")
    warmer.join()
    assert facts == {"sensor": "outdoor", "rom": rom_code(s.TAP).hex()}
    with Client(SerialTransport(settled.port)) as client:
        rows = client.probes()
        assert rows[s.OUTDOOR][0] == rom_code(s.TAP).hex() and rows[s.TAP][0] == ""
    settled.set_sensors(EVENING_MC)
    for name in ("outdoor", "tap"):
        asked(settled, capsys, "identify", name, "--rom", rom_code(s.SENSOR_NAMES.index(name)).hex())


def test_two_warm_sensors_are_not_told_apart():
    lowest = {"a": 20000, "b": 20000}
    assert fit.warmest_alone(lowest, {"a": 22500, "b": 20400, "c": 40000}) == "a"
    assert fit.warmest_alone(lowest, {"a": 22500, "b": 21500, "c": 40000}) is None
    assert fit.warmest_alone(lowest, {"a": 21900, "b": 20000}) is None


class Scans:
    """A client of a board whose chips give these values, scan after scan."""

    def __init__(self, *scans):
        self.left = list(scans)

    def call(self, method):
        return [["a", self.left[0][0]], ["b", self.left.pop(0)[1]]]


@pytest.mark.parametrize("first", [(85000, 85000), (s.UNKNOWN_MC, 20000), (24000, 20000)])
def test_identify_starts_from_the_lowest_value(monkeypatch, first):
    """At the first scan a chip may have no value yet, or still cool from the last hand."""
    monkeypatch.setattr(fit, "LOOK_S", 0)
    scans = Scans(first, (20000, 20000), (20000, 20100), (22100, 20200))
    assert fit.wait_for_warmth(scans, SimpleNamespace(json=True, wait=5), "tap") == "a"
    assert scans.left == []


def test_a_chip_that_loses_its_value_is_not_warm(monkeypatch):
    """A chip that breaks down holds 85.0 C again."""
    monkeypatch.setattr(fit, "LOOK_S", 0)
    scans = Scans((20000, 20000), (85000, 20000), (20000, 22100))
    assert fit.wait_for_warmth(scans, SimpleNamespace(json=True, wait=5), "tap") == "b"


def test_commission_refuses_what_is_not_ready(settled, capsys):
    """A lost sensor keeps the board on the bench; repaired, it enters service."""
    asked(settled, capsys, "settings", "--set", "collector_age=10s")
    wait_good(settled)
    settled.set_fault(s.COLLECTOR, FAULT_OPEN)
    with Client(SerialTransport(settled.port)) as client:
        wait_for(lambda: client.status()["status"][s.COLLECTOR] == s.LOST, 30, "the lost sensor")
    facts = asked(settled, capsys, "commission", "--yes", status=1)
    assert facts["state"] == "bench"
    assert {check["name"]: check["good"] for check in facts["checks"]}["every fitted sensor reads"] is False
    settled.set_fault(s.COLLECTOR, 0)
    wait_good(settled)
    wait_for(lambda: not asked(settled, capsys, "status")["alarms"], 15, "an end of the alarms")
    facts = asked(settled, capsys, "commission", "--yes")
    assert facts["state"] == "service" and len(facts["by_hand"]) > 4
    assert cli.main(["board", "identify", "tap", "--rom", "none", "--port", settled.port]) == 1
    assert "in service" in capsys.readouterr().err


def test_only_a_yes_counts(monkeypatch):
    answers = iter(["yes", "Y", "no", ""])
    monkeypatch.setattr("builtins.input", lambda _: next(answers))
    assert [fit.ask("Good") for _ in range(4)] == [True, True, False, False]


def test_list_and_doctor(capsys):
    assert cli.main(["board", "list"]) == 0
    assert "virtual: " in capsys.readouterr().out
    status = cli.main(["doctor", "--json"])
    facts = json.loads(capsys.readouterr().out)
    assert status == (0 if facts["good"] else 1)
    names = {row["name"] for row in facts["findings"]}
    assert names >= {"python", "pyserial", "mpremote", "mpy-cross", "micropython", "simulation"}
    assert all(row["fix"] for row in facts["findings"] if not row["good"])


def test_doctor_names_the_fix(capsys, monkeypatch):
    monkeypatch.setattr("shutil.which", lambda name: None)
    monkeypatch.setattr(doctor, "MPREMOTE", "9.9")
    assert cli.main(["doctor"]) == 1
    out = capsys.readouterr().out
    assert "BAD   micropython: not found -> port virtual needs MicroPython's Unix port" in out
    assert "-> pip install mpremote==9.9" in out
