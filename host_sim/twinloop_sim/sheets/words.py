"""Codes and field names in words. Sentences come from the firmware's tables, never from here."""

import re

from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.reason_texts import REASON_TEXTS

# Settings drawn as thin lines over the temperatures.
LIMITS = ("tank_limit", "collector_limit")
# "Dump valve power" alone does not tell where the glycol goes; this does, for each dump_topology.
_WAYS = (
    "With dump valve power on, glycol goes to the exchanger; with it off, through the radiator instead.",
    "With dump valve power on, glycol goes straight to the exchanger; with it off, through the radiator first.",
    "There is no radiator, so dump valve power has no effect.",
)
VALVE_WAYS = dict(zip(cfg.TOPOLOGY_NAMES, _WAYS, strict=True))


def spaced(name):
    """Return a field name for reading: "tank_low" becomes "tank low"."""
    return name.replace("_", " ")


def duty_word(code):
    """Return the duty's name for reading; `code` as in the trace."""
    return spaced(s.DUTY_NAMES[code]) if 0 <= code < s.DUTIES else f"duty {code}"


def reason_sentence(code):
    """Return the firmware's sentence for a reason code; `code` as in the trace."""
    return REASON_TEXTS.get(code, f"reason {code}")


def output_word(index):
    """Return the output's name for reading; `index` as in OUTPUT_NAMES."""
    return spaced(s.OUTPUT_NAMES[index])


def limits_c(settings):
    """Return (name, C) of the limits that a temperature figure shows; values read as "75 C"."""
    found = []
    for name, value, *_ in settings:
        text = re.match(r"\s*(-?\d+(?:\.\d+)?)\s*(?:°?\s*C)?\s*$", value)
        if name in LIMITS and text:
            found.append((name, float(text.group(1))))
    return found


def value_of(settings, name):
    """Return the value of one setting as text, or None."""
    return next((value for found, value, *_ in settings if found == name), None)
