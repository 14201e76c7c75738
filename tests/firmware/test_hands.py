"""Hands and upkeep: a timer each, told by hello, ended by commission, within the limits."""

import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.hands import Hands
from twinloop_hil.client import Client, RefusedError

QUICK = {cfg.DUMP_TRAVEL: 1000, cfg.MINIMUM_REST: 0}


@pytest.fixture
def ready(board):
    """A client of a board whose valve is home and whose sensors are trusted."""
    Client(board).change_settings(QUICK)
    board.pass_time(6000)
    return Client(board)


def duty(board):
    return board.loop.state[s.DUTY]


def test_hand_holds_one_output_for_a_time(board, ready):
    """A hand ends by itself after its time; 0 seconds releases it."""
    assert ready.call("hand", s.TANK_PUMP, 1, 5) == {"hands": [2, 2, 5], "upkeep": [0, 0]}
    board.pass_time(1000)
    assert (board.relays()[s.TANK_PUMP], duty(board)) == (1, s.HAND)
    board.pass_time(6000)
    assert (board.relays()[s.TANK_PUMP], duty(board) == s.HAND) == (0, False)
    ready.call("hand", s.TANK_PUMP, 1, 100)
    board.pass_time(1000)
    assert board.relays()[s.TANK_PUMP] == 1
    ready.call("hand", s.TANK_PUMP, 1, 0)
    board.pass_time(1000)
    assert board.relays()[s.TANK_PUMP] == 0


def test_a_hand_neither_stretches_nor_ends_maintenance(board, ready):
    """The longest hand and the shortest: maintenance lasts its own 900 s, to the second."""
    for seconds in (3600, 5, 0):
        ready.call("maintenance", 900)
        board.pass_time(1000)
        ready.call("hand", s.TANK_PUMP, 1, seconds)
        board.pass_time(898_000, turn_ms=500)
        assert duty(board) == s.MAINTENANCE and board.relays()[: s.ALARM] == (0, 0, 0)
        board.pass_time(3000)
        assert duty(board) != s.MAINTENANCE
        # The hand has its own time, and goes on if there is some left.
        assert board.relays()[s.TANK_PUMP] == (seconds == 3600)
        ready.call("hand", 0, 0, 0)
        board.pass_time(1000)


def test_upkeep_ends_by_its_own_call_only(board, ready):
    """0 seconds of another kind ends nothing, and no purge begins under maintenance."""
    ready.call("maintenance", 900)
    ready.call("purge", 0)
    ready.call("hand", 0, 0, 0)
    assert ready.status()["upkeep"] == [s.UPKEEP_MAINTENANCE, 900]
    with pytest.raises(RefusedError, match="under maintenance: end it first"):
        ready.call("purge", 100)
    assert ready.call("maintenance", 0)["upkeep"] == [s.UPKEEP_NONE, 0]
    assert ready.call("purge", 100)["upkeep"] == [s.UPKEEP_PURGE, 100]
    # Somebody begins to work: that ends purging and hands.
    ready.call("hand", s.TANK_PUMP, 1, 50)
    assert ready.call("maintenance", 10) == {"hands": [0, 0, 0], "upkeep": [s.UPKEEP_MAINTENANCE, 10]}


def test_hello_keeps_hands_and_tells_them(board, ready):
    """Somebody may look on: the answer names what is held, and for how long."""
    ready.call("hand", s.TANK_PUMP, 1, 60)
    board.pass_time(10_000)
    other = Client(board)
    assert (other.facts["hands"], other.facts["upkeep"]) == ([2, 2, 50], [s.UPKEEP_NONE, 0])
    board.pass_time(1000)
    assert board.relays()[s.TANK_PUMP] == 1
    # The new session is the one to end it.
    other.call("hand", 0, 0, 0)
    board.pass_time(1000)
    assert board.relays()[s.TANK_PUMP] == 0


def commissioned(board, client):
    """What is held once the board has gone into service with hands or upkeep under way."""
    held = []
    for call in (("hand", s.TANK_PUMP, 1, 60), ("purge", 60), ("maintenance", 60)):
        client.call(*call)
        client.call("commission")
        held.append(board.loop.desk.hands.facts())
        board.loop.desk.hands.mask, board.loop.desk.hands.upkeep = 0, s.UPKEEP_NONE
    return held


def test_a_board_goes_into_service_with_nothing_held(board, ready):
    assert commissioned(board, ready) == [{"hands": [0, 0, 0], "upkeep": [s.UPKEEP_NONE, 0]}] * 3


def test_without_it_hands_would_go_on(board, ready, monkeypatch):
    """The negative."""
    monkeypatch.setattr(Hands, "drop", lambda hands: None)
    assert all(held["hands"][0] or held["upkeep"][0] for held in commissioned(board, ready))


def test_in_service_hands_are_within_limits_and_timed(board, ready):
    """Maintenance, purging and hands still work there, each for its time only."""
    ready.call("commission")
    board.port.values_mc[s.COLLECTOR] = 130_000
    board.pass_time(8000)
    ready.call("hand", s.COLLECTOR_PUMP, 1, 3600)
    board.pass_time(3_602_000, turn_ms=1000)
    assert board.loop.state[s.STARTS + s.COLLECTOR_PUMP] == 0
    assert duty(board) != s.HAND


def test_maintenance_stops_everything_for_a_time(board, ready):
    ready.call("hand", s.TANK_PUMP, 1, 60)
    board.pass_time(1000)
    assert board.relays()[s.TANK_PUMP] == 1
    ready.call("maintenance", 10)
    board.pass_time(1000)
    assert board.relays()[: s.ALARM] == (0, 0, 0)
    assert duty(board) == s.MAINTENANCE
    board.pass_time(11_000)
    assert duty(board) != s.MAINTENANCE


@pytest.mark.parametrize("call", [("hand", 3, 1, 5), ("hand", 0, 2, 5), ("hand", 0, 1, 3601), ("maintenance", 901), ("purge", -1)])
def test_wrong_hands_are_refused(board, client, call):
    with pytest.raises(RefusedError):
        client.call(*call)
    assert board.loop.desk.hands.facts() == {"hands": [0, 0, 0], "upkeep": [s.UPKEEP_NONE, 0]}
