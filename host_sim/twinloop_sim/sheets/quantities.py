"""Text with a unit to the firmware's integers and back: `75C`, `8K`, `2.5bar`, `bypass`."""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation

from twinloop.control import settings as cfg

# Unit of a setting -> unit that a person may write -> factor and offset to the setting's unit.
_F = (Decimal(5000) / 9, Decimal(-32) * 5000 / 9)
UNITS: dict[str, dict[str, tuple[Decimal, Decimal]]] = {
    "mC": {"C": (Decimal(1000), Decimal(0)), "F": _F},
    "mK": {"K": (Decimal(1000), Decimal(0)), "C": (Decimal(1000), Decimal(0)), "F": (Decimal(5000) / 9, Decimal(0))},
    "ms": {
        "s": (Decimal(1000), Decimal(0)),
        "min": (Decimal(60000), Decimal(0)),
        "h": (Decimal(3600000), Decimal(0)),
        "ms": (Decimal(1), Decimal(0)),
    },
    "s": {"h": (Decimal(3600), Decimal(0)), "min": (Decimal(60), Decimal(0)), "s": (Decimal(1), Decimal(0))},
    "ml": {
        "L": (Decimal(1000), Decimal(0)),
        "l": (Decimal(1000), Decimal(0)),
        "ml": (Decimal(1), Decimal(0)),
        "gal": (Decimal("3785.412"), Decimal(0)),
    },
    "ml/min": {
        "L/min": (Decimal(1000), Decimal(0)),
        "l/min": (Decimal(1000), Decimal(0)),
        "ml/min": (Decimal(1), Decimal(0)),
        "gal/min": (Decimal("3785.412"), Decimal(0)),
    },
    "kPa": {"kPa": (Decimal(1), Decimal(0)), "bar": (Decimal(100), Decimal(0)), "psi": (Decimal("6.894757"), Decimal(0))},
    "m": {"m": (Decimal(1), Decimal(0)), "ft": (Decimal("0.3048"), Decimal(0))},
    "%": {"%": (Decimal(1), Decimal(0)), "": (Decimal(1), Decimal(0))},
}
# Shown unit, and how many of the setting's unit make one of it.
SHOWN = {
    "mC": ("C", 1000),
    "mK": ("K", 1000),
    "ms": ("s", 1000),
    "s": ("h", 3600),
    "ml": ("L", 1000),
    "ml/min": ("L/min", 1000),
    "kPa": ("kPa", 1),
    "m": ("m", 1),
    "%": ("%", 1),
}
CHOICES = {
    "dump_topology": cfg.TOPOLOGY_NAMES,
    "dump_crossover": cfg.CROSSOVER_NAMES,
    "flow_sensor": cfg.FLOW_SENSOR_NAMES,
}
_NUMBER = re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?)\s*([^\s0-9].*)?")


def choice_names(name: str) -> tuple[str, ...]:
    """The words of a setting that is a choice."""
    return CHOICES.get(name, cfg.NO_YES)


def split_number(name: str, text: str) -> tuple[Decimal, str]:
    """Number and unit of a text such as `8 K`. Raises: ValueError without a number."""
    match = _NUMBER.fullmatch(text.strip())
    if not match:
        raise ValueError(f"{name} = {text}: not a number with a unit")
    try:
        return Decimal(match[1]), (match[2] or "").replace("°", "")
    except InvalidOperation:
        raise ValueError(f"{name} = {text}: not a number with a unit") from None


def parse_setting(name: str, unit: str, text: str) -> int:
    """A setting's integer from text with a unit. Raises: ValueError that says what is allowed."""
    if unit == "choice":
        names = choice_names(name)
        if text.strip() not in names:
            raise ValueError(f"{name} = {text}: allowed {', '.join(names)}")
        return names.index(text.strip())
    number, written = split_number(name, text)
    known = UNITS[unit]
    if written not in known:
        allowed = ", ".join(word for word in known if word)
        missing = "needs a unit" if not written else f"unit {written} does not fit"
        raise ValueError(f"{name} = {text}: {missing}, allowed {allowed}")
    factor, offset = known[written]
    return int((number * factor + offset).to_integral_value())


def show_setting(name: str, unit: str, value: int) -> str:
    """A setting's value as a person writes it."""
    if unit == "choice":
        names = choice_names(name)
        return names[value] if 0 <= value < len(names) else str(value)
    shown, per_unit = SHOWN[unit]
    return f"{value / per_unit:g} {shown}"


def settings_rows(values) -> list[tuple[str, str, str, str]]:
    """Name, value, default and reason of every setting, as text; `values` by code."""
    return [
        (name, show_setting(name, unit, value), show_setting(name, unit, default), why)
        for (name, unit, _, _, default, why), value in zip(cfg.TABLE, values, strict=True)
    ]


def explain_rule(rule: int, values) -> str:
    """Why a set of settings is refused, in one line: what, its value, what is allowed."""
    from twinloop.control.reason_texts import RULE_SETTINGS, RULE_TEXTS

    def show(code: int) -> str:
        name, unit = cfg.TABLE[code][:2]
        return f"{name} = {show_setting(name, unit, int(values[code]))}"

    if rule >= cfg.RULE_RANGE:
        code = rule - cfg.RULE_RANGE
        name, unit, low, high = cfg.TABLE[code][:4]
        return f"{show(code)}: allowed {show_setting(name, unit, low)} to {show_setting(name, unit, high)}"
    return f"{', '.join(show(code) for code in RULE_SETTINGS[rule])}: {RULE_TEXTS[rule]}"
