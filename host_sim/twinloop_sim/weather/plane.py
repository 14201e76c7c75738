"""Sun and sky on the collector's plane, before and after the incidence modifier."""

from dataclasses import dataclass

import numpy as np

from ..thermal import parameters as p

SKY_MODELS = ("hay_davies", "isotropic")
# Ground in front of a roof, without snow or water (common practice).
GROUND_ALBEDO = 0.2


@dataclass(frozen=True)
class PlaneHours:
    """Mean W/m2 on the plane per interval: beam with circumsolar, and the rest."""

    beam_w_per_m2: np.ndarray
    diffuse_w_per_m2: np.ndarray
    # After the incidence modifier.
    beam_effective_w_per_m2: np.ndarray
    diffuse_effective_w_per_m2: np.ndarray


def sun_position(weather, local_times):
    """Return the sun's true zenith (without refraction) and azimuth (from north by east), in
    degrees.

    Args: `weather` (place), `local_times` (datetime64 array, local standard time). Source: Reda and
    Andreas, NREL/TP-560-34302, by pvlib.
    """
    import pandas as pd
    from pvlib.solarposition import get_solarposition

    offset = np.timedelta64(int(weather.utc_offset_h * 3600.0), "s")
    times = pd.DatetimeIndex(local_times - offset, tz="UTC")
    position = get_solarposition(times, weather.latitude_deg, weather.longitude_deg, altitude=weather.altitude_m)
    return position["zenith"].to_numpy(), position["azimuth"].to_numpy()


def cos_incidence(slope_deg, surface_azimuth_deg, zenith_deg, azimuth_deg):
    """Return the cosine of the angle between sun and the plane's normal, negative from behind.

    Args: `slope_deg`, `surface_azimuth_deg`, `zenith_deg`, `azimuth_deg` (deg; arrays or numbers).
    Source: product of the two unit vectors, by pvlib.
    """
    from pvlib.irradiance import aoi_projection

    return aoi_projection(slope_deg, surface_azimuth_deg, zenith_deg, azimuth_deg)


def equivalent_angles_deg(slope_deg):
    """Return the angles at which sky and ground act on a plane as a beam would.

    Args: `slope_deg` (deg, 0 to 90). Returns: (sky, ground) in degrees.
    Source: Brandemuehl and Beckman 1980, Duffie and Beckman eq. 5.4.1 and 5.4.2 (from memory).
    """
    sky_deg = 59.7 - 0.1388 * slope_deg + 0.001497 * slope_deg**2
    ground_deg = 90.0 - 0.5788 * slope_deg + 0.002693 * slope_deg**2
    return sky_deg, ground_deg


def incidence_modifiers(b0, cosines):
    """Return the incidence modifier for an array of cosines.

    Args: `b0` (1), `cosines` (1). Returns: 0 to 1 each, zero from behind.
    Source: ASHRAE 93, 1 - b0 (1/cos - 1), cut at zero.
    """
    cosines = np.asarray(cosines, dtype=float)
    # A grazing sun makes the formula negative; the clip at zero handles that.
    safe = np.maximum(cosines, 1e-6)
    return np.where(cosines > 0.0, np.clip(1.0 - b0 * (1.0 / safe - 1.0), 0.0, 1.0), 0.0)


def on_plane(weather, values, sky_model="hay_davies"):
    """Return horizontal and direct irradiance converted to the collector's plane.

    Args: `weather` (Weather), `values` (from plant_values), `sky_model` ("hay_davies" or
    "isotropic"). Returns: PlaneHours. Raises: ValueError for an unknown sky model. Source: Hay and
    Davies 1980 or Liu and Jordan 1963 by pvlib, with the sun at the middle of each interval; beam
    counts only while that sun is up. Beam and circumsolar take the modifier at the angle of
    incidence, sky and ground at their equivalent angles.
    """
    if sky_model not in SKY_MODELS:
        raise ValueError(f"sky model {sky_model!r}: allowed {' or '.join(SKY_MODELS)}")
    slope_deg, bearing_deg = values[p.COLLECTOR_SLOPE_DEG], values[p.COLLECTOR_AZIMUTH_DEG]
    centres = weather.centres()
    zenith_deg, azimuth_deg = sun_position(weather, centres)
    cosine = cos_incidence(slope_deg, bearing_deg, zenith_deg, azimuth_deg)
    cosine = np.where(zenith_deg < 90.0, np.maximum(cosine, 0.0), 0.0)
    sky, circumsolar = _sky(weather, sky_model, slope_deg, bearing_deg, zenith_deg, azimuth_deg, centres)
    beam = weather.dni_w_per_m2 * cosine + circumsolar
    ground = weather.ghi_w_per_m2 * GROUND_ALBEDO * (1.0 - np.cos(np.radians(slope_deg))) / 2.0
    b0 = values[p.COLLECTOR_B0]
    at_sky, at_ground = incidence_modifiers(b0, np.cos(np.radians(equivalent_angles_deg(slope_deg))))
    return PlaneHours(beam, sky + ground, beam * incidence_modifiers(b0, cosine), sky * at_sky + ground * at_ground)


def _sky(weather, sky_model, slope_deg, bearing_deg, zenith_deg, azimuth_deg, centres):
    from pvlib import irradiance

    diffuse = weather.dhi_w_per_m2
    if sky_model == "isotropic":
        return irradiance.isotropic(slope_deg, diffuse), np.zeros_like(diffuse)
    day_of_year = (centres.astype("datetime64[D]") - centres.astype("datetime64[Y]")).astype(int) + 1
    extra = irradiance.get_extra_radiation(day_of_year)
    parts = irradiance.haydavies(
        slope_deg, bearing_deg, diffuse, weather.dni_w_per_m2, extra, zenith_deg, azimuth_deg, return_components=True
    )
    # With the sun below the horizon at the middle of the hour there is no circumsolar part.
    up = zenith_deg < 90.0
    circumsolar = np.where(up, parts["poa_circumsolar"], 0.0)
    return np.where(up, parts["poa_isotropic"], irradiance.isotropic(slope_deg, diffuse)), circumsolar
