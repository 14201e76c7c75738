"""Of several processes that need a function, one compiles it and the others load it."""

import ast
import contextlib
import importlib
import signal
import subprocess
import sys
import types
from pathlib import Path

import numba
import pytest
from twinloop.control import diagnosis, frost, rules
from twinloop.control import state as s
from twinloop_sim.engine import compiled, pointed
from twinloop_sim.explore import core

HOLD = "import fcntl, sys; file = open(sys.argv[1], 'a'); fcntl.flock(file, fcntl.LOCK_EX); print(flush=True); sys.stdin.read()"


def double(value):
    """Stands for a function that takes long to compile."""
    return 2 * value


def counts(function):
    """How often it was loaded, and how often compiled."""
    return sum(function.stats.cache_hits.values()), sum(function.stats.cache_misses.values())


@pytest.fixture
def other(tmp_path):
    """Another process that holds the lock file until it is killed."""
    call = [sys.executable, "-c", HOLD, tmp_path / "double.lock"]
    with subprocess.Popen(call, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        process.stdout.readline()
        yield process
        process.kill()


def test_who_had_to_wait_loads_what_the_other_compiled(tmp_path, monkeypatch):
    """The other one compiles between the wait for the lock and the look into the cache."""
    first, second = numba.njit(double), numba.njit(double)
    asked = []

    @contextlib.contextmanager
    def alone(path):
        asked.append(path)
        if len(asked) == 1:
            assert second(3) == 6
        yield

    monkeypatch.setattr(compiled, "alone", alone)
    compiled.keep(first, tmp_path)
    compiled.keep(second, tmp_path)
    assert first(3) == 6
    assert (counts(second), counts(first)) == ((0, 1), (1, 0))
    assert asked == [tmp_path / "double.lock"] * 2


def test_a_killed_process_frees_the_lock(tmp_path, other):
    with open(tmp_path / "double.lock", "a") as file:
        assert not compiled.is_locked(file)
        other.send_signal(signal.SIGKILL)
        other.wait()
        assert compiled.is_locked(file)


def test_waiting_ends_when_the_other_is_done(tmp_path, other, monkeypatch):
    looks = []

    def release(_):
        looks.append(len(looks))
        other.kill()
        other.wait()

    monkeypatch.setattr(compiled.time, "sleep", release)
    with compiled.alone(tmp_path / "double.lock"), open(tmp_path / "double.lock", "a") as file:
        assert looks == [0]
        assert not compiled.is_locked(file), "now it is ours"


def test_another_that_never_ends_is_not_waited_for_for_ever(tmp_path, other, monkeypatch):
    monkeypatch.setattr(compiled, "PATIENCE_S", 0.0)
    with compiled.alone(tmp_path / "double.lock"):
        pass
    assert other.poll() is None


@pytest.mark.parametrize("problem", ["no such folder", "no locks"])
def test_without_a_lock_it_goes_on(problem, tmp_path, monkeypatch):
    """A cache that cannot be written, and a file system without locks."""
    folder = tmp_path / "not there" if problem == "no such folder" else tmp_path

    def refuse(*_):
        raise OSError("no locks available")

    monkeypatch.setattr(compiled.fcntl, "flock", refuse)
    done = []
    with compiled.alone(folder / "double.lock"):
        done.append(problem)
    assert done == [problem]


def test_what_fails_to_compile_leaves_no_lock(tmp_path):
    def wrong(value):
        return value.no_such_field

    function = numba.njit(wrong)
    compiled.keep(function, tmp_path)
    with pytest.raises(numba.core.errors.TypingError):
        function(3)
    with open(tmp_path / "wrong.lock", "a") as file:
        assert compiled.is_locked(file)


def test_what_is_compiled_after_an_edit_is_not_kept(tmp_path, monkeypatch):
    """Files that are edited while a process runs must not end under the new files' key."""
    monkeypatch.setenv("TWINLOOP_CACHE", str(tmp_path))
    assert compiled.cache_folder("key") == tmp_path / "twinloop" / "key"
    monkeypatch.setattr(compiled, "IMPORTED", "of the files before the edit")
    assert tmp_path not in compiled.cache_folder("key").parents


@pytest.mark.parametrize(("module", "name", "value"), [(diagnosis, "FOUL_LIMIT_S", 1), (rules, "NEEDS", (1, 2)), (s, "OUTPUTS", 9)])
def test_a_constant_of_the_core_is_in_the_key_of_the_loops(module, name, value, monkeypatch):
    """Loops are kept when the core changes: they see its constants, and call the rest."""
    assert compiled.constants() == compiled.CONSTANTS
    monkeypatch.setattr(module, name, value)
    assert compiled.constants() != compiled.CONSTANTS


def test_every_file_of_a_loop_is_in_its_key(monkeypatch):
    before = compiled.loops_hash()
    assert compiled.loops_hash(Path(__file__)) != before
    monkeypatch.setattr(compiled, "CONSTANTS", "")
    assert compiled.loops_hash() != before


def taken_from_core(source):
    """Whatever this text takes from modules of the core: (module, name)."""
    taken, modules = set(), {}
    tree = ast.parse(source)
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module == "twinloop.control":
            modules |= {alias.asname or alias.name: alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("twinloop.control."):
            taken |= {(node.module.rpartition(".")[2], alias.name) for alias in node.names}
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in modules:
            taken.add((modules[node.value.id], node.attr))
    return taken


def uncovered(source):
    """What the key of the loops misses of that: no constant, no address, not in tables.py."""
    return {
        (module, name)
        for module, name in taken_from_core(source)
        if name not in pointed.NAMES and module != "tables"
        if not compiled.is_constant(getattr(importlib.import_module(f"twinloop.control.{module}"), name))
    }


def test_loops_take_only_what_their_key_covers():
    walked = [core.HERE / "walk.py", *(core.HERE / "truths").glob("*.py")]
    texts = [path.read_text() for path in [*compiled.loop_files(), *walked]]
    assert set.union(*map(taken_from_core, texts)) > {("station", "step"), ("station", "wake")}
    assert [uncovered(text) for text in texts if uncovered(text)] == []


@pytest.mark.parametrize(
    "source", ["from twinloop.control.frost import {name}", "from twinloop.control import frost as f\nf.{name}()"]
)
def test_a_function_of_the_core_in_a_loop_is_found(source):
    name = next(name for name, value in vars(frost).items() if isinstance(value, types.FunctionType))
    assert uncovered(source.format(name=name)) == {("frost", name)}


def test_where_the_source_lies_does_not_matter(tmp_path):
    """An installed wheel loads what the checkout compiled from the same files."""
    counted = []
    for place in ("here", "there"):
        (tmp_path / place).mkdir()
        path = tmp_path / place / "module.py"
        path.write_text("def triple(value):\n    return 3 * value\n")
        triple = numba.njit(compiled.load_copy("module_of_this_test", path, "").triple)
        compiled.keep(triple, tmp_path)
        assert triple(3) == 9
        counted.append(counts(triple))
    assert counted == [(0, 1), (1, 0)]
