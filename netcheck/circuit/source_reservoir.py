"""The first capacitor behind a rectifier and what stands before it, because that decides the volts.

Belongs here: reservoir, input choke, surge resistor between two nets. Does not belong here: the
rectifier and its source (source), the rest of the filter (ripple).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import chain

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.paths import Walk, walk
from netcheck.circuit.power import is_hash_choke
from netcheck.circuit.source_side import is_closed, passes_dc
from netcheck.circuit.wiring import Wiring
from netcheck.findings import Assumed

__all__ = ["HOT_FIELD", "Reservoir", "find_reservoir", "joined_nets", "large_between", "series_of"]

HOT_FIELD = 1.20
"""Printed ohms are cold (20 C); a field works some 50 degrees warmer (common practice, no
source). Filter chokes carry the same current in less copper and are treated alike."""

_TYPICAL_CHOKE_H, _TYPICAL_CHOKE_OHM = 10.0, 400.0
_TYPICAL_BASIS = "from memory: typical of filter chokes and fields of receivers"
_SERIES = frozenset({Kind.RESISTOR, Kind.WINDING})


@dataclass(frozen=True, slots=True)
class Reservoir:
    """The capacitors (refs) that meet the rectifier first: farads, and what lies in between.

    `choke_h` and `ohm` stand between the rectifier's output and the capacitor, in either lead
    (`series`: those elements); they stay part of the set's own network. No capacitor: `refs` is
    empty and `farad` 0.
    """

    refs: tuple[str, ...]
    farad: float
    choke_h: float = 0.0
    ohm: float = 0.0
    series: tuple[Element, ...] = ()
    assumed: tuple[Assumed, ...] = ()


def joined_nets(wiring: Wiring, net: str) -> frozenset[str]:
    """The nets one with `net`: through contacts, fuses, straps, and a rectifier's own filament."""
    own = {e.ref for e in wiring.rectifiers}

    def ohm_of(e: Element) -> float | None:
        filament = e.kind is Kind.HEATER and e.ref in own and {e.a, e.b} <= wiring.supplies
        return 0.0 if filament or passes_dc(wiring.chassis, e) else None

    return frozenset(walk(wiring.adjacency, [net], ohm_of))


def large_between(
    wiring: Wiring, plus: frozenset[str], minus: frozenset[str]
) -> tuple[Element, ...]:
    """The filter capacitors with their plus on one of `plus` and their minus on one of `minus`."""
    return tuple(
        e
        for e in wiring.elements
        if e.kind is Kind.CAPACITOR
        and wiring.supply.is_large(e)
        and (
            (e.a in plus and e.b in minus)
            or (e.terminals[0] != "+" and e.b in plus and e.a in minus)
        )
    )


def find_reservoir(wiring: Wiring, plus: str, minus: str) -> Reservoir | str:
    """The reservoir between two nets, or why it is not known."""
    direct = large_between(wiring, joined_nets(wiring, plus), joined_nets(wiring, minus))
    series: tuple[Element, ...] = ()
    if not direct:
        direct, series = _behind(wiring, plus, minus)
    farad = 0.0
    for e in direct:
        part = wiring.chassis.part(e.ref)
        own = part.value("capacitance") if part else None
        if own is None:
            return f"The capacitance of the reservoir {e.ref} is not given; write its mfd."
        farad += own
    found = series_of(wiring, series)
    refs = tuple(e.ref for e in direct)
    return found if isinstance(found, str) else replace(found, refs=refs, farad=farad)


def series_of(wiring: Wiring, series: tuple[Element, ...]) -> Reservoir | str:
    """What resistors and chokes ahead of a reservoir add up to, itself left out; or why not."""
    taken: list[Assumed] = []
    choke_h, ohm = 0.0, 0.0
    for e in series:
        if e.kind is Kind.RESISTOR and e.ohm is None:
            return f"The ohms of {e.ref} before the first filter capacitor are not known."
        if e.kind is Kind.WINDING and not is_hash_choke(wiring.chassis, e):
            henry, own_ohm = _choke(wiring, e, taken)
            choke_h, ohm = choke_h + henry, ohm + own_ohm
        else:
            ohm += e.ohm or 0.0
    return Reservoir((), 0.0, choke_h, ohm, series, tuple(taken))


def _behind(
    wiring: Wiring, plus: str, minus: str
) -> tuple[tuple[Element, ...], tuple[Element, ...]]:
    """The nearest capacitor through resistors and chokes in the leads, and those."""
    from_plus = _spread(wiring, plus, wiring.b_plus | {plus})
    leads = frozenset(net for e in wiring.supply.back_bias for net in e.nets)
    from_minus = _spread(wiring, minus, wiring.returns | leads | joined_nets(wiring, minus))
    best: tuple[float, Element] | None = None
    for e in large_between(wiring, frozenset(from_plus), frozenset(from_minus)):
        a, b = (e.a, e.b) if e.a in from_plus and e.b in from_minus else (e.b, e.a)
        ohm = from_plus[a].ohm + from_minus[b].ohm
        if best is None or ohm < best[0]:
            best = (ohm, e)
    if best is None:
        return (), ()
    e = best[1]
    a, b = (e.a, e.b) if e.a in from_plus and e.b in from_minus else (e.b, e.a)
    way = chain(from_plus.chain(a), from_minus.chain(b))
    series = tuple(step for step in way if step.kind in _SERIES)
    alike = large_between(wiring, joined_nets(wiring, a), joined_nets(wiring, b))
    return alike, series


def _spread(wiring: Wiring, start: str, within: frozenset[str]) -> Walk:
    own = {e.ref for e in wiring.rectifiers}

    def ohm_of(e: Element) -> float | None:
        if e.kind in _SERIES:
            return _TYPICAL_CHOKE_OHM if e.ohm is None else max(e.ohm, 0.0)
        filament = e.kind is Kind.HEATER and e.ref in own
        closed = e.kind is Kind.CONTACT and is_closed(wiring.chassis, e) is not False
        return 0.0 if closed or filament or passes_dc(wiring.chassis, e) else None

    return walk(
        wiring.adjacency, [start], ohm_of, admit=lambda net, _: net in within
    )  # fmt: skip


def _choke(wiring: Wiring, e: Element, taken: list[Assumed]) -> tuple[float, float]:
    """Henries and hot ohms of an input choke or field."""
    part = wiring.chassis.part(e.ref)
    described = part.description.windings.get(e.path) if part else None
    henry = part.value("inductance") if part else None
    hot = part.description.number("hot") if part else None
    if described is not None:
        henry = described.number("inductance") or henry
        hot = described.number("hot") or hot
    if henry is None:
        henry = _TYPICAL_CHOKE_H
        taken.append(Assumed(e.ref, "inductance", henry, "H", _TYPICAL_BASIS))
    if hot is not None:
        return henry, hot
    ohm = e.ohm
    if ohm is None:
        ohm = _TYPICAL_CHOKE_OHM
        taken.append(Assumed(e.ref, "resistance", ohm, "ohm", _TYPICAL_BASIS))
    return henry, ohm * HOT_FIELD
