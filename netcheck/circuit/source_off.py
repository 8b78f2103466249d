"""Tells a rectifier that is off from one of which nothing is known: a set runs on its batteries.

Belongs here: whether only the stated switch positions keep the line from a rectifier. Does not
belong here: what drives it when it is on (source_drive).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.paths import OHMIC, walk
from netcheck.circuit.source_network import Branch, seen_from
from netcheck.circuit.source_side import battery_reaches, driven_volts, is_closed, line_branches
from netcheck.circuit.wiring import Wiring

__all__ = ["ANY_LINE_V", "LEAST_V", "is_cut_off", "is_primary_cut_off", "is_reached"]

LEAST_V = 1e-6
ANY_LINE_V = 1.0
"""Whether a net is driven at all does not hang on how many volts the line has."""


def is_cut_off(
    wiring: Wiring, branches: Sequence[Branch], plates: Sequence[str], common: str
) -> bool:
    """Whether other switch positions drive rectifier plates that nothing drives in these.

    False too when a battery or another supply reaches a plate as the switches are: then current
    may flow through the rectifier all the same.
    """
    closed = line_branches(wiring, ANY_LINE_V, every_contact=True)
    if isinstance(closed, str):
        return False
    by_line = any(b.ref == "line" for b in branches)
    further = [b for b in closed if by_line or b.ref != "line"]
    seen = seen_from([*branches, *further], plates, common)
    drives = seen is not None and bool((abs(seen.volts) > LEAST_V).any())
    return drives and not is_reached(wiring, plates)


def is_primary_cut_off(wiring: Wiring, ref: str) -> bool:
    """Whether only open contacts keep line or battery from a transformer's primary."""
    driven = [w.nets for w in wiring.supply.windings if w.ref == ref and w.driven]
    ends = [net for nets in driven for net in nets]
    if set(ends) & wiring.supply.power.vibrator_contacts:
        off = not battery_reaches(wiring, ends)
        return off and battery_reaches(wiring, ends, every_contact=True)
    now = line_branches(wiring, ANY_LINE_V)
    closed = line_branches(wiring, ANY_LINE_V, every_contact=True)
    if isinstance(now, str) or isinstance(closed, str):
        return False
    on = any(driven_volts(now, nets) is not None for nets in driven)
    return not on and any(driven_volts(closed, nets) is not None for nets in driven)


def is_reached(wiring: Wiring, plates: Iterable[str]) -> bool:
    """Whether a direct current can come to a plate from a battery or from B+."""
    sources = wiring.b_plus | {
        net for e in wiring.elements if e.kind is Kind.BATTERY for net in e.nets
    }

    def ohm_of(e: Element) -> float | None:
        if e.kind is Kind.CONTACT and is_closed(wiring.chassis, e) is False:
            return None
        return 0.0 if e.kind in OHMIC and e.kind is not Kind.BATTERY else None

    stop = wiring.returns
    reached = walk(wiring.adjacency, sorted(plates), ohm_of, stop=stop)
    return bool(set(reached) & sources - stop)
