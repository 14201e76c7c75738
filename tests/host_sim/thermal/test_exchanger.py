"""The plate exchanger: textbook steady results, standing sides, no heat from cold to hot."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from twinloop_sim.thermal import parameters as p
from twinloop_sim.thermal import state as s
from twinloop_sim.thermal.exchanger import effectiveness, exchange, flow_conductance_w_per_k, one_side_w_per_k

CELLS = s.EXCHANGER_CELLS
# Both sides stand next to each other in the plant: glycol, then water.
SIDES = slice(s.EXCHANGER_GLYCOL_FIRST, s.EXCHANGER_GLYCOL_FIRST + 2 * CELLS)


def plates(ua=800.0, rest=200.0):
    values = np.zeros(p.VALUES_COUNT)
    values[p.EXCHANGER_UA_W_PER_K], values[p.EXCHANGER_REST_W_PER_K] = ua, rest
    values[p.EXCHANGER_GLYCOL_CELL_J_PER_K], values[p.EXCHANGER_WATER_CELL_J_PER_K] = 1100.0, 1160.0
    return values


PLATES = plates()


def one_step(cells_c, glycol_in_c, water_in_c, glycol_j, water_j, values=PLATES, step_s=2.5):
    """Run these cells for one step, in place; J from glycol to water."""
    plant = np.zeros(s.TANK_FIRST)
    plant[SIDES] = cells_c
    heat_j = exchange(plant, values, glycol_in_c, water_in_c, glycol_j, water_j, step_s)
    cells_c[:] = plant[SIDES]
    return heat_j


@pytest.mark.parametrize("ntu", [0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0])
@pytest.mark.parametrize("ratio", [0.0, 0.25, 0.5, 0.75, 1.0])
def test_effectiveness_agrees_with_ht(ntu, ratio):
    from ht import effectiveness_from_NTU

    # source: Kays and London through ht 1.2.0 (RUN)
    assert effectiveness(ntu, ratio) == pytest.approx(effectiveness_from_NTU(ntu, ratio, subtype="counterflow"), abs=1e-6)


# source: table 4.1 of the Kays and London formula, ht 1.2.0 (RUN)
@pytest.mark.parametrize(
    ("ntu", "ratio", "expected"), [(1.0, 0.5, 0.5647), (2.0, 1.0, 0.6667), (3.0, 0.75, 0.8171), (5.0, 0.0, 0.9933)]
)
def test_effectiveness_table(ntu, ratio, expected):
    assert effectiveness(ntu, ratio) == pytest.approx(expected, abs=1e-4)


def run_to_rest(cells_c, glycol_in_c, water_in_c, glycol_w, water_w, steps=4000, step_s=0.5):
    heat_j = 0.0
    for _ in range(steps):
        heat_j = one_step(cells_c, glycol_in_c, water_in_c, glycol_w * step_s, water_w * step_s, step_s=step_s)
    return heat_j / step_s


def test_station_case_at_rest_agrees_with_ht_whatever_the_cells():
    # source: .10 kg/s at 3700 J/kgK and 70 C, .12 at 4180 and 40 C, 800 W/K: Q 8261.04 W (RUN ht
    # 1.2.0)
    assert flow_conductance_w_per_k(370.0, 501.6, 800.0) * 30.0 == pytest.approx(8261.04, abs=0.01)
    cells_c = np.full(2 * CELLS, 20.0)
    power_w = run_to_rest(cells_c, 70.0, 40.0, 370.0, 501.6)
    assert power_w == pytest.approx(8261.04, abs=0.01)
    assert cells_c[CELLS - 1] == pytest.approx(47.6729, abs=1e-4)
    assert cells_c[CELLS] == pytest.approx(56.4694, abs=1e-4)


def test_running_both_ways_in_parallel_gives_less_heat_than_counterflow():
    forward = run_to_rest(np.full(2 * CELLS, 20.0), 70.0, 40.0, 370.0, 501.6)
    parallel = run_to_rest(np.full(2 * CELLS, 20.0), 70.0, 40.0, -370.0, 501.6)
    both_turned = run_to_rest(np.full(2 * CELLS, 20.0), 70.0, 40.0, -370.0, -501.6)
    assert 0.0 < parallel < forward
    assert both_turned == pytest.approx(forward, abs=0.01)


def test_standing_water_follows_moving_glycol_and_standing_pairs_level_out():
    cells_c = np.concatenate([np.full(CELLS, 15.0), np.full(CELLS, 15.0)])
    run_to_rest(cells_c, -10.0, 15.0, 300.0, 0.0)
    assert cells_c[CELLS:] == pytest.approx(-10.0, abs=0.01)
    cells_c = np.concatenate([np.full(CELLS, 50.0), np.full(CELLS, 10.0)])
    run_to_rest(cells_c, 0.0, 0.0, 0.0, 0.0)
    # source: heat balance, (1100 * 50 + 1160 * 10) / 2260 (CALC)
    assert cells_c == pytest.approx(29.469, abs=0.001)


def test_one_moving_side_is_limited_by_flow_and_by_layers():
    assert one_side_w_per_k(300.0, 800.0, 200.0) == pytest.approx(300.0 * (1.0 - np.exp(-320.0 / 300.0)))
    assert one_side_w_per_k(1e9, 800.0, 200.0) == pytest.approx(320.0, rel=1e-3)
    assert one_side_w_per_k(300.0, 800.0, 0.0) == 0.0


temperature = st.floats(-25.0, 120.0)
moved = st.one_of(st.just(0.0), st.floats(-1000.0, 1000.0), st.floats(-1.0, 1.0))


@settings(max_examples=200)
@given(st.lists(temperature, min_size=6, max_size=6), temperature, temperature, moved, moved)
def test_no_cell_leaves_the_range_of_what_it_met_and_no_heat_is_made(cells, glycol_in_c, water_in_c, glycol_j, water_j):
    cells_c = np.array(cells)
    met = [*cells, glycol_in_c, water_in_c]
    glycol_last = CELLS - 1 if glycol_j >= 0.0 else 0
    water_last = CELLS if water_j >= 0.0 else 2 * CELLS - 1
    brought = abs(glycol_j) * (glycol_in_c - cells_c[glycol_last]) + abs(water_j) * (water_in_c - cells_c[water_last])
    before = 1100.0 * cells_c[:CELLS].sum() + 1160.0 * cells_c[CELLS:].sum()
    one_step(cells_c, glycol_in_c, water_in_c, glycol_j, water_j)
    after = 1100.0 * cells_c[:CELLS].sum() + 1160.0 * cells_c[CELLS:].sum()
    assert after - before == pytest.approx(brought, abs=1e-6)
    assert cells_c.min() >= min(met) - 1e-9
    assert cells_c.max() <= max(met) + 1e-9


@settings(max_examples=100)
@given(temperature, temperature, st.floats(100.0, 400.0), st.floats(100.0, 400.0))
def test_outlets_never_cross_the_other_inlet(glycol_in_c, water_in_c, glycol_w, water_w):
    cells_c = np.full(2 * CELLS, 20.0)
    power_w = run_to_rest(cells_c, glycol_in_c, water_in_c, glycol_w, water_w, steps=1200, step_s=2.0)
    low_c, high_c = min(glycol_in_c, water_in_c), max(glycol_in_c, water_in_c)
    assert low_c - 1e-6 <= cells_c[CELLS - 1] <= high_c + 1e-6
    assert low_c - 1e-6 <= cells_c[CELLS] <= high_c + 1e-6
    # Rounding may leave 1e-9 W either way when both inlets are equally warm.
    assert power_w * (glycol_in_c - water_in_c) >= -1e-9 * (1.0 + abs(glycol_in_c - water_in_c))


@settings(max_examples=200)
@given(
    st.lists(st.floats(40.0, 120.0), min_size=4, max_size=4),
    st.lists(st.floats(-25.0, 40.0), min_size=4, max_size=4),
    moved,
    moved,
    st.floats(50.0, 5000.0),
    st.floats(0.0, 1.0),
)
def test_heat_never_runs_from_the_cold_side_to_the_hot_one(hot, cold, glycol_j, water_j, ua, rest_of_ua):
    cells_c = np.array([*hot[:CELLS], *cold[:CELLS]])
    heat_j = one_step(cells_c, hot[-1], cold[-1], glycol_j, water_j, plates(ua, ua * rest_of_ua))
    assert heat_j >= 0.0
    assert cells_c[:CELLS].min() >= min(*hot, *cold) - 1e-9


def pass_j(glycol_j, water_j, glycol_c=10.0, water_c=20.0, ua=800.0, rest=200.0):
    """Heat of one step from a uniform glycol side to a uniform water side, J."""
    cells_c = np.concatenate([np.full(CELLS, glycol_c), np.full(CELLS, water_c)])
    return one_step(cells_c, glycol_c, water_c, glycol_j, water_j, plates(ua, rest))


trickle = st.one_of(st.just(0.0), st.floats(-60.0, 60.0), st.floats(-1e-6, 1e-6))


# 60 J/K in 2.5 s are 24 W/K, 0.4 L/min of glycol.
@settings(max_examples=200)
@given(trickle, trickle, st.floats(50.0, 3000.0), st.floats(0.0, 1.0))
def test_a_trickle_never_passes_less_than_standing_layers(glycol_j, water_j, ua, rest_of_ua):
    rest = ua * rest_of_ua
    still_j = pass_j(0.0, 0.0, ua=ua, rest=rest)
    assert still_j <= 0.0
    assert pass_j(glycol_j, water_j, ua=ua, rest=rest) <= still_j * (1.0 - 1e-9)


@pytest.mark.parametrize(("glycol", "water"), [(1.0, 0.0), (0.0, 1.0), (1.0, 1.0), (-1.0, 1.0)])
def test_the_exchange_goes_over_to_the_standing_one_without_a_jump(glycol, water):
    flows = np.concatenate([[0.0], np.geomspace(1e-9, 900.0, 4000)])
    passed = np.array([-pass_j(glycol * flow, water * flow) for flow in flows])
    assert passed[1] == pytest.approx(passed[0], rel=1e-9)
    # Neighbouring flows differ by 0.7 %; the heat must change less than that.
    assert np.all(np.abs(np.diff(passed)) <= 0.007 * passed[1:])


def test_a_cold_trickle_chills_a_cell_slowly_because_the_standing_layers_share_its_warmth():
    cells_c = np.full(2 * CELLS, 20.0)
    # 30 ml/min of glycol at -10 C for ten minutes, water at rest; 3800 J/L K
    run_to_rest(cells_c, -10.0, 20.0, 0.030 / 60.0 * 3800.0, 0.0, steps=1200)
    # Both sides of a cell stay alike. Without the standing exchange the water there fell to 1.3 C.
    assert np.abs(cells_c[:CELLS] - cells_c[CELLS:]).max() < 0.5
    # source: one mixed cell of 2260 J/K and 1.9 W/K for 600 s, -10 + 30 exp(-1.9 * 600 / 2260)
    # (CALC)
    assert cells_c[CELLS] == pytest.approx(8.11, abs=0.3)
