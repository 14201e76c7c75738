"""The collector: steady efficiency, stagnation, incidence, boiling, and its pumps."""

import numpy as np
import pytest
from twinloop_sim.thermal import collector, presets
from twinloop_sim.thermal import parameters as p
from twinloop_sim.thermal import state as s
from twinloop_sim.thermal.buoyancy import natural_flow_share
from twinloop_sim.thermal.pumps import flow_share
from twinloop_sim.thermal.storage import initial_plant

from ..shared import run, weather_row

# Generic coefficients, common practice (CP/MEM).
SELECTIVE, PLAIN, EVACUATED = (0.78, 3.5, 0.015), (0.75, 5.5, 0.020), (0.65, 1.5, 0.006)


def efficiency(eta0, a1, a2, irradiance, difference_k):
    return eta0 - collector.loss_w_per_m2(a1, a2, 0.0, difference_k, 0.0) / irradiance


@pytest.mark.parametrize(
    ("kind", "irradiance", "expected"),
    [
        # source: ISO 9806 equation at 0, 10, 30, 50, 70 K (CALC)
        (SELECTIVE, 1000.0, (0.7800, 0.7435, 0.6615, 0.5675, 0.4615)),
        (SELECTIVE, 800.0, (0.7800, 0.7344, 0.6319, 0.5144, 0.3819)),
        (SELECTIVE, 400.0, (0.7800, 0.6887, 0.4838, 0.2488, -0.0163)),
        (PLAIN, 800.0, (0.7500, 0.6788, 0.5212, 0.3438, 0.1462)),
        (EVACUATED, 800.0, (0.6500, 0.6305, 0.5870, 0.5375, 0.4820)),
    ],
)
def test_efficiency(kind, irradiance, expected):
    found = [efficiency(*kind, irradiance, difference) for difference in (0.0, 10.0, 30.0, 50.0, 70.0)]
    assert found == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(
    ("name", "kind"), [("flat-plate", SELECTIVE), ("flat-plate-unselective", PLAIN), ("evacuated-tube", EVACUATED)]
)
def test_presets_are_the_generic_collectors(name, kind):
    values = p.plant_values(presets.collector(name))
    found = [values[index] for index in (p.COLLECTOR_ETA0, p.COLLECTOR_A1_W_PER_M2_K, p.COLLECTOR_A2_W_PER_M2_K2)]
    assert found == list(kind)
    assert (name == "flat-plate") == bool((values == p.plant_values({})).all())
    # source: critical irradiance at 50 K, (a1 dT + a2 dT^2) / eta0: 272.4, 433.3, 138.5 W/m2 (CALC
    # 3.3)
    critical = {"flat-plate": 272.4, "flat-plate-unselective": 433.3, "evacuated-tube": 138.5}[name]
    assert efficiency(*found, critical, 50.0) == pytest.approx(0.0, abs=2e-4)


def test_an_unknown_preset_is_refused_in_one_line():
    with pytest.raises(ValueError, match="collector = flat_plate: allowed flat-plate, .*did you mean flat-plate"):
        presets.collector("flat_plate")
    with pytest.raises(ValueError, match="collector = 3: allowed"):
        presets.collector(3)


def standing_in_the_sun(kind, hours):
    eta0, a1, a2 = kind
    names = {"collector_eta0": eta0, "collector_a1_w_per_m2_k": a1, "collector_a2_w_per_m2_k2": a2}
    values = p.plant_values(names)
    plant = initial_plant(values, 30.0, 20.0, 30.0)
    run(plant, values, weather_row(1000.0, 30.0), [0, 0, 0], hours * 3600.0, step_s=60.0)
    return plant


# source: root of the efficiency equation at 1000 W/m2 and 30 C (CALC)
@pytest.mark.parametrize(("kind", "expected_c"), [(SELECTIVE, 169.48), (PLAIN, 130.00), (EVACUATED, 257.08)])
def test_the_running_model_stagnates_where_the_formula_says(kind, expected_c):
    plant = standing_in_the_sun(kind, hours=16.0)
    nodes = plant[s.COLLECTOR_FIRST : s.COLLECTOR_FIRST + s.COLLECTOR_NODES]
    assert nodes == pytest.approx(expected_c, abs=0.05)


def test_a_standing_collector_climbs_at_about_0_07_kelvin_a_second():
    # source: eta0 G / capacity with 9000 J/m2K dry and 0.5 L/m2 of glycol (CALC)
    plant = standing_in_the_sun(SELECTIVE, hours=1.0 / 60.0)
    assert (plant[s.COLLECTOR_OUTLET] - 30.0) / 60.0 == pytest.approx(0.07, abs=0.003)


def test_a_clear_night_cools_the_collector_under_the_air():
    values = p.plant_values({})
    for sky_k, low_k, high_k in ((0.0, -0.01, 0.01), (20.0, -5.0, -3.0)):
        plant = initial_plant(values, 5.0, 20.0, 30.0)
        run(plant, values, weather_row(0.0, 5.0, sky_k), [0, 0, 0], 36000.0, step_s=60.0)
        assert low_k <= plant[s.COLLECTOR_OUTLET] - 5.0 <= high_k


def test_boiling_truth():
    # Below the point no; at it yes; a little below still yes; ten kelvin below no longer.
    assert collector.boils(0.0, 129.9, 130.0) == 0.0
    assert collector.boils(0.0, 130.0, 130.0) == 1.0
    assert collector.boils(1.0, 120.1, 130.0) == 1.0
    assert collector.boils(1.0, 120.0, 130.0) == 0.0


def test_steam_stops_the_flow_although_the_pump_runs():
    values = p.plant_values({"dump_topology": p.DUMP_NONE})
    plant = initial_plant(values, 30.0, 20.0, 30.0)
    run(plant, values, weather_row(0.0, 30.0), [1, 1, 1], 5.0)
    assert plant[s.ROOF_FLOW_L_PER_S] > 0.05
    plant[s.COLLECTOR_OUTLET] = values[p.BOILING_C] + 1.0
    run(plant, values, weather_row(0.0, 30.0), [1, 1, 1], 5.0)
    assert plant[s.ROOF_FLOW_L_PER_S] == 0.0
    assert plant[s.BOILING] == 1.0
    plant[s.COLLECTOR_FIRST : s.SUPPLY_OUTDOOR_FIRST] = values[p.BOILING_C] - 11.0
    run(plant, values, weather_row(0.0, 30.0), [1, 1, 1], 5.0)
    assert plant[s.ROOF_FLOW_L_PER_S] > 0.05


def test_without_area_nothing_is_collected():
    values = p.plant_values({"collector_area_m2": 0.0})
    plant = initial_plant(values, 10.0, 20.0, 30.0)
    flux = np.zeros(s.FLUX_COUNT)
    run(plant, values, weather_row(1000.0, 25.0, 10.0), [1, 1, 1], 5000.0, flux)
    assert flux[s.FLUX_COLLECTED] == 0.0
    assert flux[s.FLUX_ABSORBED_OPTICAL] == 0.0


def test_cold_glycol_flows_less():
    # source: root of s r x + (1 - s) x^2 = p (CALC)
    assert flow_share(1.0, 1.0, 0.3) == pytest.approx(1.0, abs=1e-12)
    share = flow_share(1.0, 10.0, 0.3)
    assert 0.3 * 10.0 * share + 0.7 * share**2 == pytest.approx(1.0, abs=1e-12)
    assert share < 0.35
    assert flow_share(1.0, 10.0, 0.0) == pytest.approx(1.0)
    assert flow_share(0.0, 1.0, 0.3) == 0.0


def test_check_valve_truth():
    # Tight and below opening pressure: no flow either way. Above it: forward. Worn: a share both
    # ways.
    assert natural_flow_share(1500.0, 2000.0, 0.0, 30000.0, 1.0, 0.3) == 0.0
    assert natural_flow_share(-5000.0, 2000.0, 0.0, 30000.0, 1.0, 0.3) == 0.0
    assert natural_flow_share(2500.0, 2000.0, 0.0, 30000.0, 1.0, 0.3) > 0.0
    backward = natural_flow_share(-1500.0, 2000.0, 0.2, 30000.0, 1.0, 0.3)
    assert backward < 0.0
    assert natural_flow_share(1500.0, 2000.0, 0.2, 30000.0, 1.0, 0.3) == pytest.approx(-backward)
