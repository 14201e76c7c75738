"""The roof loop's pressure drop part by part.

Straight tubes and absorber by Darcy-Weisbach, the exchanger by Martin, fittings by their loss
coefficients. A plant's own pressure at its own flow stays: the parts say how the drop changes with
flow and temperature, and a valve or a longer way that they do not know counts in their proportion.
"""

from dataclasses import dataclass

import numpy as np

from ..fluids import FLOW_REFERENCE_C
from .absorber import BORE_M
from .films import plate_friction, tube_friction
from .plates import CHANNEL_L, CHEVRON_DEG, CORRUGATION_M, HYDRAULIC_DIAMETER_M, PLATE_WIDTH_M, PORT_TO_PORT_M

# Elbows, valves, meter and air separator of a small station, on the pipe's bore (common practice:
# 15 elbows at 1, three open ball valves at 0.3, a flow meter and the gravity brake at 10 each).
FITTINGS = 36.0


@dataclass(frozen=True)
class Loop:
    """What glycol passes on one round: pipe, absorber (an absorber.Absorber), plates."""

    pipe_m: float
    pipe_bore_m: float
    absorber: object
    exchanger_l: float


def tube_pa(fluid, flow_l_per_min, length_m, bore_m):
    """Return the pressure drop, Pa, of a straight smooth tube.

    Args: `fluid` (plates.Fluid), `flow_l_per_min` (L/min, above 0), `length_m`, `bore_m` (m).
    Returns: over the fluid's grid. Source: Darcy-Weisbach.
    """
    speed = flow_l_per_min / 60000.0 / (np.pi / 4.0 * bore_m**2)
    friction = tube_friction(fluid.density * speed * bore_m / fluid.viscosity)
    return friction * length_m / bore_m * fluid.density * speed**2 / 2.0


def plates_pa(fluid, flow_l_per_min, content_l):
    """Return the pressure drop, Pa, of one side of the exchanger.

    Args: as `tube_pa`, `content_l` (L). Source: Martin 1996 on the straight way between the ports;
    ports left out.
    """
    speed = flow_l_per_min / 60000.0 / (content_l / CHANNEL_L * PLATE_WIDTH_M * CORRUGATION_M)
    friction = plate_friction(fluid.density * speed * HYDRAULIC_DIAMETER_M / fluid.viscosity, CHEVRON_DEG)
    return friction * PORT_TO_PORT_M / HYDRAULIC_DIAMETER_M * fluid.density * speed**2 / 2.0


def pressure_pa(loop, fluid, flow_l_per_min):
    """Return the pressure drop of each part of the loop, Pa.

    Args: `loop` (Loop), `fluid`, `flow_l_per_min` (as `tube_pa`). Returns: dict of arrays: pipe,
    absorber, plates, fittings. Source: the functions above; a loss coefficient for the last.
    """
    speed = flow_l_per_min / 60000.0 / (np.pi / 4.0 * loop.pipe_bore_m**2)
    way_l_per_min = flow_l_per_min / loop.absorber.ways
    return {
        "pipe": tube_pa(fluid, flow_l_per_min, loop.pipe_m, loop.pipe_bore_m),
        "absorber": tube_pa(fluid, way_l_per_min, loop.absorber.tube_m, BORE_M),
        "plates": plates_pa(fluid, flow_l_per_min, loop.exchanger_l),
        "fittings": FITTINGS * fluid.density * speed**2 / 2.0,
    }


def drop_share(loop, fluid, flow_shares, nominal_l_per_min):
    """Return the loop's drop against that at nominal flow and the fluid's reference.

    Args: `loop`, `fluid` (Fluid whose grid has `fluids.FLOW_REFERENCE_C`), `flow_shares` (1, above
    0, array), `nominal_l_per_min` (L/min). Returns: array, flows by temperatures. Source:
    `pressure_pa`.
    """
    flows = np.append(flow_shares, 1.0)[:, None] * nominal_l_per_min
    total = sum(pressure_pa(loop, fluid, flows).values())
    return total[:-1] / total[-1, list(fluid.celsius).index(FLOW_REFERENCE_C)]
