"""The `twinloop` command. Heavy libraries are imported only by the subcommands that need them."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path

from twinloop_hil.board import parser as board_parser
from twinloop_hil.virtual import parser as virtual_parser

EXIT_GOOD = 0
EXIT_FAILED = 1
EXIT_WRONG = 2
# A month, and as many corners as it might hold.
MINUTES_TOP = 43200
CORNERS_TOP = 100_000
# The libraries of the extra `sim` that every run needs.
SIMULATION = ("numpy", "numba", "pvlib", "CoolProp")

CAUTION = (
    "Twinloop is not the last safety device: relief valves, a mixing valve and a manual-reset cut-out must work without it.\n"
    "Mains wiring, gas, drinking water and pressure work belong to licensed trades under your local code."
)


class WrongCallError(Exception):
    """The call or the input was wrong; the text is the one line to print."""


class Parser(argparse.ArgumentParser):
    """argparse that reports an error in one line."""

    def error(self, message):
        """Raise instead of printing usage; main() prints one line and returns 2."""
        raise WrongCallError(f"{self.prog}: {message}")


def build_parser() -> Parser:
    """Subcommands and options. Their help gives units and defaults."""
    parser = Parser(
        prog="twinloop", description="Firmware and proving tools for a two-loop solar hot-water station.", epilog=CAUTION
    )
    parser.add_argument("--version", action="store_true", help="print the version and exit")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")

    simulate = commands.add_parser(
        "simulate",
        help="run the firmware in a simulated plant under real weather",
        description="Run the firmware's own files in a simulated plant, driven by a weather file. Prints a summary and writes a "
        "report and a trace.",
    )
    simulate.add_argument(
        "scenario",
        nargs="?",
        help="a shipped scenario (`year` is reported by month) or the path of a .toml file (default: washhouse-week)",
    )
    add_changes(
        simulate,
        "change a setting (start_difference=6K, tank_limit=167F, minimum_run=2min, dump_topology=none) or a plant value "
        "(collector_area_m2=8); may be repeated. Units: C or F (K for differences); ms, s, min or h; ml, L or gal, also per min; "
        "kPa, bar or psi; m or ft; %%. A setting that describes the plant also changes the plant; plant.NAME=VALUE changes only "
        "the plant",
    )
    simulate.add_argument(
        "--weather",
        metavar="NAME",
        help="use other weather for this run: greensboro, sand-point, miami or the path of a weather file",
    )
    simulate.add_argument(
        "--trace-step",
        type=int,
        metavar="SECONDS",
        help="seconds between rows of trace.csv, a multiple of the control step (default: every step up to 31 days, 600 s for "
        "longer runs; a year is 15.5 MB at 600 s and 1.9 GB at 5 s)",
    )
    simulate.add_argument("--out", metavar="FOLDER", help="folder for report, plots and trace (default: runs/SCENARIO)")
    simulate.add_argument("--interpreted", action="store_true", help="run the firmware without numba, about ten times slower")
    simulate.add_argument("--no-files", action="store_true", help="write no report, plots or trace")
    add_json(simulate)

    storm = commands.add_parser(
        "storm",
        help="test the firmware against years of random weather, plants, settings and faults",
        description="Draw random plants, settings, weather, hot water draws, faults and people's doings, run the firmware's own "
        "files through them, and check the safety rules against the true state of the plant. The first line gives seed, commit "
        "and plan; the same "
        "seed gives the same run. A violation is shrunk and printed as a pytest file that reproduces it. Exit status 1 if there "
        "was one.",
        epilog=CAUTION,
    )
    storm.add_argument("--years", type=int, default=1, metavar="N", help="years to simulate, 1 to 1000 (default: 1)")
    storm.add_argument("--seed", type=int, default=1, metavar="S", help="random seed, 0 or more (default: 1)")
    storm.add_argument(
        "--days", type=int, default=6, metavar="D", help="days in an episode, 2 to 60; the last is for recovery (default: 6)"
    )
    add_workers(storm)
    storm.add_argument("--only", metavar="FAULT", help="draw only this fault, one per episode; --list names them")
    storm.add_argument("--topology", metavar="NAME", help="draw only stations of this topology: bypass, series or none")
    storm.add_argument("--air-heater", action="store_true", help="draw only stations with an air heater")
    storm.add_argument(
        "--replay",
        metavar="S.YEAR.EPISODE",
        help="repeat one episode, named as in a violation (give the same --days, --only, --topology, --air-heater)",
    )
    storm.add_argument("--out", metavar="FOLDER", help="folder for the pytest files of violations (default: standard output)")
    storm.add_argument("--list", action="store_true", help="list every fault with its class, size, unit and duration, and exit")
    add_json(storm)

    scenarios = commands.add_parser("scenarios", help="list the shipped scenarios", description="List the shipped scenarios.")
    scenarios.add_argument("--json", action="store_true", help="print one JSON document")

    explore = commands.add_parser(
        "explore",
        help="check every reachable state of the control logic",
        description="Walk the reachable states of the control logic with inputs around every threshold, at many corners of the "
        "settings, and check every step. A violation is shrunk and printed as a pytest file that reproduces it.",
    )
    explore.add_argument(
        "--corners",
        type=int,
        metavar="N",
        help=f"how many corners of the settings, 1 to {CORNERS_TOP} (default: every build and extreme, and a few drawn)",
    )
    explore.add_argument(
        "--minutes", type=board_parser.finite, default=10.0, metavar="M", help="time limit in minutes (default: 10)"
    )
    add_workers(explore)
    explore.add_argument("--seed", type=int, default=1, metavar="S", help="random seed of the corners, 0 or more (default: 1)")
    add_json(explore)

    tune = commands.add_parser(
        "tune",
        help="find the flow and the differences that suit a plant",
        description="Run a scenario with a grid of start and stop differences (K) at several flows (L/min). Prints net heat and "
        "electricity (kWh), starts per day and advice, and draws a picture.",
    )
    tune.add_argument("scenario", nargs="?", help="a shipped scenario or the path of a .toml file (default: washhouse-week)")
    add_changes(tune, "as in `twinloop simulate`; may be repeated")
    add_workers(tune)
    tune.add_argument("--out", metavar="FOLDER", help="folder for the picture (default: runs/tune)")
    add_json(tune)

    bench = commands.add_parser(
        "bench",
        help="test a board: named measurements with limits",
        description="Run checks on a board that is on the bench. Take mains off the relays first.",
        epilog=CAUTION,
    )
    bench.add_argument("checks", nargs="*", metavar="CHECK", help="names of checks or groups (default: all); see --list")
    bench.add_argument("--port", help=board_parser.PORT_HELP)
    bench.add_argument(
        "--micropython", metavar="PATH", help="the MicroPython executable for the virtual board (default: the installed one)"
    )
    bench.add_argument(
        "--mains-off", action="store_true", help="confirm that no mains is connected to the relays, instead of being asked"
    )
    bench.add_argument("--days", type=int, default=1, help="days of weather in the closed loop (default: 1)")
    bench.add_argument("--real-time", action="store_true", help="run the closed loop in real time")
    bench.add_argument("--out", metavar="FOLDER", help="folder for report.html and junit.xml (default: runs/bench)")
    bench.add_argument("--list", action="store_true", help="list what each check does and needs, and exit")
    add_json(bench)

    board_parser.add_parsers(commands, CAUTION)
    virtual_parser.add_parser(commands, CAUTION)
    return parser


def add_workers(command: argparse.ArgumentParser) -> None:
    """Add --workers. The number of processes never changes a result."""
    command.add_argument("--workers", type=int, default=1, metavar="N", help="parallel processes, 1 to 256 (default: 1)")


def add_changes(command: argparse.ArgumentParser, text: str) -> None:
    command.add_argument("--set", dest="changes", action="append", default=[], metavar="NAME=VALUE", help=text)


def add_json(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", action="store_true", help="print only one JSON document on standard output")


def progress_line(done: int, steps: int) -> None:
    """Progress on standard error: one rewritten line on a terminal, elsewhere only the end."""
    if sys.stderr.isatty():
        sys.stderr.write(f"\r  {100 * done // steps:3d} % simulated")
        if done == steps:
            sys.stderr.write("\n")
        sys.stderr.flush()
    elif done == steps:
        sys.stderr.write("  100 % simulated\n")


def need(*modules: str) -> None:
    """Exit with one line that names the extra to install when a library is missing."""
    import importlib.util

    for module in modules:
        if importlib.util.find_spec(module) is None:
            raise WrongCallError(f"twinloop: {module} is not installed; run in Twinloop's folder: pip install '.[sim]'")


@contextmanager
def one_line(command: str, kind=ValueError, folder: Path | None = None) -> Iterator[None]:
    """Report a wrong call, or a failure to write into `folder`, in one line."""
    try:
        yield
    except kind as fault:
        raise WrongCallError(f"twinloop {command}: {fault}") from None
    except OSError as fault:
        if folder is None:
            raise
        raise WrongCallError(f"twinloop {command}: cannot write to {fault.filename or folder}: {fault.strerror}") from None


def do_simulate(options) -> int:
    need(*SIMULATION)
    from . import scenarios
    from .files import NAMES
    from .sheets import folders

    name = scenarios.DEFAULT if options.scenario is None else options.scenario
    keys = {"weather": options.weather, "trace_step_s": options.trace_step}
    with ExitStack() as claims:
        with one_line("simulate"):
            scenario = scenarios.load(name, options.changes, {key: value for key, value in keys.items() if value is not None})
            out = f"runs/{scenario.name}" if options.out is None else options.out
            folder = None if options.no_files else claims.enter_context(folders.claimed(out, NAMES))
        return simulate_into(scenario, folder, options)


def simulate_into(scenario, folder: Path | None, options) -> int:
    """Run a checked scenario and report it; returns the exit status."""
    from .engine.compiled import is_cached

    if not options.json:
        first = "; the first run compiles first, which takes a moment" if not is_cached() and not options.interpreted else ""
        print(f"{scenario.name}: {scenario.days} days at {scenario.step_s} s per step{first}", file=sys.stderr)
    from .document import document
    from .files import write_report
    from .report.terminal import summary

    with one_line("simulate", folder=folder):
        outcome = run_scenario(scenario, options, folder)
    facts = document(outcome)
    if folder is not None:
        with one_line("simulate", folder=folder):
            facts["files"] = write_report(folder, outcome, facts)
    if options.json:
        print(json.dumps(facts, indent=2))
    else:
        print(summary(outcome, facts))
        for kind, path in facts["files"].items():
            print(f"  {kind}: {path if isinstance(path, str) else ', '.join(path)}")
    return EXIT_FAILED if facts["violations"] else EXIT_GOOD


def run_scenario(scenario, options, folder: Path | None):
    """Run the scenario and write its trace into the folder as the run goes."""
    from . import trace
    from .engine import run as engine
    from .files import trace_path

    run = partial(engine.run, scenario, compiled=not options.interpreted, progress=progress_line)
    if folder is None:
        return run()
    with trace.Writer(trace_path(folder)) as writer:
        return run(write_rows=writer.write_rows)


def do_storm(options) -> int:
    need(*SIMULATION)
    from .storm import call as storm

    with one_line("storm"):
        return storm.main(options)


def do_scenarios(options) -> int:
    need("numpy")
    from . import scenarios

    rows = [{"name": name, **dict(zip(("days", "what"), scenarios.describe(name), strict=True))} for name in scenarios.shipped()]
    if options.json:
        print(json.dumps({"scenarios": rows}, indent=2))
    else:
        for row in rows:
            default = " (default)" if row["name"] == scenarios.DEFAULT else ""
            print(f"{row['name']}{default}: {row['days']} days\n  {row['what']}")
    return EXIT_GOOD


def do_explore(options) -> int:
    with one_line("explore"):
        if options.corners is not None and not 1 <= options.corners <= CORNERS_TOP:
            raise ValueError(f"--corners {options.corners}: allowed 1 to {CORNERS_TOP}")
        if not 0 < options.minutes <= MINUTES_TOP:
            raise ValueError(f"--minutes {options.minutes:g}: allowed more than 0, at most {MINUTES_TOP}")
        if options.seed < 0:
            raise ValueError(f"--seed {options.seed}: allowed 0 or more")
        need("numpy", "numba")
        from .many import check_workers

        check_workers(options.workers)
    from .explore import campaign as explore

    return explore.main(options)


def do_tune(options) -> int:
    need(*SIMULATION, "joblib", "matplotlib")
    from . import tune

    with one_line("tune"):
        return tune.main(options)


def do_bench(options) -> int:
    from twinloop_hil.bench import runner as bench

    with one_line("bench", bench.WrongCallError):
        return bench.main(options)


def do_virtual(options) -> int:
    def plant(scenario: str | None):
        from .closed_loop import PlantBehind

        return PlantBehind(scenario)

    with one_line("virtual"):
        if options.action != virtual_parser.START:
            from twinloop_hil.virtual import hand

            return hand.main(options)
        need(*SIMULATION)
        from twinloop_hil.virtual import standing

        return standing.main(options, plant)


def do_board(options) -> int:
    with one_line(options.command):
        return board_parser.run(options)


def in_one_line(text: str) -> str:
    """The text with line ends and whatever else does not print as escapes."""
    return "".join(letter if letter.isprintable() else repr(letter)[1:-1] for letter in text)


def main(arguments: list[str] | None = None) -> int:
    """Run a command line; returns the exit status."""
    for stream in (sys.stdout, sys.stderr):
        # A path may hold bytes that are no text, and a terminal may know few letters.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    parser = build_parser()
    actions = {
        "simulate": do_simulate,
        "storm": do_storm,
        "scenarios": do_scenarios,
        "explore": do_explore,
        "tune": do_tune,
        "bench": do_bench,
        "virtual": do_virtual,
    }
    actions |= dict.fromkeys(board_parser.COMMANDS, do_board)
    try:
        options = parser.parse_args(arguments)
        if options.version:
            from twinloop import VERSION

            print(f"twinloop {VERSION}")
            return EXIT_GOOD
        if options.command is None:
            parser.print_help()
            return EXIT_WRONG
        status = actions[options.command](options)
        sys.stdout.flush()
        return status
    except WrongCallError as fault:
        print(in_one_line(str(fault)), file=sys.stderr)
        return EXIT_WRONG
    except KeyboardInterrupt:
        print("twinloop: interrupted", file=sys.stderr)
        return EXIT_FAILED
    except BrokenPipeError:
        return EXIT_FAILED
    except OSError as fault:
        named = f"{fault.filename}: " if fault.filename else ""
        print(f"twinloop: {named}{fault.strerror or fault}", file=sys.stderr)
        return EXIT_WRONG if named else EXIT_FAILED


if __name__ == "__main__":
    sys.exit(main())
