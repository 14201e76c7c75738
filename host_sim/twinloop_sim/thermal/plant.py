"""The whole station, one control step at a time: the components, joined by their flows.

Within an inner step all transport and exchange starts from the temperatures at its beginning, and
each exchange is booked on both sides at once. So the heat balance closes to rounding.
"""

from math import sqrt

from twinloop.control import state as fw

from . import parameters as p
from . import state as s
from .air import parameters as air
from .air.channel import advance_air
from .buoyancy import natural_flow_share
from .collector import boils, shine
from .exchanger import exchange
from .flow.lookup import ROOT_STEP, lookup
from .jit import kernel
from .pipe import carry, lose, pipes_mean_c, station_inlet_c
from .pumps import drive_share, flow_share, interpolate_viscosity, pump_heat_j, pump_w
from .radiator import radiate, radiator_w_per_k
from .rows import behind, extremes_c, mean_c
from .sensors import MINUTE_S, follow_all
from .tank import conduct, mix_inversions, move_water
from .taps import heater_w, hot_share, line_flow_share
from .valve import exchanger_share, move_valve

# Share of the collector in the mean that the loop's viscosity is taken at; the four pipes have the
# rest.
_COLLECTOR_SHARE = 0.25


@kernel
def advance(plant, values, drive, command, flux, dt_s):
    """Move the station by one control step, in place.

    Args: `plant` (float64, from initial_plant), `values` (float64, from plant_values), `drive`
    (float64 of `DRIVE_COUNT`, means over the step), `command` (int array, one per output, 0 or
    1), `flux` (float64 of `FLUX_COUNT`, J, added to), `dt_s` (s, above 0). Returns: nothing.
    Source: the components' equations. Inner steps are equal, at most `plant_step_s`, and short
    enough that no node is filled more than once.
    """
    steps = inner_steps(values, drive, dt_s)
    step_s = dt_s / steps
    roof_l_per_s = roof_flow_l_per_s(plant, values, command)
    plant[s.TANK_FLOW_L_PER_S] = tank_flow_l_per_s(plant, values, command)
    for _ in range(steps):
        share = _valve_and_steam(plant, values, command, roof_l_per_s, step_s)
        drawn_l = _serve_tap(plant, values, drive, flux, step_s)
        _circulate(plant, values, drive, flux, share, drawn_l, step_s)
        _sun_and_losses(plant, values, drive, flux, share, step_s)
    _warm_by_pumps(plant, values, command, flux, dt_s)
    follow_all(plant, values, drive[s.DRIVE_AMBIENT_C], dt_s)
    if values[p.AIR_FIRST + air.AIR_HEATER_BUILT] > 0.0:
        heater, built, sums = behind(plant, s.AIR_FIRST), behind(values, p.AIR_FIRST), behind(flux, s.AIR_FLUX_FIRST)
        advance_air(heater, built, behind(drive, s.AIR_DRIVE_FIRST), float(command[fw.AIR_FAN]), sums, dt_s)


@kernel
def _warm_by_pumps(plant, values, command, flux, dt_s):
    # What the pumps take, and leave in the fluids.
    heat_j, standing, heat_share = 0.0, values[p.PUMP_STANDING_SHARE], values[p.PUMP_HEAT_SHARE]
    if command[fw.COLLECTOR_PUMP]:
        share = abs(plant[s.ROOF_FLOW_L_PER_S]) * values[p.ROOF_FLOW_SHARE_S_PER_L]
        speed, slope = values[p.COLLECTOR_PUMP_SPEED], values[p.ROOF_POWER_SLOPE]
        power_w = pump_w(values[p.COLLECTOR_PUMP_W], standing, speed, slope, share)
        heat_j += pump_heat_j(power_w, heat_share, dt_s)
        plant[s.STATION_OUTLET] += heat_j / values[p.RETURN_INDOOR_NODE_J_PER_K]
        flux[s.FLUX_PUMP_POWER] += power_w * dt_s
    if command[fw.TANK_PUMP]:
        share = abs(plant[s.TANK_FLOW_L_PER_S]) * values[p.TANK_FLOW_SHARE_S_PER_L]
        speed, slope = values[p.TANK_PUMP_SPEED], values[p.TANK_POWER_SLOPE]
        power_w = pump_w(values[p.TANK_PUMP_W], standing, speed, slope, share)
        tank_heat_j = pump_heat_j(power_w, heat_share, dt_s)
        plant[s.TANK_PIPE_OUT_FIRST] += tank_heat_j / values[p.TANK_PIPE_NODE_J_PER_K]
        flux[s.FLUX_PUMP_POWER] += power_w * dt_s
        heat_j += tank_heat_j
    flux[s.FLUX_PUMP_HEAT] += heat_j


@kernel
def inner_steps(values, drive, dt_s):
    """Return the number of inner steps in a control step.

    Args: `values`, `drive`, `dt_s` (as advance). Returns: count, 1 or more. Source: Courant's
    condition on each node, for the tank with draw, charge and jet mixing together.
    """
    longest_s = min(values[p.PLANT_STEP_S], values[p.FLOW_STEP_S])
    through_l_per_s = (drive[s.DRIVE_DRAW_L_PER_MIN] + values[p.TANK_FLOW_L_PER_MIN]) / MINUTE_S
    through_l_per_s *= 1.0 + 2.0 * values[p.TANK_INLET_MIXING]
    longest_s = min(longest_s, p.FILL_SHARE * values[p.TANK_NODE_L] / through_l_per_s)
    # Rounding must not add a step where it divides evenly.
    return max(1, int(dt_s / longest_s + 0.999999))


@kernel
def roof_flow_l_per_s(plant, values, command):
    """Return the glycol flow, L/s, that pump or buoyancy drives unless valve or steam block it.

    Args: as advance. Returns: negative against the pump's direction. Source: flow.loop or
    pumps.flow_share, buoyancy.natural_flow_share; the columns are the two pipes over the roof's
    height, and the collector's own rise against the supply pipe beside it.
    """
    supply_c = pipes_mean_c(plant, values, s.SUPPLY_OUTDOOR_FIRST, s.SUPPLY_INDOOR_FIRST)
    return_c = pipes_mean_c(plant, values, s.RETURN_OUTDOOR_FIRST, s.RETURN_INDOOR_FIRST)
    collector_c = mean_c(plant, s.COLLECTOR_FIRST, s.COLLECTOR_NODES)
    loop_c = 0.5 * (supply_c + return_c) * (1.0 - _COLLECTOR_SHARE) + collector_c * _COLLECTOR_SHARE
    viscosity = interpolate_viscosity(values, p.VISCOSITY_FIRST, loop_c)
    nominal_l_per_s = values[p.COLLECTOR_FLOW_L_PER_MIN] / MINUTE_S
    if command[fw.COLLECTOR_PUMP]:
        drive = drive_share(values[p.COLLECTOR_PUMP_SPEED], values[p.ROOF_DROOP], values[p.ROOF_VALVE_SHARE])
        if values[p.NOMINAL_FILMS_K_PER_W] > 0.0:
            return nominal_l_per_s * lookup(values, p.ROOF_FLOW_FIRST, sqrt(drive) / ROOT_STEP, loop_c)
        return nominal_l_per_s * flow_share(drive, viscosity, values[p.LOOP_LAMINAR_SHARE])
    columns_mk = values[p.COLLECTOR_HEIGHT_M] * (return_c - supply_c)
    columns_mk += values[p.COLLECTOR_RISE_M] * (collector_c - supply_c)
    return nominal_l_per_s * natural_flow_share(
        values[p.GLYCOL_BUOYANCY_PA_PER_M_K] * columns_mk,
        values[p.ROOF_CHECK_VALVE_OPENING_PA],
        values[p.ROOF_CHECK_VALVE_LEAK],
        values[p.LOOP_HEAD_KPA] * 1000.0,
        viscosity,
        values[p.LOOP_LAMINAR_SHARE],
    )


@kernel
def tank_flow_l_per_s(plant, values, command):
    """Return the water flow in the tank loop, L/s, negative against the pump's direction.

    Args: as advance. Source: pumped flow follows the speed alone (water hardly thickens). At rest:
    buoyancy of exchanger and upper pipe against the tank's layers between the ports, with turbulent
    drag.
    """
    nominal_l_per_s = values[p.TANK_FLOW_L_PER_MIN] / MINUTE_S
    if command[fw.TANK_PUMP]:
        return nominal_l_per_s * sqrt(drive_share(values[p.TANK_PUMP_SPEED], values[p.TANK_DROOP], values[p.TANK_VALVE_SHARE]))
    low, high = int(values[p.TANK_LOW_PORT_NODE]), int(values[p.TANK_UPPER_PORT_NODE])
    tank_c = mean_c(plant, s.TANK_FIRST + low, high - low + 1)
    pipe_c = mean_c(plant, s.TANK_PIPE_BACK_FIRST, s.TANK_PIPE_NODES)
    riser_c = 0.5 * (pipe_c + mean_c(plant, s.EXCHANGER_WATER_FIRST, s.EXCHANGER_CELLS))
    return nominal_l_per_s * natural_flow_share(
        values[p.WATER_BUOYANCY_PA_PER_M_K] * values[p.TANK_COLUMN_M] * (riser_c - tank_c),
        values[p.TANK_CHECK_VALVE_OPENING_PA],
        values[p.TANK_CHECK_VALVE_LEAK],
        values[p.TANK_LOOP_HEAD_KPA] * 1000.0,
        1.0,
        0.0,
    )


@kernel
def _valve_and_steam(plant, values, command, roof_l_per_s, step_s):
    # Note what valve and steam leave of the roof flow; returns the share that goes to the
    # exchanger.
    hottest_c = extremes_c(plant, s.COLLECTOR_FIRST, s.COLLECTOR_NODES)[1]
    plant[s.BOILING] = boils(plant[s.BOILING], hottest_c, values[p.BOILING_C])
    if values[p.DUMP_TOPOLOGY] == p.DUMP_NONE:
        share = 1.0
    else:
        powered = command[fw.DUMP_VALVE_POWER]
        plant[s.VALVE_POSITION] = move_valve(plant[s.VALVE_POSITION], powered, values[p.DUMP_TRAVEL_S], step_s)
        crossover_open = values[p.DUMP_CROSSOVER_OPEN]
        share = exchanger_share(plant[s.VALVE_POSITION], values[p.DUMP_SEAT_LEAK], crossover_open)
    if plant[s.BOILING] > 0.0 or share < 0.0:
        plant[s.ROOF_FLOW_L_PER_S] = 0.0
        return 0.0
    plant[s.ROOF_FLOW_L_PER_S] = roof_l_per_s
    return share


@kernel
def _junctions(plant, values, share, forward):
    # Inlet temperatures of exchanger, radiator and roof pipes, before anything moves.
    topology = values[p.DUMP_TOPOLOGY]
    if forward:
        radiator_in_c = station_inlet_c(plant, values)
        radiator_out_c = plant[s.RADIATOR_OUTLET]
        exchanger_out_c = plant[s.EXCHANGER_GLYCOL_OUTLET]
        if topology == p.DUMP_SERIES:
            exchanger_in_c = share * radiator_in_c + (1.0 - share) * radiator_out_c
            return exchanger_in_c, radiator_in_c, exchanger_out_c
        return radiator_in_c, radiator_in_c, share * exchanger_out_c + (1.0 - share) * radiator_out_c
    exchanger_in_c = plant[s.STATION_OUTLET]
    exchanger_out_c = plant[s.EXCHANGER_GLYCOL_FIRST]
    radiator_in_c = exchanger_out_c if topology == p.DUMP_SERIES else exchanger_in_c
    roof_in_c = share * exchanger_out_c + (1.0 - share) * plant[s.RADIATOR_FIRST]
    return exchanger_in_c, radiator_in_c, roof_in_c


@kernel
def _water_ends(plant, values, forward):
    # Inlet temperatures of outgoing pipe, exchanger, back pipe and tank, before anything moves.
    pipe_out_last = s.TANK_PIPE_OUT_FIRST + s.TANK_PIPE_NODES - 1
    pipe_back_last = s.TANK_PIPE_BACK_FIRST + s.TANK_PIPE_NODES - 1
    if forward:
        low_port_c = plant[s.TANK_FIRST + int(values[p.TANK_LOW_PORT_NODE])]
        return low_port_c, plant[pipe_out_last], plant[s.EXCHANGER_WATER_OUTLET], plant[pipe_back_last]
    upper_port_c = plant[s.TANK_FIRST + int(values[p.TANK_UPPER_PORT_NODE])]
    out_in_c, exchanger_in_c = plant[s.EXCHANGER_WATER_INLET], plant[s.TANK_PIPE_BACK_FIRST]
    return out_in_c, exchanger_in_c, upper_port_c, plant[s.TANK_PIPE_OUT_FIRST]


@kernel
def _circulate(plant, values, drive, flux, share, drawn_l, step_s):
    # Move both loops and the tank by one step; they meet in the exchanger.
    roof_l_per_s, tank_l_per_s = plant[s.ROOF_FLOW_L_PER_S], plant[s.TANK_FLOW_L_PER_S]
    exchanger_l_per_s = roof_l_per_s if values[p.DUMP_TOPOLOGY] == p.DUMP_SERIES else roof_l_per_s * share
    plant[s.EXCHANGER_FLOW_L_PER_S] = exchanger_l_per_s
    roof_ends_c = _junctions(plant, values, share, roof_l_per_s >= 0.0)
    plant[s.EXCHANGER_INLET_C] = roof_ends_c[0] if exchanger_l_per_s != 0.0 else plant[s.EXCHANGER_GLYCOL_FIRST]
    water_ends_c = _water_ends(plant, values, tank_l_per_s >= 0.0)
    roof_j = roof_l_per_s * values[p.GLYCOL_J_PER_L_K] * step_s
    water_j = tank_l_per_s * values[p.WATER_J_PER_L_K] * step_s
    glycol_j = exchanger_l_per_s * values[p.GLYCOL_J_PER_L_K] * step_s
    flux[s.FLUX_TO_TANK] += exchange(plant, values, roof_ends_c[0], water_ends_c[1], glycol_j, water_j, step_s)
    between_w_per_k = values[p.EXCHANGER_CELL_TO_CELL_W_PER_K]
    glycol_cell, water_cell = values[p.EXCHANGER_GLYCOL_CELL_J_PER_K], values[p.EXCHANGER_WATER_CELL_J_PER_K]
    conduct(plant, s.EXCHANGER_GLYCOL_FIRST, s.EXCHANGER_CELLS, between_w_per_k, glycol_cell, step_s)
    conduct(plant, s.EXCHANGER_WATER_FIRST, s.EXCHANGER_CELLS, between_w_per_k, water_cell, step_s)
    if roof_j != 0.0:
        _carry_roof(plant, values, roof_ends_c[2], roof_j)
        if share < 1.0:
            radiator_j = roof_j * (1.0 - share)
            carry(plant, s.RADIATOR_FIRST, s.RADIATOR_NODES, roof_ends_c[1], radiator_j, values[p.RADIATOR_NODE_J_PER_K])
    if water_j != 0.0:
        node_j_per_k = values[p.TANK_PIPE_NODE_J_PER_K]
        carry(plant, s.TANK_PIPE_OUT_FIRST, s.TANK_PIPE_NODES, water_ends_c[0], water_j, node_j_per_k)
        carry(plant, s.TANK_PIPE_BACK_FIRST, s.TANK_PIPE_NODES, water_ends_c[2], water_j, node_j_per_k)
    if water_j != 0.0 or drawn_l > 0.0:
        move_water(plant, values, drawn_l, drive[s.DRIVE_COLD_MAIN_C], tank_l_per_s * step_s, water_ends_c[3])


@kernel
def _carry_roof(plant, values, inlet_c, roof_j):
    # Pipes and collector, upstream end first in either direction.
    pipe = int(values[p.PIPE_NODES])
    if roof_j > 0.0:
        c = carry(plant, s.RETURN_INDOOR_FIRST, pipe, inlet_c, roof_j, values[p.RETURN_INDOOR_NODE_J_PER_K])
        c = carry(plant, s.RETURN_OUTDOOR_FIRST, pipe, c, roof_j, values[p.RETURN_OUTDOOR_NODE_J_PER_K])
        c = carry(plant, s.COLLECTOR_FIRST, s.COLLECTOR_NODES, c, roof_j, values[p.COLLECTOR_NODE_J_PER_K])
        c = carry(plant, s.SUPPLY_OUTDOOR_FIRST, pipe, c, roof_j, values[p.SUPPLY_OUTDOOR_NODE_J_PER_K])
        carry(plant, s.SUPPLY_INDOOR_FIRST, pipe, c, roof_j, values[p.SUPPLY_INDOOR_NODE_J_PER_K])
    else:
        c = carry(plant, s.SUPPLY_INDOOR_FIRST, pipe, inlet_c, roof_j, values[p.SUPPLY_INDOOR_NODE_J_PER_K])
        c = carry(plant, s.SUPPLY_OUTDOOR_FIRST, pipe, c, roof_j, values[p.SUPPLY_OUTDOOR_NODE_J_PER_K])
        c = carry(plant, s.COLLECTOR_FIRST, s.COLLECTOR_NODES, c, roof_j, values[p.COLLECTOR_NODE_J_PER_K])
        c = carry(plant, s.RETURN_OUTDOOR_FIRST, pipe, c, roof_j, values[p.RETURN_OUTDOOR_NODE_J_PER_K])
        carry(plant, s.RETURN_INDOOR_FIRST, pipe, c, roof_j, values[p.RETURN_INDOOR_NODE_J_PER_K])


@kernel
def _fire_w(plant, values, wanted_w, flow_l_per_s):
    # What the heater gives to water that flows at this rate and lacks this much.
    return heater_w(
        wanted_w,
        flow_l_per_s * MINUTE_S,
        plant[s.DRAW_S],
        values[p.HEATER_POWER_MIN_W],
        values[p.HEATER_POWER_MAX_W],
        values[p.HEATER_FLOW_MIN_L_PER_MIN],
        values[p.HEATER_DELAY_S],
    )


@kernel
def _serve_tap(plant, values, drive, flux, step_s):
    # Serve the tap for one step; returns the litres drawn from the tank.
    wanted_l_per_s = drive[s.DRIVE_DRAW_L_PER_MIN] / MINUTE_S
    if wanted_l_per_s <= 0.0:
        plant[s.DRAW_S] = 0.0
        plant[s.HEATER_W] = 0.0
        plant[s.TAP_C] += (drive[s.DRIVE_ROOM_C] - plant[s.TAP_C]) * (step_s / (values[p.TAP_REST_S] + step_s))
        return 0.0
    cold_c, delivery_c = drive[s.DRIVE_COLD_MAIN_C], values[p.HEATER_SET_C]
    hot_c = plant[s.TANK_FIRST + int(values[p.TANK_NODES]) - 1]
    share = hot_share(hot_c, cold_c, values[p.MIXING_VALVE_C] + values[p.MIXING_VALVE_ERROR_K])
    line_c = cold_c + share * (hot_c - cold_c)
    line_l_per_s = wanted_l_per_s * line_flow_share(line_c, cold_c, delivery_c)
    line_w_per_k = line_l_per_s * values[p.WATER_J_PER_L_K]
    missing_w = max(0.0, line_w_per_k * (delivery_c - line_c))
    fire_w = _fire_w(plant, values, missing_w, line_l_per_s)
    alone_w = max(0.0, wanted_l_per_s * values[p.WATER_J_PER_L_K] * (delivery_c - cold_c))
    alone_w = _fire_w(plant, values, alone_w, wanted_l_per_s)
    plant[s.DRAW_S] += step_s
    plant[s.HEATER_W] = fire_w
    plant[s.TAP_C] = line_c + fire_w / line_w_per_k
    drawn_w_per_k = line_w_per_k * share
    tap_j = (line_w_per_k * (line_c - cold_c) + fire_w) * step_s
    flux[s.FLUX_USED] += drawn_w_per_k * (hot_c - cold_c) * step_s
    flux[s.FLUX_GAS] += fire_w * step_s / values[p.HEATER_EFFICIENCY]
    flux[s.FLUX_GAS_WITHOUT_STATION] += alone_w * step_s / values[p.HEATER_EFFICIENCY]
    flux[s.FLUX_TAP_HEAT] += tap_j
    flux[s.FLUX_TAP_HEAT_SHORT] += (missing_w - fire_w) * step_s
    flux[s.FLUX_TAP_LITRES] += wanted_l_per_s * step_s
    return line_l_per_s * share * step_s


@kernel
def _sun_and_losses(plant, values, drive, flux, roof_share, step_s):
    # All heat that crosses the station's border, except at the taps.
    ambient_c, room_c = drive[s.DRIVE_AMBIENT_C], drive[s.DRIVE_ROOM_C]
    shine(plant, values, drive, flux, step_s)
    if values[p.DUMP_TOPOLOGY] != p.DUMP_NONE:
        radiator_l_per_min = abs(plant[s.ROOF_FLOW_L_PER_S]) * (1.0 - roof_share) * MINUTE_S
        radiator = radiator_w_per_k(
            radiator_l_per_min / max(values[p.COLLECTOR_FLOW_L_PER_MIN], 1e-6),
            values[p.RADIATOR_FLOW_W_PER_K],
            values[p.RADIATOR_REST_W_PER_K],
            values[p.RADIATOR_WIND_SHARE_S_PER_M],
            drive[s.DRIVE_WIND_M_PER_S],
        )
        node_j_per_k = values[p.RADIATOR_NODE_J_PER_K]
        flux[s.FLUX_DUMPED] += radiate(plant, s.RADIATOR_FIRST, s.RADIATOR_NODES, ambient_c, radiator, node_j_per_k, step_s)
    flux[s.FLUX_PIPE_LOSSES] += _pipe_losses_j(plant, values, ambient_c, room_c, step_s)
    layers = int(values[p.TANK_NODES])
    layer_j_per_k = values[p.TANK_NODE_L] * values[p.WATER_J_PER_L_K]
    flux[s.FLUX_TANK_LOSSES] += lose(plant, s.TANK_FIRST, layers, room_c, values[p.TANK_NODE_W_PER_K], layer_j_per_k, step_s)
    conduct(plant, s.TANK_FIRST, layers, values[p.TANK_CONDUCTION_W_PER_K], layer_j_per_k, step_s)
    mix_inversions(plant, s.TANK_FIRST, layers)


@kernel
def _pipe_losses_j(plant, values, ambient_c, room_c, step_s):
    pipe = int(values[p.PIPE_NODES])
    outdoor, indoor = values[p.PIPE_OUTDOOR_LOSS_W_PER_M_K] / pipe, values[p.PIPE_INDOOR_LOSS_W_PER_M_K] / pipe
    node_w = outdoor * values[p.RETURN_OUTDOOR_M]
    lost_j = lose(plant, s.RETURN_OUTDOOR_FIRST, pipe, ambient_c, node_w, values[p.RETURN_OUTDOOR_NODE_J_PER_K], step_s)
    node_w = outdoor * values[p.SUPPLY_OUTDOOR_M]
    lost_j += lose(plant, s.SUPPLY_OUTDOOR_FIRST, pipe, ambient_c, node_w, values[p.SUPPLY_OUTDOOR_NODE_J_PER_K], step_s)
    node_w = indoor * values[p.SUPPLY_INDOOR_M]
    lost_j += lose(plant, s.SUPPLY_INDOOR_FIRST, pipe, room_c, node_w, values[p.SUPPLY_INDOOR_NODE_J_PER_K], step_s)
    node_w = indoor * values[p.RETURN_INDOOR_M]
    lost_j += lose(plant, s.RETURN_INDOOR_FIRST, pipe, room_c, node_w, values[p.RETURN_INDOOR_NODE_J_PER_K], step_s)
    shell_w = 0.5 * values[p.EXCHANGER_SHELL_LOSS_W_PER_K] / s.EXCHANGER_CELLS
    cell_j = values[p.EXCHANGER_GLYCOL_CELL_J_PER_K]
    lost_j += lose(plant, s.EXCHANGER_GLYCOL_FIRST, s.EXCHANGER_CELLS, room_c, shell_w, cell_j, step_s)
    cell_j = values[p.EXCHANGER_WATER_CELL_J_PER_K]
    lost_j += lose(plant, s.EXCHANGER_WATER_FIRST, s.EXCHANGER_CELLS, room_c, shell_w, cell_j, step_s)
    node_w = values[p.TANK_PIPE_LOSS_W_PER_M_K] * values[p.TANK_PIPE_M] / s.TANK_PIPE_NODES
    # The array holds outgoing and back pipe side by side.
    both = 2 * s.TANK_PIPE_NODES
    return lost_j + lose(plant, s.TANK_PIPE_OUT_FIRST, both, room_c, node_w, values[p.TANK_PIPE_NODE_J_PER_K], step_s)
