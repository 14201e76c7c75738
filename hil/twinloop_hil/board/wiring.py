"""`twinloop wiring BOARD`: what goes where, as a table and as a drawing, from the same data that the firmware runs on."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path

from twinloop.control.state import COLLECTOR, OUTPUT_NAMES, SENSOR_NAMES

from ..chips import CHIPS, Chip
from ..firmware_files import board_data
from .drawing import draw

CONTACTS = (
    ("collector_pump", "normally open", "collector pump: rests when the controller is dead"),
    ("tank_pump", "normally open", "tank pump, behind the cut-out: rests when the controller is dead"),
    ("dump_valve_power", "normally open", "dump valve, behind the cut-out: its spring goes to the radiator"),
    ("alarm", "normally open, potential-free", "alarm: closes to speak; a dead controller is silent"),
)
CAUTIONS = (
    "Low voltage only on this side. Mains, gas, drinking water and pressure work belong to licensed trades under local code.",
    "Relays: contacts rated for a motor's inrush, or a contactor behind them; an insulated barrier between both sides.",
    "A manual-reset cut-out (85 to 90 C) on the tank breaks the supply of tank pump and dump valve without this controller.",
    "Relief valves with their discharge pipes, expansion vessels and a mechanical mixing valve work without this controller.",
    "Surge arrester where the collector's cable enters the house, and a shielded cable, its shield grounded at one end.",
    "Take mains off the relays before you bench-test, flash or rewire.",
)


@dataclass
class Connection:
    """One wire: board pin (or supply), what it goes to, and what has to be fitted outside."""

    group: str
    pin: str
    to: str
    fit: str


def pull_text(chip: Chip, level: int) -> str:
    """The pull outside that keeps a relay released while the pin is an input."""
    if level == 1:
        return f"{chip.pull_ohm / 1000:g} kOhm from the pin to ground"
    return f"{min(chip.pull_ohm, 4700) / 1000:g} kOhm from the pin to 3V3; a 5 V relay board on it needs a transistor between"


def relay_rows(data: dict, chip: Chip) -> list[Connection]:
    """Relays in the order of the outputs."""
    found = []
    for output, (pin, level) in enumerate(data["RELAYS"]):
        word = "high" if level else "low"
        found.append(
            Connection("relays", str(pin), f"relay {OUTPUT_NAMES[output]}, energised by a {word} level", pull_text(chip, level))
        )
    found.append(Connection("relays", "GND", "relay board's ground", "a supply of their own for the coils, low voltage"))
    return found


def rtd_rows(data: dict) -> list[Connection]:
    """The collector's chip."""
    rtd = data["RTD"]
    if rtd is None:
        return []
    element = f"Pt{rtd['nominal_ohm']}, {rtd['wires']} wires, reference {rtd['reference_ohm']} ohm, {rtd['mains_hz']} Hz"
    return [
        Connection("collector", str(rtd["clock"]), "MAX31865 SCLK", ""),
        Connection("collector", str(rtd["to_chip"]), "MAX31865 SDI", ""),
        Connection("collector", str(rtd["from_chip"]), "MAX31865 SDO", ""),
        Connection("collector", str(rtd["select"]), "MAX31865 CS", ""),
        Connection("collector", "3V3, GND", "MAX31865 supply", f"{element}"),
    ]


def bus_rows(data: dict) -> list[Connection]:
    """The 1-Wire bus and what hangs on it."""
    if data["ONE_WIRE"] is None:
        return []
    return [
        Connection("1-Wire", str(data["ONE_WIRE"]), "data of every DS18B20", "4.7 kOhm from data to 3V3"),
        Connection("1-Wire", "3V3, GND", "supply of every DS18B20", "three wires to each, in one line; no supply over data"),
    ]


def other_rows(data: dict, chip: Chip) -> list[Connection]:
    """Thermistors, jumper, light, display."""
    found = []
    for sensor, pin, series_ohm, r25_ohm, beta in data["NTC"]:
        what = f"NTC {SENSOR_NAMES[sensor]} to ground, {r25_ohm} ohm at 25 C, beta {beta} K"
        found.append(Connection("converter", str(pin), what, f"{series_ohm} ohm from the pin to 3V3, 100 nF to ground"))
    found.append(Connection("service", str(data["BENCH_JUMPER"]), "bench jumper to ground: closed at start is the bench", ""))
    if data["STATUS_LED"]:
        found.append(
            Connection("service", str(data["STATUS_LED"][0]), "status light", "470 ohm in series, unless it is on the board")
        )
    for output, pin in enumerate(data["READ_BACK"] or ()):
        what = f"contact of {OUTPUT_NAMES[output]}, bench only: off before mains"
        found.append(Connection("service", str(pin), what, ""))
    if data["FLOW"]:
        kind = f"flow meter, {data['FLOW'][1]} pulses a litre" if data["FLOW"][1] else "flow switch"
        found.append(Connection("service", str(data["FLOW"][0]), f"{kind}, contact to ground", "10 kOhm to 3V3, 100 nF to ground"))
    if data["DISPLAY"]:
        display = data["DISPLAY"]
        found.append(Connection("display", str(display["clock"]), "display SCL (optional)", "4.7 kOhm to 3V3, if not on it"))
        found.append(Connection("display", str(display["data"]), "display SDA (optional)", "4.7 kOhm to 3V3, if not on it"))
        pull = "10 kOhm to 3V3" if display["button"] in chip.input_only else ""
        found.append(Connection("display", str(display["button"]), "button to ground (optional)", pull))
    return found


def connections(data: dict) -> list[Connection]:
    """Every wire of a board, in the order of the drawing."""
    chip = CHIPS[data["CHIP"]]
    return relay_rows(data, chip) + rtd_rows(data) + bus_rows(data) + other_rows(data, chip)


def cautions(data: dict) -> list[str]:
    """What to mind, this chip's own peculiarities last."""
    chip = CHIPS[data["CHIP"]]
    found = [*CAUTIONS, *chip.cautions]
    if any(level == 0 for _, level in data["RELAYS"]):
        found.append(f"This board's pins wake as {chip.at_reset}: relays that a low level energises may click at each start.")
    return found


def far_ends(data: dict) -> dict[str, list[str]]:
    """What sits at the far end of a group's cables, in lines."""
    own = {row[0] for row in data["NTC"]} | {COLLECTOR}
    names = [name for sensor, name in enumerate(SENSOR_NAMES) if sensor not in own]
    found = {}
    if data["RTD"]:
        found["collector"] = [
            f"Pt{data['RTD']['nominal_ohm']} in the collector",
            "surge arrester where its cable enters the house",
            "shielded cable, shield grounded at one end",
        ]
    if data["ONE_WIRE"] is not None:
        found["1-Wire"] = ["DS18B20 in pockets, one a place:", ", ".join(names[:4]), ", ".join(names[4:])]
    return found


def table(data: dict) -> str:
    """The table as text."""
    rows = connections(data)
    lines = [f"{data['NAME']}: pins by the chip's own numbers", ""]
    width = max(len(row.to) for row in rows)
    for group in dict.fromkeys(row.group for row in rows):
        lines.append(group)
        lines += [f"  {row.pin:>8}  {row.to:{width}}  {row.fit}".rstrip() for row in rows if row.group == group]
    lines += ["", "far ends", *(f"  {group}: {'; '.join(words)}" for group, words in far_ends(data).items()), "", "contacts"]
    lines += [f"  {name:18} {contact:30} {load}" for name, contact, load in CONTACTS]
    return "\n".join([*lines, "", *(f"! {text}" for text in cautions(data))])


def main(options) -> int:
    """Run the command; returns the exit status. ValueError, one line, for a board that is not known or not good."""
    data = board_data(options.board)
    path = Path(options.out or f"wiring-{data['NAME']}.svg")
    path.write_text(draw(data["NAME"], connections(data), CONTACTS, far_ends(data), cautions(data)))
    if options.json:
        rows = [asdict(row) for row in connections(data)]
        contacts = [{"output": name, "contact": contact, "load": load} for name, contact, load in CONTACTS]
        facts = {"board": data["NAME"], "connections": rows, "contacts": contacts, "cautions": cautions(data)}
        print(json.dumps({**facts, "files": {"drawing": str(path)}}, indent=2))
    else:
        print(table(data))
        print(f"\ndrawing: {path}")
    return 0
