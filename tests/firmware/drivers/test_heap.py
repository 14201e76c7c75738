"""A warm driver takes nothing from the heap, frames and exceptions included."""

import pytest
from twinloop.control import state as s

from ..runtime import interpreters

DRIVERS = "../drivers/heap_script.py"
PORT = "../drivers/port_script.py"


def test_hot_paths_take_nothing_from_the_heap(tmp_path):
    """200 rounds after 200 of warm-up; values, causes and drawn bytes show that they worked."""
    found = interpreters.document(DRIVERS, tmp_path)
    assert (found["sensors"], found["relays"], found["light"], found["display"]) == (0, 0, 0, 0)
    assert found["causes"] == [0] * s.SENSORS
    assert abs(found["values"][s.COLLECTOR] - 60250) < 60
    assert found["values"][s.TANK_LOW] == 25062 + 250
    assert found["drawn"] > 200 * 1024


@pytest.mark.parametrize(
    ("module", "function", "what"),
    [
        ("ds18b20", "judge", "sensors"),
        ("max31865", "take", "sensors"),
        ("ntc", "divider_mc", "sensors"),
        ("relays", "astray", "relays"),
        ("led", "tend", "light"),
        ("display", "draw_number", "display"),
    ],
)
def test_a_list_in_any_driver_is_seen(tmp_path, module, function, what):
    changed = interpreters.planted(tmp_path, f"drivers/{module}.py", function, "kept = [self, self]")
    assert interpreters.document(DRIVERS, tmp_path, changed)[what] > 0


def test_a_pass_of_the_real_port_takes_nothing(tmp_path):
    """A second of passes and steps: console, leases, read-back, chips, light, display."""
    found = interpreters.document(PORT, tmp_path)
    assert found["taken"] == 0
    assert found["steps"] >= 20
    assert found["causes"] == [s.CAUSE_SILENT, s.CAUSE_SILENT]


def test_a_list_in_the_port_is_seen(tmp_path):
    changed = interpreters.planted(tmp_path, "port.py", "read_byte", "kept = [self, self]")
    assert interpreters.document(PORT, tmp_path, changed)["taken"] > 0
