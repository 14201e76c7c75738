"""`twinloop board hand`, `purge`, `maintenance`: what is asked for, and what the relays then do.

A board answers a call before its next step. So the answer to a person waits for that step: which
output is on, or which limit keeps it off, and until when.
"""

from __future__ import annotations

import datetime
import time

from twinloop import reason_texts
from twinloop.control import conditions as c
from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control import tank
from twinloop.hands import HAND_TOP_S, MAINTENANCE_TOP_S, PURGE_TOP_S

# A step comes once in a period; a call may delay it by a tenth.
PERIODS = 1.2
NO_LOCK_OUT = "this is no lock-out: switch mains off, and lock it, before you touch anything"


def after_a_step(client) -> dict:
    """The status once the board has taken its next step."""
    time.sleep(PERIODS * client.facts["period_ms"] / 1000.0)
    return client.status()


def at_clock(left_s: float) -> str:
    """The time of day in so many seconds."""
    return (datetime.datetime.now() + datetime.timedelta(seconds=left_s)).strftime("%H:%M:%S")


def holds(status: dict, condition: int) -> bool:
    return bool(status["conditions"][condition // c.BITS] >> condition % c.BITS & 1)


def plates_hot(status: dict, settings: list[int]) -> bool:
    """Whether standing water in the exchanger may be too hot for the tank, as tank.py has it."""
    if status["commands"][s.TANK_PUMP] != 0:
        return False
    if status["status"][s.EXCHANGER] > s.HELD:
        return status["plates_hot_ms"] > 0 or holds(status, c.HOT_GLYCOL)
    just_now = status["plates_hot_ms"] > tank.PLATES_COOL_MS - tank.PLATES_LAG_MS
    end = tank.PLATES_END_MK if status["plates_hot_ms"] > 0 else 0
    return just_now or status["mc"][s.EXCHANGER] + end >= settings[cfg.CHARGE_LIMIT]


def pump_limit(status: dict, settings: list[int]) -> str:
    """The limit that keeps the collector pump off, as frost.py and sequence.py have it."""
    powered = status["commands"][s.DUMP_VALVE_POWER] != 0
    if holds(status, c.COLLECTOR_LOST):
        return "the collector sensor is not trusted, until it reads again"
    if holds(status, c.HOT_STEAM):
        return f"there may be steam in the collector, until it reads {settings[cfg.COLLECTOR_RESET] / 1000:g} C"
    if holds(status, c.HEATING) and status["tank_over"]:
        return "glycol heated the tank to its limit, until half an hour after it is below or the glycol colder"
    if holds(status, c.STIFF):
        return "glycol is near its freezing point, until collector and air are warmer"
    if holds(status, c.COLD_DUMP) and (status["valve_ms"] < settings[cfg.DUMP_TRAVEL] or not powered):
        return "the radiator may bring frost into the exchanger, until dump_valve_power has been held on for the valve's way"
    if holds(status, c.ROUND) and not powered and status["valve_ms"] == 0:
        return ""
    return away_limit(status, settings)


def away_limit(status: dict, settings: list[int]) -> str:
    """The limit that keeps glycol away from the exchanger."""
    if holds(status, c.COLD_LOOP):
        if holds(status, c.ROUND):
            return "the loop may hold frosty glycol, until dump_valve_power has been off for the valve's way"
        return "the loop may hold frosty glycol and there is no way round the exchanger, until mild weather has warmed it"
    if holds(status, c.HOT_GLYCOL):
        reset_mc = settings[cfg.CHARGE_LIMIT] - settings[cfg.CHARGE_LIMIT_RESET]
        way = " or dump_valve_power has been off for the valve's way" if holds(status, c.ROUND) else ""
        return f"the glycol is too hot for the exchanger, until it is below {reset_mc / 1000:g} C{way}"
    return ""


def tank_limit(status: dict, settings: list[int]) -> str:
    """The limit that keeps the tank pump off, as tank.py has it."""
    if plates_hot(status, settings):
        return "water in the exchanger may be too hot for the tank, until it has cooled or glycol that is not too hot has cooled it"
    if status["commands"][s.COLLECTOR_PUMP] == 0:
        return ""
    if status["tank_over"]:
        reset_mc = cfg.tank_limit_mc(settings) - settings[cfg.TANK_LIMIT_RESET]
        return f"the tank is at its limit, until it is below {reset_mc / 1000:g} C or the collector pump stops"
    if holds(status, c.TANK_LOST):
        return "neither tank sensor is trusted, until one reads again or the collector pump stops"
    if holds(status, c.HOT_GLYCOL):
        reset_mc = settings[cfg.CHARGE_LIMIT] - settings[cfg.CHARGE_LIMIT_RESET]
        return f"the glycol is too hot for the tank, until it is below {reset_mc / 1000:g} C or the collector pump stops"
    return ""


def why_off(status: dict, output: int, settings: list[int]) -> str:
    """Why an output that hands ask for is off."""
    if output == s.AIR_FAN:
        return reason_texts.REASON_TEXTS[status["air"]] if status["air"] else "this station has no air heater (air_heater)"
    if status["reason"] != why.HAND_HELD:
        return reason_texts.REASON_TEXTS[status["reason"]]
    if output == s.DUMP_VALVE_POWER:
        return "this station has no dump valve (dump_topology)"
    limit = (pump_limit if output == s.COLLECTOR_PUMP else tank_limit)(status, settings)
    return limit or reason_texts.REASON_TEXTS[status["wait"] or why.WAIT_VALVE]


def check(options) -> None:
    """Raise ValueError, one line, for an output or a time that no board takes."""
    names = [s.OUTPUT_NAMES[output] for output in s.MOVING]
    if options.action == "hand" and options.output not in (*names, "none"):
        raise ValueError(f"hand {options.output}: allowed {', '.join(names)}, none")
    least, top = {"hand": (1, HAND_TOP_S), "purge": (0, PURGE_TOP_S), "maintenance": (0, MAINTENANCE_TOP_S)}[options.action]
    if not least <= options.seconds <= top:
        raise ValueError(f"--seconds {options.seconds}: allowed {least} to {top}")


def relays(status: dict) -> dict:
    return dict(zip(s.OUTPUT_NAMES, status["commands"], strict=True))


def hand(client, options, say) -> int:
    """Hold an output, or let go of all; says what the relay does."""
    if options.output == "none":
        client.call("hand", s.MOVING[0], 0, 0)
        status = after_a_step(client)
        facts = {"mask": 0, "value": 0, "seconds": 0, "relays": relays(status)}
        say(options, facts, f"no output is held; now {reason_texts.REASON_TEXTS[status['reason']]}")
        return 0
    output = s.OUTPUT_NAMES.index(options.output)
    client.call("hand", output, int(not options.off), options.seconds)
    status = after_a_step(client)
    mask, value, left_s = status["hands"]
    on = status["commands"][output] != 0
    reason = "" if on or options.off else why_off(status, output, client.settings()[0])
    end = at_clock(left_s)
    text = f"{options.output} is {'on' if on else 'off'} until {end}"
    if reason:
        text = f"{options.output} stays off: {reason}; the hand ends at {end}"
    if status["injecting"]:
        text += "; on injected readings, which move no relay"
    facts = {"mask": mask, "value": value, "seconds": left_s, "output": options.output, "on": on, "why": reason or None}
    say(options, {**facts, "end": end, "relays": relays(status)}, text)
    return 0


def upkeep(client, options, say) -> int:
    """Start or end purging or maintenance; says what the relays do."""
    client.call(options.action, options.seconds)
    status = after_a_step(client)
    lines = [f"{options.action} is over"]
    if options.seconds:
        on = ", ".join(name for name, command in relays(status).items() if command)
        lines = [f"{options.action} until {at_clock(status['upkeep'][1])}; on now: {on or 'nothing'}"]
        if options.action == "maintenance":
            lines.append(NO_LOCK_OUT)
    say(options, {"upkeep": options.action, "seconds": options.seconds, "relays": relays(status)}, "\n".join(lines))
    return 0


def held_facts(status: dict) -> dict:
    """What people hold on a board, for `status`."""
    mask, value, left_s = status["hands"]
    outputs = {s.OUTPUT_NAMES[output]: value >> output & 1 for output in s.MOVING if mask >> output & 1}
    kinds = {s.UPKEEP_NONE: None, s.UPKEEP_MAINTENANCE: "maintenance", s.UPKEEP_PURGE: "purge"}
    return {"hands": outputs, "hands_s": left_s, "upkeep": kinds[status["upkeep"][0]], "upkeep_s": status["upkeep"][1]}


def held_lines(held: dict) -> list[str]:
    lines = []
    if held["hands"]:
        outputs = ", ".join(f"{name} {'on' if on else 'off'}" for name, on in held["hands"].items())
        lines.append(f"held by hand for {held['hands_s']} s more: {outputs}")
    if held["upkeep"]:
        lines.append(f"{held['upkeep']} for {held['upkeep_s']} s more")
    return lines
