"""Elapsed seconds as day and time of day."""

import re
from calendar import month_name
from datetime import datetime, timedelta

# The year is never shown. It must have no 29 February, like a typical year.
YEAR = 2001
START = re.compile(r"\s*(\d{1,2})\s+([A-Za-z]{3,9})\.?[\s,]+(\d{1,2}):(\d{2})\b")


class Clock:
    """Turns the elapsed seconds of a run into day and time of day.

    `start` begins with day, month and time, such as "3 May, 00:00, clock time". With any other
    start the days are numbered from day 1, 00:00, and `dated` is False.
    """

    def __init__(self, start):
        first = _read(start)
        self.dated = first is not None
        self.first = first or datetime(YEAR, 1, 1)
        # A d3 time format, for the axis and the hover box.
        self.axis_day = "%-d %b" if self.dated else "day %-j"

    def moment(self, t_s):
        """Return the moment `t_s` seconds after the start, as a datetime of no particular year."""
        return self.first + timedelta(seconds=float(t_s))

    def day(self, t_s):
        """Return the day in words, such as "4 May" or "day 2"; `t_s` in s since the start."""
        moment = self.moment(t_s)
        if self.dated:
            return f"{moment.day} {month_name[moment.month][:3]}"
        return f"day {(moment - self.first).days + 1}"

    def time(self, t_s):
        """Return the time of day, such as "09:41"; `t_s` in s since the start."""
        return self.moment(t_s).strftime("%H:%M")

    def day_and_time(self, t_s):
        """Return day and time of day, such as "4 May, 09:41"; `t_s` in s since the start."""
        return f"{self.day(t_s)}, {self.time(t_s)}"


def _read(start):
    found = START.match(start)
    if found is None:
        return None
    day, month_text, hour, minute = found.groups()
    for month, name in enumerate(month_name):
        if month and name.lower().startswith(month_text.lower()):
            try:
                return datetime(YEAR, month, int(day), int(hour), int(minute))
            except ValueError:
                return None
    return None


def duration(seconds):
    """Return `seconds` in words, such as "2 h 05 min", "3 min 20 s", "5 min" or "5 s"."""
    whole = int(round(float(seconds)))
    if whole >= 3600:
        minutes = (whole + 30) // 60
        return f"{minutes // 60} h {minutes % 60:02d} min"
    if whole >= 60:
        return f"{whole // 60} min {whole % 60:02d} s" if whole % 60 else f"{whole // 60} min"
    return f"{whole} s"
