"""The picture of one switching check: readings above, relays below, and a close-up.

It draws what the bench recorded: rows of (simulated s, readings by sensor in mC, commands in the
order of OUTPUT_NAMES), and marks of (simulated s, sensor, mC) where a slow ramp ended because the
board switched.
"""

import io
import re
from dataclasses import dataclass
from xml.etree import ElementTree

from twinloop.control import state as s

from . import colours
from .html import Html
from .words import output_word, spaced

WIDTH_IN, HEIGHT_IN = 4.7, 3.1
DASHES = {"solid": "-", "dash": "--", "dot": ":"}
SVG, LINK = "http://www.w3.org/2000/svg", "{http://www.w3.org/1999/xlink}href"
# The close-up shows 15 steps of 5 s, in which a ramp moves by 1.5 K, and this much room around the
# limits.
CLOSE_S, CLOSE_C = 75.0, 1.0
# The last command is drawn this long, so that it can be seen.
LAST_S = 5.0
SMALL, TINY = 7.5, 6.5


@dataclass
class Place:
    """Where a check switched: the ramped sensor, or "" when a time was measured.

    For a ramp: when it switched (s), its reading then, and what was allowed, in C (None when the
    limits do not apply to the reading). For a time: when it began (s), and the others in s after
    that.
    """

    sensor: str
    at_s: float
    at: float
    low: float | None
    high: float | None


def can_draw():
    """Return whether matplotlib is installed; without it a page has no pictures."""
    try:
        import matplotlib  # noqa: F401
    except ImportError:
        return False
    return True


def moved(rows):
    """Return the names of the sensors whose readings changed."""
    return [name for name in s.SENSOR_NAMES if len({readings[name] for _, readings, _ in rows}) > 1]


def place_of(check, rows, marks):
    """Return the `Place` where a check switched, or None when its recording does not show it."""
    if check["measured"] is None:
        return None
    return timed_place(check, rows) if check["unit"] == "s" else ramped_place(check, rows, marks)


def timed_place(check, rows):
    """Return the place of a time: it ends with the recording, where a relay has just moved."""
    if len(rows) < 2 or rows[-1][2] == rows[-2][2]:
        return None
    return Place("", rows[-1][0] - check["measured"], check["measured"], check["low"], check["high"])


def ramped_place(check, rows, marks):
    """Return the place of a reading or a difference: the last mark."""
    if not marks or check["unit"] not in ("C", "K"):
        return None
    at_s, sensor, at_mc = marks[-1]
    first_mc = next((mc for _, name, mc in marks[:-1] if name == sensor), None)
    tank_mc = next(readings["tank_low"] for t_s, readings, _ in rows if t_s == at_s)
    wanted_mc = round(check["measured"] * 1000)
    low, high = None, None
    # The figure tells what was measured: the reading itself, its distance from the last switching
    # point, or its difference to the tank. If none of these fits, no limits are drawn.
    if check["unit"] == "C" and at_mc == wanted_mc:
        low, high = check["low"], check["high"]
    elif first_mc is not None and first_mc - at_mc == wanted_mc:
        low, high = first_mc / 1000 - check["high"], first_mc / 1000 - check["low"]
    elif check["unit"] == "K" and at_mc - tank_mc == wanted_mc:
        low, high = tank_mc / 1000 + check["low"], tank_mc / 1000 + check["high"]
    return Place(sensor, at_s, at_mc / 1000, low, high)


def picture(check, rows, marks):
    """Return the picture of a check as SVG to embed in a page. Needs matplotlib."""
    import matplotlib
    from matplotlib.figure import Figure

    place = place_of(check, rows, marks)
    # Text stays text: a page's own fonts print sharper than outlines, at a tenth of the size.
    style = {"svg.fonttype": "none", "svg.hashsalt": ascii(check["name"]), "font.size": SMALL, "axes.linewidth": 0.6}
    with matplotlib.rc_context(style):
        drawing = Figure(figsize=(WIDTH_IN, HEIGHT_IN))
        ratios = {"height_ratios": [2.6, 1], "left": 0.205, "right": 0.985, "top": 0.84, "bottom": 0.125, "hspace": 0.09}
        if place is None:
            grid = drawing.subplots(2, 1, sharex="col", squeeze=False, gridspec_kw=ratios)
        else:
            grid = drawing.subplots(2, 2, sharex="col", gridspec_kw={**ratios, "width_ratios": [1.35, 1], "wspace": 0.27})
            close_up(grid[0][1], grid[1][1], rows, place)
        whole(drawing, grid[0][0], grid[1][0], rows, place)
        for axes in grid.flat:
            axes.tick_params(labelsize=TINY, length=2.5, width=0.6)
            axes.grid(color="#E2E2E2", linewidth=0.5)
            axes.set_axisbelow(True)
        target = io.BytesIO()
        drawing.savefig(target, format="svg", metadata={"Date": None})
    return inline(target.getvalue(), f"{check['name']}: readings and relays over the time of the station")


def lines(axes, rows, names, zero_s, per_unit_s):
    """Draw readings in C over time, from `zero_s`, in units of `per_unit_s`."""
    for name in names:
        colour, dash, width = colours.SENSOR_LINES[name]
        times = [(t_s - zero_s) / per_unit_s for t_s, _, _ in rows]
        values = [readings[name] / 1000 for _, readings, _ in rows]
        axes.plot(times, values, color=colour, linestyle=DASHES[dash], linewidth=0.7 * width, label=spaced(name))


def relays(axes, rows, zero_s, per_unit_s):
    """Draw the commands of each relay as bars, one row per output."""
    ends = [*(t_s for t_s, _, _ in rows[1:]), rows[-1][0] + LAST_S]
    for output in range(s.OUTPUTS):
        spans = []
        for (t_s, _, commands), end_s in zip(rows, ends, strict=True):
            if commands[output] and spans and spans[-1][1] == t_s:
                spans[-1][1] = end_s
            elif commands[output]:
                spans.append([t_s, end_s])
        bars = [((begin_s - zero_s) / per_unit_s, (end_s - begin_s) / per_unit_s) for begin_s, end_s in spans]
        axes.broken_barh(bars, (s.OUTPUTS - 1 - output - 0.36, 0.72), facecolor=colours.OUTPUT_COLOURS[output], linewidth=0)
    axes.set_ylim(-0.6, s.OUTPUTS - 0.4)
    axes.set_yticks(range(s.OUTPUTS), [])


def whole(drawing, upper, lower, rows, place):
    """Draw the whole check, in minutes from its beginning; `place` may be None."""
    lines(upper, rows, moved(rows), 0.0, 60.0)
    relays(lower, rows, 0.0, 60.0)
    lower.set_yticks(range(s.OUTPUTS), [output_word(output) for output in reversed(range(s.OUTPUTS))])
    lower.set_xlabel("station time, min", fontsize=SMALL, labelpad=2)
    lower.set_xlim(0, (rows[-1][0] + LAST_S) / 60)
    upper.set_ylabel("°C", fontsize=SMALL, labelpad=2)
    handles = upper.get_lines()
    drawing.legend(
        handles=handles, loc="upper center", bbox_to_anchor=(0.55, 1.01), ncols=3, frameon=False, fontsize=SMALL, handlelength=2.4
    )
    if place is None:
        return
    if place.sensor:
        upper.plot([place.at_s / 60], [place.at], **ring())
    end_s = place.at_s if place.sensor else place.at_s + place.at
    for axes in (upper, lower):
        axes.axvline(end_s / 60, **moment())


def ring():
    """Return the look of the mark at the switching point."""
    return {
        "marker": "o",
        "markersize": 6,
        "markerfacecolor": "none",
        "markeredgecolor": colours.BLACK,
        "linestyle": "none",
        "clip_on": False,
    }


def close_up(upper, lower, rows, place):
    """Draw the seconds around the switching, with what was allowed as a band."""
    relays(lower, rows, place.at_s, 1.0)
    if place.sensor:
        close_ramp(upper, rows, place)
        lower.set_xlim(-CLOSE_S, 3 * LAST_S)
        lower.set_xlabel("s from where it switched", fontsize=SMALL, labelpad=2)
        return
    lines(upper, rows, moved(rows), place.at_s, 1.0)
    for axes in (upper, lower):
        axes.axvline(0.0, **moment())
        axes.axvspan(place.low, place.high, **band())
    margin_s = max(LAST_S, 0.15 * place.at)
    lower.set_xlim(-margin_s, max(place.at, place.high) + margin_s)
    lower.set_xlabel("s from its beginning", fontsize=SMALL, labelpad=2)


def close_ramp(axes, rows, place):
    """Draw the end of a ramp, one dot per step."""
    near = [row for row in rows if -CLOSE_S <= row[0] - place.at_s <= LAST_S]
    lines(axes, near, [place.sensor], place.at_s, 1.0)
    axes.get_lines()[0].set(marker=".", markersize=3)
    axes.plot([0.0], [place.at], **ring())
    low, high = place.at, place.at
    if place.low is not None:
        axes.axhspan(place.low, place.high, **band())
        low, high = min(low, place.low), max(high, place.high)
    axes.set_ylim(low - CLOSE_C, high + CLOSE_C)


def moment():
    """Return the look of a line that marks a moment."""
    return {"color": colours.LIMIT, "linewidth": 0.6, "linestyle": (0, (2, 2))}


def band():
    """Return the look of the allowed band."""
    return {"facecolor": colours.GREEN, "edgecolor": colours.GREEN, "alpha": 0.45, "linewidth": 0.8}


def inline(svg, text):
    """Return an SVG file as an element of a page; `text` describes it to whoever cannot see it.

    It fetches nothing, and its ids do not clash with those of another picture.
    """
    ElementTree.register_namespace("", SVG)
    ElementTree.register_namespace("xlink", LINK[1:].split("}")[0])
    root = ElementTree.fromstring(svg)
    for metadata in root.findall(f"{{{SVG}}}metadata"):
        root.remove(metadata)
    used = set(re.findall(r"url\(#([^)]+)\)", svg.decode()))
    used |= {part.get(LINK)[1:] for part in root.iter() if part.get(LINK)}
    for part in root.iter():
        if part.get("id") not in used:
            part.attrib.pop("id", None)
    root.attrib.pop("width", None)
    root.attrib.pop("height", None)
    root.set("role", "img")
    root.set("aria-label", text)
    return Html(ElementTree.tostring(root, encoding="unicode"))
