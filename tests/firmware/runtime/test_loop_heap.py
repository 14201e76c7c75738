"""A pass without a whole message takes nothing from the heap, on both MicroPythons."""

import json

import pytest

from . import interpreters

RUNTIMES = {"64-bit": (interpreters.run_unix, "total"), "32-bit": (interpreters.run_wasm, "lock")}
each_runtime = pytest.mark.parametrize("runtime", RUNTIMES)


def weigh(runtime, folder, firmware=interpreters.FIRMWARE):
    """Weigh the passes on one of the MicroPythons."""
    run, way = RUNTIMES[runtime]
    nothing = folder / "nothing"
    nothing.write_bytes(b"")
    return json.loads(run("loop_passes.py", firmware, nothing, folder / "written", way))


@each_runtime
def test_a_pass_takes_nothing_from_the_heap(runtime, tmp_path):
    """1000 silent passes, 1000 with a stray byte, a step in every fourth; relays end energised."""
    found = weigh(runtime, tmp_path)
    assert found["silent"] == found["stray"] == 0
    assert found["turns"] == 2000
    assert found["steps"] == 500
    assert found["relays"][:3] == [1, 1, 1]


@each_runtime
@pytest.mark.parametrize(
    ("module", "function"),
    [("loop.py", "count_uptime"), ("loop.py", "apply"), ("desk.py", "tend"), ("drivers/relays.py", "renew")],
)
def test_a_list_in_any_part_of_the_pass_is_seen(module, function, runtime, tmp_path):
    """The negative."""
    changed = interpreters.planted(tmp_path, module, function, "kept = [self, self]")
    assert weigh(runtime, tmp_path, changed)["silent"] > 0
