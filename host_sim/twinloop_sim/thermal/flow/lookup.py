"""The compiled end of the tables: one value by flow and temperature."""

from ..jit import kernel

# Rows are even in the square root of flow against the nominal one, in which films are nearly
# straight; columns are even in temperature. Beyond the ends the end counts.
ROWS = 15
ROOT_STEP = 0.125
COLUMNS = 17
FROM_C = -30.0
STEP_K = 10.0
SIZE = ROWS * COLUMNS


@kernel
def lookup(values, first, root_place, celsius):
    """Return a table's value between its four neighbours.

    Args: `values` (float64 array), `first` (index of the table), `root_place` (square root of flow
    against nominal, in steps of ROOT_STEP, 0 or more), `celsius` (C). Returns: the table's unit.
    Source: bilinear interpolation; a test holds what it costs.
    """
    root_place = min(root_place, ROWS - 1.000001)
    column = min(max((celsius - FROM_C) / STEP_K, 0.0), COLUMNS - 1.000001)
    row_index, column_index = int(root_place), int(column)
    along, across = column - column_index, root_place - row_index
    at = first + row_index * COLUMNS + column_index
    low = values[at] + along * (values[at + 1] - values[at])
    at += COLUMNS
    high = values[at] + along * (values[at + 1] - values[at])
    return low + across * (high - low)
