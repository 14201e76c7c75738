"""`twinloop bench`: which checks to run on which board, one after the other, each a measurement with limits."""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

from .. import checks
from ..checks.frame import Bench, Check, NotFittedError, Result
from ..checks.operator import Operator
from ..client import Client, LinkError, RefusedError, SerialTransport
from ..virtual.board import NoInterpreterError, VirtualBoard
from .junit import write_junit
from .record import Record

# A typical year has no more.
DAYS_TOP = 365


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
    """One check to its result, with what it recorded and how long it took."""
    bench.take_recording()
    begin = time.monotonic()
    result = outcome_of(bench, check)
    result.wall_s = time.monotonic() - begin
    result.curve, result.marks = bench.take_recording()
    return result


def outcome_of(bench: Bench, check: Check) -> Result:
    """What came of a check; a broken link is remembered as the bench's first cause."""
    if bench.broken:
        return check.skipped(f"the bench is broken: {bench.broken}")
    missing = check.missing(bench)
    if missing:
        return check.skipped(missing)
    try:
        return check.run(bench)
    except NotFittedError as fault:
        return check.skipped(str(fault))
    except LinkError as fault:
        bench.broken = f"{check.name}: {fault}"
        return check.failed(str(fault))
    except (RefusedError, TimeoutError) as fault:
        return check.failed(str(fault))


def run_all(record: Record, out) -> None:
    """Every chosen check in its turn, a line each; whatever ends this early, the record has what came of it."""
    bench = record.bench
    for check in record.chosen:
        try:
            result = run_one(bench, check)
        except KeyboardInterrupt:
            record.early = f"stopped at the keyboard during {check.name}"
            raise
        except Exception as fault:
            record.early = f"{check.name}: {type(fault).__name__}: {fault}"
            record.results.append(check.failed(f"the check itself broke: {type(fault).__name__}: {fault}"))
            raise
        record.results.append(result)
        record.early = bench.broken
        print(show(result), file=out, flush=True)


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


def write_page(path: Path, record: Record) -> None:
    """The page for the builder. Raises OSError."""
    from twinloop_sim.sheets.bench import BenchRun, write_bench_report

    write_bench_report(path, BenchRun(**record.page_facts(record.document())))


def write_files(folder: Path, record: Record, files: dict) -> str:
    """Write page and JUnit file, note their paths; returns what could not be written, as one line, empty when nothing."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for kind, name, write in (("junit", "junit.xml", write_junit), ("report", "report.html", write_page)):
            write(folder / name, record)
            files[kind] = str(folder / name)
    except OSError as fault:
        return (
            f"--out {folder}: cannot write {fault.filename or folder}: {fault.strerror or fault}; give a folder that can be written"
        )
    return ""


def say(facts: dict, as_json: bool) -> None:
    """The run's last words on standard output."""
    if as_json:
        print(json.dumps(facts, indent=2))
        return
    print(f"{facts['passed']} passed, {facts['failed']} failed, {facts['skipped']} skipped in {facts['wall_s']:g} s")
    if facts["ended_early"]:
        print(f"ended early: {facts['ended_early']}")
    for kind, path in facts["files"].items():
        print(f"  {kind}: {path}")


def hand_over(options, record: Record) -> int:
    """Write the files and say the results, these whatever becomes of the files; returns the exit status."""
    record.close()
    facts = record.document()
    unwritten = ""
    try:
        unwritten = write_files(Path(options.out or "runs/bench"), record, facts["files"])
    finally:
        say(facts, options.json)
        for line in filter(None, (record.trouble, unwritten)):
            print(f"twinloop bench: {line}", file=sys.stderr)
    if unwritten:
        return 2
    return 1 if facts["failed"] or record.trouble else 0


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
    if not 1 <= options.days <= DAYS_TOP:
        raise WrongCallError(f"--days {options.days}: allowed 1 to {DAYS_TOP}")
    begin_s = time.monotonic()
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
    record = Record(bench, chosen, begin_s=begin_s)
    # Whatever ends the run, the board is let go and what was measured until then is kept.
    try:
        try:
            run_all(record, out)
        finally:
            record.trouble = leave_safe(bench)
    finally:
        status = hand_over(options, record)
    return status
