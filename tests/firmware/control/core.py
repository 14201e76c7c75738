"""The shipped control core, whole or changed, on CPython and on MicroPython."""

import functools
import importlib
import importlib.machinery
import itertools
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import twinloop.control
from twinloop_hil.sequences import relay_script

HERE = Path(__file__).parent
CONTROL = Path(twinloop.control.__file__).parent
FIRMWARE = CONTROL.parent.parent
MODULES = sorted(path.stem for path in CONTROL.glob("*.py") if path.stem != "__init__")
# All sequences take half a minute; this ends a MicroPython that hangs.
MICROPYTHON_TIMEOUT_S = 400
# A trace stays in memory until it is printed; the default heap is 2 MB.
HEAP = "heapsize=32M"
_copies = itertools.count()


def load(package):
    """All modules of a control package, by short name."""
    return SimpleNamespace(**{name: importlib.import_module(f"{package}.{name}") for name in MODULES})


def write_changed(folder, changes):
    """Write a copy of the package with these sources changed; returns the copy's name."""
    package = f"changed_control_{next(_copies)}"
    place = Path(folder) / package
    place.mkdir()
    for path in CONTROL.glob("*.py"):
        (place / path.name).write_text(changes.get(path.stem) or path.read_text())
    return package


@functools.cache
def compiled_source(source, path):
    """A module's code, cached: most modules of a changed core are the shipped ones."""
    return compile(source, path, "exec")


class ChangedFinder:
    """Finds the modules of one changed core: the given sources, otherwise the shipped ones."""

    def __init__(self, package, changes, names):
        self.package = package
        self.changes = changes
        self.names = names

    def find_spec(self, name, path=None, target=None):
        """The specification of a module of this core, None for other names."""
        package, _, module = name.partition(".")
        if package != self.package:
            return None
        return importlib.machinery.ModuleSpec(name, self, origin=str(CONTROL / f"{module or '__init__'}.py"), is_package=not module)

    def create_module(self, spec):
        """An ordinary module."""

    def exec_module(self, module):
        """Run the changed source if there is one, otherwise the shipped one."""
        origin = module.__spec__.origin
        source = self.changes.get(Path(origin).stem) or Path(origin).read_text()
        vars(module).update(self.names)
        exec(compiled_source(source, origin), module.__dict__)


def load_changed(changes, names=None):
    """Import a core with these sources changed, under a name of its own; nothing is written.

    `names` are values that every module finds under these names.
    """
    package = f"changed_control_{next(_copies)}"
    finder = ChangedFinder(package, changes, names or {})
    sys.meta_path.insert(0, finder)
    try:
        return load(package)
    finally:
        sys.meta_path.remove(finder)
        for name in [name for name in sys.modules if name.split(".")[0] == package]:
            del sys.modules[name]


def micropython():
    """The Unix port, beside this interpreter or on the path; None without one."""
    beside = Path(sys.executable).with_name("micropython")
    return str(beside) if beside.exists() else shutil.which("micropython")


def run_micropython(folder, sequences, core_folder=FIRMWARE, package="twinloop.control"):
    """Run a batch of sequences in one MicroPython process; returns the runs by name, and weights.

    A trace has the hash of the whole state after each step.
    Weights are [steps, bytes taken from the heap] by duty, and for steps with a lost sensor.
    """
    path = Path(folder) / "sequences.json"
    path.write_text(json.dumps(sequences))
    command = [micropython(), "-X", HEAP, HERE / "micropython_runner.py", core_folder, package, path]
    # MicroPython adds the runner's own folder itself.
    env = {**os.environ, "MICROPYPATH": f"{Path(relay_script.__file__).parent}:.frozen"}
    done = subprocess.run(command, capture_output=True, text=True, timeout=MICROPYTHON_TIMEOUT_S, check=False, env=env)
    if done.returncode != 0:
        raise RuntimeError(f"MicroPython ended with {done.returncode}: {done.stdout[-500:]}{done.stderr[-500:]}")
    *lines, weights = map(json.loads, done.stdout.splitlines())
    runs = {}
    for name, failures, trace, guard_actions in lines:
        trace = np.frombuffer(bytes.fromhex(trace), dtype=np.uint32).tolist()
        runs[name] = {"failures": failures, "trace": trace, "guard_actions": guard_actions}
    return runs, weights
