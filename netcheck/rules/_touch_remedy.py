"""What would bring touch current under its limit, in values that can be bought.

Belongs here: one part of another value, else all of them. Does not belong here: the limit and the
sums behind it (_touch_values.py), what class a part needs (_barrier.py).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from netcheck.circuit.touch import TouchTable
from netcheck.parts import Part
from netcheck.rules._base import Case
from netcheck.rules._touch import Judged
from netcheck.rules._touch_fit import told_values
from netcheck.rules._touch_limit import limit_a
from netcheck.rules._touch_values import (
    SHARE_C,
    SHARE_R,
    are_under,
    candidates,
    high_ratio,
    part_value,
    scaled,
    scales_of,
    whole_states,
)

__all__ = ["Remedy", "remedies"]


@dataclass(frozen=True, slots=True)
class Remedy:
    """Parts that would bring the metal under the limit: by reference ohms or farads, as fitted."""

    values: Mapping[str, float]


def remedies(case: Case, table: TouchTable, judged: Judged) -> Iterator[Remedy]:
    """Each single part of another value that would do, largest first; else all together.

    Values are of E6 (capacitors, smaller) and E12 (resistors, larger), and proven by the sum.
    """
    touch = case.circuit.touch
    base = scales_of(case, told_values(case, table))
    parts = [p for ref in table.beside if (p := case.chassis.part(ref)) and part_value(p)]
    alone = touch.alone_a(table, judged.state)
    parts = sorted((p for p in parts if p.ref not in base), key=lambda p: -alone[p.ref])
    found = False
    for part in parts:
        value = _first_under(case, table, base, part)
        if value is not None:
            found = True
            yield Remedy({part.ref: value})
    if not found:
        together = _together(case, table, base, parts)
        if together:
            yield Remedy(together)


def _first_under(
    case: Case, table: TouchTable, base: Mapping[str, float], part: Part
) -> float | None:
    """The value nearest to that of a part with which all is under the limit."""
    values = candidates(part)
    if not values:
        return None
    under = are_under(
        case, table, [{**base, part.ref: scaled(case, part.ref, value)} for value in values]
    )
    return next((value for value, good in zip(values, under, strict=True) if good), None)


def _together(
    case: Case, table: TouchTable, base: Mapping[str, float], parts: Sequence[Part]
) -> dict[str, float]:
    """Values for all parts at once, each with its share of the limit; {} if that will not do."""
    touch = case.circuit.touch
    kinds = {part.kind == "capacitor" for part in parts}
    limit = limit_a(case)
    found: dict[str, float] = {}
    for part in parts:
        alike = [p for p in parts if (p.kind == "capacitor") == (part.kind == "capacitor")]
        share = 1.0 if len(kinds) == 1 else SHARE_C if part.kind == "capacitor" else SHARE_R
        others = {p.ref: 0.0 for p in parts if p is not part} | dict.fromkeys(base, 0.0)
        values = [part_value(part) or 0.0, *candidates(part)]
        scales = [{**others, part.ref: scaled(case, part.ref, value)} for value in values]
        amperes = touch.by_state(table.nets, whole_states(case), scales).max(axis=1) * high_ratio(
            case
        )
        allowed = limit * share / (len(alike) + len(base)) / high_ratio(case)
        fitting = [v for v, a in zip(values, amperes, strict=True) if a <= allowed]
        if not fitting:
            return {}
        if fitting[0] != values[0]:
            found[part.ref] = fitting[0]
    return found if all(are_under(case, table, [{**base, **scales_of(case, found)}])) else {}
