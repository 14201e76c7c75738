"""Stations that several modules are tried on."""

import pytest


@pytest.fixture
def charging(calm, shipped):
    """Glycol flows to the exchanger through an open valve, the tank pump has not joined; supply 10 K above the tank."""
    calm.change(DUTY="CHARGING", REASON="DIFFERENCE", COLLECTOR_PUMP_ON=1, DUMP_VALVE_POWER_ON=1, VALVE_MS=120000)
    for output in range(shipped.state.OUTPUTS):
        calm.state[shipped.state.OUTPUT_MS + output] = 600000
    return calm.change(LOOP_SUPPLY_MC=30000, EXCHANGER_MC=30000, COLLECTOR_MC=40000)
