"""The circulator: curve, affinity laws, power, and the published pumps it is held against."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from twinloop_sim.thermal import parameters as p
from twinloop_sim.thermal.flow import pump
from twinloop_sim.thermal.flow.speeds import flow_shares, speeds_for
from twinloop_sim.thermal.pumps import drive_share, flow_share, pump_w

VALUES = p.plant_values({"flow_physics": 1})
ROOF = pump.PumpCurve(*VALUES[p.ROOF_DROOP : p.ROOF_DROOP + 3])
TANK = pump.PumpCurve(*VALUES[p.TANK_DROOP : p.TANK_DROOP + 3])

curves = st.builds(pump.PumpCurve, st.floats(0.0, 2.0), st.floats(0.0, 0.9), st.floats(0.0, 0.4))


@given(curves, st.floats(0.1, 1.0))
def test_a_turbulent_loop_meets_the_pump_at_the_root_of_the_drive(curve, speed):
    flow = drive_share(speed, curve.droop, curve.valve_share) ** 0.5
    given_pressure = (1.0 + curve.droop) * speed**2 - curve.droop * flow**2
    taken = curve.valve_share + (1.0 - curve.valve_share) * flow**2
    if flow > 0.0:
        assert given_pressure == pytest.approx(taken, rel=1e-9)
    else:
        assert given_pressure <= curve.valve_share * (1.0 + 1e-12)


@given(curves, st.floats(0.05, 1.0))
def test_the_speed_for_a_flow_gives_that_flow(curve, flow):
    speed = pump.speed_for(flow, curve, flow**2)
    assert drive_share(speed, curve.droop, curve.valve_share) ** 0.5 == pytest.approx(flow, rel=1e-6)


@given(st.floats(0.1, 50.0), st.floats(0.0, 0.9), st.floats(1.0, 1000.0))
def test_at_full_speed_without_a_curve_it_is_the_pump_of_before(viscosity, laminar, watts):
    assert flow_share(drive_share(1.0, 0.0, 0.0), viscosity, laminar) == flow_share(1.0, viscosity, laminar)
    assert pump_w(watts, 0.1, 1.0, 0.0, 0.37) == watts


@pytest.mark.parametrize("flow", [0.25, 0.5, 0.75])
def test_the_running_model_gives_the_flow_that_its_speed_was_chosen_for(flow):
    roof, tank = flow_shares(p.plant_values(speeds_for(VALUES, flow, flow)))
    # Between rows the table cuts the corner where tubes become laminar.
    assert roof == pytest.approx(flow, abs=0.02)
    assert tank == pytest.approx(flow, rel=1e-9)


def test_a_pump_that_does_not_open_its_valve_gives_nothing():
    assert flow_shares(p.plant_values({"collector_pump_speed": 0.2, "tank_pump_speed": 0.4})) == (0.0, 0.0)


def test_affinity_laws():
    # Turbulent loop, no valve, nothing standing: flow with the speed, power with its cube.
    for speed in (1.0, 0.7, 0.4):
        assert drive_share(speed, 0.3, 0.0) == pytest.approx(speed**2)
        assert pump_w(40.0, 0.0, speed, 0.3, speed) == pytest.approx(40.0 * speed**3)


def test_a_solar_loop_sits_far_left_on_the_curve():
    # Pressure and power of a pump that is shut are 1 % above and 6 % below those at its flow.
    assert ROOF.droop == pytest.approx(0.008, abs=0.001)
    assert pump_w(40.0, 0.0, 1.0, ROOF.power_slope, 0.0) == pytest.approx(0.943 * 40.0, abs=0.1)


# source: owner's manual of a solar pump group with a 7 m electronic circulator at constant speed,
# highest pressure and power of its three curves (PAGE
# manuzoid.com/manuals/aYL5g-Regulus%20CSE2%20SOL%20G%201M%20P%20Owner's%20manual)
ELECTRONIC = ((5.0, 33.0), (6.0, 39.0), (7.0, 52.0))


def test_power_by_speed_is_that_of_a_published_pump():
    standing = p.TABLE[p.PUMP_STANDING_SHARE].default
    for head_m, watts in ELECTRONIC:
        speed = (head_m / 7.0) ** 0.5
        assert pump_w(52.0, standing, speed, 0.0, speed) == pytest.approx(watts, rel=0.1)


def test_nominal_power_is_near_the_labels_scale():
    # 33 W for the default 40 W pump and 16 W for 25 W: plain pumps, between the scale and twice it.
    for curve, head, flow, watts in ((ROOF, 30.0, p.COLLECTOR_FLOW_L_PER_MIN, 40.0), (TANK, 10.0, p.TANK_FLOW_L_PER_MIN, 25.0)):
        best_w = pump.best_hydraulic_w(head * (1.0 + curve.droop), 50.0)
        assert 1.0 < watts / pump.reference_power_w(best_w) < 2.0
        # What the loop gets of it is a few per cent: 2.25 W and 0.67 W.
        assert 0.02 < head * VALUES[flow] / 60.0 / watts < 0.06


def test_half_the_flow_takes_a_quarter_of_the_power():
    # Regression locks, not truth. A three-speed switch saves far less.
    speeds, found = speeds_for(VALUES, 0.5, 0.5), {}
    for name, curve, watts in (("collector_pump_speed", ROOF, 40.0), ("tank_pump_speed", TANK, 25.0)):
        speed = speeds[name]
        found[name] = speed, *(pump_w(watts, standing, speed, curve.power_slope, 0.5) for standing in (0.1, 0.5))
    assert found["collector_pump_speed"] == pytest.approx((0.516, 8.93, 22.74), abs=0.01)
    assert found["tank_pump_speed"] == pytest.approx((0.632, 8.11, 15.62), abs=0.01)
    # Below this speed the check valve stays shut.
    assert drive_share(0.25, ROOF.droop, ROOF.valve_share) == 0.0
    assert drive_share(0.44, TANK.droop, TANK.valve_share) == 0.0
