"""Pipes: nodes that carry fluid and lose heat to their surroundings.

Transport is first-order upwind from the temperatures at the start of the step: whatever leaves a
node enters the next, so no heat is made or lost. A front smears over about the square root of the
nodes passed. At the flow that fills a node in one step, transport is exact.
"""

from . import parameters as p
from . import state as s
from .jit import kernel
from .rows import extremes_c, mean_c, total_c


@kernel
def pipes_mean_c(plant, values, outdoor_first, indoor_first):
    """Return the mean temperature (C) of two of the roof loop's pipes.

    Args: `plant`, `values` (as plant.advance), `outdoor_first`, `indoor_first` (their first nodes).
    Source: each pipe counts alike, whatever its length.
    """
    nodes = int(values[p.PIPE_NODES])
    return 0.5 * (mean_c(plant, outdoor_first, nodes) + mean_c(plant, indoor_first, nodes))


@kernel
def pipes_extremes_c(plant, values):
    """Return lowest and highest (C, C) of the roof loop's pipes. Args: as `pipes_mean_c`. Source:
    definition.
    """
    nodes = int(values[p.PIPE_NODES])
    low_c, high_c = extremes_c(plant, s.RETURN_INDOOR_FIRST, nodes)
    for first in (s.RETURN_OUTDOOR_FIRST, s.SUPPLY_OUTDOOR_FIRST, s.SUPPLY_INDOOR_FIRST):
        coldest_c, hottest_c = extremes_c(plant, first, nodes)
        low_c, high_c = min(low_c, coldest_c), max(high_c, hottest_c)
    return low_c, high_c


@kernel
def station_inlet_c(plant, values):
    """Return the temperature (C) of the glycol arriving at the station. Args: as `pipes_mean_c`.

    Source: the last node of the pipe.
    """
    return plant[s.SUPPLY_INDOOR_FIRST + int(values[p.PIPE_NODES]) - 1]


@kernel
def carry(temperatures_c, first, count, inlet_c, moved_j_per_k, node_j_per_k):
    """Move fluid through a row of equal nodes for one step, in place.

    Args: `temperatures_c` (C, array), `first`, `count` (the row), `inlet_c` (C, of what enters),
    `moved_j_per_k` (J/K, heat capacity of the fluid moved in the step; negative: from the last node
    to the first), `node_j_per_k` (J/K).
    Returns: C, what leaves the row. |moved| must not exceed a node. Source: upwind finite volumes.
    """
    share = moved_j_per_k / node_j_per_k
    last = first + count - 1
    if share >= 0.0:
        leaving_c = temperatures_c[last]
        for index in range(last, first, -1):
            temperatures_c[index] += share * (temperatures_c[index - 1] - temperatures_c[index])
        temperatures_c[first] += share * (inlet_c - temperatures_c[first])
    else:
        leaving_c = temperatures_c[first]
        for index in range(first, last):
            temperatures_c[index] -= share * (temperatures_c[index + 1] - temperatures_c[index])
        temperatures_c[last] -= share * (inlet_c - temperatures_c[last])
    return leaving_c


@kernel
def lose(temperatures_c, first, count, around_c, node_w_per_k, node_j_per_k, step_s):
    """Let a row of equal nodes lose heat to its surroundings for one step, in place.

    Args: `temperatures_c` (C, array), `first`, `count` (the row), `around_c` (C), `node_w_per_k`
    (W/K), `node_j_per_k` (J/K), `step_s` (s). Returns: J lost (negative when warmed). Source:
    Newton's cooling, explicit, never beyond the temperature of the surroundings.
    """
    share = min(node_w_per_k / node_j_per_k * step_s, 1.0)
    above_k = total_c(temperatures_c, first, count) - count * around_c
    for index in range(first, first + count):
        temperatures_c[index] -= share * (temperatures_c[index] - around_c)
    return share * node_j_per_k * above_k
