"""Runs programs on MicroPython: the 64-bit Unix port and npm's 32-bit WebAssembly build."""

import ast
import json
import shutil
import subprocess
from pathlib import Path

import pytest
import twinloop
from twinloop_hil.board import image, short_names, slim
from twinloop_hil.virtual.board import NoInterpreterError, find_interpreter

HERE = Path(__file__).parent
ROOT = HERE.parents[2]
FIRMWARE = Path(twinloop.__file__).parent.parent
# `make test` installs it if there is npm.
WASM = ROOT / ".venv/node/node_modules/@micropython/micropython-webassembly-pyscript/micropython.mjs"
# The longest run takes a minute; a MemoryError under a locked heap would hang for ever.
TIMEOUT_S = 400
HEAP = "heapsize=8M"


def finish(command):
    """Run a command; returns what it printed."""
    done = subprocess.run(command, capture_output=True, text=True, timeout=TIMEOUT_S, check=False)
    if done.returncode != 0:
        raise RuntimeError(f"{command[0]} ended with {done.returncode}: {done.stdout[-500:]}{done.stderr[-1500:]}")
    return done.stdout


def run_unix(program, firmware, source, sink, *rest):
    """Run a program of this folder on the Unix port; skips without one."""
    try:
        interpreter = find_interpreter()
    except NoInterpreterError as missing:
        pytest.skip(f"not tested on 64-bit MicroPython: {missing}")
    return finish([interpreter, "-X", HEAP, str(HERE / program), str(firmware), str(source), str(sink), *rest])


def run_wasm(program, firmware, source, sink, *rest):
    """Run a program of this folder on the 32-bit build under node; skips without one."""
    if shutil.which("node") is None:
        pytest.skip("not tested on 32-bit MicroPython: node is not on the path")
    if not WASM.exists():
        pytest.skip(f"not tested on 32-bit MicroPython: no {WASM.relative_to(ROOT)}; `make test` installs it through npm")
    return finish(["node", str(HERE / "wasm.mjs"), str(WASM), str(firmware), str(HERE / program), str(source), str(sink), *rest])


# How a program runs on each MicroPython, and how it weighs what it takes from the heap there.
RUNTIMES = {"64-bit": (run_unix, "total"), "32-bit": (run_wasm, "lock")}
each_runtime = pytest.mark.parametrize("runtime", RUNTIMES)


def board_files(folder):
    """The folder, with a board's files, and the programs with names replaced in the same way."""
    for file in image.build("pico").files:
        path = folder / "firmware" / file.path
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(file.body)
    for name in ("replay.py", "loop_passes.py", "whole_board.py"):
        text = slim.slim((HERE / name).read_text(), "test_program")
        (folder / name).write_text(short_names.shorten_program(text))
    return folder


def document(program, folder, firmware=FIRMWARE, run=run_unix, *rest):
    """What a program prints that reads no file and writes an empty one."""
    (folder / "nothing").write_bytes(b"")
    printed = run(program, firmware, folder / "nothing", folder / "written", *rest)
    # Files that a power cut left open print a warning; the document is the last line.
    return json.loads(printed.splitlines()[-1])


def planted(folder, module, function, text):
    """A copy of the firmware with `text` inserted into a function; `module` is below twinloop."""
    copy = Path(folder) / "firmware"
    shutil.copytree(FIRMWARE / "twinloop", copy / "twinloop", ignore=shutil.ignore_patterns("__pycache__"))
    path = copy / "twinloop" / module
    tree = ast.parse(path.read_text())
    (found,) = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and node.name == function]
    found.body[1:1] = ast.parse(text).body
    path.write_text(ast.unparse(ast.fix_missing_locations(tree)))
    return copy
