"""The plate exchanger: counterflow effectiveness-NTU in flow, conduction at rest.

It is cut into cells in series. Counterflow exchangers in series are one counterflow exchanger, so
the steady result does not depend on the number of cells. Each cell holds glycol and water with half
of its plate's mass on either side: quick changes take time, and standing water can freeze.

UA follows both flows and both temperatures (`flow.plates`): the plant's figure is that at its
nominal flows and 50 C. Fouling is a resistance of its own, beside the films. With `flow_physics` 0
UA is the plant's figure at any flow.

Flow and standing layers pass heat in parallel. Beside a trickle, which carries next to nothing, the
layers count in full. A pumped flow carries more than they would conduct, so they add nothing. With
rest at a quarter of UA they stop counting once the flow carries a quarter of a cell's UA (1 L/min
by default).
"""

from math import exp, inf, sqrt

from . import parameters as p
from . import state as s
from .flow.lookup import lookup
from .jit import kernel
from .rows import mean_c


@kernel
def effectiveness(ntu, capacity_ratio):
    """Return the effectiveness (0 to 1) of a counterflow exchanger.

    Args: `ntu` (1, UA over the smaller capacity flow), `capacity_ratio` (1, smaller over larger, 0
    to 1). Source: Kays and London, Compact Heat Exchangers; limit NTU/(1+NTU) at equal capacities.
    """
    # Near equal capacities the formula is 0/0; the limit is off by less than 1e-6 there. In this
    # form no flow at all, an infinite ntu, gives 1.
    if 1.0 - capacity_ratio < 1e-6:
        return 1.0 / (1.0 / ntu + 1.0)
    decay = exp(-ntu * (1.0 - capacity_ratio))
    return (1.0 - decay) / (1.0 - capacity_ratio * decay)


@kernel
def flow_conductance_w_per_k(glycol_w_per_k, water_w_per_k, ua_w_per_k):
    """Return the heat passed per kelvin between the two inlets.

    Args: `glycol_w_per_k`, `water_w_per_k` (W/K, capacity flows, above 0), `ua_w_per_k` (W/K).
    Returns: W/K, effectiveness times the smaller capacity flow. Source: effectiveness-NTU method.
    """
    smaller = min(glycol_w_per_k, water_w_per_k)
    larger = max(glycol_w_per_k, water_w_per_k)
    return smaller * effectiveness(ua_w_per_k / smaller, smaller / larger)


@kernel
def one_side_w_per_k(moving_w_per_k, ua_w_per_k, rest_w_per_k):
    """Return the heat that a moving side gives to a standing one, per kelvin of inlet difference.

    Args: `moving_w_per_k` (W/K, capacity flow, above 0), `ua_w_per_k` (W/K, both sides in flow),
    `rest_w_per_k` (W/K, both sides at rest). Returns: W/K. Source: half of each resistance in
    series (a film in flow and a standing layer), effectiveness for capacity ratio 0.
    """
    both = ua_w_per_k + rest_w_per_k
    series = 2.0 * ua_w_per_k * rest_w_per_k / both
    return moving_w_per_k * (1.0 - exp(-series / moving_w_per_k))


@kernel
def exchange(plant, values, glycol_in_c, water_in_c, glycol_j, water_j, step_s):
    """Move both fluids through the exchanger and let heat pass between them for one step, in place.

    Args: `plant`, `values` (as plant.advance), `glycol_in_c`, `water_in_c` (C), `glycol_j`,
    `water_j` (J/K moved in the step, positive in the pump's direction, negative against it, 0 at
    rest), `step_s` (s). Returns: J from glycol to water. Source: effectiveness-NTU, cell by cell,
    from the temperatures at the start of the step.
    """
    cells = s.EXCHANGER_CELLS
    ua, rest = values[p.EXCHANGER_UA_W_PER_K], values[p.EXCHANGER_REST_W_PER_K]
    glycol_node, water_node = values[p.EXCHANGER_GLYCOL_CELL_J_PER_K], values[p.EXCHANGER_WATER_CELL_J_PER_K]
    moved_glycol, moved_water = abs(glycol_j), abs(water_j)
    # Standing layers are thicker than flowing films: even on fouled plates they never pass more.
    rest = min(rest, ua)
    uas = _cell_uas_w_per_k(plant, values, ua, moved_glycol / step_s, moved_water / step_s)
    passing = _cell_passes_j_per_k(moved_glycol, moved_water, uas, rest / cells, glycol_node, water_node, step_s)
    flow_to_flow, flow_to_layer, layer_to_flow, layer_to_layer = passing
    along = 1 if glycol_j >= 0.0 else -1
    upstream = 1 if water_j >= 0.0 else -1
    index = 0 if along == 1 else cells - 1
    glycol_before_c, water_before_c = glycol_in_c, water_in_c
    total_j = 0.0
    kelvins_per_glycol_j, kelvins_per_water_j = 1.0 / glycol_node, 1.0 / water_node
    for _ in range(cells):
        glycol, water = s.EXCHANGER_GLYCOL_FIRST + index, s.EXCHANGER_WATER_FIRST + index
        glycol_c, water_c = plant[glycol], plant[water]
        source = index + upstream
        if source < 0 or source >= cells:
            water_from_c = water_in_c
        elif source == index - along:
            water_from_c = water_before_c
        else:
            water_from_c = plant[s.EXCHANGER_WATER_FIRST + source]
        heat_j = flow_to_flow * (glycol_before_c - water_from_c) + flow_to_layer * (glycol_before_c - water_c)
        heat_j += layer_to_flow * (glycol_c - water_from_c) + layer_to_layer * (glycol_c - water_c)
        plant[glycol] += (moved_glycol * (glycol_before_c - glycol_c) - heat_j) * kelvins_per_glycol_j
        plant[water] += (moved_water * (water_from_c - water_c) + heat_j) * kelvins_per_water_j
        total_j += heat_j
        glycol_before_c, water_before_c = glycol_c, water_c
        index += along
    return total_j


@kernel
def _cell_uas_w_per_k(plant, values, ua, glycol_w_per_k, water_w_per_k):
    # UA of a cell as three paths see it: flow to flow; glycol flow to standing water; standing
    # glycol to water flow. The last two are given as `one_side_w_per_k` takes them, twice the
    # resistance of their own half.
    cells = s.EXCHANGER_CELLS
    films = values[p.NOMINAL_FILMS_K_PER_W]
    if films == 0.0 or glycol_w_per_k + water_w_per_k == 0.0:
        return ua / cells, ua / cells, ua / cells
    glycol_c = mean_c(plant, s.EXCHANGER_GLYCOL_FIRST, cells)
    water_c = mean_c(plant, s.EXCHANGER_WATER_FIRST, cells)
    glycol = cells / lookup(values, p.GLYCOL_FILM_FIRST, sqrt(glycol_w_per_k * values[p.GLYCOL_FILM_PLACE]), glycol_c)
    water = cells / lookup(values, p.WATER_FILM_FIRST, sqrt(water_w_per_k * values[p.WATER_FILM_PLACE]), water_c)
    # Wall and dirt.
    other = cells * max(0.0, 1.0 / ua - films)
    return 1.0 / (glycol + other + water), 0.5 / (glycol + other), 0.5 / (water + other)


@kernel
def _cell_passes_j_per_k(moved_glycol, moved_water, uas, rest, glycol_node, water_node, step_s):
    # J/K passed by one cell in a step: flow to flow, glycol flow to standing water, standing glycol
    # to water flow, layer to layer. Each later path adds only what the earlier ones leave of its
    # own figure. So the sum never falls below a still exchanger's, and has no jump as a flow stops.
    glycol_w_per_k, water_w_per_k = moved_glycol / step_s, moved_water / step_s
    both, to_layer, from_layer = 0.0, 0.0, 0.0
    if moved_glycol > 0.0 and moved_water > 0.0:
        both = flow_conductance_w_per_k(glycol_w_per_k, water_w_per_k, uas[0])
    if moved_glycol > 0.0:
        to_layer = max(0.0, one_side_w_per_k(glycol_w_per_k, uas[1], rest) - both)
    if moved_water > 0.0:
        from_layer = max(0.0, one_side_w_per_k(water_w_per_k, uas[2], rest) - both)
    layers = max(0.0, rest - both - to_layer - from_layer)
    # Exchange with a standing layer is implicit, with the part of the cell that does not move, so
    # that no step length overshoots. Flow to flow cannot overshoot: a step moves less than a cell.
    standing_glycol, standing_water = glycol_node - moved_glycol, water_node - moved_water
    to_layer_j = _damped_j_per_k(to_layer * step_s, inf, standing_water)
    from_layer_j = _damped_j_per_k(from_layer * step_s, standing_glycol, inf)
    layers_j = _damped_j_per_k(layers * step_s, standing_glycol - from_layer_j, standing_water - to_layer_j)
    return both * step_s, to_layer_j, from_layer_j, layers_j


@kernel
def _damped_j_per_k(pass_j_per_k, from_j_per_k, to_j_per_k):
    if pass_j_per_k <= 0.0:
        return 0.0
    return pass_j_per_k / (1.0 + pass_j_per_k / from_j_per_k + pass_j_per_k / to_j_per_k)
