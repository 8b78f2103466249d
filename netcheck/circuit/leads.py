"""The two leads from the plug into the set, because fuse and switch must sit in the right one.

Belongs here: what follows one after the other from a line pin to the first branch, where each
fuse sits and what it leaves unprotected. Does not belong here: judging it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import inf

from netcheck.circuit.elements import Element, Kind
from netcheck.circuit.paths import Adjacency, Network
from netcheck.circuit.pieces import block_of, neighbours, way
from netcheck.circuit.sides import Poles, Sides

__all__ = ["FusePosition", "Lead", "find_leads", "fuse_position"]

# What may stand in a lead ahead of the load: everything else is where the lead ends.
_IN_LEAD = frozenset({Kind.CONTACT, Kind.FUSE, Kind.STRAP, Kind.METER, Kind.RESISTOR, Kind.LAMP})


@dataclass(frozen=True, slots=True)
class Lead:
    """One lead, seen from its line pin `pole` (all switches closed).

    `elements` follow one after the other up to net `end`, where the first branch or the load
    is; capacitors count as branches. `branches` are the elements that begin at `end`.
    `cuts` are the contacts, fuses and resistors that all current between the poles (that
    through capacitors apart) must pass before it divides or reaches a load, in order: a switch
    behind a line capacitor is in `cuts` but not in `elements`.
    """

    pole: str
    elements: tuple[Element, ...]
    branches: tuple[Element, ...]
    cuts: tuple[Element, ...]
    end: str

    @property
    def refs(self) -> tuple[str, ...]:
        """The references of `cuts`, each once, in order."""
        return tuple(dict.fromkeys(e.ref for e in self.cuts))


@dataclass(frozen=True, slots=True)
class FusePosition:
    """Where a fuse sits.

    `poles` are the line pins in whose lead it is (() = in neither lead, a fuse elsewhere).
    `ahead` are the elements between the plug and the fuse in that lead; `branches_ahead` those
    that leave the lead before the fuse. `unprotected` are all the elements that still carry
    current from the other end of the line (or from earth) to a hot pin while the fuse is open.
    """

    ref: str
    poles: tuple[str, ...]
    ahead: tuple[Element, ...]
    branches_ahead: tuple[Element, ...]
    unprotected: tuple[Element, ...]


class _Lines:
    """The graph that the leads are looked up in: dead ends pruned, poles and metal kept."""

    def __init__(self, network: Network, poles: Poles, sides: Sides) -> None:
        self.poles = poles
        keep = poles.line | sides.bare | poles.earth
        self.everything = network.at
        self.live = _without_dead_ends(network.at, keep)
        self.chokes = {
            e.ref
            for e in network.elements
            if e.kind is Kind.WINDING and len(network.of[e.ref]) == 1
            and (part := network.chassis.part(e.ref)) is not None and part.kind == "coil"
        }  # fmt: skip

    def may_lead(self, element: Element) -> bool:
        return element.kind in _IN_LEAD or element.ref in self.chokes


def _without_dead_ends(at: Adjacency, keep: frozenset[str]) -> dict[str, tuple[Element, ...]]:
    """Drop elements that lead nowhere (an unused tap, a wire to nothing), again and again."""
    alive = {net: [e for e in elements if e.a != e.b] for net, elements in at.items()}
    queue = [net for net, elements in alive.items() if len(elements) < 2 and net not in keep]
    while queue:
        net = queue.pop()
        for element in alive.pop(net, ()):
            far = element.other(net)
            if far in alive:
                alive[far] = [e for e in alive[far] if e != element]
                if len(alive[far]) < 2 and far not in keep:
                    queue.append(far)
    return {net: tuple(elements) for net, elements in alive.items()}


def find_leads(network: Network, poles: Poles, sides: Sides) -> dict[str, Lead]:
    """The lead of every line pin, by its net."""
    lines = _Lines(network, poles, sides)
    return {pole: _lead(lines, pole) for pole in sorted(poles.line)}


def _others(lines: _Lines, pole: str) -> frozenset[str]:
    """The pins that current of this pin returns to."""
    own = lines.poles.hot if pole in lines.poles.hot else lines.poles.neutral
    across = lines.poles.neutral if pole in lines.poles.hot else lines.poles.hot
    return (across - {pole}) or (own - {pole})


def _lead(lines: _Lines, pole: str) -> Lead:
    others = _others(lines, pole)
    cuts = _cuts(lines, pole, others)
    # Nothing leads back to the other pin (a drawing in pieces): follow what there is.
    at = lines.everything if cuts is None else lines.live
    elements = _follow(lines, at, pole, others)
    end, came = _nets_along(pole, elements)[-1], frozenset(elements)
    branches = tuple(e for e in at.get(end, ()) if e not in came)
    return Lead(pole, tuple(elements), branches, tuple(elements if cuts is None else cuts), end)


def _follow(lines: _Lines, at: Adjacency, pole: str, others: frozenset[str]) -> list[Element]:
    """The elements in series from the pole to the first branch or the load."""
    elements: list[Element] = []
    net, came, visited = pole, frozenset[Element](), {pole}
    while True:
        group = _one_way(lines, net, [e for e in at.get(net, ()) if e not in came])
        far = group[0].other(net) if group else net
        if not group or far in visited:
            return elements
        elements += group
        if far in others:
            return _ahead_of_load(elements)
        visited.add(far)
        net, came = far, frozenset(group)


def _nets_along(pole: str, elements: Iterable[Element]) -> list[str]:
    """The nets from a pole on along elements in series (parallel contacts count once)."""
    nets = [pole]
    previous = frozenset[str]()
    for element in elements:
        if frozenset(element.nets) != previous:
            nets.append(element.other(nets[-1]))
            previous = frozenset(element.nets)
    return nets


def _ahead_of_load(series: list[Element]) -> list[Element]:
    """Of one series circuit from pin to pin, what stands before its largest resistor or lamp."""
    loads = [e for e in series if e.kind in (Kind.RESISTOR, Kind.LAMP)]
    if not loads:
        return series
    return series[: series.index(max(loads, key=lambda e: inf if e.ohm is None else e.ohm))]


def _one_way(lines: _Lines, net: str, onward: list[Element]) -> list[Element]:
    """All of `onward` if it is one lead: one element, or parallel contacts of one switch."""
    if not onward or not all(lines.may_lead(e) for e in onward):
        return []
    same = {(e.ref, e.other(net)) for e in onward}
    parallel = len(onward) == 1 or all(e.kind is Kind.CONTACT for e in onward)
    return onward if len(same) == 1 and parallel else []


def _groups(elements: Iterable[Element]) -> dict[frozenset[str], list[Element]]:
    """Parallel elements together, by their two nets."""
    groups: dict[frozenset[str], list[Element]] = {}
    for element in elements:
        groups.setdefault(frozenset(element.nets), []).append(element)
    return groups


def _conducting(at: Adjacency, capacitors: bool) -> list[Element]:
    blocked = {Kind.VARISTOR} if capacitors else {Kind.VARISTOR, Kind.CAPACITOR}
    unique = {e: None for elements in at.values() for e in elements if e.kind not in blocked}
    return list(unique)


def _cuts(lines: _Lines, pole: str, others: frozenset[str]) -> list[Element] | None:
    """Elements of the lead that separate the pole from every other pole, in order from it.

    None when nothing at all joins the pole to another, capacitors included.
    """
    for capacitors in (False, True):
        groups = _groups(_conducting(lines.live, capacitors))
        near = neighbours([*groups, *((other, _RETURN) for other in others)])
        leading = way(near, pole, _RETURN)
        if leading:
            break
    else:
        return None
    found: list[Element] = []
    for here, far in pairwise(leading):
        if far == _RETURN:
            return _ahead_of_load(found)
        group = groups[frozenset((here, far))]
        if not _one_way(lines, here, group) or len(block_of(near, here, far)) > 1:
            break
        found += group
    return found


_RETURN = "\N{NULL}return"


def fuse_position(
    network: Network, poles: Poles, leads: dict[str, Lead], fuse: Element
) -> FusePosition:
    """Where `fuse` sits in `leads`, and what stays joined to the line when it opens."""
    within = tuple(pole for pole, lead in leads.items() if fuse in lead.cuts)
    ahead: tuple[Element, ...] = ()
    leaving: tuple[Element, ...] = ()
    for pole in within[:1]:
        cuts = leads[pole].cuts
        ahead = cuts[: cuts.index(fuse)]
        leaving = tuple(_leaving(network, pole, ahead, fuse))
    return FusePosition(fuse.ref, within, ahead, leaving, tuple(_unprotected(network, poles, fuse)))


def _leaving(
    network: Network, pole: str, ahead: tuple[Element, ...], fuse: Element
) -> Iterator[Element]:
    """What branches off at the nets between the plug and the fuse."""
    for net in _nets_along(pole, ahead):
        yield from (e for e in network.at[net] if e != fuse and e not in ahead)


def _unprotected(network: Network, poles: Poles, fuse: Element) -> Iterator[Element]:
    """Elements on a way from a hot pin to another pin (or earth) that does not pass the fuse."""
    found: dict[Element, None] = {}
    for hot in sorted(poles.hot):
        ends = (poles.line | poles.earth) - {hot}
        found |= dict.fromkeys(_between(network, hot, ends, fuse))
    yield from found


def _between(network: Network, hot: str, ends: frozenset[str], fuse: Element) -> Iterator[Element]:
    """Elements on any simple way from `hot` to `ends`: the block of the edge that closes it."""
    groups: dict[frozenset[str], list[Element]] = {}
    for element in network.elements:
        if element != fuse and element.kind is not Kind.VARISTOR:
            nets = frozenset(_RETURN if net in ends else net for net in element.nets)
            groups.setdefault(nets, []).append(element)
    closing = frozenset((hot, _RETURN))
    near = neighbours([*groups, closing])
    for pair in block_of(near, hot, _RETURN):
        yield from groups.get(frozenset(pair), ())
