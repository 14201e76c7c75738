"""`twinloop storm`: checks its options, shows progress, prints the result and the pytest files."""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

from twinloop.control import settings as cfg

from ..many import check_workers
from ..sheets import folders
from . import campaign as storm
from . import draw
from . import faults as f
from .run import run_case

PLACE_DIGITS = 9


def check_range(name: str, value: int, low: int, high: int) -> None:
    """Raise ValueError for a number outside its range."""
    if not low <= value <= high:
        raise ValueError(f"{name} {value}: allowed {low} to {high}")


def check(options) -> None:
    """Raise ValueError for a wrong option."""
    check_range("--years", options.years, 1, storm.YEARS_TOP)
    check_range("--seed", options.seed, 0, storm.SEED_TOP)
    check_range("--days", options.days, *storm.DAYS)
    check_workers(options.workers)
    if options.only is not None and options.only not in f.BY_NAME:
        raise ValueError(f"--only {options.only}: not a fault, allowed {', '.join(f.BY_NAME)}")
    if options.topology not in (None, *cfg.TOPOLOGY_NAMES):
        raise ValueError(f"--topology {options.topology}: allowed {', '.join(cfg.TOPOLOGY_NAMES)}")
    if options.replay is not None:
        place_of(options.replay)
    if options.out is not None:
        folders.made(options.out)


def place_of(text: str) -> tuple[int, int, int]:
    """Seed, year and episode from `1.0.17`."""
    parts = text.split(".")
    if len(parts) != 3 or not all(part.isascii() and part.isdigit() for part in parts):
        raise ValueError(f"--replay {text}: allowed SEED.YEAR.EPISODE, such as 1.0.17")
    if any(len(part) > PLACE_DIGITS for part in parts):
        raise ValueError(f"--replay {text}: allowed numbers of at most {PLACE_DIGITS} digits")
    return int(parts[0]), int(parts[1]), int(parts[2])


def wish_of(options) -> draw.Wish:
    """What the options narrow the storm to."""
    return draw.Wish(options.only, options.topology, options.air_heater)


def length(seconds: float) -> str:
    """A duration in the unit that reads best."""
    for unit, size in (("d", 86400.0), ("h", 3600.0), ("min", 60.0)):
        if seconds >= size:
            return f"{seconds / size:g} {unit}"
    return f"{seconds:g} s"


def list_faults() -> None:
    for row in f.ROWS:
        lasting = " to ".join(length(seconds) for seconds in row.lasts_s) + (", or persistent" if row.persistent else "")
        size = " to ".join(f"{size:g}" for size in row.size)
        print(f"{row.name:23} {row.group:7} {size} {row.unit}; {lasting}: {row.what}")


def progress(begin: float):
    """Progress on standard error: one line rewritten on a terminal, ten lines elsewhere."""

    def show(done: int, total: int, violations: int) -> None:
        line = f"  {done} of {total} episodes, {violations} violations, {time.perf_counter() - begin:.0f} s"
        if sys.stderr.isatty():
            print(f"\r{line}", end="\n" if done == total else "", file=sys.stderr, flush=True)
        elif done == total or done % max(1, total // 10) == 0:
            print(line, file=sys.stderr, flush=True)

    return show


def print_tests(options, campaign: storm.Campaign) -> list[str]:
    """Shrink the first violations and print or write each as a pytest file; returns the paths."""
    paths = []
    run_block = storm.block_of()
    seen = set()
    for number, (case, found) in enumerate(campaign.cases):
        kind = (found["name"], tuple(fault.name for fault in case.faults))
        if len(seen) >= storm.SHRUNK_TOP or kind in seen:
            continue
        seen.add(kind)
        print(f"  shrinking violation {number + 1} ({found['name']})", file=sys.stderr, flush=True)
        text = storm.pytest_file(*storm.shrink(case, found, run_block))
        if options.out:
            path = Path(options.out) / f"test_storm_{campaign.violations[number]['episode'].replace('.', '_')}_{found['name']}.py"
            path.write_text(text)
            paths.append(str(path))
        elif not options.json:
            print(f"\n{text}")
    return paths


def told(fault: f.Fault) -> str:
    when = f"from {fault.begin_s / 3600.0:.2f} h to {fault.end_s / 3600.0:.2f} h"
    return f"{fault.name} {fault.target} {fault.size:g} {fault.row.unit} {when}"


def replay(options) -> tuple[storm.Campaign, str]:
    """Run one episode again; returns its campaign and a line that describes it."""
    seed, year, number = place_of(options.replay)
    wish = wish_of(options)
    case = draw.draw_episode(seed, year, number, options.days, wish)
    campaign = storm.Campaign()
    campaign.add(options.replay, run_case(case, storm.block_of()))
    faults = "; ".join(told(fault) for fault in case.faults) or "no fault"
    return campaign, f"storm: episode {options.replay}, commit {storm.commit_of()}; {case.weather}, {case.topology()}: {faults}"


def main(options) -> int:
    """Run the call; exit status 0 when every invariant held, 1 when one was broken."""
    check(options)
    if options.list:
        list_faults()
        return 0
    begin = time.perf_counter()
    say = sys.stderr if options.json else sys.stdout
    years, seed = options.years, options.seed
    if options.replay is not None:
        campaign, line = replay(options)
        years, seed = 0, place_of(options.replay)[0]
        print(line, file=say, flush=True)
    else:
        print(storm.first_line(years, seed, options.days, wish_of(options)), file=say, flush=True)
        campaign = storm.run(years, seed, options.days, wish_of(options), progress(begin), workers=options.workers)
    facts = storm.document(campaign, years, seed, options.days, time.perf_counter() - begin)
    if not options.json:
        print(storm.summary(facts))
    facts["files"] = {"tests": print_tests(options, campaign)}
    if options.json:
        print(json.dumps(facts, indent=2))
    return 1 if campaign.violations else 0
