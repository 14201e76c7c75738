"""Settings that are taken up in the running step: no truth breaks, whatever changes and when."""

import binascii
import random
import sys
from array import array
from pathlib import Path

import numpy as np
import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control import station
from twinloop_sim.explore import truths
from twinloop_sim.explore.core import interpreted, load_core
from twinloop_sim.explore.truths import memory as mem

sys.path.insert(0, str(Path(__file__).parents[2] / "firmware" / "runtime"))
import walk  # noqa: E402

RUNNING = [code for code in range(cfg.SETTINGS) if code not in cfg.COLD_CODES]
# A change every forty steps: a state between two of them has time to settle, or not.
CHANGE = 1 / 40
BLOCKS = 100


def changed(draw, settings, codes):
    """An accepted set with some of these settings changed a little, anywhere, or to an end."""
    while True:
        wanted = array("i", settings)
        for code in draw.sample(codes, draw.randint(1, min(4, len(codes)))):
            low, high, default = cfg.TABLE[code][2:5]
            near = settings[code] + draw.randint(-(high - low) // 20, (high - low) // 20)
            wanted[code] = draw.choice((low, high, default, draw.randint(low, high), max(low, min(near, high))))
        if cfg.broken_rule(wanted) == cfg.RULE_OK:
            return wanted


def rows(*arrays):
    """The same memory for compiled code."""
    return [np.frombuffer(one, dtype=np.int32) for one in arrays]


def live(core, seed, blocks, codes, share=CHANGE):
    """What breaks in random lives with changes of these settings; what was changed; starts; a sum.

    The sum is a CRC over every state and memory.
    """
    draw = random.Random(seed)
    world = walk.World(draw, credible=True)
    state, memory = array("i", [0] * s.STATE), array("i", [0] * truths.MEMORY)
    now, told, given = rows(state, memory, world.inputs)
    once = np.ones(1, dtype=np.int32)
    found, seen, commands, crc = [], set(), 0, 0
    for block in range(blocks):
        settings = walk.accepted_settings(draw)
        (known,) = rows(settings)
        world.begin()
        station.clear_meter(state, settings, world.inputs)
        station.wake(state, settings, world.inputs)
        truths.begin(memory, state, settings, world.inputs)
        for number in range(walk.STEPS_A_BLOCK):
            if draw.random() < share:
                wanted = changed(draw, settings, codes)
                seen |= {code for code in codes if wanted[code] != settings[code]}
                known[:] = wanted
            world.advance(number)
            before = array("i", state[s.COMMAND : s.COMMAND + s.OUTPUTS])
            rested_ms = memory[mem.OFF_MS] + min(world.inputs[s.IN_DT_MS], s.STEP_TOP_MS)
            bits, _ = core.replay(known, now, told, given.reshape(1, -1), once)
            crc = binascii.crc32(memory, binascii.crc32(state, crc))
            if bits:
                found += [(seed, block, number, name) for name in truths.names_of(bits)]
            started = state[s.COLLECTOR_PUMP_ON] == 1 and before[s.COLLECTOR_PUMP] == 0
            if started and state[s.DUTY] != s.HAND:
                commands += 1
                near = (settings[cfg.DUMP_COLLECTOR_START] + settings[cfg.COLLECTOR_LIMIT]) // 2
                pulses = settings[cfg.DUMP_TOPOLOGY] != cfg.BYPASS and state[s.DUTY] == s.CHARGING
                rest = 60000 if pulses and state[s.LOOP_LOWEST_MC] < settings[cfg.EXCHANGER_FROST] else 600000
                if rested_ms < min(settings[cfg.MINIMUM_REST], rest) and state[s.COLLECTOR_MC] < near:
                    found.append((seed, block, number, "short rest"))
    return found, seen, commands, crc


@pytest.mark.parametrize("seed", range(4))
def test_changes_in_the_running_step_break_no_truth(seed):
    found, seen, starts, _ = live(load_core(), seed, BLOCKS, RUNNING)
    assert found == []
    assert seen == set(RUNNING)
    assert starts > 100


def test_changes_that_have_to_start_cold_would_break_truths():
    """The negative: all settings, taken up at once."""
    assert any(live(load_core(), seed, BLOCKS, range(cfg.SETTINGS))[0] for seed in range(5, 15))


def test_compiled_lives_are_the_interpreted_ones():
    """State by state, over a dozen lives."""
    compiled, reference = (live(core, 1, 12, RUNNING) for core in (load_core(), interpreted()))
    assert compiled == reference
    assert reference[2] > 10
