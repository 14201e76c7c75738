"""The station's equations with figures that follow flow: from the correlations, not from tables."""

import numpy as np
from ht import effectiveness_from_NTU
from scipy.optimize import brentq
from twinloop_sim.thermal import parameters as p
from twinloop_sim.thermal import state as s
from twinloop_sim.thermal.flow import absorber, loop, plates

from ..test_solver import PLANT, Equations, sun_and_air

# A valve that opens at nothing leaves the whole pressure to the loop.
FLOW_PLANT = {
    **PLANT,
    "flow_physics": 1,
    "absorber_tube_m": 17.4,
    "roof_check_valve_opening_pa": 0.0,
    "tank_check_valve_opening_pa": 0.0,
}
TEMPERATURES = np.arange(-5.0, 111.0, 5.0)
SHARES = np.arange(0.3, 1.31, 0.05)


class FlowEquations(Equations):
    """The equations of test_solver with figures that follow flow and temperature."""

    def __init__(self, values):
        super().__init__(values)
        v = values
        glycol, water = (plates.fluid(percent, TEMPERATURES) for percent in (v[p.GLYCOL_MASS_PERCENT], 0.0))
        flows = SHARES[:, None] * v[p.COLLECTOR_FLOW_L_PER_MIN]
        nominal = v[p.COLLECTOR_FLOW_L_PER_MIN], v[p.TANK_FLOW_L_PER_MIN]
        contents = v[p.EXCHANGER_GLYCOL_L], v[p.EXCHANGER_WATER_L]
        fit = plates.fitted(v[p.EXCHANGER_UA_W_PER_K], v[p.GLYCOL_MASS_PERCENT], nominal, contents)
        self.wall = plates.WALL_M2_K_PER_W / fit.area_m2
        films = fit.area_m2 * plates.film_w_per_m2_k(glycol, flows, contents[0])
        self.glycol_film = films
        self.water_film = fit.area_m2 * plates.film_w_per_m2_k(water, nominal[1], contents[1])
        tubes = absorber.Absorber(v[p.COLLECTOR_AREA_M2], v[p.ABSORBER_TUBE_M])
        factors = absorber.efficiency_factor(absorber.film_and_reynolds(tubes, glycol, flows)[0])
        self.factor = factors / self.between(factors, 1.0, 50.0)
        self.flow = [self.pumped_share(glycol, k) for k in range(len(TEMPERATURES))]

    @staticmethod
    def between(table, share, celsius):
        """A table's value by straight lines; its rows are SHARES, its columns TEMPERATURES."""
        place = (share - SHARES[0]) / (SHARES[1] - SHARES[0])
        row = int(place)
        low, high = (np.interp(celsius, TEMPERATURES, table[k]) for k in (row, row + 1))
        return low + (place - row) * (high - low)

    def pumped_share(self, glycol, k):
        """Where the loop's drop is the pump's pressure, whose own fall counts as well."""
        share = self.v[p.COLLECTOR_FLOW_L_PER_MIN] / self.v[p.PUMP_RUN_OUT_L_PER_MIN]
        droop = share**2 / (1.0 - share**2)

        def missing(x):
            drop = loop.drop_share(p.roof_loop(self.v), glycol, np.array([x]), self.v[p.COLLECTOR_FLOW_L_PER_MIN])[0, k]
            return drop + droop * x**2 - (1.0 + droop)

        return brentq(missing, 0.05, 2.0)

    def __call__(self, t_s, c, pumping):
        pipe = [c[first : first + 3].mean() for first in (s.SUPPLY_OUTDOOR_FIRST, s.SUPPLY_INDOOR_FIRST)]
        pipe += [c[first : first + 3].mean() for first in (s.RETURN_OUTDOOR_FIRST, s.RETURN_INDOOR_FIRST)]
        collector_c = c[s.COLLECTOR_FIRST : s.COLLECTOR_FIRST + 4].mean()
        self.t_s = t_s
        self.share = np.interp(0.75 * np.mean(pipe) + 0.25 * collector_c, TEMPERATURES, self.flow)
        self.film = self.between(self.factor, self.share, collector_c)
        glycol_c, water_c = (c[first : first + 3].mean() for first in (s.EXCHANGER_GLYCOL_FIRST, s.EXCHANGER_WATER_FIRST))
        resistance = 1.0 / self.between(self.glycol_film, self.share, glycol_c) + self.wall
        self.ua = 1.0 / (resistance + 1.0 / np.interp(water_c, TEMPERATURES, self.water_film))
        return super().__call__(t_s, c, pumping)

    def roof_w_per_k(self):
        return self.share * super().roof_w_per_k()

    def flow_w_per_k(self):
        small, large = sorted((self.roof_w_per_k(), self.water_w_per_k()))
        return small * effectiveness_from_NTU(self.ua / s.EXCHANGER_CELLS / small, small / large, subtype="counterflow")

    def pumped(self, c, power_w):
        super().pumped(c, power_w)
        v, (irradiance, ambient_c) = self.v, sun_and_air(self.t_s)
        above_k = c[s.COLLECTOR_FIRST : s.COLLECTOR_FIRST + 4] - ambient_c
        gain = v[p.COLLECTOR_ETA0] * irradiance - v[p.COLLECTOR_A1_W_PER_M2_K] * above_k
        gain = gain - v[p.COLLECTOR_A2_W_PER_M2_K2] * above_k * np.abs(above_k)
        power_w[s.COLLECTOR_FIRST : s.COLLECTOR_FIRST + 4] += (self.film - 1.0) * v[p.COLLECTOR_AREA_M2] / 4.0 * gain
