"""Dry air against CoolProp, and what leaving out moisture costs."""

import pytest
from twinloop_sim.thermal.air import properties as air


@pytest.mark.parametrize(
    ("celsius", "density", "heat"), [(-10, 1.3424, 1005.6), (0, 1.2931, 1005.7), (20, 1.2046, 1006.1), (40, 1.1274, 1006.9)]
)
def test_density_and_heat_capacity_of_dry_air(celsius, density, heat):
    # source: check values 6.7, CoolProp 8.0.0 (RUN), 0.1 %
    assert air.density_kg_per_m3(celsius, 0.0) == pytest.approx(density, rel=0.001)
    assert heat == pytest.approx(air.AIR_J_PER_KG_K, rel=0.001)


def test_heat_of_a_stream_of_air():
    # source: check values 6.8, CoolProp (RUN): 200 m3/h at 20 C, 15 K warmer, 1010 W within 5
    watts = 200.0 / 3600.0 * air.density_kg_per_m3(20.0, 0.0) * air.AIR_J_PER_KG_K * 15.0
    assert watts == pytest.approx(1010.0, abs=5.0)


@pytest.mark.parametrize("celsius", [-20.0, 0.0, 20.0, 60.0, 120.0])
def test_viscosity_and_thin_air_agree_with_coolprop(celsius):
    from CoolProp.CoolProp import PropsSI

    # source: CoolProp (RUN); at 2000 m the standard atmosphere has 79495 Pa (ICAO table, MEM)
    kelvin = celsius + 273.15
    assert air.viscosity_pa_s(celsius) == pytest.approx(PropsSI("V", "T", kelvin, "P", 101325.0, "Air"), rel=0.01)
    thin = PropsSI("D", "T", kelvin, "P", 79495.0, "Air")
    assert air.density_kg_per_m3(celsius, 2000.0) == pytest.approx(thin, rel=0.001)


def test_moisture_is_worth_less_than_a_hundredth():
    from CoolProp.HumidAirProp import HAPropsSI

    # source: ASHRAE RP-1485 through CoolProp's HAPropsSI (RUN), 20 C and 50 % of saturation
    def humid(quantity):
        return HAPropsSI(quantity, "T", 293.15, "P", 101325.0, "R", 0.5)

    ratio = humid("W")
    density = (1.0 + ratio) / humid("Vda")
    assert density == pytest.approx(0.996 * air.density_kg_per_m3(20.0, 0.0), rel=0.001)
    by_volume = humid("cp") / humid("Vda")
    assert by_volume == pytest.approx(1.003 * air.density_kg_per_m3(20.0, 0.0) * air.AIR_J_PER_KG_K, rel=0.002)
