"""Fewer rows for a picture, without losing a peak, an edge or a gap.

A fortnight at 5 s has 241,920 rows, and a screen has 1,400 columns. The kept rows are those with
the lowest and the highest value of every line in every bucket (a stretch with a fixed number of
rows), and the rows on both sides of every step of a command or code and of every gap.
"""

from dataclasses import dataclass

import numpy as np

# Rows that a page can hold: 15 lines of 4 bytes per value make about 1 MB of text. (ours)
EXTREMA_ROWS = 12000
# Rows of edges on top of that: about 3,000 edges, a fortnight with over a hundred relay movements
# per day. (ours)
EXACT_ROWS = 6000
FIRST_BUCKETS = 2048


@dataclass(frozen=True)
class Shown:
    """The rows to draw, rising, and the rows per bucket, 1 when the lines have every row.

    `exact` is False when there are too many edges: lines keep only extremes and a sign of each gap.
    """

    rows: np.ndarray
    bucket_rows: int
    exact: bool


def extrema_rows(values, bucket_rows):
    """Return the rows of the lowest and the highest value of every bucket, unsorted.

    Where a bucket has NaN, its first and last NaN are added. Source: min-max decimation, common
    practice.
    """
    count = len(values)
    buckets = -(-count // bucket_rows)
    padded = np.full(buckets * bucket_rows, np.nan)
    padded[:count] = values
    table = padded.reshape(buckets, bucket_rows)
    start = np.arange(buckets) * bucket_rows
    unknown = np.isnan(table)
    lowest = start + np.where(unknown, np.inf, table).argmin(axis=1)
    highest = start + np.where(unknown, -np.inf, table).argmax(axis=1)
    found = [lowest, highest]
    if unknown.any():
        gaps = unknown.any(axis=1)
        found.append((start + unknown.argmax(axis=1))[gaps])
        # The padding is not a gap. If it counts as one, the last row is kept, which does no harm.
        last = start + bucket_rows - 1 - unknown[:, ::-1].argmax(axis=1)
        found.append(np.minimum(last[gaps], count - 1))
    return np.minimum(np.concatenate(found), count - 1)


def edge_rows(values):
    """Return the rows on both sides of every change of a step-like column; NaN is one value."""
    values = np.asarray(values)
    changed = values[1:] != values[:-1]
    if values.dtype.kind == "f":
        changed &= ~(np.isnan(values[1:]) & np.isnan(values[:-1]))
    after = np.flatnonzero(changed) + 1
    return np.unique(np.concatenate([after - 1, after]))


def rows_to_show(lines, steps, extrema_rows_max=EXTREMA_ROWS, exact_rows_max=EXACT_ROWS):
    """Return which rows a picture needs, as `Shown`, the first and the last among them.

    `lines` are float columns where NaN is a gap, `steps` are columns that change in steps.
    """
    count = len((lines or steps)[0])
    exact = np.zeros(count, dtype=bool)
    for values in steps:
        exact[edge_rows(values)] = True
    for values in lines:
        exact[edge_rows(np.isnan(values))] = True
    fits = bool(np.count_nonzero(exact) <= exact_rows_max or count <= extrema_rows_max)
    bucket_rows, kept = _extrema(lines, count, extrema_rows_max)
    if fits:
        kept |= exact
    kept[[0, -1]] = True
    return Shown(np.flatnonzero(kept), bucket_rows, fits)


def _extrema(lines, count, rows_max):
    if count <= rows_max:
        return 1, np.ones(count, dtype=bool)
    buckets = FIRST_BUCKETS
    while True:
        bucket_rows = -(-count // buckets)
        kept = np.zeros(count, dtype=bool)
        for values in lines:
            kept[extrema_rows(values, bucket_rows)] = True
        if np.count_nonzero(kept) <= rows_max or buckets == 1:
            return bucket_rows, kept
        buckets //= 2


def segments(codes):
    """Return the stretches of equal value in a column: first rows, end rows (exclusive), values."""
    codes = np.asarray(codes)
    first = np.concatenate([[0], np.flatnonzero(codes[1:] != codes[:-1]) + 1])
    end = np.concatenate([first[1:], [len(codes)]])
    return first, end, codes[first]
