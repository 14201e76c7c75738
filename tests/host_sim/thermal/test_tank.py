"""The tank against closed formulas; water only ever mixes."""

from math import exp, factorial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from twinloop_sim.thermal import parameters as p
from twinloop_sim.thermal import state as s
from twinloop_sim.thermal.pipe import carry, lose
from twinloop_sim.thermal.storage import initial_plant
from twinloop_sim.thermal.tank import conduct, mix_inversions, move_water

from ..shared import run, weather_row


def tank_of(layers, layer_l, ports, mixing):
    plant, values = np.zeros(s.TANK_FIRST + len(layers)), np.zeros(p.VALUES_COUNT)
    plant[s.TANK_FIRST :] = layers
    values[p.TANK_NODES], values[p.TANK_NODE_L], values[p.TANK_INLET_MIXING] = len(layers), layer_l, mixing
    values[p.TANK_LOW_PORT_NODE], values[p.TANK_UPPER_PORT_NODE] = ports
    return plant, values


def test_mixed_tank_over_ten_hours():
    # source: Kalogirou ch. 5 Table 5.3's tank, exact within each hour (CALC 5.1b): 500 kg, 4180
    # J/kgK, 12 W/K, 20 C
    gain_mj = (0, 0, 0, 10, 21, 30, 40, 55, 65, 55)
    load_mj = (12, 12, 12, 15, 15, 15, 25, 25, 25, 25)
    expected_c = (38.81, 32.74, 26.80, 24.29, 27.04, 34.00, 40.82, 54.60, 72.83, 85.96)
    tank_c, heat_j_per_k, found_c = np.array([45.0]), 500.0 * 4180.0, []
    for gain, load in zip(gain_mj, load_mj, strict=True):
        for _ in range(360):
            tank_c[0] += (gain - load) * 1e6 / 360.0 / heat_j_per_k
            lose(tank_c, 0, 1, 20.0, 12.0, heat_j_per_k, 10.0)
        found_c.append(tank_c[0])
    assert found_c == pytest.approx(expected_c, abs=0.01)


def test_a_full_station_cools_as_the_exponential_says():
    # source: 300 kg, 4186 J/kgK, 2.5 W/K, from 60 in 20 C: 8 h 57.771, 24 h 53.679, 72 h 43.876 C
    # (CALC 5.2)
    litres = 300.0 * 4186.0 / p.plant_values({})[p.WATER_J_PER_L_K]
    values = p.plant_values({"tank_volume_l": litres, "tank_ua_w_per_k": 2.5})
    plant = initial_plant(values, 20.0, 60.0, 60.0)
    found = {}
    for hour in range(1, 73):
        run(plant, values, weather_row(0.0, 20.0, room_c=20.0), [0, 0, 0], 3600.0, step_s=60.0)
        found[hour] = plant[s.TANK_FIRST :].mean()
    assert (found[8], found[24], found[72]) == pytest.approx((57.771, 53.679, 43.876), abs=0.005)


# source: tanks in series (Erlang), outlet 15 + 45 (1 - e^-N sum N^k/k!) after one volume (CALC 5.3)
@pytest.mark.parametrize(("layers", "outlet_c"), [(1, 43.445), (3, 40.956), (5, 40.178), (10, 39.393), (20, 38.838)])
def test_a_row_of_layers_flushed_once(layers, outlet_c):
    formula = 15.0 + 45.0 * (1.0 - exp(-layers) * sum(layers**k / factorial(k) for k in range(layers)))
    assert formula == pytest.approx(outlet_c, abs=0.001)
    row_c = np.full(layers, 15.0)
    for _ in range(20000):
        carry(row_c, 0, layers, 60.0, 1.0 / 20000.0, 1.0 / layers)
    assert row_c[-1] == pytest.approx(outlet_c, abs=0.01)
    # The tank moves water by the same rule: 15 C into a tank at 60 C mirrors it.
    plant, values = tank_of(np.full(layers, 60.0), 1.0 / layers, (0, layers - 1), 0.0)
    for _ in range(20000):
        move_water(plant, values, 1.0 / 20000.0, 15.0, 0.0, 0.0)
    assert 75.0 - plant[-1] == pytest.approx(outlet_c, abs=0.01)


def test_a_full_node_a_step_is_plug_flow():
    row_c = np.full(5, 15.0)
    left_c = [carry(row_c, 0, 5, 60.0, 2.0, 2.0) for _ in range(6)]
    # source: plug flow limit (CALC 5.4)
    assert left_c == [15.0, 15.0, 15.0, 15.0, 15.0, 60.0]


def test_the_mean_of_a_layered_tank_follows_the_mixed_one():
    # source: 10 layers 70 to 25 C, 300 kg, 2.5 W/K, 20 C, 24 h: mean 43.15438 C, loss 1.51590 kWh
    # (CALC 5.5)
    layers_c, layer_j_per_k, lost_j = np.linspace(25.0, 70.0, 10), 30.0 * 4186.0, 0.0
    for _ in range(86400 // 10):
        lost_j += lose(layers_c, 0, 10, 20.0, 0.25, layer_j_per_k, 10.0)
        conduct(layers_c, 0, 10, 1.5, layer_j_per_k, 10.0)
        mix_inversions(layers_c, 0, 10)
    assert layers_c.mean() == pytest.approx(43.15438, abs=1e-3)
    assert lost_j / 3.6e6 == pytest.approx(1.51590, abs=1e-3)
    assert (np.diff(layers_c) >= 0.0).all()


def test_inversion_of_two_layers():
    layers_c = np.array([50.0, 30.0])
    mix_inversions(layers_c, 0, 2)
    # source: energy balance (CALC 5.6)
    assert layers_c == pytest.approx([40.0, 40.0], abs=1e-9)
    settled = np.array([30.0, 50.0])
    mix_inversions(settled, 0, 2)
    assert list(settled) == [30.0, 50.0]


layer_c = st.floats(1.0, 95.0)


@settings(max_examples=200)
@given(st.lists(layer_c, min_size=2, max_size=24))
def test_mixing_sorts_keeps_the_sum_and_moves_no_layer_that_lay_right(layers):
    layers_c = np.array(layers)
    mix_inversions(layers_c, 0, len(layers))
    assert layers_c.sum() == pytest.approx(sum(layers), rel=1e-12)
    assert (np.diff(layers_c) >= -1e-9).all()
    assert min(layers) - 1e-9 <= layers_c.min() <= layers_c.max() <= max(layers) + 1e-9


@settings(max_examples=300)
@given(
    st.lists(layer_c, min_size=4, max_size=24),
    layer_c,
    layer_c,
    st.floats(0.0, 2.0),
    st.floats(-2.0, 2.0),
    st.floats(0.0, 1.0),
)
def test_layers_stay_within_what_flowed_in_and_heat_is_kept(layers, cold_c, charge_in_c, draw_l, charge_l, mixing):
    count, layer_l = len(layers), 12.0
    low_port, upper_port = 0, count - 2
    plant, values = tank_of(layers, layer_l, (low_port, upper_port), mixing)
    layers_c = plant[s.TANK_FIRST :]
    sink = low_port if charge_l >= 0.0 else upper_port
    brought = draw_l * (cold_c - layers[-1]) + abs(charge_l) * (charge_in_c - layers[sink])
    move_water(plant, values, draw_l, cold_c, charge_l, charge_in_c)
    assert (layers_c.sum() - sum(layers)) * layer_l == pytest.approx(brought, abs=1e-8)
    met = [*layers, cold_c, charge_in_c]
    assert min(met) - 1e-9 <= layers_c.min() <= layers_c.max() <= max(met) + 1e-9


def test_water_hotter_than_what_lies_above_the_port_reaches_the_top():
    plant, values = tank_of(np.linspace(20.0, 60.0, 16), 25.0, (1, 11), 0.3)
    layers_c = plant[s.TANK_FIRST :]
    for _ in range(400):
        move_water(plant, values, 0.0, 15.0, 0.2, 85.0)
        mix_inversions(layers_c, 0, 16)
    # Below the port, inflow has warmed the tank; above it all layers are equal, hotter than ever
    # before.
    assert layers_c[15] == pytest.approx(layers_c[12])
    assert layers_c[15] > 62.0
    assert layers_c[0] < 25.0
