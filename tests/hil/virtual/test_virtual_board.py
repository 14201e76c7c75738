"""The virtual board: the firmware's files in a MicroPython process behind a serial line."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import serial
import twinloop
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.link import frames
from twinloop.store import firmware_hash
from twinloop_hil.client import Client, LinkError, SerialTransport
from twinloop_hil.inprocess import InProcessBoard
from twinloop_hil.readings import SUNNY_MC
from twinloop_hil.virtual.board import NoInterpreterError, find_interpreter
from twinloop_hil.virtual.files import slots
from twinloop_hil.virtual.files.slots import MISHAP_HANG, MISHAP_NONE, MISHAP_RAISE, SLOT_FED, SLOT_PIN

from ..edited import edited

QUICK = {cfg.DUMP_TRAVEL: 1000, cfg.MINIMUM_REST: 0}
HOLD = """
import sys, time
from twinloop_hil.client import Client, SerialTransport
from twinloop_hil.readings import SUNNY_MC
client = Client(SerialTransport(sys.argv[1]))
client.inject(SUNNY_MC, lease_ms=2000, mask=7)
print("holding", flush=True)
while True:
    client.advance(1000, SUNNY_MC)
    time.sleep(0.005)
"""


def wait_for(reached, timeout_s, what):
    """Seconds until a condition holds."""
    begin = time.monotonic()
    while not reached():
        assert time.monotonic() - begin < timeout_s, f"waited {timeout_s} s for {what}"
        time.sleep(0.005)
    return time.monotonic() - begin


def test_there_is_room_for_all_sensors_and_outputs():
    assert s.SENSORS <= slots.SENSORS_TOP
    assert s.OUTPUTS <= slots.OUTPUTS_TOP


def test_it_runs_the_firmwares_own_files(client):
    assert client.facts["firmware"] == firmware_hash(str(Path(twinloop.__file__).parent))
    assert client.facts["board"] == "virtual"


def test_relays_are_safe_from_the_first_line(board):
    """boot.py drives every relay pin to its safe level first."""
    with Client(SerialTransport(board.port)):
        assert not any(board.peek(SLOT_PIN + pin) for pin, _ in board.data["RELAYS"])


def test_own_sensors_move_relays(board, client):
    """Without injection the station acts on its chips' readings."""
    client.change_settings(QUICK)
    board.set_sensors(SUNNY_MC)
    wait_for(lambda: board.relays()[s.COLLECTOR_PUMP], 20, "the collector pump")


def test_lock_step_equals_the_firmware_in_process(client, tmp_path):
    """MicroPython over serial and the firmware in this process answer every step alike."""
    other = Client(InProcessBoard(f"{tmp_path}/"))
    for station in (client, other):
        station.inject(SUNNY_MC, lease_ms=30000)
    for step in range(1500):
        wave = 20000 * (step % 300 > 150) - 150 * (step % 150)
        readings = [SUNNY_MC[0] + wave, *SUNNY_MC[1:]]
        causes = [s.CAUSE_CRC if sensor == s.OUTDOOR and step % 97 < 20 else 0 for sensor in range(s.SENSORS)]
        assert client.advance(5000, readings, causes) == other.advance(5000, readings, causes), step


def test_killed_host_leaves_the_station_to_itself(board):
    """The host dies while injecting: by the lease the board is safe and on its own sensors."""
    host = subprocess.Popen([sys.executable, "-c", HOLD, board.port], stdout=subprocess.PIPE, text=True)
    assert host.stdout.readline() == "holding\n"
    wait_for(lambda: any(board.relays()), 20, "a relay held by the host")
    host.send_signal(signal.SIGKILL)
    host.wait()
    took = wait_for(lambda: not any(board.relays()), 5, "relays in their safe state")
    assert took < 2.5
    with Client(SerialTransport(board.port)) as client:
        status = client.status()
        assert status["injecting"] == 0
        own = [value for value in status["mc"] if value != s.UNKNOWN_MC]
        assert SUNNY_MC[0] not in own


def test_without_its_lease_a_dead_host_would_hold_on(interpreter):
    """Negative: a board whose lease never ends keeps the injected readings."""
    lease = "if self.since(self.renewed) > self.lease_ms:"
    with edited("twinloop/desk.py", lease, "if False:")(interpreter) as board:
        client = Client(SerialTransport(board.port))
        client.inject(SUNNY_MC, lease_ms=500)
        client.close()
        time.sleep(1.5)
        # The bare word opens no session, which would end the injection.
        line = serial.serial_for_url(board.port, timeout=1)
        line.write(b"status\n")
        assert b'"injecting": 1' in line.readline()
        line.close()


@pytest.mark.parametrize("mishap", [MISHAP_RAISE, MISHAP_HANG])
def test_mishap_ends_safe_and_the_board_comes_back(board, client, mishap):
    client.change_settings(QUICK)
    board.set_sensors(SUNNY_MC)
    wait_for(lambda: any(board.relays()), 20, "a relay")
    board.mishap(mishap)
    took = wait_for(lambda: not any(board.relays()), 15, "relays in their safe state")
    # One period and slack; a hang takes the watchdog's 4 s as well.
    assert took < (1.5 if mishap == MISHAP_RAISE else 5.5)
    board.mishap(MISHAP_NONE)
    client.close()
    with Client(SerialTransport(board.port)) as again:
        status = again.status()
        assert status["resets"] >= 1
        assert ("chip raised" in status["fault"]) == (mishap == MISHAP_RAISE)


def test_failed_import_ends_safe(interpreter):
    """With a broken package the relays stay off and the chip keeps restarting, without a prompt."""
    with edited("twinloop/store.py", "import binascii\n", "import no_such_module\n")(interpreter) as board:
        wait_for(lambda: board.boots >= 3, 15, "three starts")
        assert not any(board.relays())
        with pytest.raises(LinkError, match="no answer"):
            Client(SerialTransport(board.port))


def test_interrupt_byte_and_noise_stop_nothing(board, client):
    """0x03, a lone 0xE2 and half a line are ignored; the next call is answered."""
    client.transport.write(b"\x03\x03\x04\xe2\x80garbage\n" * 20 + b"half a line")
    client.transport.write(b"\n")
    assert client.status()["lines_bad"] >= 20
    assert board.boots == 1


def test_a_host_that_does_not_read_holds_up_nothing(board):
    """Answers that nobody reads are dropped, and the station keeps stepping."""
    line = serial.serial_for_url(board.port, timeout=0)
    for _ in range(200):
        line.write(b"status\n")
        time.sleep(0.002)
    fed = board.peek(SLOT_FED)
    wait_for(lambda: board.peek(SLOT_FED) - fed >= 2, 2.5, "two steps")
    line.reset_input_buffer()
    line.close()
    with Client(SerialTransport(board.port)) as client:
        assert client.status()["answers_dropped"] > 0


def test_settings_outlive_a_power_cut(board, client):
    client.change_settings({cfg.START_DIFFERENCE: 7000})
    client.close()
    board.power_cut()
    with Client(SerialTransport(board.port)) as again:
        assert again.settings()[0][cfg.START_DIFFERENCE] == 7000
        assert again.status()["resets"] == 0


def test_board_ends_with_its_host(interpreter):
    program = (
        "import time; from twinloop_hil.virtual.board import VirtualBoard\n"
        "board = VirtualBoard(); print(board.process.pid, flush=True); time.sleep(60)"
    )
    host = subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True)
    pid = int(host.stdout.readline())
    os.kill(pid, 0)
    host.send_signal(signal.SIGKILL)
    host.wait()
    wait_for(lambda: not Path(f"/proc/{pid}").exists() or "Z" in Path(f"/proc/{pid}/stat").read_text().split()[2], 5, "its end")


def test_other_interpreter_is_named_in_one_line():
    with pytest.raises(NoInterpreterError, match="--micropython /no/such"):
        find_interpreter("/no/such")


def test_missing_interpreter_is_named_in_one_line(monkeypatch):
    monkeypatch.setattr("shutil.which", lambda name: None)
    with pytest.raises(NoInterpreterError, match="^[^\n]*--micropython$"):
        find_interpreter()


def test_answers_of_broken_lines_are_never_taken(client):
    client.buffer += b"noise\n" + frames.seal(b'{"jsonrpc":"2.0","id":5,"result":0}')
    assert client.status()["injecting"] == 0
    assert client.lines_ignored == 2
