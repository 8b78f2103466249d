"""Walks with every control where it does most harm, because a knob stands anywhere when it shocks.

Belongs here: the worst place of wipers on the way from the line. Does not belong here: where a
control rests for volts and charts (elements).

A wiper at either end of its track, or at a tap, is 0 ohm from there, but never at two of those
places at once. Ohms of a path are linear in each wiper's place, so the least are at an end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from heapq import heappop, heappush
from itertools import count

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.paths import Adjacency, Network, Step, Walk, adjacency

__all__ = ["worst_walk"]

_MOST_WAYS = 32
"""More ways to one net that differ in the wipers they pass are not followed (least ohms first)."""


def worst_walk(
    network: Network,
    at: Adjacency,
    starts: Iterable[str],
    ohm_of: Callable[[Element], float | None],
    admit: Callable[[str, float], bool],
) -> Walk:
    """Like `paths.walk`, with the wipers of all controls where they bring a net nearest.

    A control is 0 ohm from its wiper to either end, and from end to end its whole track. So a way
    that comes to a wiper along its control may not go on along it; another way, of more ohms but
    not through that wiper, may. Ways to a net are kept apart by the wipers they pass.
    """
    tracks = adjacency(_tracks(network))
    wipers = frozenset(_wiper_net(e) for e in network.elements if _is_wiped(e))
    reached = Walk()
    ways: dict[str, list[tuple[frozenset[str], str]]] = {}
    order = count()
    queue: list[tuple[float, int, str, Step, frozenset[str], str]] = [
        (0.0, next(order), net, Step(0.0, None, net), frozenset(), "") for net in starts
    ]
    while queue:
        ohm, _, net, step, passed, along = heappop(queue)
        known = ways.setdefault(net, [])
        if any(fewer <= passed and ref in ("", along) for fewer, ref in known):
            continue
        if len(known) >= _MOST_WAYS or (step.by is not None and not admit(net, ohm)):
            continue
        known.append((passed, along))
        reached.setdefault(net, step)
        here = passed | {net} if net in wipers else passed
        for element in (*at.get(net, ()), *tracks.get(net, ())):
            wiped = _is_wiped(element)
            far = element.other(net)
            weight = 0.0 if wiped else ohm_of(element)
            if weight is None or far in here or (wiped and element.ref == along):
                continue
            onto = element.ref if wiped and _wiper_net(element) == far else ""
            after = Step(ohm + weight, element, net, step)
            heappush(queue, (after.ohm, next(order), far, after, here, onto))
    return reached


def _is_wiped(element: Element) -> bool:
    return element.kind is Kind.RESISTOR and "wiper" in element.terminals


def _wiper_net(element: Element) -> str:
    return element.nets[element.terminals.index("wiper")]


def _track_end(element: Element) -> tuple[str, str]:
    """Terminal and net of the end of a wiper's element that is not the wiper."""
    at = 1 - element.terminals.index("wiper")
    return element.terminals[at], element.nets[at]


def _tracks(network: Network) -> Iterator[Element]:
    """What a control is besides its elements: its whole track, or its wiper at each tap."""
    for elements in network.of.values():
        wiped = [e for e in elements if _is_wiped(e)]
        track = [e for e in elements if not _is_wiped(e)]
        ends = [_track_end(e) for e in wiped]
        if len(wiped) == 2 and not track:
            known = [e.ohm for e in wiped if e.ohm is not None]
            (name_a, a), (name_b, b) = ends
            total = sum(known) if len(known) == len(wiped) else None
            yield replace(wiped[0], a=a, b=b, terminals=(name_a, name_b), ohm=total)
        elif len(wiped) == 1 and track:
            wiper = _wiper_net(wiped[0])
            found = (pair for e in track for pair in zip(e.terminals, e.nets, strict=True))
            for name, net in dict.fromkeys(found):
                if (name, net) not in ends:
                    yield replace(wiped[0], a=wiper, b=net, terminals=("wiper", name), ohm=0.0)
