"""Flashing the virtual board: kept settings, refusals, a power cut after every operation."""

import contextlib
import hashlib
import shutil
import signal
import threading
import time
from pathlib import Path

import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_hil.board import flash, image
from twinloop_hil.board.prompt import Prompt, PromptError
from twinloop_hil.client import Client, LinkError, RefusedError, SerialTransport
from twinloop_hil.virtual.board import CHIP_FILES, VirtualBoard, identified

from ..bridges import SecondTerminal


@pytest.fixture
def bare(interpreter):
    """A new board with nothing but MicroPython."""
    with VirtualBoard(interpreter, bare=True) as board:
        yield board


def facts_of(board):
    """A board's answer to hello."""
    with Client(SerialTransport(board.port)) as client:
        return client.facts


def test_a_bare_board_becomes_a_station(bare):
    done = flash.flash(bare.port, "virtual")
    built = image.build("virtual")
    assert done["firmware"] == built.firmware == facts_of(bare)["firmware"]
    assert (done["state"], done["before"], done["folder"]) == ("bench", "", "a")
    assert done["self_check"]["relay_astray"] == -1
    assert done["self_check"]["resets"] == 0
    assert not any(bare.relays())
    manifest = (bare.folder / "a" / "manifest").read_text().splitlines()
    assert len(manifest) == done["files"]
    for line in manifest:
        sha256, size, path = line.split()
        body = (bare.folder / "a" / path).read_bytes()
        assert (hashlib.sha256(body).hexdigest(), len(body)) == (sha256, int(size))


def test_settings_and_sensors_outlive_flashing(board, client):
    client.change_settings({cfg.START_DIFFERENCE: 7000})
    client.call("calibrate", s.TANK_LOW, 300)
    client.call("commission")
    client.close()
    with pytest.raises(RefusedError, match="board is in service: close its bench jumper"):
        flash.flash(board.port, "virtual")
    assert board.boots == 1
    board.set_jumper(True)
    done = flash.flash(board.port, "virtual")
    with Client(SerialTransport(board.port)) as again:
        assert again.settings()[0][cfg.START_DIFFERENCE] == 7000
        assert again.facts["state"] == "bench"
        assert again.probes()[s.TANK_LOW] == [identified().rom(s.TANK_LOW).hex(), 300, 0]
        assert again.status()["resets"] == 0
    assert (done["before"], done["folder"]) == (".", "a")


def test_two_folders_alternate(bare):
    """The previous firmware stays, for a rollback."""
    flash.flash(bare.port, "virtual")
    done = flash.flash(bare.port, "virtual")
    assert (done["before"], done["folder"]) == ("a", "b")
    assert (bare.folder / "active").read_text() == "b\na\n"


class Snapshot(VirtualBoard):
    """A board with a copy of another board's flash."""

    def __init__(self, interpreter, source):
        self.source = source
        super().__init__(interpreter)

    def lay_out(self):
        skip = shutil.ignore_patterns(*CHIP_FILES, "soldered.py", "registers", "__pycache__")
        shutil.copytree(self.source, self.folder, ignore=skip, dirs_exist_ok=True)


def what_starts(folder):
    """A hash over everything that a start of this board reads or runs."""
    active = folder / "active"
    used = active.read_text().split("\n")[0] if active.exists() else "."
    digest = hashlib.sha256()
    paths = [folder / name for name in ("boot.py", "main.py", "active", "prompt", "board.py")]
    below = "twinloop" if used == "." else used
    for path in [*paths, *sorted((folder / below).rglob("*")), *sorted((folder / "flash").rglob("*"))]:
        if path.is_file() and "__pycache__" not in path.parts:
            digest.update(f"{path.relative_to(folder)}\n".encode() + path.read_bytes())
    return digest.hexdigest()


def flash_with_snapshots(board, monkeypatch, folder):
    """The operations of flashing, counted, and a copy after each that changes what would start."""
    kept: dict[str, Path] = {}
    count = 0
    run = Prompt.run

    def run_and_look(prompt, program):
        nonlocal count
        found = run(prompt, program)
        count += 1
        fingerprint = what_starts(board.folder)
        if fingerprint not in kept:
            kept[fingerprint] = folder / str(len(kept))
            shutil.copytree(board.folder, kept[fingerprint], ignore=shutil.ignore_patterns("registers"))
        return found

    monkeypatch.setattr(Prompt, "run", run_and_look)
    flash.flash(board.port, "virtual")
    monkeypatch.setattr(Prompt, "run", run)
    return count, list(kept.values())


def test_a_cut_anywhere_leaves_a_board_that_starts(interpreter, board, monkeypatch, tmp_path):
    """From every state the board starts: old firmware until the switch, then new; relays safe."""
    old = facts_of(board)["firmware"]
    with Client(SerialTransport(board.port)) as client:
        client.call("commission")
    board.set_jumper(True)
    (board.folder / "boot.py").write_text((board.folder / "boot.py").read_text() + "# an older one\n")
    (board.folder / "main.py").write_text((board.folder / "main.py").read_text() + "# an older one\n")
    count, copies = flash_with_snapshots(board, monkeypatch, tmp_path)
    # Every piece of 256 bytes is an operation of its own.
    assert count > 66000 / 256
    # At least: before, boot.py, main.py, out of service, switched.
    assert len(copies) >= 5
    new = image.build("virtual").firmware
    seen = []
    for copy in copies:
        with Snapshot(interpreter, copy) as again:
            seen.append(facts_of(again)["firmware"])
            assert not any(again.relays())
    assert seen == [old] * (len(seen) - 1) + [new]


def test_writing_in_place_is_found(interpreter, board, monkeypatch, tmp_path):
    """Negative: with main.py written in place, some state does not start a station."""
    (board.folder / "main.py").write_text((board.folder / "main.py").read_text() + "# an older one\n")
    replace = flash.replace
    monkeypatch.setattr(flash, "replace", lambda p, path, f: flash.put(p, path, f) if path == "main.py" else replace(p, path, f))
    _, copies = flash_with_snapshots(board, monkeypatch, tmp_path)
    silent = 0
    # The first copy is the old state, the next are halves of main.py.
    for copy in copies[1:4]:
        with Snapshot(interpreter, copy) as again:
            try:
                with Client(SerialTransport(again.port), tries=1):
                    pass
            except LinkError:
                silent += 1
            assert not any(again.relays())
    assert silent > 0


@pytest.mark.parametrize("share", [0.1, 0.6, 0.97])
def test_an_upload_that_is_cut_can_be_done_again(board, monkeypatch, share):
    """Host and power fail in the middle: the old firmware runs, and the next upload succeeds."""
    old = facts_of(board)["firmware"]
    left = int(320 * share)
    run = Prompt.run

    def run_until_cut(prompt, program):
        nonlocal left
        left -= 1
        if left == 0:
            raise PromptError("cut by the test")
        return run(prompt, program)

    monkeypatch.setattr(Prompt, "run", run_until_cut)
    with pytest.raises(PromptError, match="cut by the test"):
        flash.flash(board.port, "virtual")
    board.power_cut()
    assert facts_of(board)["firmware"] == old
    monkeypatch.setattr(Prompt, "run", run)
    assert flash.flash(board.port, "virtual")["state"] == "bench"


def test_a_slow_prompt_is_not_taken_for_silent(bare):
    """Every answer takes 0.2 s, as during a flash write or on a busy host."""

    class Slow(SecondTerminal):
        delay_s = 0.2

    with Slow(bare.port) as bridge, Prompt(bridge.port) as prompt:
        assert prompt.value("6 * 7") == 42


def test_late_answers_to_earlier_tries_are_discarded(bare):
    """It stalls for longer than a try lasts, then answers all tries at once."""
    bare.process.send_signal(signal.SIGSTOP)
    threading.Timer(2.5, bare.process.send_signal, (signal.SIGCONT,)).start()
    with Prompt(bare.port) as prompt:
        assert prompt.value("6 * 7") == 42


def test_a_port_that_vanishes_with_the_restart_is_a_broken_link(bare):
    """The port of a chip with native USB vanishes; the board is then looked for again by name."""
    with SecondTerminal(bare.port) as bridge:
        opened = SerialTransport(bridge.port).serial
        bridge.cut()
        with contextlib.closing(SerialTransport.adopt(opened)) as transport, pytest.raises(LinkError):
            Client(transport, tries=1)


UNFIT = {
    "compiled for another MicroPython": b"M\x05\x00\x1f",
    "raises at import": "raise RuntimeError",
    "hangs at import": "while True:\n    pass",
}


@pytest.mark.parametrize("unfit", UNFIT)
def test_unfit_firmware_is_rolled_back(bare, monkeypatch, tmp_path, unfit):
    """New firmware is intact but does not run: the board rolls back, and flash says so."""
    body = UNFIT[unfit]
    if isinstance(body, str):
        (tmp_path / "unfit.py").write_text(body)
        body = image.compile_module(tmp_path / "unfit.py", "unfit.py")
    good = flash.flash(bare.port, "virtual")["firmware"]
    build = image.build
    # Firmware that raises is rolled back without the watchdog; sound firmware must start within it
    # on any machine.
    bite_ms = 2000 if unfit == "hangs at import" else 8000

    def broken(board):
        built = build(board)
        files = [file if file.path != "twinloop/store.mpy" else image.File(file.path, body) for file in built.files]
        starters = [
            image.File(file.path, file.body.replace(b"WATCHDOG_MS = 8000", b"WATCHDOG_MS = %d" % bite_ms))
            for file in built.starters
        ]
        return image.Image(built.board, tuple(files), tuple(starters), image.hash_of(files))

    monkeypatch.setattr(flash, "build", broken)
    with pytest.raises(flash.FlashError, match=f"runs firmware {good} instead of"):
        flash.flash(bare.port, "virtual")
    assert (bare.folder / "active").read_text() == "a\n"
    assert not any(bare.relays())
    with Client(SerialTransport(bare.port)) as client:
        # Restarts at the prompt, by flashing and by the rollback are planned.
        assert client.status()["resets"] == 0


def test_a_board_with_only_broken_firmware_can_be_flashed(board):
    """Without a rollback the chip keeps restarting; its prompt window allows flashing."""
    (board.folder / "twinloop" / "store.py").write_text("import no_such_module\n")
    board.power_cut()
    assert flash.flash(board.port, "virtual")["state"] == "bench"


def test_refusals_are_one_line(bare, monkeypatch):
    with pytest.raises(flash.FlashError, match="the board is for linux, pico is for rp2$"):
        flash.flash(bare.port, "pico")
    monkeypatch.setattr(flash, "OLDEST", (9, 0))
    with pytest.raises(flash.FlashError, match="is too old; 9.0 or newer is needed$"):
        flash.flash(bare.port, "virtual")
    monkeypatch.setattr(flash, "OLDEST", (1, 27))
    monkeypatch.setattr(image, "MPY_VERSION_PLACE", 0)
    with pytest.raises(flash.FlashError, match="loads compiled files of version 6, these are version 77$"):
        flash.flash(bare.port, "virtual")
    assert not (bare.folder / "a").exists()
    with pytest.raises(ValueError, match="board nano: not known"):
        flash.flash(bare.port, "nano")


def test_the_prompt_of_a_station_ends_by_itself(board, client):
    client.call("prompt", 2)
    client.close()
    deadline = time.monotonic() + 12
    with pytest.raises(LinkError):
        Client(SerialTransport(board.port), tries=1)
    while time.monotonic() < deadline:
        try:
            with Client(SerialTransport(board.port), tries=1) as again:
                assert again.facts["firmware"]
                return
        except LinkError:
            time.sleep(0.2)
    pytest.fail("the prompt did not end")


def test_the_image_is_small_enough():
    assert image.build("pico").size < 63_000
