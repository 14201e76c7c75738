"""Why a hand is refused: the words for it agree with the core, whatever holds."""

import itertools

import pytest
from twinloop.control import conditions as c
from twinloop.control import reasons as why
from twinloop.control import sequence, station, tank
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_hil.board import hands

CONDITIONS = (
    *(c.COLLECTOR_LOST, c.HOT_STEAM, c.STIFF, c.COLD_DUMP, c.COLD_LOOP),
    *(c.ROUND, c.TANK_LOST, c.HOT_GLYCOL, c.HEATING),
)
# Trust, reading, and how long it may still be hot.
EXCHANGERS = (
    *((s.GOOD, 20000, 0), (s.GOOD, 90000, 0), (s.GOOD, 20000, tank.PLATES_COOL_MS)),
    *((s.LOST, s.UNKNOWN_MC, 0), (s.LOST, s.UNKNOWN_MC, 1)),
)


def stations():
    """The core's arrays and the board's status, in every mixture of conditions and valve."""
    state, inputs, settings = ([0] * size for size in (s.STATE, s.INPUTS, cfg.SETTINGS))
    cfg.load_defaults(settings)
    station.wake(state, settings, inputs)
    state[s.DUTY], state[s.REASON], state[s.CHARGE_HOT] = s.HAND, why.HAND_HELD, 0
    state[s.STATUS + s.EXCHANGER], state[s.EXCHANGER_MC] = s.GOOD, 20000
    for bits in range(1 << len(CONDITIONS)):
        held = [condition for place, condition in enumerate(CONDITIONS) if bits >> place & 1]
        state[s.CONDITIONS : s.CONDITIONS + c.CONDITION_WORDS] = c.CONDITION_ROWS.words(held, c.BITS)
        for way, power, pump, over in itertools.product((0, 1, 120000), (0, 1), (0, 1), (0, 1)):
            state[s.VALVE_MS], state[s.DUMP_VALVE_POWER_ON], state[s.COLLECTOR_PUMP_ON], state[s.TANK_OVER] = way, power, pump, over
            yield state, settings, inputs, status_of(state)


def exchangers():
    """The same for every exchanger, with the tank pump off and on."""
    for (trust, reads_mc, left_ms), hot, on in itertools.product(EXCHANGERS, (0, 1), (0, 1)):
        state, settings, inputs, _ = next(stations())
        state[s.STATUS + s.EXCHANGER], state[s.EXCHANGER_MC], state[s.PLATES_HOT_MS] = trust, reads_mc, left_ms
        state[s.CHARGE_HOT], state[s.TANK_PUMP_ON] = hot, on
        held = [c.HOT_GLYCOL] if hot else []
        state[s.CONDITIONS : s.CONDITIONS + c.CONDITION_WORDS] = c.CONDITION_ROWS.words(held, c.BITS)
        yield state, settings, inputs, status_of(state)


def status_of(state):
    """What the link tells of it."""
    return {
        "reason": state[s.REASON],
        "wait": why.WAIT_LIMIT,
        "valve_ms": state[s.VALVE_MS],
        "commands": state[s.COMMAND : s.COMMAND + s.OUTPUTS],
        "conditions": state[s.CONDITIONS : s.CONDITIONS + c.CONDITION_WORDS],
        "tank_over": state[s.TANK_OVER],
        "plates_hot_ms": state[s.PLATES_HOT_MS],
        "mc": state[s.VALUE_MC : s.VALUE_MC + s.SENSORS],
        "status": state[s.STATUS : s.STATUS + s.SENSORS],
    }


def test_the_words_name_a_limit_just_when_the_core_refuses():
    seen = set()
    for state, settings, inputs, status in itertools.chain(stations(), exchangers()):
        pump, water = hands.pump_limit(status, settings), hands.tank_limit(status, settings)
        assert bool(pump) == bool(sequence.hand_pump_refused(state, settings, inputs))
        assert bool(water) == bool(tank.hand_refused(state, settings, inputs))
        seen |= {pump, water}
    assert len(seen) == 14 and all("until" in text for text in seen if text)


@pytest.mark.parametrize(
    ("facts", "output", "words"),
    [
        ({"reason": why.UNDER_MAINTENANCE}, s.TANK_PUMP, "under maintenance: all pumps off"),
        ({"reason": why.GUARD_ACTED}, s.COLLECTOR_PUMP, "the guard had to stop a command"),
        ({}, s.DUMP_VALVE_POWER, "no dump valve"),
        ({"wait": why.WAIT_VALVE}, s.COLLECTOR_PUMP, "waits for the dump valve"),
        ({"wait": why.WAIT_NOTHING}, s.COLLECTOR_PUMP, "waits for the dump valve"),
    ],
)
def test_what_is_no_limit_is_named_too(facts, output, words):
    state, settings, _, status = next(stations())
    assert words in hands.why_off({**status, **facts}, output, settings)
