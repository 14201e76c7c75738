"""One row of weather per control step, from the hours of a file.

Irradiance: the energy of an interval is spread over its steps in proportion to the sun: the cosine
of incidence for the beam, the sine of the sun's height for sky and ground. The sum over the
interval is exactly the file's, but the curve may jump at the full hours. An interval with the sun
down throughout loses its few watts. Temperatures and wind run in straight lines between the middles
of the intervals.
"""

import numpy as np

from ..thermal import parameters as p
from ..thermal import state as s
from ..thermal.air import parameters as air_values
from ..thermal.air import state as air
from .clouds import cloud_weights
from .cold_main import cold_main_c
from .files import DAY_S
from .plane import cos_incidence, on_plane, sun_position

# The sun is computed at this spacing. In between, its cosines run straight, with an error below
# 0.0003.
_SUN_STEP_S = 600.0
# Sky radiation matters on clear nights only; by day the collector's test data include it. It fades
# out up to this irradiance.
_SKY_FADES_AT_W_PER_M2 = 100.0


def drive_table(weather, values, start_day, days, step_s, *, plane=None, skip_days=0, cloud_seed=None):
    """Return what the outside world does to the station, one row per control step.

    Args: `weather` (Weather; a run past its end starts over), `values` (from plant_values),
    `start_day` (month, day), `days` (count, 1 or more), `step_s` (s, must divide the weather's
    interval), `plane` (PlaneHours of the same weather and values, computed when left out),
    `skip_days` (count, the table begins this many days after `start_day`), `cloud_seed` (None: the
    sun of an interval shines evenly; a number: clouds.cloud_weights). Returns: float64 array
    (steps, DRIVE_COUNT), columns of state.py; the draw is left at 0. A table is identical to the
    bit whether made at once or day by day. Raises: ValueError, one line, for a day that the weather
    does not have or a step that does not fit. Source: module docstring.
    """
    parts = weather.interval_s / step_s if step_s > 0.0 else 0.5
    if days < 1 or days != int(days):
        raise ValueError(f"days = {days}: allowed whole numbers from 1")
    if parts != int(parts):
        raise ValueError(f"step_s = {step_s:g}: must divide the weather's {weather.interval_s:g} s")
    # Times are seconds from the start of the weather, so that no figure depends on where a table
    # begins.
    begin_s = _begin_s(weather, start_day) + skip_days * DAY_S
    first, last = int(begin_s // weather.interval_s), int(-(-(begin_s + days * DAY_S) // weather.interval_s))
    lead = (begin_s - first * weather.interval_s) / step_s
    if lead != int(lead):
        raise ValueError(f"step_s = {step_s:g}: must divide a minute for {weather.name}, whose stamps are off the hour")
    intervals = np.arange(first, last)
    centres_s = first * weather.interval_s + (np.arange(len(intervals) * int(parts)) + 0.5) * step_s
    plane = on_plane(weather, values) if plane is None else plane
    drive = np.zeros((len(centres_s), s.DRIVE_COUNT))
    beam_weight, diffuse_weight = _sun_weights(weather, values, centres_s)
    if cloud_seed is not None:
        beam_weight = beam_weight * cloud_weights(weather, intervals, beam_weight, cloud_seed)
    _fill_irradiance(drive, plane, intervals % len(weather.ambient_c), (beam_weight, diffuse_weight), int(parts))
    for column, series in (
        (s.DRIVE_AMBIENT_C, weather.ambient_c),
        (s.DRIVE_WIND_M_PER_S, weather.wind_m_per_s),
        (s.DRIVE_SKY_DEPRESSION_K, sky_depression_k(weather.ambient_c, weather.dew_point_c, weather.cloud_share)),
    ):
        drive[:, column] = _straight(weather, series, intervals, centres_s)
    day_share = np.clip(drive[:, s.DRIVE_TILTED_W_PER_M2] / _SKY_FADES_AT_W_PER_M2, 0.0, 1.0)
    drive[:, s.DRIVE_SKY_DEPRESSION_K] *= 1.0 - day_share
    drive[:, s.DRIVE_ROOM_C] = values[p.ROOM_C]
    if values[p.AIR_FIRST + air_values.AIR_HEATER_BUILT] > 0.0:
        _fill_air(drive[:, s.AIR_DRIVE_FIRST :], drive, weather, values, (intervals, centres_s, int(parts), cloud_seed))
    year_began_s = (weather.first.astype("datetime64[Y]") - weather.first) / np.timedelta64(1, "s")
    drive[:, s.DRIVE_COLD_MAIN_C] = cold_main_c(1.0 + (centres_s - year_began_s) / DAY_S, values)
    return drive[int(lead) : int(lead) + int(days * DAY_S / step_s)]


def _fill_air(air_drive, drive, weather, values, times):
    # The air heater stands in the same weather, on a plane of its own; its ground keeps the year's
    # mean temperature.
    intervals, centres_s, parts, cloud_seed = times
    own = values.copy()
    own[[p.COLLECTOR_SLOPE_DEG, p.COLLECTOR_AZIMUTH_DEG, p.COLLECTOR_B0]] = air_values.plane(values[p.AIR_FIRST :])
    beam_weight, diffuse_weight = _sun_weights(weather, own, centres_s)
    if cloud_seed is not None:
        beam_weight = beam_weight * cloud_weights(weather, intervals, beam_weight, cloud_seed)
    rows = np.zeros((len(drive), s.DRIVE_COUNT))
    _fill_irradiance(rows, on_plane(weather, own), intervals % len(weather.ambient_c), (beam_weight, diffuse_weight), parts)
    air_drive[:, air.DRIVE_EFFECTIVE_W_PER_M2] = rows[:, s.DRIVE_EFFECTIVE_W_PER_M2]
    air_drive[:, air.DRIVE_AMBIENT_C] = drive[:, s.DRIVE_AMBIENT_C]
    air_drive[:, air.DRIVE_SKY_DEPRESSION_K] = drive[:, s.DRIVE_SKY_DEPRESSION_K]
    air_drive[:, air.DRIVE_GROUND_C] = weather.ambient_c.mean()


def sky_depression_k(ambient_c, dew_point_c, cloud_share):
    """Return how far the radiation temperature of the sky is below the air.

    Args: `ambient_c`, `dew_point_c` (C), `cloud_share` (0 to 1; arrays or numbers). Returns: K, 0
    or more. Source: Berdahl and Martin 1984, emissivity 0.711 + 0.56 d + 0.73 d^2 with d = dew
    point / 100 C; clouds close four fifths of the gap (both from memory, common practice).
    """
    d = np.asarray(dew_point_c) / 100.0
    clear = 0.711 + 0.56 * d + 0.73 * d * d
    emissivity = np.minimum(clear + (1.0 - clear) * 0.8 * np.asarray(cloud_share), 1.0)
    kelvin = np.asarray(ambient_c) + 273.15
    return kelvin * (1.0 - emissivity**0.25)


def _begin_s(weather, start_day):
    # Midnight of the start day, in seconds after the weather's beginning; a year that begins a
    # little after midnight wraps.
    month, day = start_day
    first_year = weather.centres()[0].astype("datetime64[Y]")
    try:
        wanted = np.datetime64(f"{first_year}-{month:02d}-{day:02d}T00:00:00")
    except ValueError as error:
        raise ValueError(f"start day {month}-{day}: no such day in {first_year}") from error
    begin_s = (wanted - weather.first) / np.timedelta64(1, "s")
    if not -weather.interval_s < begin_s < len(weather.ambient_c) * weather.interval_s:
        raise ValueError(f"start day {month}-{day}: not in {weather.name}")
    return begin_s


def _sun_weights(weather, values, centres_s):
    grid_s = np.arange(centres_s[0] // _SUN_STEP_S, centres_s[-1] // _SUN_STEP_S + 2.0) * _SUN_STEP_S
    zenith_deg, azimuth_deg = sun_position(weather, weather.first + grid_s.astype("timedelta64[s]"))
    height = np.interp(centres_s, grid_s, np.cos(np.radians(zenith_deg)))
    slope_deg, bearing_deg = values[p.COLLECTOR_SLOPE_DEG], values[p.COLLECTOR_AZIMUTH_DEG]
    cosine = np.interp(centres_s, grid_s, cos_incidence(slope_deg, bearing_deg, zenith_deg, azimuth_deg))
    up = height > 0.0
    return np.where(up, np.maximum(cosine, 0.0), 0.0), np.where(up, height, 0.0)


def _fill_irradiance(drive, plane, rows, weights, parts):
    beam_shape, diffuse_shape = (_shape(weight, parts) for weight in weights)

    def steps(beam, diffuse):
        return np.repeat(beam[rows], parts) * beam_shape + np.repeat(diffuse[rows], parts) * diffuse_shape

    drive[:, s.DRIVE_EFFECTIVE_W_PER_M2] = steps(plane.beam_effective_w_per_m2, plane.diffuse_effective_w_per_m2)
    drive[:, s.DRIVE_TILTED_W_PER_M2] = steps(plane.beam_w_per_m2, plane.diffuse_w_per_m2)


def _shape(weight, parts):
    # Weights with a mean of 1 in each interval, or 0 throughout.
    blocks = weight.reshape(-1, parts)
    mean = blocks.mean(axis=1, keepdims=True)
    return np.divide(blocks, mean, out=np.zeros_like(blocks), where=mean > 0.0).reshape(-1)


def _straight(weather, series, intervals, centres_s):
    # One more interval on either side, wrapping around the year, so that the lines have both ends.
    around = np.arange(intervals[0] - 1, intervals[-1] + 2)
    return np.interp(centres_s, (around + 0.5) * weather.interval_s, series[around % len(series)])
