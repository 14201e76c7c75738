"""One relay-truth test for each interlock, with the same trace on CPython and MicroPython."""

import pytest
from twinloop.control import state as control
from twinloop_hil.sequences import relay_script

from ..runtime import small_integers
from .protections import guard, library

each_sequence = pytest.mark.parametrize("sequence", library.SEQUENCES, ids=lambda sequence: sequence["name"])


@each_sequence
def test_on_cpython(sequence, run_here):
    run = run_here(sequence["name"])
    assert run.failures == []
    assert run.guard_actions == 0


@each_sequence
def test_on_micropython(sequence, on_micropython):
    found = on_micropython[0][sequence["name"]]
    assert found["failures"] == []
    assert found["guard_actions"] == 0


@each_sequence
def test_every_step_is_the_same_on_both(sequence, run_here, on_micropython):
    """The hash of the whole state: commands, duty and reasons are in it."""
    here = [line[-1] for line in run_here(sequence["name"]).trace]
    there = on_micropython[0][sequence["name"]]["trace"]
    assert len(here) == len(there)
    assert next((step for step in range(len(here)) if here[step] != there[step]), None) is None


def test_no_step_takes_from_the_heap(on_micropython):
    """By micropython.mem_total(), frames and exceptions included."""
    for place in (*control.DUTY_NAMES, "lost sensor"):
        steps, taken = on_micropython[1][place]
        # A turn takes three steps; other duties last for minutes.
        assert steps > (10 if place == "exercise" else 100), f"{place} was hardly tried"
        assert taken == 0, f"{taken} bytes in {steps} steps of {place}"


def test_every_sequence_stays_in_range(run_here):
    """Every entry of the state, at every step."""
    found = {sequence["name"]: run_here(sequence["name"]).beyond for sequence in library.SEQUENCES}
    assert {name: beyond for name, beyond in found.items() if beyond is not None} == {}


@pytest.fixture
def checked():
    """A core that checks every intermediate value."""
    return small_integers.checked_core()[0]


def test_every_intermediate_value_is_a_small_integer(checked, run_here):
    """The checks change nothing: the copy acts like the shipped files."""
    for sequence in library.SEQUENCES:
        assert relay_script.Run(checked, sequence).run().trace == run_here(sequence["name"]).trace


def test_names_are_unique():
    assert len(library.BY_NAME) == len(library.SEQUENCES) + len(guard.BROKEN)


def test_every_reason_and_wait_reason_is_seen(shipped, run_here):
    """A reason that no sequence shows is not tested. The guard's has its own tests."""
    seen = set()
    for sequence in library.SEQUENCES:
        for _, reason, wait, air, _ in run_here(sequence["name"]).trace:
            seen |= {reason, wait, air}
    named = {value for name, value in vars(shipped.reasons).items() if name.isupper()}
    assert named - seen <= {shipped.reasons.GUARD_ACTED}


def test_a_wrong_script_is_our_own_mistake(shipped):
    wrong = {"name": "x", "settings": {"stop_difference": 8000}, "script": []}
    with pytest.raises(relay_script.ScriptError, match="not accepted"):
        relay_script.Run(shipped, wrong)
    with pytest.raises(relay_script.ScriptError, match="whole steps"):
        relay_script.Run(shipped, {"name": "x", "settings": {}, "script": [["keep", 1, {}]]}).run()


def test_an_expectation_that_does_not_hold_is_reported(shipped):
    names = shipped.state
    script = [
        ["phase", "p"],
        ["expect", {"duty": "charging"}],
        ["becomes", 10000, 15000, {"duty": "charging"}],
        ["phase", "q"],
        ["break", "collector", "CAUSE_OPEN"],
        ["becomes", 25000, 30000, {"duty": "fault_stop"}],
    ]
    run = relay_script.Run(shipped, {"name": "x", "settings": {}, "script": script}).run()
    assert run.failures == [
        ["p", 0, "duty", names.CHARGING, names.IDLE],
        ["p", 15000, "duty", names.CHARGING, names.IDLE],
        ["q", 35000, "too early", 25000, 20000],
    ]
