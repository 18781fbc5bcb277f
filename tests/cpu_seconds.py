"""A plugin that lists the tests with most CPU time: `python -m pytest -p tests.cpu_seconds`.

A busy machine stretches clock time; CPU time stays fair. The CPU time of processes that a test
started counts once they have ended.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator

import pytest

SHOWN = 30
TAKEN, BEGAN = "cpu_seconds", pytest.StashKey[float]()
seconds: Counter[str] = Counter()


def _so_far() -> float:
    return sum(os.times()[:4])


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Count a test with its fixtures; a shared fixture counts for the first test that uses it."""
    item.stash[BEGAN] = _so_far()
    return (yield)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> None:
    """Send a test's CPU time with its last report, as another process may have run it."""
    if call.when == "teardown":
        item.user_properties.append((TAKEN, _so_far() - item.stash[BEGAN]))


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Add up the CPU time of a test."""
    if report.when == "teardown":
        seconds[report.nodeid] += float(str(dict(report.user_properties)[TAKEN]))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """List the most expensive tests, and the total for all of them."""
    terminalreporter.section("processor seconds")
    for name, taken in seconds.most_common(SHOWN):
        terminalreporter.write_line(f"{taken:8.1f}  {name}")
    files = Counter[str]()
    for name, taken in seconds.items():
        files[name.partition("::")[0]] += taken
    for name, taken in files.most_common(SHOWN):
        terminalreporter.write_line(f"{taken:8.1f}  {name}, all of it")
    terminalreporter.write_line(f"{sum(seconds.values()):8.1f}  together")
