"""The air heater and its room, one control step at a time.

The duct leaks a share of what the running fan moves, in one place: at the collector's outlet. A fan
that pushes blows warm air out there, and the room takes in as much from outdoors. A fan that draws
sucks outdoor air in, and as much room air goes out. Buoyancy's few pascals leak nothing.
"""

from math import exp

from ..jit import kernel
from ..sensors import follow
from . import parameters as p
from . import state as a
from .building import warm_room
from .collector import pass_absorber, shine_on_absorber
from .duct import air_flow_kg_per_s, fan_w
from .properties import AIR_J_PER_KG_K

# Where a trickle runs backwards, the sensor at the outlet feels it and the absorber alike at this
# share of the test's flow (ours: radiation and the metal it touches are worth 3 W/m2 K).
SPREAD_SHARE = 0.1


@kernel
def advance_air(air, values, drive, fan_level, flux, dt_s):
    """Move air heater and room by one control step, in place.

    Args: `air` (float64, from initial_air), `values` (float64, from air_values), `drive` (float64
    of `DRIVE_COUNT`, means over the step), `fan_level` (1, speed against full; 0 is off), `flux`
    (float64 of `FLUX_COUNT`, J, added to), `dt_s` (s, above 0). Returns: nothing. Source: the
    components' equations. Inner steps are equal and at most `air_step_s`.
    """
    steps = max(1, int(dt_s / values[p.LONGEST_STEP_S] + 0.999999))
    step_s = dt_s / steps
    outlet_c = air[a.ABSORBER_OUTLET]
    for _ in range(steps):
        flow = air_flow_kg_per_s(air, values, fan_level)
        air[a.FLOW_KG_PER_S], air[a.FAN_W] = flow, fan_w(values, fan_level, flow)
        flux[a.FLUX_FAN_POWER] += air[a.FAN_W] * step_s
        channel_w, outlet_c = 0.0, air[a.ABSORBER_OUTLET]
        air[a.SUPPLY_C] = air[a.ROOM_C]
        if flow > 0.0:
            channel_w, outlet_c = _forwards(air, values, drive, fan_level, flux, step_s)
        elif flow < 0.0:
            channel_w, outlet_c = _backwards(air, values, drive, flux, step_s)
        shine_on_absorber(air, values, drive, flux, step_s)
        warm_room(air, values, drive, channel_w, flux, step_s)
    collector, room = a.POCKETS_FIRST + a.AIR_COLLECTOR, a.POCKETS_FIRST + a.ROOM
    air[collector] = follow(air[collector], outlet_c, values[p.AIR_COLLECTOR_SENSOR_S], dt_s)
    air[room] = follow(air[room], air[a.ROOM_C], values[p.ROOM_SENSOR_S], dt_s)


@kernel
def _forwards(air, values, drive, fan_level, flux, step_s):
    # Returns W to the room and the temperature of the air at the absorber's outlet.
    ambient_c, room_c, flow = drive[a.DRIVE_AMBIENT_C], air[a.ROOM_C], air[a.FLOW_KG_PER_S]
    leak = values[p.AIR_LEAK_SHARE] if fan_level > 0.0 else 0.0
    heat_w = values[p.AIR_FAN_HEAT_SHARE] * air[a.FAN_W]
    fan_k = heat_w / (flow * AIR_J_PER_KG_K)
    if values[p.AIR_FAN_DRAWS] > 0.0:
        outlet_c = pass_absorber(air, values, room_c, (1.0 - leak) * flow, flux, step_s)
        delivered, supply_c = flow, (1.0 - leak) * outlet_c + leak * ambient_c + fan_k
        leaked_w = leak * flow * AIR_J_PER_KG_K * (room_c - ambient_c)
    else:
        outlet_c = pass_absorber(air, values, room_c + fan_k, flow, flux, step_s)
        delivered, supply_c = (1.0 - leak) * flow, outlet_c
        leaked_w = leak * flow * AIR_J_PER_KG_K * (outlet_c - ambient_c)
    delivered_w_per_k = delivered * AIR_J_PER_KG_K
    air[a.SUPPLY_C] = ambient_c + (supply_c - ambient_c) * exp(-values[p.DUCT_W_PER_K] / delivered_w_per_k)
    channel_w = delivered_w_per_k * (air[a.SUPPLY_C] - room_c)
    # What the room takes in from outdoors for the air that is lost.
    channel_w += (flow - delivered) * AIR_J_PER_KG_K * (ambient_c - room_c)
    flux[a.FLUX_FAN_HEAT] += heat_w * step_s
    flux[a.FLUX_DUCT_LOSS] += delivered_w_per_k * (supply_c - air[a.SUPPLY_C]) * step_s
    flux[a.FLUX_LEAKED] += leaked_w * step_s
    flux[a.FLUX_TO_ROOM] += channel_w * step_s
    return channel_w, outlet_c


@kernel
def _backwards(air, values, drive, flux, step_s):
    # As _forwards; the fan stands still. Room air sinks through the cold collector.
    ambient_c, room_c, flow = drive[a.DRIVE_AMBIENT_C], air[a.ROOM_C], air[a.FLOW_KG_PER_S]
    flow_w_per_k = -flow * AIR_J_PER_KG_K
    inlet_c = ambient_c + (room_c - ambient_c) * exp(-values[p.DUCT_W_PER_K] / flow_w_per_k)
    reach = -flow / (-flow + SPREAD_SHARE * values[p.TEST_KG_PER_S])
    felt_c = air[a.ABSORBER_OUTLET] + reach * (inlet_c - air[a.ABSORBER_OUTLET])
    return_c = pass_absorber(air, values, inlet_c, flow, flux, step_s)
    channel_w = flow_w_per_k * (return_c - room_c)
    flux[a.FLUX_DUCT_LOSS] += flow_w_per_k * (room_c - inlet_c) * step_s
    flux[a.FLUX_BACK_DRAUGHT] -= channel_w * step_s
    return channel_w, felt_c
