"""Judges a table of touch current: which state counts, and what other rules tell already.

Belongs here: the harm of a table, told parts and what is to be fitted for them. Does not belong
here: the currents themselves (circuit/touch.py), limits (_touch_values.py), remedies
(_touch_remedy.py), words (touch_current.py, _touch_rows.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from netcheck.circuit.touch import Touch, TouchRow, TouchTable
from netcheck.circuit.touch_network import farads
from netcheck.circuit.touch_states import TouchState
from netcheck.findings import Harm, NotSolved
from netcheck.parts import Part
from netcheck.rules._barrier import (
    barriers,
    capacitance_f,
    class_fault,
    class_policy,
    largest_to_metal_f,
)
from netcheck.rules._base import Case
from netcheck.rules._line import DANGER_A
from netcheck.rules._touch_values import (
    SHARE_C,
    are_under,
    high_ratio,
    limit_a,
    scales_of,
    smaller_f,
    whole_states,
)

__all__ = [
    "Judged", "is_record", "judge", "normal_rows", "shorted_rows", "told_farad", "told_values",
]  # fmt: skip

_WARNING_A = 5e-3
"""From here on a warning, below a caution (from memory: limit of ES2, IEC 62368-1)."""

_RAISED = 1.05
"""A short that raises the current by no more than 5 % is on no way to this metal."""


@dataclass(frozen=True, slots=True)
class Judged:
    """What a table comes to: the harm, the state it rests on, amperes there at line high.

    `told` are parts of which another rule says what to fit; the amperes count them as that part.
    """

    harm: Harm
    state: TouchState
    ampere: float
    told: tuple[str, ...]


def told_values(case: Case, table: TouchTable) -> dict[str, float]:
    """The farads to fit for capacitors beside metal of which another rule asks for a class.

    The largest of E6 with which the whole is under the limit, or, where the rest alone is over it,
    with which they take their share of it by themselves. 0 where it belongs on another net.
    """
    told = _told(case, table)
    large = {ref for ref, filters in told.items() if filters}
    classed = {ref: _fitting(case, ref) for ref in told if ref not in large}
    if not classed:
        return dict.fromkeys(large, 0.0)
    base = dict.fromkeys(large, 0.0)
    rest = {ref: 0.0 for ref in table.beside if ref not in told}
    steps = sorted({*classed.values(), *smaller_f(max(classed.values()))}, reverse=True)
    choices = [{ref: min(own, most) for ref, own in classed.items()} for most in steps]
    scales = [{**base, **scales_of(case, values)} for values in choices]
    for others, share in (({}, 1.0), (rest, SHARE_C)):
        under = are_under(case, table, [{**others, **each} for each in scales], share)
        if any(under):
            return {**choices[under.index(True)], **base}
    return {**choices[-1], **base}


def _told(case: Case, table: TouchTable) -> dict[str, bool]:
    """Capacitors that feed metal and that other rules tell of; whether they are stray filters."""
    accepted = {
        target
        for each in case.chassis.acceptances
        if each.rule in ("line-capacitor-class", "antenna-isolation")
        for target in each.targets or ("",)
    }
    found: dict[str, bool] = {}
    for barrier in barriers(case):
        part = barrier.capacitors[0]
        if len(barrier.capacitors) > 1 or not _feeds(case, table, part.ref):
            continue
        if accepted.isdisjoint({"", part.ref}) and class_fault(case, part, barrier.duty):
            element = next(e for e in barrier.chain if e.ref == part.ref)
            found[part.ref] = case.circuit.wiring.supply.is_large(element)
    return found


def _feeds(case: Case, table: TouchTable, ref: str) -> bool:
    """Whether a part is beside the metal, or feeds it through other metal that it is beside.

    A jack whose tip hangs on the chassis by resistors passes what a line capacitor puts there.
    """
    if ref in table.beside:
        return True
    touch = case.circuit.touch
    if not any(ref in other.beside for other in touch.tables):
        return False
    amperes = touch.by_state(table.nets, whole_states(case), [{}, {ref: 0.0}]).max(axis=1)
    return float(amperes[0]) > _RAISED * float(amperes[1])


def _fitting(case: Case, ref: str) -> float:
    part = case.chassis.part(ref)
    return largest_to_metal_f(case, farads(part) if part is not None else None)


def told_farad(case: Case, part: Part) -> float | None:
    """The farads to fit in place of a capacitor without its class; its own where not computed."""
    own = capacitance_f(part)
    try:
        tables = case.circuit.touch.tables
    except NotSolved:
        return own
    values = (told_values(case, t).get(part.ref) for t in tables)
    return min((value for value in values if value), default=own)


def is_record(case: Case, table: TouchTable) -> bool:
    """Whether rows over the limit are to be put on record: their parts told or accepted elsewhere.

    What only the short of a told part does is told with it.
    """
    told = _told(case, table)
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
        if not ref or row.touch_a <= _RAISED * before[replace(row.state, failed="")]:
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
