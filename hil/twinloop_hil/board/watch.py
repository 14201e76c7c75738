"""`twinloop board watch`: readings, duty and relays as they change, and a trace of them."""

from __future__ import annotations

import csv
import json
import sys
import time

from twinloop.control import state as s
from twinloop.control.reason_texts import REASON_TEXTS

COLUMNS = ("t_s", *s.SENSOR_NAMES, *s.OUTPUT_NAMES, "duty", "reason", "wait_reason")


def row_of(status: dict) -> list:
    """A row of the trace: uptime, degrees C (empty if unknown), commands, codes."""
    values = ["" if mc == s.UNKNOWN_MC else f"{mc / 1000:.3f}" for mc in status["mc"]]
    return [status["uptime_s"], *values, *status["commands"], status["duty"], status["reason"], status["wait"]]


def lines_of(status: dict) -> list[str]:
    lines = [f"{s.DUTY_NAMES[status['duty']]}: {REASON_TEXTS.get(status['reason'], status['reason'])}"]
    for name, mc in zip(s.SENSOR_NAMES, status["mc"], strict=True):
        lines.append(f"  {name:12} {'---' if mc == s.UNKNOWN_MC else f'{mc / 1000:.1f} C':>9}")
    lines.append(
        "  " + "  ".join(f"{name} {'on' if on else 'off'}" for name, on in zip(s.OUTPUT_NAMES, status["commands"], strict=True))
    )
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


def watch(client, options) -> int:
    """Show the status repeatedly until the time is over or Ctrl-C; returns the exit status."""
    file = open(options.record, "w", newline="") if options.record else None  # noqa: SIM115 - closed below
    end = None if options.seconds is None else time.monotonic() + options.seconds
    rows = 0
    try:
        writer = csv.writer(file) if file else None
        if writer:
            writer.writerow(COLUMNS)
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
    finally:
        if file:
            file.close()
    if options.json:
        print(json.dumps({"looks": rows, "last": status, "files": {"trace": options.record} if options.record else {}}, indent=2))
    return 0
