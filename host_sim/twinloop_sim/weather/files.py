"""Weather files: read through pvlib, checked whole before anything uses them."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

HOUR_S = 3600.0
DAY_S = 86400.0
YEAR_HOURS = 8760

# What a sane file stays within: the solar constant with some room for cloud edges, and the coldest and hottest places.
_RANGES = {
    "ghi": (0.0, 1500.0, "W/m2"),
    "dni": (0.0, 1500.0, "W/m2"),
    "dhi": (0.0, 1000.0, "W/m2"),
    "temp_air": (-70.0, 60.0, "C"),
}
# pvlib leaves these three columns with the names of the file format.
_TMY2_NAMES = {"GHI": "ghi", "DNI": "dni", "DHI": "dhi", "DryBulb": "temp_air", "DewPoint": "temp_dew", "Wspd": "wind_speed"}
_TMY2_CLOUD, _TMY3_CLOUD = "OpqCld", "OpqCld (tenths)"


@dataclass(frozen=True)
class Weather:
    """A run of equal intervals of weather at one place; arrays of one value an interval, means over it."""

    name: str
    latitude_deg: float
    longitude_deg: float  # east positive
    altitude_m: float
    utc_offset_h: float
    first: np.datetime64  # beginning of the first interval, local standard time
    interval_s: float
    ghi_w_per_m2: np.ndarray
    dni_w_per_m2: np.ndarray
    dhi_w_per_m2: np.ndarray
    ambient_c: np.ndarray
    dew_point_c: np.ndarray
    cloud_share: np.ndarray  # 0 clear to 1 overcast
    wind_m_per_s: np.ndarray

    def centres(self):
        """Return the middle of each interval. Returns: datetime64[s] array, local standard time. Source: definition."""
        seconds = (np.arange(len(self.ambient_c)) + 0.5) * self.interval_s
        return self.first + seconds.astype("timedelta64[s]")


def greensboro():
    """Return the typical year of Greensboro, North Carolina, that pvlib ships.

    Returns: Weather, 8760 hours dated 1990. Source: pvlib `data/723170TYA.CSV` (TMY3).
    """
    import pvlib

    return read_weather(Path(pvlib.__file__).parent / "data" / "723170TYA.CSV")


def read_weather(path):
    """Read a typical-year file.

    Args: `path` (str or path; TMY3 ends in .csv, TMY2 in .tm2).
    Returns: Weather of 8760 hours, dated 1990 whatever years its months come from.
    Raises: ValueError with one line naming the file and what is missing or wrong.
    Source: pvlib.iotools.read_tmy3 and read_tmy2; both formats stamp the hour's end or count hours from 1, so row n is
    always the n-th hour of the year and its middle is 30 minutes before the stamp.
    """
    path = Path(path)
    readers = {".csv": _read_tmy3, ".tm2": _read_tmy2}
    reader = readers.get(path.suffix.lower())
    if reader is None:
        raise ValueError(f"weather file {path.name}: unknown kind {path.suffix!r}, allowed .csv (TMY3) and .tm2 (TMY2)")
    if not path.is_file():
        raise ValueError(f"weather file {path}: no such file")
    try:
        table, place, cloud_column = reader(path)
    except (AttributeError, IndexError, KeyError, TypeError, ValueError) as error:
        first_line = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise ValueError(f"weather file {path.name}: not a complete {path.suffix} typical year ({first_line})") from error
    _check(path.name, table)
    return _weather(path.name, table, place, cloud_column)


def _read_tmy3(path):
    from pvlib.iotools import read_tmy3

    table, header = read_tmy3(str(path), coerce_year=1990, map_variables=True)
    place = (header["latitude"], header["longitude"], header["altitude"], header["TZ"])
    return table, place, _TMY3_CLOUD


def _read_tmy2(path):
    from pvlib.iotools import read_tmy2

    table, header = read_tmy2(str(path))
    table = table.rename(columns=_TMY2_NAMES)
    # TMY2 states both in tenths.
    for column in ("temp_air", "temp_dew", "wind_speed"):
        table[column] = table[column] / 10.0
    place = (header["latitude"], header["longitude"], header["altitude"], header["TZ"])
    return table, place, _TMY2_CLOUD


def _check(name, table):
    if len(table) != YEAR_HOURS:
        raise ValueError(f"weather file {name}: {len(table)} hours, a year needs {YEAR_HOURS}")
    for column, (low, high, unit) in _RANGES.items():
        if column not in table:
            raise ValueError(f"weather file {name}: column {column} is missing")
        series = table[column].to_numpy(dtype=float)
        bad = ~((series >= low) & (series <= high))
        if bad.any():
            row = int(np.argmax(bad))
            where = f"{column} = {series[row]:g} in hour {row + 1}"
            raise ValueError(f"weather file {name}: {where}, allowed {low:g} to {high:g} {unit}")


def _column(table, name, fallback, low, high):
    # Columns that only refine the night: a missing one, or a missing figure in it, takes the fallback.
    if name not in table:
        return np.full(len(table), fallback)
    series = table[name].to_numpy(dtype=float)
    return np.where((series >= low) & (series <= high), series, fallback)


def _weather(name, table, place, cloud_column):
    ambient_c = table["temp_air"].to_numpy(dtype=float)
    # Ten kelvin under the mean air and half a sky of cloud: mid-way where the file does not say (ours).
    return Weather(
        name=name,
        latitude_deg=float(place[0]),
        longitude_deg=float(place[1]),
        altitude_m=float(place[2]),
        utc_offset_h=float(place[3]),
        first=np.datetime64("1990-01-01T00:00:00"),
        interval_s=HOUR_S,
        ghi_w_per_m2=table["ghi"].to_numpy(dtype=float),
        dni_w_per_m2=table["dni"].to_numpy(dtype=float),
        dhi_w_per_m2=table["dhi"].to_numpy(dtype=float),
        ambient_c=ambient_c,
        dew_point_c=np.minimum(_column(table, "temp_dew", ambient_c.mean() - 10.0, -80.0, 40.0), ambient_c),
        cloud_share=_column(table, cloud_column, 5.0, 0.0, 10.0) / 10.0,
        wind_m_per_s=_column(table, "wind_speed", 0.0, 0.0, 80.0),
    )
