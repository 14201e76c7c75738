"""The JSON Schema of a scenario or plant file: `python -m twinloop_sim.pages.schema` rewrites it from the tables that check it.

A schema says what one value may be; what values have to be together only the checks behind it know. So a file that fits the schema
may still be refused, with the one line that says why; a file that does not fit is always refused.
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
    """A closed table of these keys."""
    found = {"type": "object", "properties": properties, "additionalProperties": False}
    if required:
        found["required"] = list(required)
    return {"description": text, **found} if text else found


def value(kind: str, low: float, high: float, text: str = "", default=None) -> dict:
    """A number or whole number between two bounds."""
    found = {"type": kind, "minimum": low, "maximum": high}
    if default is not None:
        found["default"] = default
    return {"description": text, **found} if text else found


def plant_table() -> dict:
    """Values of the plant: a number, or a text that carries the unit as well."""
    rows = {}
    for row in p.TABLE:
        number = value("integer" if row.whole else "number", row.low, row.high)
        unit = row.unit.replace(" ", "")
        text = f"{row.meaning}, {row.unit}, {row.low:g} to {row.high:g}"
        rows[row.name] = {
            "description": text,
            "default": row.default,
            "anyOf": [number, {"type": "string", "examples": [f"1 {unit}"]}],
        }
    return table(rows, text="what the plant is; left out means the default")


def settings_table() -> dict:
    """Settings of the firmware: a text with a unit, or one of the words of a choice."""
    rows = {}
    for name, unit, low, high, default, why in cfg.TABLE:
        shown = [quantities.show_setting(name, unit, number) for number in (default, low, high)]
        text = {"description": f"{why}; {shown[1]} to {shown[2]}", "default": shown[0], "type": "string"}
        if unit == "choice":
            text = {**text, "enum": list(quantities.choice_names(name)), "description": why}
        elif unit == "%":
            text = {**text, "type": ["string", "integer"]}
        rows[name] = text
    return table(rows, text="settings of the firmware, each with its unit; one that is a fact of the plant as well changes both")


def demand_table() -> dict:
    """What is drawn: a profile or draws of one's own."""
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
        "seed": value("integer", 0, 2**31 - 1, "where the random numbers begin", 1),
        "heat_percent": value("number", 0.0, 100.0, "spread of each draw's heat", demand.HEAT_PERCENT),
        "shift_min": value("number", 0.0, 120.0, "how far each draw may move, minutes either way", demand.SHIFT_MIN),
    }
    keys = {
        "profile": {"enum": list(PROFILES), "default": "M", "description": "of Regulation (EU) 812/2013"},
        "draw": {"type": "array", "items": row, "minItems": 1, "description": "draws of one's own in the place of a profile"},
        "daily_kwh": value("number", 0.0, 100.0, "heat of a day at the taps; the draws last as long as that takes"),
        "absent_days": {
            "type": "array",
            "items": {"anyOf": [day, pair]},
            "description": "counted from 0; a pair is first and last day",
        },
        "variation": table(variation, text="days that differ"),
    }
    return {**table(keys), "not": {"required": ["profile", "draw"]}}


def schema() -> dict:
    """The whole schema."""
    clear_sky = {key: value("number", *limits) for key, limits in scenarios.CLEAR_SKY.items()}
    keys = {
        "what": {"type": "string", "description": "one sentence", "default": scenarios.DEFAULT_WHAT},
        "weather": {
            "type": "string",
            "default": "greensboro",
            "description": f"{', '.join(SHIPPED)}, or the path of a file: {KINDS}",
        },
        "clear_sky": table(clear_sky, tuple(clear_sky), "cloudless days of a place in the place of a weather file"),
        "cloud_seed": value("integer", 0, 2**31 - 1, "clouds pass within the hours of the weather; left out: they do not"),
        "start": {
            "type": "string",
            "pattern": "^[0-9]{1,2}-[0-9]{1,2}$",
            "default": scenarios.DEFAULT_START,
            "description": "month-day",
        },
        "days": value("integer", 1, scenarios.DAYS_TOP, "", scenarios.DEFAULT_DAYS),
        "step_s": value("integer", 1, 60, "step of the firmware, a whole part of an hour", 5),
        "trace_step_s": value(
            "integer", 1, 86400, "a row of the trace, a multiple of step_s; 600 where a run is longer than 31 days"
        ),
        "collector": {"enum": list(presets.COLLECTORS), "description": "generic coefficients; [plant] goes before them"},
        "demand": demand_table(),
        "tank": table({key: value("number", 5.0, 95.0) for key in scenarios.TANK_KEYS}, text="bottom and top at the beginning, C"),
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
    """The schema as it stands in its file."""
    return json.dumps(schema(), indent=1) + "\n"


if __name__ == "__main__":
    FILE.write_text(text())
