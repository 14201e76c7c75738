"""A computer that is too slow is told apart from a board that is, and never gives a pass."""

import json
import os
import signal
import threading
import time
from types import SimpleNamespace

import pytest
from twinloop_hil import checks
from twinloop_hil.bench import runner
from twinloop_hil.checks import delays, frame
from twinloop_hil.checks.delays import Delays
from twinloop_hil.checks.frame import Bench, Check
from twinloop_hil.client import Client, LinkError, SerialTransport

from .test_bench import options


def check(measured, low=0.0, high=1.5, unit="s", late_s=0.0, starved_s=0.0, timed=True):
    """A check that measures this, and the delays of this computer meanwhile."""
    calls = []

    def measure(bench):
        calls.append(1)
        bench.delays = Delays.known(starved_s)
        bench.delays.late_s = late_s
        return measured, low, high, "of a test"

    found = Check("figure", "measures", unit, 1, measure, timed=timed, group="link")
    found.calls = calls
    return found


class NoBench:
    """A bench without a board."""

    delays = None


SLOW = "this computer was too slow to measure it: held up for "
CASES = {
    "good": ({"measured": 1.2}, "pass"),
    "good on a slow computer": ({"measured": 1.2, "starved_s": 0.9, "late_s": 0.1}, "pass"),
    "too long": ({"measured": 1.6}, "fail"),
    "too long, whatever the computer": ({"measured": 1.6, "starved_s": 0.05, "late_s": 0.02}, "fail"),
    "perhaps good: no processor": ({"measured": 1.6, "starved_s": 0.2}, SLOW + "200 ms, it saw 1.6 s of 0 to 1.5"),
    "perhaps good: seen late": ({"measured": 1.6, "late_s": 0.2}, SLOW + "200 ms"),
    "too short": ({"measured": 0.4, "low": 0.5, "late_s": 0.4}, "fail"),
    "perhaps too short: seen late": ({"measured": 0.6, "low": 0.5, "late_s": 0.2}, SLOW + "200 ms"),
    "long enough": ({"measured": 0.8, "low": 0.5, "late_s": 0.2, "starved_s": 9.0}, "pass"),
    "milliseconds": ({"measured": 210.0, "high": 200.0, "unit": "ms", "starved_s": 0.05}, SLOW + "50 ms, it saw 210 ms"),
    "a clock that may hide behind a delay": ({"measured": 0.1, "low": -0.25, "high": 0.25, "late_s": 0.2}, SLOW),
    "a clock": ({"measured": 0.1, "low": -0.25, "high": 0.25, "late_s": 0.01}, "pass"),
    "no real time": ({"measured": 2.0, "unit": "K", "starved_s": 5.0, "timed": False}, "fail"),
}


@pytest.mark.parametrize("case", CASES)
def test_what_a_figure_is_worth(case):
    facts, expected = CASES[case]
    made = check(**facts)
    result = made.run(NoBench())
    if expected in ("pass", "fail"):
        assert (result.outcome, result.measured, len(made.calls)) == (expected, facts["measured"], 1)
    else:
        assert (result.outcome, result.measured, len(made.calls)) == ("fail", None, frame.TIMES)
        assert expected in result.detail and result.detail.endswith("end other programs and repeat the check")


def test_a_run_with_a_figure_not_measured_is_not_good(interpreter, monkeypatch, capsys, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(checks, "ALL", (check(measured=1.6, starved_s=0.2),))
    assert runner.main(options()) == 1
    facts = json.loads(capsys.readouterr().out)
    assert (facts["passed"], facts["failed"]) == (0, 1)
    assert SLOW in facts["checks"][0]["detail"]


def test_a_board_without_a_processor_is_seen(board, monkeypatch):
    """The wait of the board's process counts, also over a restart; another process begins anew."""
    waits = {board.process.pid: iter((1.0, 1.5))}
    monkeypatch.setattr(delays, "starved_s", lambda pid: next(waits.setdefault(pid, iter((0.25, 0.5))), 0.0))
    monkeypatch.setattr(Delays, "sample", lambda self: None)
    with Delays(board) as found:
        found.count()
        board.power_cut()
        found.count()
    assert found.starved_s == 0.5 + 0.25 + 0.25


def test_the_system_tells_of_waits_and_of_none_for_no_process(board):
    assert delays.starved_s(0) == 0.0
    if os.path.exists("/proc/self/schedstat"):
        assert delays.starved_s(os.getpid()) > 0.0


def test_a_process_that_is_held_up_notices():
    """A sampler that sleeps too long has been held up by as much."""

    class Late(threading.Event):
        def wait(self, timeout=None):
            time.sleep(0.2)
            return super().wait(timeout)

    found = Delays(None)
    found.over = Late()
    with found:
        pass
    assert 0.15 < found.late_s < 5.0 and found.starved_s == 0.0


def test_a_wait_counts_the_time_of_the_board(board, client, monkeypatch):
    """Held up for a second in all, a wait of half a second goes on; it ends without an end."""
    bench = Bench(board.port, client, board)
    monkeypatch.setattr(Delays, "held_s", property(lambda self: 1.0))
    begin = time.monotonic()
    assert bench.wait(lambda: time.monotonic() - begin > 1.0, 0.5, "a second") > 1.0
    with pytest.raises(TimeoutError, match=r"waited 1\.\d+ s for nothing"):
        bench.wait(lambda: False, 0.5, "nothing")


@pytest.mark.parametrize("held_s", [0.2, 7.5])
def test_a_lost_link_says_if_this_computer_may_be_the_reason(monkeypatch, held_s):
    monkeypatch.setattr(Delays, "held_s", property(lambda self: held_s))

    def lose(bench):
        raise LinkError("port x: no answer to status in 3 tries of 1 s")

    bench = SimpleNamespace(board=None, broken="", delays=None)
    result = runner.outcome_of(bench, Check("lost", "loses the board", "s", 1, lose))
    assert result.outcome == "fail" and bench.broken == f"lost: {result.detail}"
    assert result.detail.endswith(
        "tries of 1 s" if held_s < 1 else "; this computer was held up for 7.5 s meanwhile: end other programs and repeat it"
    )


def test_a_lost_link_says_why_the_virtual_board_has_restarted(board, client):
    """Its process is killed in the middle of a check."""

    def lose(bench):
        os.kill(board.process.pid, signal.SIGKILL)
        bench.wait(lambda: board.boots == 2, 10, "the restart")
        bench.client.status()

    result = runner.outcome_of(Bench(board.port, client, board), Check("lost", "loses the board", "s", 1, lose))
    assert "1 restart(s) of the virtual board meanwhile, the last because its process ended (-9)" in result.detail


def test_a_board_that_hangs_is_no_slow_computer(board, client, monkeypatch):
    """Stopped on purpose, the board's process waits for no processor: its check fails."""
    bench = Bench(board.port, client, board)
    os.kill(board.process.pid, signal.SIGSTOP)
    try:
        with Delays(board) as found:
            time.sleep(1.0)
    finally:
        os.kill(board.process.pid, signal.SIGCONT)
    assert found.starved_s < 0.3
    assert bench.client.status()["state"] == "bench"


def test_an_answer_that_came_while_this_computer_slept_is_read(board, monkeypatch):
    """The time for an answer was over before the first look; the answer was there."""
    client = Client(SerialTransport(board.port), tries=1)
    plain = client.transport.write

    def write(data):
        plain(data)
        time.sleep(1.2)

    monkeypatch.setattr(client.transport, "write", write)
    assert client.exchange(client.last_id + 1, "status", [], 1.0)["state"] == "bench"
    client.last_id += 1
    client.close()
