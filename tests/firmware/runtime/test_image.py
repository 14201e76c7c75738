"""A board's compiled files act like the sources on 64-bit and 32-bit MicroPython, and fit."""

import json

import pytest
from twinloop.control import station
from twinloop_hil.board import image, slim

from . import interpreters, walk

BLOCKS = 16
# The design's bound for the live heap after start on a 32-bit MicroPython.
HEAP_TOP_BYTES = 100_000


@pytest.fixture(scope="module")
def compiled(tmp_path_factory):
    """A folder with a board's files, and the test programs with names replaced in the same way."""
    folder = tmp_path_factory.mktemp("image")
    for file in image.build("pico").files:
        path = folder / "firmware" / file.path
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(file.body)
    for name in ("replay.py", "loop_passes.py"):
        (folder / name).write_text(slim.slim((interpreters.HERE / name).read_text(), "test_program"))
    return folder


@interpreters.each_runtime
def test_every_step_is_the_same(runtime, compiled):
    """8,000 random steps: same states, nothing from the heap."""
    recorded = walk.record(station, BLOCKS, walk.SEED)
    (compiled / "recording").write_bytes(recorded.inputs)
    run, way = interpreters.RUNTIMES[runtime]
    printed = run(compiled / "replay.py", compiled / "firmware", compiled / "recording", compiled / "digests", way)
    assert (compiled / "digests").read_bytes() == recorded.digests
    assert all(taken == 0 for _, taken in json.loads(printed).values())


@interpreters.each_runtime
def test_a_pass_takes_nothing_from_the_heap(runtime, compiled):
    """The loop as it is on a board."""
    run, way = interpreters.RUNTIMES[runtime]
    found = interpreters.document(compiled / "loop_passes.py", compiled, compiled / "firmware", run, way)
    assert (found["silent"], found["stray"], found["steps"]) == (0, 0, 500)


def test_it_fits_into_a_32_bit_board(compiled):
    """Real port, store, loop, all drivers and the display, after a garbage collection."""
    found = interpreters.document("heap_after_start.py", compiled, compiled / "firmware", interpreters.run_wasm)
    assert found["display"]
    assert 40_000 < found["started"] < HEAP_TOP_BYTES


def test_a_traceback_names_module_and_function(compiled):
    """Without line numbers, by the short name that the module's users give it; no two share one."""
    (compiled / "fails.py").write_text(
        "import sys\nsys.path.insert(0, sys.argv[1])\nfrom twinloop.link import frames\n"
        "try:\n    frames.unseal(None)\nexcept TypeError as fault:\n    sys.print_exception(fault, sys.stdout)\n"
    )
    (compiled / "nothing").touch()
    told = interpreters.run_unix(compiled / "fails.py", compiled / "firmware", compiled / "nothing", compiled / "nothing")
    assert 'File "frames", line 1, in unseal' in told
    stems = [path.stem for path in (compiled / "firmware").rglob("*.mpy") if path.stem != "__init__"]
    assert len(stems) == len(set(stems))
