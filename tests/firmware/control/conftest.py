"""Shared by the tests of the control core."""

import functools

import pytest
from twinloop_hil.sequences import common, relay_script

from . import core, ranges, stations
from .protections import library

# All sensors lost at once; the sequences lose them one by one.
ALL_LOST = common.sequence(
    "all_sensors_lost",
    [*common.LONG_CHARGING, *([["break", name, "CAUSE_OPEN"] for name in common.MILD]), ["keep", 300000, {}]],
)


@pytest.fixture(scope="session")
def shipped():
    """The control core as it is shipped: its modules under their short names."""
    return core.load("twinloop.control")


@pytest.fixture(scope="session")
def s(shipped):
    """The names of state and inputs."""
    return shipped.state


@pytest.fixture(scope="session")
def cfg(shipped):
    """The names of the settings."""
    return shipped.settings


@pytest.fixture(scope="session")
def run_here(shipped):
    """The finished run of a sequence on CPython, by name; each sequence runs once.

    Its `beyond` has the first step that left the range of an entry of the state.
    """
    limits = ranges.limits(shipped)

    def note(run):
        if run.beyond is None and (found := ranges.outside(run.state, limits)) is not None:
            run.beyond = (run.phase, run.time_ms, *found)

    def run(name):
        begun = relay_script.Run(shipped, library.BY_NAME[name], note)
        begun.beyond = None
        return begun.run()

    return functools.cache(run)


@pytest.fixture(scope="session")
def micropython():
    """The path of MicroPython; skips without one."""
    if core.micropython() is None:
        pytest.skip("not tested on MicroPython: none beside the interpreter or on the path")
    return core.micropython()


@pytest.fixture(scope="session")
def on_micropython(micropython, tmp_path_factory):
    """What every sequence left on MicroPython, and what its steps took: all run in one process."""
    return core.run_micropython(tmp_path_factory.mktemp("micropython"), [*library.SEQUENCES, ALL_LOST])


@pytest.fixture
def arrays(shipped):
    """The arrays of a station that has just woken with default settings."""
    return stations.fresh_arrays(shipped)


@pytest.fixture
def calm(shipped):
    """The arrays of a calm station."""
    return stations.calm_arrays(shipped)
