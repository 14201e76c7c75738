"""The walk with the control core inside it, through numba: the same files as everywhere, compiled by compiled.py's means."""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path
from types import SimpleNamespace

import numba
import twinloop
from twinloop.control import rules, station

from ..engine import compiled
from . import truths as shipped_truths
from . import walk as shipped_walk

HERE = Path(__file__).parent
FILES = ("truths", "walk")
_cores: dict[str, SimpleNamespace] = {}


def control_files() -> Path:
    """The installed firmware's control folder."""
    return Path(twinloop.__file__).parent / "control"


def core_hash(folder: Path) -> str:
    """Hash over every file that a compiled walk depends on."""
    digest = hashlib.sha256(compiled.sources_hash(folder).encode())
    for name in FILES:
        digest.update((HERE / f"{name}.py").read_bytes())
    return digest.hexdigest()[:16]


def judge_all(truths, functions):
    """Truths as one compiled function that returns their bits, built as a tree: a chain would be too deep for the compiler."""
    if len(functions) == 1:
        return numba.njit(truths.single.py_func(functions[0]), error_model="numpy", forceinline=True)
    half = len(functions) // 2
    left, right = judge_all(truths, functions[:half]), judge_all(truths, functions[half:])
    return numba.njit(truths.joined.py_func(left, right, half), error_model="numpy", forceinline=True)


def interpreted() -> SimpleNamespace:
    """The same as load_core, from the installed firmware and without a compiler: the reference."""
    return SimpleNamespace(
        walk=shipped_walk.walk, replay=shipped_walk.replay, wake=station.wake, begin=shipped_truths.begin, rules=rules
    )


def load_core(folder: Path | None = None) -> SimpleNamespace:
    """`walk`, `replay`, `wake` and `begin`, compiled over the control files of a folder, and that folder's rules module.

    Args: `folder` (the installed firmware's control files when left out). The compiled walk is kept on disk under a hash of all
    files that it depends on.
    """
    folder = folder or control_files()
    key = core_hash(folder)
    if key not in _cores:
        control = compiled.load_control(folder)
        truths = compiled.load_copy(f"{compiled.alias_of(folder)}.explore_truths", HERE / "truths.py", __package__)
        compiled.compile_functions(truths, inline=True)
        truths.judged = judge_all(truths, [getattr(truths, truth.__name__) for truth in truths.TRUTHS])
        walk = compiled.load_copy(f"{compiled.alias_of(folder)}.explore_walk", HERE / "walk.py", __package__)
        compiled.compile_functions(walk)
        walk.step = control.step
        walk.broken = truths.broken
        numba.config.CACHE_DIR = str(compiled.cache_folder(key))
        _cores[key] = SimpleNamespace(
            walk=numba.njit(walk.walk.py_func, error_model="numpy", cache=True),
            replay=numba.njit(walk.replay.py_func, error_model="numpy", cache=True),
            wake=control.wake.py_func,
            begin=truths.begin.py_func,
            rules=sys.modules[f"{compiled.ALIAS}.control.rules"],
        )
    return _cores[key]
