"""The air collector: absorber nodes with capacity, and air that takes their heat through a film.

An ISO 9806 curve holds at one flow of air. A stronger flow has a better film, so that its curve
starts higher and falls steeper, and all curves meet where no heat is taken: at stagnation. Here the
film lies between absorber and air, and the curve of any flow follows from that of the test.

Air holds no heat of its own: its few grams follow within seconds.
"""

from math import exp

from ..collector import loss_w_per_m2
from ..jit import kernel
from . import parameters as p
from . import state as a
from .properties import AIR_J_PER_KG_K


@kernel
def film_w_per_m2_k(values, flow_kg_per_s):
    """Return the film between absorber and air, W/m2 K. Args: `values` (float64 array),
    `flow_kg_per_s` (kg/s, either sign).

    Source: power law of turbulent ducts, never below that of a laminar one.
    """
    share = abs(flow_kg_per_s) / values[p.TEST_KG_PER_S]
    return max(values[p.AIR_FILM_REST_W_PER_M2_K], values[p.AIR_FILM_W_PER_M2_K] * share ** values[p.AIR_FILM_EXPONENT])


@kernel
def pass_absorber(air, values, inlet_c, flow_kg_per_s, flux, step_s):
    """Lead air along the absorber for one step, in place; return the temperature (C) it leaves at.

    Args: `air`, `values`, `flux` (float64 arrays), `inlet_c` (C), `flow_kg_per_s` (kg/s, not 0;
    below 0 the air enters at the outlet), `step_s` (s). Source: NTU of a wall of one temperature,
    node by node.
    """
    capacity_w_per_k = abs(flow_kg_per_s) * AIR_J_PER_KG_K
    node_m2 = values[p.AIR_COLLECTOR_AREA_M2] / a.ABSORBER_NODES
    share = 1.0 - exp(-film_w_per_m2_k(values, flow_kg_per_s) * node_m2 / capacity_w_per_k)
    stream_c, taken_j = inlet_c, 0.0
    for place in range(a.ABSORBER_NODES):
        node = a.ABSORBER_FIRST + place if flow_kg_per_s > 0.0 else a.ABSORBER_OUTLET - place
        rise_k = share * (air[node] - stream_c)
        air[node] -= capacity_w_per_k * rise_k * step_s / values[p.ABSORBER_NODE_J_PER_K]
        taken_j += capacity_w_per_k * rise_k * step_s
        stream_c += rise_k
    flux[a.FLUX_TAKEN] += taken_j
    return stream_c


@kernel
def shine_on_absorber(air, values, drive, flux, step_s):
    """Let sun, air and sky act on the absorber for one step, in place. Args: as advance_air.

    Source: heat balance of a node, explicit; loss as collector.loss_w_per_m2.
    """
    node_m2 = values[p.AIR_COLLECTOR_AREA_M2] / a.ABSORBER_NODES
    absorbed_w = node_m2 * values[p.ABSORBER_LIGHT] * drive[a.DRIVE_EFFECTIVE_W_PER_M2]
    a1, a2, sky = values[p.ABSORBER_A1], values[p.ABSORBER_A2], values[p.AIR_COLLECTOR_SKY_W_PER_M2_K]
    for node in range(a.ABSORBER_FIRST, a.ABSORBER_OUTLET + 1):
        above_k = air[node] - drive[a.DRIVE_AMBIENT_C]
        lost_w = node_m2 * loss_w_per_m2(a1, a2, sky, above_k, drive[a.DRIVE_SKY_DEPRESSION_K])
        air[node] += (absorbed_w - lost_w) * step_s / values[p.ABSORBER_NODE_J_PER_K]
        flux[a.FLUX_COLLECTOR_LOSS] += lost_w * step_s
    flux[a.FLUX_ABSORBED] += absorbed_w * a.ABSORBER_NODES * step_s
