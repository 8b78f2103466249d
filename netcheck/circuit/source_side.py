"""The AC side of a set as branches: what lies between the line and the rectifiers' plates.

Belongs here: which elements carry the line's current, which switch contacts are closed, the volts
a primary gets. Does not belong here: solving (source_network), windings (source_windings).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

from netcheck.chassis import Chassis
from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.heater_law import heater_string_a, law_of
from netcheck.circuit.paths import OHMIC, walk
from netcheck.circuit.source_network import Branch, Seen, seen_from
from netcheck.circuit.wiring import Wiring
from netcheck.parts import Part

__all__ = ["battery_reaches", "driven_volts", "is_closed", "line_branches", "passes_dc"]

_OHMIC = frozenset(
    {Kind.RESISTOR, Kind.HEATER, Kind.LAMP, Kind.FUSE, Kind.CONTACT, Kind.STRAP, Kind.METER}
)
_PLAIN = frozenset({Kind.FUSE, Kind.STRAP, Kind.METER})


def is_closed(chassis: Chassis, e: Element) -> bool | None:
    """Whether a contact is closed as the set is set; None when its position is not stated.

    Sections of one body move together. A switch of one position (`ON`), or of `ON` and `OFF`, is
    on when nothing is said.
    """
    part = chassis.part(e.ref)
    if part is None or part.kind == "vibrator":
        return False
    said = {s.switch: s.position for s in chassis.settings}
    positions = dict.fromkeys(
        p for other in chassis.parts if other.body_ref == part.body_ref for p in other.positions
    )
    for ref in (part.ref, part.body_ref):
        if ref in said:
            return e.position.upper() == said[ref].upper()
    live = [p for p in positions if p.upper() != "OFF"]
    return True if len(live) <= 1 else None


def passes_dc(chassis: Chassis, e: Element) -> bool:
    """Whether an element joins its nets without loss as the set is set."""
    return e.kind in _PLAIN or (e.kind is Kind.CONTACT and is_closed(chassis, e) is not False)


def line_branches(
    wiring: Wiring, line_v: float, *, every_contact: bool = False
) -> list[Branch] | str:
    """The line and everything ohmic it can drive (no transformer), or why there is none.

    The rectified side is left out: it carries the rectifier's current, not the line's.
    `every_contact`: all switch contacts closed, whatever their positions.
    """
    poles = sorted(wiring.line_poles)
    if len(poles) != 2:
        return "The set has no line plug with two pins."
    branches = [Branch(poles[0], poles[1], 0.0, line_v, "line")]
    branches += _ohmic(wiring, every_contact)
    return branches


@lru_cache(maxsize=16)
def _ohmic(wiring: Wiring, every_contact: bool) -> tuple[Branch, ...]:
    """All but the line: the same at any volts."""
    return tuple(_ohmic_branches(wiring, every_contact))


def _ohmic_branches(wiring: Wiring, every_contact: bool) -> Iterator[Branch]:
    chassis = wiring.chassis
    loads = wiring.b_plus
    strung_a = heater_string_a(wiring)
    for e in wiring.elements:
        if e.a == e.b or e.a in loads or e.b in loads:
            continue
        part = chassis.part(e.ref)
        is_coil = e.kind is Kind.WINDING and part is not None and part.kind == "coil"
        if e.kind is Kind.CONTACT:
            closed = every_contact or is_closed(chassis, e)
            if closed is not False:
                yield Branch(e.a, e.b, 0.0 if closed else None, ref=e.ref)
        elif e.kind in _OHMIC or is_coil:
            yield Branch(e.a, e.b, _running_ohm(part, e, strung_a), ref=e.ref)


def _running_ohm(part: Part | None, e: Element, strung_a: float | None) -> float | None:
    """Ohms with the set running, each heater and lamp at its rated volts.

    A lamp at the two thirds of its current that a tapped rectifier heater gives it has a quarter
    less by the tungsten law: `line_side` takes that into account.
    """
    law = None if part is None else law_of(part, e, strung_a)
    return e.ohm if law is None else law.ohm


def driven_volts(branches: Sequence[Branch], nets: Sequence[str]) -> tuple[int, int, Seen] | None:
    """The two nets along a primary that the line is across, and what they show; None for none."""
    best: tuple[int, int, Seen] | None = None
    for i in range(len(nets)):
        for j in range(i + 1, len(nets)):
            seen = seen_from(branches, [nets[i]], nets[j]) if nets[i] != nets[j] else None
            if seen is None or abs(seen.volts[0]) < 1e-6:
                continue
            if best is None or abs(seen.volts[0]) > 1.001 * abs(best[2].volts[0]):
                best = (i, j, seen)
    return best


def battery_reaches(wiring: Wiring, nets: Sequence[str], *, every_contact: bool = False) -> bool:
    """Whether direct current from a battery comes to one of these nets as the switches are.

    `every_contact`: all switch contacts closed (but a vibrator's own), whatever their positions.
    """
    poles = {
        net for e in wiring.elements if e.kind is Kind.BATTERY for net in e.nets
    } - wiring.returns

    def ohm_of(e: Element) -> float | None:
        if e.kind is Kind.CONTACT:
            part = wiring.chassis.part(e.ref)
            may = every_contact and part is not None and part.kind != "vibrator"
            return 0.0 if may or is_closed(wiring.chassis, e) is not False else None
        return 0.0 if e.kind in OHMIC and e.kind is not Kind.BATTERY else None

    reached = walk(wiring.adjacency, sorted(poles), ohm_of, stop=wiring.returns)
    return bool(set(reached) & set(nets) - wiring.returns)
