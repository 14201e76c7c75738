"""The figure of a run's page, as data for plotly.js: several panels over one time axis.

All lines share one list of moments (`reduce.rows_to_show`), so the hover box shows the same moment
for each of them. Duties and relays are bars, one per stretch, made from every row of the trace.
"""

import textwrap
from base64 import b64encode

import numpy as np
from twinloop.control import state as s

from ..sheets import colours
from ..sheets.words import duty_word, limits_c, output_word, reason_sentence, spaced
from .reduce import rows_to_show, segments

HOVER_WIDTH = 56
DUTY_ROW = s.OUTPUTS


def shown_rows(run):
    """Return which rows of a run its pictures draw, as `reduce.Shown`."""
    lines = [run.trace[name] for name in (*s.SENSOR_NAMES, *colours.TRUTH_LINES, "irradiance_w_per_m2")]
    steps = [run.trace[name] for name in (*s.OUTPUT_NAMES, "duty", "reason", "wait_reason")]
    return rows_to_show([*lines, run.trace["draw_l_per_min"]], [*steps, run.trace["draw_l_per_min"]])


def figure(run, shown, clock):
    """Return the figure as a dict for the page's script.

    `t_s` are the seconds of the lines' points, `words` and `word_of` the hover text of each point.
    A trace without x takes the shared moments; a bar's base is in seconds.
    """
    traces = [*_temperature_lines(run, shown), *_sun_and_draw(run, shown), *_all_bars(run)]
    words, word_of = hover_words(run, shown)
    traces.append(
        {
            "type": "scatter",
            "mode": "markers",
            "marker": {"opacity": 0, "size": 1, "color": colours.BLACK},
            "y": packed(np.full(len(shown.rows), DUTY_ROW), "u1"),
            "yaxis": "y3",
            "showlegend": False,
            "words": True,
            "hovertemplate": "%{text}<extra></extra>",
            "name": "state",
        }
    )
    return {
        "t_s": packed(run.trace["t_s"][shown.rows], "f8"),
        "start": clock.first.isoformat(),
        "end_s": float(run.trace["t_s"][-1]) + float(run.document["step_s"]),
        "traces": traces,
        "layout": _layout(run, shown, clock),
        "words": words,
        "word_of": packed(word_of, "u2"),
    }


def packed(values, kind):
    """Return an array as plotly.js reads it; `kind` is "f8", "f4", "u2" or "u1"."""
    return {"dtype": kind, "bdata": b64encode(np.asarray(values).astype(f"<{kind}").tobytes()).decode("ascii")}


def hover_words(run, shown):
    """Return what the station was doing, in words, and the index of each shown row's text."""
    names = ("duty", "reason", "wait_reason", *s.OUTPUT_NAMES)
    codes = np.stack([np.asarray(run.trace[name])[shown.rows].astype(np.int64) for name in names], axis=1)
    unique, word_of = np.unique(codes, axis=0, return_inverse=True)
    return [_state_text(*row) for row in unique.tolist()], word_of.reshape(-1)


def _state_text(duty, reason, wait_reason, *commands):
    parts = [f"{duty_word(duty)}: {reason_sentence(reason)}"]
    if wait_reason:
        parts.append(reason_sentence(wait_reason))
    on = [output_word(index) for index, command in enumerate(commands) if command]
    parts.append(f"on: {', '.join(on)}" if on else "no output on")
    lines = [textwrap.wrap(part, HOVER_WIDTH, subsequent_indent="  ") for part in parts]
    return "<br>".join(line.replace("  ", "&nbsp;&nbsp;") for part in lines for line in part)


def _line(run, shown, column, name, look, unit, axis, *, digits=".1f", **more):
    colour, dash, width = look
    return {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "line": {"color": colour, "dash": dash, "width": width},
        "y": packed(run.trace[column][shown.rows], "f4"),
        "yaxis": axis,
        "connectgaps": False,
        "hovertemplate": f"{name} %{{y:{digits}}} {unit}<extra></extra>",
        **more,
    }


def _temperature_lines(run, shown):
    found = []
    for name in s.SENSOR_NAMES:
        if np.isnan(run.trace[name]).all():
            continue
        found.append(_line(run, shown, name, spaced(name), colours.SENSOR_LINES[name], "°C", "y"))
    for column, look in colours.TRUTH_LINES.items():
        name = f"{spaced(column.removeprefix('true_'))}, truth"
        found.append(_line(run, shown, column, name, look, "°C", "y", visible="legendonly"))
    return found


def _sun_and_draw(run, shown):
    sun_look, draw_look = (colours.SUN, "solid", 1.2), (colours.DRAW, "solid", 1.0)
    sun = _line(run, shown, "irradiance_w_per_m2", "irradiance", sun_look, "W/m²", "y2", digits=".0f", legend="legend2")
    draw = _line(run, shown, "draw_l_per_min", "draw", draw_look, "L/min", "y4", legend="legend2")
    # A draw keeps its flow until the next row. A slope between two draws would be water nobody
    # took.
    draw["line"]["shape"] = "hv"
    return [sun | {"fill": "tozeroy", "fillcolor": "rgba(230,159,0,0.18)"}, draw]


def _bars(run, first, end, row, colour, pattern, **more):
    t_s = run.trace["t_s"]
    edges_s = np.append(t_s, t_s[-1] + run.document["step_s"])
    marker = {"color": colour, "line": {"width": 0}}
    if pattern:
        marker["pattern"] = {"shape": pattern, "fgcolor": "#FFFFFF", "bgcolor": colour, "size": 6, "solidity": 0.25}
    return {
        "type": "bar",
        "orientation": "h",
        "base_s": packed(edges_s[first], "f8"),
        "length_s": packed(edges_s[end] - edges_s[first], "f8"),
        "row": row,
        "width": 0.8,
        "marker": marker,
        "yaxis": "y3",
        "hoverinfo": "skip",
        **more,
    }


def stretches(run):
    """Yield duties, then outputs: word, row, first and end rows of the trace, colour, patterns."""
    first, end, code = segments(run.trace["duty"])
    for duty, fill in enumerate(colours.DUTY_FILLS):
        mine = code == duty
        if mine.any():
            yield duty_word(duty), DUTY_ROW, first[mine], end[mine], *fill
    for index, name in enumerate(s.OUTPUT_NAMES):
        first, end, code = segments(run.trace[name])
        on = code == 1
        yield output_word(index), s.OUTPUTS - 1 - index, first[on], end[on], colours.OUTPUT_COLOURS[index], "", ""


def _all_bars(run):
    found = []
    for word, row, first, end, colour, pattern, _ in stretches(run):
        legend = {"legend": "legend3"} if row == DUTY_ROW else {"showlegend": False}
        found.append(_bars(run, first, end, row, colour, pattern, name=word, **legend))
    return found


def temperature_range(run, shown):
    """Return lowest and highest temperature of a figure, limits included, in C."""
    known = np.concatenate([run.trace[name][shown.rows] for name in (*s.SENSOR_NAMES, *colours.TRUTH_LINES)])
    known = known[np.isfinite(known)]
    if len(known) == 0:
        known = np.array([0.0, 100.0])
    limits = [limit_c for _, limit_c in limits_c(run.settings)]
    return float(known.min()), float(max([known.max(), *limits]))


def _layout(run, shown, clock):
    low, high = temperature_range(run, shown)
    room = 0.04 * (high - low)
    grid = {"gridcolor": "#E2E2E2", "zeroline": False, "linecolor": "#999999", "showline": True}
    fixed = {**grid, "fixedrange": True}
    strips = [output_word(index) for index in reversed(range(s.OUTPUTS))]
    day = clock.axis_day
    return {
        "font": {"family": "system-ui, sans-serif", "size": 13, "color": "#1A1A1A"},
        "paper_bgcolor": "#FFFFFF",
        "plot_bgcolor": "#FFFFFF",
        "margin": {"l": 70, "r": 20, "t": 36, "b": 50},
        "hovermode": "x unified",
        "hoversubplots": "axis",
        "hoverdistance": 60,
        "hoverlabel": {"bgcolor": "rgba(255,255,255,0.94)", "font": {"size": 12}, "namelength": -1},
        "dragmode": "zoom",
        "barmode": "overlay",
        "xaxis": {
            **grid,
            "type": "date",
            "anchor": "y3",
            "hoverformat": f"{day}, %H:%M:%S",
            "tickformatstops": [
                {"dtickrange": [None, 60000], "value": f"%H:%M:%S\n{day}"},
                {"dtickrange": [60000, 86400000], "value": f"%H:%M\n{day}"},
                {"dtickrange": [86400000, None], "value": day},
            ],
        },
        "yaxis": {**grid, "domain": [0.47, 1], "range": [low - room, high + room], "title": {"text": "temperature, °C"}},
        "yaxis2": {**fixed, "domain": [0.26, 0.42], "rangemode": "tozero", "title": {"text": "sun, W/m²"}},
        "yaxis3": {
            **fixed,
            "domain": [0, 0.21],
            "range": [-0.55, s.OUTPUTS + 0.55],
            "tickvals": list(range(s.OUTPUTS + 1)),
            "ticktext": [*strips, "duty"],
            "showgrid": False,
            "automargin": True,
        },
        "yaxis4": {**fixed, "overlaying": "y2", "side": "right", "rangemode": "tozero", "showgrid": False},
        "shapes": [_limit_line(limit_c) for _, limit_c in limits_c(run.settings)],
        "annotations": [*(_limit_label(name, limit_c) for name, limit_c in limits_c(run.settings)), _draw_title()],
    }


def _draw_title():
    # Next to its axis it would overlap the legend on a narrow plot.
    place = {"xref": "paper", "x": 1, "xanchor": "right", "yref": "y2 domain", "y": 1, "yanchor": "bottom"}
    return {**place, "text": "draw, L/min", "showarrow": False, "font": {"size": 12}}


def _limit_line(limit_c):
    line = {"color": colours.LIMIT, "width": 1, "dash": "dash"}
    return {"type": "line", "xref": "paper", "x0": 0, "x1": 1, "yref": "y", "y0": limit_c, "y1": limit_c, "line": line}


def _limit_label(name, limit_c):
    text = f"{name} {limit_c:g} °C"
    place = {"xref": "paper", "x": 0.002, "xanchor": "left", "yref": "y", "y": limit_c, "yanchor": "bottom"}
    return {**place, "text": text, "showarrow": False, "font": {"size": 11, "color": colours.LIMIT}}
