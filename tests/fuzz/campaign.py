"""Sends fuzzed lines to a station and judges answers, steps and relays."""

from __future__ import annotations

import json
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

from twinloop.link import frames
from twinloop.loop import METHODS

from .grammar import Grammar
from .targets import KNOWN_ERRORS, BrokenError, Station

# Milliseconds between two lines: mostly few, as from a host in a hurry.
PAUSES_MS = (0, 0, 0, 20, 100, 1000, 1000, 5000, 65000)
LINES = 4000


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


def fuzz(seed: int, service: bool, tally: Tally, lines: int = LINES, without: tuple[str, ...] = ()) -> None:
    """Send this many lines to one station. Raises BrokenError, which names seed, line and bytes."""
    with tempfile.TemporaryDirectory(prefix="twinloop-fuzz-") as folder:
        station = Station(folder + "/", seed, service)
        twin = None if "hand" not in without else undisturbed(folder + "/twin", seed)
        grammar = Grammar(seed, list(METHODS), without)
        for number in range(lines):
            data = b"hello\n" if number == 0 else grammar.line()
            if grammar.rng.random() < 0.003 or number == 1:
                data = frames.seal(b'{"jsonrpc":"2.0","id":0,"method":"hello","params":[]}')
                grammar.asked = "hello"
            try:
                for line in station.send(data):
                    grammar.learn(judge_answer(line, tally, grammar.asked))
                pause_ms = grammar.rng.choice(PAUSES_MS)
                station.pass_time(pause_ms)
                if twin is not None:
                    twin.pass_time(pause_ms)
                    same(station, twin)
            except BrokenError as fault:
                raise BrokenError(f"seed {seed}, {'service' if service else 'bench'}, line {number}, {data!r}: {fault}") from None
            tally.lines += 1
        tally.steps += station.steps
        tally.moves += station.moves
        tally.restarts += station.restarts


def campaign(seconds: float, first_seed: int, say=lambda text: None) -> tuple[Tally, list[int]]:
    """Fuzz seed after seed, each in service and on the bench, until the time is over."""
    tally = Tally()
    seeds = []
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        seed = first_seed + len(seeds)
        seeds.append(seed)
        fuzz(seed, True, tally)
        fuzz(seed, False, tally)
        say(f"seed {seed}: {tally.lines} lines, {tally.answers} answers, {tally.steps} steps, nothing broken")
    return tally, seeds
