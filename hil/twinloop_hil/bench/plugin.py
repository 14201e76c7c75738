"""A pytest plugin for tests of a station: in this process, on the virtual board or on a real one.

`--station` is `sim` (default), `virtual`, or a port as in `twinloop bench --port`. The fixture
`station` is a `Station` of checks/frame.py, with readings to move, steps, and the resulting
commands. It starts each test cold and on mild readings. The first test that loses the board marks
the bench as broken; later tests fail at once and name that cause. At the end the relays are
released; if that fails, the summary says so and the run fails.
"""

from __future__ import annotations

import shutil
import tempfile

import pytest

# pytest loads this file everywhere, so it imports the package only when a test needs a station.
TROUBLE = pytest.StashKey[str]()
BENCH = pytest.StashKey()


def pytest_addoption(parser):
    group = parser.getgroup("twinloop", "a Twinloop station")
    group.addoption(
        "--station",
        default="sim",
        metavar="sim|virtual|PORT",
        help="where the fixture `station` runs: the firmware in this process, the virtual board, or a board at a pyserial port "
        "(default: sim). Use trusted wires only, with mains off",
    )


def open_station(where: str, folder: str):
    """The bench for a value of --station. Raises WrongCallError when it cannot be opened."""
    from ..checks.frame import Bench
    from ..client import Client
    from ..inprocess import InProcessBoard
    from .runner import open_bench

    if where == "sim":
        return Bench("sim", Client(InProcessBoard(f"{folder}/")), None)
    return open_bench(where)


@pytest.fixture(scope="session")
def station_bench(request):
    """The bench of this session; relays are released at the end."""
    from .runner import WrongCallError, leave_safe

    where = request.config.getoption("--station")
    folder = tempfile.mkdtemp(prefix="twinloop-station-")
    try:
        bench = open_station(where, folder)
    except WrongCallError as fault:
        pytest.exit(f"--station={where}: {fault}", returncode=2)
    if bench.client.facts["state"] != "bench":
        leave_safe(bench)
        pytest.exit(f"--station={where}: the board is in service; tests run on the bench only", returncode=2)
    request.config.stash[BENCH] = bench
    yield bench
    trouble = leave_safe(bench)
    if trouble:
        request.config.stash[TROUBLE] = trouble
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def station(station_bench):
    """A station that starts cold on mild injected readings and is released after the test."""
    from ..checks.frame import Station

    if station_bench.broken:
        pytest.fail(f"the bench is broken: {station_bench.broken}", pytrace=False)
    yield Station(station_bench)
    if not station_bench.broken:
        station_bench.client.release()
        station_bench.restore_settings()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    """Mark the bench as broken by the first test that loses the board."""
    bench = item.config.stash.get(BENCH, None)
    if bench is not None and call.excinfo is not None and not bench.broken:
        from ..client import LinkError

        if call.excinfo.errisinstance(LinkError):
            bench.broken = f"{item.name}: {call.excinfo.value}"
    return (yield)


def pytest_terminal_summary(terminalreporter, config):
    """Report at the end if the board could not be left safe."""
    if config.stash.get(TROUBLE, ""):
        terminalreporter.write_line(f"twinloop: {config.stash[TROUBLE]}", red=True)


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session, exitstatus):
    """Fail the run if the board could not be left safe."""
    if session.config.stash.get(TROUBLE, "") and exitstatus == 0:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
