"""Rows by sensor name."""

import pytest
from twinloop.control import state as s
from twinloop_hil.readings import row


def test_a_row_has_a_value_for_every_sensor():
    found = row(7, tap=1)
    assert found[s.TAP] == 1
    assert len(found) == s.SENSORS and found.count(7) == s.SENSORS - 1


def test_an_unknown_sensor_is_refused():
    """A misspelt name does not disappear."""
    with pytest.raises(ValueError, match="no such sensor: tank_lo"):
        row(tank_lo=1)
