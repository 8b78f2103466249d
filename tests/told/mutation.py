"""Mutation testing of the rules and the wiring: what part of their slips would the tests see?

Belongs here: running the tests over the mutants that mutmut makes. Does not belong here: tests.
It is a tool for developers and no test (`pip install mutmut` first); a whole run takes an hour:

    python -m tests.told.mutation FOLDER [PATTERN ...]

FOLDER is made, and holds the mutated copy and `results.json`; a second run goes on where the first
one stopped. PATTERNs choose mutants (`*polarity*`). mutmut's own runner collects the tests anew for
every mutant and leaves decorated functions alone; here they are collected once, each mutant runs in
a fork with the tests that reach it, shortest first, and the checks of the rules are mutated too:
the copy applies their decorator by a statement of its own.
"""

from __future__ import annotations

import fnmatch
import functools
import gc
import itertools
import json
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MUTATED = ("netcheck/rules/*.py", "netcheck/circuit/wiring.py")
TESTS = (
    "tests/told/test_told.py",
    "tests/rules",
    "tests/circuit/test_roles.py",
    "tests/circuit/test_roles_of_other_sets.py",
    "tests/circuit/test_walks.py",
    "tests/circuit/test_leads.py",
    "tests/circuit/test_sides.py",
    "tests/circuit/test_supply.py",
    "tests/circuit/test_pieces.py",
    "tests/circuit/test_elements.py",
)
WORKERS = os.cpu_count() or 1
# A mutant that loops: killed by time. The tests that reach it take this many times as long, or so
# many seconds more.
TIMES, SECONDS_MORE = 6.0, 6.0
# Tests that take longer than this run for no mutant, nor do those that draw their cases at random.
LONGEST_S = 4.0
# The tests of one mutant, shortest first, end when they have taken so long: a survivor of them is
# counted as one, though a longer test might have seen it.
MOST_S = 2.5
KILLED, SURVIVED, TIMEOUT, UNREACHED = "killed", "survived", "timeout", "no test reaches it"


def make(folder: Path) -> None:
    """Copy the checkout to `folder`, and let mutmut write its mutants to `folder`/mutants."""
    kept = ("netcheck", "grammar", "examples", "tests", "pyproject.toml", "README.md")
    for name in (*kept, "DEVELOPERS.md"):
        of = ROOT / name
        copied = shutil.copytree if of.is_dir() else shutil.copy
        copied(of, folder / name)
    for path in sorted((folder / "netcheck/rules").glob("[a-z]*.py")):
        path.write_text(_undecorated(path.read_text("utf-8")), "utf-8")
    lines = ["[mutmut]", "source_paths=", "    netcheck", "only_mutate="]
    lines += [f"    {each}" for each in MUTATED]
    lines += ["also_copy=", *(f"    {name}" for name in (*kept, "DEVELOPERS.md"))]
    (folder / "setup.cfg").write_text("\n".join(lines) + "\n", "utf-8")
    code = "import mutmut.__main__ as m; m.copy_src_dir(); m.copy_also_copy_files(); "
    code += "m.setup_source_paths(); m.create_mutants(2)"
    subprocess.run([sys.executable, "-c", code], cwd=folder, check=True)


def _undecorated(source: str) -> str:
    """The module with `@rule(...)` taken off its check and applied below it."""
    import libcst as cst

    body: list[cst.BaseStatement | cst.SimpleStatementLine] = []
    module = cst.parse_module(source)
    for statement in module.body:
        if isinstance(statement, cst.FunctionDef) and len(statement.decorators) == 1:
            call = statement.decorators[0].decorator
            if isinstance(call, cst.Call) and module.code_for_node(call.func) == "rule":
                body.append(statement.with_changes(decorators=()))
                applied = f"{statement.name.value} = {module.code_for_node(call)}"
                applied += f"({statement.name.value})"
                body += cst.parse_module(applied + "\n").body
                continue
        body.append(statement)
    return module.with_changes(body=body).code


def mutants(folder: Path, patterns: list[str]) -> list[str]:
    """The names of the mutants that some pattern fits (every one where there is none)."""
    found: list[str] = []
    for path in sorted(folder.rglob("*.meta")):
        found += json.loads(path.read_text("utf-8"))["exit_code_by_key"]
    fits = [re.compile(fnmatch.translate(each)).match for each in patterns or ["*"]]
    return [name for name in found if any(fit(name) for fit in fits)]


class Loop:
    """A pytest plugin that runs the collected tests once, then once more for every mutant."""

    def __init__(self, names: list[str], results: Path) -> None:
        self.names = names
        self.path = results
        self.results: dict[str, str] = (
            json.loads(results.read_text("utf-8")) if results.exists() else {}
        )
        self.reach: dict[str, list[tuple[float, int]]] = {}
        self.failed = False

    def forget_survivors(self) -> None:
        """Let the chosen mutants that no test saw be tried anew."""
        for name in self.names:
            if self.results.get(name) in (SURVIVED, UNREACHED):
                del self.results[name]

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note a failed test."""
        self.failed = self.failed or report.failed

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Stand in for pytest's loop."""
        self._measure(session.items)
        waiting = [each for each in self.names if each not in self.results]
        # In no order, so that a run that is stopped has tried a fair sample of all.
        random.Random(0).shuffle(waiting)
        running: dict[int, tuple[str, float]] = {}
        began = time.monotonic()
        for number, name in enumerate(waiting):
            while len(running) >= WORKERS:
                self._reap(running)
            self._start(session.items, name, running)
            if number % 100 == 99:
                self._write(f"{number + 1} of {len(waiting)}, {time.monotonic() - began:.0f} s")
        while running:
            self._reap(running)
        self._write("done")
        return True

    def _measure(self, items: list[pytest.Item]) -> None:
        """Find the functions that each test reaches, then how long it takes by itself."""
        from mutmut.mutation import trampoline

        kept = _kept_circuits()
        hits: set[str] = set()
        trampoline.record_trampoline_hit = lambda name, caller=None: hits.add(name)
        reached: list[frozenset[str]] = []
        os.environ["MUTANT_UNDER_TEST"] = "stats"
        for item in items:
            _forget(but=kept)
            hits.clear()
            self._run(item)
            assert not self.failed, f"{item.nodeid} fails without any mutant"
            reached.append(frozenset(hits))
        os.environ["MUTANT_UNDER_TEST"] = ""
        for number, item in enumerate(items):
            _forget(but=kept)
            began = time.monotonic()
            self._run(item)
            took = time.monotonic() - began
            for hit in reached[number] if took <= LONGEST_S else ():
                self.reach.setdefault(hit, []).append((took, number))
        _forget(but=kept)
        self._write(f"{len(items)} tests reach {len(self.reach)} functions")

    @staticmethod
    def _run(item: pytest.Item) -> None:
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)

    def _start(
        self, items: list[pytest.Item], name: str, running: dict[int, tuple[str, float]]
    ) -> None:
        function = name.rpartition("__mutmut_")[0]
        tests = _within(sorted(self.reach.get(function, ())), MOST_S)
        if not tests:
            self.results[name] = UNREACHED
            return
        pid = os.fork()
        if pid:
            running[pid] = (name, time.monotonic())
            return
        os.environ["MUTANT_UNDER_TEST"] = name
        sys.stdout = sys.stderr = open(os.devnull, "w")  # noqa: SIM115
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.alarm(int(TIMES * sum(took for took, _ in tests) + SECONDS_MORE))
        gc.disable()
        if name.startswith("netcheck.circuit"):
            _forget()
        for _, number in tests:
            try:
                self._run(items[number])
            except BaseException:
                os._exit(1)
            if self.failed:
                os._exit(1)
        os._exit(0)

    def _reap(self, running: dict[int, tuple[str, float]]) -> None:
        pid, status = os.wait()
        name, _ = running.pop(pid)
        if os.WIFSIGNALED(status):
            self.results[name] = TIMEOUT if os.WTERMSIG(status) == signal.SIGALRM else KILLED
        else:
            self.results[name] = KILLED if os.WEXITSTATUS(status) else SURVIVED

    def _write(self, said: str) -> None:
        self.path.write_text(json.dumps(self.results, indent=0), "utf-8")
        counted = Counter(self.results.values())
        sys.stderr.write(f"{said} {dict(counted)} {rate(self.results):.1%}\n")


def _within(tests: list[tuple[float, int]], seconds: float) -> list[tuple[float, int]]:
    """The first tests that end within so many seconds, and one at least."""
    ends = itertools.accumulate(took for took, _ in tests)
    return [each for each, end in zip(tests, ends, strict=True) if end <= seconds] or tests[:1]


def _kept_circuits() -> object:
    """Let the told texts keep their circuits, and return the cache that holds them."""
    # pytest gives a test's module a name of its own; the tests ask that one.
    (name,) = [each for each in sys.modules if each.endswith("told.words")]
    words = sys.modules[name]
    words.circuit_of = functools.cache(words.circuit_of)
    return words.circuit_of


def _forget(but: object = None) -> None:
    """Empty every cache of ours but one: what a mutant would change is not remembered."""
    for each in gc.get_objects() if but is None else _caches(len(sys.modules)):
        if each is not but and _is_ours(each):
            each.cache_clear()


@functools.lru_cache(maxsize=1)
def _caches(modules: int) -> list[functools._lru_cache_wrapper[object]]:
    """The caches of the modules that are loaded (there are `modules`)."""
    return [each for each in gc.get_objects() if _is_ours(each)]


def _is_ours(each: object) -> bool:
    """Whether this is a cache of the tests, rules or circuit."""
    if not isinstance(each, functools._lru_cache_wrapper) or each is _caches:
        return False
    code = getattr(each.__wrapped__, "__code__", None)
    homes = ("/tests/", "/netcheck/rules/", "/netcheck/circuit/")
    return code is not None and any(home in code.co_filename for home in homes)


def rate(results: dict[str, str]) -> float:
    """The share of mutants that the tests see, timeouts included."""
    seen = sum(each in (KILLED, TIMEOUT) for each in results.values())
    return seen / max(1, len(results))


def table(results: dict[str, str]) -> str:
    """Mutants seen and not seen, module by module, the worst first."""
    by_module: dict[str, Counter[str]] = {}
    for name, result in results.items():
        module = name.rpartition(".x")[0].removeprefix("netcheck.")
        by_module.setdefault(module, Counter())[result] += 1
    rows = []
    for module, counted in by_module.items():
        missed = counted[SURVIVED] + counted[UNREACHED]
        total = sum(counted.values())
        rows.append((missed, f"{missed:5} of {total:5} missed ({1 - missed / total:.0%}) {module}"))
    return "\n".join(row for _, row in sorted(rows, reverse=True))


def main(folder: Path, patterns: list[str]) -> None:
    """Make the mutants if they are not there, run them, and tell the share that was seen."""
    if not (folder / "mutants").exists():
        folder.mkdir(parents=True, exist_ok=True)
        make(folder)
    inside = [sys.executable, "-m", "tests.told.mutation", "--inside", *patterns]
    subprocess.run(inside, cwd=folder / "mutants", check=True)


def inside(patterns: list[str]) -> None:
    """Run the mutants of the working directory.

    `--told` asks the told texts alone, `--chosen=WORDS` those tests that pytest -k would choose.
    `--again` runs those that were tried and survived.
    """
    tests = TESTS[:1] if "--told" in patterns else TESTS
    again = "--again" in patterns
    chosen = [each.removeprefix("--chosen=") for each in patterns if each.startswith("--chosen=")]
    patterns = [each for each in patterns if not each.startswith("--")]
    results = Path("../results.json")
    loop = Loop(mutants(Path("netcheck"), patterns), results)
    if again:
        loop.forget_survivors()
    arguments = ["-q", "-s", "--assert=plain", "--tb=no", "-p", "no:cacheprovider"]
    arguments += ["-p", "no:benchmark", "-m", "not slow and not hypothesis"]
    arguments += [f"-k{each}" for each in chosen]
    pytest.main([*arguments, *(each for each in tests if Path(each).exists())], plugins=[loop])
    sys.stdout.write(table(loop.results) + "\n")


if __name__ == "__main__":
    if sys.argv[1] == "--inside":
        inside(sys.argv[2:])
    else:
        main(Path(sys.argv[1]).resolve(), sys.argv[2:])
