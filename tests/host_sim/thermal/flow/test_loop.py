"""The loop's pressure drop part by part, and what the step makes of it."""

import numpy as np
import pytest
from fluids.friction import friction_factor
from scipy.optimize import brentq
from twinloop_sim.thermal import parameters as p
from twinloop_sim.thermal.flow import absorber, loop, plates, pump, tables
from twinloop_sim.thermal.flow.films import tube_nusselt
from twinloop_sim.thermal.flow.lookup import ROOT_STEP, lookup
from twinloop_sim.thermal.pumps import flow_share

GLYCOL = plates.fluid(40.0, np.array([-10.0, 0.0, 10.0, 30.0, 50.0, 70.0, 90.0]))
AT_50 = 4
VALUES = p.plant_values({"flow_physics": 0})
PIPE_M = sum(VALUES[index] for index in (p.SUPPLY_OUTDOOR_M, p.SUPPLY_INDOOR_M, p.RETURN_INDOOR_M, p.RETURN_OUTDOOR_M))


def default_loop(tube_m):
    return loop.Loop(PIPE_M, 0.013, absorber.Absorber(6.0, tube_m), 0.6)


HARP, MEANDER = default_loop(absorber.HARP_M), default_loop(absorber.MEANDER_M)


def total_pa(of, flow_l_per_min):
    return sum(loop.pressure_pa(of, GLYCOL, flow_l_per_min).values())


def test_a_metre_of_pipe_by_hand():
    # source: Darcy-Weisbach, friction through fluids 1.3.1 (RUN): 4.5 L/min in 13 mm, water at 50 C
    water = plates.fluid(0.0, np.array([50.0]))
    speed = 4.5 / 60000.0 / (np.pi / 4.0 * 0.013**2)
    reynolds = 988.0 * speed * 0.013 / 0.000545
    expected = friction_factor(Re=reynolds, eD=0.0) / 0.013 * 988.0 * speed**2 / 2.0
    assert loop.tube_pa(water, 4.5, 1.0, 0.013)[0] == pytest.approx(expected, rel=0.03)


def test_the_default_loop_needs_most_of_its_pumps_pressure():
    # 17 and 25 kPa of the 30 that the plant's pump has; the rest is what a builder's valve takes.
    assert total_pa(HARP, 4.5)[AT_50] == pytest.approx(16900.0, rel=0.01)
    assert total_pa(MEANDER, 4.5)[AT_50] == pytest.approx(24700.0, rel=0.01)
    parts = loop.pressure_pa(HARP, GLYCOL, 4.5)
    assert max(parts, key=lambda name: parts[name][AT_50]) == "pipe"
    assert parts["plates"][AT_50] < 500.0


def pumped(of, pressure_share, k):
    """Flow against nominal at the k-th temperature, by the parts' pressure drops."""
    wanted = pressure_share * total_pa(of, 4.5)[AT_50]
    return brentq(lambda x: total_pa(of, 4.5 * x)[k] - wanted, 0.002, 5.0)


@pytest.mark.parametrize("of", [HARP, MEANDER])
def test_the_table_is_where_pump_and_loop_meet(of):
    # Without valve and curve of the pump: pressure alone.
    flat = pump.PumpCurve(0.0, 0.0, 0.0)
    values = np.append(np.zeros(7), tables.flow_table(of, flat, 40.0, 4.5))
    for k, celsius in enumerate(GLYCOL.celsius):
        for pressure_share in (1.0, 0.5625, 0.25):
            found = lookup(values, 7, np.sqrt(pressure_share) / ROOT_STEP, celsius)
            # The table is made of flows 0.5 % apart.
            assert found == pytest.approx(pumped(of, pressure_share, k), abs=0.003)
    assert lookup(values, 7, 1.0 / ROOT_STEP, 50.0) == 1.0
    assert lookup(values, 7, 0.0, 50.0) == 0.0


def test_between_its_columns_the_table_smooths_the_step_to_laminar():
    flat = pump.PumpCurve(0.0, 0.0, 0.0)
    table = tables.flow_table(HARP, flat, 40.0, 4.5)
    between = plates.fluid(40.0, np.array([25.0, 35.0, 45.0, 55.0]))
    reference = total_pa(HARP, 4.5)[AT_50]
    for k, celsius in enumerate(between.celsius):
        true = brentq(lambda x, k=k: sum(loop.pressure_pa(HARP, between, 4.5 * x).values())[k] - reference, 0.01, 5.0)
        assert lookup(table, 0, 1.0 / ROOT_STEP, celsius) == pytest.approx(true, abs=0.06)


@pytest.mark.parametrize("of", [HARP, MEANDER])
def test_without_flow_physics_the_closed_form_follows_the_parts_roughly(of):
    # It knows no step from turbulent to laminar. Errors are against the nominal flow.
    share = VALUES[p.LOOP_LAMINAR_SHARE]
    form = np.array([flow_share(1.0, ratio, share) for ratio in GLYCOL.viscosity / GLYCOL.viscosity[AT_50]])
    parts = np.array([pumped(of, 1.0, k) for k in range(len(GLYCOL.celsius))])
    assert np.abs(form - parts)[AT_50:].max() < 0.1
    assert np.abs(form - parts).max() < 0.2


def test_films_in_the_pipe_hardly_change_what_it_loses():
    # Against the insulation's 4 m K/W: 2.5 % in laminar flow, under 1 % in turbulent flow.
    found = []
    for celsius in (10.0, 60.0):
        fluid = plates.fluid(40.0, np.array([celsius]))
        reynolds = fluid.density * 0.565 * 0.013 / fluid.viscosity
        film = tube_nusselt(reynolds, fluid.prandtl, 6.0 / 0.013) * fluid.conductivity / 0.013
        found.append(VALUES[p.PIPE_OUTDOOR_LOSS_W_PER_M_K] / (np.pi * 0.013 * film[0]))
    assert found[0] == pytest.approx(0.025, abs=0.002)
    assert found[1] < 0.01
