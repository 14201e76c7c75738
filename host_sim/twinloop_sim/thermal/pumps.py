"""Pumps: the flow they give, and the heat they leave in the fluid.

A pump's pressure falls with the square of its flow and rises with the square of its speed, its
power with the cube (affinity laws) over what motor and electronics take at any speed. What the loop
takes is in `flow.loop`. For natural flow, and with `flow_physics` 0 where the pump holds pressure
and power, the drop at nominal flow has a laminar part, proportional to viscosity and flow, and a
turbulent part, proportional to the square of the flow and independent of viscosity.
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
def drive_share(speed, droop, valve_share):
    """Return the pressure that a pump at a speed has for the loop, against that at full speed.

    Args: `speed` (1, against full), `droop` (1, pressure against a shut loop over the nominal one,
    less 1), `valve_share` (1, of the nominal pressure, that holds the check valve open). Returns:
    1; 0 when the pressure does not open the valve. The pump's own fall of pressure with the square
    of the flow counts as the loop's. Source: affinity laws, (1 + d) n^2 - d x^2 = v + drop(x).
    """
    shut = 1.0 + droop
    return max(0.0, (shut * speed * speed - valve_share) / (shut - valve_share))


@kernel
def pump_w(nominal_w, standing_share, speed, power_slope, flow_share):
    """Return the electrical power of a pump, W.

    Args: `nominal_w` (W, at nominal speed and flow), `standing_share` (1, of it, taken at any
    speed), `speed` (1), `power_slope` (1, change of the rest with flow at one speed), `flow_share`
    (1, against nominal). Source: affinity laws; the slope is common practice.
    """
    moving = speed * speed * (speed + power_slope * (abs(flow_share) - speed))
    return nominal_w * (1.0 - (1.0 - standing_share) * (1.0 - moving))


@kernel
def pump_heat_j(power_w, heat_share, step_s):
    """Return J left in the fluid: `power_w` (W), `heat_share` (1), `step_s` (s). Source:
    definition.
    """
    return power_w * heat_share * step_s
