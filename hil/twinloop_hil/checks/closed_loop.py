"""The board controls the simulated plant; its decisions are compared with the in-process run."""

from __future__ import annotations

import sys
import time

from twinloop.control import state as s

from .frame import SIMULATION, Check

LINE_EVERY_S = 0.2


def progress_line(stream):
    """A function that shows simulated time, duty and temperatures in one line of a terminal."""
    shown = {"at": 0.0, "width": 0}

    def show(time_s: float, days: int, duty: int, readings_mc) -> None:
        if not stream.isatty() or time.monotonic() - shown["at"] < LINE_EVERY_S:
            return
        day, rest = divmod(int(time_s), 86400)
        sensors = ", ".join(f"{name} {readings_mc[k] / 1000:.1f}" for k, name in enumerate(s.SENSOR_NAMES[:4]))
        line = f"  day {day + 1} of {days}, {rest // 3600:02d}:{rest % 3600 // 60:02d}  {s.DUTY_NAMES[duty]:15}  {sensors} C"
        print("\r" + line.ljust(shown["width"]), end="", file=stream, flush=True)
        shown.update(at=time.monotonic(), width=len(line))

    return show


def measure_days(bench):
    from twinloop_sim import closed_loop, scenarios

    scenario = scenarios.load(scenarios.DEFAULT)
    scenario.days = bench.days
    bench.client.hold_settings(scenario.settings)
    found = closed_loop.over_link(scenario, bench.client, progress_line(sys.stderr), real_time=bench.real_time)
    if sys.stderr.isatty():
        print("\r" + " " * 100 + "\r", end="", file=sys.stderr, flush=True)
    bench.restore_settings()
    hours = ", ".join(f"{name} {value:g} h" for name, value in found.duty_hours.items())
    rate = found.steps / found.wall_s
    detail = f"of {found.steps} steps of {scenario.name}, {bench.days} day(s), {rate:.0f} steps/s; {hours}"
    if found.first_difference is not None:
        detail += f"; first at step {found.first_difference}"
    return found.differences, 0, 0, detail


CHECKS = (
    Check(
        "days-of-weather",
        "the board decides a simulated day like the in-process run (--days for more)",
        "steps",
        15,
        measure_days,
        SIMULATION,
    ),
)
