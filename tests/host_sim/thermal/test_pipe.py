"""Pipes, radiator and valve make and lose no heat, and stay within the temperatures they meet."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from twinloop_sim.thermal.pipe import carry, lose
from twinloop_sim.thermal.radiator import radiate, radiator_w_per_k
from twinloop_sim.thermal.tank import conduct
from twinloop_sim.thermal.valve import exchanger_share, move_valve

temperature = st.floats(-40.0, 180.0)
row = st.lists(temperature, min_size=2, max_size=8)


@settings(max_examples=200)
@given(row, temperature, st.floats(-1.0, 1.0))
def test_carrying_moves_heat_and_makes_none(nodes, inlet_c, share):
    nodes_c = np.array(nodes)
    leaving_c = carry(nodes_c, 0, len(nodes), inlet_c, 500.0 * share, 500.0)
    brought = abs(share) * (inlet_c - leaving_c)
    assert nodes_c.sum() == pytest.approx(sum(nodes) + brought, abs=1e-9)
    assert min(*nodes, inlet_c) - 1e-9 <= nodes_c.min()
    assert nodes_c.max() <= max(*nodes, inlet_c) + 1e-9
    assert leaving_c == (nodes[-1] if share >= 0.0 else nodes[0])


@settings(max_examples=200)
@given(row, temperature, st.floats(0.0, 50.0), st.floats(0.1, 3600.0))
def test_losing_is_booked_and_never_passes_the_surroundings(nodes, around_c, w_per_k, step_s):
    nodes_c = np.array(nodes)
    lost_j = lose(nodes_c, 0, len(nodes), around_c, w_per_k, 500.0, step_s)
    assert lost_j == pytest.approx(500.0 * (sum(nodes) - nodes_c.sum()), abs=1e-6)
    for before_c, after_c in zip(nodes, nodes_c, strict=True):
        assert min(before_c, around_c) - 1e-9 <= after_c <= max(before_c, around_c) + 1e-9


@settings(max_examples=200)
@given(row, st.floats(0.0, 500.0), st.floats(0.1, 3600.0))
def test_conduction_levels_out_and_makes_no_heat(nodes, between_w_per_k, step_s):
    nodes_c = np.array(nodes)
    conduct(nodes_c, 0, len(nodes), between_w_per_k, 500.0, step_s)
    assert nodes_c.sum() == pytest.approx(sum(nodes), abs=1e-9)
    assert min(nodes) - 1e-9 <= nodes_c.min()
    assert nodes_c.max() <= max(nodes) + 1e-9


def test_a_pipe_loses_as_the_exponential_says():
    nodes_c = np.array([80.0, 80.0, 80.0])
    for _ in range(720):
        lose(nodes_c, 0, 3, 20.0, 0.5, 700.0, 5.0)
    # source: 20 + 60 exp(-0.5 * 3600 / 700) (CALC); explicit steps of 5 s err by 0.02 K
    assert nodes_c == pytest.approx(24.585, abs=0.03)


def test_a_front_passes_in_the_time_that_the_flow_fills_the_pipe():
    nodes_c = np.full(3, 20.0)
    passed = [carry(nodes_c, 0, 3, 60.0, 50.0, 500.0) for _ in range(60)]
    # source: content over flow, 3 * 500 / 50 = 30 steps; the front of three mixed nodes has come
    # for the most part by then (Erlang)
    assert np.mean(np.array(passed) < 40.0) * 60 == pytest.approx(30.0, abs=4.0)
    assert passed[-1] > 57.0


def test_radiator_truth():
    # At rest, a trickle with hardly more, half way, in flow, in flow and wind.
    assert radiator_w_per_k(0.0, 120.0, 30.0, 0.0, 5.0) == 30.0
    assert radiator_w_per_k(0.002, 120.0, 30.0, 0.0, 5.0) == pytest.approx(30.9)
    assert radiator_w_per_k(0.1, 120.0, 30.0, 0.0, 5.0) == pytest.approx(75.0)
    assert radiator_w_per_k(0.2, 120.0, 30.0, 0.0, 5.0) == radiator_w_per_k(1.1, 120.0, 30.0, 0.0, 5.0) == 120.0
    assert radiator_w_per_k(1.0, 120.0, 30.0, 0.1, 5.0) == 180.0
    nodes_c = np.array([90.0, 70.0])
    given_j = radiate(nodes_c, 0, 2, 30.0, 120.0, 5000.0, 5.0)
    # source: 60 W/K for each node over 5 s (CALC)
    assert given_j == pytest.approx(60.0 * 5.0 * (60.0 + 40.0))


@settings(max_examples=100)
@given(st.floats(0.0, 1.0), st.integers(0, 1), st.floats(1.0, 600.0), st.floats(0.1, 60.0), st.floats(0.0, 0.5), st.integers(0, 1))
def test_valve_stays_between_its_ends_and_splits_what_there_is(position, powered, travel_s, step_s, leak, crossover_open):
    moved = move_valve(position, powered, travel_s, step_s)
    assert 0.0 <= moved <= 1.0
    assert (moved - position) * (1 if powered else -1) >= 0.0
    share = exchanger_share(moved, leak, crossover_open)
    assert share == -1.0 or 0.0 <= share <= 1.0
    assert (share == -1.0) == (crossover_open == 0 and 0.0 < moved < 1.0)
