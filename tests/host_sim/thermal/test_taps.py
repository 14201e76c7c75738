"""Mixing valve, tankless heater, dump valve and sensor pockets."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from twinloop.control import state as fw
from twinloop_sim.thermal import parameters as p
from twinloop_sim.thermal import state as s
from twinloop_sim.thermal.fluids import water_j_per_l_k
from twinloop_sim.thermal.sensors import follow, read_sensors
from twinloop_sim.thermal.storage import initial_plant
from twinloop_sim.thermal.taps import heater_w, hot_share, line_flow_share
from twinloop_sim.thermal.valve import exchanger_share, move_valve

from ..shared import run, weather_row


# source: mixing energy balance, 49 C (CALC 9.8)
@pytest.mark.parametrize(
    ("hot_c", "cold_c", "share"), [(80, 10, 0.5571), (70, 10, 0.6500), (90, 15, 0.4533), (60, 10, 0.7800), (55, 10, 0.8667)]
)
def test_mixing_valve(hot_c, cold_c, share):
    assert hot_share(float(hot_c), float(cold_c), 49.0) == pytest.approx(share, abs=1e-4)


def test_mixing_valve_at_its_ends():
    assert hot_share(40.0, 10.0, 49.0) == 1.0
    assert hot_share(80.0, 50.0, 49.0) == 0.0


def test_tankless_power_at_the_published_flows():
    # source: m cp dT with 4.186 kJ/kgK: 8 L/min by 34 K 18.98 kW, 2 L/min by 20 K 2.79 kW (CALC
    # 9.9); the model's water A litre at 50 C carries 1.3 % less.
    for flow, rise_k, expected_w in ((8.0, 34.0, 18980.0), (2.0, 20.0, 2790.0)):
        assert flow / 60.0 * water_j_per_l_k() * rise_k == pytest.approx(expected_w, rel=0.015)


def test_heater_truth():
    limits = (3500.0, 24000.0, 2.0, 3.0)
    assert heater_w(10000.0, 6.0, 10.0, *limits) == 10000.0
    assert heater_w(30000.0, 6.0, 10.0, *limits) == 24000.0  # at maximum
    assert heater_w(3000.0, 6.0, 10.0, *limits) == 0.0  # below minimum fire
    assert heater_w(10000.0, 1.9, 10.0, *limits) == 0.0  # below its flow threshold
    assert heater_w(10000.0, 6.0, 2.9, *limits) == 0.0  # before its delay


def test_a_person_thins_water_that_comes_too_hot():
    # source: (45 - 10) / (49 - 10) (CALC)
    assert line_flow_share(49.0, 10.0, 45.0) == pytest.approx(0.8974, abs=1e-4)
    assert line_flow_share(40.0, 10.0, 45.0) == 1.0


def draw(tank_c, overrides=None, flow_l_per_min=6.0):
    values = p.plant_values(overrides or {})
    plant = initial_plant(values, 10.0, tank_c, tank_c)
    flux = np.zeros(s.FLUX_COUNT)
    run(plant, values, weather_row(cold_c=10.0, draw=flow_l_per_min), [0, 0, 0], 60.0, flux)
    return plant, values, flux


@settings(max_examples=100)
@given(st.floats(8.0, 90.0), st.floats(2.0, 25.0), st.floats(0.1, 25.0), st.floats(-5.0, 8.0), st.floats(0.0, 20.0))
def test_what_reaches_the_tap_came_from_tank_or_fire(tank_c, cold_c, draw_l_per_min, error_k, delay_s):
    values = p.plant_values({"mixing_valve_error_k": error_k, "heater_delay_s": delay_s})
    plant = initial_plant(values, 20.0, tank_c, tank_c)
    flux = np.zeros(s.FLUX_COUNT)
    run(plant, values, weather_row(0.0, 20.0, cold_c=cold_c, draw=draw_l_per_min), [0, 0, 0], 30.0, flux)
    fire_j = flux[s.FLUX_GAS] * values[p.HEATER_EFFICIENCY]
    assert flux[s.FLUX_TAP_HEAT] == pytest.approx(flux[s.FLUX_USED] + fire_j, abs=1e-6)
    assert flux[s.FLUX_TAP_LITRES] == pytest.approx(draw_l_per_min * 0.5)
    # Never above what valve, fire, tank or main can give.
    assert plant[s.TAP_C] <= max(values[p.HEATER_SET_C], cold_c, min(tank_c, values[p.MIXING_VALVE_C] + error_k)) + 1e-6


def test_a_hot_tank_serves_without_gas_and_the_valve_holds_its_set_point():
    plant, values, flux = draw(70.0)
    wanted_j = 6.0 * 35.0 * values[p.WATER_J_PER_L_K]
    assert plant[s.TAP_C] == pytest.approx(49.0)
    assert flux[s.FLUX_GAS] == 0.0
    assert flux[s.FLUX_USED] == pytest.approx(wanted_j, rel=1e-9)
    assert flux[s.FLUX_TAP_HEAT] == pytest.approx(wanted_j, rel=1e-9)
    assert flux[s.FLUX_GAS_WITHOUT_STATION] == pytest.approx(wanted_j / 0.85, rel=1e-9)
    assert flux[s.FLUX_TAP_LITRES] == pytest.approx(6.0)
    assert draw(70.0, {"mixing_valve_error_k": 4.0})[0][s.TAP_C] == pytest.approx(53.0)


def test_a_cool_tank_preheats_and_the_heater_adds_the_rest():
    plant, values, flux = draw(25.0)
    assert plant[s.TAP_C] == pytest.approx(45.0)
    assert flux[s.FLUX_GAS] * 0.85 + flux[s.FLUX_USED] == pytest.approx(6.0 * 35.0 * values[p.WATER_J_PER_L_K], rel=1e-9)
    assert flux[s.FLUX_TAP_HEAT_SHORT] == pytest.approx(0.0, abs=1e-6)


def test_a_nearly_warm_tank_leaves_the_tap_short_because_minimum_fire_is_too_much():
    # The tank loses a little to the room, hence the tolerances here and below.
    plant, values, flux = draw(40.0)
    assert plant[s.TAP_C] == pytest.approx(40.0, abs=0.01)
    assert flux[s.FLUX_GAS] == 0.0
    assert flux[s.FLUX_TAP_HEAT_SHORT] == pytest.approx(6.0 * 5.0 * values[p.WATER_J_PER_L_K], rel=1e-3)


def test_the_gas_without_the_station_depends_on_the_draws_alone():
    """Whatever the tank gives, and whatever the taps miss: the heater's own delay and threshold."""
    for overrides, flow_l_per_min in (({}, 6.0), ({"heater_delay_s": 20.0}, 6.0), ({}, 15.0), ({}, 1.0)):
        fluxes = [draw(tank_c, overrides, flow_l_per_min)[2] for tank_c in (10.0, 25.0, 40.0, 44.0, 70.0)]
        assert len({flux[s.FLUX_GAS_WITHOUT_STATION] for flux in fluxes}) == 1
        assert fluxes[0][s.FLUX_GAS] == pytest.approx(fluxes[0][s.FLUX_GAS_WITHOUT_STATION], rel=1e-2)
    assert len({round(draw(tank_c)[2][s.FLUX_TAP_HEAT]) for tank_c in (25.0, 40.0, 70.0)}) > 1


def test_a_draw_beyond_the_heater_is_short_too():
    plant, values, flux = draw(10.0, flow_l_per_min=15.0)
    missing_w = 15.0 / 60.0 * values[p.WATER_J_PER_L_K] * 35.0 - 24000.0
    assert plant[s.TAP_C] < 45.0
    assert flux[s.FLUX_TAP_HEAT_SHORT] == pytest.approx(missing_w * 60.0, rel=1e-3)


def test_dump_valve_truth():
    position = 0.0
    for _ in range(24):
        assert exchanger_share(position, 0.0, 1) == pytest.approx(position)
        position = move_valve(position, 1, 120.0, 5.0)
    assert position == pytest.approx(1.0)
    assert exchanger_share(1.0, 0.0, 0) == 1.0
    position = move_valve(1.0, 0, 120.0, 5.0)
    assert exchanger_share(position, 0.0, 0) == -1.0  # a closed crossover passes nothing between its ends
    assert move_valve(0.01, 0, 120.0, 5.0) == 0.0
    assert exchanger_share(0.0, 0.03, 0) == pytest.approx(0.03)
    assert exchanger_share(1.0, 0.03, 0) == pytest.approx(0.97)


def test_sensor_pockets_lag_and_stand_in_their_order():
    # source: first-order lag, 63.2 % after one lag; implicit Euler at a fortieth of it errs by 0.5
    # % (CALC)
    reading = 0.0
    for _ in range(40):
        reading = follow(reading, 100.0, 20.0, 0.5)
    assert reading == pytest.approx(63.2, abs=0.5)
    assert follow(0.0, 100.0, 0.0, 5.0) == 100.0
    values = p.plant_values({"tank_nodes": 16})
    plant = initial_plant(values, -3.0, 20.0, 60.0)
    out_c = np.zeros(fw.SENSORS)
    read_sensors(plant, values, out_c)
    assert out_c[fw.COLLECTOR] == out_c[fw.OUTDOOR] == -3.0
    assert out_c[fw.LOOP_SUPPLY] == out_c[fw.LOOP_RETURN] == out_c[fw.TAP] == 18.0
    # source: layers 2 and 12 of 16 on a straight line (CALC)
    assert out_c[fw.TANK_LOW] == pytest.approx(20.0 + 40.0 * 2 / 15)
    assert out_c[fw.TANK_HIGH] == pytest.approx(20.0 + 40.0 * 12 / 15)
