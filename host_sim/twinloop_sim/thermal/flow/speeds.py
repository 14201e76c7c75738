"""The speeds at which a plant's pumps give a part of their flows, and the other way round."""

from math import sqrt

import numpy as np

from .. import parameters as p
from ..fluids import FLOW_REFERENCE_C
from ..pumps import drive_share
from .lookup import ROOT_STEP, lookup
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
    # Rounding must not ask for more than full speed.
    return {
        "collector_pump_speed": min(float(speed_for(roof_share, roof, at_reference)), 1.0),
        "tank_pump_speed": min(float(speed_for(tank_share, tank, tank_share**2)), 1.0),
    }


def flow_shares(values):
    """Return what the pumps give at their speeds, as parts of the plant's flows: roof, tank.

    Args: `values` (as speeds_for). Returns: pair of floats (1), 0 where a pump does not open its
    check valve. Source: as in the step, the roof's flow at `FLOW_REFERENCE_C`.
    """
    roof = drive_share(values[p.COLLECTOR_PUMP_SPEED], values[p.ROOF_DROOP], values[p.ROOF_VALVE_SHARE])
    tank = drive_share(values[p.TANK_PUMP_SPEED], values[p.TANK_DROOP], values[p.TANK_VALVE_SHARE])
    return float(lookup(values, p.ROOF_FLOW_FIRST, sqrt(roof) / ROOT_STEP, FLOW_REFERENCE_C)), sqrt(tank)
