"""Rectifiers that short what drives them in one half wave, because no charging cycle is one then.

Belongs here: loops of a winding or the line that only rectifiers close. Does not belong here: what
a sound supply does (source), shorts that need no rectifier.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.source_side import is_closed
from netcheck.circuit.wiring import Wiring

__all__ = ["RectifierLoop", "rectifier_loops"]

_MOST_OHM, _MOST_HEATER_OHM = 100.0, 1.0
"""Less in the whole loop is a short: surge resistors are 15 to 47 ohm, and 100 ohm would take an
ampere of a line or a high winding (common practice, no source); heater windings have few volts."""

_LOW_WINDINGS = ("heater", "filament", "rectifier")


@dataclass(frozen=True, slots=True)
class RectifierLoop:
    """A way from net `a` to net `b` of one source over `way`, open to current in that direction.

    `ref` is the transformer ("" for the line), `path` its winding, `ohm` what is in the way besides
    the rectifiers and the source itself.
    """

    ref: str
    path: str
    a: str
    b: str
    way: tuple[Element, ...]
    ohm: float

    @property
    def rectifiers(self) -> tuple[Element, ...]:
        """The rectifiers that close it."""
        return tuple(e for e in self.way if e.kind in (Kind.DIODE, Kind.STREAM))


@lru_cache(maxsize=16)
def rectifier_loops(wiring: Wiring) -> tuple[RectifierLoop, ...]:
    """The loops of a set that its rectifiers close, the shortest of each source.

    Two taps of a winding and the two line pins drive current through rectifiers in series that all
    point one way, with no load and no capacitor between: a half wave of short circuit.
    """
    found = []
    for ref, path, nets, most in _sources(wiring):
        loops = [loop for net in nets for loop in _loops(wiring, ref, path, net, nets, most)]
        if loops:
            found.append(min(loops, key=lambda loop: len(loop.way)))
    return tuple(found)


def _sources(wiring: Wiring) -> Iterator[tuple[str, str, list[str], float]]:
    """Each source, the nets between which it has volts, and the ohms of a short."""
    poles = sorted(wiring.line_poles)
    if len(poles) == 2:
        yield "", "", poles, _MOST_OHM
    for winding in wiring.supply.windings:
        low = winding.path.startswith(_LOW_WINDINGS)
        if not winding.driven and len(set(winding.nets)) == len(winding.nets):
            most = _MOST_HEATER_OHM if low else _MOST_OHM
            yield winding.ref, winding.path, list(winding.nets), most


def _loops(
    wiring: Wiring, ref: str, path: str, start: str, nets: list[str], most: float
) -> Iterator[RectifierLoop]:
    """Breadth first from one net of a source, over what carries current away from it.

    What a rectified net is joined to by parts that carry current both ways is the supply's load:
    too few ohms there are another fault.
    """
    came: dict[str, tuple[float, tuple[Element, ...]]] = {start: (0.0, ())}
    queue = [start]
    for here in queue:  # grows while it is walked
        ohms, way = came[here]
        for e in wiring.at(here):
            step, there = _ohm(wiring, e, here), e.other(here)
            if step is None or there in came or ohms + step >= most:
                continue
            if here in wiring.supply.rectified and e.kind not in (Kind.DIODE, Kind.STREAM):
                continue
            loop = RectifierLoop(ref, path, start, there, (*way, e), ohms + step)
            if there not in nets:
                came[there] = (loop.ohm, loop.way)
                queue.append(there)
            elif loop.rectifiers and not _is_output(wiring, loop):
                yield loop


def _is_output(wiring: Wiring, loop: RectifierLoop) -> bool:
    """Whether one rectifier of B+ is in it: its output lies on its own return, another fault."""
    return len(loop.rectifiers) == 1 and loop.rectifiers[0] in wiring.rectifiers


def _ohm(wiring: Wiring, e: Element, here: str) -> float | None:
    """The ohms that an element puts in the way of current that leaves a net; None: none flows."""
    if e.kind in (Kind.FUSE, Kind.STRAP):
        return e.ohm or 0.0
    if e.kind is Kind.CONTACT:
        return 0.0 if is_closed(wiring.chassis, e) else None
    if e.kind is Kind.RESISTOR:
        return e.ohm
    if e.kind is Kind.DIODE or (e.kind is Kind.STREAM and _rectifies(wiring, e)):
        return 0.0 if here == e.a and e.a != e.b else None
    return None


def _rectifies(wiring: Wiring, e: Element) -> bool:
    part = wiring.chassis.part(e.ref)
    return part is not None and part.tube is not None and part.tube.is_rectifier
