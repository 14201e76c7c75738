"""Folders for results: made, tried and claimed before the work, so that no result is lost."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

try:
    import fcntl
except ImportError:  # On Windows two runs into one folder are not noticed.
    fcntl = None


def made(path: str | Path, names: tuple[str, ...] = ()) -> Path:
    """A folder that takes files, with these names among them; made if it is not there.

    Raises ValueError, one line, when it cannot be written.
    """
    if not str(path).strip():
        raise ValueError("--out: empty; name a folder")
    folder = Path(path)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
        for name in names:
            if (folder / name).exists():
                with open(folder / name, "ab"):
                    pass
    except (OSError, ValueError) as fault:
        where = getattr(fault, "filename", None)
        named = where if isinstance(where, str) and where.endswith(names or ("/",)) else path
        raise ValueError(f"cannot write to {named}: {getattr(fault, 'strerror', None) or fault}") from None
    return folder


@contextmanager
def claimed(path: str | Path, names: tuple[str, ...] = ()) -> Iterator[Path]:
    """A folder as from `made`, for this run alone while the context lasts.

    The system gives the claim back when a process ends, however that ends.
    """
    folder = made(path, names)
    if fcntl is None:
        yield folder
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        claim(handle, path)
        yield folder
    finally:
        os.close(handle)


def claim(handle: int, path: str | Path) -> None:
    """Lock an open folder. Raises ValueError when another run has it."""
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise ValueError(f"cannot write to {path}: another run is writing there; wait for its end or name another folder") from None
    except OSError:
        # A file system without locks, such as some on a network.
        pass
