"""Shared by the tests of the control core."""

import functools

import pytest
from twinloop_hil.sequences import relay_script

from . import core, stations
from .protections import library


@pytest.fixture(scope="session")
def shipped():
    """The control core as it is shipped: its modules under their short names."""
    return core.load("twinloop.control")


@pytest.fixture(scope="session")
def run_here(shipped):
    """What a sequence of the library left on CPython: each is run once."""
    return functools.cache(lambda name: relay_script.Run(shipped, library.BY_NAME[name]).run())


@pytest.fixture(scope="session")
def micropython():
    """The interpreter of the parity tests."""
    if core.micropython() is None:
        pytest.skip("no micropython beside the interpreter or on the path: nothing was shown for MicroPython")
    return core.micropython()


@pytest.fixture(scope="session")
def on_micropython(micropython, tmp_path_factory):
    """What every sequence left on MicroPython: one process for all of them."""
    return core.run_micropython(tmp_path_factory.mktemp("micropython"), library.SEQUENCES, "trace")


@pytest.fixture
def arrays(shipped):
    """State, settings and inputs of a station that has just woken, with default settings."""
    return stations.fresh_arrays(shipped)


@pytest.fixture
def calm(shipped):
    """State, settings and inputs of a calm station, and `change(NAME=value)` for each of the three."""
    arrays = stations.calm_arrays(shipped)
    arrays.change = functools.partial(stations.change, shipped, arrays)
    return arrays
