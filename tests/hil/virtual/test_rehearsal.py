"""docs/install.md on the virtual board that stays, from bare to in service and through a power cut.

Every line comes from the page's own code blocks, in their order. Two words are put in their place:
the board's name and its port; a command for a board that has no port gets it. What the page says in
its text (the other sensors, maintenance, Ctrl-C) is done beside it.
"""

import os
import pty
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from twinloop_hil.board.fit import HAND_CHECKS

PAGE = Path(__file__).parents[3] / "docs" / "install.md"
TWINLOOP = str(Path(sys.executable).parent / "twinloop")
PORT = "virtual-board/port"
# What needs a real chip's boot loader. BOOTSEL is no command.
NEEDS_HARDWARE = {
    "esptool --port /dev/ttyUSB0 erase_flash",
    "esptool --port /dev/ttyUSB0 write_flash 0x1000 ESP32_GENERIC-....bin",
}
# The whole bench takes minutes; these speak through link, readings and relays.
FEW_CHECKS = ["exchange-time", "sensors-answer", "start-difference", "tank-limit", "alarm-alone", "--mains-off"]
SENSORS = ["tank_low", "tank_high", "loop_supply", "loop_return", "exchanger", "outdoor", "tap"]
START_S = 120


def page_lines():
    """(chapter, command) of every line in the page's code blocks; chapter 0 is the practice."""
    chapter = None
    found = []
    for line in PAGE.read_text().splitlines():
        if line.startswith("## "):
            number = re.match(r"## (\d+)\.", line)
            chapter = int(number[1]) if number else 0
        elif line.startswith("    "):
            found.append((chapter, re.split(r" {2,}#", line.strip())[0]))
    return found


def hear_ctrl_c():
    """Undo the deafness to Ctrl-C that tests in the background of a shell hand on."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


class Rehearsal:
    """A virtual board that stays, in a folder of its own, and terminals beside it."""

    def __init__(self, folder):
        self.folder = folder
        self.left = page_lines()

    def start(self):
        """Start it as the page says, and wait for its port."""
        self.board = subprocess.Popen(
            [TWINLOOP, "virtual"], cwd=self.folder, stdout=subprocess.PIPE, text=True, preexec_fn=hear_ctrl_c
        )
        first = self.board.stdout.readline()
        assert first.startswith(f"port {PORT}: a virtual board"), first
        return first

    def end(self, number=signal.SIGINT):
        """End it; returns its exit status."""
        self.board.send_signal(number)
        return self.board.wait(30)

    def arguments(self, command):
        """The command for this board."""
        words = [{"pico": "virtual", "/dev/ttyACM0": PORT}.get(word, word) for word in command.split()]
        assert words[0] == "twinloop"
        takes_port = words[1] == "bench" or words[1] == "board" and words[2] != "list"
        return [TWINLOOP, *words[1:], *(["--port", PORT] if takes_port and "--port" not in words else [])]

    def open(self, command, *more, **options):
        return subprocess.Popen(
            [*self.arguments(command), *more],
            cwd=self.folder,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            preexec_fn=hear_ctrl_c,
            **options,
        )

    def run(self, command, *more, status=0):
        """What the command prints."""
        done = self.open(command, *more, stdin=subprocess.DEVNULL)
        said = done.communicate(timeout=START_S)[0]
        assert done.returncode == status, f"{command}: {said}"
        return said

    def next(self, chapter, command):
        """Take the page's next line, which has to be this one."""
        assert self.left.pop(0) == (chapter, command)
        return command

    def page(self, chapter, command, *more):
        """Run the page's next line."""
        return self.run(self.next(chapter, command), *more)

    def identify(self, command):
        """Warm the sensor from another terminal once the command asks for it."""
        name = command.split()[-1]
        done = self.open(command)
        assert "Warm the" in done.stdout.readline()
        self.run(f"twinloop virtual warm {name}")
        said = done.communicate(timeout=60)[0]
        assert re.fullmatch(rf"{name}: chip [0-9a-f]{{16}}\n", said), said
        return said

    def say_yes(self, command):
        """Answer every question at a terminal; returns what it showed."""
        outer, inner = pty.openpty()
        done = subprocess.Popen(self.arguments(command), cwd=self.folder, stdin=inner, stdout=inner, stderr=inner)
        os.close(inner)
        shown, answered = "", 0
        while True:
            try:
                shown += os.read(outer, 4096).decode()
            except OSError:
                break
            if shown.count("[yes/no]") > answered:
                answered += 1
                os.write(outer, b"yes\n")
        os.close(outer)
        assert done.wait(30) == 0, shown
        assert answered == len(HAND_CHECKS)
        return shown

    def watch(self, command):
        """Watch for some rows, then Ctrl-C."""
        done = self.open(command)
        for _ in range(4):
            done.stdout.readline()
        done.send_signal(signal.SIGINT)
        assert done.wait(30) == 0


@pytest.fixture
def rehearsal(interpreter, tmp_path):
    rehearsal = Rehearsal(tmp_path)
    yield rehearsal
    if rehearsal.board.poll() is None:
        rehearsal.board.kill()
        rehearsal.board.wait()


def until(reached, timeout_s, what):
    end = time.monotonic() + timeout_s
    while not reached():
        assert time.monotonic() < end, f"waited {timeout_s} s for {what}"
        time.sleep(0.2)


def wire_and_flash(do):
    """Chapters 2 to 4; chapter 3 needs a real chip."""
    assert "relay collector_pump" in do.page(2, "twinloop wiring pico")
    assert (do.folder / "wiring-virtual.svg").exists()
    while do.left[0][1] in NEEDS_HARDWARE:
        assert do.left.pop(0)[0] == 3
    assert "virtual" in do.page(4, "twinloop board list")
    assert "state: bench" in do.page(4, "twinloop board flash pico --port /dev/ttyACM0")
    do.page(4, "twinloop board backup my-board.toml")
    assert (do.folder / "my-board.toml").exists()


def set_up(do):
    """Chapters 5 to 8: sensors, offsets, settings, bench."""
    chips = {do.identify(do.next(5, "twinloop board identify tank_low")).split()[-1]}
    chips |= {do.identify(f"twinloop board identify {name}").split()[-1] for name in SENSORS[1:]}
    assert len(chips) == len(SENSORS)
    do.page(5, "twinloop board settings --set tap_fitted=no")
    until(lambda: "lost" not in do.run("twinloop board status"), 30, "readings")
    assert "(--undo restores it)" in do.page(6, "twinloop board calibrate tank_low 21.4C")
    assert "offset +0.00 K" in do.page(6, "twinloop board calibrate tank_low --undo")
    do.run("twinloop virtual sensors fitted")
    do.page(7, "twinloop board settings")
    said = do.page(7, "twinloop board settings --set tank_limit=70C --set loop_volume=12L --set collector_flow=4L/min")
    assert re.search(r"tank_limit +70 C", said)
    assert "report.html" in do.page(8, "twinloop bench --port /dev/ttyACM0", *FEW_CHECKS)


def try_by_hand(do):
    """Chapter 9, and the maintenance of its text."""
    do.page(9, "twinloop board hand collector_pump")
    until(lambda: "collector_pump on" in do.run("twinloop board status"), 30, "the pump held by hand")
    do.page(9, "twinloop board purge --seconds 1800")
    until(lambda: "purging" in do.run("twinloop board status"), 30, "purging")
    do.run("twinloop board maintenance")
    until(lambda: "collector_pump off, tank_pump off" in do.run("twinloop board status"), 30, "pumps off")
    do.run("twinloop board maintenance --seconds 0")


def test_the_page_from_bare_to_in_service(rehearsal):
    """Every line of the page works; after a power cut the station is still in service."""
    do = rehearsal
    do.next(0, "twinloop virtual")
    assert "MicroPython and nothing else" in do.start()
    practice = [do.left.pop(0)[1] for _ in range(6)]
    wire_and_flash(do)
    set_up(do)
    try_by_hand(do)
    assert "in service" in do.say_yes(do.next(10, "twinloop board commission"))
    do.watch(do.next(11, "twinloop board watch --record first-day.csv"))
    assert len((do.folder / "first-day.csv").read_text().splitlines()) >= 3
    assert "in service" in do.run("twinloop board log")
    assert do.left == []
    # The practice's words: the plug, and somebody at the board.
    for command in practice:
        do.run(command)
    assert "cannot be opened" in do.run("twinloop board status", status=2) or "no answer" in do.run(
        "twinloop board status", status=2
    )
    do.run("twinloop virtual speed 1")
    do.run("twinloop virtual power on")
    assert "on the bench" in do.run("twinloop board status"), "the jumper is closed"
    do.run("twinloop virtual jumper open")
    do.run("twinloop virtual button free")
    do.run("twinloop virtual power off")
    do.run("twinloop virtual power on")
    check_kept(do)
    assert do.end(signal.SIGTERM) == 0
    assert sorted(path.name for path in (do.folder / "virtual-board").iterdir()) == ["flash", "lock"]
    assert "the firmware that it had" in do.start()
    check_kept(do)
    assert do.end() == 0


def check_kept(do):
    """In service, by its own sensors, with its settings."""
    said = do.run("twinloop board status")
    assert "in service" in said and "lost" not in said, said
    assert re.search(r"tank_limit +70 C", do.run("twinloop board settings"))
