"""The flow input: a switch, a meter's pulses, noise, and a clock that wraps."""

import pytest
from twinloop.control import state as s
from twinloop.drivers.flow import PULSES_TOP, WINDOW_MS, FlowInput

WRAP = 1 << 30


class Pin:
    """A contact to ground, with the handler it calls."""

    level = 1
    handler = None

    def value(self):
        return self.level

    def irq(self, handler, trigger):
        self.handler = handler


class Meter:
    """A meter on a clock that is about to wrap."""

    def __init__(self, pulses_per_litre):
        self.now = WRAP - 2000
        self.pin = Pin()
        self.input = FlowInput(self.pin, pulses_per_litre, 2, lambda: self.now % WRAP, self.ticks_diff)

    @staticmethod
    def ticks_diff(later, earlier):
        return (later - earlier + WRAP // 2) % WRAP - WRAP // 2

    def run(self, seconds, pulses_a_second):
        """Feed pulses and read once a second; returns the last cause."""
        for _ in range(seconds):
            for _ in range(pulses_a_second):
                self.pin.handler(self.pin)
            self.now += 1000
            cause = self.input.read()
        return cause


def test_a_switch_says_whether_it_flows():
    """Closed to ground means flow; pulses do not count."""
    meter = Meter(0)
    assert meter.pin.handler is None
    for level, flow in ((1, 0), (0, 1), (1, 0)):
        meter.pin.level = level
        assert (meter.input.read(), meter.input.ml_per_min) == (s.CAUSE_NONE, flow)


@pytest.mark.parametrize(("pulses_per_litre", "pulses_a_second"), [(450, 34), (450, 1), (10, 1), (1000, 75)])
def test_pulses_to_flow(pulses_per_litre, pulses_a_second):
    """Within one pulse per window and 1 ml/min of rounding, across the clock's wrap."""
    meter = Meter(pulses_per_litre)
    assert meter.run(1, pulses_a_second) == s.CAUSE_NOT_READY
    assert meter.run(20, pulses_a_second) == s.CAUSE_NONE
    expected = pulses_a_second * 60000 / pulses_per_litre
    assert abs(meter.input.ml_per_min - expected) <= 60_000_000 / WINDOW_MS / pulses_per_litre + 1000 / pulses_per_litre + 1


def test_standing_water_is_zero_and_noise_is_a_fault():
    """No pulses mean no flow; more pulses than a meter can give are a fault."""
    meter = Meter(450)
    assert meter.run(6, 0) == s.CAUSE_NONE and meter.input.ml_per_min == 0
    assert meter.run(6, PULSES_TOP) == s.CAUSE_CHIP
    assert meter.run(11, 0) == s.CAUSE_NONE and meter.input.ml_per_min == 0


def test_products_stay_small_integers():
    """The largest window: below 2**30 at every step."""
    assert PULSES_TOP * 60000 < WRAP
    assert PULSES_TOP * 60000 // WINDOW_MS * 1000 < WRAP
