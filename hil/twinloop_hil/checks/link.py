"""Checks of the link: answer time and corrupt lines."""

from __future__ import annotations

import time

from twinloop.link import frames

from .frame import Check

TRIALS = 50


def measure_exchange(bench):
    times = []
    with bench.timed():
        for _ in range(TRIALS):
            begin = time.perf_counter()
            bench.client.status()
            times.append(1000.0 * (time.perf_counter() - begin))
    # The limit is an operator's patience: thousands of steps should take minutes.
    return sorted(times)[TRIALS // 2], 0.0, 200.0, f"median of {TRIALS} status calls"


def measure_corrupt(bench):
    before = bench.client.status()["lines_bad"]
    payload = b'{"jsonrpc":"2.0","id":1,"method":"release","params":[]}'
    good = frames.seal(payload)
    for place in range(len(good) - 1):
        # Flipping bit 0 never makes a line feed or a carriage return of these characters.
        line = bytearray(good)
        line[place] ^= 1
        bench.client.transport.write(bytes(line))
    counted = bench.client.status()["lines_bad"] - before
    return counted, len(good) - 1, len(good) - 1, "lines with one flipped bit, all counted, none answered"


CHECKS = (
    Check("exchange-time", "how long a call and its answer take", "ms", 1, measure_exchange, timed=True),
    Check("corrupt-lines", "lines with one flipped bit are counted and change nothing", "lines", 1, measure_corrupt),
)
