"""Draw profiles M and L of Regulation (EU) 812/2013, Annex VII Table 3.

Daily sums and the order and energy of each draw were compared with public copies; the clock times
to the minute, the flows and the temperatures are from memory. Cold water is 10 C in the Regulation.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Draw:
    """One draw of hot water.

    Minute of the day, heat in Wh, flow in L/min, temperature from which heat counts, and the peak
    to reach.
    """

    minute: int
    heat_wh: int
    flow_l_per_min: float
    counts_from_c: float
    peak_c: float | None


def _at(clock, heat_wh, flow_l_per_min, counts_from_c, peak_c=None):
    hour, minute = clock.split(":")
    return Draw(60 * int(hour) + int(minute), heat_wh, flow_l_per_min, counts_from_c, peak_c)


PROFILE_M = (
    _at("07:00", 105, 3.0, 25.0),
    _at("07:05", 1400, 6.0, 40.0),
    _at("07:30", 105, 3.0, 25.0),
    _at("08:01", 105, 3.0, 25.0),
    _at("08:15", 105, 3.0, 25.0),
    _at("08:30", 105, 3.0, 25.0),
    _at("08:45", 105, 3.0, 25.0),
    _at("09:00", 105, 3.0, 25.0),
    _at("09:30", 105, 3.0, 25.0),
    _at("10:30", 105, 3.0, 10.0, 40.0),
    _at("11:30", 105, 3.0, 25.0),
    _at("11:45", 105, 3.0, 25.0),
    _at("12:45", 315, 4.0, 10.0, 55.0),
    _at("14:30", 105, 3.0, 25.0),
    _at("15:30", 105, 3.0, 25.0),
    _at("16:30", 105, 3.0, 25.0),
    _at("18:00", 105, 3.0, 25.0),
    _at("18:15", 105, 3.0, 40.0),
    _at("18:30", 105, 3.0, 40.0),
    _at("19:00", 105, 3.0, 25.0),
    _at("20:30", 735, 4.0, 10.0, 55.0),
    _at("21:15", 105, 3.0, 25.0),
    _at("21:30", 1400, 6.0, 40.0),
)

PROFILE_L = (
    _at("07:00", 105, 3.0, 25.0),
    _at("07:05", 1400, 6.0, 40.0),
    _at("07:30", 105, 3.0, 25.0),
    _at("07:45", 105, 3.0, 25.0),
    _at("08:05", 3605, 10.0, 10.0, 40.0),
    _at("08:25", 105, 3.0, 25.0),
    _at("08:30", 105, 3.0, 25.0),
    _at("08:45", 105, 3.0, 25.0),
    _at("09:00", 105, 3.0, 25.0),
    _at("09:30", 105, 3.0, 25.0),
    _at("10:30", 105, 3.0, 10.0, 40.0),
    _at("11:30", 105, 3.0, 25.0),
    _at("11:45", 105, 3.0, 25.0),
    _at("12:45", 315, 4.0, 10.0, 55.0),
    _at("14:30", 105, 3.0, 25.0),
    _at("15:30", 105, 3.0, 25.0),
    _at("16:30", 105, 3.0, 25.0),
    _at("18:00", 105, 3.0, 25.0),
    _at("18:15", 105, 3.0, 40.0),
    _at("18:30", 105, 3.0, 40.0),
    _at("19:00", 105, 3.0, 25.0),
    _at("20:30", 735, 4.0, 10.0, 55.0),
    _at("21:00", 3605, 10.0, 10.0, 40.0),
    _at("21:30", 105, 3.0, 25.0),
)

PROFILES = {"M": PROFILE_M, "L": PROFILE_L}


def daily_kwh(profile):
    """Return a day's heat in kWh, the sum of its draws. Args: `profile` (sequence of Draw)."""
    return sum(draw.heat_wh for draw in profile) / 1000.0


def scale_for_kwh(profile, household_kwh):
    """Return the factor that scales a profile's day to a household's.

    Args: `profile` (sequence of Draw), `household_kwh` (kWh per day, 0 or more). Returns: factor
    for `draw_table`. Raises: ValueError when negative. Source: definition.
    """
    if household_kwh < 0.0:
        raise ValueError(f"household_kwh = {household_kwh:g}: allowed 0 or more, kWh per day")
    return household_kwh / daily_kwh(profile)
