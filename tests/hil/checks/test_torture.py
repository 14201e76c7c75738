"""Link torture: a sound virtual board passes, and each planted fault fails exactly its check."""

import os
import random
import re
import threading
import time
import zlib
from dataclasses import replace

import pytest
import serial
from twinloop.link import calls, frames
from twinloop.loop import LINE_TOP
from twinloop_hil.checks import torture
from twinloop_hil.checks.frame import Bench
from twinloop_hil.checks.torture import bad_lines, bombardment
from twinloop_hil.client import Client, LinkError, SerialTransport
from twinloop_hil.virtual.board import VirtualBoard

from ..bridges import Slow
from ..edited import edited

# Short plans for the tests; `twinloop bench` runs bombardment.PLAN.
SHORT = bombardment.Plan(messages=6000, endless_bytes=200_000, every=4, silent_s=2.2, floods=2, reconnects=6)
SHORTER = bombardment.Plan(messages=1500, endless_bytes=60_000, every=16, silent_s=1.0, floods=1, reconnects=3)
# Silent for longer than a period may take, shorter than the watchdog.
SILENT = replace(SHORTER, silent_s=2.2)
FREE_ID = 300 << 20 | 77


def outcomes(board, monkeypatch, plan=SHORT):
    """The results of all torture checks by name."""
    monkeypatch.setattr(bombardment, "PLAN", plan)
    bench = Bench("virtual", Client(SerialTransport(board.port)), board)
    try:
        return {check.name: check.run(bench) for check in torture.CHECKS}
    finally:
        bench.client.close()


def failed(results):
    return {name for name, result in results.items() if result.outcome != "pass"}


def test_a_sound_board_passes(interpreter, monkeypatch):
    with VirtualBoard(interpreter) as board:
        results = outcomes(board, monkeypatch)
        assert failed(results) == set(), results
        assert board.boots == 1
    assert results["torture-messages"].measured >= SHORT.messages
    assert results["torture-period"].measured > 0.9
    assert results["torture-answer"].measured > 0


def test_a_board_whose_pins_the_host_cannot_see(interpreter, monkeypatch):
    """As on a real port: no look inside, limited time, relays judged by their commands."""
    monkeypatch.setattr(
        bombardment, "PLAN", bombardment.Plan(endless_bytes=20_000, every=8, silent_s=0.5, floods=1, reconnects=3, top_s=3.0)
    )
    with VirtualBoard(interpreter) as board:
        bench = Bench(board.port, Client(SerialTransport(board.port)), None)
        results = {check.name: check.run(bench) for check in torture.CHECKS if not check.missing(bench)}
        status = bench.client.status()
        bench.client.close()
    assert failed(results) == set(), results
    assert set(results) == {check.name for check in torture.CHECKS} - {"torture-accounted", "torture-period"}
    # In a quarter of a second per kind, 100,000 lines are not possible.
    assert 1000 < results["torture-messages"].measured < 50_000
    assert "changes of the commands" in results["torture-relays"].detail
    assert status["injecting"] == 1


def test_a_slow_wire_gets_what_it_can_carry(interpreter, monkeypatch):
    """The far end takes megabytes at once; the board is silent until it has read them."""
    monkeypatch.setattr(bombardment, "PLAN", replace(SHORT, endless_bytes=2_000_000, top_s=4.0 * bombardment.SHARES))
    with VirtualBoard(interpreter) as board, Slow(board.port, 6000.0) as wire:
        bench = Bench(wire.port, Client(SerialTransport(wire.port)), None)
        run = bombardment.Bombardment(bench)
        run.rest()
        run.tap.rate = run.record.rate = run.measured_rate()
        run.stage("line without end", run.send_without_end)
        bench.client.close()
    assert run.record.rate < 7000
    # Longer than three tries of a call would wait, and no more than its share of each kind.
    assert 3 * 6000 < run.record.endless < 2 * 4.0 * 7000 + 4 * bombardment.CHUNK
    assert (run.record.restarts, run.record.astray, run.record.executed) == (0, 0, [])


def test_a_dead_board_is_a_broken_link(interpreter, monkeypatch):
    """Neither an answer nor a restart: the client's error ends the measurement."""
    with VirtualBoard(interpreter) as board:
        bench = Bench("virtual", Client(SerialTransport(board.port), tries=1), board)
        board.ended.set()
        board.supervisor.join()
        board.process.kill()
        board.process.wait()
        monkeypatch.setattr(bombardment, "RESTART_TOP_S", 0.0)
        with pytest.raises(LinkError, match="no answer"):
            torture.CHECKS[0].run(bench)
        assert type(bench.client.transport) is SerialTransport
        bench.client.close()


def told_after_s(interpreter) -> float:
    """Seconds from a terminal that vanishes to the error of its link."""
    pulled = []

    def pull():
        board.ended.set()
        board.supervisor.join()
        os.close(board.inner)
        board.process.kill()
        board.inner = os.open(os.devnull, os.O_RDONLY)
        pulled.append(time.monotonic())

    with VirtualBoard(interpreter) as board:
        bench = Bench("virtual", Client(SerialTransport(board.port)), board)
        threading.Timer(1.0, pull).start()
        with pytest.raises(LinkError):
            torture.CHECKS[0].run(bench)
        told_s = time.monotonic() - pulled[0]
        bench.client.close()
    return told_s


def test_a_pulled_cable_is_reported(interpreter, monkeypatch):
    """The link is reported as broken within 3 s; a computer that is busy gets three tries."""
    monkeypatch.setattr(bombardment, "PLAN", replace(SHORT, every=1))
    assert any(told_after_s(interpreter) < 3.0 for _ in range(3))


def test_a_new_host_is_not_confused_by_answers_to_the_one_before(interpreter):
    """Late errors to nonsense have the id 0; the answer to hello has its own id."""
    with VirtualBoard(interpreter) as board:
        for _ in range(10):
            line = serial.serial_for_url(board.port, timeout=0)
            line.write(frames.seal(b"[]") * 12 + b"hello\n" * 3)
            line.close()
            client = Client(SerialTransport(board.port))
            assert client.status()["injecting"] == 0
            client.close()


KINDS = {
    "flips": bad_lines.flips(FREE_ID),
    "edits": bad_lines.edits(FREE_ID),
    "near misses": bad_lines.near_misses(FREE_ID),
    "lenient": bad_lines.lenient(FREE_ID),
    "deep": bad_lines.deep(FREE_ID),
    "too long": bad_lines.too_long(FREE_ID),
    "control bytes": bad_lines.control_bytes(FREE_ID, random.Random(1)),
    "reused": bad_lines.reused(FREE_ID),
    "foreign": bad_lines.foreign(FREE_ID),
    "short": bad_lines.short(5000, random.Random(1)),
}


@pytest.mark.parametrize("kind", KINDS)
def test_bad_lines_are_what_they_claim(kind):
    """A shot with answers has a good CRC and fits; the others have a bad CRC or are too long."""
    for data, answers in KINDS[kind]:
        assert data.endswith(b"\n")
        for line in filter(None, re.split(rb"[\r\n]", data)):
            payload, _, end = line.rpartition(b" ")
            good = end == f"{zlib.crc32(payload):08x}".encode()
            assert good and len(line) < LINE_TOP if answers else not good or len(line) >= LINE_TOP
            assert line not in frames.BARE_WORDS


@pytest.mark.parametrize("kind", ["lenient", "deep", "control bytes"])
def test_sealed_lines_are_no_requests(kind):
    """Lines with a good CRC are no valid requests, so that their id stays free."""
    sealed = [frames.unseal(data[:-1]) for data, answers in KINDS[kind] if answers]
    assert sealed
    for payload in sealed:
        with pytest.raises(calls.CallError):
            calls.check(frames.parse(payload))


def test_every_bit_is_flipped():
    lines = bad_lines.requests(FREE_ID)
    assert len(KINDS["flips"]) == len({data for data, _ in KINDS["flips"]}) == 8 * sum(len(line) for line in lines)


def test_the_full_plan_is_large():
    assert bombardment.PLAN.messages >= 100_000
    assert bombardment.PLAN.every == 1
    assert bombardment.PLAN.endless_bytes >= 2_000_000


# name: file, text before and after, the one check that fails
FAULTS = {
    "a CRC in upper case will do": (
        "link/frames.py",
        "return payload if bytes(line[-8:]) == crc_text(payload)",
        "return payload if bytes(line[-8:]).lower() == crc_text(payload)",
        "torture-executed",
    ),
    "any depth is taken": (
        "link/frames.py",
        "if lists == 0 or not plain(item, lists - 1):",
        "if not plain(item, 1):",
        "torture-executed",
    ),
    "the interpreter's own JSON is good enough": (
        "link/frames.py",
        "return message if spelled(message, payload) else None",
        "return message",
        "torture-executed",
    ),
    "a repetition is executed again": (
        "link/session.py",
        "return REPEATED if crc == self.last_crc else REUSED",
        "return NEW if crc == self.last_crc else REUSED",
        "torture-replays",
    ),
    "endless lines are kept": (
        "loop.py",
        "            elif length < LINE_TOP:\n",
        "            elif length == LINE_TOP and len(line) < 20000:\n                line.append(byte)\n"
        "            elif length < LINE_TOP:\n",
        "torture-memory",
    ),
    "the interrupt byte interrupts": (
        "port.py",
        "                return self.byte[0]\n",
        "                if self.byte[0] == 3:\n                    raise KeyboardInterrupt\n                return self.byte[0]\n",
        "torture-prompt",
    ),
    "an answer waits for its reader": ("port.py", "self.outward.ipoll(0)", "((None, select.POLLOUT),)", "torture-period"),
    "a bad line moves a relay": (
        "loop.py",
        "            self.lines_bad += 1\n",
        "            self.lines_bad += 1\n            self.port.drive(0, self.lines_bad % 900 > 500)\n",
        "torture-relays",
    ),
    "some bad lines are not counted": (
        "loop.py",
        "            self.lines_bad += 1\n",
        "            self.lines_bad += len(line) > 3\n",
        "torture-accounted",
    ),
    "a bad line takes a long time": (
        "loop.py",
        "            self.lines_bad += 1\n",
        '            self.lines_bad += 1\n            if len(line) < 2:\n                __import__("time").sleep_ms(15)\n',
        "torture-answer",
    ),
}


def planted(fault):
    """A kind of virtual board with this fault on its flash."""
    name, old, new, _ = FAULTS[fault]
    return edited(f"twinloop/{name}", old, new)


@pytest.mark.parametrize("fault", FAULTS)
def test_a_planted_fault_fails_its_check_and_no_other(interpreter, monkeypatch, fault):
    expected = FAULTS[fault][3]
    plan = SILENT if expected == "torture-period" else SHORTER
    with planted(fault)(interpreter) as board:
        results = outcomes(board, monkeypatch, plan)
    assert failed(results) == {expected}, "\n".join(map(str, results.values()))


def test_a_bad_line_that_is_refused_is_found_too(interpreter, monkeypatch):
    """A bad line that is refused as a request changes no state; its answer gives it away."""

    def commits(free):
        return [calls.request(free, "settings.commit", [0, f"{number:08x}"])[:-1] for number in range(4)]

    monkeypatch.setattr(bad_lines, "requests", commits)
    monkeypatch.setattr(bombardment.Bombardment, "systematic", lambda run: run.volley("flipped bits", bad_lines.flips, every=1))
    with planted("a CRC in upper case will do")(interpreter) as board:
        results = outcomes(board, monkeypatch, SHORTER)
    assert failed(results) == {"torture-executed"}, "\n".join(map(str, results.values()))
    assert "flipped bits: answered a line without a good CRC" in results["torture-executed"].detail
