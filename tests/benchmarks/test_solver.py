"""The solver: what a fault batch and a warm lint cost, in solves of plain matrices.

Stressed: 300 single faults of a 60-part set in one batch, and a lint of a 100-part set that was
read before. The yardsticks are stacked numpy.linalg.solve calls of stated shape, timed in the same
run, so that a ratio says the same on any machine. What counts is processor time of this process,
the least of several runs.

Marks of the project: faults at most 4 x (3600, 60, 60); lint at most 60 x (16, 60, 60). Where a
bound below is wider than its mark, the mark is not reached yet and the bound only keeps what is.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import numpy as np
import pytest

from netcheck.chassis import Chassis
from netcheck.circuit import Circuit
from netcheck.circuit.operating import Point
from netcheck.circuit.states import Edit, State
from netcheck.language import read
from netcheck.parts import Part
from netcheck.rules import builtin
from netcheck.rules._runner import lint

from ..circuit.generated import a_set, parts_in

Note = Callable[[str, object], None]

FAULTS, FAULT_MARK, FAULT_BOUND = 300, 4.0, 4.0
LINT_MARK, LINT_BOUND = 60.0, 450.0
RUNS = 5


def stacked(count: int) -> Callable[[], object]:
    """A solve of `count` matrices of 60 x 60 with one right side each."""
    chance = np.random.default_rng(0)
    matrices = chance.normal(size=(count, 60, 60)) + 20 * np.eye(60)
    right = chance.normal(size=(count, 60, 1))
    return lambda: np.linalg.solve(matrices, right)


def seconds(work: Callable[[], object], runs: int = RUNS) -> float:
    """The least processor time of several runs (numpy's threads count)."""
    taken = []
    for _ in range(runs):
        before = time.process_time()
        work()
        taken.append(time.process_time() - before)
    return min(taken)


def single_faults(chassis: Chassis) -> Iterator[State]:
    """Each part opened, shorted, changed, leaky: what a repairman would suspect."""

    def of(part: Part) -> Iterator[Edit]:
        if part.kind == "capacitor":
            yield from (Edit("leak", part.ref, ohm) for ohm in (0.01, 1e4, 1e5, 1e6, 1e7))
        elif part.kind == "resistor":
            yield Edit("open", part.ref)
            yield Edit("short", part.ref)
            yield from (Edit("scale", part.ref, by) for by in (0.5, 1.2, 1.5, 2.0, 3.0, 5.0))
        elif part.kind in ("coil", "transformer") and not part.description.has("power"):
            yield from (Edit("open", part.ref, path=path.name) for path in part.paths)

    for part in chassis.parts:
        for edit in of(part):
            yield State(f"{part.ref} {edit.kind} {edit.ohm:g} {edit.path}", edits=(edit,))
        if part.kind == "tube":
            for emission in (0.0, 0.25, 0.5, 0.75):
                yield State(f"{part.ref} at {emission}", emission=((part.body_ref, emission),))


@pytest.fixture(scope="module")
def sixty() -> Chassis:
    text = a_set(7, 60)
    assert 56 <= parts_in(text) <= 64
    return read(text)


def test_three_hundred_faults_cost_few_solves(sixty: Chassis, record_property: Note) -> None:
    of = Circuit(sixty).operating
    every = list(single_faults(sixty))
    answered = zip(every, of.tried(every), strict=True)  # what has no volts at all costs nothing
    states = [state for state, found in answered if isinstance(found, Point)][:FAULTS]
    assert len(states) == FAULTS

    def solve_all() -> None:
        fresh = Circuit(sixty).operating
        fresh.point()  # the model, its supply's curve: once for a set
        before = time.process_time()
        found = fresh.tried(states)
        taken.append(time.process_time() - before)
        assert all(isinstance(each, Point) for each in found)

    taken: list[float] = []
    for _ in range(RUNS):
        solve_all()
    yardstick = seconds(stacked(FAULTS * 12))
    ratio = min(taken) / yardstick
    record_property("300 faults [s]", f"{min(taken):.3f}")
    record_property("3600 solves [s]", f"{yardstick:.3f}")
    record_property(f"ratio (mark {FAULT_MARK:g})", f"{ratio:.2f}")
    assert ratio <= FAULT_BOUND


def test_a_warm_lint_costs_few_solves(record_property: Note) -> None:
    chassis = read(a_set(29, 100))
    assert 95 <= len(chassis.parts) <= 106
    rules = tuple(builtin())
    lint(chassis, rules)  # catalogue and laws are read once

    # In turn and often, so that a busy machine slows both alike.
    solves, turns = stacked(16), range(12)
    both = [(seconds(lambda: lint(chassis, rules), 1), seconds(solves, 5)) for _ in turns]
    ours, yardstick = (min(column) for column in zip(*both, strict=True))
    ratio = ours / yardstick
    record_property("lint [s]", f"{ours:.3f}")
    record_property("16 solves [ms]", f"{yardstick * 1e3:.2f}")
    record_property(f"ratio (mark {LINT_MARK:g})", f"{ratio:.0f}")
    assert ratio <= LINT_BOUND
