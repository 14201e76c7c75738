"""`twinloop board watch`: readings, duty and relays as they change, and a trace of them."""

from __future__ import annotations

import contextlib
import csv
import json
import os
import sys
import time

from twinloop.control import state as s
from twinloop.reason_texts import REASON_TEXTS

# Supply less return in full sun, some minutes after the start. Common practice: 0.5 to 1 L/min for
# a square metre of collector; a loop built for low flow has twice as much and more.
NOON_K = (8, 16)
COLUMNS = ("t_s", *s.SENSOR_NAMES, *s.OUTPUT_NAMES, "duty", "reason", "wait_reason")


def row_of(status: dict) -> list:
    """A row of the trace: uptime, degrees C (empty if unknown), commands, codes."""
    values = ["" if mc == s.UNKNOWN_MC else f"{mc / 1000:.3f}" for mc in status["mc"]]
    return [status["uptime_s"], *values, *status["commands"], status["duty"], status["reason"], status["wait"]]


def flow_line(status: dict) -> str | None:
    """What supply less return says about the flow while both pumps charge; None otherwise."""
    supply, back = status["mc"][s.LOOP_SUPPLY], status["mc"][s.LOOP_RETURN]
    on = status["commands"][s.COLLECTOR_PUMP] and status["commands"][s.TANK_PUMP]
    if status["duty"] != s.CHARGING or not on or s.UNKNOWN_MC in (supply, back):
        return None
    fall_k = (supply - back) / 1000
    low, high = NOON_K
    advice = f"usual on a clear noon: {low} to {high} K"
    if fall_k > high:
        advice += "; more flow would bring more heat: the pump's next speed, or the valve wider open"
    elif fall_k < low:
        advice += "; at noon less flow would bring as much heat for less current"
    return f"  flow: supply is {fall_k:.1f} K above return ({advice})"


def lines_of(status: dict) -> list[str]:
    lines = [f"{s.DUTY_NAMES[status['duty']]}: {REASON_TEXTS.get(status['reason'], status['reason'])}"]
    for name, mc, trust in zip(s.SENSOR_NAMES, status["mc"], status["status"], strict=True):
        if trust == s.ABSENT:
            continue
        lines.append(f"  {name:12} {'---' if mc == s.UNKNOWN_MC else f'{mc / 1000:.1f} C':>9}")
    lines.append(
        "  " + "  ".join(f"{name} {'on' if on else 'off'}" for name, on in zip(s.OUTPUT_NAMES, status["commands"], strict=True))
    )
    # Always there, so that the table keeps its height.
    lines.append(flow_line(status) or "")
    return lines


def show(status: dict, first: bool, as_json: bool) -> None:
    """Print a status: a redrawn table on a terminal, one line elsewhere, nothing with --json."""
    if as_json:
        return
    lines = lines_of(status)
    if sys.stdout.isatty():
        if not first:
            sys.stdout.write(f"\x1b[{len(lines)}A")
        sys.stdout.write("".join(f"\x1b[2K{line}\n" for line in lines))
    else:
        print(f"{status['uptime_s']} s  " + "  ".join(" ".join(line.split()) for line in lines))
    sys.stdout.flush()


@contextlib.contextmanager
def recording(name: str | None, append: bool):
    """The open file for a trace, with its heading; None without a name.

    Raises ValueError for a file that is there unless it is to be appended to, and for one that
    cannot be written or is no such trace.
    """
    if name is None:
        if append:
            raise ValueError("--append: needs --record FILE")
        yield None
        return
    if not name.strip():
        raise ValueError("--record: empty; name a file")
    fresh = not os.path.exists(name)
    try:
        file = open(name, "a+" if append else "x", newline="", encoding="utf-8")  # noqa: SIM115 - closed below
    except FileExistsError:
        raise ValueError(f"--record {name}: is there already; name another file, or add to it with --append") from None
    except (OSError, ValueError) as fault:
        raise ValueError(f"--record {name}: cannot be written ({getattr(fault, 'strerror', None) or fault})") from None
    with file:
        begun = begin_trace(file)
        try:
            yield file
        finally:
            if fresh and file.tell() == begun:
                # Without a board there are no rows: the next call may use the same name.
                os.remove(name)


def begin_trace(file) -> int:
    """Write the heading of a new trace; returns where its rows begin. ValueError for another."""
    heading = ",".join(COLUMNS)
    file.seek(0)
    try:
        found = file.readline().rstrip("\r\n") if file.readable() else ""
    except UnicodeDecodeError:
        found = "no text"
    if found not in ("", heading):
        raise ValueError(f"--record {file.name}: not a trace of this version's `board watch`; name another file")
    file.seek(0, os.SEEK_END)
    if not found:
        csv.writer(file).writerow(COLUMNS)
    return file.tell()


def watch(client, options, file) -> int:
    """Show the status repeatedly until the time is over or Ctrl-C; returns the exit status."""
    end = None if options.seconds is None else time.monotonic() + options.seconds
    rows = 0
    try:
        writer = csv.writer(file) if file else None
        while True:
            status = client.status()
            show(status, rows == 0, options.json)
            if writer:
                writer.writerow(row_of(status))
                file.flush()
            rows += 1
            if end is not None and time.monotonic() >= end:
                break
            time.sleep(options.every)
    except KeyboardInterrupt:
        pass
    if options.json:
        print(json.dumps({"looks": rows, "last": status, "files": {"trace": options.record} if options.record else {}}, indent=2))
    return 0
