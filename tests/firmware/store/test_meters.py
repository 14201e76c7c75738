"""The meter outlives power cuts and other versions, takes nothing injected, and wears no flash."""

from array import array

import pytest
from twinloop import store as store_module
from twinloop.control import state as s
from twinloop.store import METER_COPIES, Store, sealed
from twinloop_hil.board import actions
from twinloop_hil.client import Client
from twinloop_hil.inprocess import InProcessBoard, ResetRequestedError

from .refusing import HOUR_MS, MINUTE_MS, SUNNY_MC, charging, pass_time

KEPT = [*range(s.ON_S, s.HEAT_J), s.SINCE_HOT_S]


def totals(board):
    return [board.loop.state[index] for index in KEPT]


def test_at_most_an_hour_is_lost(tmp_path):
    """A cut at any minute: the next start goes on from at most an hour before."""
    folder = f"{tmp_path}/"
    board = charging(folder)
    # What each save found, which may come at any second.
    saved = [(0, [0] * len(KEPT))]
    save = board.loop.store.save_meter
    board.loop.store.save_meter = lambda meter: saved.append((board.loop.uptime_s, totals(board))) or save(meter)
    for minute in range(150):
        pass_time(board, MINUTE_MS)
        found = totals(InProcessBoard(folder))
        assert found == saved[-1][1]
        assert 60 * minute + 60 - saved[-1][0] <= 3600
    assert found[0] > 7000 and found[s.HEAT_WH - s.ON_S] > 1000 and found[s.STARTS - s.ON_S] >= 1
    again = InProcessBoard(folder)
    pass_time(again, 10 * MINUTE_MS)
    assert all(now >= was for now, was in zip(totals(again), found, strict=True))
    assert again.loop.state[s.DUTY_S + s.IDLE] > found[s.DUTY_S + s.IDLE - s.ON_S]


def test_a_planned_restart_loses_nothing(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    board = charging(f"{tmp_path}/")
    pass_time(board, 5 * MINUTE_MS)
    with pytest.raises(ResetRequestedError):
        Client(board).call("prompt", 60)
    assert totals(InProcessBoard(f"{tmp_path}/")) == totals(board)
    assert sum(totals(board)) > 300


def test_nothing_injected_is_kept(tmp_path):
    """An hour in lock step is saved as if it had not been: neither on flash nor told."""
    board = charging(f"{tmp_path}/")
    pass_time(board, HOUR_MS)
    own = totals(board)
    client = Client(board)
    told = client.call("meter")
    client.inject(SUNNY_MC, lease_ms=30000)
    for _ in range(400):
        client.advance(60000, SUNNY_MC)
        board.pass_time(10000, turn_ms=1000)
    assert totals(board) != own
    assert board.loop.totals_due_s > 7200
    assert client.call("meter") == told
    assert totals(InProcessBoard(f"{tmp_path}/")) == own
    client.release()
    assert totals(board) == own


def test_the_link_and_status_tell_it(tmp_path):
    """Seconds, starts and watt hours in one answer; hours, starts and kWh for a person."""
    board = charging(f"{tmp_path}/")
    pass_time(board, HOUR_MS)
    client = Client(board)
    told = client.call("meter")
    state = board.loop.state
    assert told["on_s"] == list(state[s.ON_S : s.ON_S + s.OUTPUTS])
    assert told["starts"] == list(state[s.STARTS : s.STARTS + s.OUTPUTS])
    assert told["duty_s"] == list(state[s.DUTY_S : s.DUTY_S + s.DUTIES])
    singles = ("stagnation_s", "heat_wh", "dumped_wh", "since_hot_s", "filter_s")
    assert [told[name] for name in singles] == [
        state[k] for k in (s.STAGNATION_S, s.HEAT_WH, s.DUMPED_WH, s.SINCE_HOT_S, s.FILTER_S)
    ]
    meter = actions.read_meter(client)
    assert meter["run_hours"]["collector_pump"] == told["on_s"][s.COLLECTOR_PUMP] / 3600 > 0.9
    assert meter["charged_kwh"] == told["heat_wh"] / 1000 > 1.0
    lines = "\n".join(actions.meter_lines(meter))
    assert f"collector_pump 1.0 h, starts: {meter['starts']['collector_pump']}" in lines
    assert f"{meter['charged_kwh']:.1f} kWh charged" in lines


def test_the_longest_answer_is_a_usual_one(board, client):
    """With every total at its highest it is no longer than the answer of status can be."""
    for index in KEPT:
        board.loop.state[index] = (1 << 30) - 1
    lengths = {}
    for method in ("meter", "status"):
        board.port.outgoing.clear()
        kept, board.port.write = board.port.write, lambda line: lengths.update({method: len(line)}) or kept(line)  # noqa: B023
        client.call(method)
        board.port.write = kept
    assert lengths["meter"] <= lengths["status"] < 640


def test_totals_come_through_another_version(tmp_path, monkeypatch):
    """More outputs, duties and groups, then this version, then more again: no total is lost."""
    folder = f"{tmp_path}/"
    with monkeypatch.context() as later:
        more = ((1, s.ON_S, s.OUTPUTS + 1), (3, s.DUTY_S, s.DUTIES + 1), (9, s.HOT_MS, 1))
        later.setattr(store_module, "TOTALS", more)
        state = array("i", range(1000, 1000 + s.STATE))
        assert Store(folder).save_meter(state[s.METER_MS :])
    store, now = Store(folder), array("i", [0] * s.STATE)
    store.load_meter(now)
    assert list(now[s.ON_S : s.ON_S + s.OUTPUTS]) == list(state[s.ON_S : s.ON_S + s.OUTPUTS])
    assert list(now[s.DUTY_S : s.DUTY_S + s.DUTIES]) == list(state[s.DUTY_S : s.DUTY_S + s.DUTIES])
    assert now[s.HEAT_WH] == 0
    now[s.ON_S] += 5
    now[s.HEAT_WH] = 77
    assert store.save_meter(now[s.METER_MS :])
    with monkeypatch.context() as later:
        later.setattr(store_module, "TOTALS", more)
        again = array("i", [0] * s.STATE)
        Store(folder).load_meter(again)
        assert again[s.ON_S] == state[s.ON_S] + 5
        assert again[s.ON_S + s.OUTPUTS] == state[s.ON_S + s.OUTPUTS]
        assert again[s.DUTY_S + s.DUTIES] == state[s.DUTY_S + s.DUTIES]
        assert again[s.HOT_MS] == state[s.HOT_MS]
    back = array("i", [0] * s.STATE)
    Store(folder).load_meter(back)
    assert back[s.HEAT_WH] == 77


@pytest.mark.parametrize("content", [b"\x01", b"\x01\x04\x00\x00", b"\xff\xff\x01", b"\x01\x00\x03\x02\x05\x00\x00\x00"])
def test_an_odd_content_with_a_good_crc_starts(tmp_path, content):
    """It is no copy of ours; what can be read of it is, and the station steps."""
    (tmp_path / METER_COPIES[1]).write_bytes(sealed(b"\x01\x00\x00\x00" + content))
    board = InProcessBoard(f"{tmp_path}/")
    pass_time(board, HOUR_MS)
    assert sum(InProcessBoard(f"{tmp_path}/").loop.state[s.DUTY_S : s.DUTY_S + s.DUTIES]) >= 3590


def test_the_worst_day_stays_within_the_wear_budget(tmp_path):
    """Alarms come and go in every step, after a counted restart: log 144, meter 24, count 2.

    A hand moves a pump half an hour after the start.
    """
    board = InProcessBoard(f"{tmp_path}/", watchdog_reset=True)
    board.port.period_ms = 10000
    written = {}
    change = board.loop.store.change

    def count(work, path, *rest):
        name = path.split("/")[-1].split(".")[0]
        written[name] = written.get(name, 0) + 1
        return change(work, path, *rest)

    board.loop.store.change = count
    for step in range(24 * 360):
        if step == 180:
            Client(board).call("hand", s.TANK_PUMP, 1, 60)
        board.loop.store.failing = step % 2
        board.pass_time(10000, turn_ms=10000)
    # Filling the log's first file takes a rename more; the count is written beside and renamed.
    assert 140 <= written["log"] <= 144 + 144 * 64 * 12 // 3000 + 1
    assert written["meter"] == 24
    assert written["resets"] == 2 * 2
    assert set(written) == {"log", "meter", "resets"}
