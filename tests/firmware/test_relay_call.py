"""The relay call: one relay, its contact, its lease; and the start of an injection."""

import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.desk import Desk
from twinloop.drivers.relays import WATCH_US, ReadBack
from twinloop_hil.client import Client, RefusedError
from twinloop_hil.inprocess import WRAP_MS, InProcessBoard

SUNNY_MC = [60000, 30000, 35000, 55000, 40000, 20000, 30000, 48000, 20000, 15000]


@pytest.mark.parametrize("output", range(s.OUTPUTS))
def test_one_relay_moves_and_every_other_is_let_go(board, client, output):
    board.port.drive((output + 1) % s.OUTPUTS, 1)
    answer = client.relay(output, 1)
    assert board.relays() == tuple(int(other == output) for other in range(s.OUTPUTS))
    assert answer == {"closed": -1, "first_us": -1, "last_us": -1, "edges": -1}
    board.port.now_ms += 200
    client.relay(output, 0)
    assert board.relays() == (0, 0, 0, 0, 0)


def test_the_station_moves_nothing_meanwhile(board, client):
    """Ten minutes of sun on the board's own sensors move no other relay."""
    board.port.values_mc = list(SUNNY_MC)
    for _ in range(60):
        client.relay(s.ALARM, 1, 20000)
        board.pass_time(10000)
        assert board.relays() == (0, 0, 0, 1, 0)
    assert board.loop.state[s.COMMAND + s.COLLECTOR_PUMP] == 1, "the station wants the pump"


def test_its_lease_ends_it_and_the_station_starts_cold(board, client):
    client.relay(s.TANK_PUMP, 1, 3500)
    board.pass_time(3500, turn_ms=50)
    assert board.relays()[s.TANK_PUMP] == 1
    board.pass_time(200, turn_ms=50)
    assert board.relays() == (0, 0, 0, 0, 0)
    assert board.loop.state[s.VALVE_HOME_MS] > 0


@pytest.mark.parametrize("end", ["release", "hello", "commission", "inject"])
def test_what_else_ends_it(board, client, end):
    client.relay(s.TANK_PUMP, 1, 30000)
    if end == "hello":
        Client(board)
    elif end == "inject":
        client.release()
        client.inject(SUNNY_MC)
    else:
        client.call(end)
    assert board.relays() == (0, 0, 0, 0, 0)
    assert not board.loop.desk.clicking


@pytest.mark.parametrize(
    ("params", "text"),
    [
        ((s.OUTPUTS, 1, 1000), "output has to be 0 to 4"),
        ((-1, 1, 1000), "output has to be 0 to 4"),
        ((0, 2, 1000), "on 0 or 1"),
        ((0, 1, 99), "lease_ms has to be 100 to 30000"),
        ((0, 1, 30001), "lease_ms has to be 100 to 30000"),
        ((0, 1), "takes 3 to 3 params"),
        ((0, "1", 1000), "integers"),
    ],
)
def test_wrong_params_move_nothing(board, client, params, text):
    with pytest.raises(RefusedError, match=text):
        client.call("relay", *params)
    assert board.relays() == (0, 0, 0, 0, 0)


def test_no_relay_no_move(board, client):
    """A board without the fan's relay says so, and moves none; so does a hand."""
    board.port.relay_count = s.AIR_FAN
    assert Client(board).facts["relays"] == s.AIR_FAN
    for method, params in (("relay", (s.AIR_FAN, 1, 1000)), ("hand", (s.AIR_FAN, 1, 60))):
        with pytest.raises(RefusedError, match=f"{method}: this board has no relay for air_fan"):
            Client(board).call(method, *params)
    assert board.relays() == (0, 0, 0, 0, 0)
    assert board.loop.desk.hands.mask == 0
    Client(board).call("relay", s.ALARM, 1, 1000)
    assert board.relays() == (0, 0, 0, 1, 0)


def test_not_in_service(board, client):
    client.call("commission")
    with pytest.raises(RefusedError, match="in service"):
        client.relay(0, 1)
    assert board.relays() == (0, 0, 0, 0, 0)


def test_not_while_readings_are_injected(board, client):
    client.inject(SUNNY_MC)
    with pytest.raises(RefusedError, match="release first"):
        client.relay(0, 1)


def test_not_faster_than_ten_times_a_second(board, client):
    """Switching on waits for the pause after any move; letting go never waits."""
    client.relay(0, 1)
    board.port.now_ms += 99
    with pytest.raises(RefusedError, match="less than 100 ms ago"):
        client.relay(1, 1)
    assert board.relays()[0] == 1
    client.relay(0, 1)
    board.port.now_ms += 1
    client.relay(1, 1)
    client.relay(1, 0)
    assert board.relays() == (0, 0, 0, 0, 0)


LET_GO = {
    "relay": lambda board, client: client.relay(s.TANK_PUMP, 0),
    "release": lambda board, client: client.release(),
    "inject": lambda board, client: (client.inject(SUNNY_MC), client.release()),
    "hello": lambda board, client: client.begin(),
    "its lease": lambda board, client: (setattr(board.loop.desk, "lease_ms", -1), board.loop.turn()),
}


def edges_of(board, client, let_go, span_ms=5000):
    """Edges of a relay in this time, while a host switches it on as often as it may."""
    edges, was = 0, 0
    for _ in range(span_ms):
        for act in (lambda: client.relay(s.TANK_PUMP, 1, 20000), lambda: LET_GO[let_go](board, client)):
            try:
                act()
            except RefusedError:
                assert board.relays()[s.TANK_PUMP] == 0
            edges += board.relays()[s.TANK_PUMP] != was
            was = board.relays()[s.TANK_PUMP]
        board.port.now_ms += 1
    return edges


@pytest.mark.parametrize("let_go", LET_GO)
def test_nothing_passes_by_the_pause(board, client, let_go):
    """Ten edges a second, whatever lets the relay go."""
    assert 40 <= edges_of(board, client, let_go) <= 51


def test_without_the_pause_there_are_thousands(board, client, monkeypatch):
    """The negative."""
    monkeypatch.setattr(Desk, "begin_pause", lambda desk: None)
    assert edges_of(board, client, "release") > 5000


def test_the_station_keeps_the_pause_too(board, client):
    """A step right after a relay was let go energises nothing; the next one may."""
    client.change_settings({cfg.DUMP_TRAVEL: 1000})
    board.pass_time(6000)
    client.call("hand", s.DUMP_VALVE_POWER, 1, 60)
    board.pass_time(1000)
    assert board.relays()[s.DUMP_VALVE_POWER] == 1
    board.pass_time(900)
    client.relay(s.DUMP_VALVE_POWER, 1)
    board.port.now_ms += 50
    client.release()
    board.port.now_ms += 50
    board.loop.turn()
    assert board.loop.state[s.COMMAND + s.DUMP_VALVE_POWER] == 1 and board.relays()[s.DUMP_VALVE_POWER] == 0
    board.pass_time(1000)
    assert board.relays()[s.DUMP_VALVE_POWER] == 1


@pytest.mark.parametrize("days", [*range(0, 38, 3)])
def test_an_old_tick_bars_nothing(tmp_path, days):
    """Three wraps of the clock after a click, an injection or a lease, the desk is at rest."""
    board = InProcessBoard(f"{tmp_path}/", start_ms=WRAP_MS - 5000)
    board.port.period_ms = 60000
    client = Client(board)
    client.inject(SUNNY_MC)
    client.release()
    client.relay(s.TANK_PUMP, 1)
    client.release()
    board.pass_time(200)
    board.pass_time(days * 86_400_000, turn_ms=7_200_000)
    desk = board.loop.desk
    assert not desk.pausing() and desk.steps_itself()
    client.relay(s.TANK_PUMP, 1)
    assert board.relays()[s.TANK_PUMP] == 1


@pytest.mark.parametrize("days", [*range(0, 38, 3)])
def test_a_long_injection_keeps_stepping(tmp_path, days):
    """A host that injects for weeks in real time: the station never takes that for lock step."""
    board = InProcessBoard(f"{tmp_path}/")
    client = Client(board)
    client.inject(SUNNY_MC)
    board.pass_time(2000)
    board.loop.desk.lease_ms = 1 << 40
    for _ in range(12 * days):
        board.port.now_ms += 7_200_000
        board.loop.desk.renewed = board.port.ticks_ms()
        board.loop.turn()
    assert board.loop.desk.injecting and board.loop.desk.steps_itself()


class Contact:
    """An input that changes its level at given times."""

    def __init__(self, clock, *moves):
        self.clock = clock
        self.moves = moves

    def value(self):
        """The level now; each look takes ten microseconds."""
        self.clock["us"] += 10
        level = 1
        for at_us, then in self.moves:
            if self.clock["us"] >= at_us:
                level = then
        return level


def watched(*moves):
    """What the call reports of a contact with these moves."""
    clock = {"us": 0}
    back = ReadBack([Contact(clock, *moves)], lambda: clock["us"], lambda later, earlier: later - earlier)
    back.watch(0, 1)
    assert WATCH_US <= clock["us"] <= WATCH_US + 20
    return back


def test_a_contact_is_watched_until_it_rests():
    back = watched((7000, 0), (7300, 1), (7900, 0))
    assert (back.first_us, back.last_us, back.edges) == (pytest.approx(7000, abs=20), pytest.approx(7900, abs=20), 3)
    assert back.closed() == 1


def test_a_contact_that_does_not_move_is_told():
    back = watched()
    assert (back.first_us, back.last_us, back.edges, back.closed()) == (-1, -1, 0, 0)


def test_an_injection_has_a_period_to_go_into_lock_step(board, client):
    """A host may take a period before its first step; the station waits."""
    client.inject(SUNNY_MC)
    fed = board.port.fed
    board.pass_time(900)
    assert board.loop.state[s.DUTY_MS] == 0
    commands, duty, _, _ = client.advance(1000, SUNNY_MC)
    assert duty == s.FAULT_STOP and not any(commands)
    client.release()
    client.inject(SUNNY_MC)
    board.pass_time(3000)
    assert board.loop.state[s.DUTY_MS] > 0, "without steps from the host it runs by itself"
    assert board.port.fed >= fed + 3


def test_an_injection_begins_with_a_new_meter_and_gives_the_old_one_back(board, client):
    board.loop.state[s.STARTS] = 77
    client.inject(SUNNY_MC)
    assert board.loop.state[s.STARTS] == 0
    client.advance(1000, SUNNY_MC)
    client.release()
    assert board.loop.state[s.STARTS] == 77
