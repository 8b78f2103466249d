"""Tells why a supposed set is dead: what was taken out keeps line or battery from a rectifier.

Belongs here: whether nothing drives a rectifier any more, and which part that hangs on. Does not
belong here: open switches (source_off), sets whose own text lacks a part: of them nothing is told,
because a fuse that was not described is no reason for an all-clear.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from netcheck.chassis import Chassis
from netcheck.circuit.edits import intact
from netcheck.circuit.elements import Kind
from netcheck.circuit.source_network import Branch, seen_from
from netcheck.circuit.source_off import ANY_LINE_V, LEAST_V, is_reached
from netcheck.circuit.source_side import battery_reaches, driven_volts, line_branches
from netcheck.circuit.wiring import Wiring

__all__ = ["interrupting"]


def interrupting(wiring: Wiring, plates: Sequence[str], nets: Sequence[str]) -> tuple[str, ...]:
    """The parts whose absence leaves a rectifier undriven; () where something may still drive it.

    Args:
        wiring: the set as supposed.
        plates: the rectifier's plates.
        nets: all nets between which the whole set drives it: its plates, its return.
    """
    if not _is_undriven(wiring, plates, nets):
        return ()
    chassis = wiring.chassis
    refs = tuple(dict.fromkeys(part.ref for part in chassis.interrupted))
    alone = [
        ref
        for ref in refs
        if len(refs) == 1 or _is_undriven(Wiring(_only(chassis, ref)), plates, nets)
    ]
    return tuple(alone) or refs


def _only(chassis: Chassis, ref: str) -> Chassis:
    """The set with every part but one as its text has it."""
    return intact(chassis, {part.ref for part in chassis.interrupted} - {ref})


def _is_undriven(wiring: Wiring, plates: Sequence[str], nets: Sequence[str]) -> bool:
    branches = list(_branches(wiring))
    for one, other in combinations(dict.fromkeys(nets), 2):
        seen = seen_from(branches, [one], other)
        if seen is not None and (seen.doubtful or bool((abs(seen.volts) > LEAST_V).any())):
            return False
    return not is_reached(wiring, plates)


def _branches(wiring: Wiring) -> Iterator[Branch]:
    """All that can carry alternating current; how many volts a winding gives matters not."""
    side = line_branches(wiring, ANY_LINE_V)
    line = [] if isinstance(side, str) else side
    yield from line
    for e in wiring.elements:
        if e.kind is Kind.CAPACITOR and wiring.supply.is_large(e):
            yield Branch(e.a, e.b, 1.0, ref=e.ref)
    supply = wiring.supply
    primaries = [w for w in supply.windings if w.driven]
    fed = {
        w.ref
        for w in primaries
        if driven_volts(line, w.nets) is not None
        or (
            any(net in supply.power.vibrator_contacts for net in w.nets)
            and battery_reaches(wiring, [net for p in primaries for net in p.nets])
        )
    }
    for w in supply.windings:
        if not w.driven and w.ref in fed:
            for e in wiring.of(w.ref):
                if e.kind is Kind.WINDING and e.path == w.path:
                    yield Branch(e.a, e.b, 1.0, ANY_LINE_V, e.ref)
