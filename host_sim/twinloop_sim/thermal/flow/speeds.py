"""The speeds at which a plant's pumps give a part of their flows."""

import numpy as np

from .. import parameters as p
from ..fluids import FLOW_REFERENCE_C
from .loop import drop_share
from .pump import PumpCurve, speed_for
from .tables import CELSIUS, fluid_on_grid


def speeds_for(values, roof_share, tank_share):
    """Return the plant values that set both pumps to parts of their flows.

    Args: `values` (float64 array from plant_values, with flow_physics), `roof_share`, `tank_share`
    (1, of the plant's flows, above 0 to 1). Returns: dict for plant_values. Source: the roof's flow
    at `FLOW_REFERENCE_C`: colder glycol flows slower; the tank's loop is turbulent.
    """
    glycol = fluid_on_grid(values[p.GLYCOL_MASS_PERCENT])
    nominal_l_per_min = values[p.COLLECTOR_FLOW_L_PER_MIN]
    drop = drop_share(p.roof_loop(values), glycol, np.array([roof_share]), nominal_l_per_min)
    at_reference = drop[0, list(CELSIUS).index(FLOW_REFERENCE_C)]
    roof, tank = (PumpCurve(*values[first : first + 3]) for first in (p.ROOF_DROOP, p.TANK_DROOP))
    return {
        "collector_pump_speed": speed_for(roof_share, roof, at_reference),
        "tank_pump_speed": speed_for(tank_share, tank, tank_share**2),
    }
