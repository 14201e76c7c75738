"""Checks on the data of a scenario. Each raises ValueError: what, where, what is allowed."""

from __future__ import annotations


def check_keys(name: str, part: dict, where: str, keys: tuple[str, ...]) -> None:
    """Refuse a key that nothing reads."""
    for key in part:
        if key not in keys:
            raise ValueError(f"scenario file {name}: {where}{key} is not known, allowed {', '.join(keys)}")


def whole(where: str, value, low: int, high: int) -> int:
    """An integer within bounds, or ValueError."""
    if type(value) is not int or not low <= value <= high:
        raise ValueError(f"{where} = {value}: allowed whole numbers from {low} to {high}")
    return value


def number(where: str, value, low: float, high: float) -> float:
    """A number within bounds, or ValueError."""
    if type(value) not in (int, float) or not low <= value <= high:
        raise ValueError(f"{where} = {value}: allowed {low:g} to {high:g}")
    return float(value)
