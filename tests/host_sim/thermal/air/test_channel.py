"""The whole channel: every joule is booked, nothing gets hotter than its source, sensors lag."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from twinloop_sim.thermal.air import parameters as p
from twinloop_sim.thermal.air import state as a
from twinloop_sim.thermal.air.channel import advance_air
from twinloop_sim.thermal.air.storage import initial_air, stored_heat

from ...shared import refused

plants = st.fixed_dictionaries(
    {
        "air_collector_area_m2": st.sampled_from([0.5, 8.0, 30.0]),
        "air_collector_heat_j_per_m2_k": st.sampled_from([2000.0, 8000.0]),
        "air_collector_rise_m": st.sampled_from([0.0, 2.0, 6.0]),
        "air_supply_rise_m": st.sampled_from([-3.0, 0.0, 2.0]),
        "air_duct_loss_w_per_m_k": st.sampled_from([0.0, 2.0]),
        "air_filter_dirt": st.sampled_from([1.0, 20.0]),
        "air_damper_leak": st.sampled_from([0.0, 0.02, 1.0]),
        "air_damper_opening_pa": st.sampled_from([0.0, 5.0]),
        "air_leak_share": st.sampled_from([0.0, 0.04, 0.4]),
        "air_fan_draws": st.sampled_from([0, 1]),
        "air_fan_free_m3_per_h": st.sampled_from([100.0, 700.0, 3000.0]),
        "room_heat_j_per_k": st.sampled_from([5e4, 1.2e6]),
        "backup_w": st.sampled_from([0.0, 5000.0]),
        "air_altitude_m": st.sampled_from([0.0, 2000.0]),
    }
)


def booked(flux):
    """What went into channel air, absorber and room, as the fluxes say; J."""
    stream = flux[a.FLUX_TAKEN] + flux[a.FLUX_FAN_HEAT] - flux[a.FLUX_DUCT_LOSS] - flux[a.FLUX_LEAKED]
    channel = flux[a.FLUX_TO_ROOM] - flux[a.FLUX_BACK_DRAUGHT]
    absorber = flux[a.FLUX_ABSORBED] - flux[a.FLUX_COLLECTOR_LOSS] - flux[a.FLUX_TAKEN]
    lost = flux[[a.FLUX_DIRECT, a.FLUX_WALL, a.FLUX_GROUND, a.FLUX_VENTILATION]].sum()
    return stream - channel, absorber, channel + flux[a.FLUX_GAIN] + flux[a.FLUX_BACKUP] - lost


@settings(max_examples=60, deadline=None)
@given(plants, st.integers(0, 2**32 - 1))
def test_every_balance_closes_and_no_heat_is_made(overrides, seed):
    values, random = p.air_values(overrides), np.random.default_rng(seed)
    air, flux = initial_air(random.uniform(-20.0, 30.0), random.uniform(-5.0, 30.0)), np.zeros(a.FLUX_COUNT)
    before = stored_heat(air, values)
    for _ in range(300):
        drive = random.uniform([-200.0, -20.0, -20.0, 0.0, -500.0], [1000.0, 30.0, 20.0, 20.0, 1000.0])
        drive[[a.DRIVE_EFFECTIVE_W_PER_M2, a.DRIVE_SKY_DEPRESSION_K]] = np.maximum(drive[[0, 2]], 0.0)
        level = max(random.uniform(-1.0, 1.0), 0.0)
        advance_air(air, values, drive, level, flux, 30.0)
        assert np.isfinite(air).all()
        # The hottest the absorber may get is its stagnation; the coldest is the sky's doing.
        assert -60.0 < air[a.ABSORBER_FIRST :].min() <= air[a.ABSORBER_FIRST :].max() < 180.0
    after = stored_heat(air, values)
    stream, absorber, room = booked(flux)
    scale = np.abs(flux).sum() + abs(before[1])
    assert stream == pytest.approx(0.0, abs=1e-9 * scale)
    assert absorber == pytest.approx(after[0] - before[0], abs=1e-9 * scale)
    assert room == pytest.approx(after[1] - before[1], abs=1e-9 * scale)
    # What a fan leaves in the air is no more than it takes.
    assert 0.0 <= flux[a.FLUX_FAN_HEAT] <= flux[a.FLUX_FAN_POWER]


@pytest.mark.parametrize("level", [0.0, 1.0])
def test_a_light_absorber_in_a_gale_stays_between_room_and_outdoors(level):
    # Explicit steps as long as `air_step_s` would swing further with each one.
    gale = {"air_fan_free_m3_per_h": 3000.0, "air_collector_drop_pa": 0.0, "air_filter_pa": 0.0, "air_duct_fittings": 0.0}
    light = {"air_collector_area_m2": 0.5, "air_collector_heat_j_per_m2_k": 1000.0, "air_leak_share": 0.0, "room_heat_j_per_k": 1e5}
    values = p.air_values({**gale, **light, "air_damper_leak": 1.0, "air_damper_opening_pa": 0.0})
    air, drive = initial_air(0.0, 20.0), np.array([0.0, 0.0, 0.0, 10.0, 0.0])
    for _ in range(20):
        advance_air(air, values, drive, level, np.zeros(a.FLUX_COUNT), 10.0)
        assert 0.0 <= air[a.ABSORBER_FIRST :].min() <= air[a.ABSORBER_FIRST :].max() < 21.0
        assert 0.0 < air[a.ROOM_C] < 21.0


def test_only_a_running_fan_leaks():
    values = p.air_values({"air_damper_leak": 1.0, "air_damper_opening_pa": 0.0, "air_leak_share": 0.2})
    air, drive, leaked = initial_air(0.0, 15.0), np.array([600.0, 0.0, 0.0, 10.0, 0.0]), []
    for level in (0.0, 1.0):
        flux = np.zeros(a.FLUX_COUNT)
        for _ in range(60):
            advance_air(air, values, drive, level, flux, 30.0)
        assert flux[a.FLUX_TO_ROOM] > 0.0
        leaked.append(flux[a.FLUX_LEAKED])
    assert leaked[0] == 0.0
    assert leaked[1] > 1e5


def test_in_the_dark_at_one_temperature_nothing_happens():
    values = p.air_values({"air_damper_leak": 1.0, "air_damper_opening_pa": 0.0})
    air, flux = initial_air(12.0, 12.0), np.zeros(a.FLUX_COUNT)
    for _ in range(60):
        advance_air(air, values, np.array([0.0, 12.0, 0.0, 12.0, 0.0]), 0.0, flux, 60.0)
    assert (flux == 0.0).all()
    assert (air[a.SUPPLY_C :] == 12.0).all()


@pytest.mark.parametrize(("place", "lag_s"), [(a.ROOM, 600.0), (a.AIR_COLLECTOR, 40.0)])
def test_a_pocket_follows_its_place_with_its_lag(place, lag_s):
    # source: exponential of a first-order lag (CALC); implicit steps of 1 s are within 1 %
    steady = {"air_damper_leak": 0.0, "room_heat_j_per_k": 1e9, "air_collector_heat_j_per_m2_k": 6e4}
    values = p.air_values(steady)
    air, drive = initial_air(20.0, 20.0), np.array([0.0, 20.0, 0.0, 20.0, 0.0])
    air[a.POCKETS_FIRST + place] = 0.0
    for _ in range(int(lag_s)):
        advance_air(air, values, drive, 0.0, np.zeros(a.FLUX_COUNT), 1.0)
    assert air[a.POCKETS_FIRST + place] == pytest.approx(20.0 * (1.0 - np.exp(-1.0)), rel=0.01)


def test_in_back_draught_the_sensor_at_the_outlet_feels_room_air():
    still, open_duct = (
        p.air_values({"air_damper_leak": leak, "air_damper_opening_pa": 0.0, "air_collector_sensor_s": 0.0}) for leak in (0.0, 1.0)
    )
    shown = []
    for values in (still, open_duct):
        air = initial_air(-10.0, 20.0)
        advance_air(air, values, np.array([0.0, -10.0, 0.0, 10.0, 0.0]), 0.0, np.zeros(a.FLUX_COUNT), 10.0)
        shown.append(air[a.POCKETS_FIRST + a.AIR_COLLECTOR])
    assert shown[0] == pytest.approx(-10.0, abs=0.5)
    # Not all of it: a rule on the difference must not see a warm collector.
    assert -8.0 < shown[1] < 6.0


def test_each_row_has_its_index_constant_and_a_default_in_range():
    for index, row in enumerate(p.TABLE):
        assert getattr(p, row.name.upper()) == index
        assert row.low <= row.default <= row.high
        assert row.meaning
    assert len({row.name for row in p.TABLE}) == p.PARAMETER_COUNT
    assert np.isfinite(p.air_values({})).all()


@pytest.mark.parametrize(
    ("overrides", "named"),
    [
        ({"air_leak_share": 0.9}, "air_leak_share = 0.9: allowed 0 to 0.5"),
        ({"air_filter_drit": 2.0}, "'air_filter_drit' is not known, did you mean air_filter_dirt?"),
        ({"air_fan_draws": 0.5}, "air_fan_draws = 0.5: allowed 0 to 1, whole numbers only"),
        ({"air_collector_a1_w_per_m2_k": 19.0, "air_film_w_per_m2_k": 20.0}, "air_film_w_per_m2_k = 20: too little"),
        ({"air_film_rest_w_per_m2_k": 30.0}, "air_film_rest_w_per_m2_k = 30"),
    ],
)
def test_a_wrong_value_is_refused_in_one_line_that_names_it(overrides, named):
    with refused(named):
        p.air_values(overrides)
