"""The initial air channel, and the heat stored in it and its room."""

import numpy as np

from ..jit import kernel
from ..rows import total_c
from . import parameters as p
from . import state as a


def initial_air(ambient_c, room_c):
    """Return channel and room at rest: absorber at ambient, all of the room at one temperature.

    Args: `ambient_c`, `room_c` (C). Returns: float64 array of
    `AIR_COUNT`. Source: ours.
    """
    air = np.full(a.AIR_COUNT, float(room_c))
    air[[a.FLOW_KG_PER_S, a.FAN_W]] = 0.0
    air[a.ABSORBER_FIRST :] = air[a.POCKETS_FIRST + a.AIR_COLLECTOR] = ambient_c
    return air


@kernel
def stored_heat(air, values):
    """Return the heat stored, counted from 0 C. Args: `air`, `values` (float64 arrays).

    Returns: (absorber J, room J), the room with its masonry. Source: sum of capacity times
    temperature.
    """
    absorber_j = values[p.ABSORBER_NODE_J_PER_K] * total_c(air, a.ABSORBER_FIRST, a.ABSORBER_NODES)
    return absorber_j, values[p.ROOM_HEAT_J_PER_K] * air[a.ROOM_C] + values[p.MASONRY_HEAT_J_PER_K] * air[a.MASONRY_C]
