"""What a host holds on the board outlives work between two calls, or the failure says why."""

import os
import subprocess
import sys
import time

import numpy as np
import pytest
from twinloop_hil import client as client_of
from twinloop_hil.checks import relays
from twinloop_hil.checks.frame import Bench
from twinloop_hil.checks.operator import Operator
from twinloop_hil.client import LeaseOverError
from twinloop_hil.readings import EVENING_MC
from twinloop_sim import closed_loop, scenarios
from twinloop_sim.engine import compiled
from twinloop_sim.engine import run as engine

LEASE_MS = 500


@pytest.fixture
def hasty(monkeypatch):
    """Leases of half a second, renewed more often than that."""
    monkeypatch.setattr(client_of, "RENEW_S", 0.1)
    monkeypatch.setattr(closed_loop, "LEASE_MS", LEASE_MS)
    monkeypatch.setattr(relays, "HEARD_MS", LEASE_MS)


def test_an_injection_outlives_other_work(client, hasty):
    client.inject(EVENING_MC, lease_ms=LEASE_MS)
    client.advance(5000, EVENING_MC)
    with client.injecting():
        time.sleep(2 * LEASE_MS / 1000)
    client.advance(5000, EVENING_MC)
    assert client.step_number == 2


def test_a_lease_that_ran_out_says_why_and_what_to_do(client):
    client.inject(EVENING_MC, lease_ms=LEASE_MS)
    client.advance(5000, EVENING_MC)
    time.sleep(2 * LEASE_MS / 1000)
    with pytest.raises(
        LeaseOverError, match=r"held the readings for 0\.5 s, and this computer made no call for 1\.\d s: end other"
    ):
        client.advance(5000, EVENING_MC)


def test_a_renewal_that_the_board_refuses_is_told(client, hasty):
    with pytest.raises(client_of.RefusedError, match="maintenance: "), client.renewing("maintenance", -1):
        time.sleep(0.5)


class ShortDay(engine.Setup):
    """A scenario of ten steps in each of two parts."""

    def load(self, part):
        super().load(part)
        self.drive, self.rows = self.drive[:10], self.rows[:10]


def short_days():
    scenario = scenarios.load(scenarios.DEFAULT)
    scenario.days = 32
    return scenario


@pytest.mark.parametrize("slow", ["the first step of the plant", "the weather of a month"])
def test_the_closed_loop_outlives_slow_work(client, hasty, monkeypatch, slow):
    """Compiling comes before the injection; the weather of the next month renews the lease."""

    class Slow(ShortDay):
        def load(self, part):
            super().load(part)
            if slow == "the weather of a month":
                time.sleep(2 * LEASE_MS / 1000)

    plain, seen = compiled.plant_step(), []

    def compiling(*args):
        if slow == "the first step of the plant" and not seen:
            time.sleep(2 * LEASE_MS / 1000)
        seen.append(1)
        plain(*args)

    monkeypatch.setattr(engine, "Setup", Slow)
    monkeypatch.setattr(compiled, "plant_step", lambda: compiling)
    scenario = short_days()
    client.hold_settings(scenario.settings)
    found = closed_loop.over_link(scenario, client)
    assert (found.steps, found.differences) == (20, 0)


def test_the_step_that_compiles_changes_nothing(monkeypatch):
    setup = engine.Setup(closed_loop.two_days(step_s=60))
    before = [setup.plant.copy(), setup.flux.copy(), setup.felt_c.copy()]
    closed_loop.compile_plant(setup)
    assert all(np.array_equal(old, new) for old, new in zip(before, (setup.plant, setup.flux, setup.felt_c), strict=True))


CACHED = """
from twinloop_sim import closed_loop
from twinloop_sim.engine import compiled, run as engine
closed_loop.compile_plant(engine.Setup(closed_loop.two_days(step_s=60)))
stats = compiled.plant_entry().stats
print(sum(stats.cache_hits.values()), sum(stats.cache_misses.values()))
"""


def test_the_plant_is_compiled_once(tmp_path):
    """The next process reads it from the disk; another cache is not touched."""
    call, own = [sys.executable, "-c", CACHED], {**os.environ, "TWINLOOP_CACHE": str(tmp_path)}
    told = [subprocess.run(call, capture_output=True, text=True, timeout=120, env=own).stdout for _ in range(2)]
    assert told == ["0 1\n", "1 0\n"]


def test_an_operator_may_take_longer_than_the_lease(board, client, hasty):
    """The relay stays as it is until the question is answered."""
    seen = []

    def answer():
        time.sleep(2 * LEASE_MS / 1000)
        seen.append(board.relays())
        return "y"

    class Nobody:
        def write(self, text):
            """Questions are not kept."""

        def flush(self):
            """There is no buffer."""

    bench = Bench(board.port, client, None, Operator(True, off=True, ask=answer, out=Nobody()))
    assert relays.heard(bench, 0) == 0
    assert seen == [(1, 0, 0, 0, 0), (0, 0, 0, 0, 0)]
