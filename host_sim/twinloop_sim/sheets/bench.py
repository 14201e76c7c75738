"""The page of a bench run: what a builder prints, signs and keeps with the station.

Any machine that can run a bench writes it, so nothing heavy is imported here. Pictures need
matplotlib; a page without them says so.
"""

from dataclasses import dataclass, field
from pathlib import Path

from . import html, quantities, ramps
from .clock import duration
from .parts import LAST_DEVICE, TRADES, cautions_part, settings_part

# The group whose checks are slow ramps; only these get pictures.
PICTURED = "switching"
VERDICT_WORDS = {"pass": "passed", "fail": "failed", "skipped": "skipped"}
NO_PICTURES = (
    "There are no pictures because matplotlib is missing. In Twinloop's folder: pip install '.[sim]', then run the bench again."
)
MAINS = (
    "Keep mains off every relay contact while the bench runs. A check that moves relays does not know what is connected to them, "
    "and nothing in it protects you."
)
READ_BACK = (
    "Remove every read-back wire before you connect mains. Such a wire ties a contact to a pin of the board: with mains on that "
    "contact, the board, the cable and this computer are live."
)
ONE_DAY = (
    "This page is about one board with one firmware and one set of settings on one day, with readings injected by the bench. It "
    "says nothing about pipes, pumps, glycol or the places of the sensors. Run the bench again after every change of firmware, "
    "settings, board or wiring."
)
VIRTUAL = "This was the virtual board. Its figures prove the firmware. They prove no relay, no sensor and no wire of yours."
SIGNATURES = ("Station and place", "Measured by", "Date", "Witnessed by", "Date", "Remarks")


@dataclass
class BenchRun:
    """One bench run, with everything that its page shows.

    `document` is what `bench --json` prints; `recordings` hold rows and marks by check, as in
    `ramps`. `trouble` says what could not be restored at the end. `wiring` (group, pin, goes to,
    what to fit), `contacts` (output, contact, load) and `wiring_cautions` are empty for a board
    with a data file of its own.
    """

    document: dict
    groups: list[tuple[str, str]]
    recordings: dict
    properties: dict[str, str]
    settings: list[int]
    begun: str
    mains: str
    trouble: str
    virtual: bool
    wiring: list[tuple[str, str, str, str]] = field(default_factory=list)
    contacts: tuple[tuple[str, str, str], ...] = ()
    wiring_cautions: list[str] = field(default_factory=list)


def write_bench_report(path, run):
    """Write the page of a bench run as one HTML file that needs no network. Raises: OSError."""
    title = headline(run)
    settings = quantities.settings_rows(run.settings)
    parts = [
        html.element("h1", title),
        html.element("p", f"{run.begun}, {duration(run.document['wall_s'])}", class_="soft"),
        verdict(run),
        html.element("h2", "Board and run"),
        facts_table(run),
        html.element("h2", "Checks"),
        *checks_part(run),
        *pictures_part(run),
        html.element("h2", "Settings on the board"),
        settings_part(settings, opened=True),
        *wiring_part(run),
        cautions_part("Before mains comes on", cautions(run), settings),
        signatures(),
    ]
    # A broken link may put anything into a text, even what a text file cannot hold.
    Path(path).write_text(html.page(title, parts), encoding="utf-8", errors="replace")


def headline(run):
    """Return what was tested, and at which port."""
    if run.virtual:
        return f"Twinloop bench: the virtual board, no hardware (port {run.document['port']})"
    return f"Twinloop bench: board {run.document['board']['name']} at port {run.document['port']}"


def verdict(run):
    """Return the first thing to read: how many checks passed, and what went wrong."""
    facts = run.document
    failed = [check["name"] for check in facts["checks"] if check["outcome"] == "fail"]
    notes = [
        f"Failed: {', '.join(failed)}." if failed else "",
        f"Ended early: {facts['ended_early']}. Checks missing from this page were not run." if facts["ended_early"] else "",
        f"At the end: {run.trouble}." if run.trouble else "",
        f"{facts['skipped']} skipped: what they measure is unknown." if facts["skipped"] else "",
    ]
    good = facts["passed"] > 0 and not (failed or facts["ended_early"] or run.trouble)
    first = f"{facts['passed']} passed, {facts['failed']} failed, {facts['skipped']} skipped"
    shown = (html.element("div", note) for note in notes if note)
    return html.element("div", html.element("strong", first), *shown, class_="verdict good" if good else "verdict bad")


def facts_table(run):
    """Return board, versions, port, date and duration."""
    said = run.properties
    rows = [
        ("board", said["board"]),
        ("MicroPython", said["micropython"]),
        ("firmware hash", said["firmware"]),
        ("settings schema", said["settings_schema"]),
        ("settings CRC", said["settings_crc"]),
        ("settings changed from defaults", said["settings_changed"]),
        ("port", said["port"]),
        ("measured with", said["host"]),
        ("begun", run.begun),
        ("took", duration(run.document["wall_s"])),
        ("mains", run.mains),
        ("left as", run.trouble or "on its own sensors, with its own settings"),
    ]
    return html.element("div", html.table(("", ""), rows), class_="facts")


def figure_text(value, unit):
    """Return a figure and its unit as markup, with all digits of the document."""
    return html.join((f"{value:.10g}".replace("-", "\u2212"), unit), html.Html("&nbsp;"))


def check_row(check):
    """Return one check of the document as cells."""
    verdict_word = VERDICT_WORDS[check["outcome"]]
    if check["outcome"] == "fail":
        verdict_word = html.element("strong", verdict_word)
    measured, allowed = "", ""
    if check["measured"] is not None:
        figure = figure_text(check["measured"], check["unit"])
        measured = html.element("data", figure, data_key=check["name"], value=repr(check["measured"]))
        allowed = html.join((f"{check['low']:.10g}".replace("-", "\u2212"), figure_text(check["high"], check["unit"])), " to ")
    return [check["name"], measured, allowed, verdict_word, check["detail"]]


def checks_part(run):
    """Return every check, one table per group."""
    found = []
    for group, about in run.groups:
        checks = [check for check in run.document["checks"] if check["group"] == group]
        if not checks:
            continue
        marked = [place for place, check in enumerate(checks) if check["outcome"] == "fail"]
        headings = ("check", "measured", "allowed", "verdict", "detail")
        rows = [check_row(check) for check in checks]
        found.append(html.element("h3", f"{group}: {about}"))
        found.append(html.element("div", html.table(headings, rows, numbers=(1, 2), marked=marked, wide=True), class_="checks"))
    return found


def pictures_part(run):
    """Return a picture of each check with a slow ramp: list of `Html`, or empty."""
    checks = [check for check in run.document["checks"] if check["group"] == PICTURED and check["name"] in run.recordings]
    if not checks:
        return []
    heading = html.element("h2", "Where it switched")
    if not ramps.can_draw():
        return [heading, html.element("p", NO_PICTURES)]
    about = (
        "Left: the whole check, with the changing readings above and the relay commands below. Right: where the board switched "
        "(ring, or end of a bar), one dot per step, and what was allowed (green)."
    )
    figures = [picture_figure(check, *run.recordings[check["name"]]) for check in checks]
    return [heading, html.element("p", about, class_="soft"), html.element("div", *figures, class_="ramps")]


def picture_figure(check, rows, marks):
    """Return one picture with its caption."""
    name, measured, allowed, word, detail = check_row(check)
    figures = [measured, " (allowed ", allowed, "), "] if measured else []
    words = html.element("figcaption", html.element("strong", name), ": ", *figures, word, html.element("div", detail))
    return html.element("figure", words, ramps.picture(check, rows, marks))


def wiring_part(run):
    """Return every wire of the board."""
    heading = html.element("h2", "Wiring")
    if not run.wiring:
        return [heading, html.element("p", "This board has a data file of its own: twinloop wiring FILE.py prints its table.")]
    wires = html.table(("", "pin", "goes to", "fit"), run.wiring, caption="Pins by the chip's own numbers", wide=True)
    contacts = html.table(("relay", "contact", "load"), run.contacts, caption="Contacts", wide=True)
    return [heading, wires, contacts, html.element("ul", *(html.element("li", note) for note in run.wiring_cautions))]


def cautions(run):
    return [MAINS, READ_BACK, LAST_DEVICE, *([VIRTUAL] if run.virtual else []), ONE_DAY, TRADES]


def signatures():
    lines = [html.element("div", html.element("span", name), class_="line") for name in SIGNATURES]
    return html.element("section", html.element("h2", "Signatures"), html.element("div", *lines, class_="lines"), class_="sign")
