"""The collector: the steady efficiency of ISO 9806 on nodes with heat capacity, and boiling.

Approximations: each node lumps the capacity of absorber, cover and content. Latent heat is left
out: above the boiling point the absorber climbs on as if dry, towards the stagnation temperature of
the efficiency equation.
"""

from math import sqrt

from . import parameters as p
from . import state as s
from .flow.lookup import lookup
from .jit import kernel
from .rows import mean_c

# Steam collapses and the loop refills this far below the boiling point (ours).
REFILL_BELOW_BOILING_K = 10.0


@kernel
def loss_w_per_m2(a1_w_per_m2_k, a2_w_per_m2_k2, sky_w_per_m2_k, difference_k, sky_depression_k):
    """Return the loss of a square metre to air and sky.

    Args: `a1_w_per_m2_k`, `a2_w_per_m2_k2` (ISO 9806), `sky_w_per_m2_k` (W/m2 for a kelvin of
    depression), `difference_k` (K, absorber minus ambient), `sky_depression_k` (K, ambient minus
    the sky's radiation temperature). Returns: W/m2; the quadratic term follows the sign of the
    difference, so that a collector colder than the air warms up. Source: ISO 9806; the linear sky
    term is common practice: a cover with 4.5 W/m2 K to the sky passes to the absorber what a1 lets
    through. With a1 = 3.5 and 20 K of depression the absorber settles about 4 K below ambient.
    """
    quadratic = a2_w_per_m2_k2 * difference_k * abs(difference_k)
    return a1_w_per_m2_k * difference_k + quadratic + sky_w_per_m2_k * sky_depression_k


@kernel
def film_factor(plant, values):
    """Return F' in flow against that at the pumped flow and 50 C (1); 1 at rest.

    Args: as plant.advance. Source: flow.absorber. At rest absorber and content are one node.
    """
    flow_l_per_s = abs(plant[s.ROOF_FLOW_L_PER_S])
    if flow_l_per_s == 0.0 or values[p.NOMINAL_FILMS_K_PER_W] == 0.0:
        return 1.0
    collector_c = mean_c(plant, s.COLLECTOR_FIRST, s.COLLECTOR_NODES)
    return lookup(values, p.ABSORBER_FIRST, sqrt(flow_l_per_s * values[p.ROOF_FLOW_PLACE]), collector_c)


@kernel
def shine(plant, values, drive, flux, step_s):
    """Let sun and air act on the collector's nodes for one step, in place.

    Args: as plant.advance; adds to `flux` the light absorbed and the net heat collected. Source:
    heat balance of a node, explicit.
    """
    ambient_c, sky_depression_k = drive[s.DRIVE_AMBIENT_C], drive[s.DRIVE_SKY_DEPRESSION_K]
    node_area_m2 = values[p.COLLECTOR_AREA_M2] / s.COLLECTOR_NODES
    absorbed_w = node_area_m2 * values[p.COLLECTOR_ETA0] * drive[s.DRIVE_EFFECTIVE_W_PER_M2]
    a1, a2 = values[p.COLLECTOR_A1_W_PER_M2_K], values[p.COLLECTOR_A2_W_PER_M2_K2]
    sky = values[p.COLLECTOR_SKY_W_PER_M2_K]
    total_j = 0.0
    kelvins_per_j = 1.0 / values[p.COLLECTOR_NODE_J_PER_K]
    film = film_factor(plant, values)
    for index in range(s.COLLECTOR_FIRST, s.COLLECTOR_FIRST + s.COLLECTOR_NODES):
        loss = loss_w_per_m2(a1, a2, sky, plant[index] - ambient_c, sky_depression_k)
        heat_j = film * (absorbed_w - node_area_m2 * loss) * step_s
        plant[index] += heat_j * kelvins_per_j
        total_j += heat_j
    flux[s.FLUX_ABSORBED_OPTICAL] += absorbed_w * s.COLLECTOR_NODES * step_s
    flux[s.FLUX_COLLECTED] += total_j


@kernel
def boils(was_boiling, hottest_c, boiling_c):
    """Return whether steam blocks the collector, 1.0 or 0.0.

    Args: `was_boiling` (0 or 1), `hottest_c` (C, hottest node), `boiling_c` (C). Source: ours;
    boiling begins at its point and ends `REFILL_BELOW_BOILING_K` below it.
    """
    if hottest_c >= boiling_c:
        return 1.0
    if hottest_c <= boiling_c - REFILL_BELOW_BOILING_K:
        return 0.0
    return was_boiling
