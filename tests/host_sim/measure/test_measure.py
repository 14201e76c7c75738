"""Table, JSON file and history of `make bench`, with made-up figures."""

import json

import pytest
from twinloop_sim.measure import __main__ as measure
from twinloop_sim.measure.figure import Figure


@pytest.mark.parametrize(
    ("figure", "before", "worse"),
    [
        (Figure("a run", 12.1, "s"), 10.0, True),
        (Figure("a run", 11.9, "s"), 10.0, False),
        (Figure("a run", 5.0, "s"), 10.0, False),
        (Figure("years", 7.9, "1/h", more=True), 10.0, True),
        (Figure("years", 20.0, "1/h", more=True), 10.0, False),
        (Figure("a run", None, "s"), 10.0, False),
        (Figure("a run", 12.1, "s"), None, False),
    ],
)
def test_a_regression_is_in_the_direction_that_hurts(figure, before, worse):
    assert figure.worse(before) is worse


@pytest.mark.parametrize(
    ("figure", "missed"),
    [
        (Figure("ratio", 2.1, "times", at_most=2.0), True),
        (Figure("ratio", 2.0, "times", at_most=2.0), False),
        (Figure("ratio", 1.6, "times", more=True, at_least=1.7), True),
        (Figure("ratio", 1.7, "times", more=True, at_least=1.7), False),
        (Figure("ratio", None, "times", at_most=2.0), False),
        (Figure("ratio", 99.0, "times"), False),
    ],
)
def test_what_a_figure_should_keep_is_told(figure, missed):
    assert figure.missed() is missed
    assert ("MISSED" in measure.line(figure, None)) is missed


def test_a_run_shows_writes_and_compares_with_the_last_of_the_same_machine(tmp_path, monkeypatch, capsys):
    """The second of three runs is worse; lines of another machine do not count."""
    history = tmp_path / "docs" / "history.jsonl"
    history.parent.mkdir()
    history.write_text(json.dumps({"machine": "another", "figures": {"a run": 0.001}}) + "\n")
    monkeypatch.setattr(measure, "HISTORY", history)
    monkeypatch.chdir(tmp_path)
    told = []
    for seconds in (1.0, 1.5, 1.5):
        monkeypatch.setattr(measure, "measure_all", lambda seconds=seconds: iter([Figure("a run", seconds, "s", at_most=1.2)]))
        assert measure.main() == 0
        told.append(capsys.readouterr().out)
    assert "No earlier figures of this machine" in told[0]
    assert "a run: 1.5 s, before 1" in told[1]
    assert "before 1, WORSE" in told[1]
    assert "No figure is 20 % worse" in told[2]
    assert "at most 1.2, MISSED" in told[2]
    lines = [json.loads(text) for text in history.read_text().splitlines()]
    assert [line["figures"]["a run"] for line in lines] == [0.001, 1.0, 1.5, 1.5]
    written = json.loads((tmp_path / "runs" / "bench.json").read_text())
    assert written["figures"][0]["value"] == 1.5
    assert written["figures"][0]["at_most"] == 1.2
