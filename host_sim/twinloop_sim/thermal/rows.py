"""Rows of nodes in the plant's array: their sum, mean, extremes and copies."""

from numba.core import types
from numba.extending import overload

from .jit import kernel


def behind(row, count):
    """Return the part of a row (array, or in compiled code a bare row) behind its first `count`."""
    return row[count:]


@overload(behind)
def _behind(row, count):
    return (lambda row, count: row[count:]) if isinstance(row, types.Array) else None


@kernel
def total_c(temperatures_c, first, count):
    """Return the sum (C) of the nodes from `first`, `count` of them, in `temperatures_c` (C,
    array).

    Source: sum, in two halves that a processor adds in parallel.
    """
    even = odd = 0.0
    last = first + count - 1
    for index in range(first, last, 2):
        even += temperatures_c[index]
        odd += temperatures_c[index + 1]
    return even + odd + temperatures_c[last] if count % 2 else even + odd


@kernel
def mean_c(temperatures_c, first, count):
    """Return the mean (C) of a row of nodes. Args: as `total_c`, `count` above 0. Source:
    definition.
    """
    return total_c(temperatures_c, first, count) / count


@kernel
def extremes_c(temperatures_c, first, count):
    """Return lowest and highest (C, C) of a row of nodes. Args: as `mean_c`. Source: definition."""
    low_c = high_c = temperatures_c[first]
    for index in range(first + 1, first + count):
        low_c = min(low_c, temperatures_c[index])
        high_c = max(high_c, temperatures_c[index])
    return low_c, high_c


@kernel
def copy(into, row):
    """Copy a row. Plain, because numba compiles `into[:] = row` for seconds."""
    for index in range(len(into)):
        into[index] = row[index]


@kernel
def clear(row):
    """Set a row to zero. Plain, as `copy`."""
    for index in range(len(row)):
        row[index] = 0
