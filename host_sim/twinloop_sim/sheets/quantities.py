"""Text with a unit to the firmware's integers and back: `75C`, `8K`, `2.5bar`, `bypass`."""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation

from twinloop.control import settings as cfg

_F = (Decimal(5000) / 9, Decimal(-32) * 5000 / 9)


def _times(factor: int | str) -> tuple[Decimal, Decimal]:
    return Decimal(factor), Decimal(0)


# Unit of a setting -> unit that a person may write -> factor and offset to the setting's unit.
UNITS: dict[str, dict[str, tuple[Decimal, Decimal]]] = {
    "mC": {"C": _times(1000), "F": _F},
    "mK": {"K": _times(1000), "C": _times(1000), "F": (Decimal(5000) / 9, Decimal(0))},
    "ms": {"s": _times(1000), "min": _times(60000), "h": _times(3600000), "ms": _times(1)},
    "s": {"h": _times(3600), "min": _times(60), "s": _times(1)},
    "ml": {"L": _times(1000), "l": _times(1000), "ml": _times(1), "gal": _times("3785.412")},
    "ml/min": {"L/min": _times(1000), "l/min": _times(1000), "ml/min": _times(1), "gal/min": _times("3785.412")},
    "kPa": {"kPa": _times(1), "bar": _times(100), "psi": _times("6.894757")},
    "m": {"m": _times(1), "ft": _times("0.3048")},
    "%": {"%": _times(1), "": _times(1)},
    "h": {"h": _times(1), "d": _times(24)},
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
    "h": ("h", 1),
}
CHOICES = {
    "dump_topology": cfg.TOPOLOGY_NAMES,
    "dump_crossover": cfg.CROSSOVER_NAMES,
    "flow_sensor": cfg.FLOW_SENSOR_NAMES,
    "fan_place": cfg.FAN_PLACE_NAMES,
}
# No value of a setting or a plant comes near: beyond, sums and conversions would overflow.
DIGITS_TOP = 15
_NUMBER = re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?)\s*([^\s0-9].*)?")


def choice_names(name: str) -> tuple[str, ...]:
    return CHOICES.get(name, cfg.NO_YES)


def split_number(name: str, text: str) -> tuple[Decimal, str]:
    """Number and unit of a text such as `8 K`. Raises: ValueError without a number."""
    match = _NUMBER.fullmatch(text.strip())
    if not match:
        raise ValueError(f"{name} = {text}: not a number with a unit")
    try:
        number = Decimal(match[1])
    except InvalidOperation:
        raise ValueError(f"{name} = {text}: not a number with a unit") from None
    if number and number.adjusted() > DIGITS_TOP:
        raise ValueError(f"{name} = {text}: too large a number")
    return number, (match[2] or "").replace("°", "")


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
    from twinloop.reason_texts import RULE_SETTINGS, RULE_TEXTS

    def show(code: int) -> str:
        name, unit = cfg.TABLE[code][:2]
        return f"{name} = {show_setting(name, unit, int(values[code]))}"

    if rule >= cfg.RULE_RANGE:
        code = rule - cfg.RULE_RANGE
        name, unit, low, high = cfg.TABLE[code][:4]
        return f"{show(code)}: allowed {show_setting(name, unit, low)} to {show_setting(name, unit, high)}"
    return f"{', '.join(show(code) for code in RULE_SETTINGS[rule])}: {RULE_TEXTS[rule]}"
