"""Checks a board's data: can the firmware run on it, and does no relay move by itself?"""

from __future__ import annotations

from twinloop.control.state import AIR_FAN, ALARM, COLLECTOR, OUTPUT_NAMES, OUTPUTS, SENSOR_NAMES, SENSORS

from .chips import CHIPS, PLATFORMS, Chip

ALARM_RESTS = ("silent", "alarm")
FIELDS = {
    "NAME": str,
    "PLATFORM": str,
    "CHIP": str,
    "PERIOD_MS": int,
    "LEASE_MS": int,
    "WATCHDOG_MS": int,
    "RELAYS": tuple,
    "READ_BACK": (tuple, type(None)),
    "BENCH_JUMPER": int,
    "STATUS_LED": (tuple, type(None)),
    "ONE_WIRE": (int, type(None)),
    "RTD": (dict, type(None)),
    "NTC": tuple,
    "FLOW": (tuple, type(None)),
    "DISPLAY": (dict, type(None)),
    "FOLDER": str,
}
RTD_FIELDS = ("bus", "clock", "to_chip", "from_chip", "select", "reference_ohm", "nominal_ohm", "wires", "mains_hz")
RTD_PINS = ("clock", "to_chip", "from_chip", "select")
DISPLAY_FIELDS = ("bus", "clock", "data", "button")
# Several times a step with all its chips, a flash write and a host that does not read.
WATCHDOG_LEAST_MS = 3000


def missing_fields(data: dict) -> list[str]:
    """Problems: fields that are missing or of the wrong type."""
    found = [f"{name}: missing" for name in FIELDS if name not in data]
    return found + [
        f"{name} = {data[name]!r}: wrong type" for name, kind in FIELDS.items() if name in data and not isinstance(data[name], kind)
    ]


def pins_used(data: dict) -> list[tuple[str, int, str]]:
    """Every pin: purpose, number, and use (relay, out, in, pulled by the chip, converter)."""
    used = [(f"relay {OUTPUT_NAMES[output]}", row[0], "relay") for output, row in enumerate(data["RELAYS"])]
    if data["READ_BACK"]:
        used += [(f"read-back {OUTPUT_NAMES[output]}", pin, "pulled") for output, pin in enumerate(data["READ_BACK"])]
    used.append(("bench jumper", data["BENCH_JUMPER"], "pulled"))
    if data["STATUS_LED"]:
        used.append(("status light", data["STATUS_LED"][0], "out"))
    if data["ONE_WIRE"] is not None:
        used.append(("1-Wire", data["ONE_WIRE"], "out"))
    if data["RTD"]:
        used += [(f"MAX31865 {name}", data["RTD"][name], "in" if name == "from_chip" else "out") for name in RTD_PINS]
    used += [(f"NTC {SENSOR_NAMES[row[0]]}", row[1], "converter") for row in data["NTC"]]
    if data["FLOW"]:
        used.append(("flow input", data["FLOW"][0], "pulled"))
    if data["DISPLAY"]:
        used += [(f"display {name}", data["DISPLAY"][name], "out") for name in ("clock", "data")]
        used.append(("display button", data["DISPLAY"]["button"], "in"))
    return used


def wrong_pin(chip: Chip, what: str, pin: int, use: str) -> str:
    """Why a pin may not be used like this; empty when it may."""
    place = f"{what} at pin {pin}"
    if pin in chip.refused:
        return f"{place}: {chip.refused[pin]}"
    if pin not in chip.pins:
        return f"{place}: no such pin; allowed {', '.join(map(str, sorted(chip.pins)))}"
    if use == "relay" and pin in chip.not_relays:
        return f"{place}: {chip.not_relays[pin]}"
    if use in ("relay", "out") and pin in chip.input_only:
        return f"{place}: this pin is input only"
    if use == "pulled" and pin in chip.input_only:
        return f"{place}: this pin has no internal pull"
    if use == "converter" and pin in chip.second_converter:
        return f"{place}: on the second converter, which stops while Wi-Fi is on; use {', '.join(map(str, sorted(chip.converter)))}"
    if use == "converter" and pin not in chip.converter:
        return f"{place}: no converter at this pin; allowed {', '.join(map(str, sorted(chip.converter)))}"
    return ""


def doubled_pins(used: list[tuple[str, int, str]]) -> list[str]:
    first: dict[int, str] = {}
    found = []
    for what, pin, _ in used:
        if pin in first:
            found.append(f"{what} at pin {pin}: already used by {first[pin]}")
        first.setdefault(pin, what)
    return found


def wrong_times(data: dict, chip: Chip) -> list[str]:
    """Problems: period, lease and watchdog out of range."""
    found = []
    period, lease, watchdog = data["PERIOD_MS"], data["LEASE_MS"], data["WATCHDOG_MS"]
    if not 800 <= period <= 2000:
        found.append(f"PERIOD_MS = {period}: allowed 800 to 2000 (a DS18B20 converts for 750 ms)")
    if not 2 * period <= lease <= 10000:
        found.append(f"LEASE_MS = {lease}: allowed {2 * period} (two periods) to 10000")
    top = chip.watchdog_top_ms or 30000
    least = max(WATCHDOG_LEAST_MS, 2 * period)
    if not least <= watchdog <= top:
        found.append(f"WATCHDOG_MS = {watchdog}: allowed {least} to {top}")
    return found


def wrong_rtd(data: dict, chip: Chip) -> list[str]:
    """Problems with the collector's chip."""
    rtd = data["RTD"]
    if rtd is None:
        return (
            []
            if any(row[0] == COLLECTOR for row in data["NTC"])
            else ["RTD: the collector needs a Pt1000 (a DS18B20 ends at 125 C)"]
        )
    missing = [name for name in RTD_FIELDS if type(rtd.get(name)) is not int]
    if missing:
        return [f"RTD: {name} missing" for name in missing]
    found = []
    if rtd["bus"] not in chip.spi_buses:
        found.append(f"RTD: bus {rtd['bus']}: allowed {', '.join(map(str, chip.spi_buses))}")
    if rtd["nominal_ohm"] not in (100, 1000):
        found.append(f"RTD: nominal_ohm = {rtd['nominal_ohm']}: allowed 100, 1000")
    elif not 2.2 * rtd["nominal_ohm"] <= rtd["reference_ohm"] <= 5 * rtd["nominal_ohm"]:
        least, top = 22 * rtd["nominal_ohm"] // 10, 5 * rtd["nominal_ohm"]
        found.append(f"RTD: reference_ohm = {rtd['reference_ohm']}: allowed {least} to {top} (four times nominal_ohm is common)")
    if rtd["wires"] not in (2, 3, 4):
        found.append(f"RTD: wires = {rtd['wires']}: allowed 2, 3, 4")
    if rtd["mains_hz"] not in (50, 60):
        found.append(f"RTD: mains_hz = {rtd['mains_hz']}: allowed 50, 60")
    return found


def wrong_relays(data: dict) -> list[str]:
    """Problems with the relays: each output has a pin and a level; only a fan may be missing."""
    rows = data["RELAYS"]
    if len(rows) != OUTPUTS and OUTPUT_NAMES[len(rows) :] != OUTPUT_NAMES[AIR_FAN : AIR_FAN + 1]:
        allowed = f"{AIR_FAN} or {OUTPUTS}" if AIR_FAN == OUTPUTS - 1 else OUTPUTS
        return [f"RELAYS: {len(rows)} rows; allowed {allowed}, in the order {', '.join(OUTPUT_NAMES)}"]
    return [
        f"RELAYS: {row!r}: allowed (pin, level), level 0 or 1"
        for row in rows
        if len(row) != 2 or type(row[0]) is not int or row[1] not in (0, 1)
    ]


def wrong_read_back(data: dict) -> list[str]:
    """Problems with the read-back wires: one per relay, or none."""
    pins = data["READ_BACK"]
    if pins is None or (len(pins) == len(data["RELAYS"]) and all(type(pin) is int for pin in pins)):
        return []
    return [f"READ_BACK: {pins!r}: allowed None or a pin per relay, in the order {', '.join(OUTPUT_NAMES)}"]


def wrong_alarm(data: dict) -> list[str]:
    """Problems with the alarm contact's kind, which a board may leave out."""
    kind = data.get("ALARM_RESTS", ALARM_RESTS[0])
    return [] if kind in ALARM_RESTS else [f"ALARM_RESTS = {kind!r}: allowed {', '.join(map(repr, ALARM_RESTS))}"]


def closed_at_rest(data: dict) -> tuple[int, ...]:
    """Per output 1 if its contact is closed without power, as a dead controller's alarm is."""
    dead = data.get("ALARM_RESTS") == "alarm"
    return tuple(int(dead and output == ALARM) for output in range(OUTPUTS))


def wrong_ntc(data: dict) -> list[str]:
    """Problems with NTC rows: values outside the driver's range."""
    found = []
    for row in data["NTC"]:
        if len(row) != 5 or any(type(value) is not int for value in row) or not 0 <= row[0] < SENSORS:
            found.append(f"NTC: {row!r}: allowed (sensor, pin, series ohm, ohm at 25 C, beta), integers")
        elif not (1000 <= row[2] <= 100000 and 1000 <= row[3] <= 100000 and 2800 <= row[4] <= 4600):
            found.append(f"NTC: {row!r}: allowed resistances 1000 to 100000 ohm, beta 2800 to 4600 K")
        elif row[0] == COLLECTOR:
            found.append("NTC: the collector gets hotter than a thermistor in a divider can measure: use a Pt1000 on a MAX31865")
    return found


def wrong_flow(data: dict) -> list[str]:
    """Problems with the flow input: neither a switch nor a meter."""
    row = data["FLOW"]
    if row is None or (len(row) == 2 and all(type(value) is int for value in row) and 0 <= row[1] <= 2000):
        return []
    return [f"FLOW: {row!r}: allowed (pin, pulses per litre), 0 for a switch, at most 2000"]


def problems(data: dict) -> list[str]:
    """All problems in a board's data, one line each; empty for a good board."""
    name = data.get("NAME", "board")
    found = missing_fields(data)
    if found:
        return [f"{name}: {text}" for text in found]
    if data["CHIP"] not in CHIPS:
        return [f"{name}: CHIP = {data['CHIP']}: allowed {', '.join(CHIPS)}"]
    if data["PLATFORM"] not in PLATFORMS:
        return [f"{name}: PLATFORM = {data['PLATFORM']}: allowed {', '.join(PLATFORMS)}"]
    chip = CHIPS[data["CHIP"]]
    found = (
        wrong_relays(data)
        + wrong_read_back(data)
        + wrong_alarm(data)
        + wrong_ntc(data)
        + wrong_flow(data)
        + wrong_times(data, chip)
        + wrong_rtd(data, chip)
    )
    if data["DISPLAY"]:
        found += [f"DISPLAY: {key} missing" for key in DISPLAY_FIELDS if type(data["DISPLAY"].get(key)) is not int]
    if not found:
        used = pins_used(data)
        found = [text for text in (wrong_pin(chip, *row) for row in used) if text] + doubled_pins(used)
    return [f"{name}: {text}" for text in found]
