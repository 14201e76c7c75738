"""`make bench`: speed and size of this machine, as a table, a JSON file and a history."""

from __future__ import annotations

import contextlib
import json
import os
import platform
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path

import numba
import numpy as np

from ..engine.commit import commit_of
from . import runs, sizes, steps
from .figure import REPEATS, WORSE_SHARE, Figure, median

# One line per run, kept with the code, so that a regression shows.
HISTORY = Path(__file__).resolve().parents[3] / "docs" / "bench-history.jsonl"


def measure_all() -> Iterator[Figure]:
    yield from runs.starts()
    yield from runs.reports()
    yield from runs.year_against_floor()
    yield from runs.lengths()
    yield from steps.figures()
    yield from sizes.figures()
    yield from runs.storms()
    yield Figure("explored transitions", median(runs.explored_per_s), "1/s", more=True)


def wanted(figure: Figure) -> str:
    """The bound that the figure must keep, and whether it misses it."""
    words = f"at most {figure.at_most:g}" if figure.at_most is not None else ""
    if figure.at_least is not None:
        words = f"at least {figure.at_least:g}"
    return words + (", MISSED" if figure.missed() else "")


def line(figure: Figure, before: float | None) -> str:
    """A figure in one line, beside the last one from this machine."""
    value = "not here" if figure.value is None else f"{figure.value:.4g} {figure.unit}"
    last = "" if before is None else f"before {before:.4g}" + (", WORSE" if figure.worse(before) else "")
    return f"  {figure.name:68} {value:18} {wanted(figure):22} {last}".rstrip()


def last_figures(machine: str, history: Path) -> dict[str, float]:
    """The latest figures of this machine in the history, by name."""
    if not history.exists():
        return {}
    entries = [json.loads(text) for text in history.read_text().splitlines()]
    own = [entry for entry in entries if entry["machine"] == machine]
    return own[-1]["figures"] if own else {}


def machine_name() -> str:
    """Processor and core count, so that only like is compared with like."""
    model = platform.machine()
    with contextlib.suppress(OSError):
        lines = Path("/proc/cpuinfo").read_text().splitlines()
        model = next((text.split(":")[1].strip() for text in lines if text.startswith("model name")), model)
    return f"{model}, {os.cpu_count()} processors"


def load() -> float | None:
    """Processes that wanted to run in the last minute, on average; None where unknown."""
    return round(os.getloadavg()[0], 2) if hasattr(os, "getloadavg") else None


def write_down(figures: list[Figure], machine: str, load_before: float | None, history: Path, folder: Path) -> None:
    """Write runs/bench.json and, in a checkout, add a line to the history."""
    facts = {"date": time.strftime("%Y-%m-%d"), "commit": commit_of(), "machine": machine, "load_before": load_before}
    versions = {"python": platform.python_version(), "numpy": np.__version__, "numba": numba.__version__}
    folder.mkdir(exist_ok=True)
    (folder / "bench.json").write_text(
        json.dumps({**facts, **versions, "figures": [asdict(one) for one in figures]}, indent=2) + "\n"
    )
    if history.parent.is_dir():
        with history.open("a") as file:
            file.write(json.dumps({**facts, **versions, "figures": {one.name: one.value for one in figures}}) + "\n")


def tell_worse(figures: list[Figure], before: dict[str, float]) -> str:
    """Regressions against the last line of this machine, in words."""
    if not before:
        return "No earlier figures of this machine to compare with."
    worse = [
        f"{one.name}: {one.value:.4g} {one.unit}, before {before[one.name]:.4g}"
        for one in figures
        if one.worse(before.get(one.name))
    ]
    if not worse:
        return f"No figure is {100 * WORSE_SHARE:g} % worse than the last of this machine."
    return "\n".join(["Worse than the last figures of this machine:", *(f"  {text}" for text in worse)])


def main() -> int:
    machine, load_before, begin = machine_name(), load(), time.perf_counter()
    before = last_figures(machine, HISTORY)
    print(f"Medians of {REPEATS} on this machine ({machine}). This takes some minutes; leave the machine idle meanwhile")
    if load_before is not None and load_before > 0.5:
        print(f"BUSY: {load_before:g} other processes wanted to run in the last minute: times are too long and ratios uncertain")
    figures = []
    for figure in measure_all():
        figures.append(figure)
        print(line(figures[-1], before.get(figure.name)), flush=True)
    write_down(figures, machine, load_before, HISTORY, Path("runs"))
    print(tell_worse(figures, before))
    print(f"{time.perf_counter() - begin:.0f} s; written to runs/bench.json and docs/{HISTORY.name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
