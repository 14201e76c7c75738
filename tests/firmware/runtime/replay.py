"""Replays a recording (walk.py) on MicroPython and keeps a digest of every step.

Arguments: firmware folder, recording, file to write, "total" or "lock". The file gets four bytes
per step of a SHA-256 over the whole state. Prints one JSON document: by duty, and for steps with a
lost sensor, the number of steps and what they took from the heap. "total" counts bytes, frames and
caught exceptions included; "lock" counts the steps that failed on a locked heap. A MemoryError that
leaves while the heap is locked would hang.

The first block runs once before that: the first use of a name allocates.
"""

import hashlib
import json
import sys
from array import array

import micropython

sys.path.insert(0, sys.argv[1])

from twinloop.control import settings as cfg  # noqa: E402
from twinloop.control import state as s  # noqa: E402
from twinloop.control import station  # noqa: E402

STEPS_A_BLOCK = 500
DIGEST = 4
LOST_SENSOR = "lost sensor"


def bytes_taken(state, settings, inputs):
    """Take a step; returns the bytes that it took from the heap."""
    mem_total = micropython.mem_total
    first = mem_total()
    second = mem_total()
    station.step(state, settings, inputs)
    return mem_total() - second - (second - first)


def refused(state, settings, inputs):
    """Take a step with the heap locked; returns 1 when it needed memory."""
    failed = 0
    micropython.heap_lock()
    try:
        station.step(state, settings, inputs)
    except MemoryError:
        failed = 1
    finally:
        micropython.heap_unlock()
    return failed


WAYS = {"total": bytes_taken, "lock": refused}


class Replay:
    """One station that replays a recording."""

    def __init__(self, step):
        self.step = step
        self.state = array("i", [0] * s.STATE)
        self.settings = array("i", [0] * cfg.SETTINGS)
        self.inputs = array("i", [0] * s.INPUTS)
        self.digests = bytearray(DIGEST * STEPS_A_BLOCK)
        self.steps = [0] * (s.DUTIES + 1)
        self.taken = [0] * (s.DUTIES + 1)

    def begin_block(self, source):
        """Read the next settings and wake the station; False at the end of the recording."""
        if source.readinto(self.settings) != 4 * cfg.SETTINGS:
            return False
        station.clear_meter(self.state, self.settings, self.inputs)
        station.wake(self.state, self.settings, self.inputs)
        return True

    def lost(self):
        """Whether any sensor is lost."""
        return s.LOST in list(self.state[s.STATUS : s.STATUS + s.SENSORS])

    def tally(self, taken):
        """Count a step under its duty."""
        duty = self.state[s.DUTY]
        self.steps[duty] += 1
        self.taken[duty] += taken
        if self.lost():
            self.steps[s.DUTIES] += 1
            self.taken[s.DUTIES] += taken

    def run_block(self, source):
        """Replay all steps of a block."""
        for number in range(STEPS_A_BLOCK):
            source.readinto(self.inputs)
            self.tally(self.step(self.state, self.settings, self.inputs))
            self.digests[DIGEST * number : DIGEST * number + DIGEST] = hashlib.sha256(self.state).digest()[:DIGEST]

    def report(self):
        """[steps, memory taken] by duty."""
        names = list(s.DUTY_NAMES) + [LOST_SENSOR]
        return {name: [self.steps[place], self.taken[place]] for place, name in enumerate(names)}


def warm_up(source_path, way):
    """Replay one block that does not count."""
    replay = Replay(WAYS[way])
    with open(source_path, "rb") as source:
        replay.begin_block(source)
        replay.run_block(source)


def main(source_path, sink_path, way):
    """Replay the whole recording and print the report."""
    warm_up(source_path, way)
    replay = Replay(WAYS[way])
    with open(source_path, "rb") as source, open(sink_path, "wb") as sink:
        while replay.begin_block(source):
            replay.run_block(source)
            sink.write(replay.digests)
    print(json.dumps(replay.report()))


main(sys.argv[2], sys.argv[3], sys.argv[4])
