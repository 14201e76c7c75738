"""Each safety rule of a storm: silent on a good trace, and speaking when one thing is wrong."""

import json
from types import SimpleNamespace

import numpy as np
import pytest
from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_sim import checkers, trace
from twinloop_sim.checkers.allowance import Allowance
from twinloop_sim.thermal import parameters as p

STEPS = 400
STEP_S = 5
NODE = trace.COLUMNS.index("true_tank_node")
INLET = trace.COLUMNS.index("true_tank_inlet")
PLATE = trace.COLUMNS.index("true_exchanger_plate")
TRUE_COLLECTOR = trace.TRUE_SENSORS + s.COLLECTOR
ROOM = trace.TRUE_SENSORS + s.ROOM
TO_TANK = trace.HEAT + trace.HEATS.index("to_tank")
PUMP, WATER = trace.COMMANDS + s.COLLECTOR_PUMP, trace.COMMANDS + s.TANK_PUMP


def well():
    """A good trace: both pumps off, everything at 40 C, every sensor trusted."""
    rows = np.zeros((STEPS, trace.WIDTH))
    rows[:, 0] = np.arange(STEPS) * STEP_S
    rows[:, trace.BELIEVED : trace.IRRADIANCE] = 40.0
    rows[:, INLET] = np.nan
    # The sun warms the collector for 26 minutes of 5 s steps: too short for a finding.
    rows[70:, TRUE_COLLECTOR] = 60.0
    settings = [row[4] for row in cfg.TABLE]
    scenario = SimpleNamespace(settings=settings, plant=p.plant_values({}), step_s=STEP_S)
    nothing = np.zeros(STEPS, dtype=bool)
    allowance = Allowance(unpowered=nothing.copy(), bitten=nothing.copy(), resets=np.zeros(STEPS, dtype=int))
    beside = SimpleNamespace(reference=rows.copy, blameless=rows.copy, sound_life=rows.copy)
    return SimpleNamespace(rows=rows, scenario=scenario, state=np.zeros(s.STATE, dtype=int), allowance=allowance, beside=beside)


def hot_layer(outcome):
    """A layer 3 K above the default limit of 75 C."""
    outcome.rows[200:, NODE] = 78.0


def hot_layer_beside_strapped_sensors(outcome):
    """A layer 3 K above the limit, which the sensors read lower."""
    outcome.scenario.settings[cfg.TANK_MARGIN] = 10000
    outcome.rows[200:, NODE] = 78.0


def hot_inlet(outcome):
    outcome.rows[200, INLET] = 96.0


def blind(outcome):
    outcome.rows[200, [PUMP, WATER]] = 1
    outcome.rows[200, [trace.BELIEVED + s.TANK_LOW, trace.BELIEVED + s.TANK_HIGH]] = np.nan


def over(outcome):
    outcome.rows[200, [PUMP, WATER]] = 1
    outcome.rows[200, trace.BELIEVED + s.TANK_HIGH] = 75.0
    outcome.rows[200, trace.TRUE_SENSORS + s.LOOP_SUPPLY] = 80.0


def dumps_over(outcome):
    """The collector pump alone for 75 s beside a tank sensor 0.6 K above tank_limit."""
    outcome.rows[200:215, PUMP] = 1
    outcome.rows[200:, trace.BELIEVED + s.TANK_HIGH] = 75.6
    outcome.rows[200:, trace.TRUE_SENSORS + s.LOOP_SUPPLY] = 80.0


def ice(outcome):
    outcome.rows[200, PLATE] = 0.0


def told_hot(outcome):
    outcome.rows[200, PUMP] = 1
    outcome.rows[200, trace.BELIEVED + s.COLLECTOR] = 120.0


def steam(outcome):
    """The pump is on for ten minutes while the collector is at 125 C and reads 40 C."""
    outcome.rows[200:320, PUMP] = 1
    outcome.rows[200:320, TRUE_COLLECTOR] = 125.0


def early(outcome):
    outcome.allowance.bitten[200] = True
    outcome.rows[202, PUMP] = 1


def unsafe(outcome):
    outcome.allowance.bitten[200] = True
    outcome.rows[200, trace.COMMANDS + s.DUMP_VALVE_POWER] = 1


def storming(outcome):
    outcome.allowance.resets[200:] = 3
    outcome.rows[300, WATER] = 1


def idle_in_the_sun(outcome):
    """An hour idle with the collector at 60 C, mild air, and the tank at 40 C."""
    outcome.scenario.step_s = 60


def warm_room(outcome):
    """The fan blows into a room 2 K above the default room_maximum."""
    outcome.scenario.settings[cfg.AIR_HEATER] = 1
    outcome.rows[:, ROOM] = 20.0
    outcome.rows[200, ROOM] = outcome.scenario.settings[cfg.ROOM_MAXIMUM] / 1000.0 + 2.0
    outcome.rows[200, trace.AIR_REASON] = why.AIR_WARM


def guarded(outcome):
    outcome.state[s.GUARD_ACTIONS] = 1


def boils(outcome):
    """Six hours at 125 C; the reference rule, beside it, kept the collector at 60 C."""
    kept = outcome.rows.copy()
    outcome.beside.reference = lambda: kept
    outcome.scenario.step_s = 60
    outcome.rows[:, TRUE_COLLECTOR] = 125.0


def carries(outcome):
    """Two kilowatt hours leave the tank while its pump runs."""
    outcome.rows[:, WATER] = 1
    outcome.rows[:, TO_TANK] = np.linspace(0.0, -2.0, STEPS)


def rattles(outcome):
    """A pump is switched on two hundred times in half an hour."""
    outcome.rows[::2, PUMP] = 1


def says_nothing(outcome):
    """A day without heat; a sound station had five kilowatt hours."""
    outcome.scenario.step_s = 216
    outcome.rows[:, TRUE_COLLECTOR] = 40.0
    sound = outcome.rows.copy()
    sound[:, TO_TANK] = np.linspace(0.0, 5.0, STEPS)
    outcome.beside.blameless = lambda: sound
    outcome.beside.behind = lambda column: (sound - outcome.rows)[:, column]


def idle_under_a_fault(outcome):
    """Idle in the sun for hours under a fault that forbids nothing."""
    outcome.scenario.step_s = 60
    outcome.allowance.excused["missed_sun"] = np.ones(STEPS, dtype=bool)


WRONG = (
    (hot_layer, "tank_node"),
    (hot_layer_beside_strapped_sensors, "tank_node"),
    (hot_inlet, "tank_inlet"),
    (blind, "tank_blind"),
    (over, "tank_over"),
    (dumps_over, "tank_over"),
    (ice, "exchanger_ice"),
    (told_hot, "collector_pump_hot"),
    (steam, "collector_pump_steam"),
    (early, "power_return"),
    (unsafe, "reset_safe"),
    (storming, "reset_safe"),
    (guarded, "guard_idle"),
    (warm_room, "room_over"),
    (idle_in_the_sun, "missed_sun"),
)
WRONG_OVER_DAYS = (
    (boils, "avoidable_boiling"),
    (carries, "carried_out"),
    (rattles, "relay_operations"),
    (says_nothing, "silence"),
    (idle_under_a_fault, "idle_sun"),
)


def test_a_good_trace_is_silent():
    assert checkers.check_all(well(), checkers.STORM) == []


@pytest.mark.parametrize(("spoil", "name"), WRONG_OVER_DAYS)
def test_each_judge_over_days_speaks(spoil, name):
    outcome = well()
    spoil(outcome)
    found = checkers.check_all(outcome, checkers.STORM)
    assert [finding["name"] for finding in found] == [name]
    json.dumps(found, allow_nan=False)


def test_a_named_fault_is_not_silent():
    """The same lost day with an alarm in it."""
    outcome = well()
    says_nothing(outcome)
    outcome.rows[100, trace.COMMANDS + s.ALARM] = 1
    assert checkers.check_all(outcome, checkers.STORM) == []


def days_of(rows, starts):
    """These rows once for each day, with so many starts of the collector pump."""
    days = np.tile(rows, (len(starts), 1))
    for day, count in enumerate(starts):
        days[day * STEPS : (day + 1) * STEPS, 0] += 86400.0 * day
        days[day * STEPS + 1 : day * STEPS + 2 * count : 2, PUMP] = 1
    return days


@pytest.mark.parametrize(
    ("starts", "sound", "speaks"),
    [
        ((41, 41, 41, 41, 41), 0, False),
        ((42, 42, 42, 42, 42), 0, True),
        ((42, 42, 42, 42, 42), 36, False),
        ((82, 82, 13, 13, 13), 0, False),
        ((83, 0, 0, 0, 0), 80, True),
    ],
)
def test_wear_adds_up(starts, sound, speaks):
    """Five days may take five shares of a relay's life, or a fifth more than a sound station."""
    outcome = well()
    life = days_of(outcome.rows, (sound,) * len(starts))
    outcome.rows = days_of(outcome.rows, starts)
    outcome.beside.sound_life = life.copy
    assert bool(checkers.check_all(outcome, (checkers.storm.relay_operations,))) == speaks


def test_a_plant_at_its_limit_boils_unblamed():
    """The reference rule came within 10 K of the limit."""
    outcome = well()
    boils(outcome)
    outcome.beside.reference()[100, TRUE_COLLECTOR] = 112.0
    assert checkers.check_all(outcome, checkers.STORM) == []


@pytest.mark.parametrize(("spoil", "name"), WRONG)
def test_each_invariant_speaks(spoil, name):
    outcome = well()
    spoil(outcome)
    found = checkers.check_all(outcome, [checker for checker in checkers.STORM if checker not in checkers.storm.ALL])
    assert [finding["name"] for finding in found] == [name]
    json.dumps(found, allow_nan=False)


def test_every_invariant_of_a_storm_has_its_negative():
    assert {checker.NAME for checker in checkers.STORM} == {name for _, name in WRONG + WRONG_OVER_DAYS}


def test_a_tank_that_inherits_heat_may_only_fall():
    """The limit drops below the tank: it may cool, but not climb."""
    outcome = well()
    outcome.rows[:, NODE] = np.linspace(85.0, 80.0, STEPS)
    assert checkers.check_all(outcome, checkers.STORM) == []
    outcome.rows[300:, NODE] = 84.0
    assert [found["name"] for found in checkers.check_all(outcome, checkers.STORM)] == ["tank_node"]


def test_what_a_sensor_hides_is_allowed_and_no_more():
    """tank_high reads 3 K low: that explains 79 C, but not 81 C."""
    outcome = well()
    outcome.allowance.reads_low_k[s.TANK_HIGH] = np.full(STEPS, 3.0)
    outcome.rows[200:, NODE] = 79.0
    assert checkers.check_all(outcome, checkers.STORM) == []
    outcome.rows[200:, NODE] = 81.0
    assert checkers.check_all(outcome, checkers.STORM) != []


def test_what_began_unjudged_is_unjudged_to_its_end():
    """Excused ice stays excused; ice that begins later is judged."""
    outcome = well()
    outcome.rows[100:200, PLATE] = -1.0
    mask = np.zeros(STEPS, dtype=bool)
    mask[90:150] = True
    outcome.allowance.excused["exchanger_ice"] = mask
    assert checkers.check_all(outcome, checkers.STORM) == []
    outcome.rows[250, PLATE] = -1.0
    assert checkers.check_all(outcome, checkers.STORM)[0]["at_s"] == 250 * STEP_S


def test_a_short_rise_is_what_lag_explains():
    """One minute of pumping beside a hot collector: less than three lags and the age."""
    outcome = well()
    outcome.rows[200:212, PUMP] = 1
    outcome.rows[200:212, TRUE_COLLECTOR] = 125.0
    assert checkers.check_all(outcome, checkers.STORM) == []
