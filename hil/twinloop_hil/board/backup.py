"""`twinloop board backup` and `restore`: settings, sensor roles and offsets in one readable file.

The file is TOML. A restore changes everything in the file together, or nothing.
"""

from __future__ import annotations

import datetime
import json
import os
import sys
import tomllib
from pathlib import Path

from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.fitting import OFFSET_TOP_MK
from twinloop_sim.sheets import quantities

KIND = "twinloop board backup"
VERSION = 1
NAMES = [row[0] for row in cfg.TABLE]
PARTS = {"kind", "version", "board", "firmware", "written", "settings", "sensors"}
SENSOR_KEYS = ("rom", "offset_mk", "offset_before_mk")
HEAD = """\
# A board's settings and sensors. Put them on a board with: twinloop board restore FILE
# You may edit the values: a restore checks each of them. ROM codes belong to the sensors themselves.
"""


def setting_text(code: int, value: int) -> str:
    """A setting as a person writes it, or in its own unit where rounding would change it."""
    name, unit = cfg.TABLE[code][:2]
    text = quantities.show_setting(name, unit, value)
    return text if quantities.parse_setting(name, unit, text) == value else f"{value} {unit}"


def backup_text(facts: dict, values: list[int], rows: list[list]) -> str:
    """The file of a board: `values` in the order of their codes, `rows` in that of the sensors."""
    written = datetime.datetime.now().astimezone().isoformat(timespec="seconds")
    head = {"kind": KIND, "version": VERSION, "board": facts["board"], "firmware": facts["firmware"], "written": written}
    # A JSON text or number is also one of TOML.
    lines = [HEAD, *(f"{key} = {json.dumps(value)}" for key, value in head.items()), "", "[settings]"]
    lines += [f'{NAMES[code]} = "{setting_text(code, value)}"' for code, value in enumerate(values)]
    for name, row in zip(s.SENSOR_NAMES, rows, strict=True):
        lines += ["", f"[sensors.{name}]", *(f"{key} = {json.dumps(value)}" for key, value in zip(SENSOR_KEYS, row, strict=True))]
    return "\n".join(lines) + "\n"


def check_new(path: str) -> None:
    """Raise ValueError when this file exists, or its folder does not."""
    if Path(path).exists():
        raise ValueError(f"backup {path}: exists already; choose another name")
    if not Path(path).parent.is_dir():
        raise ValueError(f"backup {path}: there is no folder {Path(path).parent}")


def backup(client, options, say) -> int:
    """Write the board's settings and sensors to a new file; returns the exit status."""
    path = options.file
    text = backup_text(client.facts, client.settings()[0], client.probes())
    # A cut leaves no half of a backup: the rest of one would look like one that says less.
    part = path + ".part"
    try:
        with open(part, "w") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
    except OSError as fault:
        raise ValueError(f"backup {path}: cannot be written ({fault.strerror})") from None
    facts = {"file": path, "settings": len(NAMES), "sensors": s.SENSORS, "firmware": client.facts["firmware"]}
    say(options, facts, f"{path}: {len(NAMES)} settings and {s.SENSORS} sensors of {client.facts['board']}")
    return 0


def read_document(path: str) -> dict:
    """The file as a dict with exactly the parts of a backup. Raises ValueError, one line."""
    try:
        document = tomllib.loads(Path(path).read_text())
    except OSError as fault:
        raise ValueError(f"restore {path}: cannot be read ({fault.strerror})") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
        raise ValueError(f"restore {path}: not a readable backup ({fault})") from None
    if document.get("kind") != KIND:
        raise ValueError(f'restore {path}: not a backup (kind = "{KIND}" is missing)')
    if document.get("version") != VERSION:
        raise ValueError(f"restore {path}: version = {document.get('version')}, allowed {VERSION}")
    for part in document.keys() - PARTS:
        raise ValueError(f"restore {path}: {part} is not part of a backup; allowed {', '.join(sorted(PARTS))}")
    for part in ("settings", "sensors"):
        if not document.get(part) or not isinstance(document[part], dict):
            raise ValueError(f"restore {path}: [{part}] is missing or empty")
    return document


def values_of(path: str, settings: dict) -> dict[int, int]:
    """The settings of a backup by code. Raises ValueError for one that does not fit here."""
    values = {}
    for name, text in settings.items():
        if name not in NAMES:
            raise ValueError(f"restore {path}: setting {name}: this firmware has none of that name")
        if not isinstance(text, str):
            raise ValueError(f'restore {path}: setting {name} = {text}: has to be text with a unit, such as "75 C"')
        code = NAMES.index(name)
        try:
            values[code] = quantities.parse_setting(name, cfg.TABLE[code][1], text)
        except ValueError as fault:
            raise ValueError(f"restore {path}: {fault}") from None
    return values


def row_of(path: str, name: str, given) -> list:
    """ROM code and offsets of one sensor of a backup. Raises ValueError."""
    where = f"restore {path}: sensor {name}"
    if name not in s.SENSOR_NAMES:
        raise ValueError(f"{where}: this firmware has none of that name; allowed {', '.join(s.SENSOR_NAMES)}")
    if not isinstance(given, dict) or given.keys() != set(SENSOR_KEYS):
        raise ValueError(f"{where}: takes exactly {', '.join(SENSOR_KEYS)}")
    row = [given[key] for key in SENSOR_KEYS]
    if type(row[0]) is not str or (row[0] and (len(row[0]) != 16 or set(row[0]) - set("0123456789abcdef"))):
        raise ValueError(f"{where}: rom = {row[0]!r}: has to be 16 hex digits in lower case, or empty")
    for key, offset in zip(SENSOR_KEYS[1:], row[1:], strict=True):
        if type(offset) is not int or abs(offset) > OFFSET_TOP_MK:
            raise ValueError(f"{where}: {key} = {offset!r}: allowed -{OFFSET_TOP_MK} to {OFFSET_TOP_MK}")
    return row


def rows_of(path: str, sensors: dict) -> dict[int, list]:
    """The sensors of a backup by number. Raises ValueError."""
    rows = {}
    owners: dict[str, str] = {}
    for name, given in sensors.items():
        row = row_of(path, name, given)
        if row[0] and row[0] in owners:
            raise ValueError(f"restore {path}: sensor {name}: chip {row[0]} is {owners[row[0]]} already")
        owners[row[0]] = name
        rows[s.SENSOR_NAMES.index(name)] = row
    return rows


class Given:
    """What a backup holds: settings by code, sensors by number, the firmware it is of."""

    def __init__(self, path: str):
        document = read_document(path)
        self.path = path
        self.firmware = document.get("firmware")
        self.values = values_of(path, document["settings"])
        self.rows = rows_of(path, document["sensors"])


def confirm_missing(client, options, rows: dict[int, list]) -> list[str]:
    """Names of the sensors whose chips are not on the bus; ask whether to go on without them.

    Raises ValueError when nobody says yes.
    """
    present = {rom for rom, _ in client.call("scan")}
    missing = [s.SENSOR_NAMES[sensor] for sensor, row in rows.items() if row[0] and row[0] not in present]
    if not missing or options.yes:
        return missing
    chips = ", ".join(f"{name} ({rows[s.SENSOR_NAMES.index(name)][0]})" for name in missing)
    if options.json or not sys.stdin.isatty():
        raise ValueError(f"restore: not on the bus: {chips}; connect them, or add --yes to restore anyway")
    if input(f"  not on the bus: {chips}. Restore anyway? [yes/no] ").strip().lower() not in ("y", "yes"):
        raise ValueError("restore: nothing was changed")
    return missing


def restore(client, options, given: Given, say) -> int:
    """Put the settings and sensors of a backup on the board, together; returns the exit status."""
    if client.facts["state"] != "bench":
        raise ValueError("restore: the board is in service; set its bench jumper and restart it first")
    wanted = client.settings()[0]
    for code, value in given.values.items():
        wanted[code] = value
    rule = cfg.broken_rule(wanted)
    if rule != cfg.RULE_OK:
        raise ValueError(f"restore {given.path}: {quantities.explain_rule(rule, wanted)}")
    missing = confirm_missing(client, options, given.rows)
    client.restore(given.values, given.rows)
    left = [name for code, name in enumerate(NAMES) if code not in given.values]
    lines = [f"{client.facts['board']}: {len(given.values)} settings and {len(given.rows)} sensors restored from {given.path}"]
    if given.firmware != client.facts["firmware"]:
        lines.append(f"the backup is of firmware {given.firmware}, this board has {client.facts['firmware']}")
    lines += [f"not in the file, left as they were: {', '.join(left)}"] if left else []
    lines += [f"not on the bus: {', '.join(missing)}"] if missing else []
    say(options, {"file": given.path, "settings": len(given.values), "left": left, "missing": missing}, "\n".join(lines))
    return 0
