"""Day and clock: a dated start gives dates, any other gives numbered days."""

import pytest
from twinloop_sim.sheets.clock import Clock, duration

DAY_S = 86400.0


def test_a_dated_start():
    clock = Clock("3 May, 00:00, clock time")
    assert clock.dated
    assert clock.day_and_time(0) == "3 May, 00:00"
    assert clock.day_and_time(29 * DAY_S + 45296) == "1 Jun, 12:34"


def test_a_start_at_midday_changes_day_at_midnight():
    clock = Clock("31 December, 12:00")
    assert clock.day_and_time(12 * 3600 - 1) == "31 Dec, 23:59"
    assert clock.day_and_time(12 * 3600) == "1 Jan, 00:00"


@pytest.mark.parametrize("start", ["", "noon", "31 April, 00:00", "3 Smarch, 00:00", "3 May, 25:00"])
def test_any_other_start_numbers_the_days(start):
    clock = Clock(start)
    assert not clock.dated
    assert clock.day_and_time(0) == "day 1, 00:00"
    assert clock.day_and_time(DAY_S + 60) == "day 2, 00:01"


def test_a_year_of_numbered_days_goes_on():
    assert Clock("").day(400 * DAY_S) == "day 401"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0 s"),
        (59.4, "59 s"),
        (60, "1 min"),
        (200, "3 min 20 s"),
        (3600, "1 h 00 min"),
        (7499, "2 h 05 min"),
        (86400, "24 h 00 min"),
    ],
)
def test_durations(seconds, words):
    assert duration(seconds) == words
