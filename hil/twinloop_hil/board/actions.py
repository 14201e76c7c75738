"""The actions of `twinloop board`: opens the board and carries out one action."""

from __future__ import annotations

import contextlib
import difflib
import json
import sys

from serial.tools import list_ports
from twinloop import reason_texts
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.event_log import ALARMS_CHANGED, DUTY_CHANGED, KIND_NAMES, SENSOR_BACK, SENSOR_LOST, SETTING_DEFAULTED, START
from twinloop.store import OUT_OF_RANGE, firmware_hash

from .. import ports
from ..client import Client, LinkError, RefusedError, SerialTransport
from ..firmware_files import PACKAGE, board_data, board_names
from ..virtual.board import NoInterpreterError, VirtualBoard
from .fit import first_readings, starting
from .flash import FlashError, flash
from .hands import held_facts, held_lines
from .image import CompileError, build
from .prompt import PromptError

START_TEXTS = {
    0: "unknown",
    1: "power-on",
    2: "software restart, or a crash",
    3: "watchdog, or software restart",
    4: "deep sleep",
    5: "soft reset",
}


class FailedError(RuntimeError):
    """The action failed; the text is the line to print, the exit status is 1."""


@contextlib.contextmanager
def opened_port(options, bare: bool = False):
    """The name of the port; a virtual board exists for as long as this context."""
    port = ports.chosen(options.port)
    if options.micropython is not None and port != "virtual":
        raise ValueError(f"--micropython {options.micropython}: only for `--port virtual`")
    if options.port is None:
        print(f"twinloop board {options.action}: port {port}, the only board that is plugged in", file=sys.stderr)
    if port != "virtual":
        yield port
        return
    with VirtualBoard(options.micropython, bare=bare) as board:
        yield board.port


@contextlib.contextmanager
def opened(options):
    """A client of the chosen board."""
    with opened_port(options) as port, Client(SerialTransport(port)) as client:
        yield client


def sensor_number(name: str) -> int:
    """The number of a sensor given by name. Raises ValueError."""
    if name not in s.SENSOR_NAMES:
        raise ValueError(f"sensor {name}: not known; allowed {', '.join(s.SENSOR_NAMES)}")
    return s.SENSOR_NAMES.index(name)


def say(options, facts: dict, text: str) -> None:
    """Print the answer as JSON or as text."""
    print(json.dumps(facts, indent=2) if options.json else text)


def celsius(mc: int) -> float | None:
    """Degrees C, or None for an unknown value."""
    return None if mc == s.UNKNOWN_MC else mc / 1000


def shown_c(mc: int) -> str:
    """Degrees C with one decimal, or dashes."""
    return "---" if mc == s.UNKNOWN_MC else f"{mc / 1000:.1f} C"


def do_list(options) -> int:
    rows = []
    for port in list_ports.comports():
        row = {"port": port.device, "what": port.description, "board": ports.is_board(port), "answer": None}
        if options.ask and row["board"]:
            try:
                with Client(SerialTransport(port.device), tries=1) as client:
                    row["answer"] = f"{client.facts['board']}, firmware {client.facts['firmware']}, {client.facts['state']}"
            except (LinkError, RefusedError) as fault:
                row["answer"] = str(fault)
        rows.append(row)
    lines = [
        f"{row['port']}: {row['what']}"
        + (" (looks like a board)" if row["board"] else "")
        + (f": {row['answer']}" if row["answer"] else "")
        for row in rows
    ]
    say(options, {"ports": rows}, "\n".join([*lines, "virtual: a virtual board, without hardware"]))
    return 0


def progress_line(done: int, size: int) -> None:
    """Show on a terminal how far the upload is."""
    if sys.stderr.isatty():
        sys.stderr.write(f"\r  {100 * done // size:3d} % written and compared" + ("\n" if done == size else ""))
        sys.stderr.flush()


def do_flash(options) -> int:
    board_data(options.board)
    with opened_port(options, bare=True) as port:
        facts = flash(port, options.board, progress_line)
    check = facts["self_check"]
    lines = [
        f"{facts['board']}: firmware {facts['firmware']}, {facts['files']} files, {facts['bytes']} bytes",
        f"MicroPython {facts['micropython']}; started from folder {facts['folder']}; state: {facts['state']}",
        f"{check['heap_free']} bytes of memory free",
        "settings and sensors are kept; twinloop board log names a setting that had to take its default",
        "once you have checked the board, put it into service (twinloop board commission)",
        *(f"! {words}" for words in facts["cautions"]),
    ]
    say(options, facts, "\n".join(lines))
    return 0


def sensor_status(status: int, cause: int) -> str:
    """A sensor's status in words; one without a fault that has not measured yet is not lost."""
    return "no reading yet" if starting(status, cause) else reason_texts.STATUS_TEXTS[status]


def firmware_here(facts: dict) -> str | None:
    """The hash of this computer's firmware for a board; None when the board's file is your own."""
    if facts["board"] not in board_names():
        return None
    # A virtual board that ends with its command runs the sources.
    sources = firmware_hash(str(PACKAGE)) if facts["board"] == "virtual" else ""
    return sources if sources == facts["firmware"] else build(facts["board"]).firmware


def do_status(options) -> int:
    with opened(options) as client:
        status = first_readings(client)
        check = client.call("self_check")
        meter = read_meter(client)
        facts = client.facts
    own = firmware_here(facts)
    sensors = {
        name: {
            "c": celsius(status["mc"][k]),
            "status": sensor_status(status["status"][k], status["cause"][k]),
            "cause": reason_texts.CAUSE_TEXTS[status["cause"][k]],
        }
        for k, name in enumerate(s.SENSOR_NAMES)
    }
    alarms = [text for bit, text in enumerate(reason_texts.ALARM_TEXTS) if status["alarms"] >> bit & 1]
    document = {
        "board": facts["board"],
        "micropython": facts["interpreter"],
        "firmware": facts["firmware"],
        "firmware_here": own,
        "settings_schema": facts["schema"],
        "state": status["state"],
        "duty": s.DUTY_NAMES[status["duty"]],
        "reason": reason_texts.REASON_TEXTS[status["reason"]],
        "waits": reason_texts.REASON_TEXTS[status["wait"]] if status["wait"] else None,
        "air": reason_texts.REASON_TEXTS[status["air"]] if status.get("air") else None,
        "relays": dict(zip(s.OUTPUT_NAMES, status["commands"], strict=True)),
        "sensors": sensors,
        "alarms": alarms,
        "started_by": START_TEXTS.get(status["start_cause"], str(status["start_cause"])),
        "resets": status["resets"],
        "last_fault": status["fault"],
        "uptime_s": status["uptime_s"],
        "self_check": check,
        "meter": meter,
        "held": held_facts(status),
    }
    say(options, document, status_text(document))
    return 0


def read_meter(client: Client) -> dict | None:
    """What the station has done so far, in hours, starts and kWh; None from older firmware."""
    try:
        told = client.call("meter")
    except RefusedError:
        return None
    return {
        "run_hours": {name: told["on_s"][k] / 3600 for k, name in enumerate(s.OUTPUT_NAMES)},
        "starts": {name: told["starts"][k] for k, name in enumerate(s.OUTPUT_NAMES)},
        "duty_hours": {name: told["duty_s"][k] / 3600 for k, name in enumerate(s.DUTY_NAMES)},
        "stagnation_hours": told["stagnation_s"] / 3600,
        "charged_kwh": told["heat_wh"] / 1000,
        "dumped_kwh": told["dumped_wh"] / 1000,
        "hours_since_hot": told["since_hot_s"] / 3600,
        "filter_hours": told.get("filter_s", 0) / 3600,
    }


def meter_lines(meter: dict) -> list[str]:
    """The meter for a person: outputs that ever ran, duties that ever were, heat."""
    ran = [f"{name} {hours:.1f} h, starts: {meter['starts'][name]}" for name, hours in meter["run_hours"].items() if hours]
    duties = [f"{name} {hours:.1f} h" for name, hours in meter["duty_hours"].items() if hours]
    lines = [
        f"ran so far: {'; '.join(ran) or 'nothing'}",
        f"duties so far: {', '.join(duties) or 'none'}; collector at its limit {meter['stagnation_hours']:.1f} h",
        f"heat, estimated: {meter['charged_kwh']:.1f} kWh charged, {meter['dumped_kwh']:.1f} kWh dumped",
        f"{meter['hours_since_hot']:.1f} h since the tank was last at 60 C for an hour, or since the meter began",
    ]
    if meter["filter_hours"]:
        lines.append(f"the fan's filter has served {meter['filter_hours']:.0f} h (`board filter` when it is new)")
    return lines


def status_text(facts: dict) -> str:
    here = facts["firmware_here"] or "not known, the board file is your own"
    same = "same as here" if facts["firmware"] == here else f"here: {here}"
    place = "on the bench" if facts["state"] == "bench" else "in service"
    lines = [
        f"{facts['board']}: MicroPython {facts['micropython']}, firmware {facts['firmware']} ({same}), {place}",
        f"duty {facts['duty']}: {facts['reason']}" + (f"; {facts['waits']}" if facts["waits"] else ""),
        "relays: " + ", ".join(f"{name} {'on' if on else 'off'}" for name, on in facts["relays"].items()),
    ]
    if facts["air"]:
        lines.append(f"air heater: {facts['air']}")
    for name, row in facts["sensors"].items():
        value = "---" if row["c"] is None else f"{row['c']:.1f} C"
        cause = "" if row["cause"] == "no fault" else f" ({row['cause']})"
        lines.append(f"  {name:12} {value:>9}  {row['status']}{cause}")
    lines += held_lines(facts["held"])
    lines += [f"! {text}" for text in facts["alarms"]]
    hours, rest = divmod(facts["uptime_s"], 3600)
    lines.append(f"up {hours} h {rest // 60} min, started by {facts['started_by']}; resets that count: {facts['resets']}")
    if facts["meter"]:
        lines += meter_lines(facts["meter"])
    failures = facts["self_check"].get("flash_failures", 0)
    if failures:
        lines.append(f"the flash has refused {failures} times since the start")
    if facts["last_fault"]:
        lines.append(f"last fault: {facts['last_fault']}")
    return "\n".join(lines)


def parse_changes(texts: list[str]) -> dict[int, int]:
    """New values by setting code, from NAME=VALUE texts. Raises ValueError, one line."""
    from twinloop_sim.sheets import quantities

    names = [row[0] for row in cfg.TABLE]
    changes = {}
    for text in texts:
        name, given, value = text.partition("=")
        if not given:
            raise ValueError(f"--set {text}: allowed NAME=VALUE")
        if name not in names:
            near = difflib.get_close_matches(name, names, 3)
            raise ValueError(f"setting {name}: not known" + (f"; similar: {', '.join(near)}" if near else ""))
        code = names.index(name)
        changes[code] = quantities.parse_setting(name, cfg.TABLE[code][1], value)
        low, high = cfg.TABLE[code][2:4]
        if not low <= changes[code] <= high:
            raise ValueError(quantities.explain_rule(cfg.RULE_RANGE + code, {code: changes[code]}))
    return changes


def do_settings(options) -> int:
    from twinloop_sim.sheets import quantities

    changes = parse_changes(options.changes)
    with opened(options) as client:
        values, sequence = client.settings()
        if changes:
            wanted = list(values)
            for code, value in changes.items():
                wanted[code] = value
            rule = cfg.broken_rule(wanted)
            if rule != cfg.RULE_OK:
                raise ValueError(quantities.explain_rule(rule, wanted))
            sequence = client.change_settings(changes)
            values = wanted
    rows = []
    for (name, unit, low, high, default, why), value in zip(cfg.TABLE, values, strict=True):
        shown = [quantities.show_setting(name, unit, number) for number in (value, low, high, default)]
        row = dict(zip(("value", "low", "high", "default"), shown, strict=True))
        rows.append({"name": name, **row, "unit": unit, "raw": value, "why": why})
    chosen = [row for code, row in enumerate(rows) if not changes or code in changes]
    lines = [
        f"{row['name']:24} {row['value']:>12}  {row['low']} to {row['high']}, default {row['default']}: {row['why']}"
        for row in chosen
    ]
    say(options, {"sequence": sequence, "settings": rows}, "\n".join(lines))
    return 0


def event_text(kind: int, a: int, b: int) -> str:
    if kind == START:
        return f"start: {START_TEXTS.get(a, a)}; resets that count: {b}"
    if kind == DUTY_CHANGED:
        return f"duty {s.DUTY_NAMES[a]}: {reason_texts.REASON_TEXTS.get(b, b)}"
    if kind == ALARMS_CHANGED:
        words = [text for bit, text in enumerate(reason_texts.ALARM_TEXTS) if b >> bit & 1]
        return f"alarms: {'; '.join(words) or 'none'}"
    if kind in (SENSOR_LOST, SENSOR_BACK):
        cause = f": {reason_texts.CAUSE_TEXTS.get(b, b) if b else 'no reading yet'}" if kind == SENSOR_LOST else ""
        return f"{KIND_NAMES[kind]}: {s.SENSOR_NAMES[a]}{cause}"
    if kind == SETTING_DEFAULTED:
        name = cfg.TABLE[a][0] if a < cfg.SETTINGS else f"code {a}"
        return f"{KIND_NAMES[kind]}: {name}: {'its stored value is out of range' if b == OUT_OF_RANGE else 'none was stored'}"
    return f"{KIND_NAMES[kind]} {b}" if kind < len(KIND_NAMES) else f"event {kind} {a} {b}"


def read_log(client: Client) -> list[list[int]]:
    answer = client.call("log", 0)
    events = answer["events"]
    for part in range(1, answer["parts"]):
        events = events + client.call("log", part)["events"]
    return events


def do_log(options) -> int:
    with opened(options) as client:
        events = read_log(client)
    rows = [{"uptime_s": uptime, "what": event_text(kind, a, b), "kind": kind, "a": a, "b": b} for kind, a, b, uptime in events]
    lines = [
        f"{row['uptime_s'] // 3600:4d}:{row['uptime_s'] // 60 % 60:02d}:{row['uptime_s'] % 60:02d}  {row['what']}" for row in rows
    ]
    say(options, {"events": rows}, "\n".join(lines) or "the log is empty")
    return 0


def do_watch(options) -> int:
    from .watch import recording, watch

    if not 0.2 <= options.every <= 60:
        raise ValueError(f"--every {options.every:g}: allowed 0.2 to 60 s")
    if options.seconds is not None and options.seconds < 0:
        raise ValueError(f"--seconds {options.seconds:g}: allowed 0 or more")
    with recording(options.record, options.append) as file, opened(options) as client:
        return watch(client, options, file)


def do_identify(options) -> int:
    from .fit import check_identify, identify

    sensor = sensor_number(options.sensor)
    rom = check_identify(options, sensor)
    with opened(options) as client:
        return identify(client, options, sensor, rom, say)


def do_calibrate(options) -> int:
    from twinloop_sim.sheets import quantities

    from .fit import calibrate

    sensor = sensor_number(options.sensor)
    if options.undo == (options.reading is not None):
        raise ValueError("calibrate: give a reading such as 61.3C, or --undo")
    reading_mc = None if options.undo else quantities.parse_setting(f"reading of {options.sensor}", "mC", options.reading)
    with opened(options) as client:
        return calibrate(client, options, sensor, reading_mc, say)


def do_held(options) -> int:
    """Hold or let go of outputs, start or end purging or maintenance."""
    from . import hands

    hands.check(options)
    with opened(options) as client:
        return (hands.hand if options.action == "hand" else hands.upkeep)(client, options, say)


def do_commission(options) -> int:
    from .fit import commission

    with opened(options) as client:
        return commission(client, options, say)


def do_backup(options) -> int:
    from .backup import backup, check_new

    check_new(options.file)
    with opened(options) as client:
        return backup(client, options, say)


def do_restore(options) -> int:
    from .backup import Given, restore

    given = Given(options.file)
    with opened(options) as client:
        return restore(client, options, given, say)


def do_filter(options) -> int:
    """Count the hours of a new filter from zero."""
    with opened(options) as client:
        served = read_meter(client)["filter_hours"]
        client.call("filter")
    say(options, {"filter_hours": served}, f"the old filter served {served:.0f} h; the new one counts from zero")
    return 0


ACTIONS = {
    "list": do_list,
    "flash": do_flash,
    "status": do_status,
    "settings": do_settings,
    "log": do_log,
    "watch": do_watch,
    "identify": do_identify,
    "calibrate": do_calibrate,
    "filter": do_filter,
    "hand": do_held,
    "purge": do_held,
    "maintenance": do_held,
    "backup": do_backup,
    "restore": do_restore,
    "commission": do_commission,
}


def main(options) -> int:
    """The exit status of the chosen action. Raises ValueError: wrong call, or no board answers."""
    try:
        return ACTIONS[options.action](options)
    except (LinkError, NoInterpreterError, PromptError) as fault:
        raise ValueError(str(fault)) from None
    except (RefusedError, FlashError, CompileError, FailedError) as fault:
        print(f"twinloop board {options.action}: {fault}", file=sys.stderr)
        return 1
