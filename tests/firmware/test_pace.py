"""No call stretches a control period by more than a tenth, however long flash and bus take."""

import builtins

import pytest
from twinloop import store as firmware_store
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.event_log import DUTY_CHANGED
from twinloop.fitting import LOG_PART
from twinloop.store import Store
from twinloop_hil.client import Client
from twinloop_hil.inprocess import InProcessBoard

# A flash erases a block of 4 KiB in 45 ms (at most 400 ms), and a small file costs up to three.
# source: W25Q16JV data sheet, sector erase time
WRITE_MS = 3 * 45
READ_MS = 10
# Nine chips: a search and a scratchpad of 1-Wire slots each.
SCAN_MS = 400
PERIOD_MS = 1000
CALLS = {
    "hello": lambda client: client.begin(),
    "status": lambda client: client.status(),
    "settings.get": lambda client: client.settings(),
    "settings.commit": lambda client: client.change_settings(
        {cfg.START_DIFFERENCE: client.settings()[0][cfg.START_DIFFERENCE] + 1}
    ),
    "identify": lambda client: client.call("identify", s.TAP, ""),
    "calibrate": lambda client: client.call("calibrate", s.TAP, client.probes()[s.TAP][1] + 1),
    "commission": lambda client: client.call("commission"),
    "scan": lambda client: client.call("scan"),
    "log": lambda client: client.call("log", 0),
    "self_check": lambda client: client.call("self_check"),
}


def slow(monkeypatch, board):
    """Let every write, read and scan take its time on the board's clock."""

    def taking(name, ms, holder):
        quick = getattr(holder, name)

        def act(*arguments):
            board.port.now_ms += ms
            return quick(*arguments)

        monkeypatch.setattr(holder, name, act)

    taking("fill", WRITE_MS, firmware_store)
    taking("read", READ_MS, Store)
    taking("scan", SCAN_MS, board.port)


def periods(board, client, call):
    """The times between steps while this call comes at every moment after one."""
    steps = []
    board.port.feed = lambda: steps.append(board.port.now_ms)

    def step():
        count = len(steps)
        while len(steps) == count:
            board.port.now_ms += 7
            board.loop.turn()

    for moment in range(0, PERIOD_MS, 37):
        step()
        board.port.now_ms += moment
        call(client)
        step()
    return [after - before for before, after in zip(steps, steps[1:], strict=False)]


@pytest.mark.parametrize("name", CALLS)
def test_no_call_stretches_a_period_by_more_than_a_tenth(board, client, monkeypatch, name):
    slow(monkeypatch, board)
    found = periods(board, client, CALLS[name])
    assert max(found) <= 1.1 * PERIOD_MS


def test_without_room_a_call_does(board, client, monkeypatch):
    """The negative."""
    slow(monkeypatch, board)
    monkeypatch.setattr(board.loop, "make_room", lambda: None)
    assert max(periods(board, client, CALLS["scan"])) > 1.3 * PERIOD_MS


class Reads:
    """Counts the files opened for reading and the bytes read."""

    def __init__(self, monkeypatch):
        self.files = self.bytes = 0
        opened = builtins.open

        def counting(name, mode="r", *rest, **named):
            file = opened(name, mode, *rest, **named)
            if mode == "rb":
                self.files += 1
                self.bytes += len(opened(name, "rb").read())
            return file

        monkeypatch.setattr(builtins, "open", counting)


# Files and bytes that one call may read.
MOST = {
    "hello": (0, 0),
    "status": (1, 100),
    "settings.get": (0, 0),
    "settings.commit": (2, 600),
    "identify": (2, 600),
    "calibrate": (2, 600),
    "commission": (2, 16),
    "scan": (0, 0),
    "log": (2, 6000),
    "self_check": (4, 1200),
}


@pytest.mark.parametrize("name", CALLS)
def test_what_a_call_reads_is_bounded(board, client, monkeypatch, name):
    """Above all hello, which once read every module for its hash."""
    for _ in range(10):
        for number in range(60):
            board.loop.log.note(DUTY_CHANGED, 1, number)
        board.loop.log.write(board.loop.store)
    reads = Reads(monkeypatch)
    CALLS[name](client)
    assert (reads.files, reads.bytes) <= MOST[name] and reads.bytes <= MOST[name][1]


def test_the_hash_is_taken_once_before_the_first_step(tmp_path, monkeypatch):
    counted = []
    kept = firmware_store.firmware_hash
    monkeypatch.setattr("twinloop.loop.firmware_hash", lambda folder: counted.append(folder) or kept(folder))
    board = InProcessBoard(f"{tmp_path}/")
    assert len(counted) == 1 and board.port.fed == 0
    for _ in range(5):
        assert Client(board).facts["firmware"] == kept(board.port.folder)
    assert len(counted) == 1


def test_a_part_of_the_log_unpacks_few_records(board, client, monkeypatch):
    """However long the log is, and however torn: one part looks at one part's bytes."""
    looked = []
    from twinloop import event_log

    kept = event_log.whole
    monkeypatch.setattr(event_log, "whole", lambda body, length: looked.append(1) or kept(body, length))
    for body in (b"", bytes(2999)):
        for name in ("log.a", "log.b"):
            (board.loop.store.write(board.loop.store.folder + name, body + bytes(range(200)) * 5)) if body else None
        answer = client.call("log", 0)
        for part in range(1, answer["parts"]):
            looked.clear()
            client.call("log", part)
            assert len(looked) <= LOG_PART
