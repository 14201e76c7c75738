"""The initial plant, the heat stored in it, and whether a run's heat balance closes."""

import numpy as np
from twinloop.control import state as fw

from . import parameters as p
from . import state as s
from .air.storage import initial_air
from .jit import kernel
from .rows import total_c


def plant_size(values):
    """Return the length of the plant array, its tank layers last. Args: `values`."""
    return s.TANK_FIRST + int(values[p.TANK_NODES])


def initial_plant(values, ambient_c, tank_low_c, tank_high_c):
    """Return a station at rest: outdoors at ambient, indoors at the room, valve at the radiator.

    Args: `values` (from plant_values), `ambient_c` (C), `tank_low_c`, `tank_high_c` (C, bottom and
    top layer, a straight line between). Returns: float64 array of `plant_size(values)`, to be
    indexed by state.py. Raises: ValueError for a tank warmer below than above. Source: ours.
    """
    if tank_low_c > tank_high_c:
        raise ValueError(f"tank_low_c = {tank_low_c:g}: allowed up to tank_high_c = {tank_high_c:g} C")
    plant = np.full(plant_size(values), float(values[p.ROOM_C]))
    plant[: s.SENSORS_FIRST] = 0.0
    plant[s.RETURN_OUTDOOR_FIRST : s.SUPPLY_INDOOR_FIRST] = ambient_c
    plant[s.RADIATOR_FIRST : s.EXCHANGER_GLYCOL_FIRST] = ambient_c
    plant[s.TANK_FIRST :] = np.linspace(tank_low_c, tank_high_c, int(values[p.TANK_NODES]))
    plant[s.AIR_FIRST : s.TANK_FIRST] = initial_air(ambient_c, values[p.ROOM_C])
    plant[s.TAP_C] = plant[s.EXCHANGER_INLET_C] = values[p.ROOM_C]
    pockets = plant[s.SENSORS_FIRST : s.SENSORS_FIRST + s.SENSOR_COUNT]
    pockets[fw.COLLECTOR] = pockets[fw.OUTDOOR] = ambient_c
    pockets[fw.TANK_LOW] = plant[s.TANK_FIRST + int(values[p.TANK_LOW_SENSOR_NODE])]
    pockets[fw.TANK_HIGH] = plant[s.TANK_FIRST + int(values[p.TANK_HIGH_SENSOR_NODE])]
    return plant


@kernel
def stored_heat(plant, values):
    """Return the heat in the station, counted from 0 C. Args: `plant`, `values` (float64 arrays).

    Returns: (tank J, loop J); the loop is collector, pipes, exchanger with water and plate,
    tank-loop pipes and any radiator. Source: sum of capacity times temperature.
    """
    pipe, cells, water = int(values[p.PIPE_NODES]), s.EXCHANGER_CELLS, s.TANK_PIPE_NODES
    loop_j = values[p.RETURN_INDOOR_NODE_J_PER_K] * total_c(plant, s.RETURN_INDOOR_FIRST, pipe)
    loop_j += values[p.RETURN_OUTDOOR_NODE_J_PER_K] * total_c(plant, s.RETURN_OUTDOOR_FIRST, pipe)
    loop_j += values[p.COLLECTOR_NODE_J_PER_K] * total_c(plant, s.COLLECTOR_FIRST, s.COLLECTOR_NODES)
    loop_j += values[p.SUPPLY_OUTDOOR_NODE_J_PER_K] * total_c(plant, s.SUPPLY_OUTDOOR_FIRST, pipe)
    loop_j += values[p.SUPPLY_INDOOR_NODE_J_PER_K] * total_c(plant, s.SUPPLY_INDOOR_FIRST, pipe)
    loop_j += values[p.EXCHANGER_GLYCOL_CELL_J_PER_K] * total_c(plant, s.EXCHANGER_GLYCOL_FIRST, cells)
    loop_j += values[p.EXCHANGER_WATER_CELL_J_PER_K] * total_c(plant, s.EXCHANGER_WATER_FIRST, cells)
    # The array holds outgoing and back pipe side by side.
    loop_j += values[p.TANK_PIPE_NODE_J_PER_K] * total_c(plant, s.TANK_PIPE_OUT_FIRST, 2 * water)
    if values[p.DUMP_TOPOLOGY] != p.DUMP_NONE:
        loop_j += values[p.RADIATOR_NODE_J_PER_K] * total_c(plant, s.RADIATOR_FIRST, s.RADIATOR_NODES)
    tank_k = total_c(plant, s.TANK_FIRST, int(values[p.TANK_NODES]))
    return tank_k * values[p.TANK_NODE_L] * values[p.WATER_J_PER_L_K], loop_j
