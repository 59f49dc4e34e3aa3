"""In CI a test that is skipped counts as failed, unless its reason is on the list below.

CI installs everything that the tests need (tests/run.sh); so a skip there is a package that is no longer installed, or
a test that nobody runs any more. Active where the environment variable CI is set; elsewhere skips are only shown.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass, field

import pytest


@dataclass(frozen=True, slots=True)
class Allowed:
    """reason: beginning of a skip's reason, as a regular expression. why: what makes it right in CI."""

    reason: str
    why: str


ALLOWED = (
    Allowed("no folder of recorded audio", "recordings of real people are not in the repository"),
    Allowed("(mounting|cannot mount) a small disk", "a container may not be allowed to mount anything"),
    Allowed("this machine has a sound card of its own", "what happens without one can only be seen without one"),
    Allowed("kill -9 is POSIX|needs Linux's /proc", "not on Linux, which CI is; elsewhere there is no such thing"),
)


def refused(reason: str) -> bool:
    """Whether a test may not be skipped for this reason."""
    return not any(re.match(f"({each.reason})", reason.removeprefix("Skipped: ")) for each in ALLOWED)


@dataclass(eq=False)  # pytest keeps its plugins in sets
class Watch:
    """The skips of one run that are not on the list: reason to the tests that gave it."""

    found: dict[str, list[str]] = field(default_factory=dict)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if not hasattr(report, "wasxfail"):
            self._note(report)

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        self._note(report)

    def _note(self, report: pytest.TestReport | pytest.CollectReport) -> None:
        if not report.skipped:
            return
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
        if refused(reason):
            self.found.setdefault(reason.removeprefix("Skipped: "), []).append(report.nodeid)

    @pytest.hookimpl(trylast=True)
    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        if self.found and session.exitstatus in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED):
            session.exitstatus = pytest.ExitCode.TESTS_FAILED

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        for reason, tests in self.found.items():
            terminalreporter.write_line(
                f"{len(tests)} skipped in CI, as {tests[0]}, because: {reason}. Install what is missing, or put the "
                "reason on the list in tests/skips.py and say why.",
                red=True,
            )


def pytest_configure(config: pytest.Config) -> None:
    if os.environ.get("CI"):
        config.pluginmanager.register(Watch(), "gladhand-skips")
