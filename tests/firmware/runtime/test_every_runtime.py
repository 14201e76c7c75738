"""210,000 steps on CPython, numba, 64-bit and 32-bit MicroPython: same states, no heap.

The MicroPythons run a board's compiled files, and 8,000 of these steps on the sources. Every step
leaves four bytes of a hash over the whole state, so a difference shows in its first step.
"""

import functools
import hashlib
import json
from typing import NamedTuple

import numpy as np
import pytest
from twinloop.control import reasons, station
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_sim.engine import compiled

from . import interpreters, walk

BLOCKS = 420
SOURCE_BLOCKS = 16
FEW_BLOCKS = 4
LOST_SENSOR = "lost sensor"
# The guard's reason, exchanged sensors, two dumps that need other settings, and summer, which takes
# a day: longer than a life here.
RARE = 5
PLACES = (*s.DUTY_NAMES, LOST_SENSOR)


class Replayed(NamedTuple):
    """The digests of a replay, and [steps, taken] by duty."""

    digests: bytes
    tally: dict


def replay(runtime, recorded, folder, firmware=interpreters.FIRMWARE, program="replay.py"):
    """Replay the recording on one of the MicroPythons."""
    run, way = interpreters.RUNTIMES[runtime]
    source, sink = folder / "recording", folder / "digests"
    source.write_bytes(recorded.inputs)
    printed = run(program, firmware, source, sink, way)
    return Replayed(sink.read_bytes(), json.loads(printed))


def first_difference(digests, expected):
    """The first step with another state, None without one."""
    assert len(digests) == len(expected)
    steps = range(0, len(expected), walk.DIGEST)
    return next((at // walk.DIGEST for at in steps if digests[at : at + walk.DIGEST] != expected[at : at + walk.DIGEST]), None)


@pytest.fixture(scope="module")
def recorded():
    """The reference: the shipped files on this interpreter."""
    return walk.record(station, BLOCKS, walk.SEED)


@pytest.fixture(scope="module")
def few():
    """A short recording, for differences that show at once."""
    return walk.record(station, FEW_BLOCKS, walk.SEED)


@pytest.fixture(scope="module")
def replayed(recorded, tmp_path_factory):
    """A function that replays the recording by a board's files, once per MicroPython."""
    folder = interpreters.board_files(tmp_path_factory.mktemp("image"))
    return functools.cache(lambda runtime: replay(runtime, recorded, folder, folder / "firmware", folder / "replay.py"))


def test_the_recording_reaches_far(recorded):
    """Over 200,000 steps, each duty 100 times or more, and nearly all reasons."""
    assert len(recorded.digests) == BLOCKS * walk.STEPS_A_BLOCK * walk.DIGEST >= 200_000 * walk.DIGEST
    assert min(recorded.duties) >= 100
    named = {value for name, value in vars(reasons).items() if name.isupper()}
    assert len(named - recorded.reasons) <= RARE


@interpreters.each_runtime
def test_micropython_equals_cpython(runtime, replayed, recorded):
    assert first_difference(replayed(runtime).digests, recorded.digests) is None


@interpreters.each_runtime
def test_the_sources_do_the_same(runtime, tmp_path):
    """Same states, nothing from the heap."""
    recorded = walk.record(station, SOURCE_BLOCKS, walk.SEED)
    replayed = replay(runtime, recorded, tmp_path)
    assert first_difference(replayed.digests, recorded.digests) is None
    assert all(taken == 0 for _, taken in replayed.tally.values())


def test_compiled_equals_cpython(recorded):
    """The same files through numba."""
    core = compiled.load_control(interpreters.FIRMWARE / "twinloop" / "control")
    rows = np.frombuffer(recorded.inputs, dtype=np.int32).reshape(BLOCKS, -1)
    state, inputs = np.zeros(s.STATE, dtype=np.int32), np.zeros(s.INPUTS, dtype=np.int32)
    digests = bytearray()
    for block in rows:
        settings = block[: cfg.SETTINGS].copy()
        core.clear_meter(state, settings, inputs)
        core.wake(state, settings, inputs)
        for row in block[cfg.SETTINGS :].reshape(-1, s.INPUTS):
            inputs[:] = row
            core.step(state, settings, inputs)
            digests += hashlib.sha256(state).digest()[: walk.DIGEST]
    assert first_difference(bytes(digests), recorded.digests) is None


@interpreters.each_runtime
def test_a_core_that_differs_in_one_step_is_seen(runtime, few, tmp_path):
    """The negative: a core that decides differently in one single state."""
    changed = interpreters.planted(tmp_path, "control/rules.py", "decide", "if state[s.DUTY_MS] == 60000:\n    state[s.DUTY] = 0")
    assert first_difference(replay(runtime, few, tmp_path, changed).digests, few.digests) is not None


@interpreters.each_runtime
@pytest.mark.parametrize("place", PLACES)
def test_a_step_takes_nothing_from_the_heap(place, runtime, replayed):
    """In every duty, and while any sensor is lost."""
    steps, taken = replayed(runtime).tally[place]
    assert steps >= 100
    assert taken == 0


@pytest.mark.parametrize(
    ("runtime", "what", "statement"),
    [
        ("64-bit", "a list", "kept = [state, inputs]"),
        ("32-bit", "a list", "kept = [state, inputs]"),
        # More than eleven words of arguments and locals: the frame goes to the heap, which a lock
        # hides.
        ("64-bit", "a large frame", "a = b = c = d = e = f = g = h = i = j = k = state"),
        ("64-bit", "an exception that is caught", "try:\n    state[100000]\nexcept IndexError:\n    pass"),
        # 2^30 is too large on 32 bits only.
        ("32-bit", "a product beyond 31 bits", "inputs[0] * 1073741824"),
    ],
)
def test_what_takes_from_the_heap_is_seen(runtime, what, statement, few, tmp_path):
    """The negative: planted in every step, found in every step."""
    changed = interpreters.planted(tmp_path, "control/rules.py", "decide", statement)
    tally = replay(runtime, few, tmp_path, changed).tally
    for duty in s.DUTY_NAMES:
        steps, taken = tally[duty]
        assert taken >= steps, f"{what} in {duty}"


def test_a_product_beyond_31_bits_is_none_on_64_bits(few, tmp_path):
    """The reason for testing on the 32-bit build too."""
    changed = interpreters.planted(tmp_path, "control/rules.py", "decide", "inputs[0] * 1073741824")
    assert sum(taken for _, taken in replay("64-bit", few, tmp_path, changed).tally.values()) == 0
