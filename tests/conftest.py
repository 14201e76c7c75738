"""Shared by all tests."""

import os

import pytest


def pytest_terminal_summary(terminalreporter, exitstatus, config):
    """In CI a skipped test counts as a failure: say so."""
    if os.environ.get("TWINLOOP_NO_SKIPS") and terminalreporter.stats.get("skipped"):
        terminalreporter.write_line("tests were skipped, which CI does not accept", red=True)


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session, exitstatus):
    """In CI a skipped test counts as a failure: fail."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if os.environ.get("TWINLOOP_NO_SKIPS") and reporter is not None and reporter.stats.get("skipped") and exitstatus == 0:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
