"""What the station's sensors feel, and temperatures that only the model knows.

Each sensor sits in a pocket that follows its place with a first-order lag. `collector` sits at the
collector's outlet, `loop_supply` at the station ahead of the valve (so it cools to the room while
idle), `loop_return` on the pipe to the roof, `tap` in the pipe after the heater. `exchanger` sits
on the plates at the end where glycol creeps in at night: the roof's end, or with a radiator in
series the radiator's. Offset, noise and the chip's steps belong to the firmware's inputs.
"""

from . import parameters as p
from . import state as s
from .air import state as air
from .jit import kernel
from .pipe import pipes_extremes_c, station_inlet_c
from .rows import extremes_c

MINUTE_S = 60.0
# Share of the plates around the port that spreads a trickle's heat (ours: a few millimetres of
# twenty centimetres).
PORT_SHARE = 0.01


@kernel
def follow(reading_c, place_c, lag_s, step_s):
    """Return a pocket's temperature after one step.

    Args: `reading_c` (C, before), `place_c` (C, at the end), `lag_s` (s, 0 or more), `step_s` (s).
    Returns: C. Source: first-order lag, implicit Euler, so it never overshoots.
    """
    return reading_c + (place_c - reading_c) * (step_s / (lag_s + step_s))


@kernel
def places_c(plant, values, ambient_c):
    """Return the temperature (C) at the place of each sensor, in the firmware's order.

    Args: `plant`, `values` (float64 arrays), `ambient_c` (C). Source: ours.
    """
    return (
        plant[s.COLLECTOR_OUTLET],
        plant[s.TANK_FIRST + int(values[p.TANK_LOW_SENSOR_NODE])],
        plant[s.TANK_FIRST + int(values[p.TANK_HIGH_SENSOR_NODE])],
        station_inlet_c(plant, values),
        plant[s.STATION_OUTLET],
        ambient_c,
        plant[s.TAP_C],
        plate_with_sensor_c(plant, values),
        plant[s.AIR_FIRST + air.ABSORBER_OUTLET],
        plant[s.AIR_FIRST + air.ROOM_C],
    )


@kernel
def follow_all(plant, values, ambient_c, step_s):
    """Let all pockets follow, in place. Args: as `advance`. Source: `follow`."""
    now_c = places_c(plant, values, ambient_c)
    for sensor in range(s.SENSOR_COUNT):
        _follow_one(plant, s.SENSORS_FIRST + sensor, now_c[sensor], values[p.SENSOR_LAGS[sensor]], step_s)


@kernel
def _follow_one(plant, index, place_c, lag_s, step_s):
    plant[index] = follow(plant[index], place_c, lag_s, step_s)


@kernel
def plate_with_sensor_c(plant, values):
    """Return the plate temperature (C) under the exchanger's sensor. Args: as `places_c`.

    Source: ours; the end cell, halfway between its two fluids.
    """
    cell = 0 if values[p.DUMP_TOPOLOGY] == p.DUMP_SERIES else s.EXCHANGER_CELLS - 1
    return 0.5 * (plant[s.EXCHANGER_GLYCOL_FIRST + cell] + plant[s.EXCHANGER_WATER_FIRST + cell])


@kernel
def read_sensors(plant, values, out_c):
    """Write the pockets to `out_c` (C, one per sensor). Args: as `places_c`. Source: `follow`."""
    for sensor in range(s.SENSOR_COUNT):
        out_c[sensor] = plant[s.SENSORS_FIRST + sensor]
    for sensor in range(air.POCKETS):
        out_c[s.SENSOR_COUNT + sensor] = plant[s.AIR_FIRST + air.POCKETS_FIRST + sensor]


@kernel
def plate_coldest_c(plant, values):
    """Return the temperature (C) of the coldest plate in the exchanger. Args: as `places_c`.

    Source: ours; a plate lies halfway between the fluids on its sides (equal films), in each cell
    and at the inlet, where the glycol meets the water of the inlet cell. A pumped flow reaches the
    port's plates at its inlet temperature. A trickle has taken on that of the resting layers around
    the port, whose conductance is large beside its capacity flow.
    """
    flow_l_per_s = plant[s.EXCHANGER_FLOW_L_PER_S]
    inlet_cell = 0 if flow_l_per_s >= 0.0 else s.EXCHANGER_CELLS - 1
    flow_w_per_k = abs(flow_l_per_s) * values[p.GLYCOL_J_PER_L_K]
    spread_w_per_k = flow_w_per_k + PORT_SHARE * values[p.EXCHANGER_REST_W_PER_K]
    # At rest nothing reaches the port, even where the layers do not conduct at all.
    reach = flow_w_per_k / spread_w_per_k if spread_w_per_k > 0.0 else 0.0
    resting_c = plant[s.EXCHANGER_GLYCOL_FIRST + inlet_cell]
    port_c = resting_c + reach * (plant[s.EXCHANGER_INLET_C] - resting_c)
    coldest_c = 0.5 * (port_c + plant[s.EXCHANGER_WATER_FIRST + inlet_cell])
    for cell in range(s.EXCHANGER_CELLS):
        both_c = plant[s.EXCHANGER_GLYCOL_FIRST + cell] + plant[s.EXCHANGER_WATER_FIRST + cell]
        coldest_c = min(coldest_c, 0.5 * both_c)
    return coldest_c


@kernel
def tank_inlet_c(plant):
    """Return C of the water entering the tank, NaN while none does. Args: `plant`. Source: ours."""
    return plant[s.TANK_PIPE_BACK_FIRST + s.TANK_PIPE_NODES - 1] if plant[s.TANK_FLOW_L_PER_S] > 0.0 else float("nan")


@kernel
def loop_extremes_c(plant, values):
    """Return lowest and highest (C, C) of the roof loop's glycol. Args: as `places_c`.

    Source: the nodes of pipes, collector, exchanger and any radiator.
    """
    # One row of the array holds them, the radiator before the exchanger's glycol side.
    first = s.RADIATOR_FIRST if values[p.DUMP_TOPOLOGY] != p.DUMP_NONE else s.EXCHANGER_GLYCOL_FIRST
    low_c, high_c = pipes_extremes_c(plant, values)
    for row, count in ((s.COLLECTOR_FIRST, s.COLLECTOR_NODES), (first, s.EXCHANGER_WATER_FIRST - first)):
        coldest_c, hottest_c = extremes_c(plant, row, count)
        low_c, high_c = min(low_c, coldest_c), max(high_c, hottest_c)
    return low_c, high_c
