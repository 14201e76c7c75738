"""The storage tank: equal layers from the bottom up, moved by draws and the tank loop together.

An inverted layer mixes at once with all layers it would rise or sink through. A plume from the
upper port spreads the same way: water hotter than the layers above it reaches the top in the same
step.
"""

from . import parameters as p
from . import state as s
from .jit import kernel


@kernel
def move_water(plant, values, draw_l, cold_c, charge_l, charge_in_c):
    """Move water through the tank for one step, in place.

    Args: `plant`, `values` (as plant.advance), `draw_l` (L drawn from the top and fed cold at the
    bottom, 0 or more), `cold_c` (C, cold main), `charge_l` (L through the tank loop, out at the low
    port, in at the upper one; negative the other way), `charge_in_c` (C, what the loop brings).
    Returns: nothing. What moves through a layer must stay under the layer's volume. An inlet swaps
    `tank_inlet_mixing` litres a litre with the next layer. Source: upwind finite volumes.
    """
    count, layer_l, mixing = int(values[p.TANK_NODES]), values[p.TANK_NODE_L], values[p.TANK_INLET_MIXING]
    low_port, upper_port = int(values[p.TANK_LOW_PORT_NODE]), int(values[p.TANK_UPPER_PORT_NODE])
    from_below_lk = draw_l * cold_c
    sink, source = (low_port, upper_port) if charge_l >= 0.0 else (upper_port, low_port)
    moved_l = abs(charge_l)
    for layer in range(count):
        index = s.TANK_FIRST + layer
        here_c = plant[index]
        up_l = draw_l
        if low_port <= layer < upper_port:
            up_l -= charge_l
        to_above_lk = up_l * (here_c if up_l >= 0.0 else plant[index + 1])
        if layer < count - 1:
            to_above_lk += _swapped_l(layer, draw_l, moved_l, source, mixing) * (here_c - plant[index + 1])
        change_lk = from_below_lk - to_above_lk
        if layer == source:
            change_lk += moved_l * charge_in_c
        if layer == sink:
            change_lk -= moved_l * here_c
        plant[index] = here_c + change_lk / layer_l
        from_below_lk = to_above_lk


@kernel
def _swapped_l(layer, draw_l, moved_l, source, mixing):
    # An inlet stirs one boundary of its layer: the cold inlet the upper one, the loop's inlet the
    # lower one, or the upper one at the very bottom.
    swapped = mixing * draw_l if layer == 0 else 0.0
    if layer == max(source - 1, 0):
        swapped += mixing * moved_l
    return swapped


@kernel
def conduct(layers_c, first, count, between_w_per_k, layer_j_per_k, step_s):
    """Let heat pass between neighbouring layers for one step, in place.

    Args: `layers_c` (C, array), `first`, `count` (the layers), `between_w_per_k` (W/K across a
    boundary), `layer_j_per_k` (J/K), `step_s` (s). Returns: nothing. Source: Fourier, explicit,
    never past equal temperatures.
    """
    share = min(between_w_per_k / layer_j_per_k * step_s, 0.25)
    below_k = 0.0
    for index in range(first, first + count - 1):
        above_k = share * (layers_c[index + 1] - layers_c[index])
        layers_c[index] += above_k - below_k
        below_k = above_k
    layers_c[first + count - 1] -= below_k


@kernel
def mix_inversions(layers_c, first, count):
    """Mix layers warmer than the one above, in place, until none is left.

    Args: `layers_c` (C, array), `first`, `count` (equal layers, bottom first). Returns: nothing;
    the sum is unchanged. Source: energy balance of mixed blocks, merged from the bottom up.
    """
    for top in range(first + 1, first + count):
        if layers_c[top] >= layers_c[top - 1]:
            continue
        total, bottom = layers_c[top], top
        while bottom > first and layers_c[bottom - 1] * (top - bottom + 1) > total:
            bottom -= 1
            total += layers_c[bottom]
        mean_c = total / (top - bottom + 1)
        for index in range(bottom, top + 1):
            layers_c[index] = mean_c
