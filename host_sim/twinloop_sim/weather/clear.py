"""Cloudless days anywhere, for tests and for questions that no typical year answers."""

import numpy as np

from .files import DAY_S, HOUR_S, Weather

# Sampling for the mean of an hour: 5 minutes apart, the sun's height is close to a straight line.
_SAMPLE_S = 300.0
# Common practice: it is warmest three hours after noon.
_WARMEST_HOUR = 15.0


def clear_day(date, days=1, *, latitude_deg, longitude_deg, altitude_m, utc_offset_h, coldest_c, warmest_c):
    """Return days without a cloud.

    Args: `date` (year, month, day), `days` (count), `latitude_deg`, `longitude_deg` (deg, north and
    east positive), `altitude_m` (m), `utc_offset_h` (h), `coldest_c`, `warmest_c` (C, of a sine
    that peaks at 15:00). Returns: Weather of 24 hours per day. Raises: ValueError when the date
    does not exist. Source: Ineichen and Perez 2002 with monthly Linke turbidity, both by pvlib;
    calm, dew point at the coldest hour.
    """
    import pandas as pd
    from pvlib.location import Location

    year, month, day = date
    first = np.datetime64(f"{year:04d}-{month:02d}-{day:02d}T00:00:00")
    seconds = np.arange(_SAMPLE_S / 2.0, days * DAY_S, _SAMPLE_S)
    local = first + seconds.astype("timedelta64[s]")
    offset = np.timedelta64(int(utc_offset_h * HOUR_S), "s")
    times = pd.DatetimeIndex(local - offset, tz="UTC")
    sky = Location(latitude_deg, longitude_deg, altitude=altitude_m).get_clearsky(times, model="ineichen")
    hours = np.arange(24 * days) + 0.5
    swing_k = (warmest_c - coldest_c) / 2.0
    wave = np.cos(2.0 * np.pi * (hours - _WARMEST_HOUR) / 24.0)

    def hourly(column):
        return sky[column].to_numpy().reshape(24 * days, -1).mean(axis=1)

    return Weather(
        name=f"clear day {year:04d}-{month:02d}-{day:02d}",
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        altitude_m=altitude_m,
        utc_offset_h=utc_offset_h,
        first=first,
        interval_s=HOUR_S,
        ghi_w_per_m2=hourly("ghi"),
        dni_w_per_m2=hourly("dni"),
        dhi_w_per_m2=hourly("dhi"),
        ambient_c=(warmest_c + coldest_c) / 2.0 + swing_k * wave,
        dew_point_c=np.full(24 * days, float(coldest_c)),
        cloud_share=np.zeros(24 * days),
        wind_m_per_s=np.zeros(24 * days),
    )


def clear_days(start, days, **place):
    """Return the cloudless days of a scenario, dated 1990.

    Args: `start` (month, day), `days` (count), `place` (the others of `clear_day`). Raises:
    ValueError when there is no such day. Source: `clear_day`.
    """
    try:
        return clear_day((1990, *start), days, **place)
    except ValueError as error:
        raise ValueError(f"start day {start[0]}-{start[1]}: no such day in 1990") from error
