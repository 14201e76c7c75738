"""The page of a run over months: figures from the document, nothing fetched, a small trace."""

import re
from dataclasses import replace

import numpy as np
import pytest
from twinloop.control import reasons as why
from twinloop_sim import document, files, scenarios, trace
from twinloop_sim.engine import run as engine
from twinloop_sim.report.months import month_cells
from twinloop_sim.report.terminal import summary


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("annual")
    scenario = replace(scenarios.load("year"), days=40, start=(2, 10))
    with trace.Writer(files.trace_path(folder)) as writer:
        outcome = engine.run(scenario, write_rows=writer.write_rows)
    facts = document.document(outcome)
    return folder, facts, files.write_report(folder, outcome, facts), summary(outcome, facts)


def test_months_on_the_page_are_the_documents(written):
    folder, facts, _, _ = written
    page = (folder / "report.html").read_text()
    assert [month["month"] for month in facts["months"]] == ["February", "March"]
    for month in facts["months"]:
        row = re.search(f"<tr><td>{month['month']}</td>(.*?)</tr>", page)[1]
        cells = re.findall(r"<td class=\"number\">(.*?)</td>", row)
        assert cells == month_cells(month)
        assert float(cells[1]) == pytest.approx(month["heat_kwh"]["collected"], abs=0.051)
    assert "http" not in page.replace("http-equiv", "")
    assert "one row every 600 s" in page
    assert "relief valve" in page


def test_summary_has_the_same_table_with_all_of_it_last(written):
    _, facts, _, text = written
    lines = text.splitlines()
    total = next(line for line in lines if line.startswith("  all "))
    assert total.split()[1:] == month_cells(
        {**facts, "irradiation_kwh_per_m2": sum(month["irradiation_kwh_per_m2"] for month in facts["months"])}
    )
    assert any(line.startswith("  February ") for line in lines)


def test_the_trace_holds_a_row_in_ten_minutes(written):
    folder, facts, paths, _ = written
    read = np.genfromtxt(folder / "trace.csv", delimiter=",", names=True)
    assert len(read["t_s"]) == 40 * 144
    assert read["t_s"][1] == 600.0
    assert facts["trace_step_s"] == 600
    assert facts["steps"] == 40 * 17280
    # Thinned rows still give the heat of the whole run; the last one is ten minutes before the end.
    assert read["heat_collected_kwh"][-1] == pytest.approx(facts["heat_kwh"]["collected"], abs=0.1)
    assert set(paths) == {"report", "trace", "plots"}
    assert (folder / "overview.png").read_bytes().startswith(b"\x89PNG")


def test_a_page_without_a_bypass_says_what_frost_cost(tmp_path):
    """The hours of every step; rows a minute apart find the same to a tenth."""
    scenario = replace(scenarios.load("year", ["dump_topology=series"]), days=32, trace_step_s=60)
    rows = []
    outcome = engine.run(scenario, write_rows=lambda part: rows.append(part[:, trace.REASON].copy()))
    facts = document.document(outcome)
    hours = np.isin(np.concatenate(rows), (why.COLD_SLUG_REFUSED, why.COLD_SLUG_SERIES)).sum() / 60.0
    assert hours > 20.0
    assert outcome.frost_refused_h == pytest.approx(hours, rel=0.1)
    note = f"frost kept the sun out of the tank for {outcome.frost_refused_h:.0f} h"
    files.write_report(tmp_path, outcome, facts)
    assert note in (tmp_path / "report.html").read_text()
    assert note in summary(outcome, facts)
