"""The picture of one run: temperatures, sun and draw, duties and relays over one time axis."""

import textwrap
from datetime import timedelta

import numpy as np
from twinloop.control import state as s

from ..sheets import colours
from ..sheets.clock import Clock
from ..sheets.words import limits_c, output_word, spaced
from .figure import DUTY_ROW, shown_rows, stretches, temperature_range
from .summary import is_good

WIDTH_PX, HEIGHT_PX, PX_PER_INCH = 1600, 1000, 100
DASHES = {"solid": "-", "dash": "--", "dot": ":"}
SECONDS_A_DAY = 86400.0


def write_overview(path, run):
    """Write the picture of one run as a PNG of 1600 x 1000 pixels. Raises: OSError."""
    from matplotlib.figure import Figure

    clock = Clock(run.start)
    shown = shown_rows(run)
    picture = Figure(figsize=(WIDTH_PX / PX_PER_INCH, HEIGHT_PX / PX_PER_INCH), dpi=PX_PER_INCH)
    heights = {"height_ratios": [3.2, 1.2, 1.3], "left": 0.085, "right": 0.855, "top": 0.92, "bottom": 0.055, "hspace": 0.09}
    warm, sun, strips = picture.subplots(3, 1, sharex=True, gridspec_kw=heights)
    days = run.trace["t_s"] / SECONDS_A_DAY
    _temperatures(warm, run, shown, days[shown.rows])
    _sun_and_draw(sun, run, shown, days[shown.rows])
    _strips(strips, run, days)
    _time_axis(strips, run, clock)
    # The name is free text: a pair of dollar signs would be read as a formula.
    title = f"Twinloop simulation: {run.scenario} ({'good' if is_good(run.document) else 'not good'})"
    picture.text(0.085, 0.965, textwrap.shorten(title, 110), fontsize=15, fontweight="bold", parse_math=False)
    under = textwrap.shorten(f"{run.what.rstrip('.')}. {run.document['days']:g} days from {run.start}.", 170)
    picture.text(0.085, 0.938, under, fontsize=11, color=colours.LIMIT, parse_math=False)
    picture.savefig(path, format="png")


def _temperatures(axes, run, shown, days):
    for name in s.SENSOR_NAMES:
        colour, dash, width = colours.SENSOR_LINES[name]
        if not np.isnan(run.trace[name]).all():
            axes.plot(days, run.trace[name][shown.rows], color=colour, linestyle=DASHES[dash], linewidth=width, label=spaced(name))
    low, high = temperature_range(run, shown)
    for name, limit_c in limits_c(run.settings):
        axes.axhline(limit_c, color=colours.LIMIT, linewidth=0.8, linestyle=(0, (6, 4)))
        place = {"xycoords": ("axes fraction", "data"), "textcoords": "offset points", "xytext": (4, 3)}
        axes.annotate(f"{name} {limit_c:g} °C", (0, limit_c), fontsize=9, color=colours.LIMIT, **place)
    axes.set_ylim(low - 0.03 * (high - low), high + 0.05 * (high - low))
    axes.set_ylabel("temperature, °C")
    axes.grid(color="#E2E2E2")
    axes.legend(loc="upper left", bbox_to_anchor=(1.04, 1.01), frameon=False)


def _sun_and_draw(axes, run, shown, days):
    sun = run.trace["irradiance_w_per_m2"][shown.rows]
    axes.fill_between(days, sun, color=colours.SUN, alpha=0.25, linewidth=0)
    axes.plot(days, sun, color=colours.SUN, linewidth=1.1, label="irradiance")
    axes.set_ylabel("sun, W/m²")
    axes.set_ylim(bottom=0)
    axes.grid(color="#E2E2E2")
    right = axes.twinx()
    right.plot(
        days, run.trace["draw_l_per_min"][shown.rows], color=colours.DRAW, linewidth=0.9, drawstyle="steps-post", label="draw"
    )
    right.set_ylabel("draw, L/min")
    right.set_ylim(bottom=0)
    handles = [*axes.get_legend_handles_labels()[0], *right.get_legend_handles_labels()[0]]
    axes.legend(handles=handles, loc="upper left", bbox_to_anchor=(1.04, 1.03), frameon=False)


def _strips(axes, run, days):
    from matplotlib.patches import Patch

    edges = np.append(days, days[-1] + run.document["step_s"] / SECONDS_A_DAY)
    handles = []
    for word, row, first, end, colour, _, hatch in stretches(run):
        _spans(axes, edges[first], edges[end], row, colour, hatch)
        if row == DUTY_ROW:
            handles.append(Patch(facecolor=colour, edgecolor="#FFFFFF", hatch=hatch, linewidth=0, label=word))
    labels = [output_word(index) for index in reversed(range(s.OUTPUTS))]
    axes.set_yticks(range(s.OUTPUTS + 1), [*("\n".join(textwrap.wrap(label, 14)) for label in labels), "duty"])
    axes.set_ylim(-0.6, s.OUTPUTS + 0.6)
    axes.legend(handles=handles, loc="upper left", bbox_to_anchor=(1.04, 1.03), frameon=False)


def _spans(axes, begins, ends, row, colour, hatch):
    spans, place = np.column_stack([begins, ends - begins]), (row - 0.4, 0.8)
    # The edge keeps a stretch of minutes visible, which in a week is less than a pixel wide.
    axes.broken_barh(spans, place, facecolor=colour, edgecolor=colour, linewidth=0.7)
    if hatch:
        axes.broken_barh(spans, place, facecolor="none", edgecolor="#FFFFFF", hatch=hatch, linewidth=0)


def _time_axis(axes, run, clock):
    last = (run.trace["t_s"][-1] + run.document["step_s"]) / SECONDS_A_DAY
    axes.set_xlim(0, last)
    midnight = clock.first.replace(hour=0, minute=0, second=0)
    offset = (midnight - clock.first) / timedelta(days=1)
    # There is room for at most fifteen labels.
    step = max(1, int(np.ceil(last / 15)))
    ticks = [day for day in np.arange(offset, last, step) if day >= 0]
    if len(ticks) < 2:
        ticks = np.linspace(0, last, 9)
        labels = [clock.day_and_time(day * SECONDS_A_DAY) for day in ticks]
    else:
        labels = [clock.day(day * SECONDS_A_DAY) for day in ticks]
    axes.set_xticks(ticks, labels)
