"""The firmware's own control files through numba: copies with every function compiled.

The interpreted modules stay untouched and remain the reference. The compile cache lies in a folder
named by the hash of everything that a compiled result depends on: for the core its files, for the
loops around it their files and the core's constants. numba's own key covers only the file of the
cached function, so it would miss a changed limit in a callee.

Of several processes that need the same function, one compiles it. The others wait and load it.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import importlib
import os
import sys
import tempfile
import time
import types
from pathlib import Path

import numba
import numpy as np
import twinloop
from numba.core.caching import IndexDataCacheFile
from numba.core.compiler_lock import global_compiler_lock

from ..thermal.plant import advance
from .bare import bare
from .pointed import NAMES, Loop, outside, plant_caller

try:
    import fcntl
except ImportError:  # On Windows every process compiles for itself.
    fcntl = None

# In import order.
CONTROL = (
    "tables",
    "reasons",
    "settings",
    "conditions",
    "state",
    "readings",
    "rules",
    "coldloop",
    "tank",
    "frost",
    "latches",
    "collect",
    "sequence",
    "air",
    "diagnosis",
    "alarms",
    "guard",
    "meter",
    "station",
)
# Called from outside, with arrays.
ENTRIES = ("step", "wake", "clear_meter")
ALIAS = "twinloop_compiled"
PACKAGE = Path(__file__).parent.parent
SHIPPED = Path(twinloop.__file__).parent / "control"
# A compiler that takes longer has been stopped, or the computer is very slow: compile as well.
PATIENCE_S = 600.0
LOOK_S = 0.05


def loop_files() -> list[Path]:
    """Every file that a compiled loop depends on, besides the core's constants."""
    return [
        SHIPPED / "tables.py",
        *(PACKAGE / name for name in ("trace.py", "storm/block.py", "storm/reference.py")),
        *(PACKAGE / "engine" / f"{name}.py" for name in ("bare", "block", "compiled", "pointed", "replay_block")),
        *sorted((PACKAGE / "thermal").rglob("*.py")),
    ]


def source_files(control_folder: Path) -> list[Path]:
    """Every file that a compiled run depends on."""
    return [*(control_folder / f"{name}.py" for name in CONTROL), *loop_files()]


def hash_of(paths: list[Path], more: str = "") -> str:
    """Hash of the names and bytes of these files, and of Python and numba."""
    digest = hashlib.sha256(f"{sys.version_info[:2]} numba {numba.__version__}{more}".encode())
    for path in paths:
        digest.update(path.name.encode() + b"\n" + path.read_bytes())
    return digest.hexdigest()[:16]


def sources_hash(control_folder: Path) -> str:
    """Hash of everything that a run with these control files depends on."""
    return hash_of(source_files(control_folder))


def is_constant(value) -> bool:
    """Whether compiled code can take this from a module: a number, a text, or a tuple of such."""
    if isinstance(value, tuple):
        return all(is_constant(entry) for entry in value)
    return value is None or isinstance(value, int | float | str | bytes)


def constants() -> str:
    """All constants of the installed core, which is all that loops around a core take from it."""
    modules = [vars(importlib.import_module(f"twinloop.control.{name}")) for name in CONTROL]
    # Not where the file lies.
    return repr([sorted(row for row in names.items() if is_constant(row[1]) and not row[0].startswith("__")) for names in modules])


def loops_hash(*more: Path) -> str:
    """Hash of everything that a loop depends on, with these files."""
    return hash_of([*loop_files(), *more], CONSTANTS)


# What this process runs, whatever is edited meanwhile.
IMPORTED = sources_hash(SHIPPED)
CONSTANTS = constants()


def cache_folder(key: str) -> Path:
    """The cache folder of this hash.

    A temporary folder when the cache is not writable, or when a file was edited after the import:
    what is compiled then may be neither the old files nor the new ones.
    """
    if sources_hash(SHIPPED) != IMPORTED:
        return Path(tempfile.mkdtemp(prefix="twinloop-cache-"))
    base = os.environ.get("TWINLOOP_CACHE") or os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    folder = Path(base) / "twinloop" / key
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if os.access(folder, os.W_OK):
            return folder
    except OSError:
        pass
    return Path(tempfile.mkdtemp(prefix="twinloop-cache-"))


@contextlib.contextmanager
def alone(path: Path):
    """Hold this lock file among all processes, or go on without it where that is not possible.

    The system frees the lock of a process that dies. Functions lock their callees only, so no two
    processes wait for each other.
    """
    with contextlib.ExitStack() as held:
        with contextlib.suppress(OSError):
            handle = held.enter_context(path.open("a"))
            until = time.monotonic() + PATIENCE_S
            while not is_locked(handle) and time.monotonic() < until:
                time.sleep(LOOK_S)
        yield


def is_locked(handle) -> bool:
    """Take the lock of an open file; False while another process has it."""
    if fcntl is None:
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def keep(function, folder: Path) -> None:
    """Read a compiled function from this folder, or compile it there, one process at a time."""
    numba.config.CACHE_DIR = str(folder)
    function.enable_caching()
    # The folder's name covers the source, so it does not matter where that lies: not to a wheel.
    function._cache._cache_path = str(folder)
    function._cache._cache_file = IndexDataCacheFile(str(folder), function._cache._impl.filename_base, folder.name)
    once = type(function).compile.__get__(function)

    def compile_alone(signature):
        # numba's own lock first: another thread may hold it and wait for this file.
        with global_compiler_lock, alone(folder / f"{function.py_func.__name__}.lock"):
            return once(signature)

    function.compile = compile_alone


def load_copy(name: str, path: Path, package: str) -> types.ModuleType:
    """Run a module's source under another name; the original stays interpreted."""
    module = types.ModuleType(name)
    module.__file__ = str(path)
    module.__package__ = package
    sys.modules[name] = module
    exec(compile(path.read_text(), str(path), "exec"), module.__dict__)
    return module


def is_table(value) -> bool:
    """Whether this is a tuple of integers, or of equally long tuples of integers."""
    if type(value) is not tuple or not value:
        return False
    if all(type(entry) is int for entry in value):
        return True
    return all(type(row) is tuple and len(row) == len(value[0]) and all(type(entry) is int for entry in row) for row in value)


def inner(function):
    """Compile a function that only compiled code calls."""
    return numba.njit(
        function, error_model="numpy", forceinline=True, no_cfunc_wrapper=True, no_cpython_wrapper=True, no_rewrites=True
    )


def entry(function):
    """Compile a function of the core that loops call by its address."""
    return numba.njit(function, error_model="numpy", no_cpython_wrapper=True, no_rewrites=True)


def compile_functions(module: types.ModuleType) -> None:
    """Replace each function that the module defines by a compiled one, and each table by an array.

    Compiled code copies a tuple each time a variable indexes it. Only compiled code may call these
    functions: without wrappers for C and Python, and without numba's rewrites of arrays, compiling
    takes a quarter less.
    """
    for name, value in list(vars(module).items()):
        if is_table(value):
            setattr(module, name, np.array(value, dtype=np.int64))
        if isinstance(value, types.FunctionType) and value.__module__ == module.__name__:
            setattr(module, name, inner(value))


def on_arrays(function, name: str):
    """A compiled function of the core that takes state, settings and inputs as int32 arrays."""

    def call(state, settings, inputs):
        function(bare(state, "state"), bare(settings, "settings"), bare(inputs, "inputs"))

    # The linker knows it by this name, see alias_of.
    call.__module__, call.__qualname__ = function.py_func.__module__, f"on_arrays.{name}"
    return numba.njit(call, error_model="numpy")


def alias_of(control_folder: Path) -> str:
    """Name of the package of copies, one for each set of files.

    The linker knows a compiled function by the name of its module. With two cached sets of files
    under one name in one process, the second would silently run the code of the first.
    """
    return f"{ALIAS}_{sources_hash(control_folder)}"


def load_control(control_folder: Path) -> types.ModuleType:
    """The compiled `station` of a folder with control files; sys.modules has its neighbours.

    `entries` are its compiled functions of bare rows, in the order of pointed.NAMES.
    """
    alias = alias_of(control_folder)
    package = types.ModuleType(f"{alias}.control")
    for name, folder in ((alias, types.ModuleType(alias)), (ALIAS, types.ModuleType(ALIAS)), (package.__name__, package)):
        folder.__path__ = []
        sys.modules[name] = folder
    module = package
    for name in CONTROL:
        module = load_copy(f"{package.__name__}.{name}", control_folder / f"{name}.py", package.__name__)
        setattr(package, name, module)
        # The last set loaded also has the short name.
        sys.modules[f"{ALIAS}.control.{name}"] = module
        compile_functions(module)
    # Kept by themselves: all blocks, walks and tests share one compiled step.
    kept_in = cache_folder(sources_hash(control_folder))
    kept = {name: entry(getattr(module, name).py_func) for name in ENTRIES}
    for name, function in kept.items():
        keep(function, kept_in)
        setattr(module, name, on_arrays(function, name))
    module.entries = [kept[name] for name in NAMES]
    return module


def is_cached() -> bool:
    """Whether a run with exactly these files of the installed firmware has been compiled before."""
    places = ((sources_hash(SHIPPED), "*.step-*.nbi"), (loops_hash(), "*.run_block-*.nbi"))
    return all(any(cache_folder(key).rglob(pattern)) for key, pattern in places)


def keep_compiled(*functions) -> None:
    """Have these functions of the plant read from the disk what an earlier process compiled."""
    for function in functions:
        keep(function, cache_folder(loops_hash()))


@functools.cache
def plant_entry():
    """The plant's step for bare rows, kept by itself: loops and Python share one compiled step."""
    step = numba.njit(advance.py_func, error_model="numpy", no_cpython_wrapper=True)
    keep(step, cache_folder(loops_hash()))
    return step


@functools.cache
def plant_step():
    """The plant's step for loops, which may give bare rows, and for Python, which gives arrays."""
    step = numba.njit(plant_caller(plant_entry()), error_model="numpy", no_cfunc_wrapper=True)
    keep_compiled(step)
    return step


@functools.cache
def compiled_loop(source: str, function: str):
    """A loop that calls the core by its address, compiled and cached on disk; for any core."""
    original = importlib.import_module(f"{PACKAGE.name}.{source}")
    copy = load_copy(f"{ALIAS}_{loops_hash()}.{source.replace('.', '_')}", Path(original.__file__), original.__package__)
    copy.step, copy.wake, copy.advance = outside().step, outside().wake, plant_step()
    loop = numba.njit(getattr(copy, function), error_model="numpy")
    keep(loop, cache_folder(loops_hash()))
    return loop


_blocks: dict[tuple[str, str], Loop] = {}


def compiled_block(control_folder: Path | None = None, source: str = "engine.block", function: str = "run_block") -> Loop:
    """A block's compiled inner loop with the compiled control step.

    `source` and `function` name the loop: a module of twinloop_sim that imports `step`, perhaps
    `wake`. The control files are the installed firmware's unless another folder is given.
    """
    folder = control_folder or SHIPPED
    key = sources_hash(folder)
    if (key, function) not in _blocks:
        _blocks[key, function] = Loop(compiled_loop(source, function), load_control(folder).entries)
    return _blocks[key, function]
