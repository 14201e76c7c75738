"""The bench's checks, one file a subject, in groups; the order is that in which they run: what moves no relay comes first."""

from . import closed_loop, endurance, interlocks, limits, link, mishaps, relays, sensors, switching, timing, torture

# Name, what it is about, checks.
GROUPS = {
    "link": ("questions and answers, and what corrupt lines do to the board", (*link.CHECKS, *torture.CHECKS)),
    "sensors": ("every sensor read, compared, lost and found again", sensors.CHECKS),
    "switching": ("differences, limits, resets and times found by slow ramps", (*switching.CHECKS, *limits.CHECKS, *timing.CHECKS)),
    "interlocks": ("the relay-truth sequences through the link", interlocks.CHECKS),
    "endurance": ("thousands of steps, memory, clock", endurance.CHECKS),
    "closed-loop": ("the simulated plant behind the board", closed_loop.CHECKS),
    "relays": ("each relay by itself; mains has to be off", relays.CHECKS),
    "faults": ("what must end safe by itself; relays move", mishaps.CHECKS),
}
ALL = tuple(check for _, checks in GROUPS.values() for check in checks)
for _name, (_, _checks) in GROUPS.items():
    for _check in _checks:
        _check.group = _name
