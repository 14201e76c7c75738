"""Every wire of a board, what has to be fitted outside, and the cautions, from the board's data."""

from __future__ import annotations

from dataclasses import dataclass

from twinloop.control import state as s

from .boards import closed_at_rest
from .chips import CHIPS, Chip

# Of an alarm contact that is closed without power.
CLOSED_CONTACT = "normally closed, potential-free"
CLOSED_LOAD = "alarm: closes on alarm and if the controller dies"
PLACES_A_LINE = 4
CAUTIONS = (
    "Low voltage only on this side. Mains, gas, drinking water and pressure work belong to licensed trades under local code.",
    "Relays: contacts rated for motor inrush current, or a contactor behind them; an insulating barrier between both sides.",
    "A manual-reset cut-out (85 to 90 C) on the tank cuts the supply of tank pump and dump valve without this controller.",
    "Relief valves with their discharge pipes, expansion vessels and a mechanical mixing valve work without this controller.",
    "Surge arrester where the collector's cable enters the house; use shielded cable, its shield grounded at one end.",
    "Take mains off the relays before you bench-test, flash or rewire.",
)


@dataclass
class Connection:
    """One wire: board pin or supply, what it connects to, and what has to be fitted outside."""

    group: str
    pin: str
    to: str
    fit: str


def pull_text(chip: Chip, level: int) -> str:
    """The external pull that keeps a relay released while the pin is an input."""
    if level == 1:
        return f"{chip.pull_ohm / 1000:g} kOhm from the pin to ground"
    return f"{min(chip.pull_ohm, 4700) / 1000:g} kOhm from the pin to 3V3; a 5 V relay board needs a transistor in between"


def contacts(data: dict) -> list[tuple[str, str, str]]:
    """Output, contact and load of each relay."""
    found = list(zip(s.OUTPUT_NAMES, s.OUTPUT_ROWS.column("contact"), s.OUTPUT_ROWS.column("load"), strict=True))
    for output, closed in enumerate(closed_at_rest(data)):
        if closed:
            found[output] = (s.OUTPUT_NAMES[output], CLOSED_CONTACT, CLOSED_LOAD)
    return found[: len(data["RELAYS"])]


def relay_rows(data: dict, chip: Chip) -> list[Connection]:
    """The wires of the relays, in the order of the outputs."""
    found = []
    for output, (pin, level) in enumerate(data["RELAYS"]):
        word = "high" if level else "low"
        found.append(
            Connection("relays", str(pin), f"relay {s.OUTPUT_NAMES[output]}, energised by a {word} level", pull_text(chip, level))
        )
    found.append(Connection("relays", "GND", "relay board's ground", "a separate low-voltage supply for the coils"))
    return found


def rtd_rows(data: dict) -> list[Connection]:
    """The wires of the collector's chip."""
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
    """The wires of the 1-Wire bus."""
    if data["ONE_WIRE"] is None:
        return []
    return [
        Connection("1-Wire", str(data["ONE_WIRE"]), "data of every DS18B20", "4.7 kOhm from data to 3V3"),
        Connection("1-Wire", "3V3, GND", "supply of every DS18B20", "three wires to each, daisy-chained; no parasite power"),
    ]


def other_rows(data: dict, chip: Chip) -> list[Connection]:
    """The wires of thermistors, jumper, light, read-back, flow input and display."""
    found = []
    for sensor, pin, series_ohm, r25_ohm, beta in data["NTC"]:
        what = f"NTC {s.SENSOR_NAMES[sensor]} to ground, {r25_ohm} ohm at 25 C, beta {beta} K"
        found.append(Connection("converter", str(pin), what, f"{series_ohm} ohm from the pin to 3V3, 100 nF to ground"))
    found.append(Connection("service", str(data["BENCH_JUMPER"]), "bench jumper to ground: closed at start selects the bench", ""))
    if data["STATUS_LED"]:
        found.append(
            Connection("service", str(data["STATUS_LED"][0]), "status light", "470 ohm in series, unless it is on the board")
        )
    for output, pin in enumerate(data["READ_BACK"] or ()):
        what = f"contact of {s.OUTPUT_NAMES[output]}, bench only: remove before mains"
        found.append(Connection("service", str(pin), what, ""))
    if data["FLOW"]:
        kind = f"flow meter, {data['FLOW'][1]} pulses per litre" if data["FLOW"][1] else "flow switch"
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
    """The cautions, those of this board's chip last."""
    chip = CHIPS[data["CHIP"]]
    found = [*CAUTIONS, *chip.cautions]
    if any(level == 0 for _, level in data["RELAYS"]):
        found.append(f"At reset this board's pins are {chip.at_reset}: relays energised by a low level may click at each start.")
    return found


def far_ends(data: dict) -> dict[str, list[str]]:
    """What is at the far end of each group's cables, as lines of text."""
    own = {row[0] for row in data["NTC"]} | {s.COLLECTOR}
    names = [name for sensor, name in enumerate(s.SENSOR_NAMES) if sensor not in own]
    found = {}
    if data["RTD"]:
        found["collector"] = [
            f"Pt{data['RTD']['nominal_ohm']} in the collector",
            "surge arrester where its cable enters the house",
            "shielded cable, shield grounded at one end",
        ]
    if data["ONE_WIRE"] is not None:
        lines = [", ".join(names[first : first + PLACES_A_LINE]) for first in range(0, len(names), PLACES_A_LINE)]
        found["1-Wire"] = ["DS18B20 in pockets, one per place", *lines]
    return found
