"""pytest: tests of a station, the same ones on the firmware in this process, on the virtual board and on a real one.

`--station=sim` (default), `virtual`, or a port as `twinloop bench --port` takes it. The fixture `station` is a `Station` of
checks/frame.py: readings to move, steps, the commands that they came to. It begins each test cold and on mild readings. The first
test that loses the board marks the bench as broken; the ones after it fail at once and name that cause. At the end relays are let
go; when that could not be done the summary says so and the run fails.
"""

from __future__ import annotations

import shutil
import tempfile

import pytest

# pytest loads this file wherever the package is installed: what it needs of the package is imported when a test asks for a station.
TROUBLE = pytest.StashKey[str]()
BENCH = pytest.StashKey()


def pytest_addoption(parser):
    """--station."""
    group = parser.getgroup("twinloop", "a Twinloop station")
    group.addoption(
        "--station",
        default="sim",
        metavar="sim|virtual|PORT",
        help="what the fixture `station` speaks to: the firmware in this process, the virtual board, or a board at a port that "
        "pyserial can open (default: sim). Trusted wires only, mains off",
    )


def open_station(where: str, folder: str):
    """The `Bench` of an option's value. WrongCallError when there is none."""
    from ..checks.frame import Bench
    from ..client import Client
    from ..inprocess import InProcessBoard
    from .runner import open_bench

    if where == "sim":
        return Bench("sim", Client(InProcessBoard(f"{folder}/")), None)
    return open_bench(where)


@pytest.fixture(scope="session")
def station_bench(request):
    """The board of this session, on its bench; relays are let go at the end."""
    from .runner import WrongCallError, leave_safe

    where = request.config.getoption("--station")
    folder = tempfile.mkdtemp(prefix="twinloop-station-")
    try:
        bench = open_station(where, folder)
    except WrongCallError as fault:
        pytest.exit(f"--station={where}: {fault}", returncode=2)
    if bench.client.facts["state"] != "bench":
        leave_safe(bench)
        pytest.exit(f"--station={where}: the board is in service, and tests run on the bench only", returncode=2)
    request.config.stash[BENCH] = bench
    yield bench
    trouble = leave_safe(bench)
    if trouble:
        request.config.stash[TROUBLE] = trouble
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def station(station_bench):
    """A station that starts cold on mild injected readings; what it held is over after the test."""
    from ..checks.frame import Station

    if station_bench.broken:
        pytest.fail(f"the bench is broken: {station_bench.broken}", pytrace=False)
    yield Station(station_bench)
    if not station_bench.broken:
        station_bench.client.release()
        station_bench.restore_settings()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    """A test that lost the board leaves the bench broken, with itself as the cause."""
    bench = item.config.stash.get(BENCH, None)
    if bench is not None and call.excinfo is not None and not bench.broken:
        from ..client import LinkError

        if call.excinfo.errisinstance(LinkError):
            bench.broken = f"{item.name}: {call.excinfo.value}"
    return (yield)


def pytest_terminal_summary(terminalreporter, config):
    """What could not be left safe is said last."""
    if config.stash.get(TROUBLE, ""):
        terminalreporter.write_line(f"twinloop: {config.stash[TROUBLE]}", red=True)


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session, exitstatus):
    """A board that could not be left safe is a failed run."""
    if session.config.stash.get(TROUBLE, "") and exitstatus == 0:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
