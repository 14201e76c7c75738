"""Draw profiles M and L of Regulation (EU) 812/2013, Annex VII Table 3.

Daily sums and the order and energy of each draw were compared with public copies; the clock times
to the minute, the flows and the temperatures are from memory. Cold water is 10 C in the Regulation.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Draw:
    """One draw of hot water; heat counts from one temperature, and the peak is to be reached."""

    minute: int
    heat_wh: int
    flow_l_per_min: float
    counts_from_c: float
    peak_c: float | None


def _draws(clocks, heat_wh, flow_l_per_min, counts_from_c, peak_c=None):
    times = (clock.split(":") for clock in clocks.split())
    return [Draw(60 * int(hour) + int(minute), heat_wh, flow_l_per_min, counts_from_c, peak_c) for hour, minute in times]


def _profile(*draws):
    return tuple(sorted([*_IN_BOTH, *draws], key=lambda draw: draw.minute))


_IN_BOTH = (
    *_draws("07:00 07:30 08:30 08:45 09:00 09:30 11:30 11:45 14:30 15:30 16:30 18:00 19:00", 105, 3.0, 25.0),
    *_draws("07:05", 1400, 6.0, 40.0),
    *_draws("10:30", 105, 3.0, 10.0, 40.0),
    *_draws("12:45", 315, 4.0, 10.0, 55.0),
    *_draws("18:15 18:30", 105, 3.0, 40.0),
    *_draws("20:30", 735, 4.0, 10.0, 55.0),
)
PROFILE_M = _profile(*_draws("08:01 08:15 21:15", 105, 3.0, 25.0), *_draws("21:30", 1400, 6.0, 40.0))
PROFILE_L = _profile(*_draws("07:45 08:25 21:30", 105, 3.0, 25.0), *_draws("08:05 21:00", 3605, 10.0, 10.0, 40.0))
PROFILES = {"M": PROFILE_M, "L": PROFILE_L}


def daily_kwh(profile):
    """Return a day's heat in kWh, the sum of its draws. Args: `profile` (sequence of Draw)."""
    return sum(draw.heat_wh for draw in profile) / 1000.0
