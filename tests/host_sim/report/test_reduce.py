"""The reduction: peaks keep their height, edges their place, and gaps stay open."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from twinloop_sim.report.reduce import EXACT_ROWS, EXTREMA_ROWS, edge_rows, extrema_rows, rows_to_show, segments


@st.composite
def traces(draw):
    """Lines with gaps and step columns, all of one length, and a small budget of rows."""
    count = draw(st.integers(2, 400))
    seed = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    lines = []
    for _ in range(draw(st.integers(1, 3))):
        values = seed.normal(size=count).cumsum()
        gap = draw(st.integers(0, count))
        values[gap : gap + draw(st.integers(0, 30))] = np.nan
        values[seed.random(count) < draw(st.sampled_from((0.0, 0.02)))] = np.nan
        lines.append(values)
    steps = [(seed.random(count) < 0.05).cumsum() % 3 for _ in range(draw(st.integers(1, 2)))]
    return lines, steps, draw(st.integers(10, 200))


@given(traces())
@settings(max_examples=150)
def test_extremes_of_every_bucket_survive(trace):
    lines, steps, budget = trace
    shown = rows_to_show(lines, steps, budget, 10**6)
    for values in lines:
        for start in range(0, len(values), shown.bucket_rows):
            bucket = values[start : start + shown.bucket_rows]
            inside = shown.rows[(shown.rows >= start) & (shown.rows < start + shown.bucket_rows)]
            kept = values[inside]
            if np.isfinite(bucket).any():
                assert np.nanmin(kept) == np.nanmin(bucket)
                assert np.nanmax(kept) == np.nanmax(bucket)
            assert np.isnan(kept).any() == np.isnan(bucket).any()


@given(traces())
@settings(max_examples=150)
def test_edges_and_gaps_survive_exactly(trace):
    lines, steps, budget = trace
    shown = rows_to_show(lines, steps, budget, 10**6)
    assert shown.exact
    rows = set(shown.rows.tolist())
    for values in steps:
        for row in range(1, len(values)):
            if values[row] != values[row - 1]:
                assert {row - 1, row} <= rows
    for values in lines:
        known = np.isfinite(values)
        for a, b in zip(shown.rows[:-1], shown.rows[1:], strict=True):
            # A line connects two shown rows when both are known; then everything in between must be
            # known.
            assert not (known[a] and known[b]) or known[a : b + 1].all()


@given(traces())
@settings(max_examples=100)
def test_rows_rise_keep_both_ends_and_stay_in_the_budget(trace):
    lines, steps, budget = trace
    shown = rows_to_show(lines, steps, budget, 0)
    assert (np.diff(shown.rows) > 0).all()
    assert shown.rows[0] == 0
    assert shown.rows[-1] == len(lines[0]) - 1
    # One bucket can need four rows per line, and both ends are always there.
    assert len(shown.rows) <= max(budget, 4 * len(lines)) + 2


@given(st.lists(st.integers(0, 3), min_size=1, max_size=60))
def test_segments_say_the_column_again(values):
    first, end, code = segments(np.array(values))
    assert np.repeat(code, end - first).tolist() == values
    assert (code[1:] != code[:-1]).all()


def test_a_short_trace_is_shown_whole():
    shown = rows_to_show([np.arange(50.0)], [np.zeros(50)])
    assert shown.rows.tolist() == list(range(50))
    assert shown.bucket_rows == 1


def test_a_single_row():
    assert rows_to_show([np.array([np.nan])], [np.array([1])]).rows.tolist() == [0]
    assert [part.tolist() for part in segments(np.array([4]))] == [[0], [1], [4]]


def test_nan_that_stays_nan_is_no_edge():
    assert edge_rows(np.array([1.0, np.nan, np.nan, np.nan, 2.0])).tolist() == [0, 1, 3, 4]


def test_padding_of_the_last_bucket_is_no_extreme():
    assert set(extrema_rows(np.array([5.0, 1.0, 3.0, 7.0, 6.0]), 3)) == {1, 0, 3, 4}


def test_too_many_edges_are_left_to_the_bars():
    count = 40000
    shown = rows_to_show([np.sin(np.arange(count) / 900.0)], [np.arange(count) % 2])
    assert not shown.exact
    assert len(shown.rows) <= EXTREMA_ROWS + 2


def test_a_fortnight_keeps_to_the_rows_that_a_page_can_carry():
    # 241,920 rows are 14 days at 5 s; 15 lines and 6 step columns are what the page draws.
    count = 241920
    seed = np.random.default_rng(3)
    lines = [seed.normal(size=count).cumsum() for _ in range(15)]
    steps = [(seed.random(count) < 0.002).cumsum() % 2 for _ in range(6)]
    assert len(rows_to_show(lines, steps).rows) <= EXTREMA_ROWS + EXACT_ROWS + 2
