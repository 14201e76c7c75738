"""Fuzz the link with lines whose CRC is right, for as long as you like; `make fuzz` runs this.

Half of the time goes to the firmware in this process, in service and on the bench, with every truth
of the walk judged in each step. The other half goes to MicroPython on the virtual board.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent.parent))

from tests.fuzz.campaign import Tally, in_process, on_micropython
from tests.fuzz.targets import BrokenError


def report(name: str, tally: Tally, seeds: list[int]) -> str:
    """What was tried, in a few lines."""
    methods = ", ".join(f"{method} {count}" for method, count in sorted(tally.executed.items()))
    refused = ", ".join(f"{code} {count}" for code, count in sorted(tally.refused.items()))
    return (
        f"{name}: seeds {seeds[0]} to {seeds[-1]}, {tally.lines} lines, {tally.answers} answers, {tally.steps} steps judged, "
        f"relays moved {tally.moves} times, {tally.restarts} restarts; nothing broken\n  executed: {methods}\n  refused: {refused}"
    )


def main() -> int:
    """The exit status: 0 when nothing broke."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=10, metavar="M", help="how long, 0.1 to 600 (default: 10)")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="first seed, 0 or more (default: 1)")
    options = parser.parse_args()
    if not 0.1 <= options.minutes <= 600 or options.seed < 0:
        parser.error(f"--minutes {options.minutes:g} --seed {options.seed}: allowed 0.1 to 600, and 0 or more")
    try:
        for name, campaign in (("in process", in_process), ("MicroPython", on_micropython)):
            print(report(name, *campaign(30 * options.minutes, options.seed)), flush=True)
    except BrokenError as fault:
        print(f"broken: {fault}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
