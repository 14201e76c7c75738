"""The folder of a virtual board that stays: claimed by its process, and found by a second terminal.

The lock ends with the process, however that ends. Files of hardware that an earlier process left
behind are replaced at the next start.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path

from .board import FLASH, HARDWARE, REGISTERS

LOCK = "lock"
# A link to the pseudo-terminal, whose own name differs from start to start.
PORT = "port"


def locked(file) -> bool:
    """Whether this process could lock the open file; the lock ends when it is closed."""
    import fcntl

    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


@contextlib.contextmanager
def claimed(name: str) -> Iterator[Path]:
    """A board's folder, made if it is new, which nobody else can claim meanwhile. ValueError."""
    folder = Path(name)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()) and not (folder / FLASH).is_dir():
            raise ValueError(f"folder {name}: it is not empty and holds no virtual board; name a new or an empty folder")
        (folder / FLASH).mkdir(exist_ok=True)
        file = open(folder / LOCK, "w")  # noqa: SIM115 - closed below
    except OSError as fault:
        raise ValueError(f"folder {name}: cannot be used ({fault.strerror})") from None
    with file:
        if not locked(file):
            raise ValueError(f"folder {name}: its virtual board is running already, port {folder / PORT}")
        yield folder


def registers_of(name: str):
    """The open registers of the board that runs in a folder. ValueError when none does."""
    folder = Path(name)
    try:
        with open(folder / LOCK) as file:
            running = not locked(file)
        if running:
            return open(folder / HARDWARE / REGISTERS, "r+b")
    except FileNotFoundError:
        running = (folder / LOCK).exists()
    except OSError as fault:
        raise ValueError(f"folder {name}: cannot be read ({fault.strerror})") from None
    if running:
        raise ValueError(f"folder {name}: its virtual board is still starting; try again in a few seconds")
    raise ValueError(f"folder {name}: no virtual board is running there; start one with `twinloop virtual {name}`")
