"""A row of a table of plant values, and the numbers of a table."""

from dataclasses import dataclass
from difflib import get_close_matches
from math import isfinite


@dataclass(frozen=True)
class Parameter:
    """One row of the table; the name ends in the unit, the meaning in the origin."""

    name: str
    unit: str
    default: float
    low: float
    high: float
    meaning: str
    whole: bool = False


def filled(table, overrides):
    """Return the numbers of a table in its order, checked one by one.

    Args: `table` (list of Parameter), `overrides` (as plant_values). Raises: as plant_values.
    """
    numbers = [row.default for row in table]
    index_of = {row.name: index for index, row in enumerate(table)}
    for name, value in overrides.items():
        if name not in index_of:
            near = get_close_matches(name, index_of, n=1)
            hint = f", did you mean {near[0]}?" if near else ""
            raise ValueError(f"plant value {name!r} is not known{hint}")
        numbers[index_of[name]] = _checked(table[index_of[name]], value)
    return numbers


def _checked(row, value):
    try:
        number = float(value)
    except (TypeError, ValueError):
        number = float("nan")
    unit = "" if row.unit[0].isdigit() else f" {row.unit}"
    allowed = f"allowed {row.low:g} to {row.high:g}{unit}"
    if not isfinite(number) or not row.low <= number <= row.high:
        raise ValueError(f"plant value {row.name} = {value}: {allowed}")
    if row.whole and number != int(number):
        raise ValueError(f"plant value {row.name} = {value}: {allowed}, whole numbers only")
    return number
