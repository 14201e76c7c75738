"""Shared by all tests."""

import gc
import os
from pathlib import Path

import pytest
from hypothesis import settings
from twinloop_hil.virtual.board import NoInterpreterError, find_interpreter

# The same examples on every machine, however slow, and more than by default: what fails in CI fails
# at home.
settings.register_profile("same everywhere", max_examples=300, deadline=None, derandomize=True, database=None)
settings.load_profile("same everywhere")
# Compiling makes many objects and next to no cycles: a tenth of its time would be collections.
gc.set_threshold(50000, 20, 20)
# Slow files, slowest first: started early, none is left for a single worker at the end.
LONG = (
    "test_bench",
    "test_every_runtime",
    "test_engine",
    "test_rehearsal",
    "test_explore",
    "test_explore_mutants",
    "test_relay_truth",
    "test_sample",
    "test_without",
    "test_storm",
    "test_wheel",
    "test_many",
    "test_detection",
    "test_flash",
    "test_small_integers",
    "test_closed_loop",
    "test_tool",
    "test_runtime_heap",
    "test_matrix",
    "test_long_clock",
    "test_station",
    "test_parity",
    "test_image",
    "test_starts",
)


@pytest.fixture(scope="session")
def interpreter():
    """The path of MicroPython; without one the test is skipped with a reason."""
    try:
        return find_interpreter()
    except NoInterpreterError as missing:
        pytest.skip(str(missing))


@pytest.fixture(scope="module", autouse=True)
def _frozen():
    """Leave what imports and earlier files made out of collections: self_check makes many."""
    gc.freeze()


# First, because tests/mutants/run.py has an order of its own.
@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """Run long files first. pytest-xdist keeps this order only with --no-loadscope-reorder."""
    gone = set(LONG) - {path.stem for path in Path(__file__).parent.rglob("test_*.py")}
    if gone:
        raise pytest.UsageError(f"tests/conftest.py: LONG names {', '.join(sorted(gone))}: no such test file")
    ranks = {name: rank for rank, name in enumerate(LONG)}
    items.sort(key=lambda item: ranks.get(item.path.stem, len(LONG)))


def pytest_terminal_summary(terminalreporter, exitstatus, config):
    """In CI a skipped test counts as a failure: say so."""
    if os.environ.get("TWINLOOP_NO_SKIPS") and terminalreporter.stats.get("skipped"):
        terminalreporter.write_line("tests were skipped, which CI does not accept", red=True)


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session, exitstatus):
    """In CI a skipped test counts as a failure: fail."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if os.environ.get("TWINLOOP_NO_SKIPS") and reporter is not None and reporter.stats.get("skipped") and exitstatus == 0:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
