"""How the board starts: levels that survive a reset, stuck pins, bad files, the prompt."""

import time

import pytest
import serial
from twinloop.control import state as s
from twinloop.event_log import START
from twinloop_hil.board import actions
from twinloop_hil.client import Client, LinkError, RefusedError, SerialTransport
from twinloop_hil.firmware_files import board_data
from twinloop_hil.readings import SUNNY_MC
from twinloop_hil.virtual.board import VirtualBoard
from twinloop_hil.virtual.files.slots import LINE_FREE, LINE_HIGH, MISHAP_HANG, MISHAP_NONE, SLOT_PIN, SLOT_PIN_STUCK

from ..edited import edited
from ..virtual.test_virtual_board import QUICK, wait_for

RELAY_PINS = [pin for pin, _ in board_data("virtual")["RELAYS"]]


class KeepsLevels(VirtualBoard):
    """A chip whose pins keep their levels through a reset."""

    def stop_process(self):
        self.process.kill()
        self.process.wait()


def test_levels_that_survive_a_reset_fall_in_boot(interpreter):
    """Firmware hangs with relays on: after the watchdog reset boot.py releases them."""
    with KeepsLevels(interpreter) as board:
        with Client(SerialTransport(board.port)) as client:
            client.change_settings(QUICK)
        board.set_sensors(SUNNY_MC)
        wait_for(lambda: any(board.relays()), 20, "a relay")
        (board.folder / "main.py").write_text("while True:\n    pass\n")
        board.mishap(MISHAP_HANG)
        boots = board.boots
        wait_for(lambda: board.boots > boots, 10, "the watchdog")
        took = wait_for(lambda: not any(board.relays()), 3, "relays in their safe state")
        assert took < 1.0
        assert not any(board.peek(SLOT_PIN + pin) for pin in RELAY_PINS)


def test_without_boot_they_stay(interpreter):
    """Negative: with an empty boot.py they stay on."""
    with KeepsLevels(interpreter) as board:
        board.poke(SLOT_PIN + RELAY_PINS[1], 1)
        for name, text in (("boot.py", ""), ("main.py", "while True:\n    pass\n")):
            (board.folder / name).write_text(text)
        board.power_cut()
        time.sleep(0.5)
        board.poke(SLOT_PIN + RELAY_PINS[1], 1)
        board.power_cut()
        time.sleep(1.0)
        assert board.relays()[1] == 1


def test_a_stuck_pin_ends_in_a_fault_stop_that_answers(board, client):
    """The pump's pin is stuck high: three counted restarts, then a fault stop with its cause."""
    client.close()
    board.poke(SLOT_PIN_STUCK + RELAY_PINS[s.TANK_PUMP], LINE_HIGH)
    wait_for(lambda: board.boots >= 4, 20, "three restarts")
    with Client(SerialTransport(board.port)) as again:
        wait_for(lambda: again.status()["duty"] == s.FAULT_STOP, 5, "the fault stop")
        status = again.status()
        assert status["resets"] == 3
        assert "relay 1: its pin does not follow" in status["fault"]
        assert again.call("self_check")["relay_astray"] == s.TANK_PUMP
        boots = board.boots
        time.sleep(2.0)
        assert board.boots == boots
    board.poke(SLOT_PIN_STUCK + RELAY_PINS[s.TANK_PUMP], LINE_FREE)


def test_bad_copies_mean_defaults_and_an_alarm(board, client):
    """Garbage in every file of the store: an alarm, default settings, no sensor identified."""
    client.close()
    for name in ("settings.a", "settings.b", "probes.a", "probes.b", "log.a", "log.b", "resets", "fault"):
        (board.folder / "flash" / name).write_bytes(bytes(range(256)))
    board.power_cut()
    with Client(SerialTransport(board.port)) as again:
        wait_for(lambda: again.status()["alarms"] >> 11 & 1, 5, "the alarm")
        assert again.call("self_check")["settings_lost"] == 1
        assert actions.read_log(again)
        assert all(row[0] == "" for row in again.probes())
    assert not any(board.relays()[output] for output in s.MOVING)


def test_the_log_has_the_cause_of_the_start(board, client):
    board.mishap(MISHAP_HANG)
    wait_for(lambda: board.boots == 2, 15, "the watchdog")
    board.mishap(MISHAP_NONE)
    client.close()
    with Client(SerialTransport(board.port)) as again:
        events = actions.read_log(again)
        assert [event[:3] for event in events if event[0] == START] == [[START, 3, 1]]


def test_noise_in_service_stops_nothing(board, client):
    """Hundreds of interrupt bytes and prompt requests: the station steps on and answers."""
    client.call("commission")
    client.close()
    line = serial.serial_for_url(board.port, timeout=0.2)
    line.write(b"\r\x03\x03\r\x01\x04" * 100 + b"\n")
    time.sleep(1.0)
    line.close()
    with Client(SerialTransport(board.port)) as again:
        assert again.facts["state"] == "service"
    assert board.boots == 1


def prompt_comes(board, seconds):
    """Whether interrupt bytes bring a prompt within this time."""
    line = serial.serial_for_url(board.port, timeout=0.05)
    seen, deadline = b"", time.monotonic() + seconds
    while time.monotonic() < deadline and b">>> " not in seen:
        line.write(b"\x03")
        seen += line.read(200)
    line.close()
    return b">>> " in seen


def prompt_window(board, jumper):
    """What answers after interrupt bytes to a board in service whose firmware crashes at start."""
    with Client(SerialTransport(board.port)) as client:
        client.call("commission")
    board.set_jumper(jumper)
    (board.folder / "twinloop" / "store.py").write_text("import no_such_module\n")
    board.power_cut()
    return prompt_comes(board, 6)


def test_in_service_a_crash_opens_no_prompt(board):
    """Somebody on the wire sends interrupt bytes for ever: the board only tries again."""
    assert not prompt_window(board, jumper=False)
    assert board.boots > 2 and not any(board.relays())


def test_in_service_a_crash_opens_the_prompt_with_the_jumper_closed(board):
    assert prompt_window(board, jumper=True)


def test_without_its_data_there_is_nothing_to_protect(board):
    """The board's data file is gone: the window is open."""
    (board.folder / "board.py").unlink()
    (board.folder / "twinloop" / "port.py").write_text("import no_such_module\n")
    board.power_cut()
    assert prompt_comes(board, 8)


def test_a_crash_would_open_it_to_anybody(interpreter):
    """The negative: main.py without its look at the jumper."""
    with edited("main.py", "if not barred() and interrupted():", "if interrupted():")(interpreter) as board:
        assert prompt_window(board, jumper=False)


def test_in_service_the_prompt_needs_somebody_at_the_board(board, client):
    """The jumper is closed at the time of the request, or it is refused and nothing moves."""
    client.call("commission")
    board.set_jumper(True)
    board.set_jumper(False)
    with pytest.raises(RefusedError, match="close its bench jumper"):
        client.call("prompt", 2)
    time.sleep(0.5)
    assert board.boots == 1
    board.set_jumper(True)
    client.call("prompt", 2)
    client.close()
    wait_for(lambda: board.boots == 2, 5, "the restart")


def test_every_session_is_random(board, client):
    """32 bits from the chip's own source: no two are alike, and none follows from another."""
    seen = [client.facts["session"]]
    for _ in range(40):
        client.begin()
        seen.append(client.facts["session"])
    assert len(set(seen)) == len(seen) and max(seen) > 1 << 28
    assert len({(after - before) % (1 << 32) for before, after in zip(seen, seen[1:], strict=False)}) == 40


def test_hello_is_quick(board, client):
    """The hash is known: the shortest of twenty takes no longer than a few exchanges of status."""
    spent = []
    for _ in range(20):
        begin = time.monotonic()
        client.begin()
        spent.append(time.monotonic() - begin)
    assert min(spent) < 0.05


def test_the_prompt_is_granted_once(board, client):
    """On request there is a prompt, relays safe; after the next restart the station runs."""
    client.call("prompt", 600)
    client.close()
    wait_for(lambda: board.boots == 2, 5, "the restart")
    assert not any(board.relays())
    with pytest.raises(LinkError):
        Client(SerialTransport(board.port), tries=1)
    # A soft reset, one byte from a terminal, is such a restart.
    line = serial.serial_for_url(board.port, timeout=0.2)
    line.write(b"\r\x04")
    wait_for(lambda: board.boots == 3, 5, "the soft reset")
    line.close()
    with Client(SerialTransport(board.port)) as again:
        assert again.facts["state"] == "bench"
    assert not any(board.relays())
