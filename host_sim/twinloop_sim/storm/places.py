"""Where the stations of a storm stand: typical years, and climates that none of those has."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from ..weather.clear import clear_day
from ..weather.files import DAY_S, HOUR_S, Weather, named_weather

YEAR_DAYS = 365
# It is coldest a month after the shortest day (common practice).
COLDEST_DAY = 20
WARMEST_HOUR = 15.0


@dataclass(frozen=True)
class Clear:
    """A climate of cloudless days: where, and the coldest and warmest hour of two months, in C."""

    latitude_deg: float
    longitude_deg: float
    utc_offset_h: float
    january_c: tuple[float, float]
    july_c: tuple[float, float]


@dataclass(frozen=True)
class Place:
    """A place: the yearly mean of its cold main in C, its altitude, and its climate.

    `clear` is None for a typical year of weather/files.py.
    """

    cold_main_c: float
    altitude_m: int
    clear: Clear | None = None

    def equator_deg(self) -> float:
        """The bearing of the sun at noon."""
        return 0.0 if self.clear is not None and self.clear.latitude_deg < 0.0 else 180.0


# The typical years that pvlib ships, and three climates of our own: a high plateau south of the
# equator, where water boils early and nights freeze under a fierce sun; a steppe with a winter
# beyond most glycol; a desert that never cools a tank. Temperatures from memory, rounded.
PLACES = {
    "greensboro": Place(14.4, 273),
    "sand_point": Place(4.5, 7),
    "miami": Place(24.0, 2),
    "plateau": Place(8.0, 3400, Clear(-16.5, -68.2, -4.0, (3.0, 15.0), (-9.0, 14.0))),
    "steppe": Place(6.0, 350, Clear(49.0, 70.0, 5.0, (-27.0, -15.0), (15.0, 31.0))),
    "desert": Place(26.0, 600, Clear(24.0, 42.0, 3.0, (9.0, 22.0), (29.0, 46.0))),
}


@lru_cache(maxsize=len(PLACES))
def weather_of(name: str) -> Weather:
    """The year of one of PLACES."""
    clear = PLACES[name].clear
    return named_weather(name.replace("_", "-")) if clear is None else clear_year(name, PLACES[name])


def clear_year(name: str, place: Place) -> Weather:
    """A year without a cloud, whose days go from January's to July's and back as a cosine."""
    clear = place.clear
    days = clear_day(
        (1990, 1, 1),
        YEAR_DAYS,
        latitude_deg=clear.latitude_deg,
        longitude_deg=clear.longitude_deg,
        altitude_m=float(place.altitude_m),
        utc_offset_h=clear.utc_offset_h,
        coldest_c=0.0,
        warmest_c=1.0,
    )
    hours = (np.arange(len(days.ambient_c)) + 0.5) * HOUR_S / DAY_S
    winter = (1.0 + np.cos(2.0 * np.pi * (hours - COLDEST_DAY) / YEAR_DAYS)) / 2.0
    coldest, warmest = (july + winter * (january - july) for january, july in zip(clear.january_c, clear.july_c, strict=True))
    wave = (1.0 + np.cos(2.0 * np.pi * (hours - WARMEST_HOUR * HOUR_S / DAY_S))) / 2.0
    return replace(days, name=name, ambient_c=coldest + wave * (warmest - coldest), dew_point_c=coldest)
