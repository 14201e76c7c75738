"""The checks of link torture: each reads a result of the bench's one bombardment."""

from __future__ import annotations

import time
from weakref import WeakKeyDictionary

from ..frame import VIRTUAL, Bench, Check
from . import bombardment
from .bombardment import Bombardment
from .tap import LOOK_S

# The control period may stretch by half: relays fall by their lease of three periods, and a
# watchdog of four bites later. Measured on an idle machine: 1.02; with eight more processes on two
# cores one bombardment in ten exceeded it.
STRETCH = 1.5
# Measured: within 1 KiB after 100,000 messages. Keeping a byte of each would cost 100 KB.
HEAP_TOP = 8192
ANSWER_TOP_S = 1.0
# Measured on the virtual board; over a wire of 12 kB/s 44 s, over one of 3 kB/s 61 s.
SECONDS = 20
TAKES = f"about {SECONDS} s on the virtual board, 45 to 60 s on any other"
SHARED = "no time of its own after torture-messages"
RUNS: WeakKeyDictionary[Bench, Bombardment] = WeakKeyDictionary()


def bombard(bench: Bench) -> Bombardment:
    """The bombardment of this bench, run at the first call."""
    if bench not in RUNS:
        run = Bombardment(bench)
        run.run()
        RUNS[bench] = run
    return RUNS[bench]


def measure_messages(bench):
    record = bombard(bench).record
    least = bombardment.PLAN.messages if bench.board is not None else 1
    became = f"{record.answered} answered with an error, {record.counted} counted as bad, {record.dropped} answers dropped"
    wire = f"in {sum(record.seconds.values()):.1f} s at {record.rate:.0f} bytes/s"
    return (
        record.sent,
        least,
        10 * bombardment.PLAN.messages,
        f"bad messages and {record.endless} bytes without end {wire}: {became}",
    )


def measure_astray(bench):
    record = bombard(bench).record
    return record.astray, 0, 0, "lines neither answered nor counted, and with no answer dropped"


def measure_executed(bench):
    record = bombard(bench).record
    seen = "; ".join(record.executed[:3]) or "state, injection, hands, settings, sequence number and offsets unchanged"
    return len(record.executed), 0, 0, seen


def measure_replays(bench):
    record = bombard(bench).record
    return record.replays_wrong, 0, 0, f"of {record.replays} repetitions did not get the stored answer, byte by byte"


def measure_period(bench):
    watcher = bombard(bench).watcher
    period_s = bench.client.facts["period_ms"] / 1000.0
    # Less than a period would mean that no step was seen.
    return watcher.longest_s, 0.9 * period_s, STRETCH * period_s, f"longest time between two of {watcher.steps} steps"


def measure_memory(bench):
    record = bombard(bench).record
    return record.heap_lost, 0, HEAP_TOP, f"largest loss after any kind, of {record.heap_free} bytes free at the start"


def measure_prompt(bench):
    record = bombard(bench).record
    return record.prompts + record.restarts, 0, 0, f"{record.prompts} signs of a prompt and {record.restarts} restarts"


def measure_relays(bench):
    run = bombard(bench)
    if run.watcher is not None:
        return run.watcher.moves, 0, 0, f"moves, seen at the pins every {1000 * LOOK_S:g} ms"
    return run.record.commands_moved, 0, 0, f"changes of the commands in {run.record.status_calls} status calls"


def measure_answer(bench):
    run = bombard(bench)
    begin = time.monotonic()
    bench.client.status()
    longest_s = max(run.record.answer_s, time.monotonic() - begin)
    return longest_s, 0.0, ANSWER_TOP_S, f"longest of {run.record.status_calls + 1} status calls, after each kind and at the end"


CHECKS = (
    Check(
        "torture-messages",
        "bad lines of every kind, floods, silence and reconnects; the other torture checks share them",
        "messages",
        SECONDS,
        measure_messages,
        takes=TAKES,
    ),
    Check("torture-executed", "no bad line is executed or changes anything", "lines", SECONDS, measure_executed, takes=SHARED),
    Check("torture-replays", "a request sent twice is executed once", "replays", SECONDS, measure_replays, takes=SHARED),
    Check("torture-accounted", "every line is answered or counted", "lines", SECONDS, measure_astray, VIRTUAL, takes=SHARED),
    Check("torture-period", "the control period holds under load", "s", SECONDS, measure_period, VIRTUAL, takes=SHARED),
    Check("torture-memory", "free memory stays constant", "bytes", SECONDS, measure_memory, takes=SHARED),
    Check("torture-prompt", "no prompt appears and the board does not restart", "events", SECONDS, measure_prompt, takes=SHARED),
    Check("torture-relays", "no relay moves", "moves", SECONDS, measure_relays, takes=SHARED),
    Check("torture-answer", "the board answers during and after the bombardment", "s", SECONDS, measure_answer, takes=SHARED),
)
