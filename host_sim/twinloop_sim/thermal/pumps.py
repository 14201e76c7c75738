"""Pumps: the flow they give, and the heat they leave in the fluid.

The loop's pressure drop at nominal flow has a laminar part, proportional to viscosity and flow, and
a turbulent part, proportional to the square of the flow and independent of viscosity. The pump
holds its pressure whatever the flow.
"""

from math import sqrt

from .fluids import VISCOSITY_COUNT, VISCOSITY_FROM_C, VISCOSITY_STEP_K
from .jit import kernel


@kernel
def interpolate_viscosity(values, first, celsius):
    """Return the viscosity ratio at a temperature, from the table in the plant values.

    Args: `values` (float64 array), `first` (index of the table), `celsius` (C, clamped to the
    table). Returns: ratio to `FLOW_REFERENCE_C` (1). Source: linear interpolation.
    """
    place = (celsius - VISCOSITY_FROM_C) / VISCOSITY_STEP_K
    place = min(max(place, 0.0), VISCOSITY_COUNT - 1.000001)
    index = int(place)
    low = values[first + index]
    return low + (place - index) * (values[first + index + 1] - low)


@kernel
def flow_share(pressure_share, viscosity_ratio, laminar_share):
    """Return the flow that a pressure drives through a loop, against the nominal one.

    Args: `pressure_share` (1, against nominal, 0 or more), `viscosity_ratio` (1, against 50 C),
    `laminar_share` (1, 0 to 0.9, of the nominal pressure drop). Returns: flow against nominal (1).
    Source: positive root of s r x + (1 - s) x^2 = p (Hagen-Poiseuille plus a constant friction
    factor).
    """
    if pressure_share <= 0.0:
        return 0.0
    laminar = laminar_share * viscosity_ratio
    return 2.0 * pressure_share / (laminar + sqrt(laminar * laminar + 4.0 * (1.0 - laminar_share) * pressure_share))


@kernel
def pump_heat_j(power_w, heat_share, step_s):
    """Return J left in the fluid: `power_w` (W), `heat_share` (1), `step_s` (s). Source:
    definition.
    """
    return power_w * heat_share * step_s
