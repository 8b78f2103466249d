"""Linting thousands of files as a stream, so that a collection costs no more memory than one set.

Belongs here: handing files to any `concurrent.futures` executor through a bounded queue, and what
becomes of a file whose worker died. Does not belong here: which files are meant, which executor,
and output.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future
from dataclasses import replace
from functools import partial
from os import fspath
from pathlib import Path
from typing import Final

from netcheck.chassis import Chassis
from netcheck.findings import NetcheckError, Span
from netcheck.language.files import read_file
from netcheck.language.mistakes import Mistake
from netcheck.rules._runner import Report
from netcheck.rules._scope import Asked

__all__ = ["AT_ONCE", "lint_file", "lint_files", "unread"]

AT_ONCE: Final = 16
# Files one after another whose worker died alone: then it is not the files, and it would take as
# long as a start of a pool for each of thousands to find the same again.
_DEAD_IN_A_ROW: Final = 10

_DIED = (
    "the worker process that linted this set ended without an answer, and did so again in a fresh"
    " pool with this set alone"
)
_NO_POOL = "the worker processes ended before this set was linted, and there is no fresh pool"
_HOPELESS = f"not linted: the worker processes died with each of {_DEAD_IN_A_ROW} sets before this"


def lint_files(
    paths: Iterable[str | Path],
    executor: Executor | None = None,
    *,
    at_once: int = AT_ONCE,
    renew: Callable[[], Executor] | None = None,
    asked: Asked | None = None,
) -> Iterator[Report]:
    """Lint files with every rule installed, and yield a report on each, in the order of `paths`.

    At most `at_once` files are submitted and not yet yielded, whatever the number of `paths`, which
    may be a generator. A report carries its findings and the lines they speak of, not the parts:
    `report.chassis` has file, title and `was_read`.

    No file ends the stream: one that cannot be read, or whose linting fails, gives a report with
    one finding and `was_read` False. If the pool breaks, the files it held are tried again in a
    fresh one, each alone, so that only the one at fault is named.

    Args:
        paths: the files to lint.
        executor: any `concurrent.futures` executor; None lints in this process. It is not shut
            down here.
        at_once: how many files may be submitted at a time, at least 1.
        renew: gives a fresh executor when one is broken; without it the files left are reported as
            not read.
        asked: which rules run and under which policies; every rule installed if None.

    Raises:
        ValueError: `at_once` is less than 1.
    """
    if at_once < 1:
        raise ValueError(f"at_once is {at_once}, and at least one file must be in work")
    names = (fspath(path) for path in paths)
    wanted = asked or Asked()
    if executor is None:
        return (lint_file(name, wanted) for name in names)
    return _streamed(names, _Pool(executor, renew, wanted), at_once)


def lint_file(path: str, asked: Asked | None = None) -> Report:
    """Lint one file in this process; the report is small and can be pickled. Raises nothing."""
    try:
        return _small((asked or Asked()).report(read_file(path)))
    except NetcheckError as fault:
        return unread(path, str(fault), "see to it, then lint again")
    except Exception as fault:
        said = f"this is a fault of netcheck, not of your set ({type(fault).__name__}: {fault})"
        return unread(path, said, "report it to the makers of netcheck, with this set")


def unread(file: str, fault: str, action: str = "name a set, or a folder that has one") -> Report:
    """A report on something that was not read: one finding, and the mark that it was not."""
    finding = Mistake(
        fault, Span(file, 1, 1, 1, 1), action, why="Nothing is known of what was not read."
    ).finding("")
    chassis = Chassis(file=file, travels={}, texts={}, spans={}, was_read=False)
    return Report(replace(chassis, findings=(finding,)), (finding,))


def _small(report: Report) -> Report:
    """The report without parts and wires, and of the texts only the lines that findings mark."""
    chassis = report.chassis
    spoken_of: dict[str, set[int]] = {}
    for found in report.findings:
        for span in (found.span, *(each.span for each in found.related)):
            spoken_of.setdefault(span.file, set()).add(span.line)
    few = Chassis(
        file=chassis.file,
        title=chassis.title,
        travels={},  # plain dictionaries: a read-only view cannot be pickled
        texts={file: _only(chassis, file, spoken_of.get(file, set())) for file in chassis.texts},
        spans={},
        was_read=chassis.was_read,
    )
    return replace(report, chassis=few)


def _only(chassis: Chassis, file: str, numbers: set[int]) -> str:
    """The text of a file with every other line empty, up to the last that is wanted."""
    last = max(numbers, default=0)
    return "\n".join(
        chassis.line_text(Span(file, line, 1, line, 1)) if line in numbers else ""
        for line in range(1, last + 1)
    )


class _Pool:
    """An executor that is replaced by a fresh one when it breaks."""

    def __init__(
        self, executor: Executor, renew: Callable[[], Executor] | None, asked: Asked
    ) -> None:
        self._executor: Executor | None = executor
        self._lint = partial(lint_file, asked=asked)
        self._renew = renew
        self._dead_in_a_row = 0

    def submit(self, path: str) -> Future[Report]:
        """Submit a file; a pool that is broken already gives a future that says so."""
        try:
            if self._executor is not None:
                return self._executor.submit(self._lint, path)
        except BrokenExecutor:
            pass
        broken: Future[Report] = Future()
        broken.set_exception(BrokenExecutor())
        return broken

    def outcome(self, path: str, future: Future[Report]) -> Report | None:
        """Wait for a report; None when the pool broke before there was one."""
        try:
            report = future.result()
        except BrokenExecutor:
            return None
        except Exception as fault:  # a distributed engine has faults of its own
            said = f"the executor gave no answer for this set ({type(fault).__name__}: {fault})"
            return unread(path, said, "lint this set by itself")
        self._dead_in_a_row = 0
        return report

    def fresh(self) -> None:
        """Have a fresh pool in place of a broken one, if there is any."""
        given_up = self._dead_in_a_row >= _DEAD_IN_A_ROW
        self._executor = self._renew() if self._renew is not None and not given_up else None

    def alone(self, path: str) -> Report:
        """Try again a file that a broken pool held, with nothing else in work."""
        if self._executor is None:
            said = _HOPELESS if self._dead_in_a_row >= _DEAD_IN_A_ROW else _NO_POOL
            return unread(path, said, "lint this set by itself")
        report = self.outcome(path, self.submit(path))
        if report is not None:
            return report
        self._dead_in_a_row += 1
        self.fresh()
        return unread(path, _DIED, "lint this set by itself; if that ends too, report it")


def _streamed(paths: Iterator[str], pool: _Pool, at_once: int) -> Iterator[Report]:
    held: deque[tuple[str, Future[Report]]] = deque()
    try:
        while True:
            while len(held) < at_once and (path := next(paths, None)) is not None:
                held.append((path, pool.submit(path)))
            if not held:
                return
            path, future = held.popleft()
            report = pool.outcome(path, future)
            if report is not None:
                yield report
                continue
            pool.fresh()
            yield pool.alone(path)
            while held:  # no other file is submitted until these are through
                path, future = held.popleft()
                yield pool.outcome(path, future) or pool.alone(path)
    finally:
        for _, future in held:
            future.cancel()
