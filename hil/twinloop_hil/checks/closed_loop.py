"""The simulated plant behind the board's link: days of weather, every decision compared with the in-process run."""

from __future__ import annotations

import sys
import time

from twinloop.control import state as s

from .frame import SIMULATION, Check

LINE_EVERY_S = 0.2


def progress_line(stream):
    """Returns a function that keeps one line with simulated time, duty and temperatures up to date, where somebody can see it."""
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
    """Steps in which the board's commands, duty, reason or wait differ from the in-process run of the same plant."""
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
        "a day of the demo's week (--days for more) with the simulated plant at the link, against the in-process run",
        "steps",
        15,
        measure_days,
        SIMULATION,
    ),
)
