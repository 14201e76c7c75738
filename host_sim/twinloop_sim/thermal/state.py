"""Every index of the arrays that enter or leave the thermal model, named once.

A group of nodes has a `_FIRST` and a count, in the direction of pumped flow; the tank counts from
the bottom. Temperatures are in C, flows in L/s, positions and flags between 0 and 1.
"""

from twinloop.control.state import WATER_SENSORS as SENSOR_COUNT

from .air import state as air

# Number of nodes in each part. The tank's is a plant value (`tank_nodes`), so the tank comes last.
# A pipe's is one too (`pipe_nodes`): each pipe has room for the most, and uses its first nodes.
COLLECTOR_NODES = 4
PIPE_ROOM = 12
RADIATOR_NODES = 2
EXCHANGER_CELLS = 3
TANK_PIPE_NODES = 2

# --- plant: the station at one moment ---
(
    VALVE_POSITION,  # 0 radiator, 1 exchanger
    BOILING,  # 1 while steam in the collector blocks the roof loop
    ROOF_FLOW_L_PER_S,  # through the collector, negative when it runs backwards by buoyancy
    EXCHANGER_FLOW_L_PER_S,  # glycol through the exchanger, same sign
    EXCHANGER_INLET_C,  # glycol entering the exchanger; at rest that of its inlet cell
    TANK_FLOW_L_PER_S,  # water through the exchanger, negative when it runs backwards by buoyancy
    DRAW_S,  # how long hot water has been flowing, for the heater's start delay
    TAP_C,  # water in the pipe after the heater
    HEATER_W,  # heat that the heater gives to the water
    SENSORS_FIRST,  # the sensors' pockets
) = range(10)

RETURN_INDOOR_FIRST = SENSORS_FIRST + SENSOR_COUNT
RETURN_OUTDOOR_FIRST = RETURN_INDOOR_FIRST + PIPE_ROOM
COLLECTOR_FIRST = RETURN_OUTDOOR_FIRST + PIPE_ROOM
SUPPLY_OUTDOOR_FIRST = COLLECTOR_FIRST + COLLECTOR_NODES
SUPPLY_INDOOR_FIRST = SUPPLY_OUTDOOR_FIRST + PIPE_ROOM
RADIATOR_FIRST = SUPPLY_INDOOR_FIRST + PIPE_ROOM
EXCHANGER_GLYCOL_FIRST = RADIATOR_FIRST + RADIATOR_NODES
# Water runs against the glycol: its inlet is the last cell.
EXCHANGER_WATER_FIRST = EXCHANGER_GLYCOL_FIRST + EXCHANGER_CELLS
TANK_PIPE_OUT_FIRST = EXCHANGER_WATER_FIRST + EXCHANGER_CELLS
TANK_PIPE_BACK_FIRST = TANK_PIPE_OUT_FIRST + TANK_PIPE_NODES
# The air heater's part, to be indexed by air/state.py from here on.
AIR_FIRST = TANK_PIPE_BACK_FIRST + TANK_PIPE_NODES
TANK_FIRST = AIR_FIRST + air.AIR_COUNT

# Where the glycol leaves the station, and the outlets of the loop's parts. Where it arrives is
# pipe.station_inlet_c.
COLLECTOR_OUTLET = COLLECTOR_FIRST + COLLECTOR_NODES - 1
STATION_OUTLET = RETURN_INDOOR_FIRST
RADIATOR_OUTLET = RADIATOR_FIRST + RADIATOR_NODES - 1
EXCHANGER_GLYCOL_OUTLET = EXCHANGER_GLYCOL_FIRST + EXCHANGER_CELLS - 1
EXCHANGER_WATER_INLET = EXCHANGER_WATER_FIRST + EXCHANGER_CELLS - 1
EXCHANGER_WATER_OUTLET = EXCHANGER_WATER_FIRST

# --- flux: joules since the array was zeroed (litres where the name says so) ---
(
    FLUX_ABSORBED_OPTICAL,  # sunlight turned into heat, before the collector's losses
    FLUX_COLLECTED,  # the same after the collector's losses; negative on a night
    FLUX_DUMPED,  # radiator to outdoors, at rest too
    FLUX_USED,  # drawn out of the tank, counted from the cold main
    FLUX_TANK_LOSSES,
    FLUX_PIPE_LOSSES,  # glycol pipes, exchanger shell, tank-loop pipes
    FLUX_PUMP_HEAT,  # the part of the pumps' power that ends in the fluids
    FLUX_TO_TANK,  # glycol to water across the exchanger
    FLUX_GAS,  # fuel energy burnt
    FLUX_GAS_WITHOUT_STATION,  # fuel energy that the heater would burn for the same draws of cold water
    FLUX_TAP_HEAT,  # heat delivered at the tap, counted from the cold main
    FLUX_TAP_HEAT_SHORT,  # heat wanted at the tap and not delivered
    FLUX_TAP_LITRES,  # litres at the delivery temperature
    FLUX_PUMP_POWER,  # electrical, of both pumps
) = range(14)
AIR_FLUX_FIRST = 14
FLUX_COUNT = AIR_FLUX_FIRST + air.FLUX_COUNT

# --- drive: weather and draw during one control step ---
(
    DRIVE_EFFECTIVE_W_PER_M2,  # collector irradiance after the incidence modifier
    DRIVE_TILTED_W_PER_M2,  # irradiance on the collector's plane, for reports only
    DRIVE_AMBIENT_C,
    DRIVE_SKY_DEPRESSION_K,  # ambient minus the sky's radiation temperature; 0 by day
    DRIVE_WIND_M_PER_S,
    DRIVE_ROOM_C,
    DRIVE_COLD_MAIN_C,
    DRIVE_DRAW_L_PER_MIN,  # wanted at the tap at the delivery temperature
) = range(8)
AIR_DRIVE_FIRST = 8
DRIVE_COUNT = AIR_DRIVE_FIRST + air.DRIVE_COUNT

# Commands (0 or 1 during one control step) and sensors follow the firmware's order, see
# twinloop.control.state.
