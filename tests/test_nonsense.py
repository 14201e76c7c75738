"""Nonsense in every option of every command: one line that names it, before any work begins."""

import argparse
import os
import signal
import subprocess
import sys

import pytest
from twinloop_hil import ports
from twinloop_hil.board import doctor
from twinloop_hil.client import SerialTransport
from twinloop_hil.virtual.board import VirtualBoard
from twinloop_sim import cli, tune
from twinloop_sim.engine import compiled
from twinloop_sim.engine import run as engine
from twinloop_sim.explore import campaign as explore
from twinloop_sim.sheets import folders
from twinloop_sim.storm import call as storm

# What a command needs besides the option that is tried.
NEEDED = {
    ("board", "calibrate"): ["tank_low", "20C"],
    ("board", "flash"): ["pico"],
    ("board", "hand"): ["tank_pump"],
    ("board", "identify"): ["tank_low"],
    ("wiring",): ["pico"],
}
LARGE = "9" * 40
NUMBERS = ("", " ", "x", "nan", "inf", "-inf", "1e999", "-1", "0.0001", LARGE, "1,5", "0x10", "\udcff")
TEXTS = ("", " ", "no such thing", "/", "/no/such/place", "a/b.toml", "x" * 300, "ünïcödé", "\udcff", "=", "=5", "tank_limit")
CHANGES = ("tank_limit=", "tank_limit=1e400C", "tank_limit=1e9C", "tank_limit=-1e15C", "tank_limit=nanC", "tank_limit=75", "=75C")
CHANGES += ("tank_limit=75C=3", "collector_area_m2=1e308", "collector_area_m2=1e999", "dump_topology=", "dump_topology=\udcff")
PLACES = ("", " ", "/dev/null/x", "FILE/\udcff", "FILE", "FILE/under", "LOCKED/x", "FOLDER/" + 300 * "x")
# Values from above that are right, or that only the port can judge.
GOOD = {
    ("explore", "--minutes"): {"0.0001"},
    ("explore", "--seed"): {LARGE},
    ("board", "--seconds"): {"0.0001", LARGE},
}
# Nothing is locked to the administrator.
LOCKED_IS_GOOD = os.getuid() == 0
PORT_JUDGES = {"--port"}


class StartedError(Exception):
    """The work begins: every argument was taken."""


def begin(*args, **kwargs):
    raise StartedError


@pytest.fixture
def _no_work(monkeypatch):
    """Commands raise StartedError in the place of their work."""
    for place, name in (
        (engine, "run"),
        (tune, "document_of"),
        (explore, "explore"),
        (VirtualBoard, "lay_out_chip"),
        (SerialTransport, "__init__"),
        (storm.storm, "run"),
        (storm, "run_case"),
        (storm.draw, "draw_episode"),
        (storm.storm, "block_of"),
    ):
        monkeypatch.setattr(place, name, begin)
    monkeypatch.setattr(compiled, "is_cached", lambda: True)
    monkeypatch.setattr(doctor, "interpreter_row", lambda: doctor.row("micropython", True, ""))
    monkeypatch.setattr(ports, "candidates", lambda: [])


def commands(parser=None, words=()):
    """Every command and action with its options."""
    parser = parser or cli.build_parser()
    inner = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
    if not inner:
        yield words, parser
    for action in inner:
        for name, sub in action.choices.items():
            yield from commands(sub, (*words, name))


def tries():
    """Command, option and nonsense for it."""
    for words, parser in commands():
        for action in parser._actions:
            if not action.option_strings and action.dest != "help":
                yield from ((words, action.dest, text) for text in TEXTS if not (text == "no such thing" and action.nargs == "?"))
            elif action.nargs != 0 and action.option_strings:
                option = action.option_strings[-1]
                places = option in ("--out", "--record", "--micropython", "--weather")
                found = CHANGES + TEXTS if option == "--set" else PLACES if places else NUMBERS if action.type else TEXTS
                yield from ((words, option, text) for text in found)


def arguments_of(words, option, text):
    call = [*words, *(NEEDED.get(words, []) if option.startswith("-") or words not in NEEDED else NEEDED[words][1:])]
    call += [f"{option}={text}"] if option.startswith("-") else ["--", text]
    if words[0] == "board" and option not in ("--port",) and words[1] != "list" or words[0] == "bench" and option != "--port":
        call[len(words) : len(words)] = ["--port", "virtual"]
    return call


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A folder with a file in the way and one that nobody may write into."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "FILE").write_text("in the way")
    (tmp_path / "FOLDER").mkdir()
    (tmp_path / "LOCKED").mkdir(mode=0o500)
    return tmp_path


def outcome(arguments, capsys):
    """`begun`, or the exit status with what was said on standard error."""
    try:
        status = cli.main(arguments)
    except StartedError:
        capsys.readouterr()
        return "begun", ""
    said = capsys.readouterr()
    return status, said.err


@pytest.mark.parametrize("words", sorted({words for words, _ in commands()}), ids=" ".join)
def test_nonsense_is_one_line(place, _no_work, capsys, words):
    wrong = []
    for _, option, text in [row for row in tries() if row[0] == words]:
        found, err = outcome(arguments_of(words, option, text), capsys)
        right = found == 2 and len(err.splitlines()) == 1 and err.startswith("twinloop")
        if not right and not expected(words, option, text, found):
            wrong.append((option, text[:40], found, err[-200:]))
    assert not wrong, "\n".join(map(str, wrong))


def expected(words, option, text, found):
    """Whether this is no nonsense for this option, or something that only the port can judge."""
    if text.startswith("LOCKED") and LOCKED_IS_GOOD:
        return found in ("begun", 0)
    if found == "begun":
        # A backup, and the folder of a virtual board, may have almost any name.
        if option in ("file", "folder") and words[0] in ("board", "virtual"):
            return True
        return option in PORT_JUDGES and text.strip() != "" or text in GOOD.get((words[0], option), ())
    return False


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["simulate", "--set", "tank_limit=1e400C"], "tank_limit = 1e400C: too large a number"),
        (["simulate", "--weather", "/nonexist/x.csv"], "weather file /nonexist/x.csv: no such file"),
        (["tune", "thirtieth.toml"], "start = 02-30: no such day"),
        (["tune", "elsewhere.toml"], "weather file gone.epw: no such file"),
        (["simulate", "FOLDER.toml"], "FOLDER.toml: a folder"),
        (["simulate", "--weather", "FOLDER.csv"], "FOLDER.csv: a folder"),
        (["board", "settings", "--port", "virtual", "--set", "tank_limit=1e400C"], "tank_limit = 1e400C: too large a number"),
        (["board", "settings", "--port", "virtual", "--set", "tank_limit=95C"], "tank_limit = 95 C: allowed 40 C to 85 C"),
        (["board", "identify", "tap", "--port", "virtual", "--rom", "xyz"], "--rom xyz: allowed 16 hex digits, or `none`"),
        (["board", "identify", "tap", "--port", "virtual", "--rom", "0" * 16], "allowed 16 hex digits"),
        (["board", "identify", "tap", "--port", "virtual", "--rom", "28ff641e8016049e"], "read it again"),
        (
            ["board", "watch", "--port", "virtual", "--record", "/nonexist/x.csv"],
            "--record /nonexist/x.csv: cannot be written (No such",
        ),
        (["board", "watch", "--port", "virtual", "--append"], "--append: needs --record FILE"),
        (["board", "status", "--port", "virtual", "--micropython", "/bin/true"], "--micropython /bin/true: not MicroPython's"),
        (["bench", "--port", "virtual", "--micropython", "FILE"], "--micropython FILE: not MicroPython's"),
        (["bench", "--port", "/dev/nothing", "--micropython", "x"], "--micropython x: only for `--port virtual`"),
        (["board", "log", "--port", "/dev/nothing", "--micropython", "x"], "--micropython x: only for `--port virtual`"),
        (["wiring", "pico", "--out", "/nonexist/x.svg"], "--out /nonexist/x.svg: cannot be written"),
        (["wiring", "pico", "--out", "FILE"], "--out FILE: is there already, and is no drawing"),
        (["wiring", "two\nlines"], "board two\\nlines: not known"),
    ],
)
def test_the_line_names_the_thing(place, _no_work, capsys, arguments, words):
    (place / "thirtieth.toml").write_text('start = "02-30"\n')
    (place / "elsewhere.toml").write_text('weather = "gone.epw"\n')
    (place / "FOLDER.toml").mkdir()
    (place / "FOLDER.csv").mkdir()
    found, err = outcome(arguments, capsys)
    assert found == 2 and len(err.splitlines()) == 1 and words in err, err
    assert (place / "FILE").read_text() == "in the way"


def test_a_path_that_is_no_text_is_printed(tmp_path):
    """A folder whose name is no text is fine; naming it in the end is no traceback."""
    call = [sys.executable, "-m", "twinloop_sim.cli", "wiring", "pico", "--out", "\udcff.svg"]
    run = subprocess.run(call, capture_output=True, timeout=60, cwd=tmp_path)
    assert (run.returncode, run.stderr) == (0, b"")
    assert b"drawing: \\udcff.svg" in run.stdout


CLAIMS = """
import sys, time
from twinloop_sim.sheets.folders import claimed
with claimed("results"):
    print("claimed", flush=True)
    time.sleep(60)
"""


def test_one_folder_is_for_one_run(tmp_path, monkeypatch):
    """The second run is refused; a run that was killed leaves nothing behind."""
    monkeypatch.chdir(tmp_path)
    first = subprocess.Popen([sys.executable, "-c", CLAIMS], stdout=subprocess.PIPE, text=True)
    assert first.stdout.readline() == "claimed\n"
    with pytest.raises(ValueError, match="cannot write to results: another run is writing there"), folders.claimed("results"):
        pass
    first.send_signal(signal.SIGKILL)
    first.wait()
    with folders.claimed("results"), folders.claimed("others"):
        pass
    assert list(tmp_path.glob("*/*")) == []


@pytest.mark.parametrize("command", ["simulate", "tune"])
def test_a_second_run_ends_at_its_start(place, _no_work, capsys, command):
    with folders.claimed("mine"):
        found, err = outcome([command, "--out", "mine"], capsys)
    assert found == 2 and "cannot write to mine: another run is writing there" in err
    assert outcome([command, "--out", "mine"], capsys)[0] == "begun"
