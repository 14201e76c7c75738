"""Recipe "A checker": it is silent about a good run and speaks about a tank that nearly freezes."""

from twinloop.control import state as s
from twinloop_sim import checkers, scenarios, trace
from twinloop_sim.checkers import tank_cold
from twinloop_sim.engine import run as engine


def test_it_is_asked():
    assert tank_cold in checkers.ALL


def test_silent_and_speaking():
    """The same run, once as it was and once with a tank at 1 C for an hour."""
    outcome = engine.run(scenarios.load("frosty-morning"))
    assert checkers.check_all(outcome, [tank_cold]) == []
    outcome.rows[100:820, trace.TRUE_SENSORS + s.TANK_LOW] = 1.0
    (found,) = checkers.check_all(outcome, [tank_cold])
    assert (found["name"], found["measured"], found["limit"], found["unit"]) == ("tank_cold", 1.0, 2.0, "C")
    assert found["at_s"] == outcome.rows[100, 0]
