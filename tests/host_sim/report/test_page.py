"""A run's page says what the run says; nothing in it can be fetched or injected."""

import json
import re

import numpy as np
import pytest
from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_sim.report import figure, formulas, happenings, page, plots, summary
from twinloop_sim.sheets.clock import Clock

from ..shared import Elements

STEP_S = 5.0
HOSTILE = "</script><img src=x onerror=alert(1)> \"quoted\" 'it' & $x^2$"


def violation(text):
    return {"name": "tank_node", "text": text, "at_s": 86400.0 + 52260.0, "measured": 78.125, "limit": 77.0, "unit": "C"}


def read_page(path, run):
    page.write_report(path, run)
    text = path.read_text(encoding="utf-8")
    return text, Elements(text)


@pytest.fixture(scope="module")
def week_page(week, tmp_path_factory):
    return read_page(tmp_path_factory.mktemp("report") / "report.html", week)


def test_nothing_on_the_page_is_fetched(week_page):
    text, elements = week_page
    for tag, attributes in elements.tags:
        assert tag not in ("link", "img", "iframe", "object", "embed", "base", "form")
        assert not {"src", "href", "srcset", "action", "poster", "data"} & set(attributes)
    assert "@import" not in re.search(r"<style>(.*?)</style>", text, re.DOTALL).group(1)
    assert "url(" not in re.search(r"<style>(.*?)</style>", text, re.DOTALL).group(1)
    policy = next(attributes["content"] for _, attributes in elements.tags if "http-equiv" in attributes)
    assert policy.startswith("default-src 'none'")
    assert "http" not in policy


def test_every_number_shown_is_the_documents(week, week_page):
    shown = week_page[1].figures
    document = week.document
    for key, values in shown.items():
        said = document
        for part in key.split("."):
            said = said[part] if key != "starts_a_day" else document["starts"]["collector_pump"] / document["days"]
        assert {float(value) for value in values} == {said}, key
    expected = {f"heat_kwh.{key}" for key in document["heat_kwh"]} | {"closure_percent", "solar_fraction", "stagnation_hours"}
    expected |= {f"{key}.{name}" for key in ("starts", "run_hours") for name in s.OUTPUT_NAMES}
    expected |= {f"duty_hours.{name}" for name, value in document["duty_hours"].items() if value}
    for key in ("hottest_c", "hottest_true_c", "coldest_true_c"):
        expected |= {f"{key}.{name}" for name in document[key]}
    assert expected <= set(shown)


def test_every_number_shown_has_a_formula(week_page):
    for key in week_page[1].figures:
        formula = (
            formulas.STARTS_A_DAY if key == "starts_a_day" else formulas.FORMULAS.get(key) or formulas.FORMULAS[key.split(".")[0]]
        )
        assert " ".join(formula.split()) in week_page[1].words, key


def test_the_balance_of_the_page_is_the_balance_of_the_document(week):
    heat = week.document["heat_kwh"]
    taken = heat["used"] + heat["dumped"] + heat["tank_losses"] + heat["pipe_losses"]
    left = heat["collected"] + heat["pump_heat"] - taken - heat["stored_change"] - heat["loop_change"]
    assert summary.left_over_kwh(week.document) == pytest.approx(left, abs=1e-9)
    assert abs(left) < 0.02


def test_a_sensor_that_was_never_known_has_no_number(make_run, tmp_path):
    run = make_run(1)
    run.trace["tap"][:] = np.nan
    run.document["hottest_c"]["tap"] = None
    elements = read_page(tmp_path / "r.html", run)[1]
    assert elements.figures["hottest_c.tap"] == {""}
    assert "unknown" in elements.words


def test_the_page_carries_the_figure(week, week_page):
    block = re.search(r'id="figure-data">(.*?)</script>', week_page[0], re.DOTALL).group(1)
    assert json.loads(block) == figure.figure(week, figure.shown_rows(week), Clock(week.start))


def test_a_hostile_name_stays_text(make_run, tmp_path):
    run = make_run(1, scenario=HOSTILE)
    run.what = HOSTILE
    run.settings.append((HOSTILE, HOSTILE, "x", HOSTILE))
    run.plant.append((HOSTILE, HOSTILE, HOSTILE, HOSTILE))
    run.document["violations"] = [violation(HOSTILE)]
    run.document["faults_injected"] = {HOSTILE: 1}
    text, elements = read_page(tmp_path / "r.html", run)
    assert "<img" not in text.replace(page_library(text), "")
    assert not any("onerror" in attributes for _, attributes in elements.tags)
    assert elements.words.count("<img src=x onerror=alert(1)>") >= 9
    plots.write_overview(tmp_path / "o.png", run)


def page_library(text):
    """The plotting library's script, which is not ours to judge."""
    return max(re.findall(r"<script>(.*?)</script>", text, re.DOTALL), key=len)


@pytest.mark.parametrize(
    ("verdict", "violations", "guard_actions", "word", "reason"),
    [
        ("pass", [], 0, "Good", "Nothing got too hot, froze or scalded"),
        ("pass", [], 2, "Good", "the guard acted 2 times"),
        ("fail", [], 0, "Not good", "the run gave no reason"),
        ("pass", [violation("too hot")], 0, "Not good", "too hot"),
        ("fail", [violation("too hot")], 0, "Not good", "too hot (first on 4 May, 14:31; 78.12 C at worst, limit 77 C)"),
        ("fail", [violation(f"number {k}.") for k in range(50)], 0, "Not good", "and 30 more violations"),
    ],
)
def test_verdict_in_words(week, verdict, violations, guard_actions, word, reason):
    document = week.document | {"verdict": verdict, "violations": violations, "guard_actions": guard_actions}
    words = Elements(summary.verdict(document, Clock(week.start))).words
    assert words.startswith(word)
    assert reason in words


def test_changed_settings_come_first_and_are_marked(week_page):
    text = week_page[0]
    assert text.count('<tr class="marked">') == 1
    marked = text.index('<tr class="marked">')
    assert text[marked:].startswith('<tr class="marked"><td>start_difference</td><td class="number">9 K</td>')
    assert marked < text.index("<td>stop_difference</td>")
    assert f"1 of {cfg.SETTINGS} changed" in text


def test_cautions_and_what_is_not_protected(make_run, week_page, tmp_path):
    words = week_page[1].words
    for part in ("relief valve with its discharge pipe", "expansion vessel", "mixing valve", "manual reset", "licensed trades"):
        assert part in words
    assert "Frost with the pumps off: not protected" not in words
    assert "once the tank is full, the collector stagnates" not in words
    run = make_run(1)
    run.settings = [("dump_topology", "none", "bypass", ""), ("exchanger_fitted", "no", "yes", "")]
    words = read_page(tmp_path / "r.html", run)[1].words
    assert "once the tank is full, the collector stagnates" in words
    assert "There is no radiator, so dump valve power has no effect." in words
    assert "Frost with the pumps off: not protected" in words


def test_without_a_draw_there_is_no_share(make_run, tmp_path):
    run = make_run(0.5)
    run.document["solar_fraction"] = None
    elements = read_page(tmp_path / "r.html", run)[1]
    assert elements.figures["solar_fraction"] == {""}
    assert "no draw" in elements.words


def test_the_footnote_says_how_lines_are_drawn(make_run, week, week_page, tmp_path):
    shown = figure.shown_rows(week)
    assert f"the lines show {len(shown.rows)} of {len(week.trace['t_s'])} control steps" in week_page[1].words
    assert "before and after every change of duty, reason, output or draw and every gap" in week_page[1].words
    assert "With dump valve power on, glycol goes to the exchanger" in week_page[1].words
    words = read_page(tmp_path / "r.html", make_run(0.5))[1].words
    assert "The lines show all 8640 control steps." in words


def test_what_happened_counts_every_stretch_once(week):
    found = happenings.happenings(week.trace, STEP_S, Clock(week.start))
    assert sum(h.total_s for h in found) == pytest.approx(len(week.trace["t_s"]) * STEP_S)
    both = week.trace["duty"].astype(int) * 1000 + week.trace["reason"]
    assert sum(h.times for h in found) == 1 + (np.diff(both) != 0).sum()
    shown, quiet, rest = happenings.listed(found, rows_max=10)
    assert len(shown) == 10
    assert len(shown) + len(quiet) + len(rest) == len(found)
    assert all(h.reason in happenings.QUIET for h in quiet)
    assert happenings.listed(found, rows_max=len(found)) == (found, [], [])


def test_what_is_not_listed_is_counted(make_run, tmp_path):
    run = make_run(14)
    run.trace["reason"] = np.where(np.arange(len(run.trace["t_s"])) % 2, run.trace["reason"], why.TANK_FULL_REFUSED).astype(
        np.int16
    )
    words = read_page(tmp_path / "r.html", run)[1].words
    assert re.search(r"Not listed: idle because “.*” or “.*”, \d+ times", words)


def test_a_fortnight_fits_even_with_chattering_relays(make_run, chattering, tmp_path):
    page.write_report(tmp_path / "r.html", make_run(14))
    # Measured: 5.7 MB, of which the plotting library is 4.9 MB.
    assert (tmp_path / "r.html").stat().st_size < 6.5e6
    elements = read_page(tmp_path / "r.html", chattering)[1]
    assert (tmp_path / "r.html").stat().st_size < 7.5e6
    assert "too many changes of duty and output" in elements.words
