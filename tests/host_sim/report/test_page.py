"""The page and the picture of a run: what they say is what the run says, and nothing in them can be fetched or injected."""

import json
import re
import struct
import subprocess
import sys
import time
from base64 import b64decode
from html.parser import HTMLParser

import numpy as np
import pytest
from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_sim.report import figure, formulas, happenings, page, plots, summary
from twinloop_sim.report.run import Run
from twinloop_sim.sheets.clock import Clock
from twinloop_sim.trace import COLUMNS

STEP_S = 5.0
ROWS_A_DAY = 17280
HOSTILE = "</script><img src=x onerror=alert(1)> \"quoted\" 'it' & $x^2$"


def sample_trace(days):
    """A plausible run without a model: sun of several kinds of day, charging, a full tank, steam, a lost sensor."""
    t_s = np.arange(int(days * ROWS_A_DAY)) * STEP_S
    hour, day = t_s / 3600.0 % 24.0, (t_s // 86400).astype(int)
    noise = np.random.default_rng(7)
    cloud = np.array([1.0, 0.8, 0.35, 1.0, 1.0, 0.6, 0.95])[day % 7]
    passing = np.where(cloud < 0.9, 0.75 + 0.25 * np.sin(t_s / 700.0 + day), 1.0)
    sun = 950.0 * cloud * passing * np.clip(np.sin(np.pi * (hour - 5.5) / 13.5), 0, None)
    outdoor = 12.0 + 6.0 * np.sin(np.pi * (hour - 9.0) / 12.0) + 0.3 * np.sin(t_s / 5000.0)
    warmed = np.interp(hour, [0.0, 7.0, 16.0, 24.0], [0.0, -0.1, 1.0, 0.15])
    tank_low = 24.0 + 4.0 * np.sin(t_s / 86400.0) + 42.0 * cloud * warmed
    tank_high = np.clip(tank_low + 9.0 + 3.0 * np.sin(t_s / 9000.0), None, 74.5)
    full = (tank_low > 60.0) & (sun > 420.0)
    burst = (t_s % 2400.0) < 700.0
    steam = (day == 4) & (hour > 13.0) & (hour < 13.4)
    charging = (sun > 260.0) & ~full & ~steam & ~((sun < 330.0) & (t_s % 900.0 < 300.0))
    dumping = full & burst & ~steam
    duty = np.select([steam, dumping, charging], [s.STAGNATION_HOLD, s.DUMPING, s.CHARGING], s.IDLE)
    quiet = np.where(sun > 60.0, why.NO_DIFFERENCE, why.COLLECTOR_COOL)
    reason = np.select(
        [steam, dumping, charging, full], [why.STEAM, why.TANK_FULL_DUMP, why.DIFFERENCE, why.TANK_FULL_REFUSED], quiet
    )
    pump = charging | dumping
    joined = charging & np.roll(charging, 18)
    collector = outdoor + np.where(pump, 0.0, 0.045 * sun) + np.where(sun > 60, tank_low - outdoor + 0.013 * sun, -3.0)
    collector = np.where(steam, 121.5 + 3.0 * np.sin(t_s / 300.0), collector) + noise.normal(0, 0.05, len(t_s))
    draw = np.where(((t_s % 5400.0) < 240.0) & (hour > 6) & (hour < 21.5), 6.0, 0.0)
    supply = np.where(pump, collector - 1.5, 20.0 + 4.0 * np.sin(t_s / 8000.0))
    trace = {
        "t_s": t_s,
        "collector": collector,
        "tank_low": tank_low,
        "tank_high": tank_high.copy(),
        "loop_supply": supply,
        "loop_return": np.where(joined, tank_low + 4.0, supply - 2.0),
        "outdoor": outdoor,
        "tap": np.where(draw > 0, 45.0, 21.0),
        "exchanger": np.where(joined, tank_low + 5.0, 19.0),
    }
    trace |= {f"true_{name}": trace[name].copy() for name in s.SENSOR_NAMES}
    # The page draws no heat from the trace, so its columns only have to be there.
    trace |= {name: np.zeros(len(t_s)) for name in COLUMNS if name.startswith("heat_")}
    trace["tank_high"][(day == 5) & (hour > 10.0) & (hour < 12.0)] = np.nan
    trace["loop_return"][100] = np.nan
    trace |= {
        "true_tank_node": tank_high + 0.6,
        "true_tank_inlet": np.where(joined, collector - 3.0, np.nan),
        "true_exchanger_water": np.where(joined, collector - 4.0, 19.0),
        "true_exchanger_plate": np.where(joined, collector - 5.0, 18.5),
        "true_loop_coldest": outdoor - 1.0,
        "irradiance_w_per_m2": sun,
        "draw_l_per_min": draw,
        "true_collector_flow_l_per_min": np.where(pump, 4.5, 0.0),
        "true_tank_flow_l_per_min": np.where(joined, 4.0, 0.0),
        "collector_pump": pump.astype(np.int8),
        "tank_pump": joined.astype(np.int8),
        "dump_valve_power": charging.astype(np.int8),
        "alarm": (day == 5).astype(np.int8),
        "duty": duty.astype(np.int16),
        "reason": reason.astype(np.int16),
        "wait_reason": np.where(charging & ~joined, why.WAIT_EXCHANGER, 0).astype(np.int16),
    }
    return trace


def sample_document(trace):
    """The document that belongs to the trace; the heats are made up so that they close to 0.01 kWh."""
    hours = {name: float(trace[name].sum()) * STEP_S / 3600.0 for name in s.OUTPUT_NAMES}
    heat = {"collected": 96.413, "pump_heat": 1.207, "used": 61.552, "dumped": 9.104, "tank_losses": 12.81, "pipe_losses": 8.377}
    heat |= {"stored_change": 6.02, "loop_change": -0.253, "to_tank": 80.96}
    heat |= {"tap": 80.402, "tap_short": 0.31, "gas": 22.178, "gas_without_station": 94.59}
    return {
        "scenario": "washhouse-week",
        "days": len(trace["t_s"]) / ROWS_A_DAY,
        "steps": len(trace["t_s"]),
        "step_s": STEP_S,
        "heat_kwh": heat,
        "closure_percent": 0.0104,
        "solar_fraction": 0.7655,
        "starts": {name: int((np.diff(trace[name].astype(int)) == 1).sum()) for name in s.OUTPUT_NAMES},
        "run_hours": hours,
        "duty_hours": {name: float((trace["duty"] == code).sum()) * STEP_S / 3600.0 for code, name in enumerate(s.DUTY_NAMES)},
        "hottest_c": {name: float(np.nanmax(trace[name])) for name in s.SENSOR_NAMES},
        "hottest_true_c": {
            name: float(np.nanmax(trace[f"true_{name}"]))
            for name in ("tank_node", "tank_inlet", "exchanger_water", "collector", "tap")
        },
        "coldest_true_c": {
            "exchanger_water": float(trace["true_exchanger_water"].min()),
            "exchanger_plate": float(trace["true_exchanger_plate"].min()),
            "loop": float(trace["true_loop_coldest"].min()),
        },
        "stagnation_hours": float((trace["collector"] >= 120.0).sum()) * STEP_S / 3600.0,
        "guard_actions": 0,
        "violations": [],
        "faults_injected": {},
        "verdict": "pass",
        "wall_s": 3.2,
        "times_real_time": 189000.0,
        "files": {},
    }


def sample_settings():
    """Every setting of the firmware with its default, one of them changed."""
    rows = []
    for name, unit, _, _, default, reason in cfg.TABLE:
        value = f"{default / 1000:g} {unit[1:]}" if unit in ("mC", "mK") else f"{default} {unit}"
        value = cfg.TOPOLOGY_NAMES[default] if name == "dump_topology" else value
        rows.append((name, "9 K" if name == "start_difference" else value, value, reason))
    return rows


def sample_run(days=7, scenario="washhouse-week"):
    trace = sample_trace(days)
    return Run(
        scenario=scenario,
        what="Seven days in May at a market garden's wash-house with showers in the evening.",
        start="3 May, 00:00, clock time",
        document=sample_document(trace),
        trace=trace,
        settings=sample_settings(),
        plant=[("collector_area_m2", "6", "m2", "gross area"), ("tank_volume_l", "400", "L", "water content")],
    )


class Elements(HTMLParser):
    """Collects what a browser would see: start tags with attributes, text by element, numbers by key."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.tags, self.numbers, self.text, self.scripts, self._open = [], {}, [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        attributes = dict(attributes)
        self.tags.append((tag, attributes))
        self._open.append(tag)
        if tag == "data":
            self.numbers.setdefault(attributes["data-key"], []).append(attributes["value"])

    def handle_endtag(self, tag):
        while self._open and self._open.pop() != tag:
            pass

    def handle_data(self, data):
        if "script" in self._open:
            self.scripts.append(data)
        elif "style" not in self._open:
            self.text.append(data)

    @property
    def words(self):
        return " ".join("".join(self.text).split())


def violation(text):
    return {"name": "tank_node", "text": text, "at_s": 86400.0 + 52260.0, "measured": 78.125, "limit": 77.0, "unit": "C"}


def read_page(path, run):
    page.write_report(path, run)
    text = path.read_text(encoding="utf-8")
    return text, Elements(text)


def figure_data(text):
    return json.loads(re.search(r'id="figure-data">(.*?)</script>', text, re.DOTALL).group(1))


def unpack(packed):
    return np.frombuffer(b64decode(packed["bdata"]), dtype=f"<{packed['dtype']}")


@pytest.fixture(scope="module")
def week():
    return sample_run()


@pytest.fixture(scope="module")
def week_page(week, tmp_path_factory):
    return read_page(tmp_path_factory.mktemp("report") / "report.html", week)


@pytest.fixture(scope="module")
def week_figure(week_page):
    return figure_data(week_page[0])


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
    shown = week_page[1].numbers
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
    for key in week_page[1].numbers:
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


def test_relay_and_duty_bars_are_exact(week, week_figure):
    bars = [trace for trace in week_figure["traces"] if trace["type"] == "bar"]
    t_s = week.trace["t_s"]
    for index, name in enumerate(s.OUTPUT_NAMES):
        mine = [bar for bar in bars if bar["row"] == s.OUTPUTS - 1 - index]
        assert len(mine) == 1
        rebuilt = np.zeros(len(t_s), dtype=bool)
        for begin, length in zip(unpack(mine[0]["base_s"]), unpack(mine[0]["length_s"]), strict=True):
            rebuilt |= (t_s >= begin) & (t_s < begin + length)
        assert (rebuilt == (week.trace[name] == 1)).all()
    duties = {bar["name"]: unpack(bar["length_s"]).sum() / 3600.0 for bar in bars if bar["row"] == figure.DUTY_ROW}
    said = {name.replace("_", " "): hours for name, hours in week.document["duty_hours"].items() if hours}
    assert duties == pytest.approx(said)


def test_lines_keep_peaks_and_gaps_are_never_a_zero(week, week_figure):
    moments = unpack(week_figure["t_s"])
    lines = {trace["name"]: trace for trace in week_figure["traces"] if trace.get("mode") == "lines"}
    for name in s.SENSOR_NAMES:
        values = unpack(lines[name.replace("_", " ")]["y"])
        assert len(values) == len(moments)
        assert np.nanmax(values) == pytest.approx(np.nanmax(week.trace[name]), abs=1e-4)
        assert np.nanmin(values) == pytest.approx(np.nanmin(week.trace[name]), abs=1e-4)
        rows = np.searchsorted(week.trace["t_s"], moments)
        assert (np.isnan(values) == np.isnan(week.trace[name][rows])).all()
    high = unpack(lines["tank high"]["y"])
    lost_s = moments[np.isnan(high)]
    # The sample loses tank_high for two hours on its sixth day.
    assert lost_s.min() == pytest.approx(5 * 86400 + 10 * 3600, abs=STEP_S)
    assert lost_s.max() == pytest.approx(5 * 86400 + 12 * 3600, abs=STEP_S)
    # A gap of a single step is a gap too.
    assert np.isnan(unpack(lines["loop return"]["y"])[moments == 500.0]).all()
    assert all(trace["connectgaps"] is False for trace in lines.values())


def test_a_sensor_that_was_never_known_has_no_line_and_no_number(tmp_path):
    run = sample_run(1)
    run.trace["tap"][:] = np.nan
    run.document["hottest_c"]["tap"] = None
    text, elements = read_page(tmp_path / "r.html", run)
    assert elements.numbers["hottest_c.tap"] == [""]
    assert "unknown" in elements.words
    assert "tap" not in [trace["name"] for trace in figure_data(text)["traces"]]
    plots.write_overview(tmp_path / "o.png", run)


def test_truths_are_hidden_at_first(week_figure):
    truths = [trace for trace in week_figure["traces"] if trace["name"].endswith(", truth")]
    assert truths
    assert all(trace["visible"] == "legendonly" for trace in truths)


def test_hover_says_duty_reason_wait_and_outputs(week, week_figure):
    words, word_of, moments = week_figure["words"], unpack(week_figure["word_of"]), unpack(week_figure["t_s"])
    rows = np.searchsorted(week.trace["t_s"], moments)
    plain = [" ".join(text.replace("<br>", " ").replace("&nbsp;", " ").split()) for text in words]
    for row, code in list(zip(rows, word_of, strict=True))[:: len(rows) // 50]:
        assert plain[code].startswith(s.DUTY_NAMES[week.trace["duty"][row]].replace("_", " ") + ": ")
        assert ("collector pump" in plain[code].split("on: ")[-1]) == (week.trace["collector_pump"][row] == 1)
    assert any("the tank pump waits for warm glycol at the exchanger" in text for text in plain)
    assert any("there may be steam, so no pump runs" in text and text.endswith("no output on") for text in plain)


def test_limits_are_drawn_where_the_settings_say(week_figure):
    layout = week_figure["layout"]
    assert sorted(shape["y0"] for shape in layout["shapes"]) == [75.0, 120.0]
    assert [note["text"] for note in layout["annotations"]][:2] == ["tank_limit 75 °C", "collector_limit 120 °C"]


def test_a_hostile_name_stays_text(tmp_path):
    run = sample_run(1, scenario=HOSTILE)
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
    """The script that is the plotting library, which is not ours to judge."""
    return max(re.findall(r"<script>(.*?)</script>", text, re.DOTALL), key=len)


@pytest.mark.parametrize(
    ("verdict", "violations", "guard_actions", "word", "reason"),
    [
        ("pass", [], 0, "Good", "no invariant was violated"),
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


def test_cautions_and_what_is_not_protected(week_page, tmp_path):
    words = week_page[1].words
    for part in ("relief valve with its discharge pipe", "expansion vessel", "mixing valve", "manual reset", "licensed trades"):
        assert part in words
    assert "Frost with the pumps off: not protected" not in words
    assert "once the tank is full, the collector stagnates" not in words
    run = sample_run(1)
    run.settings = [("dump_topology", "none", "bypass", ""), ("exchanger_fitted", "no", "yes", "")]
    words = read_page(tmp_path / "r.html", run)[1].words
    assert "once the tank is full, the collector stagnates" in words
    assert "There is no radiator, so dump valve power moves nothing." in words
    assert "Frost with the pumps off: not protected" in words


def test_without_a_draw_there_is_no_share(tmp_path):
    run = sample_run(0.5)
    run.document["solar_fraction"] = None
    elements = read_page(tmp_path / "r.html", run)[1]
    assert elements.numbers["solar_fraction"] == [""]
    assert "no draw" in elements.words


def test_the_footnote_says_how_lines_are_drawn(week, week_page, tmp_path):
    shown = figure.shown_rows(week)
    assert f"the lines show {len(shown.rows)} of {len(week.trace['t_s'])} control steps" in week_page[1].words
    assert "before and after every change of duty, reason, output or draw and every gap" in week_page[1].words
    assert "With dump valve power the glycol goes to the exchanger" in week_page[1].words
    words = read_page(tmp_path / "r.html", sample_run(0.5))[1].words
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


def test_what_is_not_listed_is_counted(tmp_path):
    run = sample_run(14)
    run.trace["reason"] = np.where(np.arange(len(run.trace["t_s"])) % 2, run.trace["reason"], why.TANK_FULL_REFUSED).astype(
        np.int16
    )
    words = read_page(tmp_path / "r.html", run)[1].words
    assert re.search(r"Not listed: idle because “.*” or “.*”, \d+ times", words)


@pytest.mark.parametrize("missing", ["tank_low", "true_tank_node", "reason"])
def test_a_run_without_a_column_is_refused(missing):
    trace = sample_trace(0.5)
    del trace[missing]
    with pytest.raises(ValueError, match=f"column {missing} is missing"):
        Run("a", "b", "c", sample_document(sample_trace(0.5)), trace, [], [])


def test_a_run_that_does_not_fit_together_is_refused():
    run = sample_run(0.5)
    parts = (run.scenario, run.what, run.start)
    with pytest.raises(ValueError, match="column tap has 3 rows"):
        Run(*parts, run.document, run.trace | {"tap": np.zeros(3)}, [], [])
    with pytest.raises(ValueError, match="no row"):
        Run(*parts, run.document, {name: np.zeros(0) for name in COLUMNS}, [], [])
    with pytest.raises(ValueError, match="key closure_percent is missing"):
        Run(*parts, {key: value for key, value in run.document.items() if key != "closure_percent"}, run.trace, [], [])
    heat = {key: value for key, value in run.document["heat_kwh"].items() if key != "gas"}
    with pytest.raises(ValueError, match=r"key heat_kwh\.gas is missing"):
        Run(*parts, run.document | {"heat_kwh": heat}, run.trace, [], [])


def test_a_fortnight_fits_even_with_chattering_relays(tmp_path):
    run = sample_run(14)
    page.write_report(tmp_path / "r.html", run)
    # Measured: 5.7 MB, of which the plotting library is 4.9 MB.
    assert (tmp_path / "r.html").stat().st_size < 6.5e6
    # A start every 150 s is as fast as minimum_run and minimum_rest let a pump go.
    chatter = (run.trace["t_s"] % 150.0 < 90.0).astype(np.int8)
    for name in s.OUTPUT_NAMES:
        run.trace[name] = chatter
    run.trace["duty"] = np.where(chatter == 1, s.CHARGING, s.IDLE)
    text, elements = read_page(tmp_path / "r.html", run)
    assert (tmp_path / "r.html").stat().st_size < 7.5e6
    assert "too many changes of duty and output" in elements.words
    pump = next(trace for trace in figure_data(text)["traces"] if trace["type"] == "bar" and trace["row"] == s.OUTPUTS - 1)
    assert len(unpack(pump["base_s"])) == 14 * 86400 // 150


def test_both_files_of_a_week_take_at_most_three_seconds(week, tmp_path):
    begin = time.process_time()
    page.write_report(tmp_path / "r.html", week)
    plots.write_overview(tmp_path / "o.png", week)
    assert time.process_time() - begin < 3.0


def test_importing_the_report_loads_no_plotting_library():
    code = (
        "import sys; from twinloop_sim.report import page, plots, figure, summary, reduce, run\n"
        "sys.exit('plotly' in sys.modules or 'matplotlib' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], timeout=30, check=False).returncode == 0


@pytest.mark.parametrize(("days", "start"), [(7, "3 May, 00:00, clock time"), (0.3, "10 January, 05:00"), (20, "some time")])
def test_the_picture_has_its_size(tmp_path, days, start):
    run = sample_run(days)
    run.start = start
    plots.write_overview(tmp_path / "o.png", run)
    written = (tmp_path / "o.png").read_bytes()
    assert written[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">II", written[16:24]) == (plots.WIDTH_PX, plots.HEIGHT_PX) == (1600, 1000)
