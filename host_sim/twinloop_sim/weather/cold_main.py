"""The temperature of the cold main over the year."""

import numpy as np

from ..thermal import parameters as p

YEAR_DAYS = 365.0


def cold_main_c(day_of_year, values):
    """Return the cold main's temperature, C, never below 1 C, in the shape of `day_of_year`.

    Args: `day_of_year` (1 to 366, fractions allowed), `values` (from plant_values). Source: common
    practice: a sine around the yearly mean of the air, damped and delayed like the ground.
    """
    phase = 2.0 * np.pi * (np.asarray(day_of_year) - values[p.COLD_MAIN_WARMEST_DAY]) / YEAR_DAYS
    return np.maximum(values[p.COLD_MAIN_MEAN_C] + values[p.COLD_MAIN_SWING_K] * np.cos(phase), 1.0)
