"""The capacitors to fit between line and metal, sized so that all that bridges keeps the limit.

Belongs here: which capacitors other rules ask to change, their values together, the sum that shows
it. Does not belong here: judging a table (_touch.py), what class a place takes (_barrier.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from netcheck.circuit.touch import TouchTable
from netcheck.circuit.touch_network import farads
from netcheck.findings import Calculation, NotSolved
from netcheck.parts import Part
from netcheck.rules._barrier import (
    ANY_LINE,
    Barrier,
    SafetyPart,
    barriers,
    capacitance_f,
    class_fault,
    largest_to_metal_f,
    part_to_fit,
)
from netcheck.rules._base import Case
from netcheck.rules._line import line_of, metal_with
from netcheck.rules._touch_limit import limit_a
from netcheck.rules._touch_values import (
    SHARE_C,
    SHARE_R,
    USUAL_OHM,
    are_under,
    high_ratio,
    larger_ohm,
    part_value,
    scales_of,
    smaller_f,
    whole_states,
)
from netcheck.rules._words import amount, listed

__all__ = [
    "RAISED",
    "bridge_to_fit",
    "fitted_sum",
    "fitting_part",
    "part_instead",
    "told_parts",
    "told_values",
]

RAISED = 1.05
"""What raises the current by no more than 5 % is on no way to this metal."""

_LEAST_LEFT = 0.1
"""Of the limit: where the rest leaves less, the rest has to change too, and each gets half."""


def told_values(case: Case, table: TouchTable, also: str = "") -> dict[str, float]:
    """The farads to fit for capacitors beside metal of which another rule asks for a class.

    The largest of E6 with which the whole is under the limit, or, where the rest alone is over it,
    with which all capacitors take their share of it, none larger than these. 0 where it belongs on
    another net. `also` is a capacitor to be fitted anew whatever its class.
    """
    told = told_parts(case, table)
    if also in table.beside:
        told.setdefault(also, False)
    large = {ref for ref, filters in told.items() if filters}
    classed = {ref: _fitting(case, ref) for ref in told if ref not in large}
    if not classed:
        return dict.fromkeys(large, 0.0)
    base = dict.fromkeys(large, 0.0)
    steps = sorted({*classed.values(), *smaller_f(max(classed.values()))}, reverse=True)
    choices = [{ref: min(own, most) for ref, own in classed.items()} for most in steps]
    scales = [{**base, **scales_of(case, values)} for values in choices]
    rest = _rest(case, table, told)
    alike = [ref for ref in rest if _is_capacitor(case, ref)]
    apart = {ref: 0.0 for ref in rest if ref not in alike}
    capped = [{**apart, **scales_of(case, dict.fromkeys(alike, most))} for most in steps]
    for others, share in (
        ([{}] * len(steps), 1.0),
        (capped, SHARE_C if apart else 1.0),
    ):
        tried = [{**other, **each} for other, each in zip(others, scales, strict=True)]
        under = are_under(case, table, tried, share)
        if any(under):
            return {**choices[under.index(True)], **base}
    return {**choices[-1], **base}


def _rest(case: Case, table: TouchTable, told: Mapping[str, bool]) -> list[str]:
    return [
        ref
        for ref in table.beside
        if ref not in told and (p := case.chassis.part(ref)) is not None and part_value(p)
    ]


def _is_capacitor(case: Case, ref: str) -> bool:
    part = case.chassis.part(ref)
    return part is not None and part.kind == "capacitor"


def told_parts(case: Case, table: TouchTable) -> dict[str, bool]:
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
    return float(amperes[0]) > RAISED * float(amperes[1])


def _fitting(case: Case, ref: str) -> float:
    part = case.chassis.part(ref)
    return largest_to_metal_f(case, farads(part) if part is not None else None)


# --- the part to fit


def fitting_part(case: Case, part: Part, duty: str, before_f: float | None = None) -> SafetyPart:
    """The part to fit in place of one on the line, so that all on its metal keeps the limit.

    `before_f` are its maker's farads where the text tells them. Where no sum can be made (no line
    voltage, no plug), each of those on one piece of metal gets an equal share of the limit.
    """
    own = before_f or capacitance_f(part)
    if duty == "across-line":
        return part_to_fit(case, own, duty)
    try:
        tables = case.circuit.touch.tables
    except NotSolved:
        return part_to_fit(case, own, duty, 1.0 / max(_sharing(case, part), 1))
    values = (told_values(case, t, part.ref).get(part.ref) for t in tables)
    least = min((value for value in values if value), default=None)
    return part_to_fit(case, own if least is None else least, duty)


def part_instead(case: Case, parts: Sequence[Part], duty: str) -> SafetyPart:
    """One capacitor in the place of several in series: what else bridges leaves it the rest.

    Currents are subtracted as if in phase, which asks for no less than the sum at right angles.
    """
    try:
        tables = case.circuit.touch.tables
    except NotSolved:
        return part_to_fit(case, None, duty)
    left = [1.0]
    for table in tables:
        away = {part.ref: 0.0 for part in parts if part.ref in table.beside}
        if away:
            rest = case.circuit.touch.by_state(table.nets, whole_states(case), [away]).max()
            left.append(1.0 - float(rest) * high_ratio(case) / limit_a(case))
    share = min(left)
    return part_to_fit(case, None, duty, share if share > _LEAST_LEFT else 0.5)


def bridge_to_fit(case: Case, duty: str) -> str:
    """A capacitor with a resistor beside it to tie metal to the line side, in words.

    Their currents stand at right angles, so that each takes its share of the limit at line high.
    """
    line = line_of(case)
    high_v = line.high_v if line is not None and line.high_v else ANY_LINE.high_v
    ohm = max(USUAL_OHM, high_v / (SHARE_R * limit_a(case)))
    fitted = next(v for v in larger_ohm(USUAL_OHM * 0.99) if v >= ohm * 0.9999)
    return f"{part_to_fit(case, None, duty, SHARE_C)} with {amount(fitted, 'ohm')} beside it"


def _sharing(case: Case, part: Part) -> int:
    """How many capacitors bridge to the metal that a part bridges to, itself included."""
    wiring = case.circuit.wiring
    found: list[Barrier] = list(barriers(case))
    own = next((b.metal for b in found if part in b.capacitors), None)
    if own is None:
        return 1
    metal = metal_with(wiring, own)
    return len({b.capacitors[0].ref for b in found if b.metal in metal})


def fitted_sum(case: Case, part: Part) -> tuple[Calculation, ...]:
    """What metal passes with the parts to be fitted, for each piece that a part shares."""
    try:
        tables = case.circuit.touch.tables
    except NotSolved:
        return ()
    return tuple(
        each
        for table in tables
        if (values := told_values(case, table)).get(part.ref) and len(table.beside) > 1
        for each in (_sum(case, table, values),)
    )


def _sum(case: Case, table: TouchTable, values: Mapping[str, float]) -> Calculation:
    scales = scales_of(case, values)
    amperes = case.circuit.touch.by_state(table.nets, whole_states(case), [scales])
    ampere = float(amperes.max()) * high_ratio(case)
    name = f"{table.names[0]} to earth with all that bridges to it, line high"
    said = _bridging(case, table, values)
    return Calculation(name, float(f"{ampere * 1e3:.3g}"), "mA", limit_a(case) * 1e3, said)


def _bridging(case: Case, table: TouchTable, values: Mapping[str, float]) -> str:
    """What is to be fitted and what stays, in words."""
    fitted = [f"{ref} as {amount(value, 'F')}" for ref, value in values.items() if value]
    stay: Sequence[str] = [ref for ref in table.beside if ref not in values]
    beside = f", beside {listed(stay)}" if stay else ""
    return f"{listed(fitted)}{beside}; plug and switches where they do most"
