"""The rhythms of the light."""

import pytest
from twinloop.drivers import led

WRAP = 1 << 30


class Pin:
    """A pin that keeps its level."""

    level = 0

    def value(self, level):
        self.level = level


class Clock:
    """A clock that is about to wrap."""

    now = WRAP - 700

    def ticks_ms(self):
        return self.now % WRAP

    def ticks_diff(self, later, earlier):
        return (later - earlier + WRAP // 2) % WRAP - WRAP // 2


def rhythm(active, bench, alarm, stopped):
    """Two seconds of light, one letter per tenth."""
    pin, clock = Pin(), Clock()
    light = led.StatusLed(pin, active, clock.ticks_ms, clock.ticks_diff)
    light.show(bench, alarm, stopped)
    seen = ""
    for _ in range(2 * led.SLOTS):
        clock.now += led.SLOT_MS
        light.tend()
        seen += "#" if pin.level == active else "."
    return seen[led.SLOTS - 1 : 2 * led.SLOTS - 1]


@pytest.mark.parametrize("active", [0, 1])
def test_rhythms(active):
    """Bench, well, look, stopped; the gravest wins. The clock wraps meanwhile."""
    assert rhythm(active, True, False, False) == "#####.....#####....."
    assert rhythm(active, False, False, False) == "#..................."
    assert rhythm(active, False, True, False) == "#.#.#..............."
    assert rhythm(active, True, True, False) == "#.#.#..............."
    assert rhythm(active, False, True, True) == "#.#.#.#.#.#.#.#.#.#."
