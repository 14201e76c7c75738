"""A station whose flash refuses to be written steps on, says so, and writes again when it can."""

import pytest
from twinloop import event_log
from twinloop.control import alarms
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_hil.board import actions
from twinloop_hil.client import Client, RefusedError
from twinloop_hil.inprocess import InProcessBoard

from .refusing import HOUR_MS, KINDS, MINUTE_MS, Flash, charging, pass_time


@pytest.fixture
def flash(monkeypatch):
    return Flash(monkeypatch)


def alarm(board):
    """Whether the station's alarm names the memory, and the contact follows."""
    told = bool(board.loop.state[s.ALARMS] & alarms.ALARM_MEMORY)
    assert board.relays()[s.ALARM] == int(board.loop.state[s.ALARMS] != 0)
    return told


@pytest.mark.parametrize("kind", ["open", "half", "close"])
def test_a_station_steps_on_without_memory(tmp_path, flash, kind):
    """It goes on charging; retries keep the log's pace, and the events are told when they can."""
    board = charging(f"{tmp_path}/")
    pass_time(board, MINUTE_MS)
    assert board.relays()[s.COLLECTOR_PUMP] == 1 and not alarm(board)
    flash.kind = kind
    fed, tries = board.port.fed, flash.tries
    pass_time(board, 2 * HOUR_MS)
    assert board.port.fed - fed == 7200
    assert board.relays()[s.COLLECTOR_PUMP] == 1
    assert alarm(board)
    # Log and meter, each at most every ten minutes.
    assert 8 <= flash.tries - tries <= 24
    assert board.loop.store.failures == flash.tries - tries
    assert Client(board).call("self_check")["flash_failures"] == board.loop.store.failures
    flash.kind = ""
    pass_time(board, 10 * MINUTE_MS)
    assert not alarm(board)
    pass_time(board, 10 * MINUTE_MS)
    told = [actions.event_text(*event[:3]) for event in actions.read_log(Client(board))]
    assert any("memory refuses to be written" in text for text in told)
    assert told.index("alarms: none") > 0
    again = InProcessBoard(board.loop.store.folder)
    assert again.loop.state[s.DUTY_S + s.CHARGING] > 7000


@pytest.mark.parametrize("watchdog", [False, True])
def test_it_starts_on_a_flash_that_refuses_everything(tmp_path, flash, watchdog):
    """Also where the start has to be counted; what is stored is in force."""
    Client(InProcessBoard(f"{tmp_path}/")).change_settings({cfg.START_DIFFERENCE: 9000})
    flash.kind = "open"
    for _ in range(5):
        board = InProcessBoard(f"{tmp_path}/", watchdog_reset=watchdog)
        board.pass_time(61000, turn_ms=1000)
        assert board.loop.settings[cfg.START_DIFFERENCE] == 9000
        assert board.loop.state[s.DUTY] != s.FAULT_STOP
        board.pass_time(2000)
        assert alarm(board)


def test_the_count_of_restarts_is_written_when_the_flash_can(tmp_path, flash):
    flash.kind = "open"
    board = InProcessBoard(f"{tmp_path}/", watchdog_reset=True)
    flash.kind = ""
    board.pass_time(2000)
    assert (board.loop.resets, board.loop.store.resets()) == (1, b"\0\0")
    board.loop.save_totals()
    assert board.loop.store.resets() == b"\1\0"


def test_a_fault_on_such_a_flash_ends_safe(board, flash):
    """The fault cannot be stored; the relays are safe and the chip restarts."""
    flash.kind = "open"

    def broken(inputs):
        raise RuntimeError("chip raised")

    board.port.read_sensors = broken
    board.port.now_ms += 1000
    with pytest.raises(Exception, match="^$"):
        board.loop.run()
    assert board.relays() == (0, 0, 0, 0, 0)


REFUSED_CALLS = (
    ("identify", s.TAP, "28aa010203040011"),
    ("calibrate", s.TAP, 300),
    ("commission",),
    ("prompt", 60),
)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("call", REFUSED_CALLS, ids=[call[0] for call in REFUSED_CALLS])
def test_a_call_that_cannot_be_stored_is_refused(board, client, flash, tmp_path, monkeypatch, call, kind):
    """One line that says why; nothing changes, neither here nor after a restart."""
    monkeypatch.chdir(tmp_path)
    client.call("calibrate", s.TAP, 100)
    before = client.probes()
    flash.kind = kind
    with pytest.raises(RefusedError, match="memory refuses to be written: nothing was changed"):
        client.call(*call)
    flash.kind = ""
    board.pass_time(2000)
    assert client.probes() == before
    assert board.loop.bench
    assert board.port.fitted[s.TAP] == (bytes(8), 100)
    assert not (tmp_path / "prompt").exists()
    again = InProcessBoard(f"{tmp_path}/")
    assert Client(again).probes() == before
    assert again.loop.bench


@pytest.mark.parametrize("kind", KINDS)
def test_settings_that_cannot_be_stored_are_refused(board, client, flash, tmp_path, kind):
    """The station keeps the old ones, tells the alarm, and takes them when they can be stored."""
    client.change_settings({cfg.START_DIFFERENCE: 9000})
    flash.kind = kind
    for _ in range(2):
        with pytest.raises(RefusedError, match="memory refuses to be written: nothing was changed"):
            client.change_settings({cfg.START_DIFFERENCE: 9500})
    flash.kind = ""
    assert client.settings()[0][cfg.START_DIFFERENCE] == board.loop.settings[cfg.START_DIFFERENCE] == 9000
    assert InProcessBoard(f"{tmp_path}/").loop.settings[cfg.START_DIFFERENCE] == 9000
    board.pass_time(2000)
    assert alarm(board)
    assert client.change_settings({cfg.START_DIFFERENCE: 9500}) == 2
    board.pass_time(2000)
    assert not alarm(board)
    assert InProcessBoard(f"{tmp_path}/").loop.settings[cfg.START_DIFFERENCE] == 9500


def test_a_full_memory_of_events_counts_what_it_drops(flash):
    """The oldest stay; the number of the others is told, however many there were."""
    events = event_log.EventLog()
    for number in range(event_log.ROOM + 40000):
        events.note(event_log.DUTY_CHANGED, 1, number)
    told = event_log.records(events.packed())
    assert [event[2] for event in told[: event_log.ROOM]] == list(range(event_log.ROOM))
    assert told[event_log.ROOM :] == [(event_log.DROPPED, 0, 0x7FFF, 0)]
