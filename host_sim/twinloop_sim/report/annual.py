"""Page and picture of a run over months: a row and a group of bars for each month."""

from pathlib import Path

from ..sheets import colours, html
from ..sheets.clock import Clock
from . import summary
from .months import MONTH_COLUMNS, month_cells
from .page import end_parts, top_parts

WIDTH_PX, HEIGHT_PX, PX_PER_INCH = 1600, 800, 100
# Bars of a month, from left to right: key of heat_kwh, label, colour.
BARS = (
    ("collected", "collected", colours.SUN),
    ("used", "used at the taps", colours.DRAW),
    ("dumped", "dumped", colours.LIMIT),
    ("gas", "gas burnt", colours.VERMILION),
)


def write_annual(path, run):
    """Write the page of a run over months; otherwise as page.write_report."""
    document = run.document
    headings = ["month", *(heading for heading, *_ in MONTH_COLUMNS)]
    rows = [[month["month"], *month_cells(month)] for month in document["months"]]
    note = f" The figures come from every step; trace.csv has one row every {document['trace_step_s']:g} s."
    parts = [
        *top_parts(run, Clock(run.start), note),
        html.element("h2", "Month by month"),
        html.table(headings, rows, numbers=range(1, len(headings)), caption="Heat in kWh", wide=True),
        *(html.element("p", note) for note in document["notes"]),
        html.element("h2", "Heat balance"),
        summary.balance(document),
        *summary.air(document),
        html.element("h2", "Starts and hours"),
        summary.hours(document),
        *end_parts(run),
    ]
    Path(path).write_text(html.page(f"Twinloop: {run.scenario}", parts), encoding="utf-8")


def write_bars(path, run):
    """Write the months of a run as a PNG of 1600 x 800 pixels. Raises: OSError."""
    from matplotlib.figure import Figure

    months = run.document["months"]
    picture = Figure(figsize=(WIDTH_PX / PX_PER_INCH, HEIGHT_PX / PX_PER_INCH), dpi=PX_PER_INCH)
    axes = picture.subplots(gridspec_kw={"left": 0.06, "right": 0.98, "top": 0.92, "bottom": 0.06})
    width = 0.8 / len(BARS)
    for place, (key, label, colour) in enumerate(BARS):
        left = [month + (place - (len(BARS) - 1) / 2.0) * width for month in range(len(months))]
        axes.bar(left, [month["heat_kwh"][key] for month in months], width, label=label, color=colour)
    axes.set_xticks(range(len(months)), [month["month"] for month in months])
    axes.set_ylabel("heat, kWh per month")
    axes.grid(axis="y", color="#E2E2E2")
    axes.set_axisbelow(True)
    axes.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=len(BARS), frameon=False)
    axes.set_title(f"Twinloop simulation: {run.scenario}", loc="left", parse_math=False)
    picture.savefig(path, format="png")
