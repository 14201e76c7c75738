"""The bench's checks, one file a group; ALL is the order in which they run: what moves no relay comes first."""

from . import limits, link, mishaps, sensors, switching, timing

ALL = (*link.CHECKS, *switching.CHECKS, *limits.CHECKS, *timing.CHECKS, *sensors.CHECKS, *mishaps.CHECKS)
