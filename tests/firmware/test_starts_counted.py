"""Which starts count, how long the station rests after three, and what flash remembers of them."""

import pytest
from twinloop.control import reasons as why
from twinloop.control import state as s
from twinloop.loop import Loop
from twinloop_hil.client import Client
from twinloop_hil.inprocess import InProcessBoard, ResetRequestedError

from .test_loop import SUNNY_MC, lock_step_until_pump


def test_three_resets_within_an_hour_are_a_fault_stop(tmp_path):
    """The count survives restarts; after an hour of rest a try, and a sound hour clears it."""
    for count in (1, 2, 3):
        board = InProcessBoard(f"{tmp_path}/", watchdog_reset=True)
        assert board.loop.resets == count
    board.pass_time(2000)
    assert board.loop.state[s.DUTY] == s.FAULT_STOP
    shine(board)
    board.pass_time(3_590_000, turn_ms=500)
    assert board.loop.state[s.DUTY] == s.FAULT_STOP
    board.pass_time(400_000, turn_ms=500)
    assert board.relays()[s.COLLECTOR_PUMP] == 1
    assert board.loop.store.resets() == b"\3\1"
    board.pass_time(3_600_000, turn_ms=500)
    assert InProcessBoard(f"{tmp_path}/", watchdog_reset=True).loop.resets == 1


def test_resets_are_not_forgotten_at_power_on(tmp_path):
    """Nor does a watchdog that bites on and on make the rest longer, if nothing has moved."""
    for count in (1, 2, 3, 3, 3):
        assert InProcessBoard(f"{tmp_path}/", watchdog_reset=True).loop.resets == count
    board = InProcessBoard(f"{tmp_path}/")
    board.pass_time(2000)
    assert board.loop.state[s.REASON] == why.RESET_STORM
    assert board.loop.due_s == 3600


def sunny(folder, watchdog_reset=False):
    """A board in the sun, with a long control period, for days of real time."""
    board = InProcessBoard(folder, watchdog_reset=watchdog_reset)
    board.port.period_ms = 10000
    shine(board)
    return board


def shine(board):
    """Let the sun shine on sensors that are alive: none stands still."""
    read = board.port.read_sensors

    def waver(inputs):
        board.port.values_mc = [value + 63 * (board.port.now_ms // 10000 % 2) for value in SUNNY_MC]
        read(inputs)

    board.port.read_sensors = waver


def pump_starts(folder, hours, lost, watchdog_reset=False):
    """When the pump started, in s, and the last board; `lost(s since start, pump)`: no power."""
    starts, since_s, ran = [], 0, 0
    board = sunny(folder)
    for step in range(360 * hours):
        board.pass_time(10000, turn_ms=10000)
        since_s += 10
        runs = board.relays()[s.COLLECTOR_PUMP]
        if runs > ran:
            starts.append(10 * step)
        ran = runs
        if lost(since_s, runs):
            board = sunny(folder, watchdog_reset)
            since_s = ran = 0
    return starts, board


def sags(since_s, pump):
    """A supply that breaks down when the pump starts."""
    return pump


@pytest.mark.parametrize("watchdog_reset", [False, True])
def test_a_supply_that_sags_wears_no_relay(tmp_path, watchdog_reset):
    """Three starts, then one after an hour, two and four: ten in the first day, six in the next."""
    starts, board = pump_starts(f"{tmp_path}/", 48, sags, watchdog_reset)
    rests_h = [round((after - before) / 3600, 1) for before, after in zip(starts, starts[1:], strict=False)]
    assert rests_h[:8] == [0.0, 0.0, 1.0, 2.0, 4.0, 4.0, 4.0, 4.0]
    assert sum(start < 86400 for start in starts) <= 10
    assert sum(start >= 86400 for start in starts) <= 6
    assert board.loop.state[s.REASON] == why.RESET_STORM
    assert board.loop.state[s.ALARM_ON] == 1


def test_without_a_note_on_flash_it_would_rattle_all_day(tmp_path, monkeypatch):
    """The negative: a start every few minutes."""
    monkeypatch.setattr(Loop, "note_move", lambda loop: None)
    assert len(pump_starts(f"{tmp_path}/", 24, sags)[0]) > 300


def test_a_power_that_comes_and_goes_rests_the_pump(tmp_path):
    """Loss every 190 s for nine hours; when that is over, the station works again in an hour."""
    starts, board = pump_starts(f"{tmp_path}/", 9, lambda since_s, pump: since_s == 190)
    assert len(starts) == 3
    assert board.loop.state[s.REASON] == why.RESET_STORM
    board.pass_time(3_900_000, turn_ms=10000)
    assert board.relays()[s.COLLECTOR_PUMP] == 1
    board.pass_time(3_600_000, turn_ms=10000)
    assert (board.loop.resets, board.loop.store.resets()) == (0, b"\0\0")


def test_one_power_cut_at_noon_costs_minutes(tmp_path):
    """A run of more than an hour is sound; a cut in the first hour counts, and stops nothing."""
    board = sunny(f"{tmp_path}/")
    for hours, count in ((2, 0), (0.5, 1), (0.5, 2)):
        board.pass_time(int(hours * 3_600_000), turn_ms=10000)
        assert board.relays()[s.COLLECTOR_PUMP] == 1
        board = sunny(f"{tmp_path}/")
        assert board.loop.resets == count
    board.pass_time(190000, turn_ms=10000)
    assert board.relays()[s.COLLECTOR_PUMP] == 1


def test_a_night_without_power_counts_nothing(tmp_path):
    """Nothing has moved, so nothing has worn."""
    for _ in range(9):
        board = InProcessBoard(f"{tmp_path}/")
        board.pass_time(600_000, turn_ms=1000)
        assert (board.loop.resets, board.loop.moved) == (0, 0)


def test_what_hands_move_counts_as_well(tmp_path):
    """A hand that holds a pump on over a supply that sags."""
    for count in range(3):
        board = InProcessBoard(f"{tmp_path}/")
        assert board.loop.resets == count
        Client(board).call("hand", s.TANK_PUMP, 1, 600)
        board.pass_time(5000)
        assert board.relays()[s.TANK_PUMP] == 1


def test_injected_readings_count_nothing(tmp_path):
    """Nothing injected reaches the flash."""
    board = InProcessBoard(f"{tmp_path}/")
    lock_step_until_pump(board, Client(board))
    assert (board.loop.moved, board.loop.store.resets()) == (0, b"\0\0")


def test_planned_restarts_are_not_counted(tmp_path, monkeypatch):
    """Any number of prompts in an hour; a restart that nobody planned counts, also right after."""
    monkeypatch.chdir(tmp_path)
    folder = f"{tmp_path}/"
    board = InProcessBoard(folder)
    for _ in range(4):
        with pytest.raises(ResetRequestedError):
            Client(board).call("prompt", 60)
        board = InProcessBoard(folder, watchdog_reset=True)
        assert (board.loop.resets, board.loop.store.resets()) == (0, b"\0\0")
    for count in (1, 2):
        board = InProcessBoard(folder, watchdog_reset=True)
        assert board.loop.resets == count
        with pytest.raises(ResetRequestedError):
            Client(board).call("prompt", 60)
        board = InProcessBoard(folder, watchdog_reset=True)
        assert board.loop.resets == count
    board = InProcessBoard(folder, watchdog_reset=True)
    board.pass_time(2000)
    assert (board.loop.resets, board.loop.state[s.DUTY]) == (3, s.FAULT_STOP)


def test_a_mark_that_cannot_be_taken_away_forgives_nothing(tmp_path, monkeypatch):
    """Else every restart from then on would pass for a planned one."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "planned").mkdir()
    for count in (1, 2, 3):
        assert InProcessBoard(f"{tmp_path}/", watchdog_reset=True).loop.resets == count
