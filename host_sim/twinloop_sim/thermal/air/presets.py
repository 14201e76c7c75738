"""Invented rooms for a first look: common practice, no building that stands."""

ROOMS = {
    # The table's own figures.
    "packing-shed": {},
    # 60 m3 under a farmhouse: thick stone against the earth, one small window.
    "cellar": {
        "room_volume_m3": 60.0,
        "room_heat_j_per_k": 4e5,
        "masonry_heat_j_per_k": 6e7,
        "room_masonry_w_per_k": 350.0,
        "room_direct_w_per_k": 8.0,
        "masonry_ambient_w_per_k": 15.0,
        "masonry_ground_w_per_k": 80.0,
        "room_ventilation_per_h": 0.3,
    },
}


def room(name):
    """Return the values (dict) of an invented room.

    Args: `name` (one of `ROOMS`). Raises: ValueError with one line that names what is allowed.
    Source: ours.
    """
    if name not in ROOMS:
        raise ValueError(f"room = {name}: allowed {', '.join(ROOMS)}")
    return dict(ROOMS[name])
