"""The plant's fixed steps against scipy's adaptive solver, on equations written a second time."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from twinloop_sim.engine.compiled import plant_step
from twinloop_sim.thermal import parameters as p
from twinloop_sim.thermal import state as s
from twinloop_sim.thermal.storage import initial_plant

HOUR_S = 3600.0
STEP_S = 5.0
ON_S, OFF_S = 8.5 * HOUR_S, 16.0 * HOUR_S
# The model mixes inverted layers at once; these equations use a conductance, within 0.01 K.
TURNOVER_W_PER_K = 5e5
# Valves tight, drag turbulent: the pumped flows are constant and nothing moves without pumps.
PLANT = {
    "flow_physics": 0,
    "dump_topology": p.DUMP_NONE,
    "loop_laminar_share": 0.0,
    "roof_check_valve_opening_pa": 20000.0,
    "tank_check_valve_opening_pa": 20000.0,
}
PIPE_NODES = 3
ROOF = (
    (s.RETURN_INDOOR_FIRST, PIPE_NODES, p.RETURN_INDOOR_NODE_J_PER_K),
    (s.RETURN_OUTDOOR_FIRST, PIPE_NODES, p.RETURN_OUTDOOR_NODE_J_PER_K),
    (s.COLLECTOR_FIRST, s.COLLECTOR_NODES, p.COLLECTOR_NODE_J_PER_K),
    (s.SUPPLY_OUTDOOR_FIRST, PIPE_NODES, p.SUPPLY_OUTDOOR_NODE_J_PER_K),
    (s.SUPPLY_INDOOR_FIRST, PIPE_NODES, p.SUPPLY_INDOOR_NODE_J_PER_K),
    (s.EXCHANGER_GLYCOL_FIRST, s.EXCHANGER_CELLS, p.EXCHANGER_GLYCOL_CELL_J_PER_K),
)
WATER = (
    (s.TANK_PIPE_OUT_FIRST, s.TANK_PIPE_NODES, p.TANK_PIPE_NODE_J_PER_K),
    (s.EXCHANGER_WATER_FIRST, s.EXCHANGER_CELLS, p.EXCHANGER_WATER_CELL_J_PER_K),
    (s.TANK_PIPE_BACK_FIRST, s.TANK_PIPE_NODES, p.TANK_PIPE_NODE_J_PER_K),
)


def sun_and_air(t_s):
    """Half a sine of sun from 6 to 18 h; air between 5 and 17 C."""
    day = 2.0 * np.pi * t_s / (24.0 * HOUR_S)
    return 950.0 * max(0.0, -np.cos(day)), 11.0 - 6.0 * np.cos(day - 0.8)


def drive_row(t_s):
    irradiance, ambient_c = sun_and_air(t_s)
    return np.array([irradiance, irradiance, ambient_c, 0.0, 0.0, 18.0, 12.0, 0.0])


class Equations:
    """Time derivatives of all nodes, from the documented equations and not the plant's code."""

    def __init__(self, values):
        self.v = values
        self.count = s.TANK_FIRST + int(values[p.TANK_NODES])
        self.heat = np.ones(self.count)
        for first, count, capacity in (*ROOF, *WATER):
            self.heat[first : first + count] = values[capacity]
        self.heat[s.TANK_FIRST :] = values[p.TANK_NODE_L] * values[p.WATER_J_PER_L_K]
        self.roof = [first + k for first, count, _ in ROOF for k in range(count)]
        cells = [s.EXCHANGER_WATER_FIRST + k for k in reversed(range(s.EXCHANGER_CELLS))]
        out = [s.TANK_PIPE_OUT_FIRST + k for k in range(s.TANK_PIPE_NODES)]
        self.water = [*out, *cells, *(k + s.TANK_PIPE_NODES for k in out)]

    def __call__(self, t_s, c, pumping):
        v, power_w = self.v, np.zeros(self.count)
        irradiance, ambient_c = sun_and_air(t_s)
        self.losses(c, power_w, ambient_c)
        collector = slice(s.COLLECTOR_FIRST, s.COLLECTOR_FIRST + s.COLLECTOR_NODES)
        above_k = c[collector] - ambient_c
        loss = v[p.COLLECTOR_A1_W_PER_M2_K] * above_k + v[p.COLLECTOR_A2_W_PER_M2_K2] * above_k * np.abs(above_k)
        power_w[collector] += v[p.COLLECTOR_AREA_M2] / s.COLLECTOR_NODES * (v[p.COLLECTOR_ETA0] * irradiance - loss)
        self.exchanger(c, power_w, pumping)
        self.tank(c, power_w)
        if pumping:
            self.pumped(c, power_w)
        change = power_w / self.heat
        change[: s.RETURN_INDOOR_FIRST] = 0.0
        change[s.RADIATOR_FIRST : s.EXCHANGER_GLYCOL_FIRST] = 0.0
        return change

    def losses(self, c, power_w, ambient_c):
        v, room_c = self.v, 18.0
        outdoor, indoor = v[p.PIPE_OUTDOOR_LOSS_W_PER_M_K], v[p.PIPE_INDOOR_LOSS_W_PER_M_K]
        tank_pipe = v[p.TANK_PIPE_LOSS_W_PER_M_K] * v[p.TANK_PIPE_M] / s.TANK_PIPE_NODES
        shell = v[p.EXCHANGER_SHELL_LOSS_W_PER_K] / 2.0 / s.EXCHANGER_CELLS
        for first, count, w_per_k, around_c in (
            (s.RETURN_INDOOR_FIRST, PIPE_NODES, indoor * v[p.RETURN_INDOOR_M] / PIPE_NODES, room_c),
            (s.RETURN_OUTDOOR_FIRST, PIPE_NODES, outdoor * v[p.RETURN_OUTDOOR_M] / PIPE_NODES, ambient_c),
            (s.SUPPLY_OUTDOOR_FIRST, PIPE_NODES, outdoor * v[p.SUPPLY_OUTDOOR_M] / PIPE_NODES, ambient_c),
            (s.SUPPLY_INDOOR_FIRST, PIPE_NODES, indoor * v[p.SUPPLY_INDOOR_M] / PIPE_NODES, room_c),
            (s.EXCHANGER_GLYCOL_FIRST, 2 * s.EXCHANGER_CELLS, shell, room_c),
            (s.TANK_PIPE_OUT_FIRST, 2 * s.TANK_PIPE_NODES, tank_pipe, room_c),
            (s.TANK_FIRST, int(v[p.TANK_NODES]), v[p.TANK_UA_W_PER_K] / v[p.TANK_NODES], room_c),
        ):
            power_w[first : first + count] -= w_per_k * (c[first : first + count] - around_c)

    def exchanger(self, c, power_w, pumping):
        v, cells = self.v, s.EXCHANGER_CELLS
        glycol, water = s.EXCHANGER_GLYCOL_FIRST, s.EXCHANGER_WATER_FIRST
        for side in (glycol, water):
            between_w = v[p.EXCHANGER_ALONG_W_PER_K] * cells / 2.0 * np.diff(c[side : side + cells])
            power_w[side : side + cells - 1] += between_w
            power_w[side + 1 : side + cells] -= between_w
        rest = v[p.EXCHANGER_REST_W_PER_K] / cells
        for cell in range(cells):
            if pumping:
                before_c = c[glycol + cell - 1] if cell else c[s.SUPPLY_INDOOR_FIRST + PIPE_NODES - 1]
                last = s.TANK_PIPE_OUT_FIRST + s.TANK_PIPE_NODES - 1
                after_c = c[water + cell + 1] if cell < cells - 1 else c[last]
                heat_w = self.flow_w_per_k() * (before_c - after_c)
            else:
                heat_w = rest * (c[glycol + cell] - c[water + cell])
            power_w[glycol + cell] -= heat_w
            power_w[water + cell] += heat_w

    def flow_w_per_k(self):
        """One cell as a counterflow exchanger; source: Kays and London through ht."""
        from ht import effectiveness_from_NTU

        if not hasattr(self, "cell_w_per_k"):
            small, large = sorted((self.roof_w_per_k(), self.water_w_per_k()))
            ntu = self.v[p.EXCHANGER_UA_W_PER_K] / s.EXCHANGER_CELLS / small
            self.cell_w_per_k = small * effectiveness_from_NTU(ntu, small / large, subtype="counterflow")
        return self.cell_w_per_k

    def roof_w_per_k(self):
        return self.v[p.COLLECTOR_FLOW_L_PER_MIN] / 60.0 * self.v[p.GLYCOL_J_PER_L_K]

    def water_w_per_k(self):
        return self.v[p.TANK_FLOW_L_PER_MIN] / 60.0 * self.v[p.WATER_J_PER_L_K]

    def tank(self, c, power_w):
        tank = slice(s.TANK_FIRST, self.count)
        rise_k = np.diff(c[tank])
        upwards_w = -self.v[p.TANK_CONDUCTION_W_PER_K] * rise_k + TURNOVER_W_PER_K * np.maximum(-rise_k, 0.0)
        power_w[s.TANK_FIRST : self.count - 1] -= upwards_w
        power_w[s.TANK_FIRST + 1 : self.count] += upwards_w

    def pumped(self, c, power_w):
        v = self.v
        roof, water = self.roof_w_per_k(), self.water_w_per_k()
        power_w[self.roof] += roof * (c[np.roll(self.roof, 1)] - c[self.roof])
        low, high = (s.TANK_FIRST + int(v[index]) for index in (p.TANK_LOW_PORT_NODE, p.TANK_UPPER_PORT_NODE))
        power_w[self.water] += water * (c[[low, *self.water[:-1]]] - c[self.water])
        # Down through the tank from port to port, with the jet's swaps below the upper port.
        power_w[high] += water * (c[self.water[-1]] - c[high])
        layers = np.arange(low, high)
        power_w[layers] += water * (c[layers + 1] - c[layers])
        swap_w = v[p.TANK_INLET_MIXING] * water * (c[high] - c[high - 1])
        power_w[high] -= swap_w
        power_w[high - 1] += swap_w
        power_w[s.STATION_OUTLET] += v[p.COLLECTOR_PUMP_W] * v[p.PUMP_HEAT_SHARE]
        power_w[s.TANK_PIPE_OUT_FIRST] += v[p.TANK_PUMP_W] * v[p.PUMP_HEAT_SHARE]


def by_the_model(values, start, plant_step_s=None):
    """Temperatures at each full hour by the plant's own steps."""
    plant, flux, rows, advance = start.copy(), np.zeros(s.FLUX_COUNT), [start.copy()], plant_step()
    for k in range(int(24 * HOUR_S / STEP_S)):
        t_s = k * STEP_S
        pumping = ON_S <= t_s < OFF_S
        advance(plant, values, drive_row(t_s + STEP_S / 2.0), np.array([pumping, pumping, 1]), flux, STEP_S)
        if (t_s + STEP_S) % HOUR_S == 0.0:
            rows.append(plant.copy())
    return np.array(rows)


def by_scipy(values, start):
    """The same by a variable-order implicit solver at tight tolerance, cut where pumps switch."""
    equations, hours, rows, c = Equations(values), np.arange(25) * HOUR_S, [], start.copy()
    for begin_s, end_s, pumping in ((0.0, ON_S, False), (ON_S, OFF_S, True), (OFF_S, 24 * HOUR_S, False)):
        wanted = hours[(hours >= begin_s) & (hours < end_s)] if end_s < hours[-1] else hours[hours >= begin_s]
        times = np.union1d(wanted, [end_s])
        found = solve_ivp(equations, (begin_s, end_s), c, "BDF", times, args=(pumping,), rtol=1e-8, atol=1e-7, max_step=300.0)
        assert found.success, found.message
        rows.append(found.y.T[np.isin(times, wanted)])
        c = found.y[:, -1]
    return np.concatenate(rows)


@pytest.fixture(scope="module")
def day():
    values = p.plant_values(PLANT)
    start = initial_plant(values, 6.0, 15.0, 35.0)
    return by_the_model(values, start), by_scipy(values, start)


def test_every_node_at_every_hour_is_within_a_tenth_of_a_kelvin(day):
    model, scipy = (rows[:, s.RETURN_INDOOR_FIRST :] for rows in day)
    real = np.ones(model.shape[1], dtype=bool)
    real[s.RADIATOR_FIRST - s.RETURN_INDOOR_FIRST : s.EXCHANGER_GLYCOL_FIRST - s.RETURN_INDOOR_FIRST] = False
    assert model.shape == scipy.shape
    # The day has enough movement: the collector passed 60 C, the tank rose by more than 15 K.
    assert scipy[:, s.COLLECTOR_OUTLET - s.RETURN_INDOOR_FIRST].max() > 60.0
    assert scipy[-1, -16:].mean() - scipy[0, -16:].mean() > 15.0
    assert np.abs(model - scipy)[:, real].max() < 0.1
