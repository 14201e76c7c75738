"""`twinloop board identify`, `calibrate` and `commission`."""

from __future__ import annotations

import re
import sys
import time

from twinloop import reason_texts
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.drivers.ds18b20 import crc8
from twinloop.fitting import OFFSET_TOP_MK

# What a DS18B20 holds before its first conversion; no hand makes it.
POWER_ON_MC = 85000
# A hand warms a pocket sensor by RISE_MK in a minute or two, AHEAD_MK more than any other.
RISE_MK = 2000
AHEAD_MK = 1500
LOOK_S = 1.0
# Three readings, a period apart, after a conversion; and how often to look.
FIRST_READINGS_S = 8.0
AGAIN_S = 0.2
HAND_CHECKS = (
    "Each relay switches the load in the wiring table, and is off when the board has no power",
    "The pumps run in the right direction and move liquid; the dump valve's spring turns it to the radiator",
    "The loop is filled, free of air and at pressure; the glycol strength was measured and is right",
    "Relief valves with their discharge pipes, both expansion vessels and the mixing valve are fitted and tested",
    "A manual-reset cut-out (85 to 90 C) cuts the supply of tank pump and dump valve without this controller",
    "Every sensor sits in its own pocket and was identified on the board",
    "Mains, gas, drinking-water and pressure work was done or approved by licensed trades",
)


def measured(scan: list) -> dict[str, int]:
    """The values of a scan by ROM code, without chips that have none yet."""
    return {rom: mc for rom, mc in scan if mc not in (s.UNKNOWN_MC, POWER_ON_MC)}


def warmest_alone(lowest: dict[str, int], now: dict[str, int]) -> str | None:
    """The ROM code of the chip that rose by RISE_MK and leads all others by AHEAD_MK, or None."""
    rises = {rom: now[rom] - lowest[rom] for rom in now if rom in lowest}
    ranked = sorted(rises, key=rises.get, reverse=True)
    if not ranked or rises[ranked[0]] < RISE_MK:
        return None
    return ranked[0] if len(ranked) == 1 or rises[ranked[0]] - rises[ranked[1]] >= AHEAD_MK else None


def wait_for_warmth(client, options, name: str) -> str | None:
    """The ROM code of the chip that somebody warms, or None when the time is over."""
    scan = client.call("scan")
    if not scan:
        raise ValueError(f"identify {name}: no DS18B20 answers on the bus; check its cable, its supply and the 4.7 kOhm pull-up")
    if not options.json:
        print(f"{len(scan)} chips on the bus. Warm the {name} sensor in your hand and leave the others alone ...", flush=True)
    # A chip may still cool, or have its first value later: a rise counts from the lowest.
    lowest = measured(scan)
    end = time.monotonic() + options.wait
    while time.monotonic() < end:
        time.sleep(LOOK_S)
        now = measured(client.call("scan"))
        lowest |= {rom: min(mc, lowest.get(rom, mc)) for rom, mc in now.items()}
        rom = warmest_alone(lowest, now)
        if rom:
            return rom
    return None


def first_readings(client) -> dict:
    """The status once no sensor is in its first conversions, or as it is after some seconds.

    A station that has just started trusts no reading before the third that agrees.
    """
    end = time.monotonic() + FIRST_READINGS_S
    while True:
        status = client.status()
        pairs = zip(status["status"], status["cause"], strict=True)
        # The first values are called too fast, because no earlier one confirms them.
        if not any(starting(*pair) or pair == (s.LOST, s.CAUSE_RATE) for pair in pairs) or time.monotonic() > end:
            return status
        time.sleep(AGAIN_S)


def starting(status: int, cause: int) -> bool:
    """Whether a sensor has no reading yet, without a fault."""
    return status == s.LOST and cause in (s.CAUSE_NONE, s.CAUSE_POWER_ON, s.CAUSE_NOT_READY)


def check_identify(options, sensor: int) -> str | None:
    """The ROM code to assign, "" to clear it, None to find it by warming. Raises ValueError."""
    if not 5 <= options.wait <= 600:
        raise ValueError(f"--wait {options.wait:g}: allowed 5 to 600 s")
    if sensor == s.COLLECTOR:
        raise ValueError(f"identify {options.sensor}: it is no DS18B20; allowed every other sensor")
    if options.rom is None or options.rom == "none":
        return "" if options.rom else None
    rom = options.rom.lower()
    if not re.fullmatch("[0-9a-f]{16}", rom) or not int(rom, 16):
        raise ValueError(f"--rom {options.rom}: allowed 16 hex digits, or `none`")
    if crc8(bytes.fromhex(rom), 7) != int(rom[14:], 16):
        raise ValueError(f"--rom {options.rom}: its last two digits are not the check of the others; read it again")
    return rom


def identify(client, options, sensor: int, rom: str | None, say) -> int:
    """Give a sensor's role to the warmed or named chip; returns the exit status."""
    name = options.sensor
    if rom is None:
        rom = wait_for_warmth(client, options, name)
        if rom is None:
            print(f"twinloop board identify: no single chip rose by {RISE_MK / 1000:g} K in {options.wait:g} s", file=sys.stderr)
            return 1
    client.call("identify", sensor, rom)
    say(options, {"sensor": name, "rom": rom}, f"{name}: {f'chip {rom}' if rom else 'no chip'}")
    return 0


def calibrate(client, options, sensor: int, reading_mc: int | None, say) -> int:
    """Match a sensor to the thermometer by its offset, or undo that; returns the exit status."""
    name = s.SENSOR_NAMES[sensor]
    now_mk, before_mk = client.probes()[sensor][1:]
    if reading_mc is None:
        wanted_mk = before_mk
    else:
        status = first_readings(client)
        if status["status"][sensor] != s.GOOD:
            raise ValueError(f"calibrate {name}: it has no good reading ({reason_texts.CAUSE_TEXTS[status['cause'][sensor]]})")
        wanted_mk = now_mk + reading_mc - status["mc"][sensor]
        if abs(wanted_mk) > OFFSET_TOP_MK:
            top = OFFSET_TOP_MK / 1000
            raise ValueError(
                f"calibrate {name}: offset would be {wanted_mk / 1000:+.2f} K, allowed {-top:g} to {top:g} K; look for a fault"
            )
    client.call("calibrate", sensor, wanted_mk)
    facts = {"sensor": name, "offset_k": wanted_mk / 1000, "before_k": now_mk / 1000}
    say(options, facts, f"{name}: offset {wanted_mk / 1000:+.2f} K, was {now_mk / 1000:+.2f} K (--undo restores it)")
    return 0


def fitted_sensors(values: list[int]) -> list[int]:
    """The sensors fitted according to the settings; `values` are in the order of their codes."""
    fitted_by = s.SENSOR_ROWS.column("fitted_by")
    return [sensor for sensor, setting in enumerate(fitted_by) if setting == s.ALWAYS or values[setting]]


def fan_check(facts: dict) -> tuple[str, bool, str]:
    """Whether the fan of an air heater has a relay, as a row of own_checks."""
    good = facts["relays"] > s.AIR_FAN
    return "the fan of the air heater has a relay", good, "it does" if good else "this board has none: set air_heater to 0"


def own_checks(client) -> list[tuple[str, bool, str]]:
    """What the board can check itself: name, whether it is good, and what was found."""
    status, check = first_readings(client), client.call("self_check")
    values = client.settings()[0]
    lost = [s.SENSOR_NAMES[k] for k in fitted_sensors(values) if check["sensors_lost"] >> k & 1]
    alarms = [text for bit, text in enumerate(reason_texts.ALARM_TEXTS) if status["alarms"] >> bit & 1]
    topology = cfg.TOPOLOGY_NAMES[values[cfg.DUMP_TOPOLOGY]]
    return [
        ("every fitted sensor reads", not lost, f"lost: {', '.join(lost)}" if lost else "all do"),
        (
            "relay pins follow",
            check["relay_astray"] < 0,
            "all do" if check["relay_astray"] < 0 else f"relay {check['relay_astray']} does not",
        ),
        *([fan_check(client.facts)] if values[cfg.AIR_HEATER] else []),
        (
            "settings were stored",
            check["settings_copies"] > 0,
            f"{check['settings_copies']} good copies (settings --set stores them); dump_topology is {topology}",
        ),
        ("sensors were identified", check["probe_copies"] > 0, f"{check['probe_copies']} good copies"),
        ("no alarm", not alarms, "; ".join(alarms) or "none"),
        ("not injecting", not status["injecting"], "a host injects the readings" if status["injecting"] else "own sensors"),
    ]


def ask(question: str) -> bool:
    """Whether the answer is yes."""
    return input(f"  {question}? [yes/no] ").strip().lower() in ("y", "yes")


def commission(client, options, say) -> int:
    """Check, ask, and put the board into service; returns the exit status."""
    if not options.yes and (options.json or not sys.stdin.isatty()):
        raise ValueError("commission: no terminal to ask at; --yes confirms that you have checked every point of the list by hand")
    rows = own_checks(client)
    if not options.json:
        for what, good, seen in rows:
            print(f"  {'good' if good else 'BAD '}  {what}: {seen}")
    bad = [what for what, good, _ in rows if not good]
    unsure = [] if bad or options.yes else [question for question in HAND_CHECKS if not ask(question)]
    facts = {
        "checks": [{"name": what, "good": good, "seen": seen} for what, good, seen in rows],
        "by_hand": list(HAND_CHECKS),
        "state": "bench",
    }
    if not bad and not unsure:
        facts["state"] = client.call("commission")["state"]
    text = (
        "in service"
        if facts["state"] == "service"
        else f"not in service: {'; '.join([*bad, *unsure]) or 'the bench jumper is set'}"
    )
    say(options, facts, text)
    return 0 if facts["state"] == "service" else 1
