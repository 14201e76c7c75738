"""The frame and the elements of a page: one HTML file that needs no network, with all text escaped.

Plain text becomes markup only through `element` and its kin, which escape it. Only they return
`Html`, and only `Html` goes into a page unchanged.
"""

import json
import re
from html import escape
from importlib.resources import files

# The browser must fetch nothing, whatever finds its way into a page.
POLICY = "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:; font-src data:"


class Html(str):
    """Text that already is markup."""

    __slots__ = ()


def markup(value):
    """Return `value` as markup: `Html` unchanged, anything else as escaped text."""
    return value if isinstance(value, Html) else Html(escape(str(value)))


def join(parts, between=""):
    """Return the parts as one markup, with `between` in the gaps."""
    return Html(markup(between).join(markup(part) for part in parts))


def element(tag, *children, **attributes):
    """Return one element.

    A trailing underscore of an attribute's name is dropped, other underscores become hyphens. True
    is an attribute without value; None and False are left out.
    """
    words = [tag]
    for name, value in attributes.items():
        if value is None or value is False:
            continue
        name = name.rstrip("_").replace("_", "-")
        words.append(name if value is True else f'{name}="{escape(str(value))}"')
    return Html(f"<{' '.join(words)}>{join(children)}</{tag}>")


def number(key, value, decimals, unit="", scale=1, missing="unknown"):
    """Return one number of the document, rounded for readers and exact for machines.

    `key` is its place in the document, with dots. An unknown value (None or NaN) is the word
    `missing`.
    """
    if value is None or value != value:
        return element("data", missing, data_key=key, value="")
    shown = element("data", _signed(f"{value * scale:.{decimals}f}"), data_key=key, value=repr(float(value)))
    return Html(f"{shown}&nbsp;{markup(unit)}") if unit else shown


def _signed(text):
    # A zero with a sign reads like a gain or a loss. A hyphen before a digit is easy to miss, so
    # use a minus sign.
    if re.fullmatch(r"[+-]0(\.0+)?", text):
        return text[1:]
    return text.replace("-", "\u2212", 1) if text.startswith("-") else text


def table(headings, rows, numbers=(), caption=None, marked=(), wide=False):
    """Return a table; `numbers` are columns aligned right, `wide` ones scroll on narrow screens."""
    css = ["number" if column in numbers else None for column in range(len(headings))]
    head = element("tr", *(element("th", text, scope="col", class_=css[k]) for k, text in enumerate(headings)))
    body = [
        element("tr", *(element("td", cell, class_=css[k]) for k, cell in enumerate(row)), class_="marked" if r in marked else None)
        for r, row in enumerate(rows)
    ]
    top = element("caption", caption) if caption else ""
    return element(
        "div", element("table", top, element("thead", head), element("tbody", *body)), class_="table wide" if wide else "table"
    )


def bars(rows, unit):
    """Return a waterfall of (label, value, css class): each bar starts where the one above ends."""
    level, spans = 0.0, []
    for _, value, _ in rows:
        spans.append((min(level, level + value), max(level, level + value)))
        level += value
    low, high = min(0.0, *(a for a, _ in spans)), max(0.0, *(b for _, b in spans))
    scale = 100.0 / ((high - low) or 1.0)
    parts = []
    for (label, value, css), (left, right) in zip(rows, spans, strict=True):
        # Keep an empty bar visible.
        place = f"left:{(left - low) * scale:.3f}%;width:{max((right - left) * scale, 0.25):.3f}%"
        track = element("div", element("div", class_=f"bar {css}", style=place), class_="track")
        label, value = element("div", label, class_="label"), element("div", _signed(f"{value:+.1f}") + f" {unit}", class_="value")
        parts.append(element("div", label, track, value, class_="step"))
    return element("div", *parts, class_="bars")


def script(code):
    """Return a script element; `code` must be our own or a library's, never text of a run."""
    # Nothing is unescaped inside a script, so only its own end tag must not occur.
    return Html("<script>" + re.sub(r"</(script)", r"<\\/\1", code, flags=re.IGNORECASE) + "</script>")


def json_block(name, data):
    """Return data for a script to read, under this id. Raises: ValueError for NaN or infinity."""
    text = json.dumps(data, separators=(",", ":"), allow_nan=False).replace("<", "\\u003c")
    return Html(f'<script type="application/json" id="{escape(name)}">{text}</script>')


def page(title, parts):
    """Return a whole page with nothing to fetch; `parts` are `Html`."""
    head = (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{escape(POLICY)}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
    )
    style = files(__package__).joinpath("page.css").read_text(encoding="utf-8")
    inner = f"{element('title', title)}<style>{style}</style></head><body><main>"
    return Html(f"{head}{inner}{join(parts)}</main></body></html>\n")
