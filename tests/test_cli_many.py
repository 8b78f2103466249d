"""Many files by the command: worker processes, Ctrl-C, the summary, the exit status, the bar.

Belongs here: `netcheck lint` as a program over more than a few files. Does not belong here: the
stream as a library (test_streaming.py).
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from .terminal import read_to_the_end

SET = 'set "number {n}"\nline none\nR1 470K 1/2 W, measured 480K: X1 to X2\n'
Run = Callable[..., "subprocess.CompletedProcess[str]"]

# A rule of somebody else's that ends the process it runs in, or takes its time.
RULES = """
import os, time
from netcheck.findings import Harm
from netcheck.rules._base import Rule, RuleDoc

def check(case):
    if case.chassis.title == "deadly":
        os._exit(9)
    if case.chassis.title == "slow":
        time.sleep(60)
    return ()

WORDS = RuleDoc("Made up", "it matters", "never", "common practice, no source")

def rules():
    return [Rule("deadly-rule", Harm.DAMAGE, WORDS, check)]
"""


@pytest.fixture
def sets(tmp_path: Path) -> Path:
    """A folder of twelve sets without any finding that fails."""
    folder = tmp_path / "sets"
    folder.mkdir()
    for n in range(12):
        (folder / f"{n:02}.chassis").write_text(SET.format(n=n))
    return folder


@pytest.fixture
def deadly(tmp_path: Path, checkout: Path) -> str:
    """The PYTHONPATH with which a distribution with such a rule is installed."""
    place = tmp_path / "packages"
    about = place / "deadly-1.0.dist-info"
    about.mkdir(parents=True)
    (place / "deadly_rules.py").write_text(RULES)
    (about / "METADATA").write_text("Metadata-Version: 2.1\nName: deadly\nVersion: 1.0\n")
    (about / "entry_points.txt").write_text("[netcheck.rules]\ndeadly = deadly_rules:rules\n")
    return os.pathsep.join((str(place), str(checkout)))


def told(done: subprocess.CompletedProcess[str]) -> list[dict[str, Any]]:
    assert done.stderr == ""
    sets: list[dict[str, Any]] = json.loads(done.stdout)["sets"]
    return sets


@pytest.mark.parametrize("form", ["text", "json"])
def test_two_workers_say_what_one_process_says(netcheck: Run, sets: Path, form: str) -> None:
    alone = netcheck("lint", "sets", "--as", form, "--workers", "1")
    by_two = netcheck("lint", "sets", "--as", form)
    assert alone.returncode == by_two.returncode == 0
    assert alone.stderr == by_two.stderr == ""
    assert alone.stdout == by_two.stdout


def test_the_json_of_many_fits_the_schema(netcheck: Run, sets: Path) -> None:
    (sets / "03.chassis").write_bytes(b"\xff\xfe\x00")
    (sets / "empty").mkdir()
    done = netcheck("lint", "sets", "sets/empty", "gone.chassis", "-", "--as", "json", stdin=SET)
    schema = json.loads(netcheck("lint", "--schema").stdout)
    jsonschema.Draft202012Validator(schema).validate(json.loads(done.stdout))
    read = [each["read"] for each in told(done)]
    assert read == [n != 3 for n in range(12)] + [False, False, True]
    assert done.returncode == 2


def test_the_summary_counts_all(netcheck: Run, sets: Path) -> None:
    (sets / "03.chassis").write_text("R1 ][\n")
    tube = "V1 6J5: plate X1, grid X2, cathode B-, heater open\nR3 ? 1 W: X1 to B-\n"
    (sets / "04.chassis").write_text(SET + tube)
    done = netcheck("lint", "sets")
    assert done.returncode == 2
    _, _, summary = done.stdout.rpartition("=" * 78 + "\n")
    assert summary.startswith("12 sets: 0 dangers, ")
    assert "\n1 of them not read whole\n1 of them read but not solved" in summary


def test_a_worker_that_dies_costs_the_set_it_held(netcheck: Run, sets: Path, deadly: str) -> None:
    (sets / "05.chassis").write_text('set "deadly"\nline none\nR1 470K 1/2 W: X1 to X2\n')
    done = netcheck("lint", "sets", "--as", "json", PYTHONPATH=deadly)
    assert done.returncode == 2
    reports = told(done)
    assert [each["read"] for each in reports] == [n != 5 for n in range(12)]
    lost = reports[5]["findings"][0]["message"]
    assert "the worker process that linted this set ended without an answer" in lost


def wait_for(condition: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 45
    while not condition():
        assert time.monotonic() < deadline
        time.sleep(0.05)


def children(pid: int) -> set[int]:
    """The processes that a process started (Linux)."""
    listed = Path(f"/proc/{pid}/task/{pid}/children")
    return {int(each) for each in listed.read_text().split()} if listed.exists() else set()


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="looks for processes in /proc")
@pytest.mark.parametrize("workers", ["1", "2"])
def test_ctrl_c_ends_cleanly(sets: Path, deadly: str, workers: str, tmp_path: Path) -> None:
    """As a terminal does it: the signal goes to every process of the group."""
    (sets / "05.chassis").write_text('set "slow"\nline none\nR1 470K 1/2 W: X1 to X2\n')
    out = tmp_path / "out.txt"
    with (
        out.open("wb") as stdout,
        subprocess.Popen(
            [sys.executable, "-u", "-m", "netcheck", "lint", "sets", "--workers", workers],
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": deadly},
            stdout=stdout,
            stderr=subprocess.PIPE,
            start_new_session=True,
        ) as running,
    ):
        wait_for(lambda: b"number 4" in out.read_bytes())
        begun = children(running.pid)
        os.killpg(running.pid, signal.SIGINT)
        _, stderr = running.communicate(timeout=30)
    assert running.returncode == 130
    assert stderr.decode() == "netcheck: stopped after 5 of 12 sets\n"
    assert (len(begun) >= 2) is (workers == "2")
    wait_for(lambda: not any(Path(f"/proc/{each}").exists() for each in begun))


def test_a_reader_that_goes_away_ends_the_workers(sets: Path, tmp_path: Path) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        done = subprocess.run(
            [sys.executable, "-m", "netcheck", "lint", str(sets), "--workers", "2"],
            stdout=writing,
            stderr=subprocess.PIPE,
            cwd=tmp_path,
            timeout=60,
            check=False,
        )
    finally:
        os.close(writing)
    assert done.stderr == b""


def test_a_linked_folder_is_said_unless_its_sets_are_found(netcheck: Run, sets: Path) -> None:
    (sets / "round").symlink_to(sets)
    assert netcheck("lint", "sets").returncode == 0
    elsewhere = sets.parent / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "more.chassis").write_text(SET)
    (sets / "other").symlink_to(elsewhere)
    done = netcheck("lint", "sets")
    assert done.returncode == 2
    assert "this linked folder is not followed" in " ".join(done.stdout.split())
    named = netcheck("lint", "sets", "elsewhere", "--as", "json")
    assert named.returncode == 0
    assert len(told(named)) == 13


def test_what_nobody_may_read_is_said(netcheck: Run, sets: Path) -> None:
    (sets / "round.chassis").symlink_to(sets / "round.chassis")
    (sets / "gone.chassis").symlink_to(sets / "nothing")
    closed = sets / "05.chassis"
    closed.chmod(0)
    unreadable = {"round.chassis", "gone.chassis"}
    if not os.access(closed, os.R_OK):  # root reads everything
        unreadable.add("05.chassis")
    done = netcheck("lint", "sets", "--as", "json")
    assert done.returncode == 2
    assert {Path(each["file"]).name for each in told(done) if not each["read"]} == unreadable


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
@pytest.mark.parametrize(("count", "bar"), [(30, True), (12, False)])
def test_long_work_shows_a_bar_on_a_terminal(
    sets: Path, tmp_path: Path, count: int, bar: bool
) -> None:
    """On stderr only, and only where stdout is no terminal that shows the reports themselves."""
    import pty

    for n in range(12, count):
        (sets / f"{n}.chassis").write_text(SET.format(n=n))
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "netcheck", "lint", "sets", "--workers", "1"],
        stdout=subprocess.PIPE,
        stderr=theirs,
        cwd=tmp_path,
        env={**os.environ, "TERM": "xterm"},
    ) as running:
        os.close(theirs)
        stdout, _ = running.communicate(timeout=60)
    shown = read_to_the_end(ours)
    assert (f"{count}/{count}".encode() in shown) is bar
    assert b"\x1b" not in stdout
    assert f"{count} sets: ".encode() in stdout


def test_one_file_loads_nothing_that_many_need(checkout: Path, tmp_path: Path) -> None:
    script = (
        "import sys; from netcheck.cli import app;"
        "app(['lint', sys.argv[1]], standalone_mode=False);"
        "print([name for name in ('rich', 'multiprocessing', 'concurrent.futures.process',"
        " 'netcheck.streaming', 'netcheck.cli_many') if name in sys.modules], file=sys.stderr)"
    )
    file = tmp_path / "one.chassis"
    file.write_text(SET.format(n=1))
    done = subprocess.run(
        [sys.executable, "-c", script, str(file)], capture_output=True, text=True, check=True
    )
    assert done.stderr.strip() == "[]"
