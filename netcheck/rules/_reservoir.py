"""Reservoirs against the largest first capacitor their rectifier tube is published for.

Belongs here: the sum of the capacitors at one place and the tube before them. Does not belong
here: peak currents (they need the supply solved), or what a replacement may be (its rule).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from netcheck.circuit.wiring import Kind, Role
from netcheck.parts import Condition, Part
from netcheck.rules._base import Case

__all__ = ["Excess", "Limit", "reservoir_limit", "reservoirs_over_maximum"]

# An electrolytic is sold -20 % +20 %, and 47 is the standard value nearest above 40 (the trade
# substitution): up to here the published figure counts as kept (common practice, no source).
_MARGIN = 1.2


@dataclass(frozen=True, slots=True)
class Limit:
    """The largest first capacitor that a rectifier tube is published for, and by whom."""

    farad: float
    tube: Part
    source: str


@dataclass(frozen=True, slots=True)
class Excess:
    """New reservoir parts that together, `farad`, exceed the limit."""

    parts: tuple[Part, ...]
    farad: float
    limit: Limit


def reservoirs_over_maximum(case: Case) -> Iterator[Excess]:
    """Yield each place where new parts make the reservoir larger than published and than before.

    A reservoir that is as its maker built it is the maker's choice (he knew the source
    resistance), so one that is no larger than what it replaces is not reported.
    """
    wiring = case.circuit.wiring
    places: dict[frozenset[str], list[Part]] = {}
    for part in case.chassis.of_kind("capacitor"):
        if wiring.role_of(part.ref) is Role.RESERVOIR:
            places.setdefault(frozenset(wiring.of(part.ref)[0].nets), []).append(part)
    for nets, parts in places.items():
        new = [p for p in parts if p.condition in (Condition.NEW, Condition.RESTUFFED)]
        sizes = [part.value("capacitance") for part in new]
        limit = reservoir_limit(case, nets)
        # An old part left beside the new one is `parallel-original`'s cause, told there.
        if limit is None or None in sizes:
            continue
        total = sum(size for size in sizes if size is not None)
        if total > max(limit.farad * _MARGIN, _before(parts)):
            yield Excess(tuple(new), total, limit)


def reservoir_limit(case: Case, nets: frozenset[str]) -> Limit | None:
    """Return the published largest reservoir between two nets, None where none is known."""
    tube = _rectifier(case, nets)
    if tube is None or tube.tube is None:
        return None
    farad = tube.tube.limits.get("reservoir-f")
    if farad is None:
        return None
    return Limit(farad, tube, tube.tube.source_of("reservoir-f"))


def _before(parts: list[Part]) -> float:
    """Farads that were there before: of the replaced parts as far as they are stated."""
    was = 0.0
    for part in parts:
        if part.replaces is not None:
            was += part.replaces.number("capacitance") or 0.0
        elif part.condition is Condition.ORIGINAL:
            was += part.value("capacitance") or 0.0
    return was * 1.001


def _rectifier(case: Case, nets: frozenset[str]) -> Part | None:
    """The rectifier tube that feeds one of the nets; the only one if none is there directly."""
    streams = [r for r in case.circuit.wiring.rectifiers if r.kind is Kind.STREAM]
    near = [r for r in streams if r.b in nets] or streams
    refs = {r.ref for r in near}
    return case.chassis.part(refs.pop()) if len(refs) == 1 else None
