"""The walk with the control core inside, both compiled from the shipped files."""

from __future__ import annotations

import hashlib
import sys
import types
from pathlib import Path
from types import SimpleNamespace

import numba
from twinloop.control import rules, station

from ..engine import compiled
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


def core_hash(folder: Path) -> str:
    """Hash over every file that a compiled walk depends on."""
    digest = hashlib.sha256(compiled.sources_hash(folder).encode())
    for path in (HERE / "core.py", HERE / "walk.py", *sorted((HERE / "truths").glob("*.py"))):
        digest.update(path.name.encode() + b"\n" + path.read_bytes())
    return digest.hexdigest()[:16]


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


def load_core(folder: Path | None = None) -> SimpleNamespace:
    """Compile `walk`, `replay`, `wake` and `begin` over a folder of control files; adds its rules.

    The compiled walk is kept on disk under a hash of all files that it depends on.
    """
    folder = folder or compiled.SHIPPED
    key = core_hash(folder)
    if key not in _cores:
        control = compiled.load_control(folder)
        alias = compiled.alias_of(folder)
        judge = load_truths(f"{alias}.explore_truths")
        walk = compiled.load_copy(f"{alias}.explore_walk", HERE / "walk.py", __package__)
        compiled.compile_functions(walk)
        walk.step = control.step
        walk.broken = judge.broken
        entries = [numba.njit(function.py_func, error_model="numpy") for function in (walk.walk, walk.replay)]
        for entry in entries:
            compiled.keep(entry, compiled.cache_folder(key))
        _cores[key] = SimpleNamespace(
            walk=entries[0],
            replay=entries[1],
            wake=control.wake,
            begin=shipped_truths.begin,
            rules=sys.modules[f"{compiled.ALIAS}.control.rules"],
        )
    return _cores[key]
