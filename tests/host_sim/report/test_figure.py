"""A run's figure and picture: exact bars, lines that keep their peaks, gaps that stay open."""

import struct
import subprocess
import sys
from base64 import b64decode

import numpy as np
import pytest
from twinloop.control import state as s
from twinloop_sim.report import figure, plots
from twinloop_sim.sheets.clock import Clock

STEP_S = 5.0


def figure_of(run):
    return figure.figure(run, figure.shown_rows(run), Clock(run.start))


def unpack(packed):
    return np.frombuffer(b64decode(packed["bdata"]), dtype=f"<{packed['dtype']}")


@pytest.fixture(scope="module")
def week_figure(week):
    return figure_of(week)


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
    # A single step is a gap too.
    assert np.isnan(unpack(lines["loop return"]["y"])[moments == 500.0]).all()
    assert all(trace["connectgaps"] is False for trace in lines.values())


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
    assert any(
        "the collector may hold steam, whichever sensor shows it: no glycol is pumped" in text and text.endswith("no output on")
        for text in plain
    )


def test_limits_are_drawn_where_the_settings_say(week_figure):
    layout = week_figure["layout"]
    assert sorted(shape["y0"] for shape in layout["shapes"]) == [75.0, 120.0]
    assert [note["text"] for note in layout["annotations"]][:2] == ["tank_limit 75 °C", "collector_limit 120 °C"]


def test_a_sensor_that_was_never_known_has_no_line(make_run, tmp_path):
    run = make_run(1)
    run.trace["tap"][:] = np.nan
    run.document["hottest_c"]["tap"] = None
    assert "tap" not in [trace["name"] for trace in figure_of(run)["traces"]]
    plots.write_overview(tmp_path / "o.png", run)


def test_bars_stay_exact_when_relays_chatter(chattering):
    pump = next(trace for trace in figure_of(chattering)["traces"] if trace["type"] == "bar" and trace["row"] == s.OUTPUTS - 1)
    assert len(unpack(pump["base_s"])) == 14 * 86400 // 150


def test_importing_the_report_loads_no_plotting_library():
    code = (
        "import sys; from twinloop_sim.report import page, plots, figure, summary, reduce, run\n"
        "sys.exit('plotly' in sys.modules or 'matplotlib' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], timeout=30, check=False).returncode == 0


@pytest.mark.parametrize(("days", "start"), [(7, "3 May, 00:00, clock time"), (0.3, "10 January, 05:00"), (20, "some time")])
def test_the_picture_has_its_size(make_run, tmp_path, days, start):
    run = make_run(days)
    run.start = start
    plots.write_overview(tmp_path / "o.png", run)
    written = (tmp_path / "o.png").read_bytes()
    assert written[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">II", written[16:24]) == (plots.WIDTH_PX, plots.HEIGHT_PX) == (1600, 1000)
