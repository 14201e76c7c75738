"""The pytest plugin on every kind of station, on a bench that breaks, and across other wires."""

import re
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from twinloop_hil.client import Client, SerialTransport

from ..bridges import SecondTerminal, Served

CONTRACT = Path(__file__).parent.with_name("test_contract.py")
PLUGIN = ["-p", "no:cacheprovider", "-p", "no:xdist", "--import-mode=importlib", "-q", "-ra"]


def run_pytest(*words, timeout_s=60):
    """Run pytest in its own process, where it finds the plugin by its entry point."""
    call = [sys.executable, "-m", "pytest", *PLUGIN, *map(str, words)]
    return subprocess.run(call, capture_output=True, text=True, timeout=timeout_s, cwd=CONTRACT.parent)


def counted(run):
    """The numbers of tests that passed and failed."""
    return {word: int(count) for count, word in re.findall(r"(\d+) (passed|failed|error)", run.stdout)}


def test_the_contract_holds_on_the_virtual_board(interpreter):
    run = run_pytest(CONTRACT, "--station=virtual")
    assert run.returncode == 0, run.stdout
    assert counted(run)["passed"] >= 8


@pytest.mark.parametrize("far", [SecondTerminal, Served], ids=["a second pseudo-terminal", "TCP"])
def test_the_contract_holds_at_the_far_end_of_another_wire(board, far):
    with far(board.port) as bridge:
        run = run_pytest(CONTRACT, f"--station={bridge.port}")
    assert run.returncode == 0, run.stdout
    assert not any(board.relays())


@pytest.mark.parametrize("far", [SecondTerminal, Served], ids=["a second pseudo-terminal", "TCP"])
def test_a_client_at_the_far_end_speaks_to_the_same_board(board, far):
    with far(board.port) as bridge, Client(SerialTransport(bridge.port)) as client:
        assert client.facts["board"] == "virtual"
        assert client.status()["state"] == "bench"


def test_a_missing_station_is_reported():
    run = run_pytest(CONTRACT, "--station=/dev/nowhere")
    assert run.returncode == 2
    assert "port /dev/nowhere: cannot be opened" in run.stdout + run.stderr


BREAKS = """
import os

def test_first(station):
    station.step()

def test_pulls_the_cable(station):
    station.client.transport.close()
    station.step()

def test_after_it(station):
    station.step()

def test_last(station):
    station.step()
"""


def test_a_broken_bench_is_reported_at_once(interpreter, tmp_path):
    path = tmp_path / "test_breaks.py"
    path.write_text(BREAKS)
    begin = time.monotonic()
    run = run_pytest(path, "--station=virtual")
    assert time.monotonic() - begin < 15.0
    assert run.returncode == 1
    assert counted(run) == {"passed": 1, "failed": 1, "error": 2}
    assert run.stdout.count("the bench is broken: test_pulls_the_cable") >= 2
    assert "twinloop: could not leave the board on its own sensors" in run.stdout


class Running:
    """`twinloop bench` in its own process; every line is kept with its time."""

    def __init__(self, *words):
        call = [sys.executable, "-m", "twinloop_sim.cli", "bench", *words]
        self.process = subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        self.said = []
        self.listener = threading.Thread(target=self.listen, daemon=True)
        self.listener.start()

    def listen(self):
        for line in self.process.stdout:
            self.said.append((time.monotonic(), line))

    def when(self, word, timeout_s=20.0):
        """The time of the first line with this word; waits for it."""
        deadline = time.monotonic() + timeout_s
        while time.monotonic() < deadline:
            for at_s, line in list(self.said):
                if word in line:
                    return at_s
            time.sleep(0.01)
        raise AssertionError(f"no line with {word!r} in {self.said}")


# Seconds of work on the board before the cable is pulled.
@pytest.mark.parametrize("moment_s", [0.0, 0.7, 2.0])
@pytest.mark.parametrize("far", [SecondTerminal, Served], ids=["a second pseudo-terminal", "TCP"])
def test_unplugged_at_any_moment(board, far, moment_s, tmp_path):
    """The lost link is reported within 3 s, exit status 1; the board is safe by its leases."""
    with far(board.port) as bridge:
        words = ["injection-lease", "switching", "sequences-tank", "--mains-off", "--port", bridge.port, "--out", str(tmp_path)]
        run = Running(*words)
        run.when("firmware")
        time.sleep(moment_s)
        assert run.process.poll() is None, run.said
        bridge.cut()
        cut_s = time.monotonic()
        said_s = run.when(f"port {bridge.port}")
        assert said_s - cut_s < 3.0
        while any(board.relays()):
            assert time.monotonic() - said_s < 3.0
            time.sleep(0.01)
        run.process.wait(timeout=20)
        run.listener.join()
    assert run.process.returncode == 1, run.said
