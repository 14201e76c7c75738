"""Rows with one value per sensor, given by sensor name, with a default for the rest."""

from __future__ import annotations

from twinloop.control import state as s


def row(default: int = 20000, **values: int) -> tuple[int, ...]:
    """One value per sensor, in sensor order: those given by name, `default` for the rest."""
    unknown = values.keys() - set(s.SENSOR_NAMES)
    if unknown:
        raise ValueError(f"no such sensor: {', '.join(sorted(unknown))}")
    return tuple(values.get(name, default) for name in s.SENSOR_NAMES)


# A mild evening: no pump has a reason to run.
EVENING_MC = row(tank_low=40000, tank_high=45000, outdoor=15000, tap=40000)
# Sun on the collector over a cool tank: charging with both pumps.
SUNNY_MC = row(
    collector=60000,
    tank_low=30000,
    tank_high=35000,
    loop_supply=55000,
    loop_return=40000,
    tap=30000,
    exchanger=48000,
)
