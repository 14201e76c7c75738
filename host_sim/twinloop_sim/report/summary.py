"""The words and numbers of a run's page, as `Html`; `document` is what `simulate --json` prints."""

import numpy as np
from twinloop.control import state as s

from ..sheets.clock import duration
from ..sheets.html import bars, element, join, number, table
from ..sheets.words import duty_word, output_word, reason_sentence, spaced
from . import formulas
from .happenings import QUIET, happenings, listed

# Key of heat_kwh, sign in the balance, label, css class of its bar.
BALANCE = (
    ("collected", 1, "collected from the sun", "gain"),
    ("pump_heat", 1, "heat from the pumps", "gain"),
    ("used", -1, "used at the taps", "use"),
    ("dumped", -1, "dumped by the radiator", "loss"),
    ("tank_losses", -1, "lost by the tank", "loss"),
    ("pipe_losses", -1, "lost by pipes and exchanger", "loss"),
    ("stored_change", -1, "stored in the tank", "store"),
    ("loop_change", -1, "stored in the loops", "store"),
)
# A broken rule can break in every step; the first ones show what it was.
VIOLATIONS_MAX = 20
# Heat outside the balance, shown where the document has it.
BESIDE = (
    ("to_tank", "into the tank, part of the balance"),
    ("tap", "reached the taps"),
    ("tap_short", "missing at the taps"),
    ("gas", "gas burnt"),
    ("gas_without_station", "gas without the station"),
)


def is_good(document):
    """Return whether a run is good: verdict "pass" and no violation."""
    return document["verdict"] == "pass" and not document["violations"]


def verdict(document, clock):
    """Return the verdict and its reasons, in words."""
    good = is_good(document)
    reasons = [_violation_text(violation, clock) for violation in document["violations"][:VIOLATIONS_MAX]]
    if len(document["violations"]) > VIOLATIONS_MAX:
        reasons.append(f"and {len(document['violations']) - VIOLATIONS_MAX} more violations")
    if document["guard_actions"]:
        reasons.append(f"the guard acted {document['guard_actions']} times: {formulas.FORMULAS['guard_actions']}")
    if not reasons:
        reasons = ["Nothing got too hot, froze or scalded, and the guard never had to act."]
        if not good:
            reasons = ["the run gave no reason"]
    body = [element("strong", "Good" if good else "Not good")]
    if len(reasons) == 1:
        body.append(f": {reasons[0]}")
    elif reasons:
        body.append(element("ul", *(element("li", reason) for reason in reasons)))
    faults = ", ".join(f"{spaced(name)} × {count}" for name, count in document["faults_injected"].items() if count)
    if faults:
        body.append(element("p", f"Faults injected into this run: {faults}."))
    return element("div", *body, class_=f"verdict {'good' if good else 'bad'}", id="verdict")


def _violation_text(violation, clock):
    unit = violation["unit"]
    found = f"{violation['measured']:.4g} {unit} at worst, limit {violation['limit']:.4g} {unit}"
    return f"{violation['text']} (first on {clock.day_and_time(violation['at_s'])}; {found})"


def tiles(document):
    """Return the key figures of a run."""
    heat, words = document["heat_kwh"], formulas.FORMULAS
    hottest = document["hottest_true_c"]
    starts_a_day = document["starts"].get(s.OUTPUT_NAMES[s.COLLECTOR_PUMP], 0) / document["days"]
    share = number("solar_fraction", document["solar_fraction"], 0, "%", scale=100, missing="no draw")
    tank_c = number("hottest_true_c.tank_node", hottest.get("tank_node"), 1, "°C")
    collector_c = number("hottest_true_c.collector", hottest.get("collector"), 1, "°C")
    rows = (
        ("heat into the tank", number("heat_kwh.to_tank", heat["to_tank"], 1, "kWh"), words["heat_kwh.to_tank"]),
        ("electricity of both pumps", number("pump_mains_kwh", document["pump_mains_kwh"], 1, "kWh"), words["pump_mains_kwh"]),
        ("solar heat used at the taps", number("heat_kwh.used", heat["used"], 1, "kWh"), words["heat_kwh.used"]),
        ("solar share of the heat at the taps", share, words["solar_fraction"]),
        ("pump starts per day", number("starts_a_day", starts_a_day, 1), formulas.STARTS_A_DAY),
        ("hottest collector", collector_c, words["hottest_true_c"]),
        ("hottest water in the tank", tank_c, words["hottest_true_c"]),
        ("stagnation", number("stagnation_hours", document["stagnation_hours"], 1, "h"), words["stagnation_hours"]),
    )
    return element("div", *(_tile(*row) for row in rows), class_="tiles")


def _tile(name, shown, how):
    parts = [element("div", text, class_=css) for text, css in ((name, "name"), (shown, "figure"), (how, "how"))]
    return element("div", *parts, class_="tile")


def left_over_kwh(document):
    """Return what the heat balance leaves unexplained, in kWh."""
    return sum(sign * document["heat_kwh"][key] for key, sign, _, _ in BALANCE)


def balance(document):
    """Return the heat balance as bars and as a table."""
    heat = document["heat_kwh"]
    steps = [(label, sign * heat[key], css) for key, sign, label, css in BALANCE]
    rows = [_balance_row(document, key, "+" if sign > 0 else "−", label) for key, sign, label, _ in BALANCE]
    rows.append([element("strong", "unexplained"), "=", f"{left_over_kwh(document):.3f}", formulas.LEFT_OVER])
    rows += [_balance_row(document, key, "", label) for key, label in BESIDE if key in heat]
    closure = number("closure_percent", document["closure_percent"], 3, "%")
    return join(
        [
            element("p", "Each bar starts where the one above ends. The last one ends at zero if nothing is missing."),
            bars(steps, "kWh"),
            element("p", "Unexplained: ", closure, f": {formulas.FORMULAS['closure_percent']}."),
            table(("heat", "", "kWh", "how it is calculated"), rows, numbers=(2,)),
        ]
    )


def _balance_row(document, key, sign, label):
    name = f"heat_kwh.{key}"
    return [label, sign, number(name, document["heat_kwh"][key], 2), formulas.FORMULAS[name]]


AIR = (
    ("to_room", "heat into the room"),
    ("back_draught", "lost backwards through the duct"),
    ("fan", "electricity of the fan"),
    ("backup", "heat from the backup heating"),
    ("backup_fuel", "its fuel or current"),
)


def air(document):
    """Return the part about the air heater, as a list of `Html`; empty where there is none."""
    found = document.get("air")
    if not found:
        return []
    words = formulas.FORMULAS
    rows = [[label, number(f"air.kwh.{key}", found["kwh"][key], 1), words[f"air.kwh.{key}"]] for key, label in AIR]
    room = f"{found['room_c']['lowest']:.1f} to {found['room_c']['highest']:.1f} °C"
    return [
        element("h2", "Air heater"),
        element("p", f"The room had {room}; the collector's air got to {found['hottest_air_collector_c']:.0f} °C at most."),
        table(("heat", "kWh", "how it is calculated"), rows, numbers=(1,)),
    ]


def hours(document):
    """Return the tables of outputs and duties."""
    outputs = [
        [
            output_word(index),
            number(f"starts.{name}", document["starts"].get(name), 0),
            number(f"run_hours.{name}", document["run_hours"].get(name), 1),
        ]
        for index, name in enumerate(s.OUTPUT_NAMES)
    ]
    total = sum(document["duty_hours"].values()) or 1.0
    duties = [
        [spaced(name), number(f"duty_hours.{name}", value, 1), f"{100.0 * value / total:.1f} %"]
        for name, value in document["duty_hours"].items()
        if value
    ]
    words = formulas.FORMULAS
    return element(
        "div",
        table(
            ("output", "starts", "hours on"),
            outputs,
            numbers=(1, 2),
            caption=f"Starts: {words['starts']}. Hours: {words['run_hours']}.",
        ),
        table(("duty", "hours", "share"), duties, numbers=(1, 2), caption=f"Hours: {words['duty_hours']}."),
        class_="pair",
    )


def extremes(run, clock):
    """Return the hottest and coldest temperatures, as read and in truth."""
    document, trace = run.document, run.trace
    words = formulas.FORMULAS
    read = [
        [spaced(name), number(f"hottest_c.{name}", value, 1, "°C"), _when(trace, name, np.nanargmax, clock)]
        for name, value in document["hottest_c"].items()
    ]
    true = [_truth_row("hottest", name, value, trace, np.nanargmax, clock) for name, value in document["hottest_true_c"].items()]
    true += [_truth_row("coldest", name, value, trace, np.nanargmin, clock) for name, value in document["coldest_true_c"].items()]
    captions = (
        f"As read: {words['hottest_c']}.",
        f"In truth. Hottest: {words['hottest_true_c']}. Coldest: {words['coldest_true_c']}.",
    )
    return element(
        "div",
        table(("sensor", "hottest", "when"), read, numbers=(1,), caption=captions[0]),
        table(("plant", "temperature", "when"), true, numbers=(1,), caption=captions[1]),
        class_="pair",
    )


def _truth_row(kind, name, value, trace, pick, clock):
    column = "true_loop_coldest" if (kind, name) == ("coldest", "loop") else f"true_{name}"
    return [f"{kind} {spaced(name)}", number(f"{kind}_true_c.{name}", value, 1, "°C"), _when(trace, column, pick, clock)]


def _when(trace, column, pick, clock):
    values = trace.get(column)
    if values is None or np.isnan(values).all():
        return ""
    return clock.day_and_time(trace["t_s"][pick(values)])


def events(run, clock):
    """Return what happened, a row per day, duty and reason."""
    shown, quiet, rest = listed(happenings(run.trace, run.document["step_s"], clock))
    rows = [
        [
            clock.day(h.first_s).replace(" ", "\N{NO-BREAK SPACE}"),
            _span(h, clock),
            duty_word(h.duty),
            reason_sentence(h.reason),
            str(h.times),
            duration(h.total_s),
        ]
        for h in shown
    ]
    parts = [table(("day", "from, to", "duty", "why", "times", "total"), rows, numbers=(4, 5), wide=True)]
    if quiet:
        sentences = " or ".join(f"“{reason_sentence(reason)}”" for reason in QUIET)
        times, total_s = sum(h.times for h in quiet), sum(h.total_s for h in quiet)
        parts.append(element("p", f"Not listed: idle because {sentences}, {times} times, {duration(total_s)}.", class_="soft"))
    if rest:
        times = sum(h.times for h in rest)
        parts.append(element("p", f"Not listed: {len(rest)} later rows with {times} changes of duty.", class_="soft"))
    return join(parts)


def _span(happening, clock):
    last = clock.time(happening.last_s)
    if clock.day(happening.last_s) != clock.day(happening.first_s):
        last = clock.day_and_time(happening.last_s)
    return f"{clock.time(happening.first_s)} to {last}"
