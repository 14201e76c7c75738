"""The table of plant values with their ranges, and the array that the compiled model reads.

Each row is declared once; its index constant is the name in capitals, those of the sensors' lags
are SENSOR_LAGS. `CP` in a row's meaning marks common practice of the trade, not a standard; "ours"
marks a free choice for the invented wash-house. After the rows the array holds derived values (node
capacities, port nodes, the viscosity table), computed at set-up. A fault may change values marked
"live" during a run; flows may only be lowered, because the step length suits the first one. For all
others make a new array.
"""

import numpy as np
from twinloop.control.state import SENSOR_NAMES, WATER_SENSORS

from . import fluids
from .air import parameters as air
from .flow import absorber, loop, plates, pump, tables
from .flow.lookup import COLUMNS, ROOT_STEP
from .flow.lookup import SIZE as FLOW_TABLE_SIZE
from .state import COLLECTOR_NODES, EXCHANGER_CELLS, PIPE_ROOM, RADIATOR_NODES, TANK_PIPE_NODES
from .table import Parameter, filled

DUMP_BYPASS, DUMP_SERIES, DUMP_NONE = 0, 1, 2


TABLE: list[Parameter] = []


def _row(name, unit, default, low, high, meaning, whole=False):
    TABLE.append(Parameter(name, unit, default, low, high, meaning, whole))
    return len(TABLE) - 1


# Collector: generic selective flat plate (CP), efficiency after ISO 9806 on gross area and mean
# fluid temperature.
COLLECTOR_AREA_M2 = _row("collector_area_m2", "m2", 6.0, 0.0, 200.0, "gross area (ours)")
COLLECTOR_ETA0 = _row("collector_eta0", "1", 0.78, 0.0, 1.0, "efficiency without loss (CP)")
COLLECTOR_A1_W_PER_M2_K = _row("collector_a1_w_per_m2_k", "W/m2 K", 3.5, 0.0, 20.0, "linear loss (CP)")
COLLECTOR_A2_W_PER_M2_K2 = _row("collector_a2_w_per_m2_k2", "W/m2 K2", 0.015, 0.0, 0.2, "quadratic loss (CP)")
COLLECTOR_B0 = _row("collector_b0", "1", 0.10, 0.0, 0.5, "incidence modifier coefficient (ASHRAE 93 form, CP)")
COLLECTOR_HEAT_J_PER_M2_K = _row(
    "collector_heat_j_per_m2_k", "J/m2 K", 9000.0, 1000.0, 60000.0, "capacity of the dry absorber and its cover (CP)"
)
COLLECTOR_CONTENT_L = _row("collector_content_l", "L", 3.0, 0.2, 200.0, "glycol in the collectors (CP 0.5 L/m2)")
COLLECTOR_SKY_W_PER_M2_K = _row(
    "collector_sky_w_per_m2_k", "W/m2 K", 0.7, 0.0, 5.0, "night loss for a kelvin of sky depression (ours, see collector)"
)
COLLECTOR_SLOPE_DEG = _row("collector_slope_deg", "deg", 40.0, 0.0, 90.0, "slope from horizontal (ours)")
COLLECTOR_AZIMUTH_DEG = _row("collector_azimuth_deg", "deg", 180.0, 0.0, 360.0, "bearing, 180 is south (ours)")
COLLECTOR_RISE_M = _row("collector_rise_m", "m", 1.3, 0.0, 10.0, "height between its lower and upper connection (ours)")

# Roof loop.
GLYCOL_MASS_PERCENT = _row("glycol_mass_percent", "% by mass", 40.0, 0.0, 60.0, "propylene glycol (CP), 0 is water")
COLLECTOR_FLOW_L_PER_MIN = _row(
    "collector_flow_l_per_min", "L/min", 4.5, 0.2, 100.0, "live; pumped flow at 50 C (CP 0.75 L/min m2)"
)
LOOP_LAMINAR_SHARE = _row(
    "loop_laminar_share", "1", 0.3, 0.0, 0.9, "part of the loop's pressure drop that follows viscosity (ours)"
)
LOOP_HEAD_KPA = _row("loop_head_kpa", "kPa", 30.0, 1.0, 200.0, "pump pressure at the pumped flow (CP)")
LOOP_PRESSURE_KPA = _row("loop_pressure_kpa", "kPa gauge", 250.0, 0.0, 1000.0, "filling pressure at the station (CP)")
COLLECTOR_HEIGHT_M = _row("collector_height_m", "m", 5.0, 0.0, 40.0, "collector above the station (ours)")
ALTITUDE_M = _row("altitude_m", "m", 270.0, -400.0, 4500.0, "station above sea level (Greensboro's, TMY3 header)")
SUPPLY_OUTDOOR_M = _row("supply_outdoor_m", "m", 6.0, 0.5, 100.0, "pipe collector to wall (ours)")
SUPPLY_INDOOR_M = _row("supply_indoor_m", "m", 5.0, 0.5, 100.0, "pipe wall to station (ours)")
RETURN_INDOOR_M = _row("return_indoor_m", "m", 5.0, 0.5, 100.0, "pipe station to wall (ours)")
RETURN_OUTDOOR_M = _row("return_outdoor_m", "m", 6.0, 0.5, 100.0, "pipe wall to collector (ours)")
PIPE_CONTENT_L_PER_M = _row("pipe_content_l_per_m", "L/m", 0.133, 0.02, 5.0, "15 x 1 mm copper (geometry)")
PIPE_WALL_J_PER_M_K = _row("pipe_wall_j_per_m_k", "J/m K", 150.0, 0.0, 5000.0, "15 x 1 mm copper, 385 J/kg K (handbook)")
PIPE_OUTDOOR_LOSS_W_PER_M_K = _row("pipe_outdoor_loss_w_per_m_k", "W/m K", 0.25, 0.0, 5.0, "19 mm of rubber foam, weathered (CP)")
PIPE_INDOOR_LOSS_W_PER_M_K = _row("pipe_indoor_loss_w_per_m_k", "W/m K", 0.20, 0.0, 5.0, "13 mm of rubber foam (CP)")
ROOF_CHECK_VALVE_OPENING_PA = _row(
    "roof_check_valve_opening_pa", "Pa", 2000.0, 0.0, 20000.0, "opening pressure of the gravity brake (CP 0.2 m of water)"
)
ROOF_CHECK_VALVE_LEAK = _row(
    "roof_check_valve_leak", "1", 0.0, 0.0, 1.0, "live; flow of the shut valve against an open pipe, 0 is tight"
)
COLLECTOR_PUMP_W = _row("collector_pump_w", "W", 40.0, 0.0, 1000.0, "electrical power (CP)")
PUMP_HEAT_SHARE = _row("pump_heat_share", "1", 0.5, 0.0, 1.0, "part of both pumps' power that warms the fluid (ours)")

# Dump valve and radiator.
DUMP_TOPOLOGY = _row("dump_topology", "0 bypass, 1 series, 2 none", 0.0, 0.0, 2.0, "where the radiator sits", True)
DUMP_TRAVEL_S = _row("dump_travel_s", "s", 120.0, 1.0, 600.0, "valve's way from end to end (CP)")
DUMP_CROSSOVER_OPEN = _row("dump_crossover_open", "0 or 1", 0.0, 0.0, 1.0, "1: flow splits on the way, 0: none", True)
DUMP_SEAT_LEAK = _row("dump_seat_leak", "1", 0.0, 0.0, 0.5, "live; part of the flow that takes the shut way")
RADIATOR_CONTENT_L = _row("radiator_content_l", "L", 1.5, 0.2, 50.0, "glycol outdoors (ours)")
RADIATOR_METAL_J_PER_K = _row("radiator_metal_j_per_k", "J/K", 3000.0, 0.0, 1e5, "finned copper and steel (ours)")
RADIATOR_FLOW_W_PER_K = _row("radiator_flow_w_per_k", "W/K", 120.0, 0.0, 2000.0, "live; to ambient, glycol flowing (ours)")
RADIATOR_REST_W_PER_K = _row("radiator_rest_w_per_k", "W/K", 30.0, 0.0, 2000.0, "to ambient, glycol at rest (ours)")
RADIATOR_WIND_SHARE_S_PER_M = _row(
    "radiator_wind_share_s_per_m", "s/m", 0.0, 0.0, 1.0, "gain of both for a m/s of wind; 0 is the safe side"
)

# Exchanger.
EXCHANGER_UA_W_PER_K = _row("exchanger_ua_w_per_k", "W/K", 800.0, 1.0, 20000.0, "live; both sides flowing (ours)")
EXCHANGER_REST_W_PER_K = _row(
    "exchanger_rest_w_per_k", "W/K", 200.0, 0.0, 20000.0, "glycol to water through standing layers (k A / gap, ours)"
)
EXCHANGER_ALONG_W_PER_K = _row(
    "exchanger_along_w_per_k", "W/K", 0.1, 0.0, 100.0, "end to end along plates and layers (4 kg of steel 0.3 m long, 15 W/m K)"
)
EXCHANGER_GLYCOL_L = _row("exchanger_glycol_l", "L", 0.6, 0.05, 20.0, "glycol content (CP for 20 to 30 small plates)")
EXCHANGER_WATER_L = _row("exchanger_water_l", "L", 0.6, 0.05, 20.0, "water content (same)")
EXCHANGER_PLATE_J_PER_K = _row("exchanger_plate_j_per_k", "J/K", 2000.0, 0.0, 1e5, "4 kg of steel at 500 J/kg K (handbook)")
EXCHANGER_SHELL_LOSS_W_PER_K = _row("exchanger_shell_loss_w_per_k", "W/K", 1.0, 0.0, 50.0, "insulated, to the room (ours)")

# Tank loop.
TANK_FLOW_L_PER_MIN = _row("tank_flow_l_per_min", "L/min", 4.0, 0.2, 100.0, "live; pumped flow (ours)")
TANK_LOOP_HEAD_KPA = _row("tank_loop_head_kpa", "kPa", 10.0, 1.0, 200.0, "pump pressure at the pumped flow (CP)")
TANK_PUMP_W = _row("tank_pump_w", "W", 25.0, 0.0, 1000.0, "electrical power (CP)")
TANK_PIPE_M = _row("tank_pipe_m", "m", 2.0, 0.3, 50.0, "each way, indoors (ours)")
TANK_PIPE_CONTENT_L_PER_M = _row("tank_pipe_content_l_per_m", "L/m", 0.201, 0.02, 5.0, "18 x 1 mm copper (geometry)")
TANK_PIPE_WALL_J_PER_M_K = _row("tank_pipe_wall_j_per_m_k", "J/m K", 183.0, 0.0, 5000.0, "18 x 1 mm copper (handbook)")
TANK_PIPE_LOSS_W_PER_M_K = _row("tank_pipe_loss_w_per_m_k", "W/m K", 0.20, 0.0, 5.0, "13 mm of rubber foam (CP)")
TANK_CHECK_VALVE_OPENING_PA = _row(
    "tank_check_valve_opening_pa", "Pa", 2000.0, 0.0, 20000.0, "opening pressure of the check valve (CP)"
)
TANK_CHECK_VALVE_LEAK = _row("tank_check_valve_leak", "1", 0.0, 0.0, 1.0, "live; as the roof's")

# Tank.
TANK_VOLUME_L = _row("tank_volume_l", "L", 400.0, 20.0, 20000.0, "water content (ours)")
TANK_HEIGHT_M = _row("tank_height_m", "m", 1.6, 0.3, 10.0, "inner height (ours)")
TANK_UA_W_PER_K = _row("tank_ua_w_per_k", "W/K", 1.9, 0.0, 100.0, "loss to the room (between classes B and C of 812/2013)")
TANK_CONDUCTION_W_PER_M_K = _row("tank_conduction_w_per_m_k", "W/m K", 1.0, 0.0, 20.0, "water 0.63 plus the wall's share (CP)")
TANK_LOW_PORT_M = _row("tank_low_port_m", "m", 0.15, 0.0, 10.0, "outlet to the exchanger, above the bottom (ours)")
TANK_UPPER_PORT_M = _row("tank_upper_port_m", "m", 1.20, 0.0, 10.0, "inlet from the exchanger (ours)")
TANK_LOW_SENSOR_M = _row("tank_low_sensor_m", "m", 0.25, 0.0, 10.0, "pocket of tank_low (ours)")
TANK_HIGH_SENSOR_M = _row("tank_high_sensor_m", "m", 1.25, 0.0, 10.0, "pocket of tank_high (ours)")
TANK_INLET_MIXING = _row(
    "tank_inlet_mixing", "1", 0.3, 0.0, 2.0, "litres that a litre of inlet jet swaps with the next layer (ours)"
)
TANK_NODES = _row("tank_nodes", "1", 16.0, 2.0, 64.0, "layers of equal height", True)

# Taps.
MIXING_VALVE_C = _row("mixing_valve_c", "C", 49.0, 30.0, 65.0, "set point, 120 F (Chicago Plumbing Code 18-29-424)")
MIXING_VALVE_ERROR_K = _row("mixing_valve_error_k", "K", 0.0, -10.0, 10.0, "live; what it really does above its set point")
HEATER_SET_C = _row("heater_set_c", "C", 45.0, 30.0, 60.0, "delivery temperature at the tap (ours)")
HEATER_POWER_MAX_W = _row("heater_power_max_w", "W", 24000.0, 0.0, 100000.0, "heat to the water (CP)")
HEATER_POWER_MIN_W = _row("heater_power_min_w", "W", 3500.0, 0.0, 100000.0, "minimum fire, heat to the water (CP)")
HEATER_FLOW_MIN_L_PER_MIN = _row("heater_flow_min_l_per_min", "L/min", 2.0, 0.0, 20.0, "no fire below (CP)")
HEATER_DELAY_S = _row("heater_delay_s", "s", 0.0, 0.0, 60.0, "from flow to fire (ours; real ones 3 to 10 s, CP)")
HEATER_EFFICIENCY = _row("heater_efficiency", "1", 0.85, 0.1, 1.1, "heat to the water against fuel energy (CP)")
TAP_REST_S = _row("tap_rest_s", "s", 900.0, 1.0, 36000.0, "cooling time of the pipe at the tap sensor (ours)")

# Surroundings.
ROOM_C = _row("room_c", "C", 18.0, -10.0, 45.0, "room of tank and station (ours)")
COLD_MAIN_MEAN_C = _row("cold_main_mean_c", "C", 14.4, 1.0, 35.0, "yearly mean, the mean of Greensboro's air (TMY3)")
COLD_MAIN_SWING_K = _row("cold_main_swing_k", "K", 6.0, 0.0, 20.0, "half of summer minus winter (CP)")
COLD_MAIN_WARMEST_DAY = _row("cold_main_warmest_day", "day of year", 227.0, 1.0, 366.0, "a month behind the air (CP)", True)

PIPE_NODES = _row("pipe_nodes", "1", 3.0, 1.0, PIPE_ROOM, "nodes of each of the loop's four pipes; 12 keep a cold slug sharp", True)

# Sensor pockets: first-order lag in still or moving fluid (CP: bare element 5 s, pocket with paste
# 15 to 30 s).
# One per sensor of the water side, in the firmware's order.
_LAGS_S = {"collector": 20.0, "loop_supply": 20.0, "loop_return": 20.0, "outdoor": 120.0, "tap": 15.0}
SENSOR_LAGS = tuple(
    _row(f"{name}_sensor_s", "s", _LAGS_S.get(name, 30.0), 0.0, 3600.0 if name == "outdoor" else 600.0, f"lag of {name}")
    for name in SENSOR_NAMES[:WATER_SENSORS]
)

# How figures follow flow; the flows, UA, pressures and powers above are those at full speed.
FLOW_PHYSICS = _row(
    "flow_physics", "0 or 1", 1.0, 0.0, 1.0, "1: films and pumps follow flow; 0: one UA, F' and power, for closed forms", True
)
COLLECTOR_PUMP_SPEED = _row("collector_pump_speed", "1", 1.0, 0.1, 1.0, "live; speed of the running pump against full speed")
TANK_PUMP_SPEED = _row("tank_pump_speed", "1", 1.0, 0.1, 1.0, "live; same")
PUMP_RUN_OUT_L_PER_MIN = _row(
    "pump_run_out_l_per_min", "L/min", 50.0, 5.0, 500.0, "flow of either pump against no pressure (CP 3 m3/h)"
)
PUMP_STANDING_SHARE = _row(
    "pump_standing_share", "1", 0.1, 0.0, 1.0, "part of a pump's power that speed does not change (CP; 0.5 with a speed switch)"
)
ABSORBER_TUBE_M = _row("absorber_tube_m", "m", 2.0, 0.5, 200.0, "tube of 8 mm from inlet to outlet (CP harp 2, meander of 2 m2 17)")

# Numerics.
PLANT_STEP_S = _row("plant_step_s", "s", 2.5, 0.05, 10.0, "longest inner step; shorter ones follow from flow and content")

PARAMETER_COUNT = len(TABLE)

# Derived values, in the same array after the table.
(
    GLYCOL_J_PER_L_K,
    WATER_J_PER_L_K,
    GLYCOL_FREEZING_C,
    BOILING_C,
    GLYCOL_BUOYANCY_PA_PER_M_K,
    WATER_BUOYANCY_PA_PER_M_K,
    RETURN_INDOOR_NODE_J_PER_K,
    RETURN_OUTDOOR_NODE_J_PER_K,
    COLLECTOR_NODE_J_PER_K,
    SUPPLY_OUTDOOR_NODE_J_PER_K,
    SUPPLY_INDOOR_NODE_J_PER_K,
    RADIATOR_NODE_J_PER_K,
    EXCHANGER_GLYCOL_CELL_J_PER_K,
    EXCHANGER_WATER_CELL_J_PER_K,
    TANK_PIPE_NODE_J_PER_K,
    TANK_NODE_L,
    TANK_NODE_W_PER_K,
    TANK_CONDUCTION_W_PER_K,
    TANK_LOW_PORT_NODE,
    TANK_UPPER_PORT_NODE,
    TANK_LOW_SENSOR_NODE,
    TANK_HIGH_SENSOR_NODE,
    TANK_COLUMN_M,
    EXCHANGER_CELL_TO_CELL_W_PER_K,  # of one side
    FLOW_STEP_S,
    ROOF_FLOW_SHARE_S_PER_L,  # against the nominal flow, for one in L/s
    TANK_FLOW_SHARE_S_PER_L,
    ROOF_FLOW_PLACE,  # the same as the square of a place in the tables
    GLYCOL_FILM_PLACE,  # the same for a flow in W/K
    WATER_FILM_PLACE,
    NOMINAL_FILMS_K_PER_W,  # both films of the exchanger; 0 without flow_physics
    ROOF_DROOP,
    ROOF_VALVE_SHARE,
    ROOF_POWER_SLOPE,
    TANK_DROOP,
    TANK_VALVE_SHARE,
    TANK_POWER_SLOPE,
    VISCOSITY_FIRST,
) = range(PARAMETER_COUNT, PARAMETER_COUNT + 38)
GLYCOL_FILM_FIRST = VISCOSITY_FIRST + fluids.VISCOSITY_COUNT
WATER_FILM_FIRST = GLYCOL_FILM_FIRST + FLOW_TABLE_SIZE
ABSORBER_FIRST = WATER_FILM_FIRST + FLOW_TABLE_SIZE
ROOF_FLOW_FIRST = ABSORBER_FIRST + FLOW_TABLE_SIZE
# The air heater's values follow, in the order of its own table.
AIR_FIRST = ROOF_FLOW_FIRST + FLOW_TABLE_SIZE
VALUES_COUNT = AIR_FIRST + air.VALUES_COUNT
# Every row of the two tables with its place in the array.
ROWS = (*((row, index) for index, row in enumerate(TABLE)), *((row, AIR_FIRST + index) for index, row in enumerate(air.TABLE)))

# A shorter step would make a year take hours; such a plant has a mistake in a flow or a content.
SHORTEST_STEP_S = 0.05
# A step's flow may fill a node up to this share, so that rounding can never empty it.
FILL_SHARE = 0.95
# Below this pressure a collector boils in any sun (ours).
LOWEST_COLLECTOR_PRESSURE_PA = 20000.0


def plant_values(overrides):
    """Return the plant's values, checked one by one and together, with all derived values.

    Args: `overrides` (dict of parameter name to number; names left out keep their default).
    Returns: float64 array of `VALUES_COUNT`: the table in its order, then the derived values.
    Raises: ValueError with one line that says which value, what it was and what is allowed.
    Source: table above; equations in the modules of the components.
    """
    values = np.zeros(VALUES_COUNT)
    numbers = filled([row for row, _ in ROWS], overrides)
    values[:PARAMETER_COUNT] = numbers[:PARAMETER_COUNT]
    values[AIR_FIRST:] = air.with_derived(numbers[PARAMETER_COUNT:])
    _check_together(values)
    _derive(values)
    _check_flow_step(values)
    return values


def _refuse(values, index, why):
    row = TABLE[index]
    raise ValueError(f"plant value {row.name} = {values[index]:g}: {why}")


def _check_together(values):
    height_m = values[TANK_HEIGHT_M]
    for index in (TANK_UPPER_PORT_M, TANK_LOW_SENSOR_M, TANK_HIGH_SENSOR_M):
        if values[index] > height_m:
            _refuse(values, index, f"allowed 0 to tank_height_m = {height_m:g} m")
    if not values[TANK_LOW_PORT_M] < values[TANK_UPPER_PORT_M]:
        _refuse(values, TANK_LOW_PORT_M, f"allowed only below tank_upper_port_m = {values[TANK_UPPER_PORT_M]:g} m")
    if values[TANK_LOW_SENSOR_M] > values[TANK_HIGH_SENSOR_M]:
        _refuse(values, TANK_LOW_SENSOR_M, f"allowed up to tank_high_sensor_m = {values[TANK_HIGH_SENSOR_M]:g} m")
    if values[HEATER_POWER_MIN_W] > values[HEATER_POWER_MAX_W]:
        _refuse(values, HEATER_POWER_MIN_W, f"allowed up to heater_power_max_w = {values[HEATER_POWER_MAX_W]:g} W")
    if values[RADIATOR_REST_W_PER_K] > values[RADIATOR_FLOW_W_PER_K]:
        _refuse(values, RADIATOR_REST_W_PER_K, f"allowed up to radiator_flow_w_per_k = {values[RADIATOR_FLOW_W_PER_K]:g}")
    if collector_pressure_pa(values) < LOWEST_COLLECTOR_PRESSURE_PA:
        _refuse(values, LOOP_PRESSURE_KPA, "too little to keep the collector at collector_height_m above 20 kPa absolute")


def collector_pressure_pa(values):
    """Return the absolute pressure in the collector of a filled, resting loop.

    Args: `values` (float64 array, table part filled). Returns: Pa absolute. Source: hydrostatics
    with water's density of 1000 kg/m3, an error of 4 % of the column.
    """
    column_pa = 1000.0 * fluids.STANDARD_GRAVITY_M_PER_S2 * values[COLLECTOR_HEIGHT_M]
    return fluids.standard_pressure_pa(values[ALTITUDE_M]) + 1000.0 * values[LOOP_PRESSURE_KPA] - column_pa


def _derive(values):
    percent = float(values[GLYCOL_MASS_PERCENT])
    values[GLYCOL_J_PER_L_K] = fluids.glycol_j_per_l_k(percent)
    values[WATER_J_PER_L_K] = fluids.water_j_per_l_k()
    values[GLYCOL_FREEZING_C] = fluids.glycol_freezing_c(percent)
    values[BOILING_C] = fluids.boiling_point_c(collector_pressure_pa(values), percent)
    values[GLYCOL_BUOYANCY_PA_PER_M_K] = fluids.buoyancy_pa_per_m_k(percent)
    values[WATER_BUOYANCY_PA_PER_M_K] = fluids.buoyancy_pa_per_m_k(0.0)
    values[VISCOSITY_FIRST:GLYCOL_FILM_FIRST] = fluids.viscosity_ratios(percent)
    _derive_nodes(values)
    _derive_tank(values)
    values[ROOF_FLOW_SHARE_S_PER_L] = 60.0 / values[COLLECTOR_FLOW_L_PER_MIN]
    values[TANK_FLOW_SHARE_S_PER_L] = 60.0 / values[TANK_FLOW_L_PER_MIN]
    if values[FLOW_PHYSICS]:
        _derive_films(values, percent)
        _derive_pumps(values, percent)
    values[FLOW_STEP_S] = _flow_step_s(values)


def _derive_nodes(values):
    glycol, water = values[GLYCOL_J_PER_L_K], values[WATER_J_PER_L_K]
    metre = (glycol * values[PIPE_CONTENT_L_PER_M] + values[PIPE_WALL_J_PER_M_K]) / values[PIPE_NODES]
    values[RETURN_INDOOR_NODE_J_PER_K] = metre * values[RETURN_INDOOR_M]
    values[RETURN_OUTDOOR_NODE_J_PER_K] = metre * values[RETURN_OUTDOOR_M]
    values[SUPPLY_OUTDOOR_NODE_J_PER_K] = metre * values[SUPPLY_OUTDOOR_M]
    values[SUPPLY_INDOOR_NODE_J_PER_K] = metre * values[SUPPLY_INDOOR_M]
    dry = values[COLLECTOR_AREA_M2] * values[COLLECTOR_HEAT_J_PER_M2_K]
    values[COLLECTOR_NODE_J_PER_K] = (dry + glycol * values[COLLECTOR_CONTENT_L]) / COLLECTOR_NODES
    radiator = glycol * values[RADIATOR_CONTENT_L] + values[RADIATOR_METAL_J_PER_K]
    values[RADIATOR_NODE_J_PER_K] = radiator / RADIATOR_NODES
    half_plate = values[EXCHANGER_PLATE_J_PER_K] / 2.0
    values[EXCHANGER_GLYCOL_CELL_J_PER_K] = (glycol * values[EXCHANGER_GLYCOL_L] + half_plate) / EXCHANGER_CELLS
    values[EXCHANGER_WATER_CELL_J_PER_K] = (water * values[EXCHANGER_WATER_L] + half_plate) / EXCHANGER_CELLS
    # Half on either side, over one cell's length.
    values[EXCHANGER_CELL_TO_CELL_W_PER_K] = values[EXCHANGER_ALONG_W_PER_K] / 2.0 * EXCHANGER_CELLS
    tank_metre = water * values[TANK_PIPE_CONTENT_L_PER_M] + values[TANK_PIPE_WALL_J_PER_M_K]
    values[TANK_PIPE_NODE_J_PER_K] = tank_metre * values[TANK_PIPE_M] / TANK_PIPE_NODES


def _derive_tank(values):
    count, height_m = values[TANK_NODES], values[TANK_HEIGHT_M]
    values[TANK_NODE_L] = values[TANK_VOLUME_L] / count
    values[TANK_NODE_W_PER_K] = values[TANK_UA_W_PER_K] / count
    section_m2 = values[TANK_VOLUME_L] / 1000.0 / height_m
    values[TANK_CONDUCTION_W_PER_K] = values[TANK_CONDUCTION_W_PER_M_K] * section_m2 * count / height_m
    places = (
        (TANK_LOW_PORT_NODE, TANK_LOW_PORT_M),
        (TANK_UPPER_PORT_NODE, TANK_UPPER_PORT_M),
        (TANK_LOW_SENSOR_NODE, TANK_LOW_SENSOR_M),
        (TANK_HIGH_SENSOR_NODE, TANK_HIGH_SENSOR_M),
    )
    for node_index, height_index in places:
        values[node_index] = min(int(values[height_index] / height_m * count), count - 1)
    values[TANK_COLUMN_M] = values[TANK_UPPER_PORT_M] - values[TANK_LOW_PORT_M]


def _derive_films(values, percent):
    flows = values[COLLECTOR_FLOW_L_PER_MIN], values[TANK_FLOW_L_PER_MIN]
    contents_l = values[EXCHANGER_GLYCOL_L], values[EXCHANGER_WATER_L]
    exchanger = plates.fitted(values[EXCHANGER_UA_W_PER_K], percent, flows, contents_l)
    rest = min(values[EXCHANGER_REST_W_PER_K], values[EXCHANGER_UA_W_PER_K])
    values[GLYCOL_FILM_FIRST:WATER_FILM_FIRST] = tables.film_table(exchanger, False, rest)
    values[WATER_FILM_FIRST:ABSORBER_FIRST] = tables.film_table(exchanger, True, rest)
    values[NOMINAL_FILMS_K_PER_W] = sum(1.0 / exchanger.nominal_w_per_k(water) for water in (False, True))
    area_m2 = max(values[COLLECTOR_AREA_M2], 0.1)
    values[ABSORBER_FIRST:ROOF_FLOW_FIRST] = tables.absorber_table(area_m2, values[ABSORBER_TUBE_M], percent, flows[0])
    values[ROOF_FLOW_PLACE] = values[ROOF_FLOW_SHARE_S_PER_L] / ROOT_STEP**2
    values[GLYCOL_FILM_PLACE] = values[ROOF_FLOW_PLACE] / values[GLYCOL_J_PER_L_K]
    values[WATER_FILM_PLACE] = values[TANK_FLOW_SHARE_S_PER_L] / ROOT_STEP**2 / values[WATER_J_PER_L_K]


def _derive_pumps(values, percent):
    run_out = values[PUMP_RUN_OUT_L_PER_MIN]
    for flow, head, opening, first in (
        (COLLECTOR_FLOW_L_PER_MIN, LOOP_HEAD_KPA, ROOF_CHECK_VALVE_OPENING_PA, ROOF_DROOP),
        (TANK_FLOW_L_PER_MIN, TANK_LOOP_HEAD_KPA, TANK_CHECK_VALVE_OPENING_PA, TANK_DROOP),
    ):
        curve = pump.pump_curve(values[flow], run_out, values[head], values[opening])
        values[first : first + 3] = curve.droop, curve.valve_share, curve.power_slope
    roof_curve = pump.PumpCurve(*values[ROOF_DROOP : ROOF_DROOP + 3])
    values[ROOF_FLOW_FIRST:AIR_FIRST] = tables.flow_table(roof_loop(values), roof_curve, percent, values[COLLECTOR_FLOW_L_PER_MIN])


def roof_loop(values):
    """Return what the glycol passes on one round (flow.loop.Loop). Args: `values` (float64 array).

    Source: the plant's pipes; their bore follows from the content.
    """
    pipe_m = sum(values[index] for index in (SUPPLY_OUTDOOR_M, SUPPLY_INDOOR_M, RETURN_INDOOR_M, RETURN_OUTDOOR_M))
    bore_m = np.sqrt(4.0 / np.pi * values[PIPE_CONTENT_L_PER_M] / 1000.0)
    tubes = absorber.Absorber(max(values[COLLECTOR_AREA_M2], 0.1), values[ABSORBER_TUBE_M])
    return loop.Loop(pipe_m, bore_m, tubes, values[EXCHANGER_GLYCOL_L])


def _flow_step_s(values):
    # A pumped loop is fastest without any viscous drag (see pumps.flow_share), or where its parts
    # say so at full speed.
    full = ROOF_FLOW_FIRST + int(1.0 / ROOT_STEP) * COLUMNS
    fastest = max(1.0 / np.sqrt(1.0 - values[LOOP_LAMINAR_SHARE]), values[full : full + COLUMNS].max())
    roof_w_per_k = values[GLYCOL_J_PER_L_K] * values[COLLECTOR_FLOW_L_PER_MIN] / 60.0 * fastest
    tank_w_per_k = values[WATER_J_PER_L_K] * values[TANK_FLOW_L_PER_MIN] / 60.0
    roof_nodes = values[RETURN_INDOOR_NODE_J_PER_K : EXCHANGER_GLYCOL_CELL_J_PER_K + 1]
    tank_nodes = values[EXCHANGER_WATER_CELL_J_PER_K : TANK_PIPE_NODE_J_PER_K + 1]
    return FILL_SHARE * min(roof_nodes.min() / roof_w_per_k, tank_nodes.min() / tank_w_per_k)


def _check_flow_step(values):
    if values[FLOW_STEP_S] < SHORTEST_STEP_S:
        index = COLLECTOR_FLOW_L_PER_MIN
        if values[TANK_FLOW_L_PER_MIN] > values[COLLECTOR_FLOW_L_PER_MIN]:
            index = TANK_FLOW_L_PER_MIN
        _refuse(values, index, "too fast for the smallest content in its loop, which it fills in less than 0.05 s")
