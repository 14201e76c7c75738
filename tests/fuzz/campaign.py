"""Sends fuzzed lines to a station and judges answers, steps and relays."""

from __future__ import annotations

import contextlib
import json
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from twinloop.link import frames
from twinloop.loop import METHODS

from .grammar import Grammar
from .targets import KNOWN_ERRORS, BrokenError, Station, Wire

# Milliseconds between two lines: mostly few, as from a host in a hurry.
PAUSES_MS = (0, 0, 0, 20, 100, 1000, 1000, 5000, 65000)
LINES = 4000
HELLO = frames.seal(b'{"jsonrpc":"2.0","id":0,"method":"hello","params":[]}')
# All that may move a relay in service, at once or later.
MOVING = ("hand", "purge", "maintenance", "settings.stage", "settings.commit")


@dataclass
class Tally:
    """What a run of the fuzzer met."""

    lines: int = 0
    answers: int = 0
    executed: dict[str, int] = field(default_factory=dict)
    refused: dict[int, int] = field(default_factory=dict)
    steps: int = 0
    moves: int = 0
    restarts: int = 0


def judge_answer(line: bytes, tally: Tally, method: str) -> dict:
    """The answer in this line, counted. Raises BrokenError when it is no good answer or error."""
    payload = frames.unseal(line)
    if payload is None:
        raise BrokenError(f"answer without a good CRC: {line[:80]!r}")
    answer = json.loads(payload)
    if ("result" in answer) == ("error" in answer) or answer.get("jsonrpc") != "2.0":
        raise BrokenError(f"not an answer of JSON-RPC: {payload[:80]!r}")
    tally.answers += 1
    if "result" in answer:
        tally.executed[method] = tally.executed.get(method, 0) + 1
    else:
        code = answer["error"]["code"]
        tally.refused[code] = tally.refused.get(code, 0) + 1
        if code not in KNOWN_ERRORS:
            raise BrokenError(f"{method}: error {code}, {answer['error']['message']}")
    return answer


def undisturbed(folder: str, seed: int) -> Station:
    """A station in service with the same weather, to which nobody speaks."""
    Path(folder).mkdir()
    return Station(folder + "/", seed, service=True)


def same(station: Station, twin: Station) -> None:
    """Raise BrokenError when the relays differ from those of the undisturbed station."""
    if station.board.relays() != twin.board.relays():
        raise BrokenError(f"relays {station.board.relays()}, undisturbed {twin.board.relays()}")


def converse(station, grammar: Grammar, tally: Tally, lines: int, name: str) -> Iterator[int]:
    """Send fuzzed lines, and let time pass between them; yields each pause in ms.

    Raises BrokenError, which names the line and its bytes.
    """
    for number in range(lines):
        data = grammar.line()
        if grammar.lost or grammar.rng.random() < 0.003:
            data, grammar.asked, grammar.lost = HELLO, "hello", False
        try:
            for line in station.send(data):
                grammar.learn(judge_answer(line, tally, grammar.asked))
            pause_ms = grammar.rng.choice(PAUSES_MS)
            station.pass_time(pause_ms)
            yield pause_ms
        except BrokenError as fault:
            raise BrokenError(f"{name}, line {number}, {data!r}: {fault}") from None
        tally.lines += 1
    tally.steps += station.steps
    tally.moves += station.moves
    tally.restarts += station.restarts


def fuzz(seed: int, service: bool, tally: Tally, lines: int = LINES, without: tuple[str, ...] = ()) -> None:
    """Send this many lines to a station in this process. Raises BrokenError.

    Without the calls that may move something, its relays have to be those of a station to which
    nobody speaks.
    """
    # What the firmware leaves for main.py goes into the working folder.
    with tempfile.TemporaryDirectory(prefix="twinloop-fuzz-") as folder, contextlib.chdir(folder):
        station = Station(folder + "/", seed, service)
        twin = undisturbed(folder + "/twin", seed) if without == MOVING else None
        grammar = Grammar(seed, list(METHODS), without)
        for pause_ms in converse(station, grammar, tally, lines, f"seed {seed}, {'service' if service else 'bench'}"):
            if twin is not None:
                twin.pass_time(pause_ms)
                same(station, twin)


def in_process(seconds: float, first_seed: int) -> tuple[Tally, list[int]]:
    """Fuzz stations in this process, seed after seed: twice in service, once on the bench."""
    tally = Tally()
    seeds = []
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        seeds.append(first_seed + len(seeds))
        fuzz(seeds[-1], True, tally)
        fuzz(seeds[-1], True, tally, without=MOVING)
        fuzz(seeds[-1], False, tally)
    return tally, seeds


def on_micropython(seconds: float, first_seed: int) -> tuple[Tally, list[int]]:
    """Fuzz virtual boards, seed after seed, in service and on the bench in turn."""
    tally = Tally()
    seeds = []
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        seeds.append(first_seed + len(seeds))
        service = len(seeds) % 2 == 1
        # On the bench a prompt is granted, and whoever has it speaks no grammar of ours.
        grammar = Grammar(seeds[-1], list(METHODS), MOVING if service else ("prompt",))
        with Wire(service) as wire:
            for _ in converse(wire, grammar, tally, LINES, f"seed {seeds[-1]}, MicroPython"):
                pass
    return tally, seeds
