"""Start-up: what a restorer waits for before the first word of `netcheck lint`.

Stressed: imports, loading of grammar and catalogue, and one whole lint of a small set, in a new
process. The yardstick is a bare interpreter that imports lark, networkx, pint and numpy, which
cannot be made slower by anything here. Both run in turn, and what counts is the processor time
of each process: a busy machine does not lengthen it as it does the time on the clock.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

RATIO_AT_MOST = 1.25
RUNS = 9
YARDSTICK = [sys.executable, "-c", "import lark, networkx, pint, numpy"]
HEAVY = (
    "pint",
    "numpy",
    "scipy",
    "rich",
    "jinja2",
    "jsonschema",
    "pytest",
    "asyncio",
    "http.client",
)


def an_example(checkout: Path) -> Path:
    """The largest example set."""
    return max((checkout / "examples").glob("*.chassis"), key=lambda each: each.stat().st_size)


def seconds(command: list[str], folder: Path) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(command, capture_output=True, cwd=folder, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    taken = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    assert b"Traceback" not in done.stderr, done.stderr
    assert done.returncode in (0, 1), done.stdout
    return taken


def test_a_cold_lint_costs_little_more_than_bare_imports(
    checkout: Path, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    lint = [sys.executable, "-m", "netcheck", "lint", str(an_example(checkout))]
    for each in (lint, YARDSTICK):  # the first run makes byte code and grammar tables
        seconds(each, tmp_path)
    ours, bare = [], []
    for _ in range(RUNS):
        ours.append(seconds(lint, tmp_path))
        bare.append(seconds(YARDSTICK, tmp_path))
    ratio = statistics.median(ours) / statistics.median(bare)
    record_property("cold lint [s]", f"{statistics.median(ours):.3f}")
    record_property("bare imports [s]", f"{statistics.median(bare):.3f}")
    record_property("ratio (at most 1.25)", f"{ratio:.2f}")
    assert ratio <= RATIO_AT_MOST


def test_a_lint_loads_nothing_it_does_not_need(checkout: Path, tmp_path: Path) -> None:
    script = (
        "import sys; from netcheck.cli import app;"
        "app(['lint', sys.argv[1]], standalone_mode=False);"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, str(an_example(checkout))],
        capture_output=True,
        cwd=tmp_path,
        check=True,
        text=True,
    )
    assert done.stderr.strip() == "[]"
