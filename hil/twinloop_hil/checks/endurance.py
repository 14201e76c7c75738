"""Thousands of steps on random readings, free memory, and the board's clock."""

from __future__ import annotations

import random
import time

from twinloop.control import state as s

from ..readings import row
from .frame import Check
from .mirror import MirroredRun, set_for

STEPS = 6000
SEED = 20
# How often in a thousand steps each reading jumps, breaks and recovers.
JUMPS, BREAKS, MENDS = 10, 4, 40
STRIDE_MC = row(1500, collector=4000, tank_low=400, tank_high=400, loop_supply=3000, loop_return=3000, outdoor=500)
LOWEST_MC, HIGHEST_MC = -25000, 160000
CAUSES = (s.CAUSE_OPEN, s.CAUSE_SHORT, s.CAUSE_SILENT, s.CAUSE_CRC, s.CAUSE_CHIP)
# Calls leave nothing on the heap but a cell or two of the garbage collector's bookkeeping.
HEAP_SLACK_BYTES = 512
WATCH_S = 8.0


class RandomRun(MirroredRun):
    """Random readings, for the core here and the board alike."""

    def __init__(self, client, seed: int):
        self.random = random.Random(seed)
        super().__init__(client, {"name": "random", "settings": {}, "script": []})
        self.step_ms = 5000

    def move(self, sensor: int) -> None:
        """Draw a sensor's next raw value and cause."""
        inputs, place = self.inputs, s.IN_RAW_MC + sensor
        stride = STRIDE_MC[sensor] * (20 if self.random.randrange(1000) < JUMPS else 1)
        inputs[place] = min(HIGHEST_MC, max(LOWEST_MC, inputs[place] + self.random.randint(-stride, stride)))
        drawn = self.random.randrange(1000)
        if drawn < BREAKS:
            inputs[s.IN_RAW_CAUSE + sensor] = self.random.choice(CAUSES)
        elif drawn < BREAKS + MENDS:
            inputs[s.IN_RAW_CAUSE + sensor] = s.CAUSE_NONE

    def walk(self, steps: int) -> None:
        for sensor in range(s.SENSORS):
            self.inputs[s.IN_RAW_MC + sensor] = 30000
        for _ in range(steps):
            for sensor in range(s.SENSORS):
                self.move(sensor)
            self.step()


def measure_walk(bench):
    set_for(bench, {"settings": {}})
    run = RandomRun(bench.client, SEED)
    begin = time.perf_counter()
    try:
        run.walk(STEPS)
    finally:
        run.let_go()
    bench.restore_settings()
    rate = STEPS / (time.perf_counter() - begin)
    duties = len({line[0] for line in run.trace})
    detail = f"of {STEPS} steps on random readings, {duties} duties seen, {rate:.0f} steps/s"
    return run.differences, 0, 0, detail + (f"; first: {run.first}" if run.first else "")


def measure_heap(bench):
    bench.client.release()
    for _ in range(2):
        bench.client.call("self_check")
    before = bench.client.call("self_check")["heap_free"]
    readings = [30000] * s.SENSORS
    bench.client.inject(readings, lease_ms=10000)
    for _ in range(1000):
        bench.client.advance(1000, readings)
        bench.client.status()
    bench.client.release()
    after = bench.client.call("self_check")["heap_free"]
    return before - after, -HEAP_SLACK_BYTES, HEAP_SLACK_BYTES, f"bytes lost over 2000 calls, of {before} free before"


def measure_clock(bench):
    bench.client.release()
    first = bench.client.status()["uptime_s"]
    seconds = [first]
    begin = None
    with bench.timed():
        while begin is None or time.monotonic() - begin < WATCH_S:
            now = bench.client.status()["uptime_s"]
            if now != seconds[-1]:
                begin = time.monotonic() if begin is None else begin
                seconds.append(now)
                seen = time.monotonic()
    passed_s = seconds[-1] - seconds[1]
    return passed_s - (seen - begin), -0.25, 0.25, f"board less host over {passed_s} s of calls"


def measure_guard(bench):
    facts = bench.client.status()
    return facts["guard_actions"], 0, 0, f"times that the guard had to act; {facts['answers_dropped']} answers dropped so far"


CHECKS = (
    Check(
        "random-readings",
        f"{STEPS} steps on random readings: the board decides like the core on this computer",
        "steps",
        4,
        measure_walk,
    ),
    Check("memory", "2000 calls leave the free memory as it was", "bytes", 1, measure_heap),
    Check("clock", "the board's clock keeps time with this computer's", "s", 9, measure_clock, timed=True),
    Check("guard-idle", "the guard behind the rules never had to act", "times", 1, measure_guard),
)
