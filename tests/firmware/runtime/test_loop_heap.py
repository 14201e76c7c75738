"""A pass without a whole message takes nothing from the heap, on both MicroPythons."""

import pytest
from twinloop.control import state as s

from . import interpreters


def weigh(runtime, folder, firmware=interpreters.FIRMWARE):
    """Weigh the passes on one of the MicroPythons."""
    run, way = interpreters.RUNTIMES[runtime]
    return interpreters.document("loop_passes.py", folder, firmware, run, way)


@interpreters.each_runtime
def test_a_pass_takes_nothing_from_the_heap(runtime, tmp_path):
    """1000 silent passes, 1000 with a stray byte and a bad flash; in the end all relays are on."""
    found = weigh(runtime, tmp_path)
    assert found["silent"] == found["stray"] == 0
    assert found["turns"] == 2000
    assert found["steps"] == 500
    assert found["relays"] == [1] * s.OUTPUTS


@interpreters.each_runtime
@pytest.mark.parametrize(
    ("module", "function"),
    [("loop.py", "count_uptime"), ("loop.py", "apply"), ("desk.py", "tend"), ("drivers/relays.py", "renew")],
)
def test_a_list_in_any_part_of_the_pass_is_seen(module, function, runtime, tmp_path):
    changed = interpreters.planted(tmp_path, module, function, "kept = [self, self]")
    assert weigh(runtime, tmp_path, changed)["silent"] > 0
