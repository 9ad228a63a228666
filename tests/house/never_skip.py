"""In CI nothing is skipped: a test that wants a browser or a server there gets it, or fails."""

import os
from collections.abc import Generator

import pytest

__all__ = ["pytest_runtest_makereport"]


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item,
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Turn a skip into a failure when CI=true."""
    report = yield
    if report.skipped and not hasattr(report, "wasxfail") and os.environ.get("CI", "").lower() == "true":
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid} was skipped, and nothing is skipped in CI: {reason}"
    return report
