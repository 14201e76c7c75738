"""Settings committed over the link: what is written, how often, and what the station does then."""

from array import array

import pytest
from twinloop import changes
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.store import Store
from twinloop_hil.client import Client, RefusedError
from twinloop_hil.inprocess import InProcessBoard

SUNNY_MC = [60000, 30000, 35000, 55000, 40000, 20000, 30000, 48000, 20000, 15000]
QUICK = {cfg.DUMP_TRAVEL: 1000, cfg.MINIMUM_REST: 0}
HOUR_MS = 3_600_000


@pytest.fixture
def writes(monkeypatch):
    """The number of every write of settings and probes."""
    done = []

    def count(name):
        kept = getattr(Store, name)

        def counted(store, values):
            done.append(name)
            return kept(store, values)

        monkeypatch.setattr(Store, name, counted)

    count("save_settings")
    count("save_probes")
    return done


def start_difference(client, mk):
    return client.change_settings({cfg.START_DIFFERENCE: mk})


def test_what_changes_nothing_is_not_written(board, client, writes):
    """In service neither; the answer is that of a commit, and the running station goes on."""
    first = start_difference(client, 7000)
    client.call("commission")
    board.pass_time(2000)
    state = bytes(board.loop.state)
    for _ in range(50):
        assert start_difference(client, 7000) == first
        client.call("calibrate", s.COLLECTOR, 0)
    assert len(writes) == 1
    assert bytes(board.loop.state) == state
    with pytest.raises(RefusedError, match="nothing staged"):
        client.call("settings.commit", first, "00000000")


def test_defaults_are_stored_when_somebody_asks(board, client, writes):
    """On a fresh board nothing is stored: a commit of the defaults writes them."""
    assert start_difference(client, 8000) == 1
    assert start_difference(client, 8000) == 1
    assert len(writes) == 1


def asked_every(board, client, seconds, act, span_s):
    """How many of these calls are granted."""
    granted = 0
    for number in range(span_s // seconds):
        try:
            act(client, number)
            granted += 1
        except RefusedError as fault:
            assert "the flash would wear out: next in " in fault.text
        board.port.now_ms += 1000 * seconds
        board.loop.turn()
    return granted


ACTS = {
    "commit": lambda client, number: start_difference(client, 6000 + number),
    "calibrate": lambda client, number: client.call("calibrate", s.TANK_LOW, 1 + number),
}


@pytest.mark.parametrize("act", ACTS)
def test_in_service_the_flash_lasts_twenty_years(board, client, writes, act):
    """Asked twice a minute for a day: ten at once, then one in twenty minutes."""
    client.call("commission")
    granted = asked_every(board, client, 30, ACTS[act], 86_400)
    assert granted == len(writes)
    assert changes.WRITES_TOP <= granted <= changes.WRITES_TOP + 86_400 // changes.WRITE_EVERY_S
    years, erases_a_write, survives = 20, 2, 100 * 100_000
    a_day = 86_400 / changes.WRITE_EVERY_S
    assert a_day * 365.25 * years * erases_a_write < survives / 9


def test_a_refusal_says_when(board, client):
    """To the second, and then it is granted."""
    client.call("commission")
    for number in range(changes.WRITES_TOP):
        start_difference(client, 6000 + number)
    with pytest.raises(RefusedError, match="next in 1200 s$"):
        start_difference(client, 9000)
    assert board.loop.settings[cfg.START_DIFFERENCE] == 6009
    board.pass_time(1_199_000, turn_ms=1000)
    with pytest.raises(RefusedError, match="next in 1 s$"):
        start_difference(Client(board), 9000)
    board.pass_time(1000)
    start_difference(Client(board), 9000)


def test_on_the_bench_nothing_is_counted(board, client, writes):
    assert asked_every(board, client, 1, ACTS["commit"], 200) == len(writes) == 200


def test_without_the_limit_every_commit_is_written(board, client, writes, monkeypatch):
    """The negative."""
    monkeypatch.setattr(changes, "need_write", lambda desk: None)
    client.call("commission")
    assert asked_every(board, client, 30, ACTS["commit"], 6000) == len(writes) == 200


@pytest.fixture
def charging(board):
    """A client of a board that charges in service."""
    Client(board).change_settings({**QUICK, cfg.COLLECTOR_MINIMUM: 10000})
    board.port.values_mc = list(SUNNY_MC)
    Client(board).call("commission")
    board.pass_time(600_000, turn_ms=500)
    assert board.relays()[: s.ALARM] == (1, 1, 1)
    return Client(board)


def other_value(board, code):
    """Another accepted value of a setting, as near as there is."""
    row = cfg.TABLE[code]
    by = {"mC": 100, "mK": 100, "ms": 100}.get(row[1], 1)
    for value in (board.loop.settings[code] - by, board.loop.settings[code] + by):
        wanted = array("i", board.loop.settings)
        wanted[code] = value
        if cfg.broken_rule(wanted) == cfg.RULE_OK:
            return value
    raise AssertionError(f"{row[0]} cannot be changed")


@pytest.mark.parametrize("code", [code for code in range(cfg.SETTINGS) if code not in cfg.COLD_CODES])
def test_a_running_station_goes_on(board, charging, code):
    """Duty, timers and readings stay; no relay moves. Kept on flash, and in force."""
    before = bytes(board.loop.state)
    value = other_value(board, code)
    charging.change_settings({code: value})
    assert bytes(board.loop.state) == before
    board.pass_time(1000)
    assert board.relays()[: s.ALARM] == (1, 1, 1)
    assert board.loop.state[s.DUTY_MS] > 100_000
    again = InProcessBoard(board.loop.store.folder)
    assert board.loop.settings[code] == again.loop.settings[code] == value


@pytest.mark.parametrize("code", cfg.COLD_CODES)
def test_what_needs_it_starts_cold(board, charging, code):
    """Relays safe at once, the valve drives home, and every latch that forbids something is set."""
    charging.change_settings({code: other_value(board, code)})
    assert board.relays() == (0, 0, 0, 0, 0)
    assert board.loop.state[s.STAGNATION] == board.loop.state[s.TANK_OVER] == 1
    assert board.loop.state[s.COLLECTOR_STATUS] == s.LOST
    assert board.loop.state[s.VALVE_HOME_MS] == board.loop.settings[cfg.DUMP_TRAVEL]


def test_one_that_needs_it_is_enough(board, charging):
    charging.change_settings({cfg.START_DIFFERENCE: 7000, cfg.LOOP_VOLUME: 9000})
    assert board.relays() == (0, 0, 0, 0, 0)
