"""Settings that are taken up in the running step: no truth breaks, whatever changes and when."""

import random
import sys
from array import array
from pathlib import Path

import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control import station
from twinloop_sim.explore import truths
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


def live(seed, blocks, codes, share=CHANGE):
    """What breaks in random lives with changes of these settings; and what was changed."""
    draw = random.Random(seed)
    world = walk.World(draw, credible=True)
    state, memory = array("i", [0] * s.STATE), array("i", [0] * truths.MEMORY)
    found, seen, commands = [], set(), 0
    for block in range(blocks):
        settings = walk.accepted_settings(draw)
        world.begin()
        station.clear_meter(state, settings, world.inputs)
        station.wake(state, settings, world.inputs)
        truths.begin(memory, state, settings, world.inputs)
        for number in range(walk.STEPS_A_BLOCK):
            if draw.random() < share:
                wanted = changed(draw, settings, codes)
                seen |= {code for code in codes if wanted[code] != settings[code]}
                settings[:] = wanted
            world.advance(number)
            before = array("i", state[s.COMMAND : s.COMMAND + s.MOVERS])
            rested_ms = memory[mem.OFF_MS] + min(world.inputs[s.IN_DT_MS], s.STEP_TOP_MS)
            station.step(state, settings, world.inputs)
            bits = truths.broken(memory, state, settings, world.inputs)
            if bits:
                found += [(seed, block, number, name) for name in truths.names_of(bits)]
            started = state[s.COLLECTOR_PUMP_ON] == 1 and before[s.COLLECTOR_PUMP] == 0
            if started and state[s.DUTY] != s.HAND:
                commands += 1
                if rested_ms < settings[cfg.MINIMUM_REST]:
                    found.append((seed, block, number, "short rest"))
    return found, seen, commands


@pytest.mark.parametrize("seed", range(4))
def test_changes_in_the_running_step_break_no_truth(seed):
    found, seen, starts = live(seed, BLOCKS, RUNNING)
    assert found == []
    assert seen == set(RUNNING)
    assert starts > 100
