"""The command as a user runs it: exit status, one line for a wrong call, JSON and nothing else."""

import json
import os
import subprocess
import sys

import pytest
from twinloop_hil.virtual.board import NoInterpreterError, find_interpreter


def twinloop(*arguments, cwd=None):
    call = [sys.executable, "-m", "twinloop_sim.cli", *arguments]
    return subprocess.run(call, capture_output=True, text=True, timeout=240, cwd=cwd)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["simulate", "nope"], "scenario nope: not known"),
        (["simulate", "missing.toml"], "missing.toml: not found"),
        (["simulate", "--set", "start_difference=2K"], "start_difference = 2 K"),
        (["simulate", "--set", "collector_area_m2=-1"], "collector_area_m2 = -1"),
        (["simulate", "--set", "tank_limit=75bar"], "unit bar does not fit"),
        (["bench", "--port", "/dev/nothing"], "port /dev/nothing: cannot be opened"),
        (["bench", "--port", "nonsense://x"], "port nonsense://x"),
        (["bench", "closed-loop", "--days", "0"], "--days 0: allowed 1 to 365"),
        (["bench", "no-such-check"], "check no-such-check: neither a check nor a group"),
        (["bench", "--port", "virtual", "--micropython", "/no/such"], "--micropython /no/such: not MicroPython"),
        (["explore", "--corners", "0"], "--corners 0: allowed 1 to 100000"),
        (["explore", "--minutes", "0"], "--minutes 0: allowed more than 0"),
        (["explore", "--seed", "-1"], "--seed -1: allowed 0 or more"),
        (["explore", "--corners", "many"], "many"),
        (["storm", "--years", "0"], "--years 0: allowed 1 to 1000"),
        (["storm", "--seed", "-1"], "--seed -1"),
        (["storm", "--days", "1"], "--days 1: allowed 2 to 60"),
        (["storm", "--only", "gremlins"], "--only gremlins: not a fault"),
        (["storm", "--replay", "1.2"], "--replay 1.2: allowed SEED.YEAR.EPISODE"),
        (["storm", "--workers", "0"], "--workers 0: allowed 1 to 256"),
        (["explore", "--workers", "257"], "--workers 257: allowed 1 to 256"),
        (["tune", "--workers", "-1"], "--workers -1: allowed 1 to 256"),
        (["tune", "nope"], "scenario nope: not known"),
        (["fly"], "fly"),
        (["simulate", "--fast"], "--fast"),
    ],
)
def test_wrong_calls_are_one_line_and_status_2(arguments, words):
    """What, where, what is allowed; nothing on standard output."""
    run = twinloop(*arguments)
    assert run.returncode == 2
    assert run.stdout == ""
    lines = run.stderr.strip().splitlines()
    assert len(lines) == 1, run.stderr
    assert words in lines[0]


def test_simulate_leaves_report_picture_and_trace(tmp_path):
    """A user's own scenario file; the files that the document names exist."""
    (tmp_path / "mine.toml").write_text('what = "One day of my own"\nstart = "06-01"\ndays = 1\n')
    run = twinloop("simulate", "mine.toml", "--json", "--out", "here", cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    facts = json.loads(run.stdout)
    assert facts["verdict"] == "pass"
    for path in (facts["files"]["report"], facts["files"]["trace"], *facts["files"]["plots"]):
        assert (tmp_path / path).stat().st_size > 10000
    assert len((tmp_path / facts["files"]["trace"]).read_text().splitlines()) == facts["steps"] + 1


def test_a_bad_run_has_status_1(tmp_path):
    run = twinloop("simulate", "away-fortnight", "--set", "dump_topology=none", "--no-files", cwd=tmp_path)
    assert run.returncode == 1
    assert "NOT GOOD" in run.stdout
    assert not (tmp_path / "runs").exists()


def test_unwritable_folder_is_one_line(tmp_path):
    (tmp_path / "runs").write_text("")
    (tmp_path / "mine.toml").write_text('what = "x"\nstart = "06-01"\ndays = 1\n')
    run = twinloop("simulate", "mine.toml", cwd=tmp_path)
    assert run.returncode == 2
    assert "cannot write to runs" in run.stderr.splitlines()[-1]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--weather", "moon.epw"], "weather file moon.epw: no such file"),
        (["--weather", "moon"], "weather moon: not known, allowed greensboro, sand-point, miami"),
        (["--trace-step", "7"], "trace_step_s = 7: allowed multiples of step_s = 5"),
        (["--trace-step", "x"], "invalid int value"),
    ],
)
def test_wrong_weather_or_trace_step_is_one_line(arguments, words):
    run = twinloop("simulate", "frosty-morning", "--no-files", *arguments)
    assert run.returncode == 2
    assert words in run.stderr
    assert len([line for line in run.stderr.splitlines() if line.startswith("twinloop")]) == 1


def test_an_incomplete_weather_file_is_one_line(tmp_path):
    path = tmp_path / "half.epw"
    path.write_text("LOCATION,X,-,X,X,0,40.0,-105.0,-7.0,1600.0\n" + 7 * "x\n")
    run = twinloop("simulate", "frosty-morning", "--no-files", "--weather", str(path))
    assert run.returncode == 2
    assert "weather file half.epw: 0 hours, a year needs 8760" in run.stderr


def test_scenarios_lists_what_is_shipped():
    facts = json.loads(twinloop("scenarios", "--json").stdout)["scenarios"]
    days = {"washhouse-week": 7, "away-fortnight": 14, "frosty-morning": 3, "packing-shed-winter": 120, "year": 365}
    assert {row["name"]: row["days"] for row in facts} == days
    assert all(row["what"] for row in facts)
    assert "washhouse-week (default)" in twinloop("scenarios").stdout


IMPORTS_NOTHING_HEAVY = """
import sys, twinloop_sim.cli as cli
try:
    cli.main(sys.argv[1:])
except SystemExit:
    pass
heavy = {"numpy", "pandas", "scipy", "numba", "matplotlib", "pvlib", "plotly", "CoolProp", "joblib", "dask"} & set(sys.modules)
sys.exit(f"imported {heavy}" if heavy else 0)
"""


@pytest.mark.parametrize(
    "arguments",
    [
        ["--help"],
        ["bench", "--help"],
        ["simulate", "--help"],
        ["storm", "--help"],
        ["bench", "--list"],
        ["board", "--help"],
        ["board", "list"],
        ["wiring", "pico", "--json"],
    ],
)
def test_help_and_board_import_nothing_heavy(arguments, tmp_path):
    call = [sys.executable, "-c", IMPORTS_NOTHING_HEAVY, *arguments]
    run = subprocess.run(call, capture_output=True, text=True, timeout=60, cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    assert run.stdout


def test_the_bench_at_work_imports_nothing_heavy(tmp_path):
    try:
        find_interpreter()
    except NoInterpreterError as missing:
        pytest.skip(str(missing))
    for arguments in (["bench", "exchange-time", "--port", "virtual"], ["board", "settings", "--port", "virtual"]):
        call = [sys.executable, "-c", IMPORTS_NOTHING_HEAVY, *arguments]
        run = subprocess.run(call, capture_output=True, text=True, timeout=60, cwd=tmp_path)
        assert run.returncode == 0, run.stderr
        assert run.stdout


def test_the_check_for_heavy_imports_sees_one(tmp_path):
    """Negative: a simulation command is caught."""
    call = [sys.executable, "-c", IMPORTS_NOTHING_HEAVY, "scenarios"]
    run = subprocess.run(call, capture_output=True, text=True, timeout=60, cwd=tmp_path)
    assert run.returncode == 1
    assert "numpy" in run.stderr


def test_a_closed_pipe_is_no_traceback():
    """`twinloop scenarios | head -1` ends quietly."""
    reader, writer = os.pipe()
    os.close(reader)
    run = subprocess.run(
        [sys.executable, "-m", "twinloop_sim.cli", "bench", "--list"], stdout=writer, stderr=subprocess.PIPE, text=True, timeout=60
    )
    os.close(writer)
    assert "Traceback" not in run.stderr
