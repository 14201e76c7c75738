"""What a complete walk must have seen, and what is missing."""

from __future__ import annotations

import numpy as np
from twinloop.control import reasons, settings
from twinloop.control import state as s
from twinloop.reason_texts import ALARM_TEXTS

from . import walk as w

STATUS_NAMES = ("good", "held", "lost", "absent")
WAITS_FROM = 40
AIR_FROM = 60


def reason_names() -> dict[int, str]:
    """The name of every reason code and wait code."""
    return {code: name.lower() for name, code in vars(reasons).items() if name.isupper() and code > 0}


def place_of(code: int) -> int:
    """Where a walk counts a reason of the station, of what an output waits for, or of the fan."""
    if code >= AIR_FROM:
        return w.AIR_SEEN + code
    return w.WAITS_SEEN + code if code >= WAITS_FROM else w.REASONS_SEEN + code


def edge_name(before: int, after: int) -> str:
    return f"{s.DUTY_NAMES[before]} to {s.DUTY_NAMES[after]}"


def wanted_edges(rows) -> list[tuple[int, int]]:
    """Every pair of duties in the table: the row that fits does not depend on the last duty."""
    known = sorted({duty for _, duty, _ in rows})
    return [(a, b) for a in known for b in known if a != b]


def walked_edges(seen: np.ndarray) -> list[tuple[int, int]]:
    """Every pair of two duties that followed each other."""
    count = seen[w.EDGES_SEEN : w.EDGES_SEEN + s.DUTIES * s.DUTIES].reshape(s.DUTIES, s.DUTIES)
    return [(a, b) for a in range(s.DUTIES) for b in range(s.DUTIES) if a != b and count[a, b]]


def missing_pairs(seen: np.ndarray) -> list[str]:
    """Pairs of sensor states that never met; collector and tank sensors are never absent."""
    missing = []
    for sensor in range(s.SENSORS):
        for other in range(sensor + 1, s.SENSORS):
            for status in range(4):
                for second in range(4):
                    never = (status == s.ABSENT and sensor < s.LOOP_SUPPLY) or (second == s.ABSENT and other < s.LOOP_SUPPLY)
                    # The two of the air heater are fitted together.
                    never = never or (sensor == s.AIR_COLLECTOR and (status == s.ABSENT) != (second == s.ABSENT))
                    index = w.PAIRS_SEEN + (sensor * s.SENSORS + other) * 16 + status * 4 + second
                    if not never and not seen[index]:
                        first = f"{s.SENSOR_NAMES[sensor]} {STATUS_NAMES[status]}"
                        missing.append(f"pair {first}, {s.SENSOR_NAMES[other]} {STATUS_NAMES[second]}")
    return missing


def missing_causes(seen: np.ndarray) -> list[str]:
    """Causes that refused no reading: each sensor out of range or too fast, tank_high frozen."""
    wanted = [(sensor, cause) for sensor in range(s.SENSORS) for cause in (s.CAUSE_RANGE, s.CAUSE_RATE)]
    wanted.append((s.TANK_HIGH, s.CAUSE_FROZEN))
    return [
        f"cause {cause} of {s.SENSOR_NAMES[sensor]}" for sensor, cause in wanted if not seen[w.CAUSES_SEEN + sensor * 32 + cause]
    ]


def not_covered(seen: np.ndarray, rows) -> list[str]:
    """The names of everything that should have been seen and was not."""
    names = reason_names()
    missing = [f"row {row}: {s.DUTY_NAMES[rows[row][1]]}, {names[rows[row][2]]}" for row in range(len(rows)) if not seen[row]]
    for code, name in names.items():
        if not seen[place_of(code)]:
            missing.append(f"reason {name}")
    walked = set(walked_edges(seen))
    missing += [f"edge {edge_name(*edge)}" for edge in wanted_edges(rows) if edge not in walked]
    for bit, text in enumerate(ALARM_TEXTS):
        if not seen[w.ALARMS_SEEN + bit]:
            missing.append(f"alarm {bit}: {text}")
    for latch, name in enumerate(w.LATCH_NAMES):
        for place, word in ((w.LATCHES_SET, "set"), (w.LATCHES_CLEARED, "cleared")):
            if not seen[place + latch]:
                missing.append(f"latch {name} {word}")
    return missing + missing_pairs(seen) + missing_causes(seen)


def out_of_table(seen: np.ndarray, rows) -> list[str]:
    """The edges walked that the table does not allow."""
    allowed = set(wanted_edges(rows))
    return [edge_name(*edge) for edge in walked_edges(seen) if edge not in allowed]


def changed_settings(values: np.ndarray) -> dict[str, int]:
    """The settings that differ from their defaults, by name."""
    return {row[0]: int(values[code]) for code, row in enumerate(settings.TABLE) if values[code] != row[4]}
