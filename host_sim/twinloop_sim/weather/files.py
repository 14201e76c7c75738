"""Weather files, read through pvlib and fully checked before use."""

import os
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

HOUR_S = 3600.0
MINUTE_S = 60.0
DAY_S = 86400.0
YEAR_HOURS = 8760
# Weather that pvlib ships, by its name in scenarios.
SHIPPED = {"greensboro": "723170TYA.CSV", "sand-point": "703165TY.csv", "miami": "12839.tm2"}
KINDS = ".csv (TMY3, PVGIS or NSRDB), .tm2 (TMY2), .epw and .json (PVGIS)"

# Bounds of a sane file: the solar constant with some room for cloud edges, and the coldest and
# hottest places.
_RANGES = {
    "ghi": (0.0, 1500.0, "W/m2"),
    "dni": (0.0, 1500.0, "W/m2"),
    "dhi": (0.0, 1000.0, "W/m2"),
    "temp_air": (-70.0, 60.0, "C"),
}
# pvlib keeps these names of the file format.
_TMY2_NAMES = {"GHI": "ghi", "DNI": "dni", "DHI": "dhi", "DryBulb": "temp_air", "DewPoint": "temp_dew", "Wspd": "wind_speed"}
# Columns with the tenths of the sky covered by clouds, where a format has one.
_TMY2_CLOUD, _TMY3_CLOUD, _EPW_CLOUD, _NO_CLOUD = "OpqCld", "OpqCld (tenths)", "opaque_sky_cover", ""


@dataclass(frozen=True)
class Place:
    """A file's place and time stamps; the first interval begins `shift_s` after local midnight."""

    latitude_deg: float
    longitude_deg: float
    altitude_m: float
    utc_offset_h: float
    cloud_column: str
    interval_s: float = HOUR_S
    shift_s: float = 0.0


@dataclass(frozen=True)
class Weather:
    """Equal intervals of weather at one place. Arrays: one mean per interval."""

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
        """Return the middle of each interval: datetime64[s] array, local standard time."""
        seconds = (np.arange(len(self.ambient_c)) + 0.5) * self.interval_s
        return self.first + seconds.astype("timedelta64[s]")


def named_weather(name):
    """Return the Weather of a scenario. Args: `name` (one of `SHIPPED`, or the path of a file).

    Raises: ValueError as read_weather; for an unknown name it lists the known ones.
    """
    check_weather(name)
    return _shipped(name) if name in SHIPPED else read_weather(name)


def check_weather(name):
    """Raise ValueError unless there is such weather; a file is not read yet."""
    if name in SHIPPED:
        return
    if not Path(name).suffix:
        raise ValueError(f"weather {name}: not known, allowed {', '.join(SHIPPED)} or the path of a file: {KINDS}")
    _checked(Path(name))


def _checked(path):
    # The suffix of a file that is there and of a known kind.
    suffix = path.suffix.lower()
    if suffix not in (".csv", ".tm2", ".epw", ".json"):
        raise ValueError(f"weather file {path.name}: unknown kind {path.suffix!r}, allowed {KINDS}")
    if os.path.isdir(path):
        raise ValueError(f"weather file {path}: a folder")
    if not os.path.isfile(path):
        raise ValueError(f"weather file {path}: no such file")
    return suffix


@lru_cache(maxsize=len(SHIPPED))
def _shipped(name):
    import pvlib

    return read_weather(Path(pvlib.__file__).parent / "data" / SHIPPED[name])


def read_weather(path):
    """Read a year of weather.

    Args: `path` (str or path; the kinds are in `KINDS`; .csv files are told apart by their first
    line). Returns: Weather of 365 days in local standard time, dated 1990 whatever years its months
    come from. Raises: ValueError, one line that names the file and what is missing or wrong.
    Source: the readers of pvlib.iotools. TMY2, TMY3 and EPW count the hours of a local year, so row
    n is the n-th hour and its middle is 30 minutes after its beginning. NSRDB stamps are the
    middles of their intervals. PVGIS gives values of a moment, its irradiance time offset after
    each full hour of universal time. They are taken as the middle of an interval and shifted to the
    standard time that fits the longitude, because the file names no time zone.
    """
    path = Path(path)
    suffix = _checked(path)
    kind, reader = _reader(path, suffix)
    try:
        table, place = reader(path)
        _check(path.name, table, place)
    except _FileError:
        raise
    except (AttributeError, IndexError, KeyError, OverflowError, StopIteration, TypeError, ValueError) as error:
        first_line = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise ValueError(f"weather file {path.name}: not a complete {kind} year ({first_line})") from error
    return _weather(path.name, table, place)


class _FileError(ValueError):
    """A complete error line that already names the file."""


def _reader(path, suffix):
    if suffix == ".tm2":
        return "TMY2", _read_tmy2
    if suffix == ".epw":
        return "EPW", _read_epw
    if suffix == ".json":
        return "PVGIS", _read_pvgis
    with open(path, encoding="utf-8", errors="replace") as file:
        first_line = file.readline()
    if first_line.startswith("Latitude (decimal degrees)"):
        if "month,year" not in _head_of(path):
            raise _FileError(f"weather file {path.name}: PVGIS, but not a typical year (TMY), the only PVGIS kind that is read")
        return "PVGIS", _read_pvgis
    if first_line.lstrip("\ufeff").startswith("Source,"):
        return "NSRDB", _read_nsrdb
    return "TMY3", _read_tmy3


def _read_tmy3(path):
    from pvlib.iotools import read_tmy3

    table, header = read_tmy3(str(path), coerce_year=1990, map_variables=True)
    return table, Place(header["latitude"], header["longitude"], header["altitude"], header["TZ"], _TMY3_CLOUD)


def _read_tmy2(path):
    from pvlib.iotools import read_tmy2

    table, header = read_tmy2(str(path))
    table = table.rename(columns=_TMY2_NAMES)
    # TMY2 gives these in tenths.
    for column in ("temp_air", "temp_dew", "wind_speed"):
        table[column] = table[column] / 10.0
    return table, Place(header["latitude"], header["longitude"], header["altitude"], header["TZ"], _TMY2_CLOUD)


def _read_epw(path):
    from pvlib.iotools import read_epw

    table, header = read_epw(str(path), coerce_year=1990)
    place = Place(header["latitude"], header["longitude"], header["altitude"], header["TZ"], _EPW_CLOUD)
    if "Irradiance Time Offset" in _head_of(path):
        # An EPW file from PVGIS: its hours are in universal time, as in the other PVGIS files.
        offset_h = float(_head_of(path).split("Irradiance Time Offset (h):")[1].split(",")[0].split("\n")[0])
        return _turned(table, place, offset_h + 1.0)
    return table, place


def _head_of(path):
    with open(path, encoding="utf-8", errors="replace") as file:
        return "".join(file.readline() for _ in range(8))


def _read_pvgis(path):
    from pvlib.atmosphere import tdew_from_rh
    from pvlib.iotools import read_pvgis_tmy

    table, header = read_pvgis_tmy(str(path), map_variables=True)
    facts = header["inputs"]
    facts = facts.get("location", facts)
    table["temp_dew"] = tdew_from_rh(table["temp_air"], table["relative_humidity"].clip(lower=1.0))
    offset_h = header["inputs"].get("irradiance time offset", facts.get("irradiance_time_offset", 0.0))
    place = Place(facts["latitude"], facts["longitude"], facts["elevation"], 0.0, _NO_CLOUD)
    return _turned(table, place, float(offset_h))


def _turned(table, place, offset_h):
    # From universal time to the standard time of the longitude. East of Greenwich the first hours
    # of the local year are the last of the file. A value of a moment stands for half an hour around
    # it; whole minutes, so that steps fit.
    zone_h = round(float(place.longitude_deg) / 15.0)
    order = (np.arange(len(table)) - zone_h) % max(len(table), 1)
    shift_s = round(offset_h * 60.0) * MINUTE_S - HOUR_S / 2.0
    return table.iloc[order], replace(place, utc_offset_h=float(zone_h), shift_s=shift_s)


def _read_nsrdb(path):
    from pvlib.iotools import read_nsrdb_psm4

    table, header = read_nsrdb_psm4(str(path), map_variables=True)
    table = table[~((table.index.month == 2) & (table.index.day == 29))]
    interval_s = (table.index[1].minute - table.index[0].minute) % 60 * MINUTE_S or HOUR_S
    middle_s = table.index[0].hour * HOUR_S + table.index[0].minute * MINUTE_S
    # A file may be in universal time; the station's clock is local.
    turn_h = header["Local Time Zone"] - header["Time Zone"]
    order = (np.arange(len(table)) - int(turn_h * HOUR_S / interval_s)) % max(len(table), 1)
    return table.iloc[order], Place(
        header["latitude"],
        header["longitude"],
        header["altitude"],
        header["Local Time Zone"],
        _NO_CLOUD,
        interval_s,
        middle_s - interval_s / 2.0,
    )


def _check(name, table, place):
    hours = len(table) * place.interval_s / HOUR_S
    if hours != YEAR_HOURS:
        raise _FileError(f"weather file {name}: {hours:g} hours, a year needs {YEAR_HOURS}")
    for column, (low, high, unit) in _RANGES.items():
        if column not in table:
            raise _FileError(f"weather file {name}: column {column} is missing")
        series = table[column].to_numpy(dtype=float)
        bad = ~((series >= low) & (series <= high))
        if bad.any():
            row = int(np.argmax(bad))
            what = "is missing" if np.isnan(series[row]) else f"= {series[row]:g}"
            where = f"{column} {what} in hour {int(row * place.interval_s / HOUR_S) + 1}"
            raise _FileError(f"weather file {name}: {where}, allowed {low:g} to {high:g} {unit}")
    for what, value, top in (("latitude", place.latitude_deg, 90.0), ("longitude", place.longitude_deg, 180.0)):
        if not abs(float(value)) <= top:
            raise _FileError(f"weather file {name}: {what} = {value}, allowed -{top:g} to {top:g}")


def _column(table, name, fallback, low, high):
    # These columns only refine the night, so missing ones, or missing values, take the fallback.
    if name not in table:
        return np.full(len(table), fallback)
    series = table[name].to_numpy(dtype=float)
    return np.where((series >= low) & (series <= high), series, fallback)


def _weather(name, table, place):
    ambient_c = table["temp_air"].to_numpy(dtype=float)
    # Where the file does not say: dew point ten kelvin below the mean air, and half a sky of cloud
    # (ours).
    return Weather(
        name=name,
        latitude_deg=float(place.latitude_deg),
        longitude_deg=float(place.longitude_deg),
        altitude_m=float(place.altitude_m),
        utc_offset_h=float(place.utc_offset_h),
        first=np.datetime64("1990-01-01T00:00:00") + np.timedelta64(int(place.shift_s), "s"),
        interval_s=place.interval_s,
        ghi_w_per_m2=table["ghi"].to_numpy(dtype=float),
        dni_w_per_m2=table["dni"].to_numpy(dtype=float),
        dhi_w_per_m2=table["dhi"].to_numpy(dtype=float),
        ambient_c=ambient_c,
        dew_point_c=np.minimum(_column(table, "temp_dew", ambient_c.mean() - 10.0, -80.0, 40.0), ambient_c),
        cloud_share=_column(table, place.cloud_column, 5.0, 0.0, 10.0) / 10.0,
        wind_m_per_s=_column(table, "wind_speed", 0.0, 0.0, 80.0),
    )
