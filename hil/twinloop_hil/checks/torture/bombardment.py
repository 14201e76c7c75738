"""The bombardment: all that a host or a bad wire can do to a board, every line accounted for.

All randomness comes from one seed. The virtual board gets all of it. For any other the rate of its
wire is measured first: it gets what it can read in a bounded time, some of every kind.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field

from twinloop.control import state as s
from twinloop.link import calls, frames

from ...client import Client, LinkError, RefusedError
from ...readings import EVENING_MC
from ...virtual.files.slots import SLOT_BOOTS
from ..delays import starved_s
from ..frame import Bench
from . import bad_lines
from .tap import Tap, Watcher

SEED = 7
LEASE_MS = 30000
# Bytes sent at once, and answers under way: with more, host and board would wait for each other.
CHUNK = 1000
UNDER_WAY = 16
# Requests that fit into a receive buffer of 4 KiB at once; their answers fit nowhere.
FLOOD = 55
# Repetitions of a request; the answers to a batch fit into a terminal's buffer of 4 KiB.
COPIES = 20
BATCH = 10
SLOW_S = 1.2
# Stages that send for as long as their share of the time lasts.
SHARES = 16
# The rate is known once that much takes this long; more would not be noticed.
RATE_S = 0.2
RATE_TOP_BYTES = 128_000
NOISE = b"y" * 99 + b"\n"
# A restarting board may leave its bus for a moment; an unplugged one must be reported.
RESTART_TOP_S = 2.0
# A busy computer may keep the virtual board waiting while it still reads what came before.
HELLO_TRIES = 3
# Only an interpreter with the console to itself prints these.
PROMPT_MARKS = (b">>>", b"raw REPL", b"Traceback", b"MicroPython v", b'Type "help()"', b"soft reboot")
UNCHANGING = ("state", "injecting", "commands", "guard_actions", "settings_source", "sequence")


@dataclass
class Plan:
    """How much to send. `every`: only each n-th systematic line; `top_s`: for a real board."""

    messages: int = 100_000
    endless_bytes: int = 2_000_000
    every: int = 1
    silent_s: float = 2.2
    floods: int = 8
    reconnects: int = 30
    top_s: float = 40.0


PLAN = Plan()


@dataclass
class Record:
    """The results: what became of the bad messages, then what each check needs."""

    sent: int = 0
    answered: int = 0
    counted: int = 0
    dropped: int = 0
    astray: int = 0
    executed: list[str] = field(default_factory=list)
    rate: float = 0.0
    endless: int = 0
    replays: int = 0
    replays_wrong: int = 0
    reconnects: int = 0
    prompts: int = 0
    restarts: int = 0
    commands_moved: int = 0
    status_calls: int = 0
    heap_free: int = 0
    heap_lost: int = 0
    answer_s: float = 0.0
    answer_starved_s: float = 0.0
    seconds: dict[str, float] = field(default_factory=dict)


class Bombardment:
    """A run of all stages against one bench."""

    def __init__(self, bench: Bench):
        self.bench = bench
        self.transport = type(bench.client.transport)
        self.record = Record()
        self.rng = random.Random(SEED)
        self.old_lines: list[bytes] = []
        self.uptime_s = 0
        self.errors_due = 0
        self.boots_seen = self.boots()
        self.watcher = Watcher(bench.board) if bench.board is not None else None
        self.client = bench.client
        self.tap = self.client.transport = Tap(bench.client.transport)

    def run(self) -> Record:
        """Run everything once; afterwards the bench has its own kind of transport again."""
        boots = self.boots_seen
        if self.watcher is not None:
            self.watcher.start()
        try:
            self.rest()
            self.tap.rate = self.record.rate = self.measured_rate()
            self.weigh()
            self.systematic()
            self.stage("line without end", self.send_without_end)
            self.stage("floods", self.flood)
            self.stage("slow reader", self.read_slowly)
            self.stage("no reader", self.stay_silent)
            self.stage("reconnects", self.reconnect)
            self.volley("lines of an old session", lambda free: bad_lines.as_they_were(self.old_lines))
            self.stage("replays", self.replay)
            self.volley("short", lambda free: bad_lines.short(self.missing(), self.rng), every=1)
            self.record.restarts = max(self.record.restarts, self.boots() - boots)
        finally:
            if self.watcher is not None:
                self.watcher.end()
            self.scan()
            self.client.transport = self.tap.transport
        return self.record

    def systematic(self) -> None:
        self.volley("flipped bits", bad_lines.flips)
        self.volley("edited lines", bad_lines.edits)
        self.volley("near-miss CRCs", bad_lines.near_misses)
        self.volley("lenient JSON", bad_lines.lenient)
        self.volley("deep nesting", bad_lines.deep)
        self.volley("too long", bad_lines.too_long)
        self.volley("control bytes", lambda free: bad_lines.control_bytes(free, self.rng))
        # The id before the free one belongs to the last executed request.
        self.volley("id reuse", lambda free: bad_lines.reused(free - 1))
        self.volley("foreign sessions", bad_lines.foreign)
        self.volley("old lines", lambda free: bad_lines.as_they_were(self.tap.requests()[:-1]))

    def missing(self) -> int:
        """The messages still to send, plus a percent for stages that a restart cut short."""
        return max(0, PLAN.messages - self.record.sent) + PLAN.messages // 100

    def measured_rate(self) -> float:
        """Bytes per second that the board reads, by lines that it only counts."""
        least_s, size = min(self.call_s(b"") for _ in range(3)), 5 * len(NOISE)
        while True:
            took_s = self.call_s(NOISE * (size // len(NOISE))) - least_s
            if took_s >= RATE_S or size >= RATE_TOP_BYTES:
                return size / max(took_s, least_s)
            size *= 4

    def call_s(self, before: bytes) -> float:
        """Seconds until a call is answered that is sent behind these bytes."""
        begin = time.monotonic()
        for place in range(0, len(before), CHUNK):
            self.tap.write_only(before[place : place + CHUNK])
        self.client.status()
        return time.monotonic() - begin

    # The session around it

    def reopen(self) -> None:
        self.scan()
        self.old_lines += self.tap.requests()[-200:]
        self.tap.close()
        self.tap = Tap(self.transport(self.bench.board.port if self.bench.board is not None else self.bench.port), self.record.rate)
        # End any half line on the board.
        self.tap.transport.write(b"\n")
        tries = self.client.tries
        self.client = self.bench.client = Client(self.tap, HELLO_TRIES * tries)
        self.client.tries = tries

    def rest(self) -> None:
        """No hands, no relay held on, and a mild evening, while the board steps by itself."""
        self.client.call("hand", 0, 0, 0)
        self.client.release()
        if self.bench.board is not None:
            # Its chips take their share of a step's time.
            self.bench.board.set_sensors(EVENING_MC)
        else:
            self.client.inject(EVENING_MC, lease_ms=LEASE_MS)

    def marks(self) -> dict:
        """The facts that no bad line may change."""
        status = self.status()
        facts = {name: status[name] for name in UNCHANGING}
        # Right after a start other duties come and go, until the sensors are trusted.
        facts["by hand"] = status["duty"] in (s.HAND, s.MAINTENANCE)
        facts["settings"] = self.client.settings()
        facts["probes"] = self.client.probes()
        return facts

    def status(self) -> dict:
        """The board's status, always available; the longest delay is recorded."""
        begin, starved_s = time.monotonic(), self.starved_s()
        status = self.client.status()
        self.note_answer(time.monotonic() - begin, self.starved_s() - starved_s)
        self.record.status_calls += 1
        self.uptime_s = status["uptime_s"]
        return status

    def starved_s(self) -> float:
        """How long the virtual board has waited for a processor; 0 for any other."""
        return starved_s(self.bench.board.process.pid) if self.bench.board is not None else 0.0

    def note_answer(self, took_s: float, starved_s: float) -> None:
        """Keep the longest delay of an answer, with what this computer may have added to it."""
        if took_s > self.record.answer_s:
            self.record.answer_s, self.record.answer_starved_s = took_s, starved_s

    def weigh(self) -> None:
        """Compare the free memory after a collection with that at the beginning."""
        free = self.client.call("self_check")["heap_free"]
        self.record.heap_free = self.record.heap_free or free
        self.record.heap_lost = max(self.record.heap_lost, self.record.heap_free - free)

    def scan(self) -> None:
        """Look for a prompt in what was received, then forget it."""
        self.record.prompts += sum(self.tap.seen.count(mark) for mark in PROMPT_MARKS)
        self.tap.seen.clear()

    # One stage

    def volley(self, name: str, build: Callable[[int], list], every: int | None = None) -> None:
        """A stage with one kind of bad line; `build` makes the lines around a free id."""

        def fire(free: int) -> tuple[int, int]:
            return self.send(build(free)[:: every or PLAN.every]), 0

        self.stage(name, fire)

    def stage(self, name: str, fire: Callable[[int], tuple[int, int]]) -> None:
        """Fire, then account for every line; a restart of the board is recorded and ends the stage.

        `fire` takes a free id and returns the numbers of bad lines and good requests that it sent.
        """
        begin = time.monotonic()
        try:
            before, status = self.marks(), self.status()
            self.scan()
            self.client.last_id += 1
            self.errors_due = 0
            bad, good = fire(self.client.last_id)
            self.tap.write_only(b"\n")
            self.hear_out()
            self.account(name, bad, good, status)
            changed = self.compare(name, before, self.marks())
            self.weigh()
            if changed:
                self.rest()
            elif self.bench.board is None:
                self.client.inject(EVENING_MC, lease_ms=LEASE_MS)
        except (LinkError, RefusedError) as fault:
            self.come_back(fault)
        self.record.seconds[name] = round(time.monotonic() - begin, 2)

    def hear_out(self) -> None:
        """Wait until the board has read everything: only then may it be judged silent."""
        self.client.last_id += 1
        begin, starved_s, reading_s = time.monotonic(), self.starved_s(), self.tap.reading_s()
        self.client.exchange(self.client.last_id, "status", [], self.tap.patience_s())
        self.note_answer(time.monotonic() - begin - reading_s, self.starved_s() - starved_s)

    def share_s(self) -> float:
        """How long one stage may go on; the virtual board gets the whole plan."""
        return PLAN.top_s / SHARES if self.bench.board is None else 10.0 * PLAN.top_s

    def over(self, begin: float, sent: int) -> bool:
        """Whether a stage has had its share: of the time, or of what the board reads meanwhile."""
        return time.monotonic() - begin > self.share_s() or sent > self.share_s() * self.record.rate

    def send(self, shots: list[tuple[bytes, int]]) -> int:
        """Send shots, shuffled on a slow line, until their time is over; returns how many lines."""
        begin = time.monotonic()
        if self.bench.board is None:
            self.rng.shuffle(shots)
        chunk, lines, answers, sent = bytearray(), 0, 0, 0
        for data, wanted in shots:
            chunk += data
            answers += wanted
            sent += len(data)
            if len(chunk) >= CHUNK or answers >= UNDER_WAY:
                lines += self.send_chunk(chunk, answers)
                answers = 0
                if self.over(begin, sent) or self.boots() != self.boots_seen:
                    return lines
        return lines + self.send_chunk(chunk, answers)

    def send_chunk(self, chunk: bytearray, answers: int) -> int:
        """Send, and read the answers that are due; account() finds those that do not come."""
        due = self.tap.seen.count(10) + answers
        self.errors_due += answers
        self.tap.write_only(bytes(chunk))
        lines = bad_lines.lines_in(chunk)
        chunk.clear()
        self.tap.take(due)
        self.tap.read_waiting()
        return lines

    def boots(self) -> int:
        """How often the virtual board has started; 0 elsewhere."""
        return self.bench.board.peek(SLOT_BOOTS) if self.bench.board is not None else 0

    def account(self, name: str, bad: int, good: int, before: dict) -> None:
        """Compare what was sent with what the board answered, dropped and counted."""
        record = self.record
        status = self.status()
        answers = [frames.unseal(line) for line in bytes(self.tap.seen).split(b"\n")[:-1]]
        # This call and the one that waited for the board.
        own = [b'"id": %d,' % (self.client.last_id - back) for back in (0, 1)]
        answers = [answer for answer in answers if answer is not None and not any(number in answer for number in own)]
        results = [answer for answer in answers if b'"result"' in answer]
        counted = status["lines_bad"] - before["lines_bad"]
        dropped = status["answers_dropped"] - before["answers_dropped"]
        errors = len(answers) - len(results)
        record.executed += [f"{name}: {answer[:60].decode()}" for answer in results[good:]]
        # A line with a bad CRC gets no answer at all: a refusal would take it for a request.
        record.executed += [f"{name}: answered a line without a good CRC"] * (errors - self.errors_due)
        record.sent += bad
        record.answered += errors
        record.counted += counted
        record.dropped += dropped
        record.astray += abs(bad + good - len(answers) - counted - dropped)

    def compare(self, name: str, before: dict, after: dict) -> list[str]:
        """The facts that a bad line has changed."""
        changed = [mark for mark in before if before[mark] != after[mark]]
        self.record.commands_moved += "commands" in changed
        self.record.executed += [f"{name}: changed {mark}" for mark in changed if mark != "commands"]
        return changed

    def come_back(self, fault: Exception) -> None:
        """After a restart, continue in a new session; without one, raise the fault."""
        uptime_s, boots = self.uptime_s, self.boots_seen
        # A port that is gone cannot be flushed, whatever its error; reopening it will tell.
        with suppress(Exception):
            self.tap.transport.serial.reset_output_buffer()
        deadline = time.monotonic() + RESTART_TOP_S
        while True:
            try:
                self.reopen()
                break
            except (LinkError, RefusedError):
                if time.monotonic() > deadline:
                    raise
                time.sleep(0.1)
        if self.status()["uptime_s"] >= uptime_s and self.boots() == boots:
            raise fault
        self.record.restarts += 1
        self.boots_seen = self.boots()
        self.rest()

    # Stages other than bad lines: from a free id to the numbers of bad lines and good requests.

    def replay(self, free: int) -> tuple[int, int]:
        """Repeat the last request: each time the stored answer must come, byte by byte."""
        evening = [list(EVENING_MC), []]
        for method, params in (("status", []), ("advance", [1, 5000, *evening]), ("advance", [2, 5000, *evening])):
            line = calls.request(self.client.last_id, method, params)
            self.client.last_id += 1
            # The bad line in between changes what a second execution would answer.
            self.scan()
            self.tap.write_only(line)
            first = self.tap.take(1)[:1]
            self.scan()
            self.tap.write_only(b"?\n")
            for count in range(BATCH, COPIES + 1, BATCH):
                self.tap.write_only(line * BATCH)
                again = self.tap.take(count)
            self.record.replays += COPIES
            self.record.replays_wrong += COPIES - sum(answer == line for answer in again for line in first)
        self.scan()
        self.client.release()
        self.rest()
        self.scan()
        return 3, 0

    def requests(self, count: int) -> bytes:
        lines = []
        for _ in range(count):
            lines.append(calls.request(self.client.last_id, "status", []))
            self.client.last_id += 1
        return b"".join(lines)

    def flood(self, free: int) -> tuple[int, int]:
        """Send good requests back to back and read the answers only afterwards."""
        begin, sent = time.monotonic(), 0
        while sent < PLAN.floods and not self.over(begin, 0):
            self.tap.write_only(self.requests(FLOOD))
            self.tap.drain()
            sent += 1
        return 0, sent * FLOOD

    def read_slowly(self, free: int) -> tuple[int, int]:
        self.tap.write_only(self.requests(FLOOD))
        self.tap.read_slowly(SLOW_S)
        self.tap.drain()
        return 0, FLOOD

    def stay_silent(self, free: int) -> tuple[int, int]:
        """Send, and do not read for a while."""
        self.tap.write_only(self.requests(FLOOD))
        time.sleep(PLAN.silent_s)
        self.tap.drain()
        return 0, FLOOD

    def reconnect(self, free: int) -> tuple[int, int]:
        """Close the port in the middle of a line and reopen it, sometimes with unread answers."""
        begin, number = time.monotonic(), 0
        while number < PLAN.reconnects and not self.over(begin, 0):
            lines = bad_lines.requests(self.client.last_id + 1)
            line = lines[number % len(lines)]
            self.tap.transport.write(frames.seal(b"[]") * (number % 3) + line[: self.rng.randrange(1, len(line))])
            self.reopen()
            number += 1
        self.record.reconnects += number
        self.rest()
        self.scan()
        # The answers to the other lines went to a closed port.
        return number, 0

    def send_without_end(self, free: int) -> tuple[int, int]:
        """Send one endless line as fast as possible, then line ends without a line."""
        for noise, top in ((b"y", PLAN.endless_bytes), (b"\r\n", PLAN.endless_bytes // 10)):
            begin, sent = time.monotonic(), 0
            while sent < top and not self.over(begin, sent):
                self.tap.write_only(noise * CHUNK)
                sent += len(noise) * CHUNK
            self.record.endless += sent
        return 1, 0
