"""Recipe "A rule": a thirty-first condition, its row, and a sequence that misses the row."""

import importlib
from types import SimpleNamespace

import numpy as np
from twinloop.control import conditions as c
from twinloop.control import reasons as why
from twinloop.control import rules
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.reason_texts import REASON_TEXTS
from twinloop_hil.sequences import library, relay_script
from twinloop_sim.engine.compiled import CONTROL
from twinloop_sim.explore import truths
from twinloop_sim.pages import states

SEQUENCE = next(sequence for sequence in library.SEQUENCES if sequence["name"] == "hot_water_at_the_taps")


def run(**changed):
    """The sequence on the control core, with some of its tables changed."""
    core = SimpleNamespace(**{name: importlib.import_module(f"twinloop.control.{name}") for name in CONTROL})
    before = {name: getattr(rules, name) for name in changed}
    for name, value in changed.items():
        setattr(rules, name, value)
    try:
        found = relay_script.Run(core, SEQUENCE)
        found.run()
    finally:
        for name, value in before.items():
            setattr(rules, name, value)
    return found


def test_conditions_take_a_second_word():
    """More than thirty fit no small integer: there are two words, and both are searched."""
    assert (len(c.CONDITION_NAMES), c.CONDITION_WORDS) == (32, 2)
    assert len(rules.NEEDS) == 2 * len(rules.ROWS)
    assert max(rules.NEEDS) < 1 << 30
    state = np.zeros(s.STATE, dtype=np.int32)
    rules.mark(state, c.TAP_HOT)
    assert rules.holds(state, c.TAP_HOT)
    assert not rules.holds(state, c.RESETS)
    rules.clear(state, c.TAP_HOT)
    assert not state.any()


def test_the_sequence_holds_and_misses_the_row():
    assert run().failures == []
    rows = tuple(row for row in rules.ROWS if row[2] != why.TAP_TOO_HOT)
    without = run(NEEDS=rules.needs(rows), ROW_DUTIES=tuple(row[1] for row in rows), ROW_REASONS=tuple(row[2] for row in rows))
    assert without.failures[0][0] == "hot, off"


def test_the_truth_is_judged():
    """It is among the truths, and it speaks when the station does not stop."""
    assert "hot_taps_stop" in [truth.__name__ for truth in truths.TRUTHS]
    state, settings = np.zeros(s.STATE, dtype=np.int32), np.zeros(cfg.SETTINGS, dtype=np.int32)
    inputs, memory = np.zeros(s.INPUTS, dtype=np.int32), np.zeros(truths.MEMORY, dtype=np.int32)
    truth = next(truth for truth in truths.TRUTHS if truth.__name__ == "hot_taps_stop")
    state[s.TAP_MC], state[s.DUTY], state[s.REASON] = 61000, s.CHARGING, why.DIFFERENCE
    assert truth(memory, state, settings, inputs)
    state[s.DUTY], state[s.REASON] = s.FAULT_STOP, why.TAP_TOO_HOT
    assert not truth(memory, state, settings, inputs)


def test_said_and_shown():
    assert REASON_TEXTS[why.TAP_TOO_HOT].startswith("water at the taps is too hot")
    assert "water at the taps is hot" in states.page()
