"""The absorber: its ISO curve, stagnation, other flows, a published test, its capacity."""

import numpy as np
import pytest
from scipy.optimize import brentq
from twinloop_sim.thermal.air import parameters as p
from twinloop_sim.thermal.air import state as a
from twinloop_sim.thermal.air.channel import advance_air
from twinloop_sim.thermal.air.collector import pass_absorber, shine_on_absorber
from twinloop_sim.thermal.air.storage import initial_air

CP = 1006.0
# No air moves but what a test drives.
STILL = {"air_damper_leak": 0.0, "air_damper_opening_pa": 200.0}


def steady(values, flow_kg_per_s, inlet_c, irradiance, ambient_c):
    """Efficiency and mean air temperature after an hour at one flow of air."""
    air, drive = initial_air(ambient_c, 20.0), np.array([irradiance, ambient_c, 0.0, 10.0, 0.0])
    for _ in range(720):
        flux = np.zeros(a.FLUX_COUNT)
        outlet_c = pass_absorber(air, values, inlet_c, flow_kg_per_s, flux, 5.0)
        shine_on_absorber(air, values, drive, flux, 5.0)
    area_m2 = values[p.AIR_COLLECTOR_AREA_M2]
    assert flux[a.FLUX_TAKEN] / 5.0 == pytest.approx(flow_kg_per_s * CP * (outlet_c - inlet_c), rel=1e-9)
    return flux[a.FLUX_TAKEN] / 5.0 / area_m2 / irradiance, (inlet_c + outlet_c) / 2.0


@pytest.mark.parametrize("irradiance", [400.0, 700.0, 1000.0])
@pytest.mark.parametrize("inlet_c", [5.0, 20.0, 50.0])
def test_at_the_flow_of_the_test_the_iso_curve_comes_out(irradiance, inlet_c):
    # source: equation of ISO 9806 on mean air temperature (form MEM). The absorber is hotter than
    # the air, so that a2 counts more in strong sun: 0.01 up to 700 W/m2, 0.016 at 1000.
    values = p.air_values({})
    found, mean_c = steady(values, values[p.TEST_KG_PER_S], inlet_c, irradiance, 5.0)
    above_k = mean_c - 5.0
    curve = 0.68 - 4.8 * above_k / irradiance - 0.012 * above_k**2 / irradiance
    assert found == pytest.approx(curve, abs=0.01 if irradiance < 1000.0 else 0.017)


@pytest.mark.parametrize("film", [10.0, 25.0, 100.0])
def test_stagnation_is_the_root_of_the_curve_whatever_the_film(film):
    # source: ISO 9806, efficiency 0 at 1000 W/m2 and 30 C (condition MEM); scipy's root
    values = p.air_values({**STILL, "air_film_w_per_m2_k": film})
    root_k = brentq(lambda k: 0.68 - 4.8 * k / 1000.0 - 0.012 * k**2 / 1000.0, 0.0, 500.0)
    air, drive = initial_air(30.0, 20.0), np.array([1000.0, 30.0, 0.0, 10.0, 0.0])
    flux = np.zeros(a.FLUX_COUNT)
    for _ in range(720):
        advance_air(air, values, drive, 0.0, flux, 20.0)
    assert air[a.ABSORBER_FIRST : a.ABSORBER_OUTLET + 1] == pytest.approx(30.0 + root_k, abs=0.05)
    # The sensor at the outlet shows it: nothing cools it but the absorber.
    assert air[a.POCKETS_FIRST + a.AIR_COLLECTOR] == pytest.approx(30.0 + root_k, abs=0.05)
    assert 30.0 + root_k > 130.0


@pytest.mark.parametrize("share", [0.3, 1.0, 2.0])
def test_any_flow_agrees_with_the_textbooks_heat_removal_factor(share):
    # source: F' = h / (h + U), FR = m c / (A U) (1 - exp(-A U F' / (m c))), Duffie and Beckman
    # eq. 6.7.4 (MEM), for a loss without a2; four nodes are no more than 1.6 % off
    values = p.air_values({"air_collector_a2_w_per_m2_k2": 0.0})
    flow = share * values[p.TEST_KG_PER_S]
    light, loss = 0.68 / (1.0 - 4.8 / 25.0), 4.8 / (1.0 - 4.8 / 25.0)
    film = max(4.0, 25.0 * share**0.8)
    passing = flow * CP / 8.0 / loss
    removal = passing * (1.0 - np.exp(-film / (film + loss) / passing))
    found, _ = steady(values, flow, 15.0, 600.0, 0.0)
    assert found == pytest.approx(removal * (light - loss * 15.0 / 600.0), rel=0.02)


# source: Chabane, Moummi and Benramache, J. Advanced Research 5 (2014) 183-192 (PAGE, abstract):
# greatest efficiencies of a single pass air heater at 0.012 and 0.016 kg/s, plain and with fins.
# Area of 2 m2, single glass and black paint are MEM: light 0.85, loss 6 W/m2 K.
PLAIN, FINNED = (0.3492, 0.4394), (0.4002, 0.5150)


def heater(film, exponent=0.8):
    """A 2 m2 heater that absorbs 0.85 of the light and loses 6 W/m2 K; film at 0.012 kg/s."""
    factor = 1.0 - 6.0 / (film + 6.0)
    curve = {"air_collector_eta0": 0.85 * factor, "air_collector_a1_w_per_m2_k": 6.0 * factor, "air_film_exponent": exponent}
    sizes = {"air_collector_area_m2": 2.0, "air_collector_a2_w_per_m2_k2": 0.0, "air_test_kg_per_h_m2": 21.6}
    return p.air_values({**curve, **sizes, "air_film_w_per_m2_k": film, "air_film_rest_w_per_m2_k": 0.5})


def fitted_film(efficiency):
    return brentq(lambda film: steady(heater(film), 0.012, 25.0, 800.0, 25.0)[0] - efficiency, 3.0, 50.0, xtol=0.01)


@pytest.mark.parametrize("measured", [PLAIN, FINNED])
def test_the_film_explains_what_more_flow_gave_in_a_published_test(measured):
    slow, fast = measured
    film = fitted_film(slow)
    predicted = steady(heater(film), 0.016, 25.0, 800.0, 25.0)[0]
    # A third more flow gave 26 and 29 %; the model says 15 %, a film that does not follow 7 %. The
    # measured ones are the best of different days.
    assert predicted == pytest.approx(fast, rel=0.12)
    without = steady(heater(film, exponent=0.0), 0.016, 25.0, 800.0, 25.0)[0]
    assert without == pytest.approx(0.85 * fast, rel=0.03)
    assert without < predicted < fast


def test_the_plain_heater_at_twice_the_flow_is_where_another_test_found_it():
    # source: Int. J. Heat and Technology, doi 10.18280/ijht.440136 (PAGE, abstract): 49.70 % as the
    # best month of a flat 2 m2 heater at 0.025 kg/s, Mosul, winter; two passes instead of one
    predicted = steady(heater(fitted_film(PLAIN[0])), 0.025, 10.0, 700.0, 10.0)[0]
    assert predicted == pytest.approx(0.497, rel=0.05)


def test_an_absorber_cools_with_its_time_constant():
    # source: exponential of one capacity with a linear loss (CALC)
    values = p.air_values({**STILL, "air_collector_a2_w_per_m2_k2": 0.0, "air_step_s": 1.0})
    air, drive = initial_air(0.0, 20.0), np.array([0.0, 0.0, 0.0, 10.0, 0.0])
    air[a.ABSORBER_FIRST :] = 60.0
    tau_s = 8000.0 / (4.8 / (1.0 - 4.8 / 25.0))
    for _ in range(int(tau_s)):
        advance_air(air, values, drive, 0.0, np.zeros(a.FLUX_COUNT), 1.0)
    assert air[a.ABSORBER_FIRST] == pytest.approx(60.0 * np.exp(-int(tau_s) / tau_s), rel=0.001)


def test_a_clear_night_makes_the_absorber_colder_than_the_air():
    values = p.air_values(STILL)
    air, drive = initial_air(0.0, 20.0), np.array([0.0, 0.0, 20.0, 10.0, 0.0])
    for _ in range(900):
        advance_air(air, values, drive, 0.0, np.zeros(a.FLUX_COUNT), 20.0)
    # source: scipy's root of loss against 20 W/m2 to the sky
    a1, a2 = values[p.ABSORBER_A1], values[p.ABSORBER_A2]
    assert air[a.ABSORBER_FIRST] == pytest.approx(-brentq(lambda k: a1 * k + a2 * k**2 - 20.0, 0.0, 10.0), abs=0.01)
