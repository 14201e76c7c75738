"""The room: air with what is light in it, and masonry, each one temperature.

Two capacities are the least with which a room warms in an hour and cools over days. Backup heating
is modulating: full power a kelvin below its set point, nothing at it.
"""

from ..jit import kernel
from . import parameters as p
from . import state as a

# Proportional band of the backup heating (ours: a thermostatic valve has 1 to 2 K).
BACKUP_BAND_K = 1.0


@kernel
def warm_room(air, values, drive, channel_w, flux, step_s):
    """Move the room by one step, in place.

    Args: as advance_air, `channel_w` (W, from the air channel to the room), `step_s` (s). Source:
    heat balance of two capacities, explicit.
    """
    room_c, masonry_c = air[a.ROOM_C], air[a.MASONRY_C]
    above_k = room_c - drive[a.DRIVE_AMBIENT_C]
    asked = min(max((values[p.BACKUP_SET_C] - room_c) / BACKUP_BAND_K, 0.0), 1.0)
    backup_w = values[p.BACKUP_W] * asked
    direct_w = values[p.ROOM_DIRECT_W_PER_K] * above_k
    ventilation_w = values[p.VENTILATION_W_PER_K_H] * values[p.ROOM_VENTILATION_PER_H] * above_k
    inner_w = values[p.ROOM_MASONRY_W_PER_K] * (room_c - masonry_c)
    wall_w = values[p.MASONRY_AMBIENT_W_PER_K] * (masonry_c - drive[a.DRIVE_AMBIENT_C])
    ground_w = values[p.MASONRY_GROUND_W_PER_K] * (masonry_c - drive[a.DRIVE_GROUND_C])
    net_w = channel_w + drive[a.DRIVE_GAIN_W] + backup_w - direct_w - ventilation_w - inner_w
    air[a.ROOM_C] += net_w * step_s / values[p.ROOM_HEAT_J_PER_K]
    air[a.MASONRY_C] += (inner_w - wall_w - ground_w) * step_s / values[p.MASONRY_HEAT_J_PER_K]
    flux[a.FLUX_GAIN] += drive[a.DRIVE_GAIN_W] * step_s
    flux[a.FLUX_BACKUP] += backup_w * step_s
    flux[a.FLUX_BACKUP_FUEL] += backup_w / values[p.BACKUP_EFFICIENCY] * step_s
    flux[a.FLUX_DIRECT] += direct_w * step_s
    flux[a.FLUX_WALL] += wall_w * step_s
    flux[a.FLUX_GROUND] += ground_w * step_s
    flux[a.FLUX_VENTILATION] += ventilation_w * step_s
