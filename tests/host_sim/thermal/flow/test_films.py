"""Films and friction in tubes and plates, against `ht` and `fluids`."""

import numpy as np
import pytest
from fluids.friction import friction_factor, friction_plate_Martin_1999
from ht import Nu_plate_Martin
from ht.conv_internal import laminar_entry_Baehr_Stephan, laminar_entry_thermal_Hausen, turbulent_Gnielinski
from twinloop_sim.thermal.flow import films

REYNOLDS = (20.0, 60.0, 150.0, 400.0, 1999.0, 2000.0, 5000.0, 9000.0)


@pytest.mark.parametrize("reynolds", REYNOLDS)
@pytest.mark.parametrize("chevron_deg", [30.0, 45.0, 65.0])
def test_plates_agree_with_ht(reynolds, chevron_deg):
    # source: Martin through fluids 1.3.1 and ht 1.2.0 (RUN)
    friction = friction_plate_Martin_1999(reynolds, chevron_deg)
    assert films.plate_friction(reynolds, chevron_deg) == pytest.approx(friction, rel=1e-12)
    for prandtl in (3.0, 15.0):
        nusselt = Nu_plate_Martin(reynolds, prandtl, chevron_deg)
        assert films.plate_nusselt(reynolds, prandtl, chevron_deg) == pytest.approx(nusselt, rel=1e-12)


@pytest.mark.parametrize("reynolds", [10.0, 700.0, 2000.0, 4001.0, 10000.0, 100000.0])
def test_tube_friction_agrees_with_fluids(reynolds):
    # source: Colebrook for a smooth tube through fluids 1.3.1 (RUN); Blasius is within 2.5 % of it
    assert films.tube_friction(reynolds) == pytest.approx(friction_factor(Re=reynolds, eD=0.0), rel=0.025)


@pytest.mark.parametrize(("reynolds", "prandtl", "bores"), [(43, 65, 250), (286, 15, 250), (600, 8, 250), (1242, 15, 2174)])
def test_laminar_tubes_agree_with_ht(reynolds, prandtl, bores):
    # source: Hausen, Baehr and Stephan through ht 1.2.0 (RUN); they differ by 2 % among themselves
    found = films.tube_nusselt(float(reynolds), float(prandtl), float(bores))
    for other in (laminar_entry_thermal_Hausen, laminar_entry_Baehr_Stephan):
        assert found == pytest.approx(other(reynolds, prandtl, bores * 0.008, 0.008), rel=0.05)


@pytest.mark.parametrize("reynolds", [4001.0, 6000.0, 10000.0, 100000.0])
@pytest.mark.parametrize("prandtl", [3.0, 15.0])
def test_turbulent_tubes_agree_with_ht(reynolds, prandtl):
    # source: Gnielinski with the friction factor of Colebrook through ht 1.2.0 (RUN)
    expected = turbulent_Gnielinski(reynolds, prandtl, friction_factor(Re=reynolds, eD=0.0))
    assert films.tube_nusselt(reynolds, prandtl, 1e7) == pytest.approx(expected, rel=0.01)


def test_tubes_go_over_from_laminar_to_turbulent_without_a_jump():
    reynolds = np.linspace(1000.0, 8000.0, 7001)
    for figure in (films.tube_friction(reynolds), films.tube_nusselt(reynolds, 15.0, 250.0)):
        assert np.abs(np.diff(figure) / figure[1:]).max() < 0.003
    # Turbulent film is several times the laminar one: the step that a meander takes at noon.
    assert films.tube_nusselt(4000.0, 15.0, 2174.0) > 6.0 * films.tube_nusselt(2300.0, 15.0, 2174.0)
