"""Every index of the arrays that enter or leave the air channel, named once.

Temperatures are in C. Flow counts from room to collector, and is negative when it runs backwards.
"""

ABSORBER_NODES = 4

# --- air: channel and room at one moment ---
(
    FLOW_KG_PER_S,  # that the fan or buoyancy drives, at the fan
    FAN_W,  # electrical
    SUPPLY_C,  # air that enters the room from the duct; the room's own while none does
    ROOM_C,  # room air, with what is light in the room
    MASONRY_C,
    POCKETS_FIRST,  # the sensors' pockets, in the order below
) = range(6)
# Sensors: at the absorber's outlet, and in the room.
AIR_COLLECTOR, ROOM, POCKETS = 0, 1, 2
ABSORBER_FIRST = POCKETS_FIRST + POCKETS
ABSORBER_OUTLET = ABSORBER_FIRST + ABSORBER_NODES - 1
AIR_COUNT = ABSORBER_FIRST + ABSORBER_NODES

# --- drive: the world outside during one control step ---
(
    DRIVE_EFFECTIVE_W_PER_M2,  # irradiance on the air collector after the incidence modifier
    DRIVE_AMBIENT_C,
    DRIVE_SKY_DEPRESSION_K,  # ambient minus the sky's radiation temperature; 0 by day
    DRIVE_GROUND_C,
    DRIVE_GAIN_W,  # people, lamps, sun through windows, what the station loses to the room
) = range(5)
DRIVE_COUNT = 5

# --- flux: joules since the array was zeroed ---
# absorbed - collector_loss - taken                        = change of the absorber
# taken + fan_heat - duct_loss - leaked                    = to_room - back_draught
# to_room - back_draught + gain + backup - direct - wall - ground - ventilation = change of the room
(
    FLUX_ABSORBED,  # sunlight turned into heat
    FLUX_COLLECTOR_LOSS,  # absorber to air and sky
    FLUX_TAKEN,  # absorber to the air that passes; negative when the air warms it
    FLUX_FAN_POWER,  # electrical
    FLUX_FAN_HEAT,  # the part of it that ends in the stream
    FLUX_DUCT_LOSS,  # through the duct's wall to outdoors
    FLUX_LEAKED,  # warm air blown out of the duct, or room air that sucked-in air replaces
    FLUX_TO_ROOM,  # by flow in the fan's direction, fan running or not; negative when it cools
    FLUX_BACK_DRAUGHT,  # what the room loses by flow against the fan's direction
    FLUX_GAIN,
    FLUX_BACKUP,  # heat of the backup heating
    FLUX_BACKUP_FUEL,
    FLUX_DIRECT,  # room air to outdoors through windows, doors and a light roof
    FLUX_WALL,  # masonry to outdoors
    FLUX_GROUND,  # masonry to the ground
    FLUX_VENTILATION,
) = range(16)
FLUX_COUNT = 16
