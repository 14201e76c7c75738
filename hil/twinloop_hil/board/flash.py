"""`twinloop board flash`: puts the firmware on a board.

Power may fail at any moment: the board still starts and is safe.

The compiled files go into a new folder and are compared by their hashes. Then boot.py, main.py and,
last, the file that names the folder in use are replaced, each by a rename. Until then the old
firmware starts. Afterwards main.py rolls back a new firmware that fails to complete one step within
a few boots. Settings, sensors and log stay. The board comes back on the bench and has to be
commissioned again.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable

from twinloop.store import PLANNED, TRIAL

from ..chips import CHIPS
from ..client import Client, LinkError, RefusedError, SerialTransport
from ..firmware_files import board_data
from .image import File, Image, build
from .prompt import HELLO_TRIES, Prompt, leave_service

# The oldest MicroPython that the firmware's tests run on.
OLDEST = (1, 27)
FOLDERS = ("a", "b")
ACTIVE = "active"
# Boots within which a new firmware has to complete a step.
TRIAL_STARTS = b"3"
BACK_S = 20.0
TIDY = """
import os
def tidy(path):
    try:
        names = os.listdir(path)
    except OSError:
        return
    for name in names:
        if os.stat(path + "/" + name)[0] & 0x4000:
            tidy(path + "/" + name)
        else:
            os.remove(path + "/" + name)
    os.rmdir(path)
"""


class FlashError(RuntimeError):
    """The board was not flashed and runs the old firmware, unless the line says otherwise."""


def check_interpreter(prompt: Prompt, data: dict, image: Image) -> str:
    """The board's MicroPython version. Raises FlashError if the firmware cannot run on it."""
    platform = prompt.value("__import__('sys').platform")
    version = prompt.value("tuple(__import__('sys').implementation[1][:3])")
    mpy = prompt.value("__import__('sys').implementation._mpy") & 0xFF
    words = ".".join(map(str, version))
    if platform != data["PLATFORM"]:
        raise FlashError(f"port {prompt.port}: the board is for {platform}, {data['NAME']} is for {data['PLATFORM']}")
    if version[:2] < OLDEST:
        raise FlashError(f"port {prompt.port}: MicroPython {words} is too old; {OLDEST[0]}.{OLDEST[1]} or newer is needed")
    if mpy != image.mpy_version:
        raise FlashError(
            f"port {prompt.port}: MicroPython {words} loads compiled files of version {mpy}, these are version {image.mpy_version}"
        )
    return words


def put(prompt: Prompt, path: str, file: File) -> None:
    """Write a file and compare it by its hash."""
    prompt.write(path, file.body)
    if prompt.sha256(path) != file.sha256:
        raise FlashError(f"port {prompt.port}: {path} differs from what was written")


def replace(prompt: Prompt, path: str, file: File) -> bool:
    """Replace a file by a rename, so that the old or the new one exists; False if unchanged."""
    if prompt.sha256(path) == file.sha256:
        return False
    put(prompt, f"{path}.new", file)
    prompt.run(f"import os\nos.rename({path + '.new'!r}, {path!r})")
    return True


def folders_of(image: Image) -> list[str]:
    """The folders that the files need, outer ones first."""
    found = {""}
    for file in image.files:
        parts = file.path.split("/")[:-1]
        found |= {"/" + "/".join(parts[: depth + 1]) for depth in range(len(parts))}
    return sorted(found)


def upload(prompt: Prompt, image: Image, folder: str, progress: Callable[[int, int], None]) -> None:
    """Write all files into an unused folder and compare each."""
    prompt.run(TIDY + f"tidy({folder!r})")
    prompt.run("import os\n" + "".join(f"os.mkdir({folder + path!r})\n" for path in folders_of(image)))
    done = 0
    for file in image.files:
        put(prompt, f"{folder}/{file.path}", file)
        done += len(file.body)
        progress(done, image.size)
    put(prompt, f"{folder}/manifest", File("manifest", image.manifest().encode()))


def folder_in_use(prompt: Prompt) -> str:
    """The folder of the firmware in use: a or b, "." for one copied by hand, empty for none."""
    named = prompt.read(ACTIVE).split("\n")[0]
    return named or ("." if prompt.value("'twinloop' in __import__('os').listdir()") else "")


def install(prompt: Prompt, data: dict, image: Image, progress: Callable[[int, int], None]) -> dict:
    """Do everything from the prompt to the switch, without the restart. Returns facts."""
    # Make the pins safe first, whatever ran before.
    prompt.run(image.starters[0].body.decode())
    version = check_interpreter(prompt, data, image)
    before = folder_in_use(prompt)
    folder = FOLDERS[1] if before == FOLDERS[0] else FOLDERS[0]
    upload(prompt, image, folder, progress)
    for starter in image.starters:
        replace(prompt, starter.path, starter)
    # A freshly flashed board is on the bench and starts with fresh counters.
    names = [data["FOLDER"] + name for name in ("service", "resets", "fault")]
    prompt.run(f"import os\nfor name in {names!r}:\n try:\n  os.remove(name)\n except OSError:\n  pass")
    # The restart that follows is planned: it does not count.
    prompt.run(f"open({PLANNED!r}, 'w').close()")
    replace(prompt, TRIAL, File(TRIAL, TRIAL_STARTS))
    replace(prompt, ACTIVE, File(ACTIVE, f"{folder}\n{before}\n".encode()))
    return {"micropython": version, "folder": folder, "before": before}


def answer_after_restart(port: str, image: Image, opened) -> dict:
    """State and self-check after the restart. FlashError if silent, or if other firmware runs."""
    deadline = time.monotonic() + BACK_S
    while True:
        try:
            transport = SerialTransport.adopt(opened) if opened is not None else SerialTransport(port)
            opened = None
            with contextlib.closing(transport):
                client = Client(transport, tries=HELLO_TRIES)
                if client.facts["firmware"] != image.firmware:
                    raise FlashError(f"port {port}: runs firmware {client.facts['firmware']} instead of {image.firmware}")
                return {"state": client.facts["state"], "self_check": client.call("self_check")}
        except (LinkError, RefusedError) as fault:
            if time.monotonic() > deadline:
                raise FlashError(f"port {port}: no answer after the restart ({fault})") from None


def flash(port: str, board: str, progress: Callable[[int, int], None] = lambda done, size: None) -> dict:
    """Flash; returns facts. Raises ValueError (board), FlashError, PromptError, CompileError."""
    data = board_data(board)
    image = build(board)
    with Prompt(port, leave_service(port)) as prompt:
        facts = install(prompt, data, image, progress)
        opened = prompt.restart()
    facts |= answer_after_restart(port, image, opened)
    chip = CHIPS[data["CHIP"]]
    return {
        "board": data["NAME"],
        "firmware": image.firmware,
        "files": len(image.files),
        "bytes": image.size,
        "cautions": list(chip.cautions),
        **facts,
    }
