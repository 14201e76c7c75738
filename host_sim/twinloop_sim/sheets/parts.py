"""Parts that every kind of page has: settings and cautions. Nothing heavy is imported here."""

from . import html
from .words import value_of

LAST_DEVICE = (
    "This controller is not the last safety device. The following must work without it: a temperature-and-pressure "
    "relief valve with its discharge pipe on the tank, a relief valve and an expansion vessel on both sides, a mechanical "
    "mixing valve before the taps, and an over-temperature cut-out with manual reset (85 to 90 °C) on the supply of tank pump and "
    "dump valve."
)
TRADES = "Mains wiring, gas, drinking water and pressure work belong to licensed trades under your local code."
NOT_PROTECTED = (
    "Frost with the pumps off: not protected. On a frosty night, glycol that sinks through a leaking check valve can chill the "
    "exchanger, and this station has no sensor there to see it."
)
NO_RADIATOR = "There is no radiator (dump_topology none): once the tank is full, the collector stagnates on every sunny day."


def settings_part(settings, opened=False):
    """Return the settings (name, value, default, why), changed ones first, unfolded if `opened`."""
    changed = [row for row in settings if row[1] != row[2]]
    others = [row for row in settings if row[1] == row[2]]
    rows = [[name, value, default, "changed" if value != default else "", why] for name, value, default, why in changed + others]
    summary_text = f"Settings: {len(changed)} of {len(rows)} changed from their defaults"
    headings = ("setting", "value", "default", "", "why")
    return html.element(
        "details",
        html.element("summary", summary_text),
        html.table(headings, rows, numbers=(1, 2), marked=range(len(changed)), wide=True),
        open=opened,
    )


def cautions_part(heading, notes, settings):
    """Return the cautions of a page, and what this station lacks."""
    notes = list(notes)
    if value_of(settings, "exchanger_fitted") == "no":
        notes.append(NOT_PROTECTED)
    if value_of(settings, "dump_topology") == "none":
        notes.append(NO_RADIATOR)
    return html.element("section", html.element("h2", heading), *(html.element("p", note) for note in notes), class_="cautions")
