"""The loop with its link, injection, leases and store, in this process on a set clock."""

import pytest
from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.link import calls, frames
from twinloop_hil.client import Client, LinkError, RefusedError, readings_listed
from twinloop_hil.inprocess import WRAP_MS, InProcessBoard, ResetRequestedError

SUNNY_MC = [60000, 30000, 35000, 55000, 40000, 20000, 30000, 48000, 20000, 15000]
QUICK = {cfg.DUMP_TRAVEL: 1000, cfg.MINIMUM_REST: 0}


def run_until_pump(board):
    """Let the sun shine on the board's own sensors until a relay is on."""
    Client(board).change_settings(QUICK)
    board.port.values_mc = list(SUNNY_MC)
    board.pass_time(20000)
    assert board.relays()[s.COLLECTOR_PUMP] == 1


def test_steps_in_real_time(board):
    board.pass_time(10000, turn_ms=50)
    assert board.port.fed == 10


def test_relays_follow_own_sensors(board):
    run_until_pump(board)


def test_relays_fall_without_a_step(board):
    """A loop that stops renewing the lease loses its relays, on the port's own clock."""
    run_until_pump(board)
    board.port.now_ms += 3001
    board.port.tend()
    assert board.relays() == (0, 0, 0, 0, 0)
    assert board.port.relays.expired == 1


def test_exception_in_a_step_ends_safe(board):
    """Relays off, the fault stored, then a restart that counts."""
    run_until_pump(board)

    def broken(inputs):
        raise RuntimeError("chip raised")

    board.port.read_sensors = broken
    board.port.now_ms += 1000
    with pytest.raises(ResetRequestedError):
        board.loop.run()
    assert board.relays() == (0, 0, 0, 0, 0)
    assert "chip raised" in board.loop.store.fault()


def test_a_clock_that_wraps_changes_nothing(tmp_path):
    traces = []
    for start_ms in (0, WRAP_MS - 30000):
        folder = tmp_path / str(start_ms)
        folder.mkdir()
        board = InProcessBoard(f"{folder}/", start_ms=start_ms)
        board.port.values_mc = list(SUNNY_MC)
        rows = []
        for _ in range(600):
            board.pass_time(1000)
            rows.append(bytes(board.loop.state))
        traces.append((rows, board.loop.uptime_s, board.port.fed))
    assert traces[0] == traces[1]


def test_injection_starts_cold_and_moves_no_relay(board):
    """Relays outside the mask stay safe; by default the mask is empty."""
    run_until_pump(board)
    client = Client(board)
    client.inject(SUNNY_MC)
    assert board.relays() == (0, 0, 0, 0, 0)
    assert board.loop.state[s.COLLECTOR_STATUS] == s.LOST
    for _ in range(100):
        commands = client.advance(5000, SUNNY_MC)[0]
    assert commands[s.COLLECTOR_PUMP] == 1
    assert board.relays() == (0, 0, 0, 0, 0)


def test_masked_relays_move_at_most_once_in_two_seconds(board, client):
    """A fast host cannot rattle a real relay."""
    client.inject(SUNNY_MC, mask=7)
    for _ in range(100):
        client.advance(5000, SUNNY_MC)
    assert board.relays() == (0, 0, 0, 0, 0)
    board.port.now_ms += 2000
    client.advance(100, SUNNY_MC)
    assert board.relays()[s.COLLECTOR_PUMP] == 1


def test_letting_go_is_always_allowed(board, client):
    client.inject(SUNNY_MC, mask=7)
    board.port.now_ms += 2000
    # Forty steps: the valve is home and the glycol still goes round.
    for _ in range(40):
        client.advance(5000, SUNNY_MC)
    assert board.relays()[s.COLLECTOR_PUMP] == 1
    for _ in range(30):
        client.advance(5000, SUNNY_MC, [s.CAUSE_OPEN] + [0] * (s.SENSORS - 1))
    assert board.relays() == (0, 0, 0, 0, 0)


def lock_step_until_pump(board, client):
    """Inject in lock step with every relay in the mask until the collector pump's relay is on."""
    client.inject(SUNNY_MC, lease_ms=30000, mask=15)
    board.pass_time(2000)
    for _ in range(40):
        client.advance(5000, SUNNY_MC)
    assert board.relays()[s.COLLECTOR_PUMP] == 1


def test_a_relay_follows_its_command_again_after_a_host_has_paused(board, client):
    """The pause lets every relay go; it may be on again two seconds after that."""
    lock_step_until_pump(board, client)
    board.pass_time(3000)
    assert board.relays()[s.COLLECTOR_PUMP] == 1, "the lease of the relays is three seconds"
    board.pass_time(100)
    assert board.relays() == (0, 0, 0, 0, 0)
    board.pass_time(1900)
    assert client.advance(1000, SUNNY_MC)[0][s.COLLECTOR_PUMP] == 1
    assert board.relays() == (0, 0, 0, 0, 0), "its relay has moved less than two seconds ago"
    board.pass_time(100)
    commands = client.advance(1000, SUNNY_MC)[0]
    assert commands[s.COLLECTOR_PUMP] == 1
    assert board.relays() == tuple(commands)


def test_a_relay_that_leaves_the_mask_is_let_go_at_the_next_step(board, client):
    lock_step_until_pump(board, client)
    client.call("inject", 30000, 0, SUNNY_MC, [])
    assert client.advance(1000, SUNNY_MC)[0][s.COLLECTOR_PUMP] == 1
    assert board.relays() == (0, 0, 0, 0, 0)


def test_no_relay_of_an_injection_moves_right_after_the_station_let_it_go(board):
    """The injection's cold start is an edge as well."""
    run_until_pump(board)
    client = Client(board)
    client.inject(SUNNY_MC, lease_ms=30000, mask=15)
    for _ in range(40):
        commands = client.advance(5000, SUNNY_MC)[0]
    assert commands[s.COLLECTOR_PUMP] == 1
    assert board.relays() == (0, 0, 0, 0, 0)
    board.pass_time(2000)
    client.advance(1000, SUNNY_MC)
    assert board.relays()[s.COLLECTOR_PUMP] == 1


def test_the_station_drives_what_it_commands_after_its_lease_has_lapsed(board):
    """Each step drives every relay, whatever the bank has done since the last one."""
    run_until_pump(board)
    board.port.now_ms += 3100
    board.port.tend()
    assert board.relays() == (0, 0, 0, 0, 0)
    board.pass_time(1000)
    assert board.relays() == tuple(board.loop.state[s.COMMAND : s.COMMAND + s.OUTPUTS])
    assert board.relays()[s.COLLECTOR_PUMP] == 1
    assert board.port.astray() == -1


def test_injection_ends_with_its_lease(board, client):
    """A silent host loses its injection, and the meter keeps nothing of it."""
    board.pass_time(5000)
    meter = list(board.loop.state[s.ON_S : s.DUTY_S])
    client.inject(SUNNY_MC, lease_ms=2000, mask=7)
    board.port.now_ms += 1999
    for _ in range(100):
        client.advance(5000, SUNNY_MC)
    board.pass_time(1900)
    assert client.status()["injecting"] == 1
    board.pass_time(300)
    assert client.status()["injecting"] == 0
    assert board.relays() == (0, 0, 0, 0, 0)
    assert list(board.loop.state[s.ON_S : s.DUTY_S]) == meter
    assert board.loop.state[s.COLLECTOR_STATUS] == s.LOST


def test_status_does_not_renew_the_lease(board, client):
    """Only the owner's inject and advance renew it."""
    client.inject(SUNNY_MC, lease_ms=2000)
    for _ in range(25):
        board.pass_time(100)
        client.status()
    assert client.status()["injecting"] == 0


def test_a_new_session_ends_what_an_older_one_held(board, client):
    """Another host's hello ends the injection and makes the older host's ids foreign."""
    client.inject(SUNNY_MC)
    other = Client(board)
    assert other.status()["injecting"] == 0
    with pytest.raises(LinkError, match="another host"):
        client.status()


def test_a_typed_hello_disturbs_nobody(board, client):
    """The bare word identifies the board without opening a session."""
    client.inject(SUNNY_MC)
    board.write(b"hello\n")
    board.read()
    assert client.status()["injecting"] == 1


def test_advance_is_numbered(client):
    client.inject(SUNNY_MC)
    client.advance(5000, SUNNY_MC)
    for number in (0, 1, 3):
        with pytest.raises(RefusedError, match="next step is 2"):
            client.call("advance", number, 5000, SUNNY_MC, [])
    assert client.call("advance", 2, 5000, SUNNY_MC, [])[0] == 2


def test_no_causes_are_good_readings(board, client):
    """A sensor that has no cause reads well, also after a step with one."""
    client.inject(SUNNY_MC)
    client.call("advance", 1, 5000, SUNNY_MC, [s.TAP, s.CAUSE_SILENT, s.ROOM, s.CAUSE_OPEN])
    causes = board.loop.desk.causes
    assert (causes[s.TAP], causes[s.ROOM]) == (s.CAUSE_SILENT, s.CAUSE_OPEN)
    assert sum(causes) == s.CAUSE_SILENT + s.CAUSE_OPEN
    client.call("advance", 2, 5000, SUNNY_MC, [])
    assert list(board.loop.desk.causes) == [s.CAUSE_NONE] * s.SENSORS
    assert list(board.loop.inputs[s.IN_RAW_CAUSE : s.IN_RAW_CAUSE + s.SENSORS]) == [s.CAUSE_NONE] * s.SENSORS


def test_lock_step_stops_the_clock_of_the_station(board, client):
    """Between advances the station takes no step, but feeds the watchdog."""
    client.inject(SUNNY_MC, lease_ms=30000)
    client.advance(5000, SUNNY_MC)
    before = bytes(board.loop.state)
    fed = board.port.fed
    board.pass_time(10000)
    assert bytes(board.loop.state) == before
    assert board.port.fed == fed + 10


def test_injection_without_advance_runs_in_real_time(board, client):
    client.inject(SUNNY_MC, lease_ms=30000)
    board.pass_time(5000)
    assert client.status()["mc"][s.COLLECTOR] == SUNNY_MC[s.COLLECTOR]


@pytest.mark.parametrize(
    ("method", "params"),
    [
        ("inject", [99, 0, SUNNY_MC, []]),
        ("inject", [30001, 0, SUNNY_MC, []]),
        ("inject", [5000, 1 << s.OUTPUTS, SUNNY_MC, []]),
        ("inject", [5000, 0, SUNNY_MC[:7], []]),
        ("inject", [5000, 0, SUNNY_MC]),
        ("inject", [5000, 0, SUNNY_MC, [0]]),
        ("inject", [5000, 0, SUNNY_MC, ""]),
        ("inject", [5000, 0, SUNNY_MC, [s.SENSORS, s.CAUSE_OPEN]]),
        ("inject", [5000, 0, SUNNY_MC, [-1, s.CAUSE_OPEN]]),
        ("inject", [5000, 0, SUNNY_MC, [s.TAP, s.CAUSE_NOT_READY + 1]]),
        ("inject", [5000, 0, SUNNY_MC, [s.TAP, s.CAUSE_OPEN] * (s.SENSORS + 1)]),
        ("inject", [5000, 0, SUNNY_MC, [s.TAP, "1"]]),
        ("advance", [1, 0, SUNNY_MC, []]),
        ("advance", [1, 5000, SUNNY_MC, 0]),
        ("advance", [1, 5000, [], []]),
        ("advance", [1, 60001, SUNNY_MC, []]),
        ("settings.get", [9]),
        ("settings.get", []),
        ("settings.stage", [0, 0]),
        ("settings.stage", [0, 99, 1]),
        ("settings.stage", [5, 0, 8000]),
        ("settings.commit", [0, "00000000"]),
        ("settings.commit", [0, 0]),
    ],
)
def test_wrong_params_change_nothing(board, client, method, params):
    if method == "advance":
        client.inject(SUNNY_MC)
    before = bytes(board.loop.state), list(board.loop.settings), board.loop.desk.staged
    with pytest.raises(RefusedError):
        client.call(method, *params)
    assert (bytes(board.loop.state), list(board.loop.settings), board.loop.desk.staged) == before


def test_settings_are_taken_as_a_whole_or_not_at_all(board, client):
    """A stage that breaks a rule cannot be committed; a good one survives a restart."""
    with pytest.raises(RefusedError, match="break rule 1"):
        client.change_settings({cfg.START_DIFFERENCE: 5000, cfg.STOP_DIFFERENCE: 4000})
    assert board.loop.settings[cfg.START_DIFFERENCE] == 8000
    client = Client(board)
    assert client.change_settings({cfg.START_DIFFERENCE: 6000, cfg.STOP_DIFFERENCE: 2500}) == 1
    again = InProcessBoard(board.loop.store.folder)
    assert again.loop.settings[cfg.START_DIFFERENCE] == 6000
    assert again.loop.store.sequence == 1


def test_a_stage_dies_after_half_a_minute(board, client):
    """A later host cannot commit left-over changes."""
    staged = client.call("settings.stage", 0, cfg.START_DIFFERENCE, 6000)
    board.pass_time(30200)
    with pytest.raises(RefusedError, match="nothing staged"):
        client.call("settings.commit", 0, staged["crc"])


def test_service_refuses_injection(client, tmp_path):
    """A commissioned board uses its own sensors only, until the jumper returns it to the bench."""
    client.inject(SUNNY_MC)
    assert client.call("commission") == {"state": "service"}
    assert client.status()["injecting"] == 0
    for method in ("inject", "advance"):
        with pytest.raises(RefusedError, match="service"):
            client.call(method, 5000, 0, SUNNY_MC, [])
    again = InProcessBoard(f"{tmp_path}/")
    assert Client(again).facts["state"] == "service"
    assert Client(InProcessBoard(f"{tmp_path}/", jumper=True)).facts["state"] == "bench"


def test_noise_is_counted_and_answered_by_nothing(board, client):
    """Broken lines, endless lines and the interrupt byte have no effect."""
    before = client.status()
    board.write(b"\x03\x03 garbage\n" + b"x" * 5000 + b"\n" + frames.seal(b'{"jsonrpc":"2.0"}')[:-3] + b"\r\n")
    while board.port.incoming:
        assert board.read() == b""
    after = client.status()
    assert after["lines_bad"] == before["lines_bad"] + 3
    assert after["mc"] == before["mc"]


@pytest.mark.parametrize("noise", [b"x", b"\n"])
def test_bytes_without_end_keep_no_step_waiting(board, noise):
    """A console that never runs dry delays no pass, with or without line feeds."""

    class Endless:
        """A host that sends faster than a board reads; a loop that waits for its end would hang."""

        taken = 0

        def read_byte(self):
            self.taken += 1
            if self.taken > 100000:
                raise TimeoutError("one pass took 100000 bytes")
            return noise[0]

    endless = Endless()
    board.port.read_byte = endless.read_byte
    board.pass_time(3000)
    assert board.port.fed == 3
    assert endless.taken > 1000


def test_half_a_line_waits(board):
    Client(board)
    for byte in b"hel":
        board.write(bytes([byte]))
        assert board.read() == b""
    board.write(b"lo\r")
    assert b"in-process" in board.read()


def test_every_request_of_the_client_fits(board):
    """An ESP32 takes 260 bytes at most; ours stay within 210, in the longest session too."""
    for bad in range(s.SENSORS + 1):
        widest = readings_listed([-273150] * s.SENSORS, [0] * (s.SENSORS - bad) + [22] * bad)
        for method, first in (("advance", [1 << 20, 60000]), ("inject", [30000, 31])):
            line = calls.request(frames.ID_TOP, method, [*first, *widest, [100000, 22]])
            assert len(line) <= frames.REQUEST_TOP + 10


def test_hand_is_refused_by_limits(board):
    Client(board).change_settings(QUICK)
    board.port.values_mc[s.COLLECTOR] = 130000
    board.pass_time(8000)
    client = Client(board)
    client.call("hand", s.COLLECTOR_PUMP, 1, 60)
    board.pass_time(2000)
    assert board.relays()[s.COLLECTOR_PUMP] == 0
    assert client.status()["wait"] == why.WAIT_LIMIT


def test_purge_runs_both_pumps(board):
    """Both pumps run once the valve is in place, until the time is over."""
    Client(board).change_settings(QUICK)
    board.pass_time(6000)
    client = Client(board)
    client.call("purge", 20)
    board.pass_time(5000)
    assert board.relays()[s.TANK_PUMP] == 1
    assert client.status()["reason"] == why.PURGING
    board.pass_time(20000)
    assert board.relays() == (0, 0, 0, 0, 0)


def test_a_host_that_keeps_injecting_does_not_starve_the_watchdog(board, client):
    """Each injection starts the station cold; the passes still feed the watchdog."""
    fed = board.port.fed
    for _ in range(40):
        client.inject(SUNNY_MC)
        board.pass_time(300)
        client.release()
    assert board.port.fed - fed >= 10
