"""The stream of reports: order, the bounded queue, small answers, and what dies on the way.

Belongs here: `lint_files` with executors of several kinds. Does not belong here: the command
(test_cli_many.py), what rules find.
"""

from __future__ import annotations

import pickle
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from netcheck import Report, lint, lint_files, read_file
from netcheck.output.machine import lint_lines
from netcheck.output.text import lines
from netcheck.streaming import lint_file

TINY = 'set "number {n}"\nline none\nR1 470K 1/2 W: X1 to X2\nR2 {n}K 1/2 W: X1 to X2\n'


@pytest.fixture
def many(tmp_path: Path) -> list[Path]:
    """Forty small sets; their titles are their numbers."""
    files = [tmp_path / f"{n:03}.chassis" for n in range(1, 41)]
    for n, file in enumerate(files, start=1):
        file.write_text(TINY.format(n=n))
    return files


def titles(reports: Iterator[Report]) -> list[str]:
    return [report.chassis.title for report in reports]


IN_ORDER = [f"number {n}" for n in range(1, 41)]


def test_reports_come_in_the_order_of_the_files(many: list[Path]) -> None:
    assert titles(lint_files(many)) == IN_ORDER
    with ThreadPoolExecutor(4) as executor:
        assert titles(lint_files(many, executor, at_once=7)) == IN_ORDER


def test_dask_serves_as_executor(many: list[Path], checkout: Path) -> None:
    """A distributed engine: two worker processes of a cluster on this machine."""
    from distributed import Client, LocalCluster

    with (
        LocalCluster(
            n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None
        ) as cluster,
        Client(cluster) as client,
    ):
        executor = client.get_executor()
        found = checkout / "examples" / "larkfield-five-as-found.chassis"
        *small, large = lint_files([*many, found], executor, at_once=5)

    assert [report.chassis.title for report in small] == IN_ORDER
    assert large.findings == lint(read_file(found)).findings


class Counting(Executor):
    """Works at once when asked for the result, and counts what is in work."""

    def __init__(self) -> None:
        self.in_work = self.most = 0

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.in_work += 1
        self.most = max(self.most, self.in_work)
        counting = self

        class Late(Future[Any]):
            def result(self, timeout: float | None = None) -> Any:
                counting.in_work -= 1
                return fn(*args, **kwargs)

        return Late()


def test_no_more_than_asked_are_in_work_and_paths_are_taken_as_needed(many: list[Path]) -> None:
    executor = Counting()
    taken: list[Path] = []

    def paths() -> Iterator[Path]:
        for path in many:
            taken.append(path)
            yield path

    reports = lint_files(paths(), executor, at_once=3)
    assert taken == []  # nothing is done before a report is asked for
    next(reports)
    assert len(taken) == 3
    assert titles(reports) == IN_ORDER[1:]
    assert executor.most == 3


def test_at_least_one_must_be_in_work() -> None:
    with pytest.raises(ValueError, match="at_once is 0"):
        lint_files([], at_once=0)


def test_an_unfinished_stream_leaves_nothing_submitted(many: list[Path]) -> None:
    submitted: list[Future[Any]] = []

    class Never(Executor):
        def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
            future: Future[Any] = Future()
            if not submitted:
                future.set_result(fn(*args))
            submitted.append(future)
            return future

    reports = lint_files(many, Never(), at_once=4)
    next(reports)
    reports.close()
    assert [future.cancelled() for future in submitted] == [False, True, True, True]


def test_a_report_that_travels_is_small_and_prints_the_same(checkout: Path) -> None:
    for file in sorted((checkout / "examples").glob("*.chassis")):
        sent = pickle.dumps(lint_file(str(file)))
        assert len(sent) < 60_000
        arrived, here = pickle.loads(sent), lint(read_file(file))
        assert arrived.chassis.parts == ()
        assert list(lines([arrived])) == list(lines([here]))
        assert list(lint_lines([arrived])) == list(lint_lines([here]))


def test_what_cannot_be_read_costs_one_finding_each(tmp_path: Path, many: list[Path]) -> None:
    (tmp_path / "binary").write_bytes(bytes(range(256)))
    (tmp_path / "huge").write_bytes(b"R1 470K 1/2 W: A to B\n" * 240_000)
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    (tmp_path / "folder").mkdir()
    bad = [tmp_path / name for name in ("binary", "huge", "loop", "folder", "gone", "no\0name")]
    *broken, whole = lint_files([*bad, many[0]])
    assert [(report.was_read, len(report.findings)) for report in broken] == [(False, 1)] * 6
    assert whole.was_read


def test_a_fault_of_netcheck_costs_its_file_only(
    many: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    def faulty(path: str) -> Any:
        if path == str(many[1]):
            raise RecursionError("too deep")
        return read_file(path)

    monkeypatch.setattr("netcheck.streaming.read_file", faulty)
    first, second, third = lint_files(many[:3])
    assert (first.was_read, third.was_read) == (True, True)
    assert not second.was_read
    assert "this is a fault of netcheck, not of your set" in second.findings[0].message


class Dying(Executor):
    """A pool that breaks, with all it holds, when it comes to a deadly file."""

    def __init__(self, deadly: set[str], log: list[str]) -> None:
        self.deadly, self.log = deadly, log
        self.broken = False

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        if self.broken:
            raise BrokenExecutor
        pool, (path,) = self, args
        self.log.append(Path(path).name)

        class Late(Future[Any]):
            def result(self, timeout: float | None = None) -> Any:
                pool.broken = pool.broken or path in pool.deadly
                if pool.broken:
                    raise BrokenExecutor
                return fn(path)

        return Late()


def test_only_the_file_that_kills_its_worker_is_named(many: list[Path]) -> None:
    """What else the broken pool held is tried again, alone, and reported as ever."""
    deadly, log = {str(many[10]), str(many[12])}, list[str]()
    pools = [Dying(deadly, log)]

    def fresh() -> Dying:
        pools.append(Dying(deadly, log))
        return pools[-1]

    reports = list(lint_files(many, pools[0], at_once=5, renew=fresh))
    lost = [report for report in reports if not report.was_read]
    assert [report.chassis.file for report in lost] == sorted(deadly)
    assert "ended without an answer" in lost[0].findings[0].message
    assert [r.chassis.title for r in reports if r.was_read] == [
        title for n, title in enumerate(IN_ORDER) if n not in (10, 12)
    ]
    assert log.count(many[10].name) == 2
    assert log.count(many[12].name) == 2


def test_a_worker_that_dies_once_costs_nothing(many: list[Path]) -> None:
    log: list[str] = []
    first = Dying({str(many[10])}, log)
    reports = lint_files(many, first, at_once=5, renew=lambda: Dying(set(), log))
    assert titles(reports) == IN_ORDER


def test_without_a_fresh_pool_the_rest_is_said_not_to_be_linted(many: list[Path]) -> None:
    reports = list(lint_files(many, Dying({str(many[10])}, []), at_once=5))
    assert [report.was_read for report in reports] == [True] * 10 + [False] * 30
    assert "no fresh pool" in reports[-1].findings[0].message


def test_pools_that_always_die_are_given_up(many: list[Path]) -> None:
    everything, log = {str(path) for path in many}, list[str]()

    def fresh() -> Dying:
        return Dying(everything, log)

    reports = list(lint_files(many, fresh(), at_once=1, renew=fresh))
    assert len(reports) == len(many)
    assert not any(report.was_read for report in reports)
    assert "ended without an answer" in reports[9].findings[0].message
    assert "not linted" in reports[10].findings[0].message
    assert len(log) == 20  # ten files, each once more alone


def test_an_executor_with_faults_of_its_own_costs_a_finding(many: list[Path]) -> None:
    class Faulty(Executor):
        def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
            future: Future[Any] = Future()
            future.set_exception(OSError("the network is down"))
            return future

    (report,) = lint_files(many[:1], Faulty())
    assert not report.was_read
    assert "OSError: the network is down" in report.findings[0].message


# 5,000 files, one in 25 a set that is solved; what grows shows in the peak of the process.
_GROWTH = """
import re, sys
from pathlib import Path
from netcheck import lint_files

def peak_kb():  # not ru_maxrss, which begins at the size of the process that started this one
    status = Path("/proc/self/status").read_text()
    return int(re.search(r"VmHWM:\\s+(\\d+)", status)[1])

FILES, WARM = 5000, 500
folder = Path(sys.argv[1])
tubes = folder.joinpath("tubes").read_text()

def paths():
    for n in range(FILES):
        text = TINY.replace("{n}", str(n + 1))
        if n % 25 == 0:
            text = tubes.replace("262 V", f"{200 + n % 97} V")
        file = folder / f"{n % 50}.chassis"
        file.write_text(text)
        yield file

for count, report in enumerate(lint_files(paths()), start=1):
    assert report.was_read and report.solved is not False, report.findings
    if count == WARM:
        warm = peak_kb()
print(warm, peak_kb() - warm)
""".replace("TINY", repr(TINY))
AT_MOST_KB = 2_000  # measured about 100; keeping the reports would cost ten thousand
TUBES = """\
line none
hold B1 262 V
BT1 6.3 V storage A-battery: + HTR, - CHASSIS
R1 100K 1/2 W: B1 to V1.plate
R2 1.5K 1/2 W: KATH to CHASSIS
R3 470K 1/2 W: GRID to CHASSIS
V1 6J5: plate V1.plate, grid GRID, cathode KATH, heater HTR to CHASSIS
"""


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="reads the peak from /proc")
def test_memory_is_flat_over_five_thousand_files(tmp_path: Path, record_property: Any) -> None:
    (tmp_path / "tubes").write_text(TUBES)
    done = subprocess.run(
        [sys.executable, "-c", _GROWTH, str(tmp_path)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    warm_kb, grown_kb = map(int, done.stdout.split())
    record_property("peak after 500 files [kB]", warm_kb)
    record_property("growth to 5000 [kB]", grown_kb)
    assert grown_kb <= AT_MOST_KB
