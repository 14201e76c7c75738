"""What happened, day by day: stretches of one duty for one reason, grouped for reading."""

from dataclasses import dataclass

from twinloop.control import reasons as why
from twinloop.control import state as s

from .reduce import segments

ROWS_MAX = 60
# Idle for one of these reasons is a quiet hour.
QUIET = (why.NO_DIFFERENCE, why.COLLECTOR_COOL)


@dataclass
class Happening:
    """All stretches of one duty for one reason that began on one day; in s since the start."""

    first_s: float
    last_s: float
    duty: int
    reason: int
    times: int
    total_s: float


def happenings(trace, step_s, clock):
    """Return what happened, as `Happening`s in order of their first moment."""
    t_s = trace["t_s"]
    first, end, code = segments(trace["duty"].astype("int64") * 1000 + trace["reason"].astype("int64"))
    groups = {}
    for a, b, both in zip(first.tolist(), end.tolist(), code.tolist(), strict=True):
        begin = float(t_s[a])
        finish = float(t_s[b]) if b < len(t_s) else float(t_s[-1]) + step_s
        key = (clock.moment(begin).date(), both)
        if key not in groups:
            groups[key] = Happening(begin, finish, both // 1000, both % 1000, 0, 0.0)
        group = groups[key]
        group.last_s, group.times, group.total_s = finish, group.times + 1, group.total_s + finish - begin
    return list(groups.values())


def listed(found, rows_max=ROWS_MAX):
    """Return the happenings that a page lists, the quiet ones and the rest, which it only counts.

    When there are too many, quiet hours are dropped first, then the latest.
    """
    if len(found) <= rows_max:
        return found, [], []
    quiet = [h for h in found if h.duty == s.IDLE and h.reason in QUIET]
    others = [h for h in found if not (h.duty == s.IDLE and h.reason in QUIET)]
    return others[:rows_max], quiet, others[rows_max:]
