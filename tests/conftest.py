"""Fixtures that every test may use: where the checkout lies, and running the command.

Belongs here: what more than one folder of tests needs. Does not belong here: sets or findings
of one test.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import settings

# A shared machine stalls now and then; what is too slow is found by the benchmarks.
settings.register_profile("netcheck", deadline=None)
settings.load_profile("netcheck")

Run = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture(scope="session")
def checkout() -> Path:
    """The top folder of the checkout the tests run from, wherever they are started."""
    return Path(__file__).resolve().parent.parent


@pytest.fixture
def netcheck(tmp_path: Path) -> Run:
    """Run `python -m netcheck` in an empty folder, over real pipes; returns what came of it."""

    def run(*arguments: str, stdin: str | bytes = b"", **environment: str) -> object:
        done = subprocess.run(
            [sys.executable, "-m", "netcheck", *arguments],
            input=stdin.encode() if isinstance(stdin, str) else stdin,
            capture_output=True,
            cwd=tmp_path,
            env={**os.environ, "PYTHONUTF8": "1", **environment},
            timeout=60,
            check=False,
        )
        return subprocess.CompletedProcess(
            done.args, done.returncode, done.stdout.decode(), done.stderr.decode()
        )

    return run


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Show what the measurements measured: every `record_property` of every test."""
    stats = terminalreporter.stats
    ended = [*stats.get("passed", ()), *stats.get("failed", ())]
    measured = [report for report in ended if report.user_properties]
    if measured:
        terminalreporter.section("measured")
    for report in measured:
        figures = ", ".join(f"{name}: {value}" for name, value in report.user_properties)
        terminalreporter.write_line(f"{report.nodeid.rpartition('::')[2]}: {figures}")
