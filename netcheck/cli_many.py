"""Linting many files for a command: worker processes, how Ctrl-C ends them, and a progress bar.

Belongs here: what `lint` needs for more than a few files; nothing of it is loaded for one. Does
not belong here: the stream itself (streaming.py), options, output.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from typing import Any, Final

from netcheck.rules._runner import Report
from netcheck.rules._scope import Asked
from netcheck.streaming import lint_files

__all__ = ["reports_on", "watched", "workers_for"]

# Starting two workers takes about as long as linting these in one process.
_FEW: Final = 6
_BY_DEFAULT: Final = 2
_HELD_BY_EACH: Final = 4
_LONG: Final = 20


def workers_for(files: int, asked: int | None) -> int:
    """How many processes lint so many files; 1 is this one."""
    if asked is not None:
        return max(1, min(asked, files))
    return min(_BY_DEFAULT, os.cpu_count() or 1) if files > _FEW else 1


@contextmanager
def reports_on(paths: Iterable[str], workers: int, asked: Asked) -> Iterator[Iterator[Report]]:
    """Give the reports on the files, in their order; at the end no worker is left.

    Whatever ends the block early (Ctrl-C, a reader that goes away) ends the workers at once.
    """
    if workers == 1:
        yield lint_files(paths, asked=asked)
        return
    before = set(multiprocessing.active_children())
    pools: list[_Workers] = []

    def fresh() -> _Workers:
        for old in pools:
            old.shutdown(wait=False)
        pools[:] = [_Workers(workers)]
        return pools[0]

    try:
        yield lint_files(paths, fresh(), at_once=_HELD_BY_EACH * workers, renew=fresh, asked=asked)
    except BaseException:
        for worker in set(multiprocessing.active_children()) - before:
            worker.terminate()
        raise
    finally:
        for each in pools:
            each.shutdown(cancel_futures=True)


class _Workers(ProcessPoolExecutor):
    """Worker processes that leave Ctrl-C to this one, from their first moment on."""

    def __init__(self, count: int) -> None:
        # Spawned, not forked: this process has threads (the pool's own, the progress bar's).
        context = multiprocessing.get_context("spawn")
        super().__init__(count, mp_context=context, initializer=_leave_interrupts)

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Submit; a worker that is started for it inherits that SIGINT is held back.

        An interrupt that comes meanwhile is kept for this process, not lost.
        """
        if not hasattr(signal, "pthread_sigmask"):  # Windows
            return super().submit(fn, *args, **kwargs)
        held = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            return super().submit(fn, *args, **kwargs)
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, held)


def _leave_interrupts() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def watched(reports: Iterable[Report], total: int, to_terminal: bool) -> Iterator[Report]:
    """Yield the reports; long work shows on a terminal's stderr how far it is.

    Not where the reports themselves go to the terminal: they show it already.
    """
    if total <= _LONG or to_terminal or not sys.stderr.isatty():
        yield from reports
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
    from rich.progress import TimeRemainingColumn as TimeLeft

    columns = (TextColumn("sets"), BarColumn(), MofNCompleteColumn(), TimeLeft())
    with Progress(
        *columns,
        console=Console(stderr=True),
        transient=True,
        redirect_stdout=False,
        redirect_stderr=False,
    ) as progress:
        task = progress.add_task("sets", total=total)
        for report in reports:
            progress.advance(task)
            yield report
