"""`twinloop bench`: which checks to run on which board, one after the other, each a measurement with limits."""

from __future__ import annotations

import json
import sys
import time

from . import checks
from .checks.frame import Bench, Check, NotFittedError, Result
from .client import Client, LinkError, RefusedError, SerialTransport
from .operator import Operator
from .virtual import NoInterpreterError, VirtualBoard


class WrongCallError(ValueError):
    """The call cannot be carried out; the text is the one line to print."""


def choose(names: list[str]) -> list[Check]:
    """The checks of these names or groups, in the order of the registry; all of them when none is named."""
    known = {check.name for check in checks.ALL} | set(checks.GROUPS)
    for name in names:
        if name not in known:
            raise WrongCallError(f"check {name}: neither a check nor a group; see twinloop bench --list")
    return [check for check in checks.ALL if not names or check.name in names or check.group in names]


def open_bench(port: str, micropython: str | None = None, operator: Operator | None = None) -> Bench:
    """A board to measure: the virtual one, or whatever is at the port. WrongCallError when there is none."""
    board = None
    try:
        if port == "virtual":
            board = VirtualBoard(micropython)
            return Bench(port, Client(SerialTransport(board.port)), board, operator)
        return Bench(port, Client(SerialTransport(port)), None, operator)
    except NoInterpreterError as fault:
        raise WrongCallError(str(fault)) from None
    except (LinkError, RefusedError) as fault:
        if board is not None:
            board.close()
        raise WrongCallError(str(fault)) from None


def run_one(bench: Bench, check: Check) -> Result:
    """One check to its result; a broken link is remembered as the bench's first cause."""
    if bench.broken:
        return check.skipped(f"the bench is broken: {bench.broken}")
    missing = check.missing(bench)
    if missing:
        return check.skipped(missing)
    bench.take_curve()
    try:
        return check.run(bench)
    except NotFittedError as fault:
        return check.skipped(str(fault))
    except LinkError as fault:
        bench.broken = f"{check.name}: {fault}"
        return check.failed(str(fault))
    except (RefusedError, TimeoutError) as fault:
        return check.failed(str(fault))


def show(result: Result) -> str:
    """A result in a line."""
    if result.outcome == "skipped":
        return f"  skipped  {result.name}: {result.detail}"
    measured = "-" if result.measured is None else f"{result.measured:g} {result.unit}"
    limits = "-" if result.low is None else f"{result.low:g} to {result.high:g} {result.unit}"
    return f"  {result.outcome:7}  {result.name:26} {measured:>12}  allowed {limits:20}  {result.detail}"


def leave_safe(bench: Bench) -> str:
    """Let the board go; returns what could not be done."""
    if bench.broken:
        # It did not answer three times; once more is enough.
        bench.client.tries = 1
    try:
        bench.client.release()
        bench.restore_settings()
        return ""
    except (LinkError, RefusedError) as fault:
        return f"could not leave the board on its own sensors with its own settings: {fault}"
    finally:
        bench.client.close()
        if bench.board is not None:
            bench.board.close()


def document(bench: Bench, results: list[Result], wall_s: float) -> dict:
    """The JSON document of a bench run."""
    facts = bench.client.facts
    counts = {outcome: sum(result.outcome == outcome for result in results) for outcome in ("pass", "fail", "skipped")}
    return {
        "port": bench.port,
        "board": {
            "name": facts["board"],
            "micropython": facts["interpreter"],
            "firmware": facts["firmware"],
        },
        "checks": [result.document() for result in results],
        "passed": counts["pass"],
        "failed": counts["fail"],
        "skipped": counts["skipped"],
        "wall_s": round(wall_s, 2),
        "files": {},
    }


def list_checks() -> None:
    """What each check does and what it needs, by groups."""
    for group, (about, members) in checks.GROUPS.items():
        print(f"{group}: {about}")
        for check in members:
            notes = [f"about {check.seconds:g} s"]
            notes += [f"needs {check.needs}"] if check.needs else []
            notes += ["moves relays: mains off"] if check.moves else []
            print(f"  {check.name}\n    {check.what} ({'; '.join(notes)})")


def main(options) -> int:
    """Run the command; returns the exit status."""
    if options.list:
        list_checks()
        return 0
    chosen = choose(options.checks)
    begin = time.monotonic()
    operator = Operator.at_terminal(options.mains_off)
    bench = open_bench(options.port, options.micropython, operator)
    bench.days, bench.real_time = options.days, options.real_time
    if bench.client.facts["state"] != "bench":
        leave_safe(bench)
        raise WrongCallError(f"port {options.port}: the board is in service, and checks run on the bench only")
    out = sys.stderr if options.json else sys.stdout
    facts = bench.client.facts
    if options.port != "virtual":
        print("Relays may move. Keep mains off every contact; this bench is no protection.", file=out)
    print(f"board {facts['board']}, MicroPython {facts['interpreter']}, firmware {facts['firmware']}", file=out)
    results = []
    try:
        for check in chosen:
            results.append(run_one(bench, check))
            print(show(results[-1]), file=out, flush=True)
    finally:
        trouble = leave_safe(bench)
    if trouble:
        print(f"twinloop bench: {trouble}", file=sys.stderr)
    facts = document(bench, results, time.monotonic() - begin)
    if options.json:
        print(json.dumps(facts, indent=2))
    else:
        print(f"{facts['passed']} passed, {facts['failed']} failed, {facts['skipped']} skipped in {facts['wall_s']:g} s")
    return 1 if facts["failed"] or trouble else 0
