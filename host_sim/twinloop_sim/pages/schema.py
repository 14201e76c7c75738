"""The JSON Schema of a scenario or plant file, made from the tables that check it.

`python -m twinloop_sim.pages.schema` rewrites it. A schema limits single values; only the code
checks which values go together. So a file that fits the schema may still be refused, with one line
that says why, but a file that does not fit is always refused.
"""

from __future__ import annotations

import json
from pathlib import Path

from twinloop.control import settings as cfg

from .. import scenarios
from ..demand.profiles import PROFILES
from ..scenarios import demand
from ..sheets import quantities
from ..thermal import parameters as p
from ..thermal import presets
from ..weather.files import KINDS, SHIPPED

FILE = Path(scenarios.__file__).parent / "plant.schema.json"
_CLOCK = "^([01][0-9]|2[0-3]):[0-5][0-9]$"


def table(properties: dict, required: tuple[str, ...] = (), text: str = "") -> dict:
    """A table with only these keys."""
    found = {"type": "object", "properties": properties, "additionalProperties": False}
    if required:
        found["required"] = list(required)
    return {"description": text, **found} if text else found


def value(kind: str, low: float, high: float, text: str = "", default=None) -> dict:
    """A number or integer between two bounds."""
    found = {"type": kind, "minimum": low, "maximum": high}
    if default is not None:
        found["default"] = default
    return {"description": text, **found} if text else found


def plant_table() -> dict:
    """Values of the plant: a number, or a text with the unit."""
    rows = {}
    for row, _ in p.ROWS:
        number = value("integer" if row.whole else "number", row.low, row.high)
        unit = row.unit.replace(" ", "")
        text = f"{row.meaning}, {row.unit}, {row.low:g} to {row.high:g}"
        rows[row.name] = {
            "description": text,
            "default": row.default,
            "anyOf": [number, {"type": "string", "examples": [f"1 {unit}"]}],
        }
    return table(rows, text="values of the plant; what is left out has its default")


def settings_table() -> dict:
    """Settings of the firmware: a text with a unit, or a word of a choice."""
    rows = {}
    for name, unit, low, high, default, why in cfg.TABLE:
        shown = [quantities.show_setting(name, unit, number) for number in (default, low, high)]
        text = {"description": f"{why}; {shown[1]} to {shown[2]}", "default": shown[0], "type": "string"}
        if unit == "choice":
            text = {**text, "enum": list(quantities.choice_names(name)), "description": why}
        elif unit == "%":
            text = {**text, "type": ["string", "integer"]}
        rows[name] = text
    return table(
        rows, text="settings of the firmware, each with its unit; a setting that describes the plant also changes the plant"
    )


def demand_table() -> dict:
    """Hot water demand: a profile, or draws of your own."""
    row = table(
        {
            "at": {"type": "string", "pattern": _CLOCK, "description": "clock time"},
            "kwh": value("number", 0.001, 50.0, "heat at the tap"),
            "l_per_min": value("number", 0.5, 60.0, "flow at the delivery temperature"),
        },
        demand.DRAW_KEYS,
    )
    day = value("integer", 0, scenarios.DAYS_TOP - 1)
    pair = {"type": "array", "items": day, "minItems": 2, "maxItems": 2}
    variation = {
        "seed": value("integer", 0, 2**31 - 1, "random seed", 1),
        "heat_percent": value("number", 0.0, 100.0, "spread of the heat of each draw", demand.HEAT_PERCENT),
        "shift_min": value("number", 0.0, 120.0, "how far each draw may move either way, in minutes", demand.SHIFT_MIN),
    }
    keys = {
        "profile": {"enum": list(PROFILES), "default": "M", "description": "of Regulation (EU) 812/2013"},
        "draw": {"type": "array", "items": row, "minItems": 1, "description": "your own draws instead of a profile"},
        "daily_kwh": value("number", 0.0, 100.0, "heat per day at the taps; draws are made longer or shorter to match"),
        "absent_days": {
            "type": "array",
            "items": {"anyOf": [day, pair]},
            "description": "counted from 0; a pair is the first and the last day",
        },
        "variation": table(variation, text="random differences between days"),
    }
    return {**table(keys), "not": {"required": ["profile", "draw"]}}


def schema() -> dict:
    clear_sky = {key: value("number", *limits) for key, limits in scenarios.CLEAR_SKY.items()}
    keys = {
        "what": {"type": "string", "description": "one sentence", "default": scenarios.DEFAULT_WHAT},
        "weather": {
            "type": "string",
            "default": "greensboro",
            "description": f"{', '.join(SHIPPED)}, or the path of a file: {KINDS}",
        },
        "clear_sky": table(clear_sky, tuple(clear_sky), "cloudless days at a place, instead of a weather file"),
        "cloud_seed": value(
            "integer", 0, 2**31 - 1, "random seed of clouds that pass within the hours of the weather; without it there are none"
        ),
        "start": {
            "type": "string",
            "pattern": "^[0-9]{1,2}-[0-9]{1,2}$",
            "default": scenarios.DEFAULT_START,
            "description": "month-day",
        },
        "days": value("integer", 1, scenarios.DAYS_TOP, "", scenarios.DEFAULT_DAYS),
        "step_s": value("integer", 1, 60, "step of the firmware; must divide an hour", 5),
        "trace_step_s": value(
            "integer", 1, 86400, "seconds between rows of the trace, a multiple of step_s; default 600 in runs longer than 31 days"
        ),
        "collector": {"enum": list(presets.COLLECTORS), "description": "generic coefficients; values in [plant] override them"},
        "demand": demand_table(),
        "tank": table({key: value("number", 5.0, 95.0) for key in scenarios.TANK_KEYS}, text="bottom and top at the start, C"),
        "settings": settings_table(),
        "plant": plant_table(),
    }
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Twinloop plant or scenario file (TOML)",
        "description": "Every key may be left out. Generated: python -m twinloop_sim.pages.schema",
    }
    return {**head, **table(keys), "not": {"required": ["weather", "clear_sky"]}}


def text() -> str:
    return json.dumps(schema(), indent=1) + "\n"


if __name__ == "__main__":
    FILE.write_text(text())
