"""Count what was skipped, by reason, at the end of a test run.

A skip is silence that looks like success. Where ``CI`` is ``true`` everything that the tests drive
has been installed, so a skip whose reason is not in ``EXPECTED`` fails the run.
"""

from __future__ import annotations

import os
from collections import Counter

import pytest

EXPECTED: tuple[str, ...] = ()
"""Beginnings of the reasons for which a test may skip where ``CI`` is ``true``."""

NO_POSTGRESQL = "no PostgreSQL server: CHUCKKEY_TEST_POSTGRESQL is not set"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Skip what is marked ``postgresql`` where no server was handed over."""
    if os.environ.get("CHUCKKEY_TEST_POSTGRESQL"):
        return
    for item in items:
        if item.get_closest_marker("postgresql"):
            item.add_marker(pytest.mark.skip(reason=NO_POSTGRESQL))


def reason_of(report: pytest.TestReport | pytest.CollectReport) -> str:
    """Return why a report was skipped, without the place and pytest's own first word."""
    longrepr = report.longrepr
    words = longrepr[2] if isinstance(longrepr, tuple) else str(longrepr)
    return words.removeprefix("Skipped: ")


def skips_of(config: pytest.Config) -> Counter[str]:
    """Return how many tests, or whole modules, were skipped for each reason."""
    terminal = config.pluginmanager.get_plugin("terminalreporter")
    reports = terminal.stats.get("skipped", []) if terminal else []
    return Counter(reason_of(report) for report in reports)


def unexpected(skips: Counter[str]) -> list[str]:
    """Return the reasons that fail a run in CI."""
    if os.environ.get("CI") != "true":
        return []
    return sorted(reason for reason in skips if not reason.startswith(EXPECTED))


@pytest.hookimpl(tryfirst=True)
def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    """Fail an otherwise good run for an unexpected skip."""
    if exitstatus == pytest.ExitCode.OK and unexpected(skips_of(session.config)):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(
    terminalreporter: pytest.TerminalReporter, config: pytest.Config
) -> None:
    """Write the skips by reason, most frequent first."""
    skips = skips_of(config)
    if not skips:
        return
    terminalreporter.section("skips by reason")
    for reason, count in skips.most_common():
        terminalreporter.write_line(f"{count:5}  {reason}")
    for reason in unexpected(skips):
        terminalreporter.write_line(f"CI does not expect this skip, so the run fails: {reason}")
