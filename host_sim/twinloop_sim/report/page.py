"""The page of one run: verdict, key figures, a figure over time, heat balance, and tables."""

from importlib.resources import files
from pathlib import Path

from ..sheets import html
from ..sheets.clock import Clock, duration
from ..sheets.parts import LAST_DEVICE, TRADES, cautions_part, settings_part
from ..sheets.words import VALVE_WAYS, value_of
from . import summary
from .figure import figure, shown_rows

CAUTIONS = (
    LAST_DEVICE,
    "A simulation is a model. Its weather is a typical year, not next year, and its pipes have no mistakes. A good verdict is a "
    "reason to test the real station, not a reason to skip the test.",
    TRADES,
)


def write_report(path, run):
    """Write the page of one run as one HTML file that needs no network. Raises: OSError."""
    from plotly.offline import get_plotlyjs

    clock = Clock(run.start)
    shown = shown_rows(run)
    document = run.document
    parts = [
        *top_parts(run, clock),
        html.element("h2", "The run on one time axis"),
        *_figure(run, shown),
        html.element("h2", "Heat balance"),
        summary.balance(document),
        *summary.air(document),
        html.element("h2", "Starts and hours"),
        summary.hours(document),
        html.element("h2", "Hottest and coldest"),
        summary.extremes(run, clock),
        html.element("h2", "What happened"),
        summary.events(run, clock),
        *end_parts(run),
        html.json_block("figure-data", figure(run, shown, clock)),
        html.script(get_plotlyjs()),
        html.script(files(__package__).joinpath("figure.js").read_text(encoding="utf-8")),
    ]
    Path(path).write_text(html.page(f"Twinloop: {run.scenario}", parts), encoding="utf-8")


def top_parts(run, clock, note=""):
    """Return what a page begins with, as a list of `Html`; `note` is added to what was run."""
    document = run.document
    span = f"{document['days']:g} days from {run.start}; {document['steps']} control steps of {document['step_s']:g} s."
    return [
        html.element("h1", f"Twinloop simulation: {run.scenario}"),
        html.element("p", run.what),
        html.element("p", span + note, class_="soft"),
        summary.verdict(document, clock),
        summary.tiles(document),
    ]


def end_parts(run):
    """Return settings, plant and cautions, as a list of `Html`."""
    rows = [list(row) for row in run.plant]
    return [
        html.element("h2", "Settings and plant"),
        settings_part(run.settings),
        html.element(
            "details",
            html.element("summary", f"Plant: {len(rows)} values"),
            html.table(("name", "value", "unit", "meaning"), rows, numbers=(1,)),
        ),
        cautions_part("Before you trust it", CAUTIONS, run.settings),
    ]


def _figure(run, shown):
    buttons = (("whole-run", "whole run"), ("one-day", "one day"), ("day-before", "◀ day before"), ("day-after", "day after ▶"))
    return (
        html.element(
            "p",
            "Point at the figure to read every value and what the station was doing. Drag across it to zoom in; click a name "
            "to hide or show a line. Lines named “truth” show the plant itself instead of the sensors and are hidden at first.",
            class_="soft on-screen",
        ),
        html.element("div", *(html.element("button", text, id=name, type="button") for name, text in buttons), class_="steps"),
        html.element(
            "figure",
            html.element("div", id="figure", role="img", aria_label="temperatures, sun, draw, duty and outputs over time"),
            html.element("noscript", "The figure needs a browser with scripts enabled; the tables below do not."),
            html.element("figcaption", VALVE_WAYS.get(value_of(run.settings, "dump_topology"), ""), " ", _footnote(run, shown)),
        ),
    )


def _footnote(run, shown):
    count = len(run.trace["t_s"])
    bars = "The bars of duty and outputs use every control step, so their ends are exact."
    gap = "A gap in a line is a reading that was not trusted."
    if len(shown.rows) == count:
        return f"The lines show all {count} control steps. {bars} {gap}"
    bucket = duration(shown.bucket_rows * run.document["step_s"])
    kept = f"the steps with the lowest and the highest value of every line within each {bucket}"
    if shown.exact:
        kept += ", and the steps before and after every change of duty, reason, output or draw and every gap"
    else:
        kept += (
            " and of every gap. There are too many changes of duty and output to show a point for each, and short stretches run "
            "together: zoom in"
        )
    return f"How it is drawn: the lines show {len(shown.rows)} of {count} control steps: {kept}. No peak is lost. {bars} {gap}"
