"""Diodes whose anode is on what wants a positive supply, with their cathode on what drives them.

Belongs here: finding them by the wiring alone, since such a set has no supply to solve. Does not
belong here: how it is told (rectifier_reversed.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from netcheck.circuit.paths import walk
from netcheck.circuit.wiring import Element, Kind
from netcheck.rules._base import Case

__all__ = ["Reversed", "reversed_rectifiers"]

_SERIES_OHM = 1e3  # a surge or cord resistor is less (as in circuit/power.py)
_PLAIN = (Kind.FUSE, Kind.STRAP, Kind.CONTACT, Kind.METER)


@dataclass(frozen=True, slots=True)
class Reversed:
    """Diodes that draw net `rail` below its return, and `what` there wants plus."""

    rail: str
    elements: tuple[Element, ...]
    what: str


def reversed_rectifiers(case: Case) -> Iterator[Reversed]:
    """Such diodes rail by rail, in the order of the text."""
    wiring = case.circuit.wiring
    windings = {net for w in wiring.supply.windings if not w.driven for net in w.nets}
    driving = windings.union(*wiring.supply.feeds.values()) - wiring.returns
    rails: dict[str, list[Element]] = {}
    for e in wiring.elements:
        if e.kind is Kind.DIODE and e.a != e.b and e.a not in driving | wiring.returns:
            rails.setdefault(e.a, []).append(e)
    for rail, diodes in rails.items():
        driven = tuple(e for e in diodes if _is_driven(case, e.b, driving))
        what = _wants_plus(case, rail) if driven else ""
        if what:
            yield Reversed(rail, driven, what)


def _is_driven(case: Case, net: str, driving: frozenset[str] | set[str]) -> bool:
    wiring = case.circuit.wiring

    def ohm_of(e: Element) -> float | None:
        small = e.kind is Kind.RESISTOR and (e.ohm is None or e.ohm < _SERIES_OHM)
        return (e.ohm or 0.0) if small or e.kind in _PLAIN else None

    near = walk(
        wiring.adjacency, [net], ohm_of,
        admit=lambda n, _: n not in wiring.returns, until=driving,
    )  # fmt: skip
    return any(n in driving for n in near)


def _wants_plus(case: Case, rail: str) -> str:
    """What is fed from a rail and wants plus; "" for nothing, or if another supply feeds it."""
    wiring = case.circuit.wiring

    def ohm_of(e: Element) -> float | None:
        choke = e.kind is Kind.WINDING and e.ref not in wiring.supply.power_refs
        return (e.ohm or 0.0) if choke or e.kind in (*_PLAIN, Kind.RESISTOR) else None

    near = walk(
        wiring.adjacency, [rail], ohm_of, admit=lambda n, _: n not in wiring.returns
    )  # fmt: skip
    if any(net in wiring.supply.rectified for net in near):
        return ""
    for net in near:
        for each in wiring.electrodes_on(net):
            if each.duty in ("plate", "screen"):
                return f"the {each.duty} of {each.ref}"
        for e in wiring.at(net):
            if e.kind is Kind.LOAD and e.other(net) in wiring.returns:
                return e.ref
    return ""
