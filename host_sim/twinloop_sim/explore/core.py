"""The walk and the control core, both compiled from the shipped files."""

from __future__ import annotations

import functools
import sys
import types
from pathlib import Path
from types import SimpleNamespace

import numba
from twinloop.control import rules, station

from ..engine import compiled
from ..engine.pointed import Loop, outside
from . import truths as shipped_truths
from . import walk as shipped_walk

HERE = Path(__file__).parent
# The files of truths/ in import order: what the topics share, the topics, and their judge.
TRUTH_FILES = (
    *("facts", "memory", "glycol"),
    *(topic.__name__.rpartition(".")[2] for topic in shipped_truths.TOPICS),
    "judge",
)
_cores: dict[str, SimpleNamespace] = {}


def walk_hash() -> str:
    """Hash over everything that a compiled walk depends on, whatever the core."""
    return compiled.loops_hash(HERE / "core.py", HERE / "walk.py", *sorted((HERE / "truths").glob("*.py")))


def judge_all(truths, module: str):
    """Compile the truths into one function of this module that returns their bits.

    Compiled code cannot index a tuple of functions.
    """
    lines = [f"    if truth_{bit}(m, state, settings, inputs):\n        bits |= {1 << bit}" for bit in range(len(truths))]
    scope = {"__name__": module} | {f"truth_{bit}": truth for bit, truth in enumerate(truths)}
    exec("\n".join(["def judged(m, state, settings, inputs):", "    bits = 0", *lines, "    return bits"]), scope)
    return compiled.inner(scope["judged"])


def load_truths(name: str) -> types.ModuleType:
    """A compiled copy of the truths, as a package of this name; returns its module `judge`."""
    package = types.ModuleType(name)
    package.__path__ = []
    sys.modules[name] = package
    for file in TRUTH_FILES:
        module = compiled.load_copy(f"{name}.{file}", HERE / "truths" / f"{file}.py", name)
        setattr(package, file, module)
        compiled.compile_functions(module)
    judge = package.judge
    judge.judged = judge_all([getattr(topic, truth.__name__) for topic in judge.TOPICS for truth in topic.TRUTHS], judge.__name__)
    return judge


def interpreted() -> SimpleNamespace:
    """The reference: what load_core gives, from the installed firmware and without a compiler."""
    return SimpleNamespace(
        walk=shipped_walk.walk, replay=shipped_walk.replay, wake=station.wake, begin=shipped_truths.begin, rules=rules
    )


@functools.cache
def compiled_walk() -> list:
    """`walk` and `replay`, compiled for any core and kept on disk."""
    alias = f"{compiled.ALIAS}_{walk_hash()}"
    judge = load_truths(f"{alias}.explore_truths")
    walk = compiled.load_copy(f"{alias}.explore_walk", HERE / "walk.py", __package__)
    compiled.compile_functions(walk)
    walk.step = outside().step
    walk.broken = judge.broken
    entries = [numba.njit(function.py_func, error_model="numpy") for function in (walk.walk, walk.replay)]
    for entry in entries:
        compiled.keep(entry, compiled.cache_folder(walk_hash()))
    return entries


def load_core(folder: Path | None = None) -> SimpleNamespace:
    """Give `walk`, `replay`, `wake` and `begin` over a folder of control files, and its rules."""
    folder = folder or compiled.SHIPPED
    key = compiled.sources_hash(folder)
    if key not in _cores:
        control = compiled.load_control(folder)
        walk, replay = (Loop(entry, control.entries) for entry in compiled_walk())
        _cores[key] = SimpleNamespace(
            walk=walk,
            replay=replay,
            wake=control.wake,
            begin=shipped_truths.begin,
            rules=sys.modules[f"{compiled.ALIAS}.control.rules"],
        )
    return _cores[key]
