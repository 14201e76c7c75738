"""Duct, filter, damper and fan: how much air moves, and what that takes.

The way of the air has two kinds of resistance. A filter mat is laminar: its drop grows with the
flow. Duct, fittings, collector and the fan's own curve are turbulent: with the square of the flow.
The fan's pressure falls with the square of its flow and rises with the square of its speed, so that
its fall counts as a resistance at every speed, and also while it stands still in the way.
"""

from ..buoyancy import natural_flow_share
from ..jit import kernel
from ..pumps import flow_share
from ..rows import mean_c
from . import parameters as p
from . import state as a
from .properties import GRAVITY_M_PER_S2, REFERENCE_C, ZERO_K

# Power of a small radial fan against a shut damper, over that when it blows freely (common
# practice).
SHUT_POWER_SHARE = 0.6


@kernel
def buoyancy_pa(air, values):
    """Return the pressure that warm or cold air in the channel has in the fan's direction, Pa.

    Args: `air`, `values` (float64 arrays). Returns: below 0 when it drives air backwards. Source:
    hydrostatics of an ideal gas; the columns are the collector at its mean, and above it the supply
    duct, at the outlet's temperature when air rises and at the room's when it falls.
    """
    room_k = air[a.ROOM_C] + ZERO_K
    collector_k = mean_c(air, a.ABSORBER_FIRST, a.ABSORBER_NODES) + ZERO_K
    # Weight of the reference air, per metre, times its temperature: over T it is that of the air.
    weight = GRAVITY_M_PER_S2 * values[p.AIR_KG_PER_M3] * (REFERENCE_C + ZERO_K)
    drive_pa = weight * values[p.AIR_COLLECTOR_RISE_M] * (1.0 / room_k - 1.0 / collector_k)
    if drive_pa <= 0.0:
        return drive_pa
    outlet_k = air[a.ABSORBER_OUTLET] + ZERO_K
    return max(0.0, drive_pa + weight * values[p.AIR_SUPPLY_RISE_M] * (1.0 / room_k - 1.0 / outlet_k))


@kernel
def air_flow_kg_per_s(air, values, fan_level):
    """Return the flow of air, kg/s, negative against the fan's direction. Args: as advance_air.

    Source: fan curve against the resistances, pumps.flow_share; at rest
    buoyancy.natural_flow_share.
    """
    buoyant_pa, opening_pa = buoyancy_pa(air, values), values[p.AIR_DAMPER_OPENING_PA]
    head_pa, dirt, laminar = values[p.TEST_PA], values[p.AIR_FILTER_DIRT], values[p.LAMINAR_SHARE]
    if fan_level > 0.0:
        pressure_pa = values[p.AIR_FAN_SHUT_PA] * fan_level * fan_level + buoyant_pa - opening_pa
        return values[p.TEST_KG_PER_S] * flow_share(pressure_pa / head_pa, dirt, laminar)
    share = natural_flow_share(buoyant_pa, opening_pa, values[p.AIR_DAMPER_LEAK], head_pa, dirt, laminar)
    return values[p.TEST_KG_PER_S] * share


@kernel
def fan_w(values, fan_level, flow_kg_per_s):
    """Return the electrical power of the fan, W.

    Args: `values` (float64 array), `fan_level` (1, speed against full; 0 is off), `flow_kg_per_s`
    (kg/s). Source: affinity laws; the rise with flow on a straight line is common practice.
    """
    if fan_level <= 0.0:
        return 0.0
    blowing = min(flow_kg_per_s / (values[p.FREE_KG_PER_S] * fan_level), 1.0)
    moving_w = values[p.AIR_FAN_W] * fan_level**3 * (SHUT_POWER_SHARE + (1.0 - SHUT_POWER_SHARE) * blowing)
    return values[p.AIR_FAN_STANDING_W] + moving_w
