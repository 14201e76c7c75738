"""What the station does without each sensor and each pair of them: the tables of docs/sensors.md, by running the core itself.

`python -m twinloop_sim.pages.lost_sensors` rewrites them in place.
"""

from __future__ import annotations

from array import array
from itertools import combinations
from pathlib import Path

from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control import station
from twinloop.control.reason_texts import REASON_TEXTS

MARK = "<!-- from here on: generated -->\n"
STEP_MS = 5000
# Long enough for every latch, the valve and the first round of glycol; then long enough for every age limit and alarm.
BEFORE_STEPS = 240
AFTER_STEPS = 60
DUMP_FALL_MC = 100
DUMP_FLOOR_MC = 84000
# Readings in millidegrees in the order of SENSOR_NAMES, and what a builder calls the situation.
SITUATIONS = (
    ("sun, cool tank", (60000, 30000, 40000, 56000, 38000, 20000, 40000, 40000)),
    ("sun, full tank", (97000, 68000, 72000, 94000, 75000, 30000, 45000, 60000)),
    ("frost at the exchanger", (-5000, 30000, 40000, 10000, 8000, -8000, 40000, 2000)),
)


def settle(readings, lost):
    """The firmware's state after the situation has stood for a while and the lost sensors have been silent for minutes."""
    state, settings, inputs = (array("i", [0] * size) for size in (s.STATE, cfg.SETTINGS, s.INPUTS))
    cfg.load_defaults(settings)
    station.wake(state, settings, inputs)
    for sensor, value in enumerate(readings):
        inputs[s.IN_RAW_MC + sensor] = value
    inputs[s.IN_FLOW_CAUSE] = s.CAUSE_SILENT
    for step in range(BEFORE_STEPS + AFTER_STEPS):
        if step == BEFORE_STEPS:
            for sensor in lost:
                inputs[s.IN_RAW_CAUSE + sensor] = s.CAUSE_SILENT
        inputs[s.IN_DT_MS] = STEP_MS
        station.step(state, settings, inputs)
        if state[s.DUTY] == s.DUMPING and state[s.COLLECTOR_PUMP_ON] and inputs[s.IN_RAW_MC + s.COLLECTOR] > DUMP_FLOOR_MC:
            # A dump that works cools the collector.
            inputs[s.IN_RAW_MC + s.COLLECTOR] -= DUMP_FALL_MC
    return state


def cell(readings, lost) -> str:
    """Duty, what is on, and the reason, in words."""
    state = settle(readings, lost)
    on = [name for output, name in enumerate(s.OUTPUT_NAMES) if state[s.COMMAND + output] == 1]
    duty = s.DUTY_NAMES[state[s.DUTY]]
    return f"{duty}; on: {', '.join(on) or 'nothing'}; {REASON_TEXTS[state[s.REASON]]}"


def tables() -> str:
    """One row for each sensor and each pair of them, one column a situation."""
    lines = [f"| lost | {' | '.join(name for name, _ in SITUATIONS)} |", "|---" * (len(SITUATIONS) + 1) + "|"]
    every = range(s.SENSORS)
    for lost in ((), *((sensor,) for sensor in every), *combinations(every, 2)):
        words = " and ".join(f"`{s.SENSOR_NAMES[sensor]}`" for sensor in lost) or "none"
        lines.append(f"| {words} | {' | '.join(cell(readings, lost) for _, readings in SITUATIONS)} |")
    return "\n".join(lines) + "\n"


def renewed(text: str) -> str:
    """The page with its generated part replaced."""
    return text.split(MARK)[0] + MARK + "\n" + tables()


if __name__ == "__main__":
    page = Path("docs/sensors.md")
    page.write_text(renewed(page.read_text()))
