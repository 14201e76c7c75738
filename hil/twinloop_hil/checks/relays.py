"""Each relay clicked by itself, seen by its read-back wire or heard by the operator; and what the relays do across a restart.

Order: the alarm first, then the valve, then the pumps, so that a board with mains on it after all does the least harm first.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from twinloop.control import state as s

from .frame import SOMEBODY, WIRE, Check, NotFittedError

ORDER = (s.ALARM, s.DUMP_VALVE_POWER, s.TANK_PUMP, s.COLLECTOR_PUMP)
CYCLES = 10
# The board refuses a relay that was told less than 100 ms ago.
PAUSE_S = 0.11
# Small relays are at rest within 25 ms, contactors within 50 (common practice).
REST_TOP_MS = 50.0
# More moves of a contact than that in one click is a coil that is hardly driven, or a contact that is worn out (common practice).
EDGES_TOP = 12
LEASE_MS = 1000


@dataclass
class Clicks:
    """What the wire saw of ten cycles of one relay: times to rest in ms, contacts that were wrong, most moves in one click."""

    closes_ms: list[float] = field(default_factory=list)
    opens_ms: list[float] = field(default_factory=list)
    wrong: int = 0
    edges: int = 0


def middle(values: list[float]) -> float:
    """The median; a host that is busy elsewhere may spoil single ones."""
    return sorted(values)[len(values) // 2]


def told(bench, output: int, on: int) -> dict:
    """One relay told, and the pause that it needs."""
    answer = bench.client.relay(output, on)
    time.sleep(PAUSE_S)
    return answer


def clicks_of(bench, output: int) -> Clicks:
    """Ten cycles of a relay, made once for all checks of it."""
    if output not in bench.clicks:
        clicks = Clicks()
        bench.client.release()
        # Contacts that are closed at rest are a matter of relays-at-boot, not of this relay.
        others = bench.client.call("self_check")["contacts"] & ~(1 << output)
        for _ in range(CYCLES):
            for on in (1, 0):
                answer = told(bench, output, on)
                clicks.wrong += answer["closed"] != others | on << output
                clicks.edges = max(clicks.edges, answer["edges"])
                if answer["last_us"] >= 0 and answer["closed"] >> output & 1 == on:
                    (clicks.closes_ms if on else clicks.opens_ms).append(answer["last_us"] / 1000.0)
        bench.client.release()
        bench.clicks[output] = clicks
    return bench.clicks[output]


def measure_move(output: int, on: int) -> Callable:
    """How long the contact takes to close, or to open, and rest."""

    def measure(bench):
        clicks = clicks_of(bench, output)
        times = clicks.closes_ms if on else clicks.opens_ms
        if len(times) < CYCLES:
            raise TimeoutError(f"the contact {'closed' if on else 'opened'} in {len(times)} of {CYCLES} cycles")
        return middle(times), 0.0, REST_TOP_MS, f"from the command to a contact at rest, median of {CYCLES}"

    return measure


def measure_alone(output: int) -> Callable:
    """Whether this contact follows its command, and no other one moves."""

    def measure(bench):
        if bench.client.facts["read_back"]:
            wrong = clicks_of(bench, output).wrong
            return wrong, 0, 0, f"of {2 * CYCLES} commands after which any contact was not where it belongs"
        if not bench.operator.present:
            raise NotFittedError(f"needs {WIRE}, or {SOMEBODY}")
        return heard(bench, output), 0, 0, f"of 2 questions answered with no: on and off of {s.OUTPUT_NAMES[output]} alone"

    return measure


def heard(bench, output: int) -> int:
    """Click a relay on and off while the operator listens; returns how many of the answers were no."""
    name = s.OUTPUT_NAMES[output]
    wrong = 0
    bench.client.release()
    for on, word in ((1, "pulled in"), (0, "let go")):
        bench.client.relay(output, on, 30000)
        time.sleep(PAUSE_S)
        wrong += not bench.operator.yes(f"Has the relay of {name} {word}, and no other one moved?")
    bench.client.release()
    return wrong


def measure_chatter(bench):
    """The most moves of any contact in one click."""
    most = max(clicks_of(bench, output).edges for output in ORDER)
    return most, 1, EDGES_TOP, f"moves of a contact in one of {2 * CYCLES * len(ORDER)} clicks, bouncing included"


def contacts_closed(bench) -> int:
    """How many contacts are closed now, by the wires."""
    return bin(bench.client.call("self_check")["contacts"]).count("1")


def measure_boot(bench):
    """A restart: how many relays are on, or contacts closed, when the board answers again; on the virtual board all the while."""
    bench.client.release()
    on = 0
    if bench.board is not None:
        bench.board.power_cut()
        begin = time.monotonic()
        while time.monotonic() - begin < 0.5:
            on = max(on, sum(bench.board.relays()))
        bench.reconnect()
    else:
        bench.restart()
    if bench.client.facts["read_back"]:
        return max(on, contacts_closed(bench)), 0, 0, "contacts closed after a restart"
    if bench.operator.present:
        moved = bench.operator.yes("The board has just started anew. Did any relay click or stay pulled in?")
        return int(moved), 0, 0, "relays that moved at a restart, as the operator heard it"
    if bench.board is None:
        raise NotFittedError(f"needs {WIRE}, or {SOMEBODY}")
    return on, 0, 0, "relays on after a restart, at the pins"


def measure_lease(bench):
    """A relay is told once and never again: how long it stays."""
    bench.client.release()
    rest = contacts_closed(bench)
    bench.client.relay(s.ALARM, 1, LEASE_MS)
    begin = time.monotonic()
    if contacts_closed(bench) == rest:
        raise TimeoutError("the contact of alarm did not move")
    bench.wait(lambda: contacts_closed(bench) == rest, LEASE_MS / 1000.0 + 5.0, "the contact of alarm to go back")
    took = time.monotonic() - begin
    return took, LEASE_MS / 1000.0 - 0.3, LEASE_MS / 1000.0 + 0.5, "from the command to an open contact, nothing said meanwhile"


def checks_of(output: int) -> tuple[Check, ...]:
    """The checks of one relay."""
    name = s.OUTPUT_NAMES[output]
    return (
        Check(
            f"{name}-alone",
            f"{name}: its contact follows, ten times, and no other one moves",
            "wrong",
            3,
            measure_alone(output),
            moves=True,
        ),
        Check(
            f"{name}-closes",
            f"{name}: time until its contact is closed and at rest",
            "ms",
            1,
            measure_move(output, 1),
            WIRE,
            moves=True,
        ),
        Check(
            f"{name}-opens",
            f"{name}: time until its contact is open and at rest",
            "ms",
            1,
            measure_move(output, 0),
            WIRE,
            moves=True,
        ),
    )


CHECKS = (
    Check("relays-at-boot", "what the relays do across a restart", "relays", 2, measure_boot, moves=True),
    *(check for output in ORDER for check in checks_of(output)),
    Check("relay-chatter", "how often a contact moves in one click, of all relays", "moves", 1, measure_chatter, WIRE, moves=True),
    Check("relay-lease", "a relay that is told once and then forgotten lets go", "s", 2, measure_lease, WIRE, moves=True),
)
