"""Calls for fitting: identify sensors, offsets with undo, log, self check, prompt."""

from array import array

import pytest
from twinloop import event_log
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control.state import RESETS_LIMIT
from twinloop.drivers.relays import DIFFERS_TOP
from twinloop.store import Store
from twinloop_hil.client import Client, RefusedError
from twinloop_hil.inprocess import InProcessBoard, ResetRequestedError

ROM = "28aa0102030400" + "11"
OTHER = "28bb0102030400" + "22"


def probes(client):
    """All rows of every part."""
    return client.probes()


def test_identify_is_written_and_reaches_the_chips(board, client, tmp_path):
    """The role is stored, and the driver uses it at once."""
    client.call("identify", s.TANK_LOW, ROM)
    assert probes(client)[s.TANK_LOW] == [ROM, 0, 0]
    assert board.port.fitted[s.TANK_LOW] == (bytes.fromhex(ROM), 0)
    assert Store(f"{tmp_path}/").load_probes().rom(s.TANK_LOW) == bytes.fromhex(ROM)


def test_a_chip_has_one_role(client):
    """A chip given to another sensor leaves the first one, with its offset."""
    client.call("identify", s.TANK_LOW, ROM)
    client.call("calibrate", s.TANK_LOW, 250)
    client.call("identify", s.TANK_HIGH, ROM)
    rows = probes(client)
    assert rows[s.TANK_LOW] == ["", 0, 0]
    assert rows[s.TANK_HIGH] == [ROM, 0, 0]


def test_a_chip_identified_again_keeps_its_offset(client):
    """Another chip in its place starts without one."""
    client.call("identify", s.TANK_LOW, ROM)
    client.call("calibrate", s.TANK_LOW, 250)
    client.call("identify", s.TANK_LOW, ROM)
    assert probes(client)[s.TANK_LOW] == [ROM, 250, 0]
    client.call("identify", s.TANK_LOW, OTHER)
    assert probes(client)[s.TANK_LOW] == [OTHER, 0, 0]


def test_calibrate_is_bounded_and_undone(board, client):
    """Offsets beyond 5 K are refused. The previous one is kept, so it can be restored."""
    client.call("calibrate", s.COLLECTOR, 400)
    client.call("calibrate", s.COLLECTOR, -900)
    assert probes(client)[s.COLLECTOR] == ["", -900, 400]
    assert board.port.fitted[s.COLLECTOR][1] == -900
    with pytest.raises(RefusedError, match="offset has to be -5000 to 5000 mK"):
        client.call("calibrate", s.COLLECTOR, 5001)
    assert probes(client)[s.COLLECTOR] == ["", -900, 400]


@pytest.mark.parametrize(
    ("params", "words"),
    [
        ((s.SENSORS, ROM), f"sensor has to be 0 to {s.SENSORS - 1}"),
        ((1, "28"), "sixteen hex digits"),
        ((1, "zz" * 8), "sixteen hex digits"),
        ((1, "00" * 8), "sixteen hex digits"),
        ((1,), "takes sensor and ROM code"),
    ],
)
def test_wrong_roles_are_refused(client, params, words):
    with pytest.raises(RefusedError, match=words):
        client.call("identify", *params)
    assert probes(client) == [["", 0, 0]] * s.SENSORS


def test_sensors_are_not_moved_in_service(board, client):
    client.call("commission")
    for call in (("scan",), ("identify", 1, ROM)):
        with pytest.raises(RefusedError, match="in service"):
            client.call(*call)
    client.call("calibrate", 1, 100)


def test_log_comes_in_parts_of_one_snapshot(board, client):
    """More events than fit in one part; later events do not mix in."""
    for number in range(25):
        board.loop.log.note(event_log.DUTY_CHANGED, 1, number)
    first = client.call("log", 0)
    board.loop.log.note(event_log.IN_SERVICE, 0, 0)
    events = first["events"]
    for part in range(1, first["parts"]):
        events = events + client.call("log", part)["events"]
    assert events[0][:2] == [event_log.START, 1]
    assert [event[2] for event in events[1:]] == list(range(25))
    with pytest.raises(RefusedError, match="part 0 first"):
        client.call("log", 1)


def test_injected_events_are_not_logged(board, client):
    before = board.loop.log.count
    client.inject([60000, 30000, 35000, 55000, 40000, 20000, 30000, 48000, 20000, 15000], lease_ms=30000)
    for _ in range(20):
        client.advance(5000, [60000, 30000, 35000, 55000, 40000, 20000, 30000, 48000, 20000, 15000])
        board.pass_time(1000)
    assert board.loop.log.count == before


def test_self_check_tells_copies_and_sensors(board, client, tmp_path):
    values = array("i", [0] * cfg.SETTINGS)
    cfg.load_defaults(values)
    for _ in range(2):
        board.loop.store.save_settings(values)
    board.port.causes[s.TAP] = s.CAUSE_OPEN
    board.pass_time(70000, turn_ms=500)
    facts = client.call("self_check")
    assert facts["settings_copies"] == 2
    assert facts["sensors_lost"] == 1 << s.TAP
    assert facts["relay_astray"] == -1
    (tmp_path / "settings.a").write_bytes(b"x")
    assert client.call("self_check")["settings_copies"] == 1


def test_prompt_ends_safe_and_leaves_its_wish(board, client, tmp_path, monkeypatch):
    """Answer, relays safe, log written, restart; the restart finds the requested seconds."""
    monkeypatch.chdir(tmp_path)
    board.port.drive(s.TANK_PUMP, 1)
    with pytest.raises(ResetRequestedError):
        client.call("prompt", 120)
    assert board.relays() == (0, 0, 0, 0, 0)
    assert (tmp_path / "prompt").read_text() == "120"
    assert b'"prompt_s": 120' in board.port.outgoing
    with pytest.raises(RefusedError, match="1 to 900"):
        Client(InProcessBoard(f"{tmp_path}/")).call("prompt", 901)


@pytest.mark.parametrize("way", ["jumper", "button"])
def test_in_service_the_prompt_needs_somebody_at_the_board(board, client, tmp_path, monkeypatch, way):
    """At the time of the request: neither before it nor after it. The refusal says how."""
    monkeypatch.chdir(tmp_path)
    client.call("commission")
    assert not board.loop.bench
    setattr(board.port, way, True)
    board.pass_time(2000)
    setattr(board.port, way, False)
    with pytest.raises(RefusedError, match="close its bench jumper, or hold its display's button down"):
        client.call("prompt", 60)
    assert not board.loop.restart_asked and not (tmp_path / "prompt").exists()
    setattr(board.port, way, True)
    with pytest.raises(ResetRequestedError):
        client.call("prompt", 60)
    assert board.relays() == (0, 0, 0, 0, 0)


def test_without_that_anybody_on_the_wire_would_get_it(board, client, tmp_path, monkeypatch):
    """The negative."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(board.port, "attended", lambda: True)
    client.call("commission")
    with pytest.raises(ResetRequestedError):
        client.call("prompt", 60)


def stick(board, output, level):
    """Make a pin read this level whatever it is set to."""
    board.port.relays.pins[output].value = lambda told=None: level if told is None else None


def test_a_pin_that_does_not_follow_ends_the_pass(board):
    """Three wrong looks in a row raise: relays safe, restart, counted."""
    stick(board, s.TANK_PUMP, 1)
    for _ in range(DIFFERS_TOP - 1):
        board.loop.turn()
    with pytest.raises(RuntimeError, match="relay 1: its pin does not follow"):
        board.loop.turn()


def test_a_single_wrong_look_is_no_fault(board):
    followed = board.port.relays.pins[s.TANK_PUMP].value
    for _ in range(5):
        stick(board, s.TANK_PUMP, 1)
        for _ in range(DIFFERS_TOP - 1):
            board.loop.turn()
        board.port.relays.pins[s.TANK_PUMP].value = followed
        board.loop.turn()


def test_after_three_restarts_the_fault_stop_stands(board):
    board.loop.resets = board.loop.inputs[s.IN_RESETS] = RESETS_LIMIT
    stick(board, s.TANK_PUMP, 1)
    board.pass_time(5000)
    assert board.loop.state[s.DUTY] == s.FAULT_STOP


OFFERED = {1: [ROM, 250, -100], 2: ["", 0, 0]}


def test_a_restore_replaces_settings_and_sensors_together(board, client, tmp_path):
    """Both are stored, in force, and the station starts cold."""
    board.pass_time(5000)
    client.restore({cfg.START_DIFFERENCE: 9000}, OFFERED)
    assert client.settings()[0][cfg.START_DIFFERENCE] == 9000
    assert probes(client)[1:3] == [[ROM, 250, -100], ["", 0, 0]]
    assert board.port.fitted[1] == (bytes.fromhex(ROM), 250)
    assert board.loop.state[s.STATUS] == s.LOST
    after = Client(InProcessBoard(f"{tmp_path}/"))
    assert after.settings()[0][cfg.START_DIFFERENCE] == 9000
    assert probes(after)[1] == [ROM, 250, -100]


@pytest.mark.parametrize("failing", [("restore.new",), ("restore",)])
def test_a_refusing_flash_restores_nothing(board, client, tmp_path, failing):
    """Refused before the step that counts, neither settings nor sensors change."""
    client.call("identify", 1, OTHER)
    for name in failing:
        (tmp_path / name).mkdir()
        (tmp_path / name / "in the way").touch()
    with pytest.raises(RefusedError, match="memory refuses to be written: nothing was changed"):
        client.restore({cfg.START_DIFFERENCE: 9000}, OFFERED)
    assert client.settings()[0][cfg.START_DIFFERENCE] == 8000
    assert probes(client)[1] == [OTHER, 0, 0]


def test_a_restore_that_cannot_finish_is_in_force_and_finished_before_the_next_save(board, client, tmp_path):
    """Once its file is written a restore holds, also over a restart; no older set comes back."""
    client.call("identify", 1, OTHER)
    for name in ("probes.a", "probes.b"):
        (tmp_path / name).rename(tmp_path / ("kept " + name)) if (tmp_path / name).exists() else None
        (tmp_path / name).mkdir()
        (tmp_path / name / "in the way").touch()
    client.restore({cfg.START_DIFFERENCE: 9000}, OFFERED)
    for one in (client, Client(InProcessBoard(f"{tmp_path}/"))):
        assert one.settings()[0][cfg.START_DIFFERENCE] == 9000
        assert probes(one)[1] == [ROM, 250, -100]
        with pytest.raises(RefusedError, match="memory refuses"):
            one.change_settings({cfg.START_DIFFERENCE: 10000})
    for name in ("probes.a", "probes.b"):
        (tmp_path / name / "in the way").unlink()
        (tmp_path / name).rmdir()
    again = Client(InProcessBoard(f"{tmp_path}/"))
    again.change_settings({cfg.START_DIFFERENCE: 10000})
    last = Client(InProcessBoard(f"{tmp_path}/"))
    assert last.settings()[0][cfg.START_DIFFERENCE] == 10000
    assert probes(last)[1] == [ROM, 250, -100]


def test_a_restore_needs_both_as_they_were_staged(board, client):
    """Nothing staged, or something else than was staged, changes nothing."""
    sequence, crc = client.stage_settings({cfg.START_DIFFERENCE: 9000})
    with pytest.raises(RefusedError, match="have to be staged first"):
        client.call("restore", sequence, crc, "00000000")
    client.call("probes.stage", 1, ROM, 0, 0)
    with pytest.raises(RefusedError, match="CRCs differ"):
        client.call("restore", sequence, crc, "00000000")
    with pytest.raises(RefusedError, match="offset has to be"):
        client.call("probes.stage", 1, ROM, 5001, 0)
    board.pass_time(31000)
    with pytest.raises(RefusedError, match="have to be staged first"):
        client.call("restore", sequence, crc, "00000000")
    assert client.settings()[0][cfg.START_DIFFERENCE] == 8000


def test_a_board_in_service_is_not_logged_as_new_in_service(board, client):
    """A call that is repeated takes no room from events that count."""
    for _ in range(3):
        client.call("commission")
    events = client.call("log", 0)["events"]
    assert [event[0] for event in events].count(event_log.IN_SERVICE) == 1
