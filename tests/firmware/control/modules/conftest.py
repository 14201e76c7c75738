"""Stations for the tests of several modules, and a core that minds what its functions hang on."""

import pytest

from .. import core
from ..matrix import hangs


@pytest.fixture(scope="session")
def shipped():
    """The control core as it is shipped; what a test calls may hang on nothing else (hangs.py)."""
    return hangs.watch(core.load("twinloop.control"))


@pytest.fixture(autouse=True)
def _minded_anew(shipped):
    """Each test's calls are counted from zero."""
    shipped.minder.calls.clear()


@pytest.fixture
def charging(calm, shipped):
    """Glycol flows to the exchanger, 10 K warmer than the tank; the tank pump is still off."""
    calm.change(DUTY="CHARGING", REASON="DIFFERENCE", COLLECTOR_PUMP_ON=1, DUMP_VALVE_POWER_ON=1, VALVE_MS=120000)
    for output in range(shipped.state.OUTPUTS):
        calm.state[shipped.state.OUTPUT_MS + output] = 600000
    return calm.change(LOOP_SUPPLY_MC=30000, EXCHANGER_MC=30000, COLLECTOR_MC=40000)
