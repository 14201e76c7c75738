"""Each relay by itself, by its read-back wire or the operator's ear; all during a restart."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from twinloop.control import state as s

from .frame import SOMEBODY, WIRE, Check, NotFittedError

# Alarm, fan, valve, then pumps: should mains be on after all, the least harmful relay moves first.
ORDER = (*s.OUTPUT_ROWS.where("kind", s.SIGNAL), *reversed(s.MOVING))
CYCLES = 10
# The board refuses to move a relay twice within 200 ms.
PAUSE_S = 0.21
# Small relays settle within 25 ms, contactors within 50 (common practice).
REST_TOP_MS = 50.0
# More edges per click mean a weakly driven coil or a worn contact (common practice).
EDGES_TOP = 12
LEASE_MS = 1000
HEARD_MS = 30000


@dataclass
class Clicks:
    """Ten cycles of a relay: settling times in ms, wrong contacts, most edges in one click."""

    closes_ms: list[float] = field(default_factory=list)
    opens_ms: list[float] = field(default_factory=list)
    wrong: int = 0
    edges: int = 0


def middle(values: list[float]) -> float:
    """The median: a busy host may spoil single values."""
    return sorted(values)[len(values) // 2]


def command(bench, output: int, on: int) -> dict:
    """Command one relay, then pause; returns the answer."""
    answer = bench.client.relay(output, on)
    time.sleep(PAUSE_S)
    return answer


def fitted(bench) -> list[int]:
    """The outputs that have a relay on this board, in this order."""
    return [output for output in ORDER if output < bench.client.facts["relays"]]


def need_relay(bench, output: int) -> None:
    """Raise NotFittedError for an output without a relay."""
    if output not in fitted(bench):
        raise NotFittedError(f"needs a relay for {s.OUTPUT_NAMES[output]}")


def clicks_of(bench, output: int) -> Clicks:
    """The result of ten cycles of a relay, made once for all its checks."""
    need_relay(bench, output)
    if output not in bench.clicks:
        clicks = Clicks()
        bench.client.release()
        # With every other relay at rest; relays-at-boot judges the contacts that are closed then.
        command(bench, output, 0)
        others = bench.client.call("self_check")["contacts"] & ~(1 << output)
        for _ in range(CYCLES):
            for on in (1, 0):
                answer = command(bench, output, on)
                clicks.wrong += answer["closed"] != others | on << output
                clicks.edges = max(clicks.edges, answer["edges"])
                if answer["last_us"] >= 0 and answer["closed"] >> output & 1 == on:
                    (clicks.closes_ms if on else clicks.opens_ms).append(answer["last_us"] / 1000.0)
        bench.client.release()
        bench.clicks[output] = clicks
    return bench.clicks[output]


def measure_move(output: int, on: int) -> Callable:
    """A measurement of the time until the contact has closed, or opened, and settled."""

    def measure(bench):
        clicks = clicks_of(bench, output)
        times = clicks.closes_ms if on else clicks.opens_ms
        if len(times) < CYCLES:
            raise TimeoutError(f"the contact {'closed' if on else 'opened'} in only {len(times)} of {CYCLES} cycles")
        return middle(times), 0.0, REST_TOP_MS, f"from the command to a settled contact, median of {CYCLES}"

    return measure


def measure_alone(output: int) -> Callable:
    """A measurement of whether the contact follows its command and no other moves."""

    def measure(bench):
        need_relay(bench, output)
        if bench.client.facts["read_back"]:
            wrong = clicks_of(bench, output).wrong
            return wrong, 0, 0, f"of {2 * CYCLES} commands left a contact in the wrong position"
        if not bench.operator.present:
            raise NotFittedError(f"needs {WIRE}, or {SOMEBODY}")
        return heard(bench, output), 0, 0, f"of 2 questions answered no: {s.OUTPUT_NAMES[output]} alone, on and off"

    return measure


def heard(bench, output: int) -> int:
    """How often the operator says no while a relay is switched on and off."""
    name = s.OUTPUT_NAMES[output]
    wrong = 0
    bench.client.release()
    words = ("dropped out", "pulled in") if rests_closed(bench, output) else ("pulled in", "dropped out")
    for on, word in zip((1, 0), words, strict=True):
        bench.client.relay(output, on, HEARD_MS)
        time.sleep(PAUSE_S)
        # The answer may take longer than the lease, and a relay that drops out would spoil it.
        with bench.client.renewing("relay", output, on, HEARD_MS):
            wrong += not bench.operator.yes(f"Has the relay of {name} {word}, and no other relay moved?")
        # The last renewal counts as a click, too.
        time.sleep(PAUSE_S)
    bench.client.release()
    return wrong


def measure_chatter(bench):
    edges = [clicks_of(bench, output).edges for output in fitted(bench)]
    return max(edges), 1, EDGES_TOP, f"most edges of a contact in one of {2 * CYCLES * len(edges)} clicks, including bounce"


def rests_closed(bench, output: int) -> int:
    """1 if an output's contact is closed without power: an alarm that a dead controller gives."""
    return bench.client.call("self_check")["rest"] >> output & 1


def contacts_closed(bench) -> int:
    """The closed contacts that are open without power, as bits, by the read-back wires."""
    facts = bench.client.call("self_check")
    return facts["contacts"] & ~facts["rest"]


def measure_boot(bench):
    """Relays on, or contacts closed, after a restart; on the virtual board also during it."""
    bench.client.release()
    on = 0
    if bench.board is not None:
        bench.board.power_cut()
        begin = time.monotonic()
        while time.monotonic() - begin < 0.5:
            on = max(on, bench.board.powered())
        bench.reconnect()
    else:
        bench.restart()
    if bench.client.facts["read_back"]:
        return max(on, contacts_closed(bench).bit_count()), 0, 0, "contacts closed after a restart"
    if bench.operator.present:
        moved = bench.operator.yes("The board has just restarted. Did any relay click or stay pulled in?")
        return int(moved), 0, 0, "relays that moved at a restart, heard by the operator"
    if bench.board is None:
        raise NotFittedError(f"needs {WIRE}, or {SOMEBODY}")
    return on, 0, 0, "relays on after a restart, seen at the pins"


def measure_lease(bench):
    bench.client.release()
    # An alarm that rests closed opens by itself once the station is well again.
    output = next(output for output in ORDER if not rests_closed(bench, output))
    name = s.OUTPUT_NAMES[output]
    rest = contacts_closed(bench)
    bench.client.relay(output, 1, LEASE_MS)
    begin = time.monotonic()
    if contacts_closed(bench) == rest:
        raise TimeoutError(f"the contact of {name} did not move")
    bench.wait(lambda: contacts_closed(bench) == rest, LEASE_MS / 1000.0 + 5.0, f"the contact of {name} to go back")
    took = time.monotonic() - begin
    return took, LEASE_MS / 1000.0 - 0.3, LEASE_MS / 1000.0 + 0.5, "from the command to an open contact, without another command"


def checks_of(output: int) -> tuple[Check, ...]:
    name = s.OUTPUT_NAMES[output]
    alone = "the contact follows its command ten times, and no other contact moves"
    settled = "time until the contact has {} and settled"
    return (
        Check(f"{name}-alone", alone, "wrong", 3, measure_alone(output), moves=True),
        Check(f"{name}-closes", settled.format("closed"), "ms", 1, measure_move(output, 1), WIRE, moves=True),
        Check(f"{name}-opens", settled.format("opened"), "ms", 1, measure_move(output, 0), WIRE, moves=True),
    )


CHECKS = (
    Check("relays-at-boot", "no relay moves during a restart", "relays", 2, measure_boot, moves=True),
    *(check for output in ORDER for check in checks_of(output)),
    Check("relay-chatter", "the most edges of any contact in one click", "moves", 1, measure_chatter, WIRE, moves=True),
    Check(
        "relay-lease", "a relay that is commanded once drops out by its lease", "s", 2, measure_lease, WIRE, moves=True, timed=True
    ),
)
