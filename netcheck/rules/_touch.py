"""Judges a table of touch current: which state counts, and what other rules tell already.

Belongs here: the harm of a table. Does not belong here: the currents themselves
(circuit/touch.py), the limit (_touch_limit.py), told parts (_touch_fit.py), remedies
(_touch_remedy.py), words (touch_current.py, _touch_rows.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from netcheck.circuit.touch import Touch, TouchRow, TouchTable
from netcheck.circuit.touch_states import TouchState
from netcheck.findings import Harm
from netcheck.rules._barrier import barriers, class_policy
from netcheck.rules._base import Case
from netcheck.rules._line import DANGER_A
from netcheck.rules._touch_fit import RAISED, told_parts, told_values
from netcheck.rules._touch_limit import limit_a
from netcheck.rules._touch_values import high_ratio, scales_of

__all__ = [
    "Judged", "is_record", "judge", "normal_rows", "shorted_rows",
]  # fmt: skip

_WARNING_A = 5e-3
"""From here on a warning, below a caution (from memory: limit of ES2, IEC 62368-1)."""


@dataclass(frozen=True, slots=True)
class Judged:
    """What a table comes to: the harm, the state it rests on, amperes there at line high.

    `told` are parts of which another rule says what to fit; the amperes count them as that part.
    """

    harm: Harm
    state: TouchState
    ampere: float
    told: tuple[str, ...]


def is_record(case: Case, table: TouchTable) -> bool:
    """Whether rows over the limit are to be put on record: their parts told or accepted elsewhere.

    What only the short of a told part does is told with it.
    """
    told = told_parts(case, table)
    return any(
        row.touch_a > limit_a(case) and row.state.failed not in told
        for row in (*normal_rows(table), *shorted_rows(table))
    )


def normal_rows(table: TouchTable) -> list[TouchRow]:
    """The rows in which no part has failed."""
    return [row for row in table.rows if not row.state.failed]


def shorted_rows(table: TouchTable) -> list[TouchRow]:
    """For each part whose short raises the current: the row in which that is most."""
    before = {replace(row.state, failed=""): row.touch_a for row in normal_rows(table)}
    found: dict[str, TouchRow] = {}
    for row in table.rows:
        ref = row.state.failed
        if not ref or row.touch_a <= RAISED * before[replace(row.state, failed="")]:
            continue
        if ref not in found or row.touch_a > found[ref].touch_a:
            found[ref] = row
    return list(found.values())


def judge(case: Case, table: TouchTable) -> Judged | None:
    """The worst that a table comes to, None if nothing is over the limit that is not told."""
    touch = case.circuit.touch
    told = told_values(case, table)
    failing = _counted(case, touch, told)
    looked = [s for s in touch.states if not s.failed or s.failed in failing]
    scales = scales_of(case, told)
    amperes = touch.by_state(table.nets, looked, [scales])[0] * high_ratio(case)
    found: Judged | None = None
    for state, ampere in zip(looked, map(float, amperes), strict=True):
        harm = _harm(state, ampere, limit_a(case))
        worse = found is None or (harm.rank, -ampere) < (found.harm.rank, -found.ampere)
        if harm is not Harm.RECORD and worse:
            found = Judged(harm, state, ampere, tuple(told))
    return found


def _counted(case: Case, touch: Touch, told: Mapping[str, float]) -> frozenset[str]:
    """The parts whose short counts here: of others another rule tells, or practice accepts them.

    Policy practice takes one part of class Y2, or one resistor, for a barrier; strict does not.
    """
    judged = {p.ref for barrier in barriers(case) for p in barrier.capacitors} | set(told)
    strict = class_policy(case) == "strict"
    found = set()
    for ref in touch.insulating:
        part = case.chassis.part(ref)
        is_resistor = part is not None and part.kind != "capacitor"
        if ref not in judged and (strict or not is_resistor):
            found.add(ref)
    return frozenset(found)


def _harm(state: TouchState, ampere: float, limit: float) -> Harm:
    """The harm table: over 10 mA danger, over 5 mA a warning, else a caution; record if under.

    What takes a failure first is a warning at most.
    """
    if ampere <= limit:
        return Harm.RECORD
    if ampere > DANGER_A and not state.is_fault:
        return Harm.SHOCK_NOW
    return Harm.SHOCK if ampere > _WARNING_A else Harm.BURST
