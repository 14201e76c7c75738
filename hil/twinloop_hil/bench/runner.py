"""`twinloop bench`: runs the chosen checks on a board, prints and saves the results."""

from __future__ import annotations

import json
import sys
import time
from contextlib import ExitStack
from pathlib import Path

from .. import checks, ports
from ..checks.delays import Delays
from ..checks.frame import Bench, Check, NotFittedError, Result
from ..checks.operator import Operator
from ..client import REPLY_TIMEOUT_S, Client, LinkError, RefusedError, SerialTransport
from ..virtual.board import NoInterpreterError, VirtualBoard
from .junit import write_junit
from .record import Record

REPORT, JUNIT = "report.html", "junit.xml"
# A try of a call waits so long for its answer.
HELD_UP_S = REPLY_TIMEOUT_S
# The length of a typical year.
DAYS_TOP = 365


class WrongCallError(ValueError):
    """The call is wrong; the text is the line to print."""


def choose(names: list[str]) -> list[Check]:
    """The checks with these names or in these groups, in their usual order; all without names."""
    known = {check.name for check in checks.ALL} | set(checks.GROUPS)
    for name in names:
        if name not in known:
            raise WrongCallError(f"check {name}: neither a check nor a group; see twinloop bench --list")
    return [check for check in checks.ALL if not names or check.name in names or check.group in names]


def open_bench(port: str, micropython: str | None = None, operator: Operator | None = None) -> Bench:
    """The bench at a port, or on the virtual board. Raises WrongCallError when none answers."""
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


def port_of(options) -> str:
    """The port to test. Raises WrongCallError when none is named and there is not one board."""
    try:
        return ports.chosen(options.port)
    except ValueError as fault:
        raise WrongCallError(str(fault)) from None


def run_one(bench: Bench, check: Check) -> Result:
    """The result of one check, with its recording and its duration."""
    bench.take_recording()
    begin = time.monotonic()
    result = outcome_of(bench, check)
    result.wall_s = time.monotonic() - begin
    result.curve, result.marks = bench.take_recording()
    return result


def outcome_of(bench: Bench, check: Check) -> Result:
    """The result of one check. The first broken link marks the bench as broken."""
    if bench.broken:
        return check.skipped(f"the bench is broken: {bench.broken}")
    missing = check.missing(bench)
    if missing:
        return check.skipped(missing)
    delays, boots = Delays(bench.board), boots_of(bench)
    try:
        with delays:
            return check.run(bench)
    except NotFittedError as fault:
        return check.skipped(str(fault))
    except LinkError as fault:
        text = f"{fault}{restarted(bench, boots)}{held_up(delays)}"
        bench.broken = f"{check.name}: {text}"
        return check.failed(text)
    except (RefusedError, TimeoutError) as fault:
        return check.failed(str(fault))


def boots_of(bench: Bench) -> int:
    """How often the virtual board has started; 0 for a real one, which does not say."""
    return bench.board.boots if bench.board is not None else 0


def restarted(bench: Bench, boots: int) -> str:
    """What to add to a lost link, if the virtual board has restarted since it had `boots`."""
    more = boots_of(bench) - boots
    return f"; {more} restart(s) of the virtual board meanwhile, the last because {bench.board.restarted_by}" if more else ""


def held_up(delays: Delays) -> str:
    """What to add to a lost link, if this computer may be its reason."""
    if delays.held_s < HELD_UP_S:
        return ""
    return f"; this computer was held up for {delays.held_s:.1f} s meanwhile: end other programs and repeat it"


def run_all(record: Record, out) -> None:
    """Run every chosen check and print its result; the record keeps what an early end leaves."""
    bench = record.bench
    for check in record.chosen:
        try:
            result = run_one(bench, check)
        except KeyboardInterrupt:
            record.early = f"interrupted during {check.name}"
            raise
        except Exception as fault:
            record.early = f"{check.name}: {type(fault).__name__}: {fault}"
            record.results.append(check.failed(f"the check itself failed: {type(fault).__name__}: {fault}"))
            raise
        record.results.append(result)
        record.early = bench.broken
        print(show(result), file=out, flush=True)


def show(result: Result) -> str:
    """A result as one line."""
    if result.outcome == "skipped":
        return f"  skipped  {result.name}: {result.detail}"
    measured = "-" if result.measured is None else f"{result.measured:g} {result.unit}"
    limits = "-" if result.low is None else f"{result.low:g} to {result.high:g} {result.unit}"
    return f"  {result.outcome:7}  {result.name:26} {measured:>12}  allowed {limits:20}  {result.detail}"


def leave_safe(bench: Bench) -> str:
    """Release the board and restore its settings; returns what failed, or an empty text."""
    if bench.broken:
        # It has not answered three times; one more try is enough.
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
    """Write the report page. Raises OSError."""
    from twinloop_sim.sheets.bench import BenchRun, write_bench_report

    write_bench_report(path, BenchRun(**record.page_facts(record.document())))


def claimed_folder(options):
    """The folder for page and JUnit file, for this run alone: a context. WrongCallError."""
    from twinloop_sim.sheets import folders

    return folders.claimed("runs/bench" if options.out is None else options.out, (REPORT, JUNIT))


def write_files(folder: Path, record: Record, files: dict) -> str:
    """Write page and JUnit file, note their paths; returns what failed, or an empty text."""
    try:
        for kind, name, write in (("junit", JUNIT, write_junit), ("report", REPORT, write_page)):
            write(folder / name, record)
            files[kind] = str(folder / name)
    except OSError as fault:
        return f"--out {folder}: cannot write {fault.filename or folder}: {fault.strerror or fault}; name a writable folder"
    return ""


def say(facts: dict, as_json: bool) -> None:
    """Print the summary on standard output."""
    if as_json:
        print(json.dumps(facts, indent=2))
        return
    print(f"{facts['passed']} passed, {facts['failed']} failed, {facts['skipped']} skipped in {facts['wall_s']:g} s")
    if facts["ended_early"]:
        print(f"ended early: {facts['ended_early']}")
    for kind, path in facts["files"].items():
        print(f"  {kind}: {path}")


def hand_over(options, folder: Path, record: Record) -> int:
    """Write the files and print the results even if that fails; returns the exit status."""
    record.close()
    facts = record.document()
    unwritten = ""
    try:
        unwritten = write_files(folder, record, facts["files"])
    finally:
        say(facts, options.json)
        for line in filter(None, (record.trouble, unwritten)):
            print(f"twinloop bench: {line}", file=sys.stderr)
    if unwritten:
        return 2
    return 1 if facts["failed"] or record.trouble else 0


def list_checks() -> None:
    """Print what each check does and needs, by group."""
    for group, (about, members) in checks.GROUPS.items():
        print(f"{group}: {about}")
        for check in members:
            notes = [check.takes or f"about {check.seconds:g} s"]
            notes += ["moves relays: mains off"] if check.moves else []
            notes += [f"needs {check.needs}"] if check.needs else []
            print(f"  {check.name}: {check.what}\n      {'; '.join(notes)}")


def main(options) -> int:
    if options.list:
        list_checks()
        return 0
    chosen = choose(options.checks)
    if not 1 <= options.days <= DAYS_TOP:
        raise WrongCallError(f"--days {options.days}: allowed 1 to {DAYS_TOP}")
    port = port_of(options)
    if options.micropython is not None and port != "virtual":
        raise WrongCallError(f"--micropython {options.micropython}: only for `--port virtual`")
    with ExitStack() as claims:
        try:
            folder = claims.enter_context(claimed_folder(options))
        except ValueError as fault:
            raise WrongCallError(f"--out: {fault}") from None
        return run_into(folder, port, chosen, options)


def run_into(folder: Path, port: str, chosen: list[Check], options) -> int:
    """Open the board, run the checks and write the files; returns the exit status."""
    begin_s = time.monotonic()
    operator = Operator.at_terminal(options.mains_off)
    bench = open_bench(port, options.micropython, operator)
    bench.days, bench.real_time = options.days, options.real_time
    if bench.client.facts["state"] != "bench":
        leave_safe(bench)
        raise WrongCallError(f"port {port}: the board is in service; checks run on the bench only")
    out = sys.stderr if options.json else sys.stdout
    facts = bench.client.facts
    print(f"port {port}: board {facts['board']}, MicroPython {facts['interpreter']}, firmware {facts['firmware']}", file=out)
    if port != "virtual":
        print("Relays may move. Keep mains off every contact: the bench does not protect you.", file=out)
    record = Record(bench, chosen, begin_s=begin_s)
    # However the run ends, release the board and keep the results so far.
    try:
        try:
            run_all(record, out)
        finally:
            record.trouble = leave_safe(bench)
    finally:
        status = hand_over(options, folder, record)
    return status
