"""A day of the air channel against scipy's adaptive solver, on equations written a second time."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from twinloop_sim.thermal.air import parameters as p
from twinloop_sim.thermal.air import state as a
from twinloop_sim.thermal.air.channel import advance_air
from twinloop_sim.thermal.air.storage import initial_air

from .equations import GROUND_C, HOUR_S, NODES, AirEquations, sun_and_air

ON_S, OFF_S = 9.0 * HOUR_S, 15.0 * HOUR_S
STEP_S = 10.0
PARTS = [*range(a.ABSORBER_FIRST, a.ABSORBER_FIRST + NODES), a.ROOM_C, a.MASONRY_C]
# No damper: back-draught by night, the fan by day at part speed, a dirty filter, backup heat.
CASE = {
    "air_altitude_m": 0.0,
    "air_damper_leak": 1.0,
    "air_damper_opening_pa": 0.0,
    "air_filter_dirt": 2.0,
    "backup_w": 3000.0,
    "backup_set_c": 7.0,
}


def by_the_model(values, start, level):
    air, flux, rows = start.copy(), np.zeros(a.FLUX_COUNT), [start[PARTS]]
    for k in range(int(24 * HOUR_S / STEP_S)):
        t_s = k * STEP_S
        sun, ambient_c, sky_k = sun_and_air(t_s + STEP_S / 2.0)
        drive = np.array([sun, ambient_c, sky_k, GROUND_C, 0.0])
        advance_air(air, values, drive, level if ON_S <= t_s < OFF_S else 0.0, flux, STEP_S)
        if (t_s + STEP_S) % HOUR_S == 0.0:
            rows.append(air[PARTS])
    return np.array(rows), flux


def by_scipy(equations, start, level):
    hours, rows, c = np.arange(25) * HOUR_S, [], start[PARTS]
    for begin_s, end_s, now in ((0.0, ON_S, 0.0), (ON_S, OFF_S, level), (OFF_S, 24 * HOUR_S, 0.0)):
        wanted = hours[(hours >= begin_s) & (hours < end_s)] if end_s < hours[-1] else hours[hours >= begin_s]
        times = np.union1d(wanted, [end_s])
        found = solve_ivp(equations, (begin_s, end_s), c, "BDF", times, args=(now,), rtol=1e-7, atol=1e-6, max_step=300.0)
        assert found.success, found.message
        rows.append(found.y.T[np.isin(times, wanted)])
        c = found.y[:, -1]
    return np.concatenate(rows)


@pytest.mark.parametrize("draws", [0, 1])
def test_every_node_at_every_hour_agrees_with_scipy(draws):
    overrides = {**CASE, "air_fan_draws": draws}
    values = p.air_values(overrides)
    named = {row.name: values[index] for index, row in enumerate(p.TABLE)}
    start = initial_air(-4.0, 9.0)
    (model, flux), scipy = by_the_model(values, start, 0.8), by_scipy(AirEquations(named), start, 0.8)
    # The day has it all: fan, back-draught, backup heat.
    assert flux[a.FLUX_TO_ROOM] > 30e6
    assert flux[a.FLUX_BACK_DRAUGHT] > 1e6
    assert flux[a.FLUX_BACKUP] > 5e6
    assert np.abs(model - scipy)[:, NODES:].max() < 0.05
    assert np.abs(model - scipy).max() < 0.3
