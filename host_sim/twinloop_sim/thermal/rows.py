"""Rows of nodes in the plant's array: their sum, mean and extremes."""

from .jit import kernel


@kernel
def total_c(temperatures_c, first, count):
    """Return the sum of a row of nodes.

    Args: `temperatures_c` (C, array), `first`, `count` (the row). Returns: C. Source: sum, in two
    halves that a processor adds in parallel.
    """
    even = odd = 0.0
    last = first + count - 1
    for index in range(first, last, 2):
        even += temperatures_c[index]
        odd += temperatures_c[index + 1]
    return even + odd + temperatures_c[last] if count % 2 else even + odd


@kernel
def mean_c(temperatures_c, first, count):
    """Return the mean temperature of a row of nodes.

    Args: as `total_c`, `count` above 0. Returns: C. Source: arithmetic mean.
    """
    return total_c(temperatures_c, first, count) / count


@kernel
def extremes_c(temperatures_c, first, count):
    """Return the lowest and the highest of a row of nodes.

    Args: as `mean_c`. Returns: (C, C). Source: definition.
    """
    low_c = high_c = temperatures_c[first]
    for index in range(first + 1, first + count):
        low_c = min(low_c, temperatures_c[index])
        high_c = max(high_c, temperatures_c[index])
    return low_c, high_c
