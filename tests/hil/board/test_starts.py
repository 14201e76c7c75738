"""How the board starts: levels that survive a reset, stuck pins, bad files, the prompt."""

import time

import pytest
import serial
from twinloop.control import state as s
from twinloop.event_log import START
from twinloop_hil.board import actions
from twinloop_hil.client import Client, LinkError, SerialTransport
from twinloop_hil.firmware_files import board_data
from twinloop_hil.readings import SUNNY_MC
from twinloop_hil.virtual.board import VirtualBoard
from twinloop_hil.virtual.files.slots import LINE_FREE, LINE_HIGH, MISHAP_HANG, MISHAP_NONE, SLOT_PIN, SLOT_PIN_STUCK

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
