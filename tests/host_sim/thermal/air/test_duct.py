"""Fan against duct: the operating point, dirt, damper, power, and where a leak hurts."""

import numpy as np
import pytest
from fluids import friction_factor
from scipy.optimize import brentq
from twinloop_sim.thermal.air import figures
from twinloop_sim.thermal.air import parameters as p
from twinloop_sim.thermal.air import state as a
from twinloop_sim.thermal.air.channel import advance_air
from twinloop_sim.thermal.air.duct import air_flow_kg_per_s, buoyancy_pa, fan_w
from twinloop_sim.thermal.air.storage import initial_air

from .equations import AirEquations

SEA = {"air_altitude_m": 0.0}


def named(values):
    return {row.name: values[index] for index, row in enumerate(p.TABLE)}


@pytest.mark.parametrize("flow_m3_per_h", [20.0, 100.0, 360.0, 900.0])
@pytest.mark.parametrize("bore_m", [0.125, 0.2])
def test_a_duct_agrees_with_fluids(flow_m3_per_h, bore_m):
    # source: Darcy-Weisbach with Colebrook through fluids 1.3.1 (RUN); viscosity of CoolProp
    speed = flow_m3_per_h / 3600.0 / (np.pi / 4.0 * bore_m**2)
    friction = friction_factor(Re=1.2046 * speed * bore_m / 1.8205e-5, eD=0.00015 / bore_m)
    expected = (friction * 8.0 / bore_m + 1.5) * 1.2046 * speed**2 / 2.0
    assert figures.duct_pa(flow_m3_per_h / 3600.0, bore_m, 8.0, 1.5, 1.2046) == pytest.approx(expected, rel=0.02)


def test_laminar_air_follows_hagen_and_poiseuille():
    # source: 32 mu L v / d2 (handbook), Reynolds number 664
    expected = 32.0 * 1.813e-5 * 10.0 * 0.05 / 0.2**2
    assert figures.duct_pa(0.05 * np.pi / 4.0 * 0.2**2, 0.2, 10.0, 0.0, 1.2) == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize("level", [0.4, 0.7, 1.0])
@pytest.mark.parametrize("dirt", [1.0, 5.0, 30.0])
def test_the_fan_works_where_its_curve_meets_the_duct(level, dirt):
    # source: scipy's root of fan curve less resistance, friction by fluids at the very flow (RUN)
    values = p.air_values({**SEA, "air_filter_dirt": dirt})
    equations, air = AirEquations(named(values)), initial_air(10.0, 10.0)
    expected = brentq(lambda m: equations.fan_pa(level, m) - 5.0 - equations.resistance_pa(m), 1e-6, 1.0)
    assert air_flow_kg_per_s(air, values, level) == pytest.approx(expected, rel=0.01)


def test_a_dirty_filter_costs_flow_and_hardly_power():
    clean, dirty = (p.air_values({"air_filter_dirt": dirt}) for dirt in (1.0, 10.0))
    air = initial_air(10.0, 10.0)
    flows = [air_flow_kg_per_s(air, values, 1.0) for values in (clean, dirty)]
    powers = [fan_w(values, 1.0, flow) for values, flow in zip((clean, dirty), flows, strict=True)]
    assert flows[1] < 0.65 * flows[0]
    assert 0.8 * powers[0] < powers[1] < powers[0]


@pytest.mark.parametrize("level", [0.2, 0.5, 1.0])
def test_a_fan_never_gives_more_than_it_takes_and_follows_the_affinity_laws(level):
    values = p.air_values({"air_damper_opening_pa": 0.0, "air_filter_pa": 0.0, "air_fan_standing_w": 0.0})
    air = initial_air(10.0, 10.0)
    full, part = (air_flow_kg_per_s(air, values, speed) for speed in (1.0, level))
    # source: affinity laws; without filter and damper all drops go with the square (CALC)
    assert part == pytest.approx(level * full, rel=1e-9)
    assert fan_w(values, level, part) == pytest.approx(level**3 * fan_w(values, 1.0, full), rel=1e-9)
    pressure_pa = 250.0 * (level**2 - (part / values[p.FREE_KG_PER_S]) ** 2)
    overall = pressure_pa * part / values[p.AIR_KG_PER_M3] / fan_w(values, level, part)
    # Small inline fans: 0.1 to 0.35 (common practice).
    assert 0.1 < overall < 0.35


def test_an_idle_fan_takes_nothing_and_a_slow_one_does_not_open_the_damper():
    values, air = p.air_values({}), initial_air(10.0, 10.0)
    assert fan_w(values, 0.0, 0.0) == 0.0
    assert air_flow_kg_per_s(air, values, 0.0) == 0.0
    # 250 Pa at a seventh of the speed are the damper's 5 Pa.
    assert air_flow_kg_per_s(air, values, 0.14) == 0.0
    assert air_flow_kg_per_s(air, values, 0.15) > 0.0


def test_buoyancy_is_the_difference_in_weight_of_two_columns():
    from CoolProp.CoolProp import PropsSI

    # source: g h (rho - rho), densities from CoolProp at 101.325 kPa (RUN)
    cold, room, hot = (PropsSI("D", "T", celsius + 273.15, "P", 101325.0, "Air") for celsius in (0.0, 20.0, 80.0))
    values, air = p.air_values(SEA), initial_air(80.0, 20.0)
    assert buoyancy_pa(air, values) == pytest.approx(9.80665 * (1.8 + 0.3) * (room - hot), rel=0.005)
    air[a.ABSORBER_FIRST :] = 0.0
    assert buoyancy_pa(air, values) == pytest.approx(-9.80665 * 1.8 * (cold - room), rel=0.005)


def test_a_collector_on_the_roof_cannot_warm_by_itself_but_cools_all_the_same():
    values = p.air_values({**SEA, "air_supply_rise_m": -3.0, "air_damper_leak": 1.0, "air_damper_opening_pa": 0.0})
    air = initial_air(80.0, 20.0)
    assert air_flow_kg_per_s(air, values, 0.0) == 0.0
    air[a.ABSORBER_FIRST :] = 0.0
    assert air_flow_kg_per_s(air, values, 0.0) < 0.0


@pytest.mark.parametrize("hot_c", [-5.0, 60.0])
def test_natural_flow_through_an_open_duct_and_past_a_damper(hot_c):
    overrides = {**SEA, "air_damper_leak": 1.0, "air_damper_opening_pa": 0.0}
    values, air = p.air_values(overrides), initial_air(hot_c, 20.0)
    c = np.append(air[a.ABSORBER_FIRST :], [20.0, 20.0])
    # source: scipy's root with the fan standing in the way, friction by fluids (RUN)
    expected = AirEquations(named(values)).flow(c, 0.0)
    assert air_flow_kg_per_s(air, values, 0.0) == pytest.approx(expected, rel=0.03)
    assert (expected > 0.0) == (hot_c > 20.0)
    # 5 Pa are more than buoyancy ever has here: a damper passes its leak, either way.
    shut = p.air_values({**SEA, "air_damper_leak": 0.02})
    assert air_flow_kg_per_s(air, shut, 0.0) == pytest.approx(0.02 * air_flow_kg_per_s(air, values, 0.0), rel=1e-9)


def test_a_leak_of_a_pushing_fan_costs_more_than_that_of_a_drawing_one():
    # source: heat of the lost air against outdoors: of the outlet's, and of the room's (CALC)
    lost = {}
    for draws in (0, 1):
        values = p.air_values({"air_fan_draws": draws, "air_leak_share": 0.1})
        air, flux = initial_air(0.0, 15.0), np.zeros(a.FLUX_COUNT)
        for _ in range(180):
            flux[:] = 0.0
            advance_air(air, values, np.array([700.0, 0.0, 0.0, 10.0, 0.0]), 1.0, flux, 10.0)
        lost[draws] = flux[a.FLUX_LEAKED] / 10.0
        inside_c = air[a.ROOM_C] if draws else air[a.POCKETS_FIRST + a.AIR_COLLECTOR]
        assert lost[draws] == pytest.approx(0.1 * air[a.FLOW_KG_PER_S] * 1006.0 * inside_c, rel=0.02)
    assert lost[0] > 2.0 * lost[1]
