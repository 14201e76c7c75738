"""Passing clouds inside the hours of a weather file, drawn from a seed.

Method (ours): the share of an interval in which the sun shines is its direct irradiance over that
of a cloudless sky. A smooth random curve runs through the interval. The sun shines where the curve
is highest, until that share of the interval's cloudless beam is reached; elsewhere a tenth of the
beam comes through. The energy of every interval is exactly the file's, because table.py scales the
weights of an interval to a mean of 1. Sky and ground stay even: clouds that brighten beside the sun
are left out.
"""

import numpy as np

from .plane import sun_position

# Common practice for scattered cumulus: a cloud and its gap pass within minutes. Noise smoothed
# twice over this length gives that.
CLOUD_S = 180.0
# Share of the beam that a cloud lets through (ours).
THROUGH = 0.1
# Below and above these shares the whole interval counts as overcast or clear.
SHUT_SHARE, OPEN_SHARE = 0.08, 0.95


def cloudless_dni_w_per_m2(weather, intervals):
    """Return the direct irradiance (W/m2) of a cloudless sky in the middle of intervals, 0 at
    night.

    Args: `weather` (Weather), `intervals` (int array, numbers in the weather). Source: simplified
    Solis, Ineichen 2008, by pvlib with its own aerosol and water vapour.
    """
    from pvlib.clearsky import simplified_solis

    zenith_deg, _ = sun_position(weather, weather.centres()[intervals])
    up = zenith_deg < 90.0
    dni = simplified_solis(np.where(up, 90.0 - zenith_deg, 90.0))["dni"]
    return np.where(up, dni, 0.0)


def sunny_shares(weather, intervals):
    """Return the share of each interval in which the sun shines, 0 to 1; see the module."""
    cloudless = cloudless_dni_w_per_m2(weather, intervals)
    share = np.divide(weather.dni_w_per_m2[intervals], cloudless, out=np.ones_like(cloudless), where=cloudless > 1.0)
    return np.clip(share, 0.0, 1.0)


def cloud_weights(weather, intervals, beam_weight, seed):
    """Return the factor on the beam in each step, before an interval is scaled to its own energy.

    Args: `weather` (Weather), `intervals` (int array, counted from the start of the weather),
    `beam_weight` (float64 array of all steps: the beam's course within each interval), `seed` (int,
    0 or more). Returns: float64 array like `beam_weight`, `THROUGH` or 1. An interval draws from
    the seed and its own number, so the start of a run does not matter. Source: module docstring.
    """
    if type(seed) is not int or seed < 0:
        raise ValueError(f"cloud seed = {seed}: allowed whole numbers from 0")
    shares = sunny_shares(weather, intervals % len(weather.ambient_c))
    beam = beam_weight.reshape(len(intervals), -1)
    window = np.ones(max(int(CLOUD_S / weather.interval_s * beam.shape[1]), 1))
    window = np.convolve(window, window)
    factors = np.ones(beam.shape)
    for row, (interval, share) in enumerate(zip(intervals.tolist(), shares.tolist(), strict=True)):
        if SHUT_SHARE < share < OPEN_SHARE and beam[row].any():
            noise = np.random.default_rng([seed, interval]).standard_normal(beam.shape[1] + len(window) - 1)
            sunniest = np.argsort(-np.convolve(noise, window, mode="valid"), kind="stable")
            reached = np.cumsum(beam[row][sunniest])
            factors[row][sunniest[1:][reached[1:] > share * reached[-1]]] = THROUGH
    return factors.reshape(-1)
