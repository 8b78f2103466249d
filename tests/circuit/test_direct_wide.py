"""Large networks are solved another way than small ones, to the same volts.

Stressed: a set of a hundred parts with every part opened, shorted and leaky, and at other line
volts, each way; a set that is large enough for it by itself. Left out: how long it takes
(tests/benchmarks).
"""

from __future__ import annotations

import pytest

from netcheck.chassis import Chassis
from netcheck.circuit import Circuit, direct
from netcheck.circuit.operating import Point
from netcheck.circuit.states import Edit, State
from netcheck.findings import NotSolved
from netcheck.language import read

from .generated import a_set


def _states(chassis: Chassis) -> list[State]:
    found = [State(f"line at {volts} V", line_v=volts) for volts in (90.0, 117.0, 130.0)]
    for part in chassis.parts[::2]:
        for kind, ohm in (("open", 0.0), ("short", 0.0), ("leak", 1e5)):
            found.append(State(f"{part.ref} {kind}", edits=(Edit(kind, part.ref, ohm),)))
        if part.kind == "tube":
            found.append(State(f"{part.ref} cold", emission=((part.body_ref, 0.0),)))
    return found


def _solved(
    chassis: Chassis, large: int, monkeypatch: pytest.MonkeyPatch
) -> tuple[Point | NotSolved, ...]:
    monkeypatch.setattr(direct, "_LARGE", large)
    monkeypatch.setattr(direct, "_MANY", 10**9)
    return Circuit(chassis).operating.tried(_states(chassis))


@pytest.mark.parametrize(("seed", "parts"), [(29, 100), (7, 60), (31, 300)])
def test_both_ways_give_the_same_volts(
    seed: int, parts: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    chassis = read(a_set(seed, parts))
    wide = _solved(chassis, 0, monkeypatch)
    small = _solved(chassis, 10**9, monkeypatch)
    solved, apart = 0, set[str]()
    for one, other in zip(wide, small, strict=True):
        if isinstance(one, NotSolved) or isinstance(other, NotSolved):
            assert isinstance(one, NotSolved)
            assert isinstance(other, NotSolved)
            continue
        solved += 1
        for net in one.model.nets:
            volts, there = other.volts(net), one.volts(net)
            if volts is None or there is None:
                assert volts is there
            elif abs(there - volts) > 1e-6:
                # A net on an open winding hangs on 10 gigohms: 1e-14 A are 1e-4 V.
                apart.add(net)
                assert there == pytest.approx(volts, abs=1e-4)
    assert len(apart) <= 3
    assert solved > 0.7 * len(wide)
