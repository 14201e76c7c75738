"""Glycol and water against published tables, and the error of the constant heat capacity."""

import os
import subprocess
import sys

import pytest
from twinloop_sim.thermal import fluids
from twinloop_sim.thermal import parameters as p
from twinloop_sim.thermal.pumps import interpolate_viscosity


@pytest.mark.parametrize(
    ("mass_percent", "celsius", "density", "specific_heat", "viscosity"),
    [
        # source: INCOMP::MPG, Melinder 2010 (RUN CoolProp 8.0.0)
        (30, 0, 1031.6, 3802.6, 7.117e-3),
        (30, 80, 987.6, 4012.2, 7.011e-4),
        (40, -10, 1046.4, 3608.6, 2.224e-2),
        (40, 20, 1032.3, 3706.7, 4.384e-3),
        (40, 60, 1006.3, 3833.9, 1.283e-3),
        (50, 40, 1025.4, 3607.0, 2.914e-3),
    ],
)
def test_glycol_properties(mass_percent, celsius, density, specific_heat, viscosity):
    assert fluids.glycol_property("density", celsius, mass_percent) == pytest.approx(density, rel=5e-4)
    assert fluids.glycol_property("specific_heat", celsius, mass_percent) == pytest.approx(specific_heat, rel=1e-3)
    assert fluids.glycol_property("viscosity", celsius, mass_percent) == pytest.approx(viscosity, rel=2e-3)


# source: freezing points, MPG by mass (RUN CoolProp 8.0.0); the second column is the same label
# read as volume
@pytest.mark.parametrize(
    ("percent", "by_mass_c", "by_volume_c"), [(30, -12.79, -13.31), (40, -20.57, -21.42), (50, -32.19, -33.55)]
)
def test_freezing_point_keeps_mass_and_volume_apart(percent, by_mass_c, by_volume_c):
    assert fluids.glycol_freezing_c(percent) == pytest.approx(by_mass_c, abs=0.05)
    mass_percent = fluids.volume_to_mass_percent(percent)
    assert mass_percent > percent
    assert fluids.glycol_freezing_c(mass_percent) == pytest.approx(by_volume_c, abs=0.1)


# source: Lange's Handbook of Chemistry, 15th ed., Table 5.13, % by volume (PAGE): another book than
# the fit's, hence 1 K
@pytest.mark.parametrize(("volume_percent", "celsius"), [(20, -6.7), (30, -12.8), (40, -20.6), (50, -33.3)])
def test_freezing_point_agrees_with_a_handbook(volume_percent, celsius):
    assert fluids.glycol_freezing_c(fluids.volume_to_mass_percent(volume_percent)) == pytest.approx(celsius, abs=1.0)


# source: saturation line, IAPWS-95 (RUN CoolProp 8.0.0), bar absolute
@pytest.mark.parametrize(("bar", "celsius"), [(1.0, 99.606), (1.01325, 99.974), (2.0, 120.210), (3.0, 133.522), (6.0, 158.826)])
def test_boiling_point(bar, celsius):
    assert fluids.boiling_point_c(bar * 1e5) == pytest.approx(celsius, abs=0.02)


def test_boiling_point_of_a_mixture_at_one_atmosphere():
    # source: Raoult by hand, 40 % by mass: mole share of water 0.8637, 101.325 kPa / 0.8637 = 117.3
    # kPa, water line 104.2 C (CALC); data sheets of propylene glycol state 104 C (219 F) at 40 %
    # (MEM)
    assert fluids.water_mole_share(40.0) == pytest.approx(0.8637, abs=2e-4)
    assert fluids.boiling_point_c(101325.0, 40.0) == pytest.approx(104.2, abs=0.2)
    assert fluids.boiling_point_c(101325.0, 0.0) == fluids.boiling_point_c(101325.0)


def test_pressure_and_boiling_at_a_height():
    # source: standard pressure 80727 Pa at 1876 m (RUN PsychroLib 2.5.0), boiling there 93.73 C
    # (RUN CoolProp 8.0.0)
    assert fluids.standard_pressure_pa(1876.0) == pytest.approx(80727.0, abs=10.0)
    assert fluids.boiling_point_c(fluids.standard_pressure_pa(1876.0)) == pytest.approx(93.73, abs=0.02)


def test_the_collector_boils_at_what_pressure_height_and_altitude_leave():
    def boiling(**overrides):
        return p.plant_values(overrides)[p.BOILING_C]

    # source: 98.1 kPa of air + 250 kPa gauge - 5 m of water = 299 kPa, water line about 133.4 C
    # (CALC on 6.2)
    assert boiling(glycol_mass_percent=0.0) == pytest.approx(133.4, abs=0.1)
    # source: glycol mixtures of 30 to 50 % boil 2 to 6 K above water (check-values 6.2, MEM)
    for percent in (30.0, 50.0):
        assert 2.0 < boiling(glycol_mass_percent=percent) - boiling(glycol_mass_percent=0.0) < 8.0
    assert boiling(collector_height_m=15.0) < boiling() < boiling(loop_pressure_kpa=300.0)
    assert boiling(altitude_m=2000.0) < boiling()


def test_constant_heat_capacity_costs_what_the_module_says():
    def glycol_error(celsius):
        true = fluids.glycol_property("density", celsius, 40.0) * fluids.glycol_property("specific_heat", celsius, 40.0) / 1000.0
        return true / fluids.glycol_j_per_l_k(40.0) - 1.0

    # source: docstring of fluids; regression lock on CoolProp 8.0.0
    assert glycol_error(-10.0) == pytest.approx(-0.020, abs=0.001)
    assert glycol_error(20.0) == pytest.approx(-0.007, abs=0.001)
    assert glycol_error(100.0) == pytest.approx(0.003, abs=0.001)
    # source: water at 1 atm, 5 C 999.967 and 4205.04, 95 C 961.888 and 4210.17 (RUN CoolProp
    # 8.0.0); 90 C between 80 and 95
    assert 999.967 * 4205.04 / 1000.0 / fluids.water_j_per_l_k() - 1.0 == pytest.approx(0.018, abs=0.001)
    at_90_c = 971.790 * 4196.75 / 3.0 + 961.888 * 4210.17 * 2.0 / 3.0
    assert at_90_c / 1000.0 / fluids.water_j_per_l_k() - 1.0 == pytest.approx(-0.017, abs=0.001)


def test_viscosity_goes_on_beyond_the_fit_without_a_jump():
    values = p.plant_values({})
    first = p.VISCOSITY_FIRST
    at = [interpolate_viscosity(values, first, celsius) for celsius in range(-40, 166, 5)]
    assert all(colder > warmer > 0.0 for colder, warmer in zip(at, at[1:], strict=False))
    # source: 4.384e-3 at 20 C (RUN CoolProp 8.0.0) against 1.62e-3 at 50 C, between 40 and 60 C of
    # table 6.3
    assert interpolate_viscosity(values, first, 20.0) == pytest.approx(4.384e-3 / 1.62e-3, rel=0.02)
    assert interpolate_viscosity(values, first, 400.0) == pytest.approx(at[-1], rel=1e-3)


ASKED = """
import sys
from twinloop_sim.thermal import fluids
print(repr(fluids.glycol_property("density", 20.0, 40)), "CoolProp" in sys.modules)
"""


@pytest.mark.parametrize("torn", ["", '["half a li'])
def test_coolprop_is_asked_once(torn, tmp_path):
    """The next process reads the same digits from the disk, unless the line is torn."""
    told = []
    for _ in range(2):
        environment = {**os.environ, "TWINLOOP_CACHE": str(tmp_path)}
        told.append(subprocess.run([sys.executable, "-c", ASKED], capture_output=True, text=True, env=environment).stdout.split())
        if torn:
            next(tmp_path.rglob("coolprop-*")).write_text(torn)
    assert told == [[repr(fluids.glycol_property("density", 20.0, 40)), known] for known in ("True", "True" if torn else "False")]
