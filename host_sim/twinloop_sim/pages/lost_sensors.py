"""The tables of docs/sensors.md, made by running the control core without sensors.

`python -m twinloop_sim.pages.lost_sensors` rewrites them in place.
"""

from __future__ import annotations

from array import array
from dataclasses import dataclass
from itertools import combinations
from textwrap import fill

from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control import station
from twinloop.control.alarms import LOST_LIMIT_MS
from twinloop.reason_texts import REASON_TEXTS

from . import renew

STEP_MS = 5000
# Enough for every latch, the valve and the first round of glycol.
BEFORE_STEPS = 240
# Enough for every age limit and alarm.
AFTER_STEPS = 60
DUMP_FALL_MC = 100
DUMP_FLOOR_MC = 84000
# Readings of the water side in millidegrees, in the order of SENSOR_NAMES.
SITUATIONS = {
    "Sun, cool tank": (60000, 30000, 40000, 56000, 38000, 20000, 40000, 40000),
    "Sun, full tank": (97000, 68000, 72000, 94000, 75000, 30000, 45000, 60000),
    "Frost at the exchanger": (-5000, 30000, 40000, 10000, 8000, -8000, 40000, 2000),
}


@dataclass(frozen=True)
class Outcome:
    """What the station settles on: duty and reason in words, and the outputs that are on."""

    duty: str
    on: tuple[str, ...]
    reason: str


def settle(readings, lost):
    """The state after the readings have lasted and the lost sensors have been silent a while."""
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
            # A working dump cools the collector.
            inputs[s.IN_RAW_MC + s.COLLECTOR] -= DUMP_FALL_MC
    return state


def outcome(readings, lost) -> Outcome:
    """What the station settles on without these sensors."""
    state = settle(readings, lost)
    on = tuple(name for output, name in enumerate(s.OUTPUT_NAMES) if state[s.COMMAND + output] != 0)
    return Outcome(s.DUTY_NAMES[state[s.DUTY]], on, REASON_TEXTS[state[s.REASON]])


def follows(pair: Outcome, one: Outcome, other: Outcome) -> bool:
    """Whether a pair does what its stricter sensor does alone: the one with fewer outputs on."""
    if len(one.on) == len(other.on):
        return pair == one == other
    return pair == min(one, other, key=lambda single: len(single.on))


def rows(readings) -> list[tuple[str, Outcome]]:
    """Words and outcome: nothing, unusual sensors, all others, and pairs that do not follow."""
    singles = [outcome(readings, (sensor,)) for sensor in range(len(readings))]
    usual = max(singles, key=singles.count)
    found = [("nothing", outcome(readings, ()))]
    found += [(f"`{name}`", single) for name, single in zip(s.SENSOR_NAMES, singles, strict=False) if single != usual]
    found.append(("any other sensor", usual))
    for one, other in combinations(range(len(readings)), 2):
        pair = outcome(readings, (one, other))
        if not follows(pair, singles[one], singles[other]):
            found.append((f"`{s.SENSOR_NAMES[one]}` and `{s.SENSOR_NAMES[other]}`", pair))
    return found


def table(name: str, readings) -> list[str]:
    shown = [f"{sensor} {value / 1000:g}" for sensor, value in zip(s.SENSOR_NAMES, readings, strict=False)]
    lines = [f"### {name}", "", fill(f"Readings in C: {', '.join(shown)}.", 100), ""]
    lines += ["| lost | duty | on | because |", "|---|---|---|---|"]
    for words, found in rows(readings):
        lines.append(f"| {words} | `{found.duty}` | {', '.join(found.on) or 'nothing'} | {found.reason} |")
    return lines


def tables() -> str:
    alarm = fill(
        f"The tables say what is on {AFTER_STEPS * STEP_MS // 60000} minutes after the loss. The contact of `alarm` closes "
        f"{LOST_LIMIT_MS // 1000} s after a sensor's status has become `lost`; on frost at the exchanger it closes at once.",
        100,
    )
    return "\n\n".join([alarm, *("\n".join(table(name, readings)) for name, readings in SITUATIONS.items())]) + "\n"


if __name__ == "__main__":
    renew("docs/sensors.md", tables())
