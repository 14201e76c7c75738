"""Link torture: one bombardment with bad lines, floods, silence and reconnects, and what it may not do to the board.

The bombardment runs once for a bench; each check reads one measurement of it. All chance comes from one seed. The virtual board is
sent all of it; a board behind a slow line as much as fits into the time, of every kind alike.
"""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from weakref import WeakKeyDictionary

import serial
from twinloop.control import state as s
from twinloop.link import calls, frames

from ..client import Client, LinkError, RefusedError
from ..virtual.files.slots import SLOT_BOOTS, SLOT_FED
from . import bad_lines
from .frame import Bench, Check

SEED = 7
LEASE_MS = 30000
# Bytes at one go, and answers that may be under way: with more a host would wait for the board while the board waits for the host.
CHUNK = 1000
UNDER_WAY = 16
ANSWER_TIMEOUT_S = 1.0
# Requests that fit into a receive buffer of 4 KiB, so that a host can send them without waiting; their answers fit nowhere.
FLOOD = 55
COPIES = 20
LOOK_S = 0.002
QUIET_S = 0.2
SLOW_S = 1.2
# A board that is started anew may be off its bus for a moment; one that was unplugged has to be said so.
RESTART_TOP_S = 2.0
# What only an interpreter says that has the console to itself.
PROMPT_MARKS = (b">>>", b"raw REPL", b"Traceback", b"MicroPython v", b'Type "help()"', b"soft reboot")
# The control period may stretch by half: relays fall by their lease of three periods, and a watchdog of four bites later still.
# Measured on an idle machine: 1.02; with eight more processes on two cores it was missed in one of ten bombardments.
STRETCH = 1.5
# Measured: 100,000 messages leave the free heap as it was to within 1 KiB. One byte kept of each would be 100 KB.
HEAP_TOP = 8192
ANSWER_TOP_S = 1.0
UNCHANGING = ("state", "injecting", "commands", "guard_actions", "settings_source", "sequence")


@dataclass
class Plan:
    """How much of it. `every`: of the systematic kinds only each n-th line; `top_s`: when a slow line has had enough."""

    messages: int = 100_000
    endless_bytes: int = 2_000_000
    every: int = 1
    silent_s: float = 2.2
    floods: int = 8
    reconnects: int = 30
    top_s: float = 40.0


PLAN = Plan()


class Tap:
    """A client's transport that keeps a copy of what goes through, for as long as the board is under torture."""

    def __init__(self, transport):
        self.transport = transport
        self.name = transport.name
        self.seen = bytearray()
        self.sent: list[bytes] = []

    def write(self, data: bytes) -> None:
        """A request of the client."""
        self.sent.append(data)
        self.transport.write(data)

    def requests(self) -> list[bytes]:
        """What the client sent in this session. An old hello is no old request: it opens a session, whoever sends it."""
        return [line for line in self.sent if b'"hello"' not in line]

    def read(self) -> bytes:
        """What has arrived, waiting a moment for it."""
        data = self.transport.read()
        self.seen += data
        return data

    def at_port(self, act: Callable):
        """What the client's transport has no call for; raises LinkError as it does."""
        try:
            return act()
        except (serial.SerialException, OSError) as fault:
            raise LinkError(f"port {self.name}: {fault}") from None

    def read_waiting(self) -> None:
        """What is there already."""
        if self.at_port(lambda: self.transport.serial.in_waiting):
            self.read()

    def read_slowly(self, seconds: float) -> None:
        """A byte now and then."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self.seen += self.at_port(lambda: self.transport.serial.read(1))
            time.sleep(0.005)

    def drain(self) -> None:
        """Everything, until nothing more comes."""
        last = time.monotonic()
        while time.monotonic() - last < QUIET_S:
            if self.read():
                last = time.monotonic()

    def take(self, count: int) -> list[bytes]:
        """Forget what was seen, then read until so many lines have come or none comes any more; returns them."""
        deadline = time.monotonic() + ANSWER_TIMEOUT_S
        while self.seen.count(10) < count and time.monotonic() < deadline:
            self.read()
        return bytes(self.seen).split(b"\n")[:-1]

    def close(self) -> None:
        """Give the port back."""
        self.transport.close()


class Watcher(threading.Thread):
    """Looks at the virtual board's registers all the time: the time between two steps, and relays that move."""

    def __init__(self, board):
        super().__init__(daemon=True)
        self.board = board
        self.over = threading.Event()
        self.relays = board.relays()
        self.boots_first = board.peek(SLOT_BOOTS)
        self.moves = 0
        self.steps = 0
        self.longest_s = 0.0
        self.start_over()

    def start_over(self) -> None:
        """Count from the next step: when the one before it was is not known, and a restart has no period to keep."""
        self.boots, self.fed = self.board.peek(SLOT_BOOTS), self.board.peek(SLOT_FED)
        self.fed_at: float | None = None

    def run(self) -> None:
        """Until it is over."""
        while not self.over.wait(LOOK_S):
            self.look()

    def look(self) -> None:
        """One look."""
        now = time.monotonic()
        relays = self.board.relays()
        # A board that has started anew floats its pins and may give alarm: that it did is the news then.
        self.moves += relays != self.relays and self.board.peek(SLOT_BOOTS) == self.boots_first
        self.relays = relays
        if self.board.peek(SLOT_BOOTS) != self.boots:
            self.start_over()
            return
        if self.fed_at is not None:
            self.longest_s = max(self.longest_s, now - self.fed_at)
        fed = self.board.peek(SLOT_FED)
        if fed != self.fed:
            self.fed, self.fed_at = fed, now
            self.steps += 1

    def end(self) -> None:
        """Stop looking."""
        self.over.set()
        self.join()


@dataclass
class Record:
    """What came of it: bad messages and what became of them, then what each check wants to know."""

    sent: int = 0
    answered: int = 0
    counted: int = 0
    dropped: int = 0
    astray: int = 0
    executed: list[str] = field(default_factory=list)
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
    seconds: dict[str, float] = field(default_factory=dict)


class Bombardment:
    """One run of everything against one bench."""

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
        """Everything, once; afterwards the bench has a client on a transport of its own kind again."""
        boots = self.boots_seen
        if self.watcher is not None:
            self.watcher.start()
        try:
            self.rest()
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
        """Every kind of bad line that has a system."""
        self.volley("flipped bits", bad_lines.flips)
        self.volley("edited lines", bad_lines.edits)
        self.volley("near-miss CRCs", bad_lines.near_misses)
        self.volley("lenient JSON", bad_lines.lenient)
        self.volley("deep nesting", bad_lines.deep)
        self.volley("too long", bad_lines.too_long)
        self.volley("control bytes", lambda free: bad_lines.control_bytes(free, self.rng))
        # The last request before was executed with the id before the free one.
        self.volley("id reuse", lambda free: bad_lines.reused(free - 1))
        self.volley("foreign sessions", bad_lines.foreign)
        self.volley("old lines", lambda free: bad_lines.as_they_were(self.tap.requests()[:-1]))

    def missing(self) -> int:
        """How many messages are still to be sent; a stage that a restart cut short may be worth some hundreds."""
        return max(0, PLAN.messages - self.record.sent) + PLAN.messages // 100

    # The conversation around it

    def reopen(self) -> None:
        """A new session on a port that is opened anew."""
        self.scan()
        self.old_lines += self.tap.requests()[-200:]
        self.tap.close()
        self.tap = Tap(self.transport(self.bench.board.port if self.bench.board is not None else self.bench.port))
        # Whatever half line stands on the board ends here.
        self.tap.transport.write(b"\n")
        self.client = self.bench.client = Client(self.tap)

    def rest(self) -> None:
        """Nothing by hand, and readings of a mild evening: the virtual board's own, so that its chips take their part of a step's
        time; injected elsewhere, with no relay free to move. Either way the board steps by itself."""
        self.client.call("hand", 0, 0, 0)
        self.client.release()
        if self.bench.board is not None:
            self.bench.board.set_sensors(bad_lines.EVENING_MC)
        else:
            self.client.inject(bad_lines.EVENING_MC, lease_ms=LEASE_MS)

    def marks(self) -> dict:
        """Everything that no bad line may change."""
        status = self.status()
        facts = {name: status[name] for name in UNCHANGING}
        # Other duties come and go while a station that has just begun gets to know its sensors.
        facts["by hand"] = status["duty"] in (s.HAND, s.MAINTENANCE)
        facts["settings"] = self.client.settings()
        facts["probes"] = [self.client.call("probes", part) for part in range(s.SENSORS // 4)]
        return facts

    def status(self) -> dict:
        """A status call, which has to work at any time; the longest one is kept."""
        begin = time.monotonic()
        status = self.client.status()
        self.record.answer_s = max(self.record.answer_s, time.monotonic() - begin)
        self.record.status_calls += 1
        self.uptime_s = status["uptime_s"]
        return status

    def weigh(self) -> None:
        """Free memory after a collection, against that of the beginning."""
        free = self.client.call("self_check")["heap_free"]
        self.record.heap_free = self.record.heap_free or free
        self.record.heap_lost = max(self.record.heap_lost, self.record.heap_free - free)

    def scan(self) -> None:
        """Look for a prompt in what was seen, and put it away."""
        self.record.prompts += sum(self.tap.seen.count(mark) for mark in PROMPT_MARKS)
        self.tap.seen.clear()

    # One stage of it

    def volley(self, name: str, build: Callable[[int], list], every: int | None = None) -> None:
        """A stage that sends one kind of bad line; `build` makes them around an id that is free."""

        def fire(free: int) -> tuple[int, int]:
            return self.send(build(free)[:: every or PLAN.every]), 0

        self.stage(name, fire)

    def stage(self, name: str, fire: Callable[[int], tuple[int, int]]) -> None:
        """Fire, and account for every line: answered, counted as bad, dropped, or executed, which no bad one may be.

        `fire` takes a free id and returns how many bad lines and how many good requests it sent. The board is compared with
        itself before and after. When it starts anew meanwhile that is noted, and the next stage goes on.
        """
        begin = time.monotonic()
        try:
            before, status = self.marks(), self.status()
            self.scan()
            self.client.last_id += 1
            self.errors_due = 0
            bad, good = fire(self.client.last_id)
            self.tap.transport.write(b"\n")
            self.account(name, bad, good, status)
            changed = self.compare(name, before, self.marks())
            self.weigh()
            if changed:
                self.rest()
            elif self.bench.board is None:
                self.client.inject(bad_lines.EVENING_MC, lease_ms=LEASE_MS)
        except (LinkError, RefusedError) as fault:
            self.come_back(fault)
        self.record.seconds[name] = round(time.monotonic() - begin, 2)

    def share_s(self) -> float:
        """How long one stage may send: on the virtual board to its end, within a bound all the same."""
        return PLAN.top_s / 12 if self.bench.board is None else PLAN.top_s

    def send(self, shots: list[tuple[bytes, int]]) -> int:
        """Send shots until their time is over, in an order that leaves of each kind alike; returns how many lines that were."""
        begin = time.monotonic()
        if self.bench.board is None:
            self.rng.shuffle(shots)
        chunk, lines, answers = bytearray(), 0, 0
        for data, wanted in shots:
            chunk += data
            answers += wanted
            if len(chunk) >= CHUNK or answers >= UNDER_WAY:
                lines += self.send_chunk(chunk, answers)
                answers = 0
                if time.monotonic() - begin > self.share_s() or self.boots() != self.boots_seen:
                    return lines
        return lines + self.send_chunk(chunk, answers)

    def send_chunk(self, chunk: bytearray, answers: int) -> int:
        """Send, and take the answers that are due; what does not come is found out by the account."""
        due = self.tap.seen.count(10) + answers
        self.errors_due += answers
        self.tap.transport.write(bytes(chunk))
        lines = bad_lines.lines_in(chunk)
        chunk.clear()
        self.tap.take(due)
        self.tap.read_waiting()
        return lines

    def boots(self) -> int:
        """How often the virtual board has started."""
        return self.bench.board.peek(SLOT_BOOTS) if self.bench.board is not None else 0

    def account(self, name: str, bad: int, good: int, before: dict) -> None:
        """Compare what was sent with what the board answered, dropped and counted."""
        record = self.record
        status = self.status()
        answers = [frames.unseal(line) for line in bytes(self.tap.seen).split(b"\n")[:-1]]
        own = b'"id": %d,' % self.client.last_id
        answers = [answer for answer in answers if answer is not None and own not in answer]
        results = [answer for answer in answers if b'"result"' in answer]
        counted = status["lines_bad"] - before["lines_bad"]
        dropped = status["answers_dropped"] - before["answers_dropped"]
        errors = len(answers) - len(results)
        record.executed += [f"{name}: {answer[:60].decode()}" for answer in results[good:]]
        # A line whose CRC is bad gets no answer at all; a refusal would mean that it was taken for a request.
        record.executed += [f"{name}: answered a line without a good CRC"] * (errors - self.errors_due)
        record.sent += bad
        record.answered += errors
        record.counted += counted
        record.dropped += dropped
        record.astray += abs(bad + good - len(answers) - counted - dropped)

    def compare(self, name: str, before: dict, after: dict) -> list[str]:
        """Whatever differs was changed by a bad line."""
        changed = [mark for mark in before if before[mark] != after[mark]]
        self.record.commands_moved += "commands" in changed
        self.record.executed += [f"{name}: changed {mark}" for mark in changed if mark != "commands"]
        return changed

    def come_back(self, fault: Exception) -> None:
        """After a restart: throw away what is still under way and go on in a new session. Without a restart it is what it is."""
        uptime_s, boots = self.uptime_s, self.boots_seen
        # A port that is gone cannot be emptied, each kind says so in its own way, and opening it anew will tell.
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

    # What is not a kind of bad line; each of these takes a free id and returns how many bad lines and good requests it sent

    def replay(self, free: int) -> tuple[int, int]:
        """The last request again and again: the stored answer each time, byte by byte. A step tells a second one by its number."""
        evening = [list(bad_lines.EVENING_MC), [0] * s.SENSORS]
        for method, params in (("status", []), ("advance", [1, 5000, *evening]), ("advance", [2, 5000, *evening])):
            line = calls.request(self.client.last_id, method, params)
            self.client.last_id += 1
            # Between the two the bad line changes what a second execution would say.
            self.scan()
            self.tap.transport.write(line)
            first = self.tap.take(1)[:1]
            self.scan()
            self.tap.transport.write(b"?\n" + line * COPIES)
            again = self.tap.take(COPIES)
            self.record.replays += COPIES
            self.record.replays_wrong += COPIES - sum(answer == line for answer in again for line in first)
        self.scan()
        self.client.release()
        self.rest()
        self.scan()
        return 3, 0

    def requests(self, count: int) -> bytes:
        """So many status requests in a row."""
        lines = []
        for _ in range(count):
            lines.append(calls.request(self.client.last_id, "status", []))
            self.client.last_id += 1
        return b"".join(lines)

    def flood(self, free: int) -> tuple[int, int]:
        """Good requests back to back, answers read only afterwards."""
        for _ in range(PLAN.floods):
            self.tap.transport.write(self.requests(FLOOD))
            self.tap.drain()
        return 0, PLAN.floods * FLOOD

    def read_slowly(self, free: int) -> tuple[int, int]:
        """A host that takes a byte now and then."""
        self.tap.transport.write(self.requests(FLOOD))
        self.tap.read_slowly(SLOW_S)
        self.tap.drain()
        return 0, FLOOD

    def stay_silent(self, free: int) -> tuple[int, int]:
        """A host that sends and does not read at all for a while."""
        self.tap.transport.write(self.requests(FLOOD))
        time.sleep(PLAN.silent_s)
        self.tap.drain()
        return 0, FLOOD

    def reconnect(self, free: int) -> tuple[int, int]:
        """The port closes in the middle of a line and is opened anew, again and again, now and then with answers left behind."""
        for number in range(PLAN.reconnects):
            lines = bad_lines.requests(self.client.last_id + 1)
            line = lines[number % len(lines)]
            self.tap.transport.write(frames.seal(b"[]") * (number % 3) + line[: self.rng.randrange(1, len(line))])
            self.reopen()
        self.record.reconnects += PLAN.reconnects
        self.rest()
        self.scan()
        # Of the others the answers went to a port that was closed.
        return PLAN.reconnects, 0

    def send_without_end(self, free: int) -> tuple[int, int]:
        """One line that does not end, as fast as it goes; then line ends without a line."""
        begin = time.monotonic()
        for noise, top in ((b"y", PLAN.endless_bytes), (b"\r\n", PLAN.endless_bytes // 10)):
            sent = 0
            while sent < top and time.monotonic() - begin < self.share_s():
                self.tap.transport.write(noise * CHUNK)
                sent += len(noise) * CHUNK
        return 1, 0


RUNS: WeakKeyDictionary[Bench, Bombardment] = WeakKeyDictionary()


def bombard(bench: Bench) -> Bombardment:
    """The bombardment of this bench, which happens once."""
    if bench not in RUNS:
        run = Bombardment(bench)
        run.run()
        RUNS[bench] = run
    return RUNS[bench]


def measure_messages(bench):
    """Bad messages of every kind."""
    record = bombard(bench).record
    least = PLAN.messages if bench.board is not None else 1
    became = f"{record.answered} answered with an error, {record.counted} counted as bad, {record.dropped} answers dropped"
    return record.sent, least, 10 * PLAN.messages, f"bad messages in {sum(record.seconds.values()):.1f} s: {became}"


def measure_astray(bench):
    """Lines of which the board does not say what became of them."""
    record = bombard(bench).record
    return record.astray, 0, 0, "lines neither answered nor counted nor their answer dropped"


def measure_executed(bench):
    """Bad lines that were answered with a result, and changes."""
    record = bombard(bench).record
    seen = "; ".join(record.executed[:3]) or "state, injection, hands, settings, sequence number and offsets as before"
    return len(record.executed), 0, 0, seen


def measure_replays(bench):
    """The last request, sent again."""
    record = bombard(bench).record
    return record.replays_wrong, 0, 0, f"of {record.replays} repetitions not answered with the stored answer, byte by byte"


def measure_period(bench):
    """The watchdog register tells each step."""
    watcher = bombard(bench).watcher
    period_s = bench.client.facts["period_ms"] / 1000.0
    # Nothing below a period can be the longest one; it would mean that no step was seen.
    return watcher.longest_s, 0.9 * period_s, STRETCH * period_s, f"longest time between two of {watcher.steps} steps"


def measure_memory(bench):
    """What a self check says after a collection."""
    record = bombard(bench).record
    return record.heap_lost, 0, HEAP_TOP, f"less than the {record.heap_free} bytes free before, at worst after any kind"


def measure_prompt(bench):
    """Marks of a prompt in all that came back, and restarts."""
    record = bombard(bench).record
    return record.prompts + record.restarts, 0, 0, f"{record.prompts} marks of a prompt and {record.restarts} restarts"


def measure_relays(bench):
    """At the pins where they can be seen, else by the commands in the status."""
    run = bombard(bench)
    if run.watcher is not None:
        return run.watcher.moves, 0, 0, f"moves, seen at the pins every {1000 * LOOK_S:g} ms"
    return run.record.commands_moved, 0, 0, f"changes of the commands in {run.record.status_calls} status calls"


def measure_answer(bench):
    """Status calls between the kinds, and one more now."""
    run = bombard(bench)
    begin = time.monotonic()
    bench.client.status()
    longest_s = max(run.record.answer_s, time.monotonic() - begin)
    return longest_s, 0.0, ANSWER_TOP_S, f"longest of {run.record.status_calls + 1} status calls, after each kind and at the end"


SECONDS = 40
CHECKS = (
    Check(
        "torture-messages", "bad lines of every kind, floods, silence, reconnects: how many", "messages", SECONDS, measure_messages
    ),
    Check("torture-executed", "no bad line is executed or changes anything", "lines", SECONDS, measure_executed),
    Check("torture-replays", "a request that comes twice is executed once", "replays", SECONDS, measure_replays),
    Check("torture-accounted", "every line is answered or counted", "lines", SECONDS, measure_astray, "the virtual board"),
    Check("torture-period", "the control period holds under fire", "s", SECONDS, measure_period, "the virtual board"),
    Check("torture-memory", "memory stays flat", "bytes", SECONDS, measure_memory),
    Check("torture-prompt", "no prompt appears and nothing restarts", "events", SECONDS, measure_prompt),
    Check("torture-relays", "no relay moves", "moves", SECONDS, measure_relays),
    Check("torture-answer", "the board answers between and afterwards", "s", SECONDS, measure_answer),
)
