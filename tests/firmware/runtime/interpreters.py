"""The MicroPythons of these proofs: the Unix port, 64 bits, and the one that npm ships as WebAssembly, 32 bits."""

import ast
import shutil
import subprocess
from pathlib import Path

import pytest
import twinloop
from twinloop_hil.virtual.board import NoInterpreterError, find_interpreter

HERE = Path(__file__).parent
ROOT = HERE.parents[2]
FIRMWARE = Path(twinloop.__file__).parent.parent
# `make test` puts it there when npm is on the machine.
WASM = ROOT / ".venv/node/node_modules/@micropython/micropython-webassembly-pyscript/micropython.mjs"
# The longest run takes a minute; a MemoryError that leaves while the heap is locked never ends by itself.
TIMEOUT_S = 400
HEAP = "heapsize=8M"


def finish(command):
    """Run it to its end and return what it printed."""
    done = subprocess.run(command, capture_output=True, text=True, timeout=TIMEOUT_S, check=False)
    if done.returncode != 0:
        raise RuntimeError(f"{command[0]} ended with {done.returncode}: {done.stdout[-500:]}{done.stderr[-1500:]}")
    return done.stdout


def run_unix(program, firmware, source, sink, *rest):
    """A program of this folder on the Unix port; skips where there is none."""
    try:
        interpreter = find_interpreter()
    except NoInterpreterError as missing:
        pytest.skip(f"nothing was shown for 64-bit MicroPython: {missing}")
    return finish([interpreter, "-X", HEAP, str(HERE / program), str(firmware), str(source), str(sink), *rest])


def run_wasm(program, firmware, source, sink, *rest):
    """A program of this folder on the 32-bit build under node; skips where there is none."""
    if shutil.which("node") is None:
        pytest.skip("nothing was shown for 32-bit MicroPython: it needs node, which is not on the path")
    if not WASM.exists():
        pytest.skip(f"nothing was shown for 32-bit MicroPython: no {WASM.relative_to(ROOT)}; `make test` installs it through npm")
    return finish(["node", str(HERE / "wasm.mjs"), str(WASM), str(firmware), str(HERE / program), str(source), str(sink), *rest])


def planted(folder, module, function, text):
    """A copy of the firmware in which `text` stands in front of a function's own statements; `module` is a path below twinloop."""
    copy = Path(folder) / "firmware"
    shutil.copytree(FIRMWARE / "twinloop", copy / "twinloop", ignore=shutil.ignore_patterns("__pycache__"))
    path = copy / "twinloop" / module
    tree = ast.parse(path.read_text())
    (found,) = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and node.name == function]
    found.body[1:1] = ast.parse(text).body
    path.write_text(ast.unparse(ast.fix_missing_locations(tree)))
    return copy
