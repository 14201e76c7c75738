"""Runs over months: parts join seamlessly, the trace shows the balance, finer numerics agree.

The tests marked `annual` take the whole year (`make year`, some minutes); beside each stands a
short one on the same claim.
"""

from dataclasses import replace

import numpy as np
import pytest
from twinloop_sim import checkers, document, scenarios, trace
from twinloop_sim.engine import run as engine
from twinloop_sim.thermal import state as th

KWH_J = 3.6e6
# A fortnight in early spring: clear and dull days, frosty nights, different draws every day.
SPRING = {"start": (3, 24), "days": 14}


def solve(days=None, changes=(), **fields):
    scenario = scenarios.load("year", list(changes))
    if days is not None:
        scenario = replace(scenario, days=days, trace_step_s=scenario.step_s, **fields)
    return engine.run(scenario)


def fraction(outcome):
    return document.solar_fraction(document.heat_kwh(outcome))


def starts(outcome):
    return document.document(outcome)["starts"]["collector_pump"]


@pytest.fixture(scope="module")
def spring():
    return solve(**SPRING)


@pytest.fixture(scope="module")
def year():
    return solve()


def test_parts_are_the_whole(spring, monkeypatch):
    # 24 March to 6 April: cut at the end of the month, the second part has new weather, draws and
    # rows.
    monkeypatch.setattr(engine, "LONG_DAYS", 0)
    assert [(part.name, part.first_day, part.days) for part in engine.parts_of(spring.scenario)] == [
        ("March", 0, 8),
        ("April", 8, 6),
    ]
    cut = solve(**SPRING)
    assert np.array_equal(cut.rows, spring.rows, equal_nan=True)
    assert cut.flux == pytest.approx(spring.flux, rel=1e-12)
    assert np.array_equal(cut.state, spring.state)
    assert cut.stagnation_h == spring.stagnation_h
    assert np.array_equal(cut.highest, spring.highest, equal_nan=True)
    whole, halves = (document.document(outcome) for outcome in (spring, cut))
    assert len(halves["months"]) == 2
    assert {**whole, "months": 0, "wall_s": 0, "times_real_time": 0} == {**halves, "months": 0, "wall_s": 0, "times_real_time": 0}


def test_a_thinned_trace_keeps_every_nth_row_and_all_figures(spring, monkeypatch):
    monkeypatch.setattr(engine, "LONG_DAYS", 0)
    # 35 s do not divide a day, so the second part must continue the count of the first.
    scenario = replace(spring.scenario, trace_step_s=35)
    thin = engine.run(scenario)
    assert np.array_equal(thin.rows, spring.rows[::7], equal_nan=True)
    assert np.array_equal(thin.highest, spring.highest, equal_nan=True)
    assert thin.found == spring.found


def test_each_term_of_the_balance_can_be_recomputed_from_the_trace(spring):
    heat = document.heat_kwh(spring)
    first, last = spring.rows[0, trace.HEAT :], spring.rows[-1, trace.HEAT :]
    told = dict(zip(trace.HEATS, last - first, strict=True))
    # The last row is the beginning of its step, without that step's heat: at most about 10 kW for 5
    # s.
    for name in ("collected", "to_tank", "dumped", "used", "tank_losses", "pipe_losses", "pump_heat", "gas"):
        assert told[name] == pytest.approx(heat[name], abs=0.05), name
    assert told["in_tank"] == pytest.approx(heat["stored_change"], abs=0.05)
    # The balance also closes between any two rows.
    for begin, end in ((0, 1), (1000, 90000), (123456, 200001)):
        moved = dict(zip(trace.HEATS, spring.rows[end, trace.HEAT :] - spring.rows[begin, trace.HEAT :], strict=True))
        left = moved["collected"] + moved["pump_heat"] - moved["in_tank"] - moved["in_loop"]
        left -= sum(moved[name] for name in ("dumped", "used", "tank_losses", "pipe_losses"))
        assert abs(left) < 1e-9 * max(1.0, abs(moved["collected"]))


def test_used_heat_agrees_with_draws_and_true_temperatures_of_the_trace(spring):
    """Independent of any flux: litres wanted at the tap, hottest layer, cold main."""
    column = {name: spring.rows[:, place] for place, name in enumerate(trace.COLUMNS)}
    drawing = column["draw_l_per_min"] > 0.0
    hot_c, wanted_l = column["true_tank_node"][drawing], column["draw_l_per_min"][drawing] * 5.0 / 60.0
    setup = engine.Setup(spring.scenario)
    cold_c = setup.drive[drawing, th.DRIVE_COLD_MAIN_C]
    # Hot water is mixed to 45 C, cooler water used as it is; heat capacity at 50 C: 4.127 kJ/L K.
    drawn_l = wanted_l * np.minimum(1.0, (45.0 - cold_c) / (hot_c - cold_c))
    used_kwh = (drawn_l * (hot_c - cold_c)).sum() * 4127.0 / KWH_J
    assert document.heat_kwh(spring)["used"] == pytest.approx(used_kwh, rel=0.01)


def test_a_finer_plant_step_and_more_layers_hardly_change_the_solar_fraction(spring):
    # Measured on this fortnight 0.005 % and 0.27 %.
    assert fraction(solve(**SPRING, changes=["plant_step_s=1.25"])) == pytest.approx(fraction(spring), rel=0.005)
    assert fraction(solve(**SPRING, changes=["tank_nodes=32"])) == pytest.approx(fraction(spring), rel=0.01)


def test_a_larger_start_difference_never_starts_more_often(spring):
    counts = [starts(solve(**SPRING, changes=[f"start_difference={kelvin}K"])) for kelvin in (6, 12, 18)]
    assert counts[0] >= counts[1] >= counts[2] > 0
    assert counts[0] > counts[2]


def test_findings_of_parts_are_joined_to_the_first_and_the_worst():
    def finding(name, at_s, measured, limit):
        return {"name": name, "text": "", "at_s": at_s, "measured": measured, "limit": limit, "unit": "C"}

    parts = [
        [finding("hot", 5.0, 80.0, 77.0)],
        [finding("cold", 9.0, -1.0, 0.0)],
        [finding("hot", 11.0, 84.0, 77.0), finding("cold", 12.0, -3.0, 0.0)],
    ]
    assert checkers.merged(parts) == [finding("hot", 5.0, 84.0, 77.0), finding("cold", 9.0, -3.0, 0.0)]
    assert checkers.merged([[], []]) == []


@pytest.mark.annual
def test_the_year_closes_month_by_month_and_is_good(year):
    facts = document.document(year)
    assert [month["month"] for month in facts["months"]][::11] == ["January", "December"]
    assert sum(month["days"] for month in facts["months"]) == 365
    assert facts["closure_percent"] < 0.1
    assert max(month["closure_percent"] for month in facts["months"]) < 0.1
    for term, value in facts["heat_kwh"].items():
        assert sum(month["heat_kwh"][term] for month in facts["months"]) == pytest.approx(value, abs=0.01), term
    for counts in ("starts", "run_hours"):
        for output, value in facts[counts].items():
            assert sum(month[counts][output] for month in facts["months"]) == pytest.approx(value, abs=0.05), output
    assert len(year.rows) == 365 * 144
    assert facts["violations"] == []


@pytest.mark.annual
def test_the_years_solar_fraction_converges(year):
    assert fraction(solve(changes=["plant_step_s=1.25"])) == pytest.approx(fraction(year), rel=0.005)
    assert fraction(solve(changes=["tank_nodes=32"])) == pytest.approx(fraction(year), rel=0.01)


@pytest.mark.annual
def test_a_larger_start_difference_never_starts_more_often_in_a_year(year):
    assert starts(solve(changes=["start_difference=12K"])) <= starts(year)
    assert starts(solve(changes=["start_difference=6K"])) >= starts(year)


@pytest.mark.annual
def test_no_area_collects_nothing_in_a_year_and_never_starts():
    outcome = solve(changes=["collector_area_m2=0"])
    assert starts(outcome) == 0
    assert outcome.flux[th.FLUX_COLLECTED] == 0.0
    # Not zero: in winter the room at 18 C warms cold water in the tank; measured 1.7 %.
    assert 0.0 < fraction(outcome) < 0.03
    assert document.heat_kwh(outcome)["tank_losses"] < 0.0


@pytest.mark.annual
def test_two_halves_of_a_year_are_the_year(year, monkeypatch):
    def halves(scenario):
        return [engine.Part("first", 0, 182), engine.Part("second", 182, 183)]

    monkeypatch.setattr(engine, "parts_of", halves)
    cut = solve()
    assert np.array_equal(cut.rows, year.rows, equal_nan=True)
    assert np.array_equal(cut.state, year.state)
    assert fraction(cut) == pytest.approx(fraction(year), rel=1e-12)
