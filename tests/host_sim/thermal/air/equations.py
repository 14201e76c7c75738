"""The air channel's equations written a second time: for scipy, with friction from `fluids`."""

import numpy as np
from fluids.friction import friction_factor
from scipy.optimize import brentq

HOUR_S = 3600.0
CP = 1006.0
NODES = 4
# Absorber nodes, room, masonry.
ROOM, MASONRY = NODES, NODES + 1
GROUND_C = 9.0


def sun_and_air(t_s):
    """Sun from 6 to 18 h, air between -6 and 4 C, a sky 12 K colder by night."""
    day = 2.0 * np.pi * t_s / (24.0 * HOUR_S)
    sun = 850.0 * max(0.0, -np.cos(day))
    return sun, -1.0 - 5.0 * np.cos(day - 0.8), 12.0 * max(0.0, np.cos(day))


class AirEquations:
    """Time derivatives from the documented equations; `v` are the values by name."""

    def __init__(self, v):
        self.v = v
        # Ideal gas at the standard atmosphere of 0 m; viscosity of CoolProp at 20 C.
        self.density, self.viscosity = 101325.0 / 287.05 / 293.15, 1.8205e-5
        self.test = v["air_test_kg_per_h_m2"] * v["air_collector_area_m2"] / 3600.0
        # The absorber is hotter than the air by what the film takes; loss at 700 W/m2 and 25 K.
        film, a1, a2 = v["air_film_w_per_m2_k"], v["air_collector_a1_w_per_m2_k"], v["air_collector_a2_w_per_m2_k2"]
        absorber_k = 25.0 + (v["air_collector_eta0"] * 700.0 - a1 * 25.0 - a2 * 25.0**2) / film
        losses = [a1 * k + a2 * k**2 for k in (25.0, absorber_k)]
        self.factor = 1.0 - (losses[1] - losses[0]) / (absorber_k - 25.0) / film

    def resistance_pa(self, flow):
        """All that a flow (kg/s, above 0) loses on its way, without the fan and its curve."""
        v, speed = self.v, flow / self.density / (np.pi / 4.0 * self.v["air_duct_bore_m"] ** 2)
        reynolds = self.density * speed * v["air_duct_bore_m"] / self.viscosity
        friction = friction_factor(Re=reynolds, eD=0.00015 / v["air_duct_bore_m"])
        lengths = friction * v["air_duct_m"] / v["air_duct_bore_m"] + v["air_duct_fittings"]
        share = flow / self.test
        filtered = v["air_filter_pa"] * v["air_filter_dirt"] * share
        return lengths * self.density * speed**2 / 2.0 + v["air_collector_drop_pa"] * share**2 + filtered

    def fan_pa(self, level, flow):
        v = self.v
        free = v["air_fan_free_m3_per_h"] / 3600.0 * self.density
        return v["air_fan_shut_pa"] * (level**2 - (flow / free) ** 2)

    def flow(self, c, level):
        v = self.v

        def root(drive_pa, speed):
            return brentq(lambda m: drive_pa + self.fan_pa(speed, m) - self.resistance_pa(m), 1e-9, 5.0, xtol=1e-12)

        if level:
            return root(self.buoyancy_pa(c) - v["air_damper_opening_pa"], level)
        drive_pa = self.buoyancy_pa(c)
        if abs(drive_pa) < 1e-6:
            return 0.0
        return v["air_damper_leak"] * np.sign(drive_pa) * root(abs(drive_pa), 0.0)

    def buoyancy_pa(self, c):
        v = self.v

        def lighter(celsius):
            # How much lighter than room air, kg/m3.
            return self.density * 293.15 * (1.0 / (c[ROOM] + 273.15) - 1.0 / (celsius + 273.15))

        column = 9.80665 * v["air_collector_rise_m"] * lighter(c[:NODES].mean())
        if column <= 0.0:
            return column
        return max(0.0, column + 9.80665 * v["air_supply_rise_m"] * lighter(c[NODES - 1]))

    def film(self, flow):
        v = self.v
        return max(v["air_film_rest_w_per_m2_k"], v["air_film_w_per_m2_k"] * (abs(flow) / self.test) ** v["air_film_exponent"])

    def along(self, c, inlet_c, flow):
        """Heat (W) to each node from the air, and where the air ends; nodes in flow's order."""
        v, to_nodes = self.v, np.zeros(NODES)
        spent = np.exp(-self.film(flow) * v["air_collector_area_m2"] / NODES / (abs(flow) * CP))
        for node in range(NODES) if flow > 0.0 else reversed(range(NODES)):
            outlet_c = c[node] + (inlet_c - c[node]) * spent
            to_nodes[node] = abs(flow) * CP * (inlet_c - outlet_c)
            inlet_c = outlet_c
        return to_nodes, inlet_c

    def after_duct(self, celsius, ambient_c, flow):
        lost = np.exp(-self.v["air_duct_outdoor_m"] * self.v["air_duct_loss_w_per_m_k"] / (abs(flow) * CP))
        return ambient_c + (celsius - ambient_c) * lost

    def fan_w(self, level, flow):
        v = self.v
        free = v["air_fan_free_m3_per_h"] / 3600.0 * self.density
        return v["air_fan_standing_w"] + v["air_fan_w"] * level**3 * (0.6 + 0.4 * flow / free / level)

    def channel(self, c, level, ambient_c):
        """Heat (W) to the nodes and to the room."""
        v, room_c, flow = self.v, c[ROOM], self.flow(c, level)
        if flow == 0.0:
            return np.zeros(NODES), 0.0
        if flow < 0.0:
            nodes, end_c = self.along(c, self.after_duct(room_c, ambient_c, flow), flow)
            return nodes, -flow * CP * (end_c - room_c)
        leak = v["air_leak_share"] if level else 0.0
        fan_k = v["air_fan_heat_share"] * self.fan_w(level, flow) / flow / CP if level else 0.0
        if v["air_fan_draws"]:
            nodes, end_c = self.along(c, room_c, (1.0 - leak) * flow)
            mixed_c = (1.0 - leak) * end_c + leak * ambient_c + fan_k
            return nodes, flow * CP * (self.after_duct(mixed_c, ambient_c, flow) - room_c)
        nodes, end_c = self.along(c, room_c + fan_k, flow)
        back = (1.0 - leak) * flow
        made_up_w = leak * flow * CP * (ambient_c - room_c)
        return nodes, back * CP * (self.after_duct(end_c, ambient_c, back) - room_c) + made_up_w

    def __call__(self, t_s, c, level):
        v, (sun, ambient_c, sky_k) = self.v, sun_and_air(t_s)
        node_m2 = v["air_collector_area_m2"] / NODES
        nodes_w, room_w = self.channel(c, level, ambient_c)
        above_k = c[:NODES] - ambient_c
        loss = v["air_collector_a1_w_per_m2_k"] * above_k + v["air_collector_a2_w_per_m2_k2"] * above_k * np.abs(above_k)
        gain = (v["air_collector_eta0"] * sun - loss) / self.factor - v["air_collector_sky_w_per_m2_k"] * sky_k
        nodes_w = nodes_w + node_m2 * gain
        outdoors = v["room_direct_w_per_k"] + v["room_ventilation_per_h"] * v["room_volume_m3"] / 3600.0 * self.density * CP
        inner_w = v["room_masonry_w_per_k"] * (c[ROOM] - c[MASONRY])
        room_w += v["backup_w"] * np.clip(v["backup_set_c"] - c[ROOM], 0.0, 1.0) - outdoors * (c[ROOM] - ambient_c) - inner_w
        wall_w = inner_w - v["masonry_ambient_w_per_k"] * (c[MASONRY] - ambient_c)
        wall_w -= v["masonry_ground_w_per_k"] * (c[MASONRY] - GROUND_C)
        heat = (room_w / v["room_heat_j_per_k"], wall_w / v["masonry_heat_j_per_k"])
        return np.append(nodes_w / (node_m2 * v["air_collector_heat_j_per_m2_k"]), heat)
