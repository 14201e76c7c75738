"""Sizes for `make bench`: firmware, memory after start, heap per pass, installed packages."""

from __future__ import annotations

import json
import shutil
import subprocess
import tempfile
from importlib import metadata
from pathlib import Path

import twinloop
import twinloop_hil
from packaging.requirements import Requirement
from twinloop_hil.board import image
from twinloop_hil.virtual.board import NoInterpreterError, find_interpreter

from .figure import Figure

RUNTIME = Path(__file__).resolve().parents[3] / "tests" / "firmware" / "runtime"
WASM = RUNTIME.parents[2] / ".venv/node/node_modules/@micropython/micropython-webassembly-pyscript/micropython.mjs"
BOARD = "pico"


def lay_out(folder: Path) -> None:
    for file in image.build(BOARD).files:
        path = folder / file.path
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(file.body)


def run_on(call: list[str]) -> dict | None:
    """The document that a program prints last; None when it cannot run here."""
    done = subprocess.run(call, capture_output=True, text=True, timeout=120, check=False)
    if done.returncode != 0 or not done.stdout.strip():
        return None
    return json.loads(done.stdout.strip().splitlines()[-1])


def interpreter() -> str | None:
    """MicroPython's Unix port; None without it."""
    try:
        return find_interpreter()
    except NoInterpreterError:
        return None


def heap_after_start(bits: int) -> int | None:
    """Bytes held after start, on 32 bits (WebAssembly) or 64 (Unix port); None without it."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        lay_out(folder / "firmware")
        (folder / "nothing").write_bytes(b"")
        rest = [str(folder / "nothing"), str(folder / "written")]
        program = str(RUNTIME / "heap_after_start.py")
        if bits == 32:
            if shutil.which("node") is None or not WASM.exists():
                return None
            found = run_on(["node", str(RUNTIME / "wasm.mjs"), str(WASM), str(folder / "firmware"), program, *rest])
        elif interpreter() is None:
            return None
        else:
            found = run_on([interpreter(), "-X", "heapsize=2M", program, str(folder / "firmware"), *rest])
    return found["started"] if found else None


def bytes_a_pass() -> float | None:
    """Heap bytes per pass without a message, a step in every fourth; None without MicroPython."""
    firmware = Path(image.PACKAGE).parent
    with tempfile.TemporaryDirectory() as folder:
        nothing = Path(folder) / "nothing"
        nothing.write_bytes(b"")
        call = [interpreter(), "-X", "heapsize=8M", str(RUNTIME / "loop_passes.py"), str(firmware), str(nothing)]
        found = run_on([*call, f"{folder}/written", "total"]) if call[0] else None
    return None if found is None else found["silent"] / (found["turns"] / 2)


def required(name: str, extra: str = "") -> set[str]:
    """Names of everything installed with a distribution and one of its extras, itself included."""
    found, left = set(), [(name, extra)]
    while left:
        name, extra = left.pop()
        if (name, extra) in found:
            continue
        found.add((name, extra))
        for text in metadata.requires(name) or []:
            wanted = Requirement(text)
            if wanted.marker is None or wanted.marker.evaluate({"extra": extra}):
                left += [(wanted.name.lower(), each) for each in ("", *wanted.extras)]
    return {name for name, _ in found}


def installed_mb(extra: str = "") -> float | None:
    """MB of an installed Twinloop with its dependencies; None when one of them is missing here."""
    own = [Path(twinloop.__file__).parent, Path(twinloop_hil.__file__).parent, Path(__file__).parent.parent]
    size = sum(path.stat().st_size for folder in own for path in folder.rglob("*") if path.is_file() and path.suffix != ".pyc")
    try:
        for name in required("twinloop", extra) - {"twinloop"}:
            paths = [file.locate() for file in metadata.files(name) or [] if file.suffix != ".pyc"]
            size += sum(path.stat().st_size for path in paths if path.is_file())
    except metadata.PackageNotFoundError:
        return None
    return size / 1e6


def figures() -> list[Figure]:
    return [
        Figure("firmware compiled (.mpy, all modules and a board's data)", image.build(BOARD).size / 1000, "kB"),
        Figure("memory held after start, 32-bit MicroPython", kilobytes(heap_after_start(32)), "kB"),
        Figure("memory held after start, 64-bit MicroPython", kilobytes(heap_after_start(64)), "kB"),
        Figure("installed without extras, byte code left out", installed_mb(), "MB"),
        Figure("installed with [sim], byte code left out", installed_mb("sim"), "MB"),
        Figure("taken from the heap by a pass without a message, its steps included", bytes_a_pass(), "B"),
    ]


def kilobytes(size: int | None) -> float | None:
    return None if size is None else size / 1000
