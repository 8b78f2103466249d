"""Least-resistance walks over the elements, because rules ask how one net is fed from another.

Belongs here: adjacency, the spreading walk (Dijkstra) and what may carry direct current. Does not
belong here: what any path means for the set.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Container, Iterable, Mapping
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import count
from typing import TypeVar

from netcheck.chassis import Chassis
from netcheck.circuit.elements import Electrode, Element, Kind, electrodes, elements_of

__all__ = [
    "GALVANIC",
    "METAL",
    "OHMIC",
    "Adjacency",
    "Network",
    "Step",
    "Walk",
    "adjacency",
    "ohmic_ohm",
    "walk",
]

_T = TypeVar("_T")
Adjacency = Mapping[str, tuple[Element, ...]]

METAL = frozenset({Kind.WINDING, Kind.CONTACT, Kind.FUSE, Kind.STRAP, Kind.SPEAKER, Kind.METER})
"""Plain conductors: what they join is one piece of metal to a hand or a meter."""

OHMIC = METAL | {Kind.RESISTOR, Kind.HEATER, Kind.LAMP, Kind.BATTERY}
"""What carries direct current both ways, cold tubes or not."""

GALVANIC = frozenset(Kind) - {Kind.CAPACITOR, Kind.VARISTOR}
"""Everything that is no insulator: tubes and diodes too (they conduct in a running set)."""

# An ohm value that the text does not give still needs a weight to compare paths by. A resistor
# is most often tens of kilohms (common practice, no source); anything else is a conductor.
_UNKNOWN_RESISTOR_OHM = 47e3


def ohmic_ohm(element: Element) -> float | None:
    """The weight of an element on a DC path: its ohms, a guess if unknown; None for no path."""
    if element.kind not in OHMIC:
        return None
    if element.ohm is not None:
        return max(element.ohm, 0.0)
    return _UNKNOWN_RESISTOR_OHM if element.kind is Kind.RESISTOR else 0.0


@dataclass(frozen=True, slots=True)
class Step:
    """How a walk came to a net: ohms from the start, the element, the net and step before it."""

    ohm: float
    by: Element | None
    came_from: str
    before: Step | None = None


class Walk(dict[str, Step]):
    """The nets a walk reached, each with its `Step`."""

    def chain(self, net: str) -> tuple[Element, ...]:
        """The elements from `net` back to where the walk started; () if it was not reached."""
        found: list[Element] = []
        step = self.get(net)
        while step is not None and step.by is not None:
            found.append(step.by)
            step = step.before
        return tuple(found)

    def origin(self, net: str) -> str | None:
        """The start net from which `net` was reached, or None."""
        step = self.get(net)
        while step is not None and step.by is not None:
            net = step.came_from
            step = step.before
        return net if step is not None else None


def _grouped(pairs: Iterable[tuple[str, _T]]) -> dict[str, tuple[_T, ...]]:
    groups: dict[str, list[_T]] = {}
    for key, value in pairs:
        groups.setdefault(key, []).append(value)
    return {key: tuple(values) for key, values in groups.items()}


def adjacency(elements: Iterable[Element]) -> Adjacency:
    """Which elements touch each net (an element wired to itself once)."""
    return _grouped((net, e) for e in elements for net in dict.fromkeys(e.nets))


class Network:
    """The elements and electrodes of one chassis, indexed by net and by part."""

    def __init__(self, chassis: Chassis) -> None:
        self.chassis = chassis
        self.elements = tuple(elements_of(chassis))
        self.electrodes = tuple(electrodes(chassis))
        self.of: Mapping[str, tuple[Element, ...]] = _grouped((e.ref, e) for e in self.elements)
        self.at: Adjacency = adjacency(self.elements)
        self.on: Mapping[str, tuple[Electrode, ...]] = _grouped((e.net, e) for e in self.electrodes)

    def nets_of(self, *duties: str) -> frozenset[str]:
        """The nets that carry a tube electrode of one of these duties (power rectifiers not)."""
        return frozenset(
            e.net for e in self.electrodes if e.duty in duties and e.section_kind != "rectifier"
        )


def walk(
    at: Adjacency,
    starts: Iterable[str],
    ohm_of: Callable[[Element], float | None],
    *,
    stop: Container[str] = (),
    until: Collection[str] = (),
    admit: Callable[[str, float], bool] | None = None,
) -> Walk:
    """Spread from `starts` over the elements that `ohm_of` gives a weight, least ohms first.

    Args:
        at: the adjacency.
        starts: nets at zero ohms.
        ohm_of: the weight of an element in ohms, None when it is not to be passed.
        stop: nets that are reached but not passed through (starts excepted).
        until: end as soon as one of these nets is reached.
        admit: whether a net at this distance may be entered at all.
    """
    reached = Walk()
    order = count()
    queue: list[tuple[float, int, str, Step]] = [
        (0.0, next(order), net, Step(0.0, None, net)) for net in dict.fromkeys(starts)
    ]
    while queue:
        ohm, _, net, step = heappop(queue)
        if net in reached or (step.by is not None and admit and not admit(net, ohm)):
            continue
        reached[net] = step
        if net in until:
            break
        if step.by is not None and net in stop:
            continue
        for element in at.get(net, ()):
            far = element.other(net)
            weight = ohm_of(element) if far not in reached else None
            if weight is not None:
                after = Step(ohm + weight, element, net, step)
                heappush(queue, (after.ohm, next(order), far, after))
    return reached
