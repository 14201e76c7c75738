"""All checks of the bench, in groups and in running order: checks that move no relay first."""

from . import air, closed_loop, endurance, interlocks, limits, link, mishaps, relays, sensors, switching, timing, torture

# Name of the group: its subject, its checks.
GROUPS = {
    "link": ("calls and answers, and the effect of corrupt lines", (*link.CHECKS, *torture.CHECKS)),
    "sensors": ("every sensor: read, compared, lost and restored", sensors.CHECKS),
    "switching": (
        "differences, limits, resets and times, measured by slow ramps",
        (*switching.CHECKS, *limits.CHECKS, *timing.CHECKS, *air.CHECKS),
    ),
    "interlocks": ("the relay-truth sequences, through the link", interlocks.CHECKS),
    "endurance": ("thousands of steps, memory, clock", endurance.CHECKS),
    "closed-loop": ("the board controls the simulated plant", closed_loop.CHECKS),
    "relays": ("each relay by itself; mains must be off", relays.CHECKS),
    "faults": ("faults after which the board must become safe by itself; relays move", mishaps.CHECKS),
}
ALL = tuple(check for _, checks in GROUPS.values() for check in checks)
for _name, (_, _checks) in GROUPS.items():
    for _check in _checks:
        _check.group = _name
