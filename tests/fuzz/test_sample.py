"""A short run of the fuzzer breaks nothing; with a protection removed it finds what is wrong."""

import pytest
from twinloop import desk
from twinloop.loop import METHODS
from twinloop_hil import inprocess

from . import campaign
from .campaign import MOVING, Tally, converse, fuzz
from .grammar import Grammar
from .targets import BrokenError, Wire

LINES = 800
# Executed and refused by turns: a run that never gets past the first check proves nothing.
CALLS_IN_SERVICE = 14
CALLS_ON_THE_BENCH = 19


@pytest.mark.parametrize(
    ("service", "without", "calls"),
    [(True, (), CALLS_IN_SERVICE), (True, MOVING, CALLS_IN_SERVICE - len(MOVING)), (False, (), CALLS_ON_THE_BENCH)],
)
def test_nothing_breaks(service, without, calls):
    """Every answer is one of JSON-RPC, every truth of the walk holds, relays follow the station."""
    tally = Tally()
    fuzz(1, service, tally, LINES, without)
    assert tally.lines == LINES
    assert len(tally.executed.keys() & METHODS.keys()) >= calls
    assert tally.moves > 10


def test_nothing_breaks_on_micropython(interpreter):
    """The same lines on the virtual board in service, on an evening on which nothing moves."""
    tally = Tally()
    with Wire(service=True) as wire:
        for _ in converse(wire, Grammar(1, list(METHODS), MOVING), tally, 250, "seed 1, MicroPython"):
            pass
    assert len(tally.executed) >= 8


def answers_badly(desk_, params):
    """A call with a defect."""
    return {}["no such key"]


REMOVED = {
    "no injection in service": (desk, "need_bench", lambda one: None, True, "somebody injects or holds a relay|relays"),
    "no prompt in service": (inprocess.InProcessPort, "attended", lambda one: True, True, "restarted a board in service"),
    "causes in range": (desk, "known_causes", lambda causes: causes, False, "values_in_range"),
}


@pytest.mark.parametrize("what", REMOVED)
def test_a_removed_protection_is_found(what, monkeypatch):
    """The negative of each promise."""
    place, name, instead, service, words = REMOVED[what]
    monkeypatch.setattr(place, name, instead)
    with pytest.raises(BrokenError, match=words):
        for seed in range(1, 5):
            fuzz(seed, service, Tally())


def test_an_exception_in_a_call_is_found(monkeypatch):
    """The board answers it as its own fault and lives on; the fuzzer does not let it pass."""
    monkeypatch.setitem(METHODS, "probes", answers_badly)
    with pytest.raises(BrokenError, match="probes: error -32603, KeyError"):
        fuzz(1, True, Tally(), LINES)


def test_a_call_that_moves_a_relay_is_found(monkeypatch):
    """The station to which nobody speaks is a judge: with hands in the grammar relays differ."""
    monkeypatch.setattr(campaign, "MOVING", ())
    with pytest.raises(BrokenError, match="undisturbed"):
        fuzz(1, True, Tally(), LINES)
